"""Readings that look like a slip of the pen: another unit, a decimal point one place off, or past belief.

A reading outside its plausible range is not used. One that is plausible, but far from the specification and
close to it in another unit or with its point moved, is used as typed, and what rests on it stays provisional.

The figures here are common practice, no source.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from workbook_tools.science.units import convert

DoubtKind = Literal["implausible_entry", "unit_doubt", "decimal_doubt"]

FAR_BELOW = 0.5
"""Under this share of the lowest specified value a plausible reading is looked at again."""

FAR_ABOVE = 2.0
"""Over this multiple of the highest specified value a plausible reading is looked at again."""

WIDENED = 0.25
"""A suggestion must fit the specification widened by this share of each limit."""

SAME_AS_AIR_F = 20.0
"""A coolant within so many °F of the air is a cold engine, and not a temperature on the other scale."""

BATTERY_AT_REST = (0.9, 1.2)
"""What a battery at rest is specified as, in shares of the system's nominal voltage."""

COMPARED_UNITS: dict[str, tuple[str, ...]] = {
    "compression": ("psi", "kPa", "bar", "kg/cm²"),
    "vacuum": ("inHg", "kPa"),
    "fuel pressure": ("psi", "kPa", "bar"),
    "gap": ("in", "mm"),
    "dwell": (),
    "battery": (),
}
"""Quantities whose plausible readings are compared with the specification, and the units of their gauges.

Each has a lowest and a highest specified value on a scale that begins at zero, without which half and twice
mean nothing. Timing, advance, leak-down, back-pressure and oil pressure are not among them.
"""

_UNITS_OF_QUANTITY = {**COMPARED_UNITS, "barometer": ("inHg", "kPa", "hPa", "mmHg")}

_OTHER_UNITS: dict[str, tuple[str, ...]] = {
    "psi": ("kPa", "bar"),
    "kPa": ("psi", "bar", "inHg"),
    "inHg": ("kPa", "hPa", "mmHg"),
    "°F": ("°C",),
    "°C": ("°F",),
    "in": ("mm",),
    "mm": ("in",),
    "ft": ("m",),
    "m": ("ft",),
    "mi": ("km",),
    "km": ("mi",),
    "in³": ("cm³", "L"),
    "cm³": ("in³", "L"),
    "US pt": ("L",),
    "L": ("US pt",),
    "US pt/min": ("L/min",),
    "L/min": ("US pt/min",),
    "lb": ("kg",),
    "kg": ("lb",),
    "mph": ("km/h",),
    "km/h": ("mph",),
    "s": ("min",),
}

_ROUNDING = 1e-9


PERCENT_KEPT_AS_SHARE = 1.0
"""A spreadsheet keeps `25%` as 0.25: a percentage above nought and under this is looked at again."""


@dataclass(frozen=True)
class Doubt:
    """Why a reading is doubted.

    `suggestion`: what it would be without the slip, in the cell's own unit; None where no slip explains it.
    `suggested_unit`: the unit that it seems to be in; None unless the kind is `unit_doubt`.
    `usable`: whether the reading is used as typed, with what rests on it provisional.
    `reason`: the doubt in plain words.
    """

    kind: DoubtKind
    suggestion: float | None
    suggested_unit: str | None
    usable: bool
    reason: str


@dataclass(frozen=True)
class _Reading:
    """One way of reading what was typed: the value in the cell's unit, and how it comes about."""

    value: float
    unit: str | None
    words: str


@dataclass(frozen=True)
class _Range:
    """An allowed range with its limits included; None leaves that side open."""

    low: float | None
    high: float | None

    def holds(self, value: float) -> bool:
        below = self.low is not None and value < self.low - _ROUNDING * abs(self.low)
        above = self.high is not None and value > self.high + _ROUNDING * abs(self.high)
        return not below and not above

    def middle(self) -> float | None:
        return None if self.low is None or self.high is None else (self.low + self.high) / 2

    def in_words(self, unit: str) -> str:
        if self.low is None or self.high is None:
            words = f"at most {self.high:g}" if self.low is None else f"at least {self.low:g}"
        else:
            words = f"{self.low:g} to {self.high:g}"
        return f"{words} {unit}".strip()


