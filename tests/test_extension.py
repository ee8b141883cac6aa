"""The extension in a real LibreOffice: installed as a user does it, its menu entry chosen, what came of it looked at."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from tests.attack import hard_contents
from tests.support.forms import cell_of
from tests.support.office import find_program, office_missing, office_required
from tests.support.office_steps import take_steps
from tests.support.one_sheet import sheet_in
from workbook_tools.checking.check import check_workbook
from workbook_tools.commands.program import main
from workbook_tools.commands.sample_jobs import filled_workbooks

#: Somebody without an administrator's rights: with those the installer of extensions refuses to work.
NOBODY = 65534
#: A name that a shell would act on.
NAME = "S-101 $(touch owned) & 'x'; job.xlsx"


class Session:
    """A LibreOffice with the extension in a profile of its own: steps are gathered, then taken in one run."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.steps: list[list[Any]] = []
        self.labels: list[str] = []
        self.temporary = folder / "temporary"

    def step(self, verb: str, *arguments: Any, label: str = "") -> None:
        """One step of `office_steps_session.py`; what it gave goes by its label."""
        self.steps.append([verb, *arguments])
        self.labels.append(label)

    def run(self) -> dict[str, Any]:
        """Take the steps; what those with labels gave."""
        self.temporary.mkdir()
        results = take_steps(self.steps, self.folder, {"TMPDIR": str(self.temporary)})
        return {label: result for label, result in zip(self.labels, results, strict=True) if label}


def own_findings() -> bytes:
    """A filled form with a sheet of the user's own that is called Findings, and texts that look like formulas."""
    typed = {"vehicle": '=cmd|"/c calc"!A1', "complaint_notes": "<b>&amp;</b>", "plate": "x" * 3000}
    memory = io.BytesIO()
    book = load_workbook(filled_workbooks()[0])
    book.create_sheet("Findings")["A1"] = "mine"
    for name, text in typed.items():
        cell = cell_of(book, name)
        cell.value, cell.data_type = text, "s"
    book.save(memory)
    return memory.getvalue()


HOSTILE = {
    "circular": hard_contents.circular,
    "formulas that call": hard_contents.calling_formulas,
    "relations that lead outside": hard_contents.outside_relations,
    "texts from outside": hard_contents.texts_from_outside,
    "findings of their own": own_findings,
}


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    """A folder that anybody may look into, gone in the end."""
    made = Path(tempfile.mkdtemp(prefix="extension-test-"))
    made.chmod(0o755)
    yield made
    shutil.rmtree(made, ignore_errors=True)


def installed_session(folder: Path) -> Session:
    """A LibreOffice into whose profile the extension was installed as a user does it."""
    profile_home = folder / "office"
    profile_home.mkdir()
    assert main(["extension", str(folder)]) == 0
    as_root = hasattr(os, "geteuid") and os.geteuid() == 0
    if as_root:
        os.chown(profile_home, NOBODY, NOBODY)
    installer = shutil.which("unopkg") or str(Path(str(find_program())).resolve().with_name("unopkg"))
    done = subprocess.run(
        [
            installer,
            "add",
            "-f",
            "-s",
            str(folder / "engine-check.oxt"),
            f"-env:UserInstallation={(profile_home / 'profile').as_uri()}",
        ],
        env={"PATH": os.environ["PATH"], "HOME": str(profile_home), "LC_ALL": "C.UTF-8"},
        capture_output=True,
        timeout=100,
        **({"user": NOBODY, "group": NOBODY, "extra_groups": []} if as_root else {}),
    )
    assert done.returncode == 0, done.stderr.decode() + done.stdout.decode()
    return Session(profile_home)


