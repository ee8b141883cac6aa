"""The same form filled and saved by other programs, or written in other ways: it reads the same, or says what was lost.

`python -m tests.test_other_programs` does so with every sample job and prints a line for each.
"""

from __future__ import annotations

import dataclasses
import re
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.place_sheet_samples import edited, parts
from tests.support.book_variants import VARIANTS
from tests.support.make_samples import SampleJob, entries, jobs, write_form
from tests.support.many_books import BOOKS
from tests.support.office import Office
from tests.support.other_programs import (
    FILLERS,
    fill_with,
    need,
    pages_of_gnumeric,
    pages_of_libreoffice,
    saved_by_gnumeric,
)
from tests.test_place_sheet import titles
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.model import Diagnosis, Discrepancy
from workbook_tools.errors import NotOurWorkbook
from workbook_tools.read.workbook import read_workbook

#: Four, six and eight cylinders, and a metric form with euros.
IN_SUITE = (
    "S-101-pump-burned-valve",
    "S-102-farm-truck-gasket",
    "S-103-v8-worn-rings",
    "S-106-boat-fuel-filter",
)
#: What a program leaves out, each said in one discrepancy: results that it does not calculate, choices, highlights.
DROPPED = {
    "LibreOffice": Counter[str](),
    "Gnumeric": Counter[str](),
    "openpyxl": Counter(["not_calculated"]),
    "ExcelJS": Counter(["not_calculated"]),
    "SheetJS": Counter(["not_calculated", "layout_changed", "layout_changed"]),
}


def job_named(file: str) -> SampleJob:
    """A sample job by its file's name."""
    return next(job for job in jobs() if job.file == file)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first sample job, filled from its list of readings."""
    folder = tmp_path_factory.mktemp("programs")
    job = job_named(IN_SUITE[0])
    form = write_form(job, folder / "form.xlsx")
    fill_workbook(form, entries(job), folder / "filled.xlsx")
    return folder / "filled.xlsx"


def judgement(found: Diagnosis) -> tuple[object, ...]:
    """All that a check says of the engine, apart from what it says of the file."""
    return (
        found.headline,
        found.states,
        found.findings,
        found.missing,
        found.marks,
        found.repairs,
        found.digest,
    )


def more_said(found: Diagnosis, than: Diagnosis) -> list[Discrepancy]:
    """Discrepancies that only `found` has; fails where it lacks one."""
    assert not set(than.discrepancies) - set(found.discrepancies)
    return [each for each in found.discrepancies if each not in than.discrepancies]


def read_alike(path: Path, filled: Path) -> list[Discrepancy]:
    """Fails unless both books give the same judgement; what is said of the first alone."""
    form, other = read_workbook(filled), read_workbook(path)
    assert other.digest == form.digest and other.shape == form.shape
    assert other.lost == () and other.changed_identity == ()
    found, expected = diagnose(other), diagnose(form)
    assert judgement(found) == judgement(dataclasses.replace(expected, workbook=str(path)))
    return more_said(found, expected)


def filled_from_list(job: SampleJob, form: Path, out: Path) -> Path:
    """The form filled by the program itself; figures typed over formulas are left to the other programs."""
    typed_over = dict(job.typed_over)
    fill_workbook(form, {name: value for name, value in entries(job).items() if name not in typed_over}, out)
    return out


def said_of_fill(program: str, job: SampleJob, folder: Path, office: Office) -> list[Discrepancy]:
    """What a check says of a job filled and saved by a program, and does not say of the same filled from a list."""
    form = write_form(job, folder / "form.xlsx")
    out = folder / f"{program}.xlsx"
    if program == "LibreOffice":
        office.fill(form, entries(job), out)
    else:
        fill_with(program, form, entries(job), out)
    return read_alike(out, filled_from_list(job, form, folder / "list.xlsx"))


@pytest.mark.parametrize("program", DROPPED)
@pytest.mark.parametrize("file", IN_SUITE)
def test_whoever_fills_the_form(file: str, program: str, tmp_path: Path, office: Office) -> None:
    """Readings, findings and tests owed are the same; results that a program does not calculate are said to be missing."""
    job = job_named(file)
    said = said_of_fill(program, job, tmp_path, office)
    assert Counter(each.kind for each in said) == DROPPED[program]
    assert all("saved by a program that does not" in each.message for each in said)


def test_the_programs_do_lose_what_they_are_known_to_lose(filled: Path, tmp_path: Path) -> None:
    """The books tested are those of other programs: one drops the lists, one the stored results, and we read them all."""
    form = write_form(job_named(IN_SUITE[0]), tmp_path / "form.xlsx")
    for program in ("SheetJS", "openpyxl"):
        fill_with(program, form, entries(job_named(IN_SUITE[0])), tmp_path / f"{program}.xlsx")
    sheets = {p: b"".join(parts(tmp_path / f"{p}.xlsx").values()) for p in ("form", "SheetJS", "openpyxl")}
    assert b"<dataValidation " in sheets["form"] and b"<dataValidation " not in sheets["SheetJS"]
    assert not re.search(rb"</f><v>[^<]", sheets["openpyxl"]) and re.search(rb"</f><v>[^<]", sheets["form"])


def test_an_empty_form_saved_by_a_program_that_does_not_calculate(tmp_path: Path) -> None:
    """A form in which results of a blank form stayed is one discrepancy that says how many, not one for each cell."""
    job = job_named(IN_SUITE[2])
    form = write_form(job, tmp_path / "form.xlsx")
    fill_with("ExcelJS", form, entries(job), tmp_path / "out.xlsx")
    (said,) = [
        e for e in diagnose(read_workbook(tmp_path / "out.xlsx")).discrepancies if "calculate" in e.message
    ]
    counts = re.match(r"(\d+) computed cells have no stored result, and (\d+) cells \(", said.message)
    assert counts and min(map(int, counts.groups())) > 20
    assert said.expected == f"{sum(map(int, counts.groups()))} results"


def test_gnumeric_saves_what_libreoffice_filled(tmp_path: Path) -> None:
    """A sample workbook of LibreOffice's goes through Gnumeric and says the same."""
    sample = job_named(IN_SUITE[1]).filled
    assert read_alike(saved_by_gnumeric(sample, tmp_path / "again.xlsx"), sample) == []


