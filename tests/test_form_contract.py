"""The form against its contract: every field of the field table, every cause, and formulas that every
program can run.

The field table and the table of causes are copies of what the workbook's users were promised; a change here
changes the promise, and every filled workbook with it.
"""

from __future__ import annotations

import csv
import dataclasses
import random
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.formula_names import names_in
from tests.support.random_readings import random_entries
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.model import Sign
from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHOWN
from workbook_tools.form.ranges import default_for
from workbook_tools.guide.tests import BY_NAME, TESTS
from workbook_tools.language.constants import CONSTANTS
from workbook_tools.language.expressions import TRUE, At, Node, PlaceOf, TextAt
from workbook_tools.language.model import CONFIRMED, MARKS, SYSTEMS, Block, Field, Result, Shape, Table
from workbook_tools.science.engine_geometry import default_banks
from workbook_tools.sheets.cautions import CAUTIONS

CONTRACT = Path(__file__).with_name("contract")
#: Every number of cylinders, in either system of units by turns; four in both.
SHAPES = [Shape(n, default_banks(n), "metric" if n % 2 else "us") for n in range(1, 17)]
SHAPES.append(Shape(4, default_banks(4), "metric"))
SHAPE_IDS = [f"{each.cylinders}-{each.units}" for each in SHAPES]
SHEET_ORDER = (
    "Start",
    "Job",
    "Engine",
    "Warm-up",
    "Vacuum",
    "Compression",
    "Spark plugs",
    "Ignition",
    "Fuel and air",
    "Repairs",
    "Recheck",
    "Customer",
    "Cautions",
    "Guide",
)
#: In Excel 2010, LibreOffice 7 and Gnumeric 1.12 alike (their function lists, from memory).
FUNCTIONS_EVERYWHERE = frozenset(
    (
        "ABS AND CHOOSE COS COUNT COUNTIF IF INDEX INT LARGE LN MATCH MAX MEDIAN MID MIN NOT OR RADIANS REPT ROUND "
        "ROUNDUP SIN SMALL SQRT SUM SUMIF"
    ).split()
)
#: Limits of Excel 2007 and later: "Excel specifications and limits", Microsoft (from memory).
LONGEST_FORMULA = 8192
DEEPEST_NESTING = 64
LONGEST_TEXT_IN_FORMULA = 255


