"""Sheet Start, the first: what it shows of a job, where its link leads, and that all of it is seen at once."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.worksheet.worksheet import Worksheet

from tests.support.cases import cases, typed
from tests.support.filled import defaults, filled, form_with, healthy, shape_of
from tests.support.office import Office
from tests.support.one_sheet import sheet_in
from tests.support.random_readings import random_entries
from workbook_tools import fill_workbook, new_workbook
from workbook_tools.diagnose import diagnosis
from workbook_tools.diagnose.diagnosis import judge
from workbook_tools.diagnose.entries import open_case
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.form.start import GO_ON, NOT_GAUGED, START
from workbook_tools.generate.short_form import sheets_for
from workbook_tools.guide.fits import SUSPECTS
from workbook_tools.guide.suspects import FOUND
from workbook_tools.guide.telling import NOTHING_REPAIRED, repair_next
from workbook_tools.guide.tests import BY_NAME
from workbook_tools.language.evaluate import Numbering, evaluator
from workbook_tools.language.expressions import column
from workbook_tools.language.formulas import formula
from workbook_tools.language.model import CONFIRMED, FAULT, INDICATED, Shape, cell_name
from workbook_tools.layout.layout import layout, sheet_of
from workbook_tools.layout.plan import SheetPlan
from workbook_tools.science.engine_geometry import default_banks

#: Engines of the random jobs.
JOBS = (
    Shape(4, default_banks(4), "us"),
    Shape(6, default_banks(6), "metric"),
    Shape(8, default_banks(8), "us"),
)
#: Labelled jobs judged of each cause that they confirm.
OF_EACH_CAUSE = 4
#: Pixels of rows that a spreadsheet program's window of 1366 x 768 shows (LibreOffice 7.4, measured on a screenshot).
WINDOW = 585


def values_of(shape: Shape, **typed: object) -> dict[str, object]:
    """Every cell of a form of that shape with the readings typed."""
    return dict(the_form.compute(shape, {**defaults(shape), **typed}).values)  # type: ignore[dict-item]


def start_row(plan: SheetPlan, name: str) -> int:
    """The row of a cell of the sheet."""
    return next(place.row for place in plan.places if place.name == name)


def targets_of(page: Worksheet) -> set[str]:
    """Where the links of a sheet lead."""
    return {cell.hyperlink.location for row in page.iter_rows() for cell in row if cell.hyperlink}


@pytest.mark.parametrize("cylinders", [1, 4, 6, 8, 12, 16])
def test_all_of_it_is_seen_at_once(cylinders: int) -> None:
    """Whose engine, what is next, the systems, the engine from above and what fits best: on one screen of a laptop."""
    start = sheet_of(layout(Shape(cylinders, default_banks(cylinders), "us")), "Start")
    last = start_row(start, cell_name("fits_best", 5))
    assert sum(height for row, height in start.row_heights.items() if row <= last) * 96 / 72 <= WINDOW
    assert start.last_column == 8


def test_it_is_the_first_sheet_and_each_sheet_leads_to_it(tmp_path: Path) -> None:
    """The book opens on it, and the row of links of every other sheet begins with it."""
    book = openpyxl.load_workbook(new_workbook(tmp_path / "form.xlsx", cylinders=6))
    assert book.sheetnames[0] == book.active.title == START.name
    shown = [
        page for page in book if page.sheet_state == "visible" and page.title not in ("Start", "Customer")
    ]
    for page in shown:
        assert "'Start'!A1" in targets_of(page), page.title


@pytest.mark.parametrize(
    ("banks", "rows"),
    [
        ("1-2-3-4", [(1, 2, 3, 4)]),
        ("1-3-5-7 | 2-4-6-8", [(1, 3, 5, 7), (2, 4, 6, 8)]),
        ("1-2-3-4-5-6-7-8-9-10", [(1, 2, 3, 4, 5, 6, 7, 8), (9, 10)]),
    ],
)
def test_the_engine_from_above(banks: str, rows: list[tuple[int, ...]]) -> None:
    """Each bank in a row of its own from front to rear, one longer than the sheet in two."""
    shape = shape_of(max(max(row) for row in rows), banks=banks)
    cells = layout(shape).cells
    places = {n: cells[cell_name("cylinder_view", n)] for n in range(1, shape.cylinders + 1)}
    top = places[1].row
    for offset, row in enumerate(rows):
        assert [(places[n].row, places[n].column) for n in row] == [
            (top + offset, 1 + at) for at in range(len(row))
        ]


def test_a_cylinder_in_a_word() -> None:
    """Not gauged, sound, low, and what its readings point to."""
    shape = shape_of(4)
    sound = healthy(shape)
    dry = {f"compression_dry_{n}": 140.0 for n in (1, 2, 4)}
    empty = values_of(shape)
    assert [empty[f"cylinder_view_{n}"] for n in range(1, 5)] == [NOT_GAUGED] * 4
    proper = {
        **sound,
        **dry,
        "compression_dry_3": 90.0,
        "compression_wet_3": 92.0,
        "compression_wet_1": 145.0,
    }
    read = values_of(shape, **{name: value for name, value in proper.items() if "leak" not in name})
    assert (read["cylinder_view_1"], read["cylinder_view_3"]) == ("sound", "valve")
    assert read["part_compression"] == "burned or leaking valve, cylinder 3"
    assert read["answer_so_far"] == "Found: burned or leaking valve, cylinder 3."
    assert read["state_compression"] == FAULT
    again = values_of(shape, **{**proper, "after_compression_3": 141.0, "after_compression_4": 80.0})
    assert (again["cylinder_view_3"], again["cylinder_view_4"]) == ("sound now", "still low")
    assert values_of(shape)["answer_so_far"] == "Nothing read yet."
    stopped = values_of(shape, oil_pressure=1.0, spec_oil_pressure_min=15.0)
    assert str(stopped["answer_so_far"]).startswith("Stop the engine") and not stopped["next_cell"]


@pytest.mark.parametrize(
    ("heard_at", "step"),
    [
        ("oil filler", "Lift the head or pull the piston"),
        ("exhaust", "Check the clearance of this valve first"),
        ("intake", "Check the clearance of this valve first"),
        ("next cylinder", "Watch the coolant for bubbles"),
    ],
)
def test_a_leak_that_was_heard_is_not_asked_for_again(heard_at: str, step: str) -> None:
    """Once the leak-down test has shown the fault, Start says what is done about it, in the words of the findings."""
    form = filled(
        healthy_engine=True,
        compression_dry=(140, 92, 140, 142),
        compression_wet={1: 145, 2: 95},
        leakdown={2: 48},
        leak_heard_at={2: heard_at},
    )
    case, slips = open_case(form)
    found = [each for each in judge(case, slips).findings if each.strength == CONFIRMED]
    assert [each.next_step.startswith(step) for each in found] == [True]
    assert str(case.values.values["next_test"]).startswith(step)


def test_a_repair_is_said_as_in_the_findings() -> None:
    """On the labelled jobs: what Start says of the fault that is repaired first is its finding's step, or that step in short."""
    told, seen = 0, Counter[str]()
    for job in cases():
        sure = [line.split()[0] for line in job.findings if " confirmed" in line]
        seen.update(sure)
        # Some jobs of each cause say all that is said of it.
        if not sure or min(seen[cause] for cause in sure) > OF_EACH_CAUSE:
            continue
        case, slips = open_case(form_with(job.shape, {**defaults(job.shape), **typed(job)}, calculated=False))
        said, row = case.values.values["next_test"], case.number("guide_repair")
        if row is None or not case.holds(repair_next) or case.text("suspect_state", int(row)) != FOUND:
            continue
        cause = CAUSES[SUSPECTS[int(row) - 1]]
        steps = {
            each.next_step.split("Then: ")[-1]
            for each in judge(case, slips).findings
            if each.cause == cause.id and each.strength == CONFIRMED
        }
        # A step that names what this engine lacks is said in general on the sheet.
        by_engine = any(callable(sign.next_step) for sign in (*cause.signs, *cause.cylinder_signs))
        if steps and said not in steps:
            assert cause.in_short == said and (cause.next_step in steps or by_engine), (job.name, said, steps)
        told += 1
    assert told > 30


