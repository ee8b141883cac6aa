"""The specs book: what it asks, what is reported of a filled one, forms made from it and held against it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.support.one_sheet import sheet_in
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.commands.program import main
from workbook_tools.errors import BadRequest, NotOurWorkbook, UnusableFile
from workbook_tools.form import the_form
from workbook_tools.language.model import Field, Shape
from workbook_tools.read.filled_form import entry_of
from workbook_tools.read.workbook import read_workbook
from workbook_tools.specs.book import SpecsBook, read_specs, spec_columns
from workbook_tools.specs.checks import specs_problems
from workbook_tools.specs.sheet import FIRST_ROW, HEAD_ROW, ROOM_FOR, write_specs_book

#: Invented engines.
PUMP = {
    "engine_name": "Pump 4",
    "spec_source": "Invented manual, page 12",
    "cylinder_count": 4,
    "firing_order": "1-3-4-2",
    "ignition_type": "contact points",
    "system_voltage": 6,
    "spec_compression_min": 115,
    "spec_compression_max": 150,
    "spec_timing": 8,
    "spec_point_gap_min": 0.018,
    "spec_point_gap_max": 0.022,
    "spec_operating_temp_min": 170,
    "spec_advance_speed_1": 900,
    "spec_advance_min_1": 6,
    "spec_advance_max_1": 10,
}
BARGE = {
    "engine_name": "Barge 8",
    "cylinder_count": 8,
    "cylinder_banks": "1-3-5-7 | 2-4-6-8",
    "firing_order": "1-8-4-3-6-5-7-2",
}


def write_rows(
    path: Path, *rows: dict[str, object], units: str = "us", first: int = FIRST_ROW + 1
) -> SpecsBook:
    """A specs book with those engines, typed as a person would, read back."""
    if not path.exists():
        write_specs_book(path, units=units)  # type: ignore[arg-type]
    book = load_workbook(path)
    columns = {column.name: number for number, column in enumerate(spec_columns(), start=1)}
    for number, row in enumerate(rows, start=first):
        for name, value in row.items():
            book["Engines"].cell(number, columns[name], value)
    book.save(path)
    return read_specs(path)


@pytest.fixture(scope="module")
def two_engines(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of two invented engines, to be copied."""
    path = tmp_path_factory.mktemp("specs") / "specs.xlsx"
    write_rows(path, PUMP, BARGE)
    return path


@pytest.fixture
def book(tmp_path: Path, two_engines: Path) -> SpecsBook:
    """A copy of it, read."""
    return read_specs(shutil.copy(two_engines, tmp_path / "specs.xlsx"))


# --- what it asks ----------------------------------------------------------------------------------------------------


def test_the_columns_are_the_fields_of_sheet_engine() -> None:
    """A specification added to the form is a column of the book: both have one source."""
    asked = {
        name
        for name, cell in the_form.cells(Shape(4, ((1, 2, 3, 4),))).items()
        if cell.sheet.name == "Engine" and isinstance(cell.item, Field)
    }
    assert {column.name for column in spec_columns()} == asked
    assert len({column.head("us") for column in spec_columns()}) == len(spec_columns())


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_empty_book_is_a_table_with_validation(tmp_path: Path, units: str) -> None:
    """Every column has its head with the unit, a name, validation or a note over all rows; heads stay in sight."""
    path = write_specs_book(tmp_path / "specs.xlsx", units=units)  # type: ignore[arg-type]
    sheet = sheet_in(path, "Engines")
    (table,) = sheet.tables.values()
    assert [column.name for column in table.tableColumns] == [column.head(units) for column in spec_columns()]  # type: ignore[arg-type]
    assert sheet.freeze_panes == f"B{FIRST_ROW + 1}" and sheet.page_setup.orientation == "landscape"
    covered = {cell.coord for each in sheet.data_validations.dataValidation for cell in each.sqref.ranges}
    for number, column in enumerate(spec_columns(), start=1):
        letters = sheet.cell(HEAD_ROW + 1, number).column_letter
        assert f"{letters}{FIRST_ROW + 1}:{letters}{HEAD_ROW + 1 + ROOM_FOR}" in covered, column.name
    assert read_specs(path).units == units and read_specs(path).engines == ()


