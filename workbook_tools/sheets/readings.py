"""What a reading is against its limits, as conditions: every rule asks by these, on the sheet and in Python.

`repeat` names one cell of a reading that repeats; without it the cell's own number is meant.
"""

from __future__ import annotations

from functools import cache

from workbook_tools.language.expressions import Cond, NumberCell, TextCell, number, word
from workbook_tools.language.model import IN_LIMITS, NEAR_LIMIT, NO_LIMIT, NOT_TAKEN, OUT_OF_LIMITS


def _mark(name: str, repeat: int | None) -> TextCell:
    cell = word(f"mark_{name}")
    return cell if repeat is None else cell.of(repeat)


def _cell(name: str, repeat: int | None) -> NumberCell:
    cell = number(name)
    return cell if repeat is None else cell.of(repeat)


@cache
def is_out(name: str, repeat: int | None = None) -> Cond:
    """Beyond a limit, and further than the gauge's limit of error."""
    return _mark(name, repeat) == OUT_OF_LIMITS


@cache
def is_beyond(name: str, repeat: int | None = None) -> Cond:
    """Beyond a limit, be it by less than the gauge's limit of error."""
    return is_out(name, repeat) | (_cell(f"margin_{name}", repeat) < 0)


@cache
def is_below(name: str, repeat: int | None = None) -> Cond:
    """Beyond the lower limit."""
    return is_beyond(name, repeat) & (_cell(name, repeat) < _cell(f"low_limit_{name}", repeat))


@cache
def is_above(name: str, repeat: int | None = None) -> Cond:
    """Beyond the upper limit."""
    return is_beyond(name, repeat) & (_cell(name, repeat) > _cell(f"high_limit_{name}", repeat))


@cache
def is_inside(name: str, repeat: int | None = None) -> Cond:
    """Taken, with a limit, and on its good side (a near mark beyond a limit is not)."""
    return _mark(name, repeat).is_in(IN_LIMITS, NEAR_LIMIT) & ~(_cell(f"margin_{name}", repeat) < 0)


@cache
def near_by_gauge(name: str) -> Cond:
    """Beyond a limit by less than the gauge's limit of error: a sign, not a deciding reading."""
    return (number(f"margin_{name}") < 0) & (word(f"mark_{name}") == NEAR_LIMIT)


@cache
def is_judged(name: str, repeat: int | None = None) -> Cond:
    """Taken, with a limit to hold it against."""
    mark = _mark(name, repeat)
    return mark.known & ~mark.is_in(NOT_TAKEN, NO_LIMIT)
