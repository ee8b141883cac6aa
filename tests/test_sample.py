"""The sample jobs: their readings, the workbooks made of them, what the check says of each, and the command.

The engines and their faults are invented; what each set of readings shows is the trade's common reading of it
(sources of the rules: docs/sources.md), and stands in words in sample_workbooks/README.md.
"""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import sys
import tomllib
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.support.make_samples import CHECKED_AT, ROOT, SAMPLES, SampleJob, entries, jobs, write_form
from workbook_tools import check_workbook
from workbook_tools.commands.sample_jobs import filled_workbooks, write_sample
from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.errors import UnusableFile
from workbook_tools.generate.fill import fill_workbook
from workbook_tools.read.workbook import read_workbook

JOBS = {job.file: job for job in jobs()}


@dataclass(frozen=True)
class Expected:
    """What the check must say: confirmed findings, all causes named, kinds of discrepancy, proven systems."""

    confirmed: frozenset[tuple[str, tuple[int, ...]]] = frozenset()
    possible: frozenset[str] = frozenset()
    discrepancies: frozenset[str] = frozenset()
    proven: frozenset[str] = frozenset()


EXPECTED = {
    "S-101-pump-burned-valve": Expected(
        confirmed=frozenset({("leaking_valve", (3,))}), proven=frozenset({"readiness"})
    ),
    "S-102-farm-truck-gasket": Expected(
        confirmed=frozenset({("head_gasket", (3, 4))}), proven=frozenset({"readiness", "ignition"})
    ),
    "S-103-v8-worn-rings": Expected(
        confirmed=frozenset({("worn_rings", (6,))}),
        discrepancies=frozenset({"conclusion_contradicted"}),
        proven=frozenset({"readiness", "ignition"}),
    ),
    "S-104-van-healthy": Expected(proven=frozenset({"readiness", "compression", "ignition", "fuel and air"})),
    "S-105-pickup-slips": Expected(
        possible=frozenset({"worn_rings", "leaking_valve"}),
        discrepancies=frozenset(
            {
                "dates_conflict",
                "readings_conflict",
                "decimal_doubt",
                "unit_doubt",
                "entry_is_text",
                "formula_replaced",
                "missing_reading",
            }
        ),
        proven=frozenset({"ignition", "fuel and air"}),
    ),
    "S-106-boat-fuel-filter": Expected(
        confirmed=frozenset({("low_fuel_pressure", ()), ("low_fuel_delivery", ())}),
        proven=frozenset({"readiness", "compression", "ignition"}),
    ),
    "S-107-coupe-late-timing": Expected(
        confirmed=frozenset({("contact_gap", ()), ("contact_points", ()), ("late_timing", ())}),
        proven=frozenset({"readiness", "compression", "fuel and air"}),
    ),
}


@functools.cache
def judged(path: Path) -> Diagnosis:
    """What the check says of a workbook, without writing anything."""
    return check_workbook(path, write=False).diagnosis


def summary(found: Diagnosis) -> Expected:
    """A diagnosis in the terms of the table."""
    return Expected(
        confirmed=frozenset((f.cause, f.cylinders) for f in found.findings if f.strength == "confirmed"),
        possible=frozenset(f.cause for f in found.findings if f.strength != "confirmed"),
        discrepancies=frozenset(each.kind for each in found.discrepancies),
        proven=frozenset(system for system, state in found.states.items() if state == "proven"),
    )


def test_every_job_has_its_readings_workbooks_and_line() -> None:
    """Table, readings, filled and checked workbooks, README and expectations tell of the same jobs."""
    for folder, ending in (("readings", "csv"), ("filled", "xlsx"), ("checked", "xlsx")):
        assert {path.stem for path in (SAMPLES / folder).glob(f"*.{ending}")} == set(JOBS)
    lines = (SAMPLES / "README.md").read_text(encoding="utf-8").splitlines()
    assert {line.split("`")[1] for line in lines if line.startswith("| `S-")} == set(JOBS)
    assert set(EXPECTED) == set(JOBS)


