"""Readings that look like a slip of the unit or of the decimal point.

The rules are common practice, no source. Suggestions are checked against the factors of NIST SP 811 (2008),
appendix B.8: 1 inHg = 3.386389 kPa, 1 psi = 6.894757 kPa, 1 kgf/cm² = 98.0665 kPa, 1 in = 25.4 mm.
"""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.read.doubts import COMPARED_UNITS, battery_range, doubt_about, doubt_about_temperature

# value, unit, plausible range, specification, quantity -> kind, suggestion, its unit, used as typed
SLIPS = [
    # outside the plausible range: not used
    ((1450, "psi", 0, 300), (130, 160), "compression", ("decimal_doubt", 145.0, None, False)),
    ((1450, "psi", 0, 300), (190, 230), "compression", ("unit_doubt", 1450 / 6.894757, "kPa", False)),
    ((1000, "psi", 0, 300), (130, 160), "compression", ("unit_doubt", 1000 / 6.894757, "kPa", False)),
    ((61, "inHg", 0, 29), (18, 21), "vacuum", ("unit_doubt", 61 / 3.386389, "kPa", False)),
    ((0.18, "in", 0.005, 0.15), (0.016, 0.020), "gap", ("decimal_doubt", 0.018, None, False)),
    ((0.45, "in", 0.005, 0.15), (0.016, 0.020), "gap", ("unit_doubt", 0.45 / 25.4, "mm", False)),
    ((0.018, "mm", 0.1, 3.8), (0.4, 0.5), "gap", ("unit_doubt", 0.018 * 25.4, "in", False)),
    # what a spreadsheet makes of 25%, 8.25% and 75%
    ((0.25, "%", 0, 100), (None, 25), None, ("unit_doubt", 25.0, None, True)),
    ((0.0825, "%", 0, 40), (None, None), None, ("unit_doubt", 8.25, None, True)),
    ((0.75, "%", 50, 100), (None, None), None, ("unit_doubt", 75.0, None, False)),
    ((126, "V", 0, 32), (10.8, 14.4), "battery", ("decimal_doubt", 12.6, None, False)),
    ((7500, "rpm", 150, 3000), (None, None), None, ("decimal_doubt", 750.0, None, False)),
    ((29.92, "kPa", 50, 110), (None, None), "barometer", ("unit_doubt", 29.92 * 3.386389, "inHg", False)),
    ((1013, "kPa", 50, 110), (None, None), "barometer", ("unit_doubt", 101.3, "hPa", False)),
    ((1013, "inHg", 15, 32), (None, None), None, ("unit_doubt", 101.3 / 3.386389, "hPa", False)),
    ((185, "°C", -29, 138), (None, None), None, ("unit_doubt", 85.0, "°F", False)),
    ((3.0, "cm³", 49, 25000), (None, None), None, ("unit_doubt", 3000.0, "L", False)),
    # plausible, but far from the specification and near it without the slip: used as typed
    ((18, "kPa", 0, 98), (61, 71), "vacuum", ("unit_doubt", 18 * 3.386389, "inHg", True)),
    ((11.2, "kPa", 0, 2100), (900, 1200), "compression", ("unit_doubt", 11.2 * 98.0665, "kg/cm²", True)),
    ((11.2, "kPa", 0, 2100), (1100, 1300), "compression", ("unit_doubt", 1120.0, "bar", True)),
    ((145, "kPa", 0, 2100), (900, 1200), "compression", ("unit_doubt", 145 * 6.894757, "psi", True)),
    ((14.5, "psi", 0, 300), (130, 160), "compression", ("decimal_doubt", 145.0, None, True)),
    ((10, "psi", 0, 300), (130, 160), "compression", ("unit_doubt", 1000 / 6.894757, "bar", True)),
    ((1.9, "inHg", 0, 29), (18, 21), "vacuum", ("decimal_doubt", 19.0, None, True)),
    ((20, "psi", 0, 30), (2.5, 3.5), "fuel pressure", ("unit_doubt", 20 / 6.894757, "kPa", True)),
    ((30, "psi", 0, 30), (2.5, 3.5), "fuel pressure", ("decimal_doubt", 3.0, None, True)),
    ((0.2, "kPa", 0, 210), (17, 25), "fuel pressure", ("unit_doubt", 20.0, "bar", True)),
    ((5.2, "°", 2, 180), (49, 55), "dwell", ("decimal_doubt", 52.0, None, True)),
    ((1.26, "V", 0, 32), (10.8, 14.4), "battery", ("decimal_doubt", 12.6, None, True)),
]

IMPLAUSIBLE = [
    (5000, "psi", 0, 300, "compression"),
    (-145, "psi", 0, 300, "compression"),
    (0, "°", 2, 180, "dwell"),
    (100, "° BTDC", -9, 9, None),
    (18, "in", 0.005, 0.15, "gap"),
    (2500, "°F", -20, 100, None),
]