@pytest.fixture(scope="module")
def told(folder: Path) -> dict[str, Any]:
    """What came of a working day in LibreOffice: checks, an answer, another check, one in the midst of typing, refusals."""
    reason = office_missing()
    if reason:
        pytest.fail(reason) if office_required() else pytest.skip(reason)
    job = folder / NAME
    shutil.copy(filled_workbooks()[0], job)
    checked = check_workbook(job, out_dir=folder / "checked").written_to
    session = installed_session(folder)
    _first_check(session, job, folder)
    _second_check(session)
    session.step("open", str(checked), "Hidden")
    session.step("store", str(folder / "by-command.xlsx"), "xlsx")
    _in_the_midst_of_typing(session, checked, folder)
    _undone(session, job)
    _hostile(session, folder)
    _refusals(session, job)
    session.step("menus", label="menus")
    session.step("left_in", str(session.temporary), label="left")
    return session.run()


def _first_check(session: Session, job: Path, folder: Path) -> None:
    session.step("open", str(job), "Hidden")
    session.step("calculate")  # stored results are shorter by some places
    session.step("formulas", label="formulas before")
    session.step("names", label="names before")
    session.step("check", label="check")
    session.step("sheets", label="sheets")
    session.step("links", label="links")
    session.step("formulas", label="formulas after")
    session.step("names", label="names after")
    session.step("open_count", label="open")
    session.step("store", str(folder / "by-extension.xlsx"), "xlsx")


def _second_check(session: Session) -> None:
    session.step("answer", "Findings", "=1+1 looked at it", label="answer place")
    session.step("write", "Job", "L1", "=$Findings.A1")
    session.step("name", "of_the_user", "$Findings.$A$1")
    session.step("write", "Job", "L2", "=of_the_user")
    session.step("move", "Findings", 3)
    session.step("formulas", label="formulas with the user's")
    session.step("check", label="second check")
    session.step("sheets", label="second sheets")
    session.step("answers", "Findings", label="answers")
    session.step("formulas", label="formulas after the second")
    session.step("names", label="names after the second")
    session.step("links", label="second links")


def _undone(session: Session, job: Path) -> None:
    """Something is typed before each check, and taken back after it."""
    session.step("open", str(job), "Hidden")
    for label in ("first", "second"):
        session.step("write", "Job", "L3", f"typed before the {label}")
        session.step("check", label=f"{label}, to be undone")
        session.step("undo", label=f"undone after the {label}")
        session.step("held", "Job", "L3", label=f"held after the {label}")
    session.step("sheets", label="sheets after undoing")


def _in_the_midst_of_typing(session: Session, checked: Path | None, folder: Path) -> None:
    """With a window, as only there keys are heard."""
    session.step("open", str(checked))
    session.step("press", "Findings", "gap")
    session.step("check", label="check in the midst")
    session.step("fixed", label="fixed")
    session.step("store", str(folder / "seen.xlsx"), "xlsx")
    session.step("answers", "Findings", label="answers in the midst")


def _hostile(session: Session, folder: Path) -> None:
    """Workbooks made to do harm: LibreOffice opens some of them as something else, and some not at all."""
    for name, make in HOSTILE.items():
        (folder / f"{name}.xlsx").write_bytes(make())
        session.step("open", str(folder / f"{name}.xlsx"), "Hidden")
        session.step("formulas", label=f"{name}: formulas before")
        session.step("check", label=f"{name}: check")
        session.step("formulas", label=f"{name}: formulas after")
        session.step("sheets", label=f"{name}: sheets")


def _refusals(session: Session, job: Path) -> None:
    session.step("open", "private:factory/scalc", "Hidden")
    session.step("check", label="no form")
    session.step("sheets", label="sheets of no form")
    session.step("open", str(job), "Hidden", "ReadOnly")
    session.step("check", label="read-only")
    session.step("check", False, label="read-only, with a box")
    session.step("open", str(job), "Hidden")
    session.step("protect", "word")
    session.step("check", label="protected")
    session.step("open", str(job), "Hidden")
    session.step(
        "replace_files", "installed.json", json.dumps({"command": ["/nowhere/python"], "python_path": ""})
    )
    session.step("check", label="not installed")
    session.step("sheets", label="sheets where not installed")


def test_there_is_an_entry_in_the_menu(told: dict[str, Any]) -> None:
    """The menu stands in the bar of spreadsheets alone, with one entry that leads to the check."""
    entry = ["~Check this workbook", "vnd.engine-check:check"]
    assert told["menus"] == [["E~ngine check", "com.sun.star.sheet.SpreadsheetDocument", [entry]]]