@pytest.mark.parametrize("job", JOBS.values(), ids=JOBS)
def test_job_is_marked_as_invented(job: SampleJob) -> None:
    """Sheet Job of each sample says that it is invented."""
    form = read_workbook(job.filled)
    assert str(form.cells["complaint_notes"].raw).startswith("INVENTED SAMPLE JOB")


@pytest.mark.parametrize("job", JOBS.values(), ids=JOBS)
def test_filled_workbook_holds_its_readings(job: SampleJob) -> None:
    """The workbook that LibreOffice saved holds what the list of readings says, and nothing typed besides."""
    form = read_workbook(job.filled)
    shape = form.shape
    assert (shape.cylinders, shape.units, shape.currency) == (job.cylinders, job.units, job.currency)
    for name, typed in entries(job).items():
        held = form.cells[name].raw
        assert str(held)[:10] == str(typed) if hasattr(typed, "isoformat") else held == typed, name


@pytest.mark.parametrize("job", JOBS.values(), ids=JOBS)
def test_check_says_what_is_wrong(job: SampleJob) -> None:
    """Each filled workbook gets the findings, discrepancies and proven systems that its story asks for."""
    assert summary(judged(job.filled)) == EXPECTED[job.file]


@pytest.mark.parametrize("name", [name for name, job in JOBS.items() if not job.typed_over])
def test_filling_from_the_list_gives_the_same_diagnosis(name: str, tmp_path: Path) -> None:
    """`fill` and LibreOffice lead to the same findings, discrepancies and results."""
    job = JOBS[name]
    form = write_form(job, tmp_path / "form.xlsx")
    fill_workbook(form, job.readings, tmp_path / "filled.xlsx")
    ours, theirs = judged(tmp_path / "filled.xlsx"), judged(job.filled)
    for part in ("findings", "discrepancies", "missing", "marks", "repairs", "retaken", "notes", "states"):
        assert getattr(ours, part) == getattr(theirs, part), part
    assert all(each.agrees for found in (ours, theirs) for each in found.computed)


def test_doubted_readings_leave_findings_provisional() -> None:
    """On the sheet with slips no finding is certain, and each slip is named with what was probably meant."""
    found = judged(JOBS["S-105-pickup-slips"].filled)
    assert all(each.provisional for each in found.findings)
    told = {each.field: each.message for each in found.discrepancies}
    for field, meant in {
        "coolant_temperature": "185 °F",
        "compression_dry_2": "134 psi",
        "compression_dry_3": "135 psi",
        "plug_gap_2": "0.032 in",
    }.items():
        assert f"would be {meant}" in told[field]


def test_repairs_of_the_coupe_are_proven_by_its_recheck() -> None:
    """Gap and timing are proven by readings in limits; worn contacts have none that could prove them."""
    found = judged(JOBS["S-107-coupe-late-timing"].filled)
    assert {each.cause: each.verdict for each in found.repairs} == {
        "contact_points": "not retaken",
        "contact_gap": "proven",
        "late_timing": "proven",
    }


def test_bill_of_the_coupe_adds_up() -> None:
    """The bill in the workbook is the one worked out by hand."""
    # By hand: parts 14.85; labour (0.6 + 0.2 + 0.4 + 0.5) h at 58 = 98.60; tax 7.25 % of 14.85 = 1.076625.
    computed = {each.name: each.workbook for each in judged(JOBS["S-107-coupe-late-timing"].filled).computed}
    assert [computed[name] for name in ("parts_total", "labour_total", "tax_total", "bill_total")] == [
        14.85,
        98.60,
        1.08,
        114.53,
    ]


