"""Nothing is judged twice: what the sheet says is what the report says, on random engines of every shape."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from tests.support.filled import defaults, diagnosis_of, form_with, sound_again
from tests.support.random_readings import random_entries
from workbook_tools.commands.reference_pages import rules_page
from workbook_tools.diagnose import diagnosis
from workbook_tools.diagnose.diagnosis import judge
from workbook_tools.diagnose.entries import open_case
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.form.start import STATES
from workbook_tools.guide.fits import ROW
from workbook_tools.guide.suspects import REPAIRED, WORKED_ON
from workbook_tools.guide.suspects import found as found_on_sheet
from workbook_tools.language.model import STRENGTHS, Shape, UnitSystem
from workbook_tools.science.engine_geometry import default_banks
from workbook_tools.sheets.bill_results import BILL_LINES

#: Engines, and how many random forms of each are judged: 2,000 in all.
ENGINES: tuple[tuple[int, UnitSystem], ...] = (
    (1, "us"),
    (2, "metric"),
    (3, "us"),
    (4, "us"),
    (4, "metric"),
    (6, "us"),
    (8, "metric"),
    (8, "us"),
)
FORMS = 250
#: Engines of each shape that are repaired.
REPAIRED_FORMS = 30


@pytest.mark.parametrize(("cylinders", "units"), ENGINES)
def test_findings_are_what_the_verdict_cells_say(
    cylinders: int, units: UnitSystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every finding agrees with its verdict cell, every verdict that names a fault has its finding, and states agree."""
    # Whether stored results are right is tested elsewhere, and takes a third of the time.
    monkeypatch.setattr(diagnosis, "check_workbook_cells", lambda form, values: [])
    monkeypatch.setattr(diagnosis, "computed_values", lambda case: ())
    shape, rng = Shape(cylinders, default_banks(cylinders), units), random.Random(31 * cylinders + len(units))
    for _ in range(FORMS):
        form = form_with(shape, {**defaults(shape), **random_entries(shape, rng)}, calculated=False)
        case, slips = open_case(form)
        found = judge(case, slips)
        said: dict[str, set[str]] = {}
        for cause in CAUSES.values():
            for verdict in cause.verdicts:
                for number in shape.numbers(verdict.per):
                    strength = case.text(verdict.name, number)
                    if not strength:
                        continue
                    said.setdefault(cause.id, set()).add(strength)
                    mine = [each for each in found.findings if each.cause == cause.id]
                    covering = [each for each in mine if number is None or number in each.cylinders]
                    assert covering, (cause.id, number, strength)
                    surest = min(STRENGTHS.index(each.strength) for each in covering)
                    assert surest <= STRENGTHS.index(strength), (cause.id, number, strength)  # type: ignore[arg-type]
        for finding in found.findings:
            assert finding.strength in said.get(finding.cause, ()), finding
            assert finding.evidence, finding
        assert {system: case.text(cell) for system, cell in STATES.items()} == dict(found.states)


#: What the sheet says of a fault that was worked on, by what the check says of its repair.
STATE_OF = {"proven": REPAIRED, "not retaken": WORKED_ON, "not proven": ""}


@pytest.mark.parametrize(("cylinders", "units"), [(1, "us"), (4, "metric"), (8, "us")])
def test_repairs_are_proven_on_the_sheet_as_in_the_check(cylinders: int, units: UnitSystem) -> None:
    """Work for every fault that random engines have, some readings taken again: the sheet calls proven what the check does."""
    shape, rng = Shape(cylinders, default_banks(cylinders), units), random.Random(cylinders)
    seen: Counter[str] = Counter()
    for _ in range(REPAIRED_FORMS):
        entries = {**defaults(shape), **random_entries(shape, rng)}
        entries = {name: each for name, each in entries.items() if not name.startswith("work_cause")}
        case, _ = open_case(form_with(shape, entries, calculated=False))
        faults = [cause for cause in CAUSES.values() if cause.recheck and case.holds(found_on_sheet(cause))]
        entries |= {f"work_cause_{row}": cause.id for row, cause in enumerate(faults[:BILL_LINES], 1)}
        # Most of what is taken again is as it should be, or no repair were ever proven.
        entries |= {cell: sound for cell, sound in sound_again(shape).items() if rng.random() < 0.5}
        case, slips = open_case(form_with(shape, entries, calculated=False))
        proofs = {each.cause: each.verdict for each in judge(case, slips).repairs}
        for cause in faults[:BILL_LINES]:
            state = case.text("suspect_state", ROW[cause.id])
            assert state == STATE_OF[proofs[cause.id]], (cause.id, state, proofs[cause.id])
            seen[proofs[cause.id]] += 1
    assert set(seen) == set(STATE_OF), seen


# Readings to a tenth: 420 pairs that differ by exactly 1 inHg or 3.4 kPa, which a computer stores a little apart.
@pytest.mark.parametrize(("units", "apart"), [("us", 10), ("metric", 34)])
def test_a_difference_of_exactly_the_limit_is_within_it(units: UnitSystem, apart: int) -> None:
    """Sheet and report call two vacuums the same that differ by just what like readings differ, wherever they lie."""
    shape = Shape(4, default_banks(4), units)
    for tenths in range(60, 480):
        line, manifold = tenths / 10, (tenths + apart) / 10
        entries = {"advance_unit_moves": "no", "advance_line_vacuum": line, "manifold_vacuum_then": manifold}
        values = the_form.compute(shape, entries)
        assert values.text("line_compare") == "unit", (line, manifold)
        assert values.text("fault_vacuum_advance_unit") == "confirmed", (line, manifold)
        assert values.text("fault_vacuum_advance_line") == "", (line, manifold)


def test_no_psi_on_a_metric_form() -> None:
    """What a metric form is told speaks of its own units."""
    found = diagnosis_of(
        4,
        "metric",
        healthy_engine=True,
        compression_dry=(1034, 690, 690, 1030),
        compression_wet={1: 1050, 2: 700, 3: 700},
        leakdown=None,
        concluded_cause_1="head_gasket",
        concluded_cause_2="vacuum_advance_unit",
        advance_unit_moves=None,
    )
    texts = [text for each in found.findings for text in (each.statement, each.rule, each.next_step)]
    texts += [text for each in found.discrepancies for text in (each.message, each.expected)]
    assert [text for text in texts if "psi" in text or "inHg" in text] == []


def test_the_reference_gives_figures_in_both_systems() -> None:
    """The page of rules says what a figure is in psi and in kPa."""
    assert "10 psi or 70 kPa" in rules_page()
