"""What the form proposes and expects: default entries for an engine, plausible ranges in the workbook's unit.

The generator writes them as defaults and data validation; the reader judges entries by the same ranges.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import lru_cache

from workbook_tools.faults.causes import CAUSES
from workbook_tools.language.model import Field, Shape, UnitSystem
from workbook_tools.science.engine_geometry import banks_text, default_firing_order, firing_order_text
from workbook_tools.science.units import convert

#: The needle of an engine with fewer cylinders drops at each intake stroke: what is common practice for more
#: cylinders is no default there, and the shop gives its own figures (common practice, no source).
BLANK_BELOW_CYLINDERS: dict[str, int] = {
    "spec_idle_vacuum_min": 3,
    "spec_idle_vacuum_max": 3,
    "spec_cranking_vacuum_min": 3,
}

#: A range converted from the other unit system is widened to this many significant figures.
SENSIBLE_FIGURES = 2


_FROM_SHAPE: dict[str, Callable[[Shape], float | str | None]] = {
    "cylinder_count": lambda shape: float(shape.cylinders),
    "cylinder_banks": lambda shape: banks_text(shape.banks),
    "firing_order": lambda shape: firing_order_text(default_firing_order(shape.cylinders)) or None,
}


def default_for(field: Field, shape: Shape, number: int | None = None) -> float | str | None:
    """What stands in a field of a new workbook of that shape, in its units; None where it stays blank."""
    if field.defaults and number is not None:
        return field.defaults[number - 1]
    if field.name in _FROM_SHAPE:
        return _FROM_SHAPE[field.name](shape)
    if shape.cylinders < BLANK_BELOW_CYLINDERS.get(field.name, 0):
        return None
    if shape.units == "metric" and field.default_metric is not None:
        return field.default_metric
    return field.default


def plausible_range(field: Field, units: UnitSystem) -> tuple[float | None, float | None]:
    """Lowest and highest plausible entry in that unit system; None where the form gives no bound.

    Metric ranges are the US ones converted and widened outward to two significant figures.
    """
    source, target = field.measure.us, field.measure.metric
    if units == "us" or source == target:
        return field.low, field.high
    low = None if field.low is None else _outward(convert(field.low, source, target), math.floor)
    high = None if field.high is None else _outward(convert(field.high, source, target), math.ceil)
    return low, high


def is_numeric_choice(field: Field) -> bool:
    """Whether all choices are numbers, so that they are written, listed and read as numbers."""
    return bool(field.choices) and all(choice.replace(".", "", 1).isdigit() for choice in field.choices)


def is_cause_list(field: Field) -> bool:
    """Whether the choices are the causes, each of which is also known by the name that findings print."""
    return field.choices == tuple(CAUSES)


def choice_in_words(choice: str) -> str:
    """A choice as it is listed and shown in its cell: `leaking valve` for the cause `leaking_valve`."""
    return choice.replace("_", " ")


@lru_cache(maxsize=1)
def _causes_by_name() -> dict[str, str]:
    return {name_key(cause.shown_as): cause.id for cause in CAUSES.values()}


def cause_named(text: str) -> str | None:
    """The id of the cause that findings print by this name: `Burned or leaking valve` for `leaking_valve`."""
    return _causes_by_name().get(name_key(text))


def name_key(text: str) -> str:
    """A name as names are compared: letters and digits, without regard to capitals."""
    return re.sub(r"[\W_]+", " ", text).strip().casefold()


def _outward(value: float, step_to: Callable[[float], int]) -> float:
    """`value` at two significant figures, taken down by math.floor or up by math.ceil."""
    if value == 0:
        return 0.0
    places = SENSIBLE_FIGURES - 1 - math.floor(math.log10(abs(value)))
    # Rounded first, so that 70 held as 69.999999999 is not widened by a whole step.
    return round(step_to(round(value * 10.0**places, 6)) / 10.0**places, 9)