@pytest.mark.parametrize("job", JOBS.values(), ids=JOBS)
def test_checked_workbook_is_the_filled_one_with_findings(job: SampleJob) -> None:
    """The stored checked workbook says what the filled one says, and its form is the same byte for byte."""
    assert summary(judged(job.checked)) == EXPECTED[job.file]
    with zipfile.ZipFile(job.filled) as before, zipfile.ZipFile(job.checked) as after:
        sheets = [name for name in before.namelist() if name.startswith("xl/worksheets/sheet")]
        assert sheets
        for name in sheets:
            assert before.read(name) == after.read(name), name


def test_samples_are_written_again_beside_untouched_ones(tmp_path: Path) -> None:
    """A second run into the same folder finds its own files there and changes nothing."""
    first = write_sample(tmp_path)
    times = [path.stat().st_mtime_ns for path in first]
    assert [path.stat().st_mtime_ns for path in write_sample(tmp_path)] == times


def test_a_changed_sample_is_not_written_over(tmp_path: Path) -> None:
    """A file of the same name with something else in it is left alone, and no other is written either."""
    name = filled_workbooks()[-1].name
    (tmp_path / name).write_bytes(b"somebody's work")
    with pytest.raises(UnusableFile, match="choose another folder"):
        write_sample(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_bytes() == b"somebody's work"


def test_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    """A file in the place of the folder is said in a sentence."""
    (tmp_path / "out").write_text("mine")
    with pytest.raises(UnusableFile, match="can't be made"):
        write_sample(tmp_path / "out")


def test_every_room_of_the_package_is_installed() -> None:
    """The list of packages names every folder with modules, since nothing searches for them."""
    setup = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    rooms = {".".join(path.parent.relative_to(ROOT).parts) for path in ROOT.glob("workbook_tools/**/*.py")}
    assert set(setup["packages"]) == rooms | set(setup["package-dir"])


def test_sample_command_works_from_a_built_wheel(tmp_path: Path) -> None:
    """The wheel carries samples and extension: unpacked elsewhere, it writes and checks the ones, and makes the other."""
    source, installed, out = tmp_path / "source", tmp_path / "installed", tmp_path / "out"
    for name in ("workbook_tools", "sample_workbooks"):
        shutil.copytree(ROOT / name, source / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, source)
    run("-c", "from setuptools import build_meta; build_meta.build_wheel('..')", folder=source)
    with zipfile.ZipFile(next(tmp_path.glob("*.whl"))) as wheel:
        wheel.extractall(installed)
    shutil.rmtree(source)
    told = run("-W", "error", "-m", "workbook_tools", "sample", str(out), folder=tmp_path, path=installed)
    assert "7 invented sample jobs" in told
    assert "No fault found: all four systems are proven" in told
    assert "burned or leaking valve (cylinder 3)" in told
    for folder in (out, out / "checked"):
        assert sorted(path.stem for path in folder.glob("*.xlsx")) == sorted(JOBS)
    run("-m", "workbook_tools", "extension", str(tmp_path), folder=tmp_path, path=installed)
    assert (tmp_path / "engine-check.oxt").exists()


def run(*arguments: str, folder: Path, path: Path | None = None) -> str:
    """Run Python in `folder`, with packages from `path` first; what it said on standard error."""
    environment = {**os.environ, **({"PYTHONPATH": str(path)} if path else {})}
    ran = subprocess.run(
        [sys.executable, *arguments], cwd=folder, env=environment, capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stderr


@pytest.mark.parametrize("job", jobs(), ids=lambda job: job.file)
def test_checked_samples_are_those_of_today(job: SampleJob, tmp_path: Path) -> None:
    """What lies in `sample_workbooks/checked` is what a check writes now; `python -m tests.support.make_samples` renews it."""
    check_workbook(job.filled, out_dir=tmp_path, now=CHECKED_AT)
    now, kept = (load_workbook(path)["Findings"] for path in (tmp_path / job.filled.name, job.checked))
    assert [[cell.value for cell in row] for row in kept] == [[cell.value for cell in row] for row in now]