TWO_VALVES = {
    "compression_dry": [160, 60, 160, 70],
    "compression_wet": {1: 163, 2: 63, 4: 73, 3: 163},
    "compression_first": {n: None for n in range(1, 5)},
    "leakdown": {1: 6, 2: 60, 3: 7, 4: 55},
    "leak_heard_at": {2: "exhaust", 4: "exhaust"},
    "work_cause": {1: "leaking_valve"},
}
WORN = {"compression_dry": 95, "compression_wet": 140, "leakdown": None, "work_cause": {1: "general_wear"}}
DWELL_OUT = {"dwell": 75, "work_cause": {1: "contact_gap"}}
PROVEN_AGAIN = "Repaired, and proven by the readings taken again. Run the check before it leaves."


@pytest.mark.parametrize(
    ("before", "again", "proven"),
    [
        pytest.param(TWO_VALVES, {}, False, id="nothing"),
        pytest.param(TWO_VALVES, {"after_compression": {2: 158}}, False, id="one valve of two"),
        pytest.param(TWO_VALVES, {"after_leakdown": {4: 6}}, False, id="the other, by leak-down"),
        pytest.param(TWO_VALVES, {"after_compression": {1: 158}}, False, id="a cylinder that was sound"),
        pytest.param(TWO_VALVES, {"after_compression": {2: 158, 4: 90}}, False, id="one good, one bad"),
        pytest.param(TWO_VALVES, {"after_compression": {2: 158, 4: 157}}, True, id="both valves"),
        pytest.param(
            TWO_VALVES, {"after_compression": {2: 158}, "after_leakdown": {4: 6}}, True, id="each its own"
        ),
        pytest.param(WORN, {"after_compression": (148, 149, None, 147)}, False, id="three of four"),
        pytest.param(WORN, {"after_compression": (148, 149, 146, 147)}, True, id="all four"),
        pytest.param(DWELL_OUT, {"after_point_gap": 0.020}, False, id="a gap that was right all along"),
        pytest.param(DWELL_OUT, {"after_dwell": 56}, True, id="the dwell that was out"),
    ],
)
def test_start_calls_a_repair_proven_only_when_all_that_was_wrong_is_right(
    before: dict[str, Any], again: dict[str, Any], proven: bool
) -> None:
    """A valve of two that was not gauged again, or a reading that was never wrong, proves nothing: the sheet gives no all-clear."""
    case, slips = open_case(filled(healthy_engine=True, **before, **again))
    (repair,) = judge(case, slips).repairs
    assert (repair.verdict == "proven") is proven
    assert (case.values.values["answer_so_far"] == PROVEN_AGAIN) is proven
    assert (case.values.values["next_test"] == NOTHING_REPAIRED) is proven


