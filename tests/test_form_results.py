"""Live results of the later sheets against figures from outside the project, and against worked geometry."""

from __future__ import annotations

import pytest

from workbook_tools.form import the_form
from workbook_tools.language.model import Shape, UnitSystem, Value
from workbook_tools.language.values import Values
from workbook_tools.science.engine_geometry import default_banks

# Dwell that one set of points can reach is the distributor's turn shared among the lobes: 90, 60, 45 degrees
# for 4, 6, 8 cylinders (geometry).
LARGEST_DWELL = {4: 90.0, 6: 60.0, 8: 45.0}
# Exact equilibrium points of fuel CH1.7261 O0.0175 in dry air: CO, CO2 and oxygen in % vol
# by lambda, worked out from the atom balance with water-gas constant 3.5, without the lambda equation.
EXACT_GAS = {
    0.75: (9.8002, 9.3329, 0.0),
    0.80: (7.7288, 10.6394, 0.0),
    0.85: (5.7024, 11.9406, 0.0),
    0.90: (3.7330, 13.2241, 0.0),
}
# SAE J1349 (0.85 form) by station pressure in hPa and temperature in degrees C; worked out by hand from the
# published formula.
J1349 = {(990.0, 25.0): 1.0000, (1013.25, 15.0): 0.9536, (950.0, 35.0): 1.0699, (843.0726, 25.0): 1.2050}


def results(readings: dict[str, Value], cylinders: int = 4, units: UnitSystem = "us") -> Values:
    """What a form shows for these readings."""
    return the_form.compute(Shape(cylinders, default_banks(cylinders), units), readings)


@pytest.mark.parametrize(("cylinders", "degrees"), LARGEST_DWELL.items())
def test_largest_dwell_is_the_turn_shared_among_lobes(cylinders: int, degrees: float) -> None:
    """Dwell above 360 degrees over the cylinders is impossible."""
    assert results({"dwell": degrees}, cylinders).text("dwell_possible") == "yes"
    assert results({"dwell": degrees + 0.5}, cylinders).text("dwell_possible") == "no"


# TM 10-3930-653-14&P para 4-1-1: dwell 49 to 55 degrees; a degree more makes the spark a crank degree later.
@pytest.mark.parametrize(
    ("dwell", "shift", "timing_then"), [(46.0, -6.0, 2.0), (52.0, 0.0, 8.0), (60.0, 8.0, 16.0)]
)
def test_setting_the_dwell_moves_the_timing(dwell: float, shift: float, timing_then: float) -> None:
    """The spark moves as many crank degrees as the dwell; setting too much dwell makes it earlier."""
    v = results({"dwell": dwell, "spec_dwell_min": 49.0, "spec_dwell_max": 55.0, "timing": 8.0})
    assert (v.number("dwell_timing_shift"), v.number("timing_after_dwell")) == (shift, timing_then)


@pytest.mark.parametrize(("gap", "direction"), [(0.030, "later"), (0.010, "earlier"), (0.018, "")])
def test_a_wrong_gap_alone_gives_the_direction(gap: float, direction: str) -> None:
    """A wide gap shortens the dwell and fires early, so setting it makes the spark later."""
    v = results({"point_gap": gap, "spec_point_gap_min": 0.016, "spec_point_gap_max": 0.02})
    assert v.text("gap_timing_direction") == direction


@pytest.mark.parametrize("ignition", ["electronic"])
def test_points_are_not_asked_for_where_there_are_none(ignition: str) -> None:
    """Points readings get no mark, find nothing and are not needed for proof."""
    readings: dict[str, Value] = {
        "ignition_type": ignition,
        "spec_timing": 8.0,
        "spec_timing_tolerance": 2.0,
        "timing": 8.0,
    }
    readings |= {
        "point_gap": 0.5,
        "dwell": 2.0,
        "contacts": "burned",
        "spec_point_gap_max": 0.02,
        "spec_dwell_min": 28.0,
    }
    v = results(readings)
    assert [v.text(f"mark_{name}") for name in ("point_gap", "dwell", "after_point_gap")] == ["", "", ""]
    assert v.text("points_note") == "not on this ignition"
    assert v.text("state_ignition") == "proven"


CURVE: dict[str, Value] = {
    "spec_advance_speed_1": 1000.0,
    "spec_advance_min_1": 10.0,
    "spec_advance_max_1": 14.0,
    "spec_advance_speed_2": 2000.0,
    "spec_advance_min_2": 20.0,
    "spec_advance_max_2": 28.0,
}


@pytest.mark.parametrize(
    ("speed", "reading", "error", "mark"),
    [
        (1500.0, 18.0, 0.0, "in limits"),
        (1500.0, 14.9, 0.0, "out of limits"),
        (1500.0, 21.1, 0.0, "out of limits"),
        (1500.0, 12.0, -6.0, "in limits"),
        (1500.0, 24.0, 6.0, "in limits"),
        (1000.0, 12.0, 0.0, "in limits"),
        (2000.0, 24.0, 0.0, "in limits"),
        (2500.0, 60.0, 0.0, "no limit given"),
        (900.0, 0.0, 0.0, "no limit given"),
    ],
)
def test_advance_is_judged_between_the_points_less_the_timing_error(
    speed: float, reading: float, error: float, mark: str
) -> None:
    """The band runs straight between the manual's points and ends with them; the error comes off first."""
    v = results(
        CURVE
        | {"spec_timing": 8.0, "timing": 8.0 + error, "advance_speed_1": speed, "advance_reading_1": reading}
    )
    assert v.text("mark_advance_corrected", 1) == mark