UNDOUBTED = [
    # in the specification, or bad but not by a slip
    (145, "psi", 0, 300, 130, 160, "compression"),
    (90, "psi", 0, 300, 130, 160, "compression"),
    (65, "psi", 0, 300, 130, 160, "compression"),
    (40, "psi", 0, 300, 130, 160, "compression"),
    (0, "psi", 0, 300, 130, 160, "compression"),
    (300, "psi", 0, 300, None, None, "compression"),
    (12, "inHg", 0, 29, 18, 21, "vacuum"),
    (14.5, "psi", 0, 300, 130, None, "compression"),
    (14.5, "psi", 0, 300, None, 160, "compression"),
    # never doubted against a specification
    (1.2, "° BTDC", -40, 60, 10, 14, None),
    (4, "psi", 0, 150, 40, 60, None),
    (2, "%", 0, 100, 20, 25, None),
    # a specification that begins at nothing has no half
    (14.5, "psi", 0, 300, 0, 1, "compression"),
    (9000, "mi", None, None, None, None, None),
]


@pytest.mark.parametrize(("reading", "spec", "quantity", "expected"), SLIPS)
def test_a_slip_is_doubted_with_its_suggestion(
    reading: tuple[float, str, float, float],
    spec: tuple[float | None, float | None],
    quantity: str | None,
    expected: tuple[str, float, str | None, bool],
) -> None:
    """A slip names what the reading would be, in the cell's unit, and whether it is used as typed."""
    doubt = doubt_about(*reading, spec_low=spec[0], spec_high=spec[1], quantity=quantity)
    assert doubt is not None
    kind, suggestion, suggested_unit, usable = expected
    assert (doubt.kind, doubt.suggested_unit, doubt.usable) == (kind, suggested_unit, usable)
    assert doubt.suggestion == pytest.approx(suggestion, rel=1e-6)


@pytest.mark.parametrize(("value", "unit", "low", "high", "quantity"), IMPLAUSIBLE)
def test_what_no_slip_explains_is_implausible(
    value: float, unit: str, low: float, high: float, quantity: str | None
) -> None:
    """Outside the plausible range in every unit and with the point moved: not used, no suggestion."""
    doubt = doubt_about(value, unit, low, high, quantity=quantity)
    assert doubt is not None
    assert (doubt.kind, doubt.usable) == ("implausible_entry", False)
    assert doubt.suggestion is None and doubt.suggested_unit is None
    assert f"{value:g} {unit}" in doubt.reason


@pytest.mark.parametrize(("value", "unit", "low", "high", "spec_low", "spec_high", "quantity"), UNDOUBTED)
def test_a_reading_that_may_well_be_true_is_not_doubted(
    value: float,
    unit: str,
    low: float | None,
    high: float | None,
    spec_low: float | None,
    spec_high: float | None,
    quantity: str | None,
) -> None:
    """A bad reading is doubted only where a slip explains it and the rule covers its quantity."""
    assert (
        doubt_about(value, unit, low, high, spec_low=spec_low, spec_high=spec_high, quantity=quantity) is None
    )


def test_leakage_over_its_limit_lets_a_low_compression_stand() -> None:
    """A cylinder that leaks over its limit may well read 14.5 psi, but never 1450."""
    spec = {"spec_low": 130.0, "spec_high": 160.0, "quantity": "compression"}
    assert doubt_about(14.5, "psi", 0, 300, **spec, agrees_with_leakdown=False) is not None
    assert doubt_about(14.5, "psi", 0, 300, **spec, agrees_with_leakdown=True) is None
    assert doubt_about(1450, "psi", 0, 300, **spec, agrees_with_leakdown=True) is not None


@pytest.mark.parametrize(
    ("value", "unit", "spec", "doubted"),
    [
        (30.0, "kPa", (60, 90), False),
        (29.9, "kPa", (60, 90), True),
        (28.0, "inHg", (10, 14), False),
        (28.1, "inHg", (10, 14), True),
    ],
)
def test_half_of_the_lowest_and_twice_the_highest_are_not_doubted_yet(
    value: float, unit: str, spec: tuple[float, float], doubted: bool
) -> None:
    """Only beyond these two is a plausible reading held against the other units."""
    doubt = doubt_about(value, unit, 0, 110, spec_low=spec[0], spec_high=spec[1], quantity="vacuum")
    assert (doubt is not None) == doubted


def test_the_ends_of_the_plausible_range_are_plausible() -> None:
    """Both limits belong to the range, a rounding error beyond them too."""
    assert doubt_about(0, "psi", 0, 300) is None
    assert doubt_about(300, "psi", 0, 300) is None
    assert doubt_about(math.nextafter(300.0, 301.0), "psi", 0, 300) is None
    assert doubt_about(300.1, "psi", 0, 300) is not None
    assert doubt_about(-0.1, "psi", 0, 300) is not None