def test_the_same_request_gives_the_same_bytes(tmp_path: Path) -> None:
    """An empty book does not depend on the day or the machine."""
    one, other = write_specs_book(tmp_path / "a.xlsx"), write_specs_book(tmp_path / "b.xlsx")
    assert one.read_bytes() == other.read_bytes()


# --- what is reported ------------------------------------------------------------------------------------------------

PROBLEMS = [
    ({"spec_timing": "early"}, "spec_timing", "is not a number"),
    ({"spec_compression_min": 160}, "spec_compression_min", "the lowest, 160, is above the highest, 150"),
    ({"spec_compression_min": 15}, "spec_compression_min", "outside what is plausible, 30 to 300 psi"),
    ({"firing_order": "1-3-4"}, "firing_order", "names 3 cylinders, but the engine has 4"),
    ({"firing_order": "1-3-3-2"}, "firing_order", "names cylinder 3 twice"),
    ({"firing_order": "1-3-5-2"}, "firing_order", "does not name cylinder 4"),
    ({"cylinder_banks": "1-2 | 3-4-5"}, "cylinder_banks", "names 5 cylinders, but the engine has 4"),
    ({"cylinder_count": None}, "cylinder_count", "is missing"),
    ({"cylinder_count": 40}, "cylinder_count", "1 to 16 cylinders, not 40"),
    ({"engine_name": None}, "engine_name", "no name"),
    (
        {"spec_advance_speed_2": 800, "spec_advance_min_2": 8},
        "spec_advance_speed_2",
        "not above the 900 rpm of point 1",
    ),
    (
        {"spec_advance_speed_3": 1800, "spec_advance_min_3": 8},
        "spec_advance_speed_3",
        "point 2 before it is blank",
    ),
    ({"spec_advance_min_2": 8}, "spec_advance_speed_2", "has an advance and no speed"),
    ({"spec_advance_speed_2": 1500}, "spec_advance_min_2", "has a speed and no advance"),
    ({"spec_advance_min_1": 12}, "spec_advance_min_1", "the lowest, 12, is above the highest, 10"),
    # 360 degrees of the distributor over four sparks: geometry
    ({"spec_dwell_max": 95}, "spec_dwell_max", "more than the 90°"),
    # pi/4 x 3² x 4 x 4 = 113.1: geometry
    ({"bore": 3, "stroke": 4, "displacement": 200}, "displacement", "give 113 in³, not 200"),
]


@pytest.mark.parametrize(("changed", "field", "words"), PROBLEMS)
def test_what_can_not_be_right_is_said_with_its_cell(
    tmp_path: Path, changed: dict[str, object], field: str, words: str
) -> None:
    """Each slip is reported once, at its cell, in a sentence that says what is wrong; nothing else is reported."""
    book = write_rows(tmp_path / "specs.xlsx", PUMP | changed)
    (problem,) = specs_problems(book)
    assert problem.cell == book.engines[0].where(field)
    assert words in problem.message and problem.message.startswith(problem.cell)


def test_banks_and_firing_order_are_held_together_without_a_count(tmp_path: Path) -> None:
    """Where the number of cylinders is missing, banks and firing order that name different numbers are told too."""
    book = write_rows(tmp_path / "specs.xlsx", PUMP | {"cylinder_count": None, "cylinder_banks": "1-2-3"})
    count, order = specs_problems(book)
    assert "is missing" in count.message and "names 4 cylinders, the banks name 3" in order.message


def test_a_sound_book_has_no_problems(book: SpecsBook) -> None:
    """Two engines with figures that fit together are not complained of."""
    assert specs_problems(book) == ()