def table(name: str) -> list[dict[str, str]]:
    """The rows of one table of the contract."""
    with open(CONTRACT / name, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


FIELD_ROWS = table("fields.csv")
CAUSE_ROWS = table("causes.csv")
TEST_ROWS = table("tests.csv")


def formulas(shape: Shape) -> Iterator[tuple[the_form.Cell, str]]:
    """Every computed cell of a workbook of that shape, with its formula."""
    for cell in the_form.cells(shape).values():
        if isinstance(cell.item, Result):
            yield cell, the_form.formula_of(cell.item, shape, cell.number)


def without_texts(formula: str) -> str:
    """The formula with its quoted texts emptied."""
    return re.sub(r'"[^"]*"', '""', formula)


# --- fields --------------------------------------------------------------------------------------------


def test_the_form_asks_for_what_was_promised_and_nothing_else() -> None:
    """Each field of the table is on the form and each field of the form is in the table."""
    assert [row["name"] for row in FIELD_ROWS if row["name"] not in the_form.fields()] == []
    asked = {
        name for name, (item, sheet) in the_form.items().items() if sheet in SHOWN and isinstance(item, Field)
    }
    assert sorted(asked) == sorted(row["name"] for row in FIELD_ROWS)


def test_nothing_is_typed_on_the_hidden_sheet() -> None:
    """What stands there are the guide's own figures, locked."""
    hidden = [item for item, sheet in the_form.items().values() if sheet not in SHOWN]
    assert hidden and all(item.locked for item in hidden if isinstance(item, Field))


@pytest.mark.parametrize("row", TEST_ROWS, ids=[row["test"] for row in TEST_ROWS])
def test_each_test_of_the_guide_is_as_promised(row: dict[str, str]) -> None:
    """Minutes, set-up, fields of a test are those of the table, and its fields are on the form."""
    test = BY_NAME[row["test"]]
    assert (f"{test.minutes:g}", test.set_up) == (row["minutes"], row["set_up"])
    assert (test.set_up_minutes, test.excludes) == (float(row["set_up_minutes"] or 0), row["excludes"])
    assert ", ".join(test.fields) == row["fields"]
    for name in test.fields:
        assert name.removesuffix("_*") in the_form.fields()


def test_there_are_no_other_tests() -> None:
    """The tests are those of the table, in its order."""
    assert [test.name for test in TESTS] == [row["test"] for row in TEST_ROWS]


@pytest.mark.parametrize("row", FIELD_ROWS, ids=[row["name"] for row in FIELD_ROWS])
def test_each_field_is_as_promised(row: dict[str, str]) -> None:
    """Sheet, kind, repeat, units, choices and plausible range of a field are those of the table."""
    field, sheet = the_form.items()[row["name"]]
    assert isinstance(field, Field)
    per = {"job": "job", "engine": "job", "cylinder": "cylinder"}.get(row["per"]) or int(
        row["per"].split(" x ")[1]
    )
    assert (sheet.name, field.kind, field.per) == (row["sheet"], row["kind"], per)
    assert (field.measure.us, field.measure.metric) == (row["unit_us"], row["unit_metric"])
    causes = row["choices"].startswith("(the ids of")
    assert field.choices == (tuple(CAUSES) if causes else tuple(filter(None, row["choices"].split("|"))))
    bounds = tuple(float(row[key]) if row[key] else None for key in ("plausible_min_us", "plausible_max_us"))
    assert (field.low, field.high) == bounds


@pytest.mark.parametrize("row", FIELD_ROWS, ids=[row["name"] for row in FIELD_ROWS])
def test_each_default_is_as_promised(row: dict[str, str]) -> None:
    """A new form for four cylinders in US units proposes the table's default, or leaves the cell blank."""
    field = the_form.fields()[row["name"]]
    default = default_for(field, Shape(4, default_banks(4)))
    if field.name == "cylinder_count":
        assert default == 4
    elif default is None or row["default"] == "":
        assert (default, row["default"]) == (None, "")
    else:
        assert default == (float(row["default"]) if isinstance(default, (int, float)) else row["default"])


def test_sheets_stand_in_the_order_of_the_work() -> None:
    """Sheets come in the promised order."""
    assert tuple(sheet.name for sheet in the_form.SHEETS) == SHEET_ORDER


def test_every_caution_on_the_form_is_written_down() -> None:
    """A caution named at a step exists, and each caution but those of rare work stands at some step."""
    named = {
        caution
        for sheet in the_form.SHEETS
        for part in sheet.parts
        if isinstance(part, (Block, Table))
        for caution in part.cautions
    }
    assert named <= set(CAUTIONS)
    assert set(CAUTIONS) - named <= {"lifting"}


# --- causes --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", CAUSE_ROWS, ids=[row["id"] for row in CAUSE_ROWS])
def test_each_cause_is_as_promised(row: dict[str, str]) -> None:
    """A cause says exactly what the table of causes says."""
    cause = CAUSES[row["id"]]
    assert {key: cause.in_units(key, "us") for key in row} == row
    assert cause.system in SYSTEMS
    assert set(filter(None, cause.caution.split("+"))) <= set(CAUTIONS)


def test_there_are_no_other_causes() -> None:
    """The causes are those of the table, in its order."""
    assert list(CAUSES) == [row["id"] for row in CAUSE_ROWS]


def test_a_sign_by_a_rule_that_is_not_there_fails_when_the_form_is_made() -> None:
    """A slip in a rule's name is told at once, not by the first engine that has the fault."""
    with pytest.raises(ValueError, match="'wet tset', which is not in faults/rules.py"):
        Sign(TRUE, CONFIRMED, rule="wet tset")


# --- formulas ------------------------------------------------------------------------------------------


def test_no_place_in_a_column_stands_for_a_cylinder() -> None:
    """Cylinders stand in the order of their banks, so the third row of a table need not be cylinder 3."""
    for result in the_form.results().values():
        for part in result.expression.walk():
            if isinstance(part, (At, TextAt, PlaceOf)):
                assert the_form.repeats()[part.name] != "cylinder", (result.name, part.name)


@pytest.mark.parametrize("shape", SHAPES, ids=SHAPE_IDS)
def test_formulas_name_only_cells_that_exist(shape: Shape) -> None:
    """Every name in a formula is a cell of the same workbook or the column of a repeated item."""
    cells = the_form.cells(shape)
    columns = {f"all_{name}" for name, per in the_form.repeats().items() if per != "job"}
    for cell, formula in formulas(shape):
        unknown = {name for name in names_in(formula) if name not in cells and name not in columns}
        assert not unknown, (cell.name, unknown)


@pytest.mark.parametrize("shape", SHAPES, ids=SHAPE_IDS)
def test_formulas_stay_inside_what_every_program_can_run(shape: Shape) -> None:
    """Formulas are short and shallow enough, balanced, and made of functions that all three programs know."""
    for cell, formula in formulas(shape):
        bare = without_texts(formula)
        assert formula.startswith("="), cell.name
        assert len(formula) <= LONGEST_FORMULA, cell.name
        assert bare.count("(") == bare.count(")") and "{" not in formula, cell.name
        assert set(re.findall(r"([A-Z][A-Z0-9.]*)\(", bare)) <= FUNCTIONS_EVERYWHERE, cell.name
        assert nesting(bare) <= DEEPEST_NESTING, cell.name
        assert max(map(len, re.findall(r'"([^"]*)"', formula)), default=0) <= LONGEST_TEXT_IN_FORMULA, (
            cell.name
        )


def nesting(bare: str) -> int:
    """How deep brackets are nested in a formula without texts."""
    depth = deepest = 0
    for sign in bare:
        depth += (sign == "(") - (sign == ")")
        deepest = max(deepest, depth)
    return deepest


def test_every_constant_is_used() -> None:
    """No figure is written down that no formula or Python function asks for."""
    root = Path(the_form.__file__).parents[1]
    text = "".join(
        path.read_text(encoding="utf-8") for path in root.rglob("*.py") if path.name != "constants.py"
    )
    unused = [name for name in CONSTANTS if f"{{{name}}}" not in text and f'"{name}"' not in text]
    assert unused == []


# --- Python functions ----------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", SHAPES, ids=SHAPE_IDS)
def test_a_blank_form_shows_no_reading_that_was_not_taken(shape: Shape) -> None:
    """Without any entry every mark is `not taken` or blank, and nothing is proven or found."""
    values = the_form.compute(shape, {})
    for cell, _ in formulas(shape):
        value = values.values[cell.name]
        assert value is None or isinstance(value, (float, int, str)), cell.name
        if isinstance(cell.item, Result) and cell.item.is_mark:
            assert value in (None, "not taken"), cell.name
    states = {
        values.text(name)
        for name in ("state_readiness", "state_compression", "state_ignition", "state_fuel_and_air")
    }
    assert states == {"not proven yet"}


@pytest.mark.parametrize("shape", SHAPES, ids=SHAPE_IDS)
def test_a_formula_reads_no_cell_that_its_expression_does_not_name(shape: Shape) -> None:
    """The names in the text of a formula are cells of its expression, so that results are worked out in order."""
    for cell, formula in formulas(shape):
        assert isinstance(cell.item, Result)
        read = set(the_form.cells_read(cell.item, shape, cell.number))
        for name in names_in(formula):
            base = name.removeprefix("all_")
            repeated = name.startswith("all_") and name not in the_form.cells(shape)
            named = {f"{base}_{n}" for n in shape.numbers(the_form.repeats()[base])} if repeated else {name}
            assert named <= read, (cell.name, named - read)


@pytest.mark.parametrize("shape", SHAPES[::5], ids=SHAPE_IDS[::5])
def test_marks_are_one_of_four_words(shape: Shape) -> None:
    """Whatever is entered, a mark is one of the four words or blank."""
    rng = random.Random(shape.cylinders)
    for _ in range(10):
        values = the_form.compute(shape, random_entries(shape, rng))
        for cell, _formula in formulas(shape):
            if isinstance(cell.item, Result) and cell.item.is_mark:
                assert values.values[cell.name] in (None, *MARKS), cell.name


def test_parts_of_every_kind_are_found() -> None:
    """Whatever a result's expression is made of is among the parts that are walked through, in the order it is written in."""
    for result in the_form.results().values():
        for part in result.expression.walk():
            held = [getattr(part, each.name) for each in dataclasses.fields(part)]  # type: ignore[arg-type]
            flat = [one for each in held for one in (each if isinstance(each, tuple) else (each,))]
            assert [*map(id, part.children())] == [id(one) for one in flat if isinstance(one, Node)], part


@pytest.mark.parametrize("shape", SHAPES[::7], ids=SHAPE_IDS[::7])
def test_each_result_is_worked_out_after_what_it_reads(shape: Shape) -> None:
    """The order of calculation, found item by item, holds cell by cell; every computed cell is in it once."""
    order = [cell.name for cell in the_form.calculation_order(shape)]
    assert sorted(order) == sorted(cell.name for cell, _ in formulas(shape))
    place = {name: at for at, name in enumerate(order)}
    for cell in the_form.calculation_order(shape):
        assert isinstance(cell.item, Result)
        read = the_form.cells_read(cell.item, shape, cell.number)
        assert all(place.get(name, -1) < place[cell.name] for name in read), cell.name
        assert {the_form.cells(shape)[name].item.name for name in read} <= {*the_form.items_read(cell.item)}
