"""Ignition, fuel and air: the tests still to do, in the order of the work, and when a system counts as proven.

Every case starts from an engine with all tests made and in limits (tests/support/filled.py).
"""

from __future__ import annotations

import pytest

from tests.support.filled import diagnosis_of
from tests.test_diagnose_fuel import LEAN, WANDER, gases
from tests.test_diagnose_ignition import timed

IGNITION_OWED = (
    (
        "Nothing of the ignition read: points, then timing.",
        {"point_gap": None, "dwell": None, "contacts": None, "timing": None},
        ["contacts and dwell", "timing by the light"],
    ),
    (
        "Electronic: no points are asked for.",
        {"ignition_type": "electronic", "timing": None},
        ["timing by the light"],
    ),
    (
        "Timing without a figure counts as made, and the figure is asked for.",
        {"spec_timing": None, "spec_timing_speed": None},
        ["timing, specified"],
    ),
    (
        "Points without a figure likewise.",
        {
            "spec_point_gap_min": None,
            "spec_point_gap_max": None,
            "spec_dwell_min": None,
            "spec_dwell_max": None,
        },
        ["point gap, specified", "dwell, specified"],
    ),
    (
        "Timing in limits with the gap out is read again.",
        {"point_gap": 0.030},
        ["timing by the light, again"],
    ),
    (
        "Kind of ignition unknown.",
        {"ignition_type": None, "point_gap": None, "dwell": None, "contacts": None, "timing": None},
        ["contacts and dwell", "timing by the light"],
    ),
    (
        "A wandering mark, rotor not tried.",
        {
            "timing_mark": "wanders",
            "rotor_springs_back": None,
            "advance_reading": None,
            "advance_speed": None,
        },
        ["rotor springs back", "advance curve"],
    ),
    (
        "Lacks power, advance not tried.",
        {"complaint": "lacks power", "advance_unit_moves": None},
        ["advance unit"],
    ),
    (
        "Lacks power, and there is no vacuum advance.",
        {"complaint": "lacks power", "advance_unit_moves": "not fitted"},
        [],
    ),
    ("An advance reading without its speed.", {"advance_speed": {2: None}}, ["advance curve, again"]),
)


@pytest.mark.parametrize(("why", "readings", "tests"), IGNITION_OWED, ids=[case[0] for case in IGNITION_OWED])
def test_ignition_tests_still_owed(why: str, readings: dict[str, object], tests: list[str]) -> None:
    """What is still to be made or looked up stands under the tests owed, in the order of the work, with a
    reason.
    """
    found = diagnosis_of(healthy_engine=True, **readings)
    assert [each.test for each in found.missing] == tests, why
    assert all(each.why.endswith(".") and each.fields for each in found.missing)


IGNITION_STATES = (
    ("All read and right.", {}, "proven"),
    ("Dwell alone does for the points.", {"point_gap": None}, "proven"),
    (
        "Timing was read, but nothing says what it should be.",
        {"spec_timing": None},
        "proven as far as the figures go",
    ),
    ("Points not read.", {"point_gap": None, "dwell": None}, "not proven yet"),
    (
        "Electronic, timing right.",
        {"ignition_type": "electronic", "point_gap": None, "dwell": None},
        "proven",
    ),
    ("Timing late.", timed(2), "fault found"),
    ("A sign alone is no fault found.", {"timing_mark": "wanders"}, "proven"),
)


@pytest.mark.parametrize(
    ("why", "readings", "state"), IGNITION_STATES, ids=[case[0] for case in IGNITION_STATES]
)
def test_ignition_is_proven(why: str, readings: dict[str, object], state: str) -> None:
    """Ignition is proven by timing, and by gap or dwell where there are points; a fault goes first."""
    assert diagnosis_of(healthy_engine=True, **readings).states["ignition"] == state, why


FUEL_OWED = (
    (
        "Neither intake nor pump tested.",
        {"cranking_vacuum": None, "cranking_vacuum_rise": None, "fuel_pressure": None},
        ["cranking vacuum", "fuel pressure"],
    ),
    (
        "Figures missing.",
        {"spec_cranking_vacuum_min": None, "spec_fuel_pressure_min": None, "spec_fuel_pressure_max": None},
        ["cranking vacuum, specified", "fuel pressure, specified"],
    ),
    (
        "Thinned sample.",
        {"gas_co_2": 0.4, "gas_co2_2": 6.5, "gas_o2_2": 12.0},
        ["exhaust gas, again"],
    ),
    (
        "Idle gas off, raised speed not read.",
        {**gases(21411, 1), "gas_co_2": None, "gas_co2_2": None, "gas_hc_2": None, "gas_o2_2": None},
        ["exhaust gas, again"],
    ),
    (
        "Lean, delivery not taken.",
        {**LEAN, "fuel_delivery_volume": None, "fuel_delivery_time": None},
        ["fuel delivery"],
    ),
    (
        "Needle sinks, back-pressure not read.",
        {"backpressure": None, "needle_with_speed": "falls slowly while held", "raised_vacuum_held": 16.0},
        ["back-pressure"],
    ),
    (
        "Wander, clearance and screw not tried.",
        {**WANDER, "valve_clearance": None, "mixture_best_vacuum": None},
        ["idle mixture"],
    ),
)


@pytest.mark.parametrize(("why", "readings", "tests"), FUEL_OWED, ids=[case[0] for case in FUEL_OWED])
def test_fuel_and_air_tests_still_owed(why: str, readings: dict[str, object], tests: list[str]) -> None:
    """What is still to be made or looked up stands under the tests owed, with a reason."""
    found = diagnosis_of(healthy_engine=True, **readings)
    assert [each.test for each in found.missing] == tests, why
    assert all(each.why.endswith(".") and each.fields for each in found.missing)


FUEL_STATES = (
    ("All read and right.", {}, "proven"),
    (
        "The retest serves where the first was not read.",
        {"cranking_vacuum": None, "cranking_vacuum_retest": 17},
        "proven",
    ),
    ("Fuel pressure not read.", {"fuel_pressure": None}, "not proven yet"),
    (
        "A leak, though mended by tightening, was a fault found.",
        {"cranking_vacuum": 12, "cranking_vacuum_retest": 17},
        "fault found",
    ),
    (
        "No figure for the cranking vacuum.",
        {"spec_cranking_vacuum_min": None},
        "proven as far as the figures go",
    ),
)


@pytest.mark.parametrize(("why", "readings", "state"), FUEL_STATES, ids=[case[0] for case in FUEL_STATES])
def test_fuel_and_air_is_proven(why: str, readings: dict[str, object], state: str) -> None:
    """Fuel and air is proven by cranking vacuum, or its retest, and fuel pressure; a fault goes first."""
    assert diagnosis_of(healthy_engine=True, **readings).states["fuel and air"] == state, why