def test_a_name_that_stands_twice_is_reported(tmp_path: Path) -> None:
    """Capitals and spaces make no other engine; the second row is named, and no form is made for either."""
    book = write_rows(tmp_path / "specs.xlsx", PUMP, BARGE, PUMP | {"engine_name": " pump  4 "})
    (problem,) = specs_problems(book)
    assert (problem.cell, f"row {FIRST_ROW + 1} already" in problem.message) == (
        f"Engines!A{FIRST_ROW + 3}",
        True,
    )
    with pytest.raises(BadRequest, match=f"more than once, in rows {FIRST_ROW + 1} and {FIRST_ROW + 3}"):
        book.engine("Pump 4")


def test_units_typed_with_a_figure_are_read(tmp_path: Path) -> None:
    """`8 bar` in a psi column is 116 psi (1 bar = 14.5038 psi, NIST SP 811)."""
    book = write_rows(tmp_path / "specs.xlsx", PUMP | {"spec_compression_min": "8 bar"})
    assert book.engine("pump 4").value("spec_compression_min") == pytest.approx(8 * 14.5038, rel=1e-5)


def test_columns_are_found_when_moved_and_when_they_lost_their_names(tmp_path: Path) -> None:
    """A column inserted before the others, and names that a program dropped, change nothing; a lost column is said."""
    path = tmp_path / "specs.xlsx"
    write_rows(path, PUMP)
    changed = load_workbook(path)
    del changed.defined_names["column_spec_timing"]
    del changed.defined_names["column_firing_order"]
    heads = {cell.value: cell for cell in changed["Engines"][HEAD_ROW + 1]}
    heads["Firing order"].value = "Sequence"
    changed.save(path)
    book = read_specs(path)
    assert book.engine("Pump 4").value("spec_timing") == 8
    assert book.lost == ("firing_order",) and "Firing order can't be found" in specs_problems(book)[0].message


@pytest.mark.parametrize(
    ("asked", "words"),
    [("Pump4x", "near to it: Pump 4"), ("barge", "near to it: Barge 8"), ("zzz", "it has Pump 4, Barge 8")],
)
def test_near_names_are_suggested(book: SpecsBook, asked: str, words: str) -> None:
    """An engine that is not in the book is refused with the names that look like it."""
    with pytest.raises(BadRequest, match=words):
        book.engine(asked)


def test_files_that_are_no_specs_book_are_refused(tmp_path: Path) -> None:
    """A form, a missing file and a book of a newer program are each refused in a sentence."""
    new_workbook(tmp_path / "form.xlsx")
    with pytest.raises(NotOurWorkbook, match="no specs book"):
        read_specs(tmp_path / "form.xlsx")
    with pytest.raises(UnusableFile, match="does not exist"):
        read_specs(tmp_path / "none.xlsx")
    newer = load_workbook(write_specs_book(tmp_path / "specs.xlsx"))
    newer.custom_doc_props["specs_version"].value = 99
    newer.save(tmp_path / "newer.xlsx")
    with pytest.raises(UnusableFile, match="newer program"):
        read_specs(tmp_path / "newer.xlsx")


# --- forms made from it ----------------------------------------------------------------------------------------------


def on_form(path: Path, name: str) -> object:
    """What a cell of a form says."""
    form = read_workbook(path)
    return entry_of(form.cells[name], form.shape, form.epoch).value


def test_a_form_is_filled_from_the_book(book: SpecsBook, tmp_path: Path) -> None:
    """Cylinders, banks, firing order and every figure come from the book; what it leaves blank is common practice."""
    new_workbook(tmp_path / "form.xlsx", specs=book, engine="PUMP4", job_number="117")
    for name, value in PUMP.items():
        assert on_form(tmp_path / "form.xlsx", name) == value, name
    assert on_form(tmp_path / "form.xlsx", "spec_lowest_percent") == 75
    new_workbook(tmp_path / "barge.xlsx", specs=book, engine="Barge 8")
    assert read_workbook(tmp_path / "barge.xlsx").shape.banks == ((1, 3, 5, 7), (2, 4, 6, 8))


