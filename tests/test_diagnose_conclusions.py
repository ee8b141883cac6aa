"""What a technician concludes, held against the readings: contradicted, unsupported, supported, or left out.

Which test decides a cause and what speaks against it follows the fault vocabulary (`causes.py`); where no manual is
named there it is common practice, no source. All engines are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from tests.support.filled import diagnosis_of, finding
from workbook_tools.diagnose.model import Diagnosis, Discrepancy
from workbook_tools.faults.causes import CAUSES

KINDS = ("conclusion_contradicted", "conclusion_unsupported", "finding_not_concluded")
RINGS_AT_3 = {"compression_dry": (148, 147, 95, 149), "compression_wet": {3: 140, 1: 152}, "leakdown": None}
VALVE_AT_3 = {"compression_dry": (148, 147, 95, 149), "compression_wet": {3: 100, 1: 152}, "leakdown": None}
GASKET_2_3 = {
    "compression_dry": (148, 92, 95, 149),
    "compression_wet": {2: 97, 3: 100, 1: 152},
    "leakdown": None,
}
ALL_LOW_WORN = {"compression_dry": 95, "compression_wet": 140, "leakdown": None}


def about_conclusions(diagnosis: Diagnosis) -> list[Discrepancy]:
    """The discrepancies that speak of what was concluded."""
    return [each for each in diagnosis.discrepancies if each.kind in KINDS]


def judged(cause: str, cylinders: str | None = None, **readings: Any) -> list[str]:
    """Kinds of discrepancy for one conclusion on an otherwise healthy engine."""
    diagnosis = diagnosis_of(
        healthy_engine=True, concluded_cause_1=cause, concluded_cylinders_1=cylinders, **readings
    )
    return [each.kind for each in about_conclusions(diagnosis) if each.kind != "finding_not_concluded"]


def test_every_cause_has_a_test_that_can_speak_against_it() -> None:
    """A cause added to the vocabulary without a test of its own is noticed here, as is a rival that is none."""
    assert {other for cause in CAUSES.values() for other in cause.replaced_by} <= set(CAUSES)


@pytest.mark.parametrize("cause", CAUSES)
def test_a_healthy_engine_contradicts_every_cause(cause: str) -> None:
    """With every test made and in limits, there is no fault that a technician can rightly conclude."""
    assert judged(cause) == ["conclusion_contradicted"]


@pytest.mark.parametrize("cause", CAUSES)
def test_an_engine_without_readings_supports_no_cause(cause: str) -> None:
    """Nothing was measured: a conclusion may be right, but nothing on the form says so."""
    diagnosis = diagnosis_of(concluded_cause_1=cause)
    assert [each.kind for each in about_conclusions(diagnosis)] == ["conclusion_unsupported"]


@pytest.mark.parametrize(
    ("cause", "readings"),
    [
        ("engine_not_ready", {"coolant_temperature": 120}),
        ("engine_not_ready", {"idle_speed": 900}),
        ("engine_overheated", {"coolant_temperature": 235}),
        ("low_oil_pressure", {"oil_pressure": 10}),
        ("slow_cranking", {"cranking_speed": 90}),
        ("compression_test_invalid", {"all_plugs_out": "no"}),
        ("general_wear", ALL_LOW_WORN),
        ("valve_timing", {**ALL_LOW_WORN, "compression_wet": 97}),
        ("carbon_deposits", {"compression_dry": (180, 179, 181, 180)}),
        ("sticking_valve", {"needle": "occasional drops"}),
        ("weak_valve_springs", {"needle_with_speed": "widens"}),
        ("worn_valve_guides", {"needle": "fast flutter", "needle_with_speed": "steadies"}),
        ("tight_valves", {"valve_clearance": "too tight"}),
        ("late_timing", {"timing": 2}),
        ("early_timing", {"timing": 14}),
        (
            "vacuum_advance_unit",
            {"advance_unit_moves": "no", "advance_line_vacuum": 12, "manifold_vacuum_then": 12.5},
        ),
        (
            "vacuum_advance_line",
            {"advance_unit_moves": "no", "advance_line_vacuum": 0, "manifold_vacuum_then": 12.5},
        ),
        ("mechanical_advance", {"rotor_springs_back": "sluggish"}),
        ("mechanical_advance", {"advance_reading": (8.5, 9)}),
        ("contact_gap", {"point_gap": 0.010}),
        ("contact_gap", {"dwell": 75}),
        ("contact_points", {"contacts": "burned"}),
        ("condenser", {"contacts": "pitted"}),
        ("weak_spark", {"spark": "none"}),
        ("plug_fault", {"plug_look": {2: "cracked or worn"}}),
        ("plug_fault", {"plug_gap": {2: 0.060}}),
        ("intake_leak", {"cranking_vacuum": 9}),
        ("intake_leak", {"cranking_vacuum_rise": "slow"}),
        ("manifold_or_heat_riser", {"cranking_vacuum": 9, "cranking_vacuum_retest": 9}),
        ("manifold_or_heat_riser", {"heat_riser": "burned through"}),
        ("heat_riser_stuck", {"heat_riser": "stuck"}),
        ("low_vacuum_unexplained", {"idle_vacuum_low": 15, "idle_vacuum_high": 15.4}),
        ("idle_mixture", {"needle": "slow wander"}),
        ("lean_mixture", {"running_vacuum": 14, "running_vacuum_choked": 18, "gas_co": None}),
        ("low_fuel_pressure", {"fuel_pressure": 1}),
        ("high_fuel_pressure", {"fuel_pressure": 6}),
        ("low_fuel_delivery", {"fuel_delivery_volume": 0.3}),
        ("carburettor", {"running_vacuum": 14, "running_vacuum_choked": 18, "gas_co": None}),
        ("air_cleaner", {"air_cleaner": "blocked"}),
        ("exhaust_restriction", {"backpressure": 5}),
        ("exhaust_restriction", {"raised_vacuum_held": 12, "backpressure": None}),
    ],
)
def test_the_fault_itself_supports_its_cause(cause: str, readings: Mapping[str, Any]) -> None:
    """The reading that decides a cause is out: naming it is neither contradicted nor unsupported."""
    assert judged(cause, **readings) == []


@pytest.mark.parametrize(
    ("cause", "cylinders", "readings", "expected", "why"),
    [
        ("worn_rings", "3", RINGS_AT_3, [], "oil brought most of the shortfall back: rings, as concluded"),
        ("worn_rings", "3", VALVE_AT_3, ["conclusion_contradicted"], "oil changed little: not rings"),
        ("leaking_valve", "3", RINGS_AT_3, ["conclusion_contradicted"], "oil sealed it: not a valve"),
        ("leaking_valve", "3", VALVE_AT_3, [], "oil changed little, neighbours sound: a valve"),
        (
            "worn_rings",
            "2",
            RINGS_AT_3,
            ["conclusion_contradicted"],
            "rings leak, but in 3; cylinder 2 gauges sound",
        ),
        ("worn_rings", "2, 3", RINGS_AT_3, ["conclusion_contradicted"], "one of two named is sound"),
        ("worn_rings", None, RINGS_AT_3, [], "no cylinder named: any ring finding will do"),
        (
            "worn_rings",
            "3",
            {"leakdown": {3: 40}, "leak_heard_at": {3: "exhaust"}},
            ["conclusion_contradicted"],
            "air comes out at the exhaust valve",
        ),
        (
            "worn_rings",
            "3",
            {"leakdown": {3: 40}, "leak_heard_at": {3: "oil filler"}},
            [],
            "air comes past the rings",
        ),
        (
            "leaking_valve",
            "3",
            {"leakdown": {3: 40}, "leak_heard_at": {3: "intake"}},
            [],
            "air comes out at the intake",
        ),
        ("head_gasket", "2 and 3", GASKET_2_3, [], "equally low neighbours that oil does not help"),
        ("head_gasket", "3", VALVE_AT_3, ["conclusion_contradicted"], "both neighbours 50 psi better"),
        (
            "head_gasket",
            "3",
            {"compression_dry": (148, 147, 95, 149), "leakdown": None, "plug_look": {3: "coolant traces"}},
            [],
            "one low cylinder beside sound ones, but coolant on its plug: it may leak into the water",
        ),
        (
            "leaking_valve",
            "2",
            GASKET_2_3,
            ["conclusion_contradicted"],
            "the gasket is confirmed in its place",
        ),
        ("general_wear", None, RINGS_AT_3, ["conclusion_contradicted"], "three cylinders are sound"),
        ("worn_rings", "all", ALL_LOW_WORN, [], "wear in all cylinders is worn rings in all"),
        ("valve_timing", None, ALL_LOW_WORN, ["conclusion_contradicted"], "oil helped every cylinder: wear"),
        (
            "general_wear",
            None,
            {**ALL_LOW_WORN, "compression_wet": 97},
            ["conclusion_contradicted"],
            "oil helped none",
        ),
        (
            "carbon_deposits",
            "2",
            {"compression_dry": (180, 147, 148, 149)},
            ["conclusion_contradicted"],
            "2 is in range",
        ),
        (
            "worn_rings",
            "3",
            {"compression_dry": (148, 147, 95, 149), "leakdown": None},
            [],
            "low and not told apart: rings are possible, and possible supports",
        ),
        (
            "worn_rings",
            "3",
            {"throttle_held_open": "no", "leakdown": None},
            ["conclusion_unsupported"],
            "a test with the throttle shut says nothing for or against",
        ),
        (
            "plug_fault",
            "2",
            {"plug_look": {2: "oily"}},
            ["conclusion_unsupported"],
            "fouled, but neither cracked nor worn",
        ),
        (
            "plug_fault",
            "2",
            {"speed_drop": {2: 10}},
            [],
            "a weak cylinder with normal compression: plug or lead",
        ),
    ],
)
def test_cylinders_are_judged_one_by_one(
    cause: str, cylinders: str | None, readings: Mapping[str, Any], expected: list[str], why: str
) -> None:
    """A conclusion stands or falls by the cylinders it names."""
    assert judged(cause, cylinders, **readings) == expected, why


@pytest.mark.parametrize(
    ("cause", "readings", "expected", "why"),
    [
        ("late_timing", {"timing": 14}, "conclusion_contradicted", "it is early"),
        ("late_timing", {"timing": None}, "conclusion_unsupported", "timing was not measured"),
        ("timing_suspected", {"timing": 8}, "conclusion_contradicted", "it was measured, and is right"),
        (
            "contact_gap",
            {"ignition_type": "electronic"},
            "conclusion_contradicted",
            "this ignition has no points",
        ),
        ("condenser", {"contacts": "worn"}, "conclusion_contradicted", "a bad condenser pits contacts"),
        (
            "vacuum_advance_unit",
            {"advance_unit_moves": "no", "advance_line_vacuum": 0, "manifold_vacuum_then": 12.5},
            "conclusion_contradicted",
            "the vacuum is lost on the way: the line",
        ),
        (
            "vacuum_advance_unit",
            {"advance_unit_moves": None},
            "conclusion_unsupported",
            "nobody looked whether it moves",
        ),
        (
            "worn_valve_guides",
            {
                "needle": "fast flutter",
                "needle_with_speed": "steadies",
                "needle_after_valve_adjustment": "steady",
            },
            "conclusion_contradicted",
            "the flutter was gone once the valves were set: clearance",
        ),
        ("carburettor", {"fuel_pressure": 1.5}, "conclusion_contradicted", "too little fuel reaches it"),
        (
            "carburettor",
            {"cranking_vacuum": 9},
            "conclusion_contradicted",
            "the intake leaks: lean by false air",
        ),
        (
            "carburettor",
            {"running_vacuum": 14, "running_vacuum_choked": 18, "gas_co": None, "fuel_pressure": None},
            "conclusion_unsupported",
            "lean, but the fuel pressure was not measured",
        ),
        (
            "lean_mixture",
            {"gas_o2": (0.7, 0.1), "gas_co": (1.2, 6)},
            "conclusion_contradicted",
            "6 % CO is rich",
        ),
        (
            "intake_leak",
            {"cranking_vacuum": None, "cranking_vacuum_rise": None},
            "conclusion_unsupported",
            "no cranking vacuum was read",
        ),
    ],
)
def test_what_contradicts_and_what_only_fails_to_support(
    cause: str, readings: Mapping[str, Any], expected: str, why: str
) -> None:
    """A test that was made and says otherwise contradicts; a test that was not made leaves it unsupported."""
    assert judged(cause, **readings) == [expected], why


def test_a_contradiction_names_the_reading_and_its_cell() -> None:
    """The technician is told which reading speaks against the conclusion, and where it stands."""
    diagnosis = diagnosis_of(healthy_engine=True, concluded_cause_2="late_timing")
    (found,) = about_conclusions(diagnosis)
    assert found.field == "concluded_cause_2"
    assert "Timing: 8 ° BTDC (Ignition!" in found.message


def test_unsupported_says_in_labels_what_would_decide() -> None:
    """No cell names of the program's own stand in a sentence for people."""
    (found,) = about_conclusions(diagnosis_of(concluded_cause_1="low_oil_pressure"))
    assert "spec_oil" not in found.message
    assert "oil pressure" in found.message


