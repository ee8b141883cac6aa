"""Engine figures that can't both be right: a lowest above its highest, a firing order that is none of this engine."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.diagnose.vacuum_checks import conflict
from workbook_tools.form import the_form
from workbook_tools.language.model import Field, cell_name
from workbook_tools.science.engine_geometry import parse_firing_order


def conflicts(case: Case) -> Iterator[Discrepancy]:
    """Specifications that contradict each other or the engine."""
    for name, (item, _) in the_form.items().items():
        if isinstance(item, Field) and name.startswith("spec_") and name.endswith("_min"):
            yield from _above_its_highest(case, name, name.removesuffix("_min") + "_max")
    yield from _firing_order(case)


def _above_its_highest(case: Case, lowest: str, highest: str) -> Iterator[Discrepancy]:
    if highest not in the_form.items():
        return
    for number in case.values.numbers_of(lowest):
        low, high = case.number(lowest, number), case.number(highest, number)
        if low is not None and high is not None and low > high:
            where = case.form.where(cell_name(lowest, number))
            reason = (
                f"the highest allowed is below the lowest allowed, {case.reading(lowest, number)} ({where})"
            )
            yield conflict(case, highest, f"at least {case.reading(lowest, number)}", reason, number)


def _firing_order(case: Case) -> Iterator[Discrepancy]:
    order = case.texts.get("firing_order")
    if order is None:
        return
    try:
        parse_firing_order(order, case.shape.cylinders)
    except ValueError as problem:
        expected = f"each of 1 to {case.shape.cylinders} once"
        yield conflict(
            case, "firing_order", expected, f"the firing order {str(order)[:60]} can't be right: {problem}"
        )
