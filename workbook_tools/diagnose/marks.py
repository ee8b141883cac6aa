"""Every reading's mark, its limits, and where each limit comes from."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Mark
from workbook_tools.form import the_form
from workbook_tools.form.ranges import default_for
from workbook_tools.language.constants import PRACTICE
from workbook_tools.language.model import Field, Limits, Result, Shape

#: A figure that somebody typed without saying where it is from.
TYPED = "from sheet Engine, source not given"


def marks(case: Case) -> Iterator[Mark]:
    """One mark a reading with limits, in the order of the form; readings without a limit have none."""
    for name, cell in the_form.cells(case.shape).items():
        item, number = cell.item, cell.number
        if item.limits is None or name not in case.form.cells:
            continue
        mark = case.mark(item.name, number)
        if not mark:
            continue
        yield Mark(
            field=name,
            cell=case.form.where(name),
            mark=mark,
            value=case.number(name),
            low=case.number(f"low_limit_{item.name}", number),
            high=case.number(f"high_limit_{item.name}", number),
            unit=case.unit(item.name),
            limit_source=limit_source(case, item.limits.at(number)),
        )


def limit_source(case: Case, limits: Limits) -> str:
    """Where a reading's limits come from: the shop's source, common practice, or both."""
    names = {
        name
        for limit in (limits.low, limits.high, limits.floor)
        if limit
        for name in specifications(case.shape, limit)
    }
    sources = {specification_source(case, name) for name in sorted(names) if case.has(name)}
    return "; ".join(sorted(sources)) or PRACTICE


@lru_cache(maxsize=8192)
def specifications(shape: Shape, name: str) -> frozenset[str]:
    """The specification fields that a limit is worked out from."""
    if name.startswith("spec_"):
        return frozenset({name})
    cell = the_form.cells(shape).get(name)
    if cell is None or not isinstance(cell.item, Result):
        return frozenset()
    read = the_form.cells_read(cell.item, shape, cell.number)
    return frozenset(found for other in read if other != name for found in specifications(shape, other))


def specification_source(case: Case, name: str) -> str:
    """Source of one specification: common practice where it is still the form's own figure or none is named."""
    cell = the_form.cells(case.shape)[name]
    assert isinstance(cell.item, Field)
    default = default_for(cell.item, case.shape, cell.number)
    if default is not None and default == case.values.values.get(name):
        return PRACTICE
    return case.texts.get("spec_source", TYPED)
