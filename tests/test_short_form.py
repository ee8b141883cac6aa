"""Short forms: only the sheets of the tests that are wanted, and no test asked for that was left out by choice."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.test_specs_book import PUMP
from workbook_tools import fill_workbook
from workbook_tools.commands.program import main
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.errors import BadRequest
from workbook_tools.generate.short_form import ALWAYS, sheets_for
from workbook_tools.generate.workbook import new_workbook
from workbook_tools.guide.choosing import sheet_of
from workbook_tools.guide.tests import BY_NAME
from workbook_tools.read.workbook import read_workbook
from workbook_tools.specs.book import spec_columns
from workbook_tools.specs.sheet import FIRST_ROW, write_specs_book

#: The shortest useful job: ready, needle, test conditions, four cylinders.
SHORTEST: dict[str, object] = {
    "coolant_temperature": 180,
    "idle_speed": 600,
    "idle_vacuum_low": 17,
    "idle_vacuum_high": 20,
    "throttle_held_open": "yes",
    "all_plugs_out": "yes",
    "compression_strokes": 5,
    "compression_dry_1": 140,
    "compression_dry_2": 142,
    "compression_dry_3": 85,
    "compression_dry_4": 141,
}


def filled_form(folder: Path, readings: dict[str, object], tests: str | None) -> Path:
    """A form, short where tests are named, with readings in it."""
    form = new_workbook(folder / "form.xlsx", sheets=tests and sheets_for(tests))
    rows = "".join(f"{name},{value}\n" for name, value in readings.items())
    (folder / "readings.csv").write_text("field,value\n" + rows, encoding="utf-8")
    fill_workbook(form, folder / "readings.csv", folder / "filled.xlsx")
    return folder / "filled.xlsx"


def judged(path: Path) -> Diagnosis:
    """The diagnosis of a workbook."""
    return diagnose(read_workbook(path))


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        ("vacuum,compression", ["Vacuum", "Compression"]),
        ("Compression, VACUUM,", ["Vacuum", "Compression"]),
        ("fuel", ["Fuel and air"]),
        ("plugs,recheck", ["Spark plugs", "Recheck"]),
        ("job,ignition", ["Ignition"]),
    ],
)
def test_tests_are_named_by_their_sheets(asked: str, shown: list[str]) -> None:
    """Sheets are named in any case and order, shortened where one fits; the sheets of every form come with them."""
    assert [name for name in sheets_for(asked) if name not in ALWAYS] == shown
    assert set(ALWAYS) <= set(sheets_for(asked))


@pytest.mark.parametrize(
    ("asked", "words"), [("gearbox", "is no sheet"), ("re", "fits several"), (" , ", "Name the tests")]
)
def test_a_name_that_fits_no_sheet_is_refused(asked: str, words: str) -> None:
    """A name that fits none or several is refused with the names that there are."""
    with pytest.raises(BadRequest, match=f"{words}.*vacuum, compression, spark plugs"):
        sheets_for(asked)


def test_tests_left_out_by_choice_are_not_owed(tmp_path: Path) -> None:
    """A short form asks for no test on a sheet that it was made without; its findings are those of the whole form."""
    short = judged(filled_form(tmp_path, SHORTEST, "vacuum,compression"))
    (tmp_path / "whole").mkdir()
    whole = judged(filled_form(tmp_path / "whole", SHORTEST, None))
    assert [each.cause for each in short.findings] == [each.cause for each in whole.findings] != []
    assert short.states == whole.states
    assert {"wet compression", "idle speed, specified"} <= {each.test for each in short.missing}
    gone = {each.test for each in whole.missing} - {each.test for each in short.missing}
    assert gone >= {"timing by the light", "cranking vacuum", "fuel pressure"}
    sheets = {sheet_of(BY_NAME[name]) for name in gone if name in BY_NAME}
    assert sheets <= {"Ignition", "Fuel and air", "Spark plugs"}
    assert not [each for each in short.discrepancies if each.kind == "layout_changed"]


def test_sheets_left_out_are_not_printed(tmp_path: Path) -> None:
    """Hidden sheets have no print area: where others have one, spreadsheet programs print those alone."""
    book = load_workbook(new_workbook(tmp_path / "form.xlsx", sheets=sheets_for("vacuum")))
    assert all(
        bool(sheet.print_area) == (sheet.sheet_state == "visible")
        for sheet in book
        if sheet.title in {*ALWAYS, "Ignition", "Vacuum"}
    )


def test_a_sheet_that_was_shown_again_and_filled_counts(tmp_path: Path) -> None:
    """Readings on a sheet that was left out are judged, and its tests are owed like those of any sheet."""
    readings = SHORTEST | {"fuel_pressure": 1.0}
    short = read_workbook(filled_form(tmp_path, readings, "vacuum,compression"))
    assert "Fuel and air" not in short.left_out and "Ignition" in short.left_out
    assert "cranking vacuum" in {each.test for each in diagnose(short).missing}


def test_choice_is_known_without_the_file_properties(tmp_path: Path) -> None:
    """A program that drops a file's properties leaves the choice on sheet Cautions, where it is read as well."""
    path = filled_form(tmp_path, SHORTEST, "vacuum,compression")
    book = load_workbook(path)
    for name in list(book.custom_doc_props.names):
        del book.custom_doc_props[name]
    book.save(path)
    assert {"Ignition", "Fuel and air"} <= read_workbook(path).left_out


def test_shortest_useful_job_of_an_engine_in_the_specs_book(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With a four-cylinder engine from the specs book, twelve entries at most show where the fault is and what to do next."""
    book = write_specs_book(tmp_path / "engines.xlsx")
    specs = load_workbook(book)
    for number, column in enumerate(spec_columns(), start=1):
        specs["Engines"].cell(FIRST_ROW + 1, number).value = PUMP.get(column.name)
    specs.save(book)
    made = [
        "new",
        str(tmp_path / "form.xlsx"),
        "--engine",
        "Pump 4",
        "--specs",
        str(book),
        "--tests",
        "vacuum,compression",
        "--job",
        "7",
    ]
    assert main(made) == 0
    shown = [sheet.title for sheet in load_workbook(tmp_path / "form.xlsx") if sheet.sheet_state == "visible"]
    assert shown == ["Start", "Job", "Engine", "Warm-up", "Vacuum", "Compression", "Customer", "Cautions"]
    rows = "".join(f"{name},{value}\n" for name, value in SHORTEST.items())
    (tmp_path / "readings.csv").write_text("field,value\n" + rows, encoding="utf-8")
    fill_workbook(tmp_path / "form.xlsx", tmp_path / "readings.csv", tmp_path / "filled.xlsx")
    diagnosis = judged(tmp_path / "filled.xlsx")
    assert len(SHORTEST) <= 12
    assert {(each.cause, each.cylinders) for each in diagnosis.findings} == {
        ("worn_rings", (3,)),
        ("leaking_valve", (3,)),
    }
    assert "wet compression" in {each.test for each in diagnosis.missing}
    assert main(["check", str(tmp_path / "filled.xlsx")]) == 0
    assert "cylinder 3" in capsys.readouterr().err