@pytest.mark.parametrize("variant", VARIANTS)
def test_however_the_file_is_written(variant: str, filled: Path, tmp_path: Path) -> None:
    """Strict dialect, prefixes, inline texts, shared formulas, days from 1904, other folders: all read the same."""
    data = VARIANTS[variant](filled.read_bytes())
    assert parts(data) != parts(filled)
    path = tmp_path / "variant.xlsx"
    path.write_bytes(data)
    assert read_alike(path, filled) == []


@pytest.mark.parametrize("variant", VARIANTS)
def test_checked_however_it_is_written(variant: str, filled: Path, tmp_path: Path) -> None:
    """Such a file gets its findings sheet, says the same afterwards, and a second check adds nothing."""
    path = tmp_path / "variant.xlsx"
    path.write_bytes(VARIANTS[variant](filled.read_bytes()))
    first = check_workbook(path)
    size = path.stat().st_size
    second = check_workbook(path)
    assert judgement(second.diagnosis) == judgement(first.diagnosis)
    assert abs(path.stat().st_size - size) < 20
    assert read_alike(path, filled) == []


STEPS: dict[str, list[tuple[object, ...]]] = {
    "moved first": [("move_sheet", "Compression", 0)],
    "hidden": [("hide_sheet", "Compression")],
    "columns inserted": [("unprotect", "Compression"), ("insert_columns", "Compression", 1, 2)],
    "copied": [("copy_sheet", "Compression", "Compression_2")],
    "among other sheets": [
        ("add_sheet", "Job (2)"),
        ("move_sheet", "Job (2)", 0),
        ("rename_sheet", "Job", "Auftrag"),
    ],
}


