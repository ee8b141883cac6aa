"""Conversions against NIST SP 811 and the pint library, and the names that people type for units."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.science.units import (
    UNITS,
    conversion_factor,
    convert,
    find_unit,
    same_quantity,
    unit,
    units_of,
)

# NIST SP 811 (2008), appendix B.8, as printed there (seven digits); kgf/cm2 is exact there as 9.806 65 E+04.
NIST_SP_811 = [
    ("inHg", "Pa", 3.386389e3),
    ("mmHg", "Pa", 1.333224e2),
    ("psi", "Pa", 6.894757e3),
    ("bar", "Pa", 1e5),
    ("hPa", "Pa", 1e2),
    ("kg/cm²", "Pa", 9.80665e4),
    ("inH2O", "Pa", 2.490889e2),
    ("in", "mm", 25.4),
    ("thou", "mm", 0.0254),
    ("ft", "m", 0.3048),
    ("mi", "km", 1.609344),
    ("lb", "kg", 0.45359237),
    ("hp", "W", 7.456999e2),
    ("metric hp", "W", 7.354988e2),
    ("in³", "cm³", 16.387064),
    ("US pt", "L", 0.4731765),
    ("mph", "km/h", 1.609344),
]

PINT_NAMES = {
    "Pa": "pascal",
    "hPa": "hectopascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "bar": "bar",
    "psi": "psi",
    "kg/cm²": "kilogram_force/centimeter**2",
    "inHg": "inch_Hg",
    "mmHg": "millimeter_Hg",
    "cmHg": "centimeter_Hg",
    "in": "inch",
    "thou": "thou",
    "mm": "millimeter",
    "cm": "centimeter",
    "ft": "foot",
    "m": "meter",
    "km": "kilometer",
    "mi": "mile",
    "°C": "degC",
    "°F": "degF",
    "L": "liter",
    "cm³": "centimeter**3",
    "in³": "inch**3",
    "US pt": "pint",
    "US qt": "quart",
    "US fl oz": "fluid_ounce",
    "L/min": "liter/minute",
    "US pt/min": "pint/minute",
    "kg": "kilogram",
    "lb": "pound",
    "m/s": "meter/second",
    "km/h": "kilometer/hour",
    "mph": "mile/hour",
    "rpm": "rpm",
    "°": "degree",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "V": "volt",
    "mV": "millivolt",
    "W": "watt",
    "kW": "kilowatt",
    "hp": "horsepower",
    "metric hp": "metric_horsepower",
    "%": "percent",
    "% vol": "percent",
    "ppm": "ppm",
}

TYPED = [
    ("psi", "psi"),
    ("PSI", "psi"),
    ("#", "psi"),
    ("lb/in2", "psi"),
    ("lbs/in²", "psi"),
    ("lb/sq.in.", "psi"),
    ("kg/cm2", "kg/cm²"),
    ("kg/cm²", "kg/cm²"),
    ("kgf/cm2", "kg/cm²"),
    ("bar", "bar"),
    ("kPa", "kPa"),
    ("KPA", "kPa"),
    ("mbar", "hPa"),
    ("MPa", "MPa"),
    ("in Hg", "inHg"),
    ("in. Hg", "inHg"),
    ("inHg", "inHg"),
    ('"Hg', "inHg"),
    ("” Hg", "inHg"),
    ("''Hg", "inHg"),
    ("inches of Hg", "inHg"),
    ("mm Hg", "mmHg"),
    ("cmHg", "cmHg"),
    ('"', "in"),
    ("in", "in"),
    ("inch", "in"),
    ("″", "in"),
    ("mm", "mm"),
    ("°F", "°F"),
    ("F", "°F"),
    ("deg F", "°F"),
    ("º C", "°C"),
    ("deg C", "°C"),
    ("c", "°C"),
    ("%", "%"),
    ("percent", "%"),
    ("% vol", "% vol"),
    ("vol.%", "% vol"),
    ("ppm", "ppm"),
    ("rpm", "rpm"),
    ("r/min", "rpm"),
    ("r.p.m.", "rpm"),
    ("V", "V"),
    ("volts", "V"),
    ("mV", "mV"),
    ("°", "°"),
    ("deg", "°"),
    ("degrees", "°"),
    ("° BTDC", "° BTDC"),
    ("BTDC", "° BTDC"),
    ("deg ATDC", "° ATDC"),
    ("US pt/min", "US pt/min"),
    ("pt/min", "US pt/min"),
    ("L/min", "L/min"),
    ("lpm", "L/min"),
    ("pints", "US pt"),
    ("cc", "cm³"),
    ("ml", "cm³"),
    ("cu. in.", "in³"),
    ("in³", "in³"),
    ("miles", "mi"),
    ("km", "km"),
    ("ft.", "ft"),
    ("'", "ft"),
    ("lbs", "lb"),
    ("kg", "kg"),
    ("km/h", "km/h"),
    ("kph", "km/h"),
    ("MPH", "mph"),
    ("sec", "s"),
    ("hrs", "h"),
    (" psi ", "psi"),
]

# text, unit that the cell asks for, unit meant
SHORTHAND = [
    ('"', "inHg", "inHg"),
    ("in", "kPa", "inHg"),
    ('"', "mm", "in"),
    ("lbs", "psi", "psi"),
    ("lb", "kPa", "psi"),
    ("kg", "kPa", "kg/cm²"),
    ("kg", "lb", "kg"),
    ("#", "lb", "lb"),
    ("thou", "in", "thou"),
    ("mils", "mm", "thou"),
    ("thousandths", "mm", "thou"),
    ("#", "kPa", "psi"),
    ("mm", "inHg", "mmHg"),
    ("mm", "in", "mm"),
    ("°", "°F", "°F"),
    ("°", "°C", "°C"),
    ("°", "° BTDC", "°"),
    ("pt", "US pt/min", "US pt/min"),
    ("pt", "US pt", "US pt"),
    ("L", "US pt/min", "L/min"),
    ("psi", "lb", "psi"),
    ("bar", "psi", "bar"),
]

finite = st.floats(min_value=-1e6, max_value=1e6)
pairs = st.sampled_from([(a, b) for a in UNITS for b in UNITS if same_quantity(a, b)])


@pytest.mark.parametrize(("source", "target", "factor"), NIST_SP_811)
def test_factors_are_those_that_nist_prints(source: str, target: str, factor: float) -> None:
    """Every factor agrees with NIST SP 811 to the seven digits printed there."""
    assert conversion_factor(source, target) == pytest.approx(factor, rel=1.5e-7)


def test_every_unit_converts_as_pint_does() -> None:
    """Each unit, to each other of its quantity, agrees with the pint library's own table."""
    registry = pint.UnitRegistry()
    water_column = registry.Quantity(1000, "inch * kilogram / meter**3 * g_0")
    compared = 0
    for source in UNITS:
        for target in UNITS:
            # Pint has no dead centre, and its water is not the conventional one of exactly 1000 kg/m3.
            if not same_quantity(source, target) or "TDC" in source + target or "inH2O" in (source, target):
                continue
            theirs = registry.Quantity(7.5, PINT_NAMES[source]).to(PINT_NAMES[target]).magnitude
            assert convert(7.5, source, target) == pytest.approx(theirs, rel=1e-8), (source, target)
            compared += 1
    assert compared > 150
    assert convert(1, "inH2O", "Pa") == pytest.approx(water_column.to("pascal").magnitude, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "source", "target", "expected"),
    [
        # NIST SP 811: exact relations of the temperature scales.
        (32, "°F", "°C", 0.0),
        (212, "°F", "°C", 100.0),
        (-40, "°C", "°F", -40.0),
        (85, "°C", "°F", 185.0),
        # After top dead centre is negative before top dead centre: common practice, no source.
        (4, "° ATDC", "° BTDC", -4.0),
        (-4, "° BTDC", "° ATDC", 4.0),
        (6, "°", "° BTDC", 6.0),
        # TM 10-3930-653-14&P, section 4-1-1: 430 mmHg; 16.93 inHg computed with the conventional columns.
        (430, "mmHg", "inHg", 16.9291338),
        # TM 9-8000, paragraph 4-3c(7), prints both units of the fuel pump's range.
        (1.5, "psi", "kPa", 10.342136),
        (6.0, "psi", "kPa", 41.368544),
        (5000, "ppm", "% vol", 0.5),
    ],
)
def test_readings_convert(value: float, source: str, target: str, expected: float) -> None:
    """Readings convert with their zero points and signs, exactly at the fixed points of the scales."""
    assert convert(value, source, target) == pytest.approx(expected, rel=1e-7, abs=1e-12)