def test_the_link_leads_to_the_first_cylinder_that_was_not_read_again() -> None:
    """Not to the top of the table: cylinder 1 was sound all along."""
    for again, cell in (
        ({}, "after_compression_2"),
        ({"after_compression": {2: 158}}, "after_compression_4"),
    ):
        case, _ = open_case(filled(healthy_engine=True, **TWO_VALVES, **again))
        assert case.values.values["next_cell"] == cell


def test_the_link_leads_to_a_cell_that_the_next_step_fills(monkeypatch: pytest.MonkeyPatch) -> None:
    """On random jobs: the cell that it names is one of the blank cells that the check names for the same test."""
    monkeypatch.setattr(diagnosis, "check_workbook_cells", lambda form, values: [])
    rng, tests = random.Random(5), 0
    for _ in range(50):
        shape = rng.choice(JOBS)
        case, slips = open_case(
            form_with(shape, {**defaults(shape), **random_entries(shape, rng)}, calculated=False)
        )
        steps = [each for each in judge(case, slips).next if each.test != "read again"]
        cell = case.text("next_cell")
        if cell:
            assert cell in the_form.cells(shape), cell
        if steps and steps[0].test in BY_NAME:
            tests += 1
            assert cell in steps[0].fields, (cell, steps[0])
    assert tests > 15