def test_the_suggestion_must_fit_the_specification_widened_by_a_quarter() -> None:
    """36.75 to 68.75 degrees is as far as a suggestion may lie from a dwell of 49 to 55."""
    spec = {"spec_low": 49.0, "spec_high": 55.0, "quantity": "dwell"}
    doubted = [value for value in (3.67, 3.675, 6.875, 6.88) if doubt_about(value, "°", 2, 180, **spec)]
    assert doubted == [3.675, 6.875]


def test_the_reason_is_a_plain_sentence_part() -> None:
    """The reason names the reading, the limit it misses and what it would be, with units."""
    low = doubt_about(18, "kPa", 0, 98, spec_low=61, spec_high=71, quantity="vacuum")
    far = doubt_about(1450, "psi", 0, 300, spec_low=130, spec_high=160, quantity="compression")
    assert low is not None and far is not None
    assert low.reason == (
        "18 kPa is under half of the lowest specified value (61 kPa); read as inHg it would be 60.95 kPa"
    )
    assert far.reason == (
        "1450 psi is outside the plausible range (0 to 300 psi); "
        "with the decimal point one place to the left it would be 145 psi"
    )


@pytest.mark.parametrize(
    ("value", "unit", "spec_low", "spec_high", "air", "suggestion"),
    [
        (85, "°F", 170, 200, None, 185.0),
        (85, "°F", 170, 200, 60, 185.0),
        (85, "°F", 170, 200, 65, None),
        (85, "°F", 170, 200, 105, None),
        (85, "°F", 170, 200, 106, 185.0),
        (180, "°F", 170, 200, None, None),
        (140, "°F", 170, 200, None, None),
        (240, "°F", 170, 200, None, None),
        (120, "°C", 40, 95, None, 440 / 9),
        (85, "°F", 170, None, None, None),
        (85, "°F", None, 200, None, None),
    ],
)
def test_a_temperature_on_the_other_scale_is_doubted(
    value: float,
    unit: str,
    spec_low: float | None,
    spec_high: float | None,
    air: float | None,
    suggestion: float | None,
) -> None:
    """85 in a °F cell is 185 °F read as °C, unless the air is within 20 °F of it: then the engine is cold."""
    doubt = doubt_about_temperature(value, unit, spec_low, spec_high, air)
    if suggestion is None:
        assert doubt is None
        return
    assert doubt is not None
    assert (doubt.kind, doubt.usable) == ("unit_doubt", True)
    assert doubt.suggested_unit == ("°C" if unit == "°F" else "°F")
    assert doubt.suggestion == pytest.approx(suggestion)


@pytest.mark.parametrize(("air", "doubted"), [(108.88, True), (108.9, False)])
def test_the_distance_to_the_air_is_20_degrees_fahrenheit_on_either_scale(air: float, doubted: bool) -> None:
    """On the Celsius scale the air counts as near within 11.1 degrees (20 x 5/9)."""
    assert (doubt_about_temperature(120, "°C", 40, 95, air) is not None) == doubted


def test_a_battery_at_rest_is_specified_from_the_system_voltage() -> None:
    """A 12 V battery at rest is expected between 10.8 and 14.4 V."""
    assert battery_range(12) == pytest.approx((10.8, 14.4))


@settings(deadline=None)
@given(
    value=st.floats(-1e5, 1e5),
    low=st.floats(0, 100),
    width=st.floats(1, 1000),
    spec_low=st.floats(1, 100),
    spec_width=st.floats(0, 100),
    quantity=st.sampled_from([None, *COMPARED_UNITS]),
)
def test_what_is_not_plausible_is_never_used(
    value: float, low: float, width: float, spec_low: float, spec_width: float, quantity: str | None
) -> None:
    """Used means plausible, a suggestion is plausible, and what lies in its specification is not doubted."""
    unit = {"vacuum": "inHg", "gap": "in", "dwell": "°", "battery": "V"}.get(quantity or "", "psi")
    doubt = doubt_about(
        value, unit, low, low + width, spec_low=spec_low, spec_high=spec_low + spec_width, quantity=quantity
    )
    edge = 1e-6 * (1 + low + width)
    inside = low <= value <= low + width
    if doubt is None:
        assert low - edge <= value <= low + width + edge
        return
    assert not inside or doubt.usable
    assert not doubt.usable or low - edge <= value <= low + width + edge
    assert (doubt.suggestion is None) == (doubt.kind == "implausible_entry")
    assert doubt.suggestion is None or low - edge <= doubt.suggestion <= low + width + edge
    assert not (inside and spec_low <= value <= spec_low + spec_width)