def test_figures_are_converted_to_a_form_in_other_units(book: SpecsBook, tmp_path: Path) -> None:
    """A US book makes a metric form: 115 psi are 792.9 kPa, 0.018 in 0.4572 mm, 170 °F 76.67 °C (NIST SP 811)."""
    new_workbook(tmp_path / "form.xlsx", specs=book, engine="Pump 4", units="metric")
    for name, value in {
        "spec_compression_min": 792.9,
        "spec_point_gap_min": 0.4572,
        "spec_operating_temp_min": 76.67,
        "spec_timing": 8,
    }.items():
        assert on_form(tmp_path / "form.xlsx", name) == pytest.approx(value), name
    assert check_workbook(tmp_path / "form.xlsx", write=False, specs=book).diagnosis.discrepancies == ()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"cylinders": 6}, "has 4 cylinders"),
        ({"firing_order": "1-2-4-3"}, "a firing order of its own"),
        ({"units": "cgs"}, "us or metric"),
    ],
)
def test_what_contradicts_the_book_is_refused(
    book: SpecsBook, tmp_path: Path, options: dict[str, object], words: str
) -> None:
    """Cylinders, banks or a firing order given beside the engine must be the book's."""
    with pytest.raises(BadRequest, match=words):
        new_workbook(tmp_path / "form.xlsx", specs=book, engine="Pump 4", **options)  # type: ignore[arg-type]
    assert not (tmp_path / "form.xlsx").exists()


def test_no_form_from_a_row_that_is_wrong(tmp_path: Path) -> None:
    """A row with an error is refused with the error; one that is only doubtful may be right, and makes a form."""
    book = write_rows(
        tmp_path / "specs.xlsx", PUMP | {"spec_timing": "early"}, BARGE | {"spec_compression_min": 20}
    )
    with pytest.raises(BadRequest, match="'early' is not a number"):
        new_workbook(tmp_path / "form.xlsx", specs=book, engine="Pump 4")
    new_workbook(tmp_path / "form.xlsx", specs=book, engine="Barge 8")
    assert on_form(tmp_path / "form.xlsx", "spec_compression_min") == 20


# --- forms held against it -------------------------------------------------------------------------------------------

CHANGED = [
    ({}, {}),
    ({"spec_compression_min": 90}, {"spec_compression_min": ("90 psi", "115 psi")}),
    ({"spec_timing": None}, {"spec_timing": ("blank", "8 ° BTDC")}),
    ({"ignition_type": "magneto"}, {"ignition_type": ("magneto", "contact points")}),
    ({"system_voltage": 12}, {"system_voltage": ("12", "6")}),
    ({"firing_order": "3-4-2-1"}, {}),  # the same order, begun at another cylinder
    ({"firing_order": "1-2-4-3"}, {"firing_order": ("1-2-4-3", "1-3-4-2")}),
    ({"spec_advance_max_1": 14}, {"spec_advance_max_1": ("14 °", "10 °")}),
    ({"spec_source": "INVENTED manual,  page 12"}, {}),
    ({"spec_source": "memory"}, {"spec_source": ("memory", "Invented manual, page 12")}),
    ({"spec_compression_spread": 30}, {"spec_compression_spread": ("30 psi", "10 psi")}),  # blank in the book
    ({"spec_cranking_speed_min": 150}, {}),  # blank in the book, and no common practice
    ({"engine_name": "Pump 5"}, {"engine_name": ("Pump 5", "Pump 4")}),
    ({"engine_name": None}, {"engine_name": ("nothing", "an engine of the specs book")}),
]