def test_the_findings_come_into_the_open_workbook(told: dict[str, Any]) -> None:
    """The sheet is there and shown, last; no other document stays open and nothing stays behind."""
    assert told["check"] == [True, "What was found is on sheet Findings; save the workbook to keep it."]
    sheets, shown = told["sheets"]
    assert sheets[-1] == shown == "Findings" and sheets.count("Findings") == 1
    assert told["open"] == 1
    assert told["left"] == []


def test_what_was_typed_before_the_first_check_can_be_taken_back(told: dict[str, Any]) -> None:
    """A new sheet behind all others changes nothing that could be undone; one that was replaced would, and undo starts afresh."""
    assert told["first, to be undone"][0] and told["second, to be undone"][0]
    assert told["undone after the first"] and told["held after the first"] == ""
    assert not told["undone after the second"] and told["held after the second"] == "typed before the second"
    sheets, _ = told["sheets after undoing"]
    assert sheets.count("Findings") == 1 and sheets[-1] == "Findings"


def test_they_are_those_of_the_command(told: dict[str, Any], folder: Path) -> None:
    """Cells, looks, links, charts, names, protection and print settings are those that engine-check check writes."""
    by_extension, by_command = look(folder / "by-extension.xlsx"), look(folder / "by-command.xlsx")
    assert len(by_command["cells"]) > 500 and sum(1 for cell in by_command["cells"].values() if cell[-1]) > 20
    assert by_command["charts"]
    for part in by_command:
        assert by_extension[part] == by_command[part], part


def test_its_grid_is_hidden(told: dict[str, Any], folder: Path) -> None:
    """In a window, as on the sheet that the command places."""
    assert told["check in the midst"][0]
    assert sheet_in(folder / "seen.xlsx", "Findings").sheet_view.showGridLines is False


def test_the_saved_workbook_is_one_for_the_command(told: dict[str, Any], folder: Path) -> None:
    """Saved there and checked by the command, the workbook has one findings sheet, in the place of that of the extension."""
    assert told["check"][0]
    saved = folder / "by-extension.xlsx"
    again = check_workbook(saved, out_dir=folder / "again")
    assert again.sheet == "Findings" and again.written_to is not None
    names = load_workbook(again.written_to, read_only=True).sheetnames
    assert names == load_workbook(saved, read_only=True).sheetnames


def look(path: Path) -> dict[str, Any]:
    """A findings sheet as stored: what every cell holds, looks like and leads to; but not when it was written."""
    sheet = sheet_in(path, "Findings")
    cells = {
        cell.coordinate: (
            "checked"
            if isinstance(cell.value, str) and "2" in cell.value and ":" in cell.value[-4:]
            else cell.value,
            *(
                cell.font.name,
                cell.font.sz,
                cell.font.b,
                cell.font.u,
                cell.font.color and cell.font.color.rgb,
            ),
            *(cell.fill.fgColor.rgb, cell.number_format, cell.protection.locked),
            *(cell.border.top.style, cell.border.bottom.style, cell.border.left.style),
            *(
                cell.alignment.wrap_text,
                cell.alignment.horizontal,
                cell.alignment.vertical,
                cell.alignment.indent,
            ),
            cell.hyperlink and cell.hyperlink.location,
        )
        for row in sheet.iter_rows()
        for cell in row
    }
    margins, footer = sheet.page_margins, sheet.oddFooter
    return {
        "cells": cells,
        "merged": sorted(map(str, sheet.merged_cells.ranges)),
        "heights": {row: size.height for row, size in sheet.row_dimensions.items()},
        "widths": {column: (size.width, size.hidden) for column, size in sheet.column_dimensions.items()},
        "printed": (
            sheet.print_area,
            sheet.print_title_rows,
            sheet.page_setup.paperSize,
            sheet.page_setup.orientation,
        ),
        "pages": (
            sheet.page_setup.fitToWidth,
            sheet.page_setup.fitToHeight,
            sheet.print_options.horizontalCentered,
        ),
        "margins": (margins.left, margins.right, margins.top, margins.bottom),
        "footer": (footer.left.text, footer.center.text, footer.right.text),
        "protected": (sheet.protection.sheet, sheet.protection.selectLockedCells),
        "names": {
            name: each.attr_text for name, each in sheet.defined_names.items() if name != "judged_from"
        },
        "charts": [
            [one.val.numRef.f for kind in chart._charts for one in kind.series] for chart in sheet._charts
        ],
    }