@given(value=finite, pair=pairs)
def test_there_and_back_gives_the_same_reading(value: float, pair: tuple[str, str]) -> None:
    """Converting to another unit and back returns the reading."""
    there = convert(value, *pair)
    assert convert(there, pair[1], pair[0]) == pytest.approx(value, rel=1e-9, abs=1e-8)


@given(low=finite, high=finite, pair=pairs)
def test_conversion_keeps_the_order_of_readings(low: float, high: float, pair: tuple[str, str]) -> None:
    """A higher reading stays the higher one in every unit; the sign turns after dead centre."""
    low, high = sorted((low, high))
    a, b = convert(low, *pair), convert(high, *pair)
    turned = ("° ATDC" in pair) and pair[0] != pair[1]
    assert (a >= b) if turned else (a <= b)


@pytest.mark.parametrize(("text", "symbol"), TYPED)
def test_units_are_found_as_people_type_them(text: str, symbol: str) -> None:
    """Capital letters, dots, spaces and typographic marks do not hide a unit."""
    assert find_unit(text) == unit(symbol)


@pytest.mark.parametrize(("text", "asked_for", "symbol"), SHORTHAND)
def test_shorthand_is_read_as_of_the_quantity_asked_for(text: str, asked_for: str, symbol: str) -> None:
    """Marks such as an inch sign mean the unit of the cell's own quantity."""
    assert find_unit(text, asked_for) == unit(symbol)