@pytest.mark.parametrize("case", STEPS)
def test_sheets_changed_by_hand(case: str, filled: Path, tmp_path: Path, office: Office) -> None:
    """A sheet moved, hidden, widened, copied inside the book or renamed beside strange ones: all reads the same."""
    office.rearrange(filled, STEPS[case], tmp_path / "changed.xlsx")
    form, changed = read_workbook(filled), read_workbook(tmp_path / "changed.xlsx")
    assert parts(tmp_path / "changed.xlsx")["xl/workbook.xml"] != parts(filled)["xl/workbook.xml"]
    assert changed.digest == form.digest and changed.lost == ()
    found, expected = diagnose(changed), diagnose(form)
    assert [each.statement for each in found.findings] == [each.statement for each in expected.findings]
    assert Counter(e.kind for e in found.discrepancies) == Counter(e.kind for e in expected.discrepancies)
    hidden = changed.hidden_sheets - {"Guide"}
    assert hidden == (frozenset(["Compression"]) if case == "hidden" else frozenset())


def without_properties(data: bytes) -> bytes:
    """The book without its own properties, as all sheets moved into a new book leave them behind."""
    return edited(
        data,
        {
            "docProps/custom.xml": None,
            "_rels/.rels": lambda xml: re.sub(rb"<Relationship [^>]*custom\.xml\"[^>]*/>", b"", xml),
            "[Content_Types].xml": lambda xml: re.sub(rb"<Override [^>]*custom\.xml\"[^>]*/>", b"", xml),
        },
    )


#: A page more for each sheet that is two: Gnumeric ends a page where it is full, and not where a part ends.
MORE_PAGES = 4


@pytest.mark.parametrize("cylinders", [4, 8])
def test_printed_by_gnumeric(cylinders: int, tmp_path: Path, office: Office) -> None:
    """As many pages as LibreOffice prints, or a few more, and none of them empty; the workings stay out of it.

    A form with its findings: other programs know how a sheet is printed by areas or by row breaks, Gnumeric by one area.
    """
    path = new_workbook(tmp_path / "form.xlsx", cylinders=cylinders)
    fill_workbook(path, {f"compression_dry_{n}": 128 for n in range(1, cylinders + 1)}, path)
    check_workbook(path)
    pages = pages_of_gnumeric(path, tmp_path)
    assert len(pages) <= len(pages_of_libreoffice(office, path, tmp_path)) + MORE_PAGES
    for number, page in enumerate(pages, 1):
        lines = [line for line in page.splitlines() if line.strip()]
        assert len(lines) > 2, f"page {number} holds nothing but its foot"
        assert "Workings" not in page, number


def test_all_sheets_in_another_book(filled: Path, tmp_path: Path) -> None:
    """Sheets moved into a new book leave its properties behind: what the form was made for stands in its cells too."""
    path = tmp_path / "moved.xlsx"
    path.write_bytes(without_properties(filled.read_bytes()))
    assert read_alike(path, filled) == []


def test_one_sheet_in_another_book(filled: Path, tmp_path: Path) -> None:
    """A single sheet copied into another book is no form: refused with what to do, and nothing is written."""

    def only(xml: bytes) -> bytes:
        kept = re.sub(rb'<sheet name="(?!Compression")[^>]*/>', b"", xml)
        return re.sub(rb"<definedName [^>]*>(?!'Compression'!)[^<]*</definedName>", b"", kept)

    path = tmp_path / "one.xlsx"
    path.write_bytes(edited(without_properties(filled.read_bytes()), {"xl/workbook.xml": only}))
    before = path.read_bytes()
    with pytest.raises(NotOurWorkbook, match="only some of the sheets"):
        check_workbook(path)
    assert path.read_bytes() == before


STRANGERS = ("all of it", "Gnumeric's own", "dynamic arrays", "tables, filters and links")