def test_the_form_stays_as_it_is(told: dict[str, Any]) -> None:
    """Formulas, values and names of the form are unchanged, and nothing leads out of the workbook."""
    assert told["formulas after"] == told["formulas before"]
    assert told["names after"] == told["names before"] and len(told["names before"]) > 500
    assert told["links"] == [0, False]


def test_a_second_check_takes_the_place_of_the_first(told: dict[str, Any]) -> None:
    """There is one findings sheet, where it was moved to, with the answer as it was typed."""
    assert told["second check"][0]
    sheets, shown = told["second sheets"]
    assert sheets.index("Findings") == 3 and shown == "Findings"
    assert [name for name in sheets if "Findings" in name] == ["Findings"]
    key = told["answer place"]
    assert told["answers"][key] == ["=1+1 looked at it", "TEXT"]


def test_what_refers_to_the_findings_still_does(told: dict[str, Any]) -> None:
    """A formula and a name of the user's lead to the new sheet, all others are as they were."""
    assert told["formulas after the second"] == told["formulas with the user's"]
    formulas, values = told["formulas after the second"]["Job"]
    assert [row[11] for row in formulas[:2]] == ["=$Findings.A1", "=of_the_user"]
    assert [row[11] for row in values[:2]] == ["Findings", "Findings"]
    assert told["names after the second"] == {**told["names before"], "of_the_user": "$Findings.$A$1"}
    assert told["second links"] == [0, False]


def test_what_is_still_being_typed_counts(told: dict[str, Any]) -> None:
    """An entry that was not yet ended with the Enter key is taken along; the new sheet's head stays when it is rolled."""
    assert told["check in the midst"][0] and told["fixed"]
    assert ["gap", "TEXT"] in told["answers in the midst"].values()


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ("no form", "no engine-check form"),
        ("read-only", "open read-only"),
        ("read-only, with a box", "open read-only"),
        ("protected", "protected against being added to"),
        (
            "not installed",
            "engine-check was not found, neither where it was when this extension was made (/nowhere/python)",
        ),
    ],
)
def test_a_refusal_is_a_sentence(case: str, said: str, told: dict[str, Any]) -> None:
    """What can't be done is said in a sentence that tells what to do, also where a box shows it."""
    done, sentence = told[case]
    assert not done
    assert said in sentence
    assert sentence.endswith(".") and "\n" not in sentence and tempfile.gettempdir() not in sentence


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_workbook_is_checked_or_refused(name: str, told: dict[str, Any]) -> None:
    """Its findings come in, or a sentence says why not; its own sheets are as they were, and the program goes on."""
    done, sentence = told[f"{name}: check"]
    assert sentence.endswith(".") and "\n" not in sentence and "fault of this program" not in sentence
    assert done or "form" in sentence or "damaged" in sentence or "far more" in sentence, sentence
    before, after = told[f"{name}: formulas before"], told[f"{name}: formulas after"]
    assert {sheet: after[sheet][0] for sheet in before} == {sheet: held[0] for sheet, held in before.items()}
    ours = [sheet for sheet in told[f"{name}: sheets"][0] if sheet.startswith("Findings")]
    assert len(ours) == done + (name == "findings of their own"), ours


def test_a_refused_workbook_gets_no_sheet(told: dict[str, Any]) -> None:
    """Where nothing was checked, nothing was added; and no name was ever read by a shell."""
    assert "Findings" not in str(told["sheets of no form"]) + str(told["sheets where not installed"])
    assert not Path("owned").exists()