def test_the_link_follows_the_next_test(office: Office, tmp_path: Path) -> None:
    """Calculated by a spreadsheet program as by `fill`: it stands there while something is to be typed, and names the cell."""
    form = new_workbook(tmp_path / "form.xlsx")
    office.fill(form, {"complaint": "lacks power"}, tmp_path / "by_program.xlsx")
    fill_workbook(form, {"complaint": "lacks power"}, tmp_path / "by_fill.xlsx")
    shown = set()
    for path in (tmp_path / "by_program.xlsx", tmp_path / "by_fill.xlsx"):
        page = sheet_in(path, "Start", data_only=True)
        place = next(each for each in sheet_of(layout(shape_of(4)), "Start").links if each.link is GO_ON)
        shown.add(page.cell(place.row + 1, place.column + 1).value)
    assert shown == {GO_ON.words}


def test_a_short_form_has_no_link_to_what_it_does_not_show(tmp_path: Path) -> None:
    """The name of the system stands there, and leads nowhere."""
    form = new_workbook(tmp_path / "short.xlsx", sheets=sheets_for("vacuum, compression"))
    page = sheet_in(form, "Start")
    targets = targets_of(page)
    assert "'Compression'!A1" in targets and not {"'Ignition'!A1", "'Fuel and air'!A1"} & targets
    assert "Ignition" in {cell.value for row in page.iter_rows() for cell in row}


@given(st.lists(st.sampled_from(["", CONFIRMED, INDICATED, "possible"]), min_size=1, max_size=16))
def test_the_numbers_of_a_column_that_say_a_word(said: list[str]) -> None:
    """Between commas, blank where there is none; the formula asks every cell once."""
    shape = Shape(len(said), default_banks(len(said)))
    numbers = Numbering(shape, {"verdict": "cylinder"})
    part = column("verdict").numbers_with(CONFIRMED, INDICATED)
    cells = {cell_name("verdict", n): text for n, text in enumerate(said, 1)}
    wanted = ", ".join(str(n) for n, text in enumerate(said, 1) if text in (CONFIRMED, INDICATED))
    assert evaluator(part, numbers)(cells.get, None) == (wanted or None)  # type: ignore[arg-type]
    assert all(f'verdict_{n}="{CONFIRMED}"' in formula(part, numbers, None) for n in range(1, len(said) + 1))


@pytest.mark.parametrize("name", ["contact_gap", "contact gap", "Contact gap or dwell out of limits"])
def test_a_repair_is_named_as_such(name: str) -> None:
    """Its work written down under any of its names, and read again in limits, it is repaired and no longer what is next."""
    shape = shape_of(4)
    out = {"point_gap": 0.03, "spec_point_gap_min": 0.016, "spec_point_gap_max": 0.02, "spec_dwell_min": None}
    typed = {**healthy(shape), **out, "dwell": None, "work_cause_1": name}
    worked_on = values_of(shape, **typed)
    assert str(worked_on["part_ignition"]).startswith("worked on: contact gap")
    assert str(worked_on["answer_so_far"]).startswith("Worked on: contact gap")
    assert worked_on["next_cell"] == "after_point_gap"
    proven = values_of(shape, **typed, after_point_gap=0.018)
    assert str(proven["part_ignition"]).startswith("repaired: contact gap")
    assert str(proven["answer_so_far"]).startswith("Repaired")
    assert "echeck" not in str(proven["next_test"]) and not str(proven["next_why"] or "").startswith("found")