@pytest.mark.parametrize("asked_for", ["mi", "km", "ft", "m"])
def test_a_thousandth_is_no_distance(asked_for: str) -> None:
    """`80 thou` miles are thousands, and a mil is ten kilometres in the north: neither is read as a length."""
    assert find_unit("thou", asked_for) is find_unit("mil", asked_for) is None


@given(symbol=st.sampled_from(sorted(UNITS)))
def test_every_symbol_of_the_form_is_found(symbol: str) -> None:
    """The form's own symbol is always understood, in capitals and with a space before it too."""
    assert find_unit(symbol) == find_unit(f" {symbol.upper()} ") == UNITS[symbol]


@pytest.mark.parametrize("text", ["", "x", "145", "psi/", "bananas", "=psi", "kg/m2"])
def test_what_is_no_unit_is_not_found(text: str) -> None:
    """Text that names no unit gives none, rather than the nearest guess."""
    assert find_unit(text) is None


def test_quantities_do_not_mix() -> None:
    """Converting between quantities or from an unknown unit is refused in words."""
    assert same_quantity("psi", "inHg")
    assert not same_quantity("psi", "in")
    with pytest.raises(ValueError, match="psi measures pressure and mm measures length"):
        convert(1, "psi", "mm")
    with pytest.raises(ValueError, match="unknown unit 'furlong'"):
        convert(1, "furlong", "mm")
    assert [each.symbol for each in units_of("mass")] == ["kg", "lb"]