@pytest.mark.parametrize(("expected", "gases"), EXACT_GAS.items())
def test_lambda_of_exact_equilibrium(expected: float, gases: tuple[float, float, float]) -> None:
    """Lambda on the form is that of exhaust whose atoms were balanced for it."""
    co, co2, o2 = gases
    v = results({"gas_co_2": co, "gas_co2_2": co2, "gas_o2_2": o2, "gas_hc_2": 0.0})
    assert v.number("lambda", 2) == pytest.approx(expected, abs=1e-4)
    if expected < 0.89:
        assert v.text("mixture_says", 2) == "rich"


@pytest.mark.parametrize(("air", "factor"), J1349.items())
@pytest.mark.parametrize("units", ["us", "metric"])
def test_air_factor_in_both_unit_systems(air: tuple[float, float], factor: float, units: UnitSystem) -> None:
    """The factor of a day's air is J1349's, whichever units the barometer and thermometer have."""
    hpa, celsius = air
    pressure, temperature = (
        (hpa / 10, celsius) if units == "metric" else (hpa / 33.86389, celsius * 9 / 5 + 32)
    )
    v = results({"pull_barometer_before": pressure, "pull_temperature_before": temperature}, units=units)
    assert v.number("pull_factor_before") == pytest.approx(factor, abs=6e-5)


def test_a_pull_gives_the_power_that_sped_the_vehicle_up() -> None:
    """1500 kg from 50 to 80 km/h in 6 s in the reference air: half m (v2^2 - v1^2) over t, 37.6 kW."""
    readings: dict[str, Value] = {"pull_mass": 1500.0, "pull_from_speed": 50.0, "pull_to_speed": 80.0}
    readings |= {"pull_seconds_before_1": 6.0, "pull_barometer_before": 99.0, "pull_temperature_before": 25.0}
    v = results(readings, units="metric")
    assert v.number("pull_power_before") == pytest.approx(0.5 * 1.5 * ((80 / 3.6) ** 2 - (50 / 3.6) ** 2) / 6)


@pytest.mark.parametrize(
    ("quantity", "price", "hours", "rate", "total"),
    [
        (1.0, 1.005, None, None, 1.01),
        (3.0, 0.335, None, None, 1.01),
        (-1.0, 1.005, None, None, -1.01),
        (1.0, 2.675, 0.5, 0.01, 2.68),
        (None, None, 1.5, 33.33, 50.0),
        (2.0, None, None, 40.0, None),
    ],
)
def test_a_line_is_rounded_once_halves_away_from_zero(
    quantity: Value, price: Value, hours: Value, rate: Value, total: float | None
) -> None:
    """A line of the bill is what a person gets who multiplies, adds, and rounds the half cent up."""
    v = results({"quantity_1": quantity, "unit_price_1": price, "hours_1": hours, "labour_rate": rate})
    assert v.number("line_total", 1) == total


@pytest.mark.parametrize(
    ("tax_on", "tax", "total"),
    [("parts", 2.1, 152.1), ("parts and labour", 10.5, 160.5), ("nothing", 0.0, 150.0), (None, 0.0, 150.0)],
)
def test_tax_is_on_what_was_chosen(tax_on: Value, tax: float, total: float) -> None:
    """7 % on 30 of parts and 120 of labour."""
    readings: dict[str, Value] = {
        "quantity_1": 2.0,
        "unit_price_1": 15.0,
        "hours_2": 2.0,
        "labour_rate": 60.0,
    }
    v = results(readings | {"tax_percent": 7.0, "tax_on": tax_on})
    assert (v.number("tax_total"), v.number("bill_total")) == (tax, total)
    assert (v.text("bill_missing") != "") == (tax_on is None)


@pytest.mark.parametrize(
    ("readings", "word"),
    [
        ({"cranking_vacuum": 16.0, "cranking_vacuum_rise": "fast"}, "tight"),
        ({"cranking_vacuum": 16.0, "cranking_vacuum_rise": "slow"}, "slow to rise: air leak"),
        ({"cranking_vacuum": 12.0}, "air leak: tighten, read again"),
        ({"cranking_vacuum": 12.0, "cranking_vacuum_retest": 16.0}, "leak at the fastenings: tight now"),
        ({"cranking_vacuum": 12.0, "cranking_vacuum_retest": 12.0}, "still low: hoses and base next"),
        ({"cranking_vacuum": 14.8, "vacuum_gauge_tolerance": 0.5}, "near its limit: read again"),
        ({}, ""),
    ],
)
def test_what_the_intake_is(readings: dict[str, Value], word: str) -> None:
    """Cranking vacuum and its retest against 15 inHg at sea level (common practice, no source)."""
    assert (
        results({"spec_cranking_vacuum_min": 15.0, "barometer": 29.92126, **readings}).text("intake_word")
        == word
    )