def in_a_strangers_book(name: str, filled: Path, folder: Path, office: Office) -> list[str]:
    """What differs where a form's sheets were copied into somebody's workbook by LibreOffice; what got lost must be said."""
    path, before = folder / "stranger.xlsx", BOOKS[name](folder)
    office.rearrange(before, [("take_sheets", str(filled))], path)
    sheets = titles(path)
    found, expected = check_workbook(path).diagnosis, check_workbook(filled, write=False).diagnosis
    said = [
        f"{what} differ"
        for what in ("headline", "states", "findings", "repairs")
        if differ(found, expected, what)
    ]
    more = {each.kind for each in found.discrepancies} - {each.kind for each in expected.discrepancies}
    said += [f"said besides: {kind}" for kind in more - {"layout_changed"}]
    return said + ["sheets differ"] * (titles(path) != [*sheets, "Findings"])


def differ(found: Diagnosis, expected: Diagnosis, what: str) -> bool:
    """Whether a part of two judgements differs, their cells' places aside."""
    if what == "findings":
        one, other = (
            [(e.cause, e.cylinders, e.strength) for e in each.findings] for each in (found, expected)
        )
        return one != other
    return bool(getattr(found, what) != getattr(expected, what))


@pytest.mark.parametrize("name", STRANGERS)
def test_sheets_of_a_form_in_a_strangers_book(
    name: str, filled: Path, tmp_path: Path, office: Office
) -> None:
    """The engine is judged as before, lost names are said, and the stranger's sheets are there."""
    assert in_a_strangers_book(name, filled, tmp_path, office) == []


NAMES_GONE: dict[str, Callable[[bytes], bytes]] = {
    "all names of one sheet": lambda xml: re.sub(
        rb"<definedName [^>]*>'Compression'!\$[^<]*</definedName>", b"", xml
    ),
    "names of all inputs": lambda xml: re.sub(
        rb"<definedName [^>]*>'[^']*'!\$B\$\d+</definedName>", b"", xml
    ),
}


@pytest.mark.parametrize("case", NAMES_GONE)
def test_names_deleted(case: str, filled: Path, tmp_path: Path) -> None:
    """Where many names are deleted, readings are found by their labels, one discrepancy says so, findings stay."""
    path = tmp_path / "nameless.xlsx"
    path.write_bytes(edited(filled.read_bytes(), {"xl/workbook.xml": NAMES_GONE[case]}))
    form, nameless = read_workbook(filled), read_workbook(path)
    typed = {name: cell.raw for name, cell in form.inputs.items() if cell.raw is not None}
    assert typed == {name: cell.raw for name, cell in nameless.inputs.items() if cell.raw is not None}
    found = diagnose(nameless)
    assert [e.statement for e in found.findings] == [e.statement for e in diagnose(form).findings]
    said = [each for each in found.discrepancies if each.kind == "layout_changed"]
    assert 1 <= len(said) <= 2
    assert any("lost their names and were found by their labels" in each.message for each in said)


@pytest.mark.parametrize(("required", "outcome"), [("", pytest.skip.Exception), ("1", pytest.fail.Exception)])
@pytest.mark.parametrize("program", ["Gnumeric", "ExcelJS", "SheetJS"])
def test_a_missing_program(
    program: str, required: str, outcome: type, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a program is not installed its tests are skipped, or fail where the programs are required."""
    monkeypatch.setenv("ENGINE_CHECK_REQUIRE_PROGRAMS", required)
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(outcome, match=f"{program} is not installed"):
        need(program)


def main() -> None:
    """Every sample job filled and saved by every program."""
    with Office() as office:
        for job in jobs():
            for program in DROPPED:
                with tempfile.TemporaryDirectory() as folder:
                    said = said_of_fill(program, job, Path(folder), office)
                print(
                    f"{job.file} {program}: the same; {', '.join(each.message for each in said) or 'nothing dropped'}"
                )


assert set(DROPPED) == {"LibreOffice", *FILLERS}
if __name__ == "__main__":
    main()
