"""Ten thousand random engines worked out at once, over arrays, with the expressions that the sheet has."""

from __future__ import annotations

import math
import random

import pytest

from tests.support.array_values import results_of
from tests.support.filled import defaults
from tests.support.random_readings import random_entries
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.form.start import STATES
from workbook_tools.language.model import FAULT, PROVEN, Shape, UnitSystem, Value, cell_name
from workbook_tools.read.filled_form import as_seen_by_formulas
from workbook_tools.science.engine_geometry import default_banks

#: Engines of each shape, how many forms they are put together from, how many are worked out one by one as well.
ENGINES, DRAWN, ONE_BY_ONE = 2500, 150, 50


@pytest.mark.parametrize(("cylinders", "units"), [(1, "us"), (3, "metric"), (4, "us"), (8, "metric")])
def test_arrays_and_single_forms_agree(cylinders: int, units: UnitSystem) -> None:
    """The array evaluation, written apart, gives what a check gives; a proven system has no fault in any engine."""
    shape, rng = Shape(cylinders, default_banks(cylinders), units), random.Random(cylinders)
    forms = _engines(shape, rng)
    cells, texts = results_of(shape, forms)
    order = the_form.calculation_order(shape)
    for place in range(0, ENGINES, ENGINES // ONE_BY_ONE):
        alone = the_form.compute(shape, forms[place]).values
        for cell in order:
            there = cells[cell.name]
            code, number = there.codes[place], there.numbers[place]
            together = texts.texts[code] if code else None if math.isnan(number) else float(number)
            assert _same(alone.get(cell.name), together), (cell.name, alone.get(cell.name), together)
    confirmed, proven, fault = (texts.code(word) for word in ("confirmed", PROVEN, FAULT))
    for cause in CAUSES.values():
        state = cells[STATES[cause.system]].codes
        for verdict in cause.verdicts:
            for n in shape.numbers(verdict.per):
                found = cells[cell_name(verdict.name, n)].codes == confirmed
                assert not (found & (state == proven)).any(), (cause.id, n)
    assert all((cells[name].codes == fault).any() for name in STATES.values())


def _engines(shape: Shape, rng: random.Random) -> list[dict[str, Value]]:
    """Random engines, each sheet's entries from one of the forms that were drawn."""
    drawn = [{**defaults(shape), **random_entries(shape, rng)} for _ in range(DRAWN)]
    seen = [{name: as_seen_by_formulas(entry) for name, entry in form.items()} for form in drawn]
    sheets: dict[str, list[str]] = {}
    for name, cell in the_form.cells(shape).items():
        sheets.setdefault(cell.sheet.name, []).append(name)
    found = []
    for _ in range(ENGINES):
        engine: dict[str, Value] = {}
        for names in sheets.values():
            form = rng.choice(seen)
            engine |= {name: form[name] for name in names if name in form}
        found.append(engine)
    return found


def _same(alone: Value, together: Value) -> bool:
    if isinstance(alone, (int, float)) and isinstance(together, (int, float)):
        return math.isclose(alone, together, rel_tol=1e-9, abs_tol=1e-9)
    return alone == together
