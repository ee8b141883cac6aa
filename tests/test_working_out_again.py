"""Results worked out again from those of other readings are the ones that working out all of them gives."""

from __future__ import annotations

import random

import pytest

from tests.support.random_readings import random_entries
from workbook_tools.form import the_form
from workbook_tools.language.model import Result, Shape, UnitSystem
from workbook_tools.science.engine_geometry import default_banks


@pytest.mark.parametrize(("cylinders", "units"), [(1, "metric"), (4, "us"), (6, "metric")])
def test_working_out_again_gives_what_working_out_gives(cylinders: int, units: UnitSystem) -> None:
    """Other readings, readings taken away and results typed over: the short way comes to what the long way does."""
    shape, rng = Shape(cylinders, default_banks(cylinders), units), random.Random(17 * cylinders)
    results = [name for name, cell in the_form.cells(shape).items() if isinstance(cell.item, Result)]
    for _ in range(12):
        first, then = random_entries(shape, rng), random_entries(shape, rng)
        changed = {name: then[name] for name in rng.sample(sorted(then), rng.choice((0, 1, 5, len(then))))}
        readings = first | changed
        for gone in rng.sample(sorted(readings), rng.choice((0, 3))):
            del readings[gone]
        held = {
            name: rng.choice((None, 7.0, "typed", "")) for name in rng.sample(results, rng.choice((0, 1, 9)))
        }
        before = the_form.compute(shape, first, as_typed=True)
        long_way = the_form.compute(shape, readings, held, as_typed=True).values
        short_way = the_form.compute_again(before, readings, held).values
        assert {name: value for name, value in long_way.items() if short_way.get(name) != value} == {}
