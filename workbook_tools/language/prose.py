"""Figures in sentences: `{equal_neighbours}` in a text is the figure of `constants.py`, in the units of the form at hand.

in_units("within {equal_neighbours} of each other", "metric")   within 70 kPa of each other
in_units("within {equal_neighbours} of each other", None)       within 10 psi or 70 kPa of each other
"""

from __future__ import annotations

import re

from workbook_tools.language.constants import CONSTANTS, Constant
from workbook_tools.language.measures import RATIO
from workbook_tools.language.model import Field, Item, UnitSystem

_NAME = re.compile(r"\{(\w+)\}")
#: Shares and counts as people say them.
IN_WORDS = {
    0.1: "a tenth",
    0.2: "a fifth",
    0.5: "half",
    0.6: "six tenths",
    0.75: "three quarters",
    3: "three",
    4: "four",
}


def in_units(text: str, units: UnitSystem | None) -> str:
    """The text with its figures; in both unit systems where `units` is None."""
    return _NAME.sub(lambda match: _figure(CONSTANTS[match[1]], units), text)


def _figure(constant: Constant, units: UnitSystem | None) -> str:
    if constant.spoken:
        return IN_WORDS.get(constant.us, f"{constant.us:g}")
    us, metric = (_with_unit(constant, system) for system in ("us", "metric"))
    if units is None:
        return us if us == metric else f"{us} or {metric}"
    return us if units == "us" else metric


def _with_unit(constant: Constant, units: UnitSystem) -> str:
    unit = constant.measure.unit(units)
    value = constant.value(units)
    return f"{value:.2f}" if constant.measure == RATIO else f"{value:g} {unit}".strip()


def help_of(item: Item, units: UnitSystem | None) -> str:
    """The help line of a field or result; `{default}` in it is what the form proposes, with its unit."""
    if not isinstance(item, Field) or "{default}" not in item.help:
        return in_units(item.help, units)
    field = item
    us = f"{field.default} {field.measure.us}".strip()
    metric = f"{field.default if field.default_metric is None else field.default_metric:g} {field.measure.metric}".strip()
    both = us if us == metric else f"{us} or {metric}"
    return field.help.replace("{default}", both if units is None else us if units == "us" else metric)