def test_a_doubted_reading_contradicts_nobody() -> None:
    """14.8 psi in cylinder 3 is surely 148: until it is read again it speaks neither for nor against."""
    readings = {
        "compression_dry": (148, 147, 14.8, 149),
        "compression_wet": {3: 15, 1: 152},
        "leakdown": None,
    }
    assert judged("worn_rings", "3", **readings) == []


@pytest.mark.parametrize(
    ("readings", "concluded", "expected", "why"),
    [
        (
            RINGS_AT_3,
            {"concluded_cause_1": "weak_spark"},
            True,
            "rings are confirmed and not among the conclusions",
        ),
        (RINGS_AT_3, {}, False, "the technician has concluded nothing yet"),
        (RINGS_AT_3, {"concluded_cause_4": "worn_rings"}, False, "named, in the last row"),
        (
            RINGS_AT_3,
            {"concluded_cause_1": "worn_rings", "concluded_cylinders_1": "#3"},
            False,
            "named with its cylinder",
        ),
        (
            RINGS_AT_3,
            {"concluded_cause_1": "worn_rings", "concluded_cylinders_1": "2"},
            True,
            "named for another cylinder",
        ),
        (
            GASKET_2_3,
            {"concluded_cause_1": "head_gasket", "concluded_cylinders_1": "2"},
            False,
            "one gasket, one end named",
        ),
        (
            ALL_LOW_WORN,
            {"concluded_cause_1": "worn_rings", "concluded_cylinders_1": "all"},
            False,
            "the same wear",
        ),
        (
            ALL_LOW_WORN,
            {"concluded_cause_1": "worn_rings", "concluded_cylinders_1": "1"},
            True,
            "the others are worn too",
        ),
        (
            {**RINGS_AT_3, "coolant_temperature": None},
            {"concluded_cause_1": "weak_spark"},
            False,
            "provisional: cold engine?",
        ),
    ],
)
def test_a_confirmed_finding_must_be_named(
    readings: Mapping[str, Any], concluded: Mapping[str, str], expected: bool, why: str
) -> None:
    """Once something is concluded, every confirmed finding that is not provisional must be among it."""
    diagnosis = diagnosis_of(healthy_engine=True, **readings, **concluded)
    kinds = [each.kind for each in about_conclusions(diagnosis)]
    assert ("finding_not_concluded" in kinds) is expected, why


def test_the_missing_conclusion_points_to_the_next_free_row() -> None:
    """It can be written where the message points to."""
    diagnosis = diagnosis_of(healthy_engine=True, **RINGS_AT_3, concluded_cause_1="weak_spark")
    assert finding(diagnosis, "worn_rings", 3).strength == "confirmed"
    (found,) = (each for each in diagnosis.discrepancies if each.kind == "finding_not_concluded")
    assert found.field == "concluded_cause_2"
    assert "(cylinder 3)" in found.expected