@pytest.mark.parametrize(("typed", "expected"), CHANGED)
def test_figures_that_differ_from_the_book_are_reported(
    book: SpecsBook, tmp_path: Path, typed: dict[str, object], expected: dict[str, tuple[str, str]]
) -> None:
    """limit_changed names the cell, what it holds and what the book says, and nothing that is the same."""
    new_workbook(tmp_path / "form.xlsx", specs=book, engine="Pump 4")
    fill_workbook(tmp_path / "form.xlsx", typed, tmp_path / "job.xlsx")
    found = [
        each
        for each in check_workbook(
            tmp_path / "job.xlsx", write=False, specs=book.path
        ).diagnosis.discrepancies
        if each.kind == "limit_changed"
    ]
    assert {each.field: (each.found, each.expected) for each in found} == expected
    for each in found:
        assert each.cell.startswith("Engine!") and each.message.startswith(each.cell)


@pytest.mark.parametrize(("typed", "differs"), [(793, False), (790, True)])
def test_a_converted_figure_may_be_rounded(
    book: SpecsBook, tmp_path: Path, typed: float, differs: bool
) -> None:
    """115 psi are 792.9 kPa: 793 is the same figure on a metric form, 790 is not."""
    new_workbook(tmp_path / "form.xlsx", specs=book, engine="Pump 4", units="metric")
    fill_workbook(tmp_path / "form.xlsx", {"spec_compression_min": typed}, tmp_path / "job.xlsx")
    found = check_workbook(tmp_path / "job.xlsx", write=False, specs=book).diagnosis.discrepancies
    assert bool(found) is differs


def test_an_engine_with_other_cylinders_is_reported_once(book: SpecsBook, tmp_path: Path) -> None:
    """A form made for another engine is said to be that, and not in fifty lines."""
    new_workbook(tmp_path / "form.xlsx", cylinders=6, prefill={"engine_name": "Pump 4"})
    found = check_workbook(tmp_path / "form.xlsx", write=False, specs=book).diagnosis.discrepancies
    assert [each.field for each in found if each.kind == "limit_changed"] == ["cylinder_count"]


# --- the command line ------------------------------------------------------------------------------------------------


def test_the_command_writes_a_book_and_then_checks_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`specs` makes the book once; after that it reads it, exits 1 with --strict when something is wrong, 2 when unusable."""
    path = tmp_path / "specs.xlsx"
    assert main(["specs", str(path), "--units", "metric"]) == 0
    assert read_specs(path).units == "metric"
    assert main(["specs", str(path), "--units", "us"]) == 2
    assert main(["specs", str(path), "--strict"]) == 0
    write_rows(path, {**BARGE, "firing_order": "1-2"})
    assert main(["specs", str(path)]) == 0
    assert main(["specs", str(path), "--strict"]) == 1
    assert f"Engines!E{FIRST_ROW + 1}" in capsys.readouterr().err
    path.write_text("no workbook")
    assert main(["specs", str(path)]) == 2


def test_new_and_check_use_the_book(
    book: SpecsBook, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`new --engine --specs` fills the form, `check --specs` reports what was changed; half of the pair is refused."""
    form, specs = str(tmp_path / "form.xlsx"), str(book.path)
    assert main(["new", form, "--engine", "pump 4"]) == 2
    assert main(["new", form, "--engine", "pump 4", "--specs", specs, "--cylinders", "6"]) == 2
    assert main(["new", form, "--engine", "pump 4", "--specs", specs]) == 0
    fill_workbook(form, {"spec_compression_min": 90}, tmp_path / "job.xlsx")
    assert main(["check", str(tmp_path / "job.xlsx"), "--specs", specs, "--strict"]) == 1
    assert f"specs.xlsx (Engines!J{FIRST_ROW + 1}) says 115 psi for Pump 4" in capsys.readouterr().err
    assert main(["check", str(tmp_path / "job.xlsx"), "--specs", form]) == 2