def doubt_about(
    value: float,
    unit: str,
    low: float | None,
    high: float | None,
    *,
    spec_low: float | None = None,
    spec_high: float | None = None,
    quantity: str | None = None,
    agrees_with_leakdown: bool = False,
) -> Doubt | None:
    """The doubt about a reading in the cell's unit, or None.

    `low` and `high` are its plausible range, `spec_low` and `spec_high` its specification, all in `unit`; any
    may be None. `quantity` says what was measured: for a key of COMPARED_UNITS the plausible reading is held
    against the specification too, and `barometer` knows the units of weather reports. `agrees_with_leakdown`:
    leakage over its limit explains a low compression, which is then doubted only outside its plausible range.
    """
    plausible, spec = _Range(low, high), _Range(spec_low, spec_high)
    if unit == "%" and 0 < value < PERCENT_KEPT_AS_SHARE and plausible.holds(100 * value):
        what = f"{_figure(value, unit)} is less than is read there, and a spreadsheet keeps {100 * value:.4g}% as that"
        return Doubt("unit_doubt", 100 * value, None, plausible.holds(value), what)
    readings = [
        reading for reading in _other_readings(value, unit, quantity) if plausible.holds(reading.value)
    ]
    if not plausible.holds(value):
        what = f"{_figure(value, unit)} is outside the plausible range ({plausible.in_words(unit)})"
        best = _best(readings, spec, plausible)
        if best is None:
            return Doubt("implausible_entry", None, None, False, what)
        return _slip(best, unit, what, usable=False)
    what = _far_from(value, unit, spec) if quantity in COMPARED_UNITS and not agrees_with_leakdown else None
    if what is None:
        return None
    near = [reading for reading in readings if _widened(spec).holds(reading.value)]
    best = _best(near, spec, plausible)
    return None if best is None else _slip(best, unit, what, usable=True)


def doubt_about_temperature(
    value: float,
    unit: str,
    spec_low: float | None,
    spec_high: float | None,
    air_temperature: float | None = None,
) -> Doubt | None:
    """The doubt about a plausible temperature that fits its specification on the other scale, or None.

    All in `unit`, °F or °C. A temperature near the air's is that of a cold engine, and is not doubted. With
    one limit missing nothing is doubted: a cold engine would fit on the other scale.
    """
    spec = _Range(spec_low, spec_high)
    if spec_low is None or spec_high is None or spec.holds(value):
        return None
    if air_temperature is not None and abs(value - air_temperature) <= _air_margin(unit) + _ROUNDING:
        return None
    fits = [
        reading for reading in _unit_readings(value, unit, _OTHER_UNITS[unit]) if spec.holds(reading.value)
    ]
    what = f"{_figure(value, unit)} is outside the specified range ({spec.in_words(unit)})"
    return _slip(fits[0], unit, what, usable=True) if fits else None


def battery_range(nominal_voltage: float) -> tuple[float, float]:
    """What a battery at rest is specified as, in V, for a system of that nominal voltage."""
    low, high = BATTERY_AT_REST
    return low * nominal_voltage, high * nominal_voltage


def _air_margin(unit: str) -> float:
    """SAME_AS_AIR_F in degrees of `unit`."""
    return abs(convert(SAME_AS_AIR_F, "°F", unit) - convert(0.0, "°F", unit))


def _other_readings(value: float, unit: str, quantity: str | None) -> Iterator[_Reading]:
    """What the reading would be without a single slip: in another unit, or with its point one place off."""
    units = _UNITS_OF_QUANTITY.get(quantity or "", _OTHER_UNITS.get(unit, ()))
    yield from _unit_readings(value, unit, units)
    yield _Reading(value / 10, None, "with the decimal point one place to the left")
    yield _Reading(value * 10, None, "with the decimal point one place to the right")


def _unit_readings(value: float, unit: str, units: tuple[str, ...]) -> Iterator[_Reading]:
    for other in units:
        if other != unit:
            yield _Reading(convert(value, other, unit), other, f"read as {other}")


def _best(readings: list[_Reading], spec: _Range, plausible: _Range) -> _Reading | None:
    """The reading inside the specification; of none or several the one nearest to its middle.

    Where a specification has no middle, that of the plausible range serves.
    """
    if not readings:
        return None
    middle = spec.middle() if spec.middle() is not None else plausible.middle()

    # Rounded, so that of two readings with the same value the unit comes before the point.
    def order(reading: _Reading) -> tuple[bool, float]:
        return not spec.holds(reading.value), round(abs(reading.value - (middle or 0.0)), 9)

    return min(readings, key=order)


def _far_from(value: float, unit: str, spec: _Range) -> str | None:
    """How the value lies far outside a two-sided specification above zero, in words, or None."""
    if spec.low is None or spec.high is None or spec.low <= 0 or spec.high < spec.low:
        return None
    if value < FAR_BELOW * spec.low:
        return (
            f"{_figure(value, unit)} is under half of the lowest specified value ({_figure(spec.low, unit)})"
        )
    if value > FAR_ABOVE * spec.high:
        return (
            f"{_figure(value, unit)} is over twice the highest specified value ({_figure(spec.high, unit)})"
        )
    return None


def _widened(spec: _Range) -> _Range:
    low = None if spec.low is None else spec.low * (1 - WIDENED)
    high = None if spec.high is None else spec.high * (1 + WIDENED)
    return _Range(low, high)


def _slip(reading: _Reading, unit: str, what: str, *, usable: bool) -> Doubt:
    kind: DoubtKind = "unit_doubt" if reading.unit else "decimal_doubt"
    reason = f"{what}; {reading.words} it would be {_figure(reading.value, unit)}"
    return Doubt(kind, reading.value, reading.unit, usable, reason)


def _figure(value: float, unit: str) -> str:
    return f"{value:.4g} {unit}".strip() if abs(value) < 1e4 else f"{value:.0f} {unit}".strip()
