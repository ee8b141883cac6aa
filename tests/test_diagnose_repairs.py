"""What is proven after the repair: by the reading that decided the cause, taken again, and by nothing else.

Which reading decides which cause is common practice, no source. All engines are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from tests.support.filled import diagnosis_of, filled
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.sheets.recheck import before_of

RINGS_AT_3 = {"compression_dry": (148, 147, 95, 149), "compression_wet": {3: 140, 1: 152}, "leakdown": None}
LEAK_AT_3 = {"leakdown": {3: 40}, "leak_heard_at": {3: "exhaust"}}
ALL_LOW_WORN = {"compression_dry": 95, "compression_wet": 140, "leakdown": None}


def repaired(cause: str, **readings: Any) -> Diagnosis:
    """The diagnosis of an otherwise healthy engine that was worked on for one cause."""
    return diagnosis_of(healthy_engine=True, work_cause_1=cause, work_1="done", **readings)


def verdict(diagnosis: Diagnosis) -> str:
    """The verdict on the only repair."""
    (proof,) = diagnosis.repairs
    return proof.verdict


def unproven(diagnosis: Diagnosis) -> list[str]:
    """The cells of the discrepancies of repairs."""
    return [each.field for each in diagnosis.discrepancies if each.kind == "repair_not_proven"]


def test_the_table_of_deciding_readings_speaks_of_cells_that_there_are() -> None:
    """Each cause is one of the vocabulary; each reading after has one before it."""
    names = {name for cause in CAUSES.values() for name in cause.recheck}
    assert names | {before_of(name) for name in names} <= set(the_form.items())


@pytest.mark.parametrize(
    ("cause", "before", "good", "bad"),
    [
        (
            "engine_not_ready",
            {"coolant_temperature": 120},
            {"after_coolant_temperature": 188},
            {"after_coolant_temperature": 140},
        ),
        (
            "engine_overheated",
            {"coolant_temperature": 235},
            {"after_coolant_temperature": 188},
            {"after_coolant_temperature": 230},
        ),
        ("worn_rings", RINGS_AT_3, {"after_compression": {3: 146}}, {"after_compression": {3: 110}}),
        ("leaking_valve", LEAK_AT_3, {"after_leakdown": {3: 8}}, {"after_leakdown": {3: 30}}),
        ("general_wear", ALL_LOW_WORN, {"after_compression": 148}, {"after_compression": 100}),
        ("carbon_deposits", {"compression_dry": 180}, {"after_compression": 150}, {"after_compression": 178}),
        (
            "sticking_valve",
            {"needle": "occasional drops"},
            {"after_needle": "steady"},
            {"after_needle": "occasional drops"},
        ),
        ("late_timing", {"timing": 2}, {"after_timing": 8}, {"after_timing": 3}),
        ("late_timing", {"timing": 2}, {"after_timing": 9}, {"after_timing": 14}),
        (
            "contact_gap",
            {"point_gap": 0.010, "dwell": None},
            {"after_point_gap": 0.020},
            {"after_point_gap": 0.030},
        ),
        ("intake_leak", {"cranking_vacuum": 9}, {"after_cranking_vacuum": 18}, {"after_cranking_vacuum": 11}),
        (
            "idle_mixture",
            {"needle": "slow wander"},
            {"after_needle": "steady"},
            {"after_needle": "slow wander"},
        ),
        ("carburettor", {"running_vacuum": 14}, {"after_running_vacuum": 20}, {"after_running_vacuum": 15}),
        ("low_fuel_pressure", {"fuel_pressure": 1}, {"after_fuel_pressure": 3}, {"after_fuel_pressure": 1.5}),
        ("high_fuel_pressure", {"fuel_pressure": 6}, {"after_fuel_pressure": 3}, {"after_fuel_pressure": 5}),
        (
            "low_fuel_delivery",
            {"fuel_delivery_volume": 0.3},
            {"after_fuel_delivery_rate": 2},
            {"after_fuel_delivery_rate": 1},
        ),
        (
            "low_vacuum_unexplained",
            {"idle_vacuum_low": 15, "idle_vacuum_high": 15.4},
            {"after_idle_vacuum_low": 19, "after_idle_vacuum_high": 19.4},
            {"after_idle_vacuum_low": 15, "after_idle_vacuum_high": 15.4},
        ),
    ],
)
def test_a_repair_is_proven_by_the_reading_that_decided_its_cause(
    cause: str, before: Mapping[str, Any], good: Mapping[str, Any], bad: Mapping[str, Any]
) -> None:
    """Back in limits proves it, out of limits disproves it, and not taken again proves nothing."""
    mended, still, open_ = (
        repaired(cause, **before, **good),
        repaired(cause, **before, **bad),
        repaired(cause, **before),
    )
    assert (verdict(mended), unproven(mended)) == ("proven", [])
    assert verdict(still) == "not proven" and len(unproven(still)) == 1
    assert (verdict(open_), unproven(open_)) == ("not retaken", [])


@pytest.mark.parametrize(
    ("readings", "expected", "why"),
    [
        ({}, [], "the car is still in the shop: nobody has had the time yet"),
        (
            {"after_coolant_temperature": 188},
            ["after_timing"],
            "the recheck was begun, and timing was left out",
        ),
        ({"released_by": "A. Example"}, ["after_timing"], "the car is released with the repair unproven"),
        ({"released_on": "2026-05-02"}, ["after_timing"], "a date of release says so too"),
        ({"after_timing": "about right"}, ["after_timing"], "what was written can't be judged"),
    ],
)
def test_a_reading_left_out_matters_once_the_recheck_was_begun_or_the_job_released(
    readings: Mapping[str, Any], expected: list[str], why: str
) -> None:
    """Before that it is merely still to do."""
    diagnosis = repaired("late_timing", timing=2, **readings)
    assert verdict(diagnosis) == "not retaken"
    assert unproven(diagnosis) == expected, why


@pytest.mark.parametrize(
    ("before", "after", "expected", "why"),
    [
        ({}, {"after_compression": {3: 147}}, "proven", "one of two in limits is enough"),
        ({}, {"after_compression": {3: 147}, "after_leakdown": {3: 9}}, "proven", "both in limits"),
        (
            {},
            {"after_compression": {3: 147}, "after_leakdown": {3: 35}},
            "not proven",
            "the other was taken and is out",
        ),
        ({}, {"after_compression": {2: 147}}, "not retaken", "the wrong cylinder was gauged again"),
        (
            {},
            {"after_compression": {1: 148, 2: 147, 3: 120, 4: 149}},
            "not proven",
            "28 psi under the others",
        ),
        (
            {"spec_compression_min": None, "spec_compression_max": None},
            {"after_compression": {3: 120}},
            "not proven",
            "gauged alone, but the others stood at 149 and were not touched",
        ),
        (
            {"spec_compression_min": None, "spec_compression_max": None},
            {"after_compression": {3: 143}},
            "proven",
            "within 10 psi of the others as they were",
        ),
        (
            {},
            {"after_compression": {3: 132}},
            "not proven",
            "over the least of 120, but 18 psi under the highest as it was",
        ),
    ],
)
def test_a_cylinder_is_proven_by_gauge_or_leakdown_beside_the_others(
    before: Mapping[str, Any], after: Mapping[str, Any], expected: str, why: str
) -> None:
    """The low rule of the first test holds for the second."""
    assert verdict(repaired("worn_rings", **RINGS_AT_3 | before, **after)) == expected, why


def test_a_reading_that_was_right_before_proves_no_repair() -> None:
    """Cylinder 3 gauged well and leaked: its gauge reading, good as ever, says nothing of the valve."""
    diagnosis = repaired("leaking_valve", **LEAK_AT_3, after_compression={3: 147})
    assert verdict(diagnosis) == "not retaken"
    assert unproven(diagnosis) == ["after_leakdown_3"]


def test_dwell_out_before_is_not_proven_by_a_gap_that_was_right_all_along() -> None:
    """Gap in limits before and after, dwell out before and not taken again."""
    assert verdict(repaired("contact_gap", dwell=75, after_point_gap=0.020)) == "not retaken"
    assert verdict(repaired("contact_gap", dwell=75, after_dwell=56)) == "proven"
    assert verdict(repaired("contact_gap", dwell=75, after_dwell=56, after_point_gap=0.012)) == "not proven"


def test_every_cylinder_of_the_finding_must_be_proven() -> None:
    """New rings in all four, but one was not gauged again: the repair stays open, at that cylinder."""
    diagnosis = repaired("general_wear", **ALL_LOW_WORN, after_compression=(148, 149, None, 147))
    assert verdict(diagnosis) == "not retaken"
    assert unproven(diagnosis) == ["after_compression_3"]


def test_beyond_the_limit_by_less_than_the_gauge_can_tell_is_no_proof() -> None:
    """Fuel pressure 2.3 psi where 2.5 is needed, gauge good to 0.5: near, but the repair is not proven by it."""
    diagnosis = repaired(
        "low_fuel_pressure", fuel_pressure=1, after_fuel_pressure=2.3, fuel_gauge_tolerance=0.5
    )
    assert verdict(diagnosis) == "not proven"


def test_tightened_fastenings_are_proven_by_the_retest_they_call_for() -> None:
    """The retest on sheet Fuel and air is made after tightening: it is the proof, unless the recheck says otherwise."""
    tightened = {"cranking_vacuum": 9, "cranking_vacuum_retest": 18, "released_by": "A. Example"}
    assert (
        verdict(repaired("intake_leak", **tightened)),
        unproven(repaired("intake_leak", **tightened)),
    ) == ("proven", [])
    assert verdict(repaired("intake_leak", **tightened, after_cranking_vacuum=10)) == "not proven"


def test_an_older_retest_does_not_spoil_a_later_proof() -> None:
    """Still low after tightening, then a new manifold: the reading after that counts."""
    readings = {"cranking_vacuum": 9, "cranking_vacuum_retest": 9, "after_cranking_vacuum": 18}
    assert verdict(repaired("manifold_or_heat_riser", **readings)) == "proven"


@pytest.mark.parametrize("cause", sorted(cause.id for cause in CAUSES.values() if not cause.recheck))
def test_a_cause_without_a_reading_to_take_again_is_listed_only(cause: str) -> None:
    """A renewed plug or condenser has no reading on sheet Recheck: it is in the table, and no discrepancy."""
    diagnosis = repaired(cause, released_by="A. Example")
    assert (verdict(diagnosis), unproven(diagnosis)) == ("not retaken", [])


def test_no_needle_is_judged_on_two_cylinders() -> None:
    """The needle of a twin drops at each intake stroke: it neither proves nor disproves a repair."""
    diagnosis = diagnosis_of(
        2, healthy_engine=True, work_cause_1="tight_valves", after_needle="evenly spaced drops"
    )
    assert (verdict(diagnosis), unproven(diagnosis)) == ("not retaken", [])


def test_lines_of_work_for_one_cause_are_one_repair() -> None:
    """Cylinders without findings are those concluded; the lines' words stand together."""
    diagnosis = diagnosis_of(
        healthy_engine=True,
        work_cause=["leaking_valve", None, "leaking_valve"],
        work=["lift the head", "wash the car", "grind the valves"],
        concluded_cause_1="leaking_valve",
        concluded_cylinders_1="2",
        after_leakdown={2: 50},
    )
    (proof,) = diagnosis.repairs
    assert proof.work == "lift the head; grind the valves"
    assert [each.field for each in proof.evidence] == ["compression_dry_2", "leakdown_2", "after_leakdown_2"]
    assert unproven(diagnosis) == ["after_leakdown_2"]


def test_before_and_after_stand_beside_each_other_with_their_marks() -> None:
    """Only readings that were taken again are in the table; a needle has words and no mark."""
    diagnosis = diagnosis_of(
        healthy_engine=True,
        timing=2,
        after_timing=8,
        after_compression={3: 120},
        needle="slow wander",
        after_needle="steady",
    )
    found = {each.field: each for each in diagnosis.retaken}
    assert set(found) == {"timing", "compression_dry_3", "needle"}
    timing = found["timing"]
    assert (timing.before, timing.mark_before, timing.after, timing.mark_after) == (
        2,
        "out of limits",
        8,
        "in limits",
    )
    assert timing.unit == "° BTDC"
    assert found["compression_dry_3"].before == 146
    assert (found["needle"].before, found["needle"].after, found["needle"].mark_after) == (
        "slow wander",
        "steady",
        "",
    )


# --- timed pull ------------------------------------------------------------------------------------------------------

PULL: dict[str, Any] = {
    "pull_from_speed": 30,
    "pull_to_speed": 50,
    "pull_mass": 3500,
    "pull_seconds_before": (10.0, 10.2, 9.8),
    "pull_seconds_after": (8.0, 8.1, 7.9),
    "pull_barometer_before": 29.0,
    "pull_temperature_before": 77,
    "pull_barometer_after": 29.0,
    "pull_temperature_after": 77,
}


def pulled(**changes: Any) -> Diagnosis:
    """A healthy engine with a timed pull."""
    return diagnosis_of(healthy_engine=True, **PULL | changes)


def test_a_clear_gain_is_said_with_its_scatter_and_what_it_leaves_out() -> None:
    """10 s against 8 s in the same air is 25 % more power, whatever the mass (10 / 8 = 1.25: arithmetic)."""
    (note,) = pulled().notes
    for words in (
        "25.0 % more",
        "SAE J1349",
        "real change",
        "Drag and rolling resistance",
        "accelerating power",
    ):
        assert words in note


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pull_seconds_after": (9.9, 10.1, 9.7)}, "within the scatter"),
        ({"pull_seconds_before": (10.0, None, None), "pull_seconds_after": (8.0, None, None)}, "single runs"),
        ({"pull_seconds_after": (12.0, 12.1, 11.9)}, "% less"),
        ({"pull_barometer_after": 24.0}, "beyond that the correction is a guess"),
    ],
)
def test_what_the_pull_can_not_say_is_said(changes: Mapping[str, Any], words: str) -> None:
    """A small gain, single runs, a loss, and thin air far from the reference each have their sentence."""
    (note,) = pulled(**changes).notes
    assert words in note


@pytest.mark.parametrize(
    ("changes", "cells"),
    [
        ({"pull_mass": None}, ["pull_mass"]),
        ({"pull_from_speed": None, "pull_to_speed": None}, ["pull_from_speed", "pull_to_speed"]),
        ({"pull_barometer_before": None}, ["pull_barometer_before"]),
        ({"pull_seconds_after": None, "pull_barometer_after": None}, []),
        ({"pull_seconds_before": None, "pull_seconds_after": None, "pull_mass": None}, []),
    ],
)
def test_a_pull_that_was_timed_needs_mass_speeds_and_air(
    changes: Mapping[str, Any], cells: list[str]
) -> None:
    """Without runs nothing is asked for; with those of one day only, the air of the other is not."""
    found = pulled(**changes).discrepancies
    assert [each.field for each in found if each.kind == "missing_reading"] == cells


def test_a_pull_from_fast_to_slow_is_a_conflict() -> None:
    """The two speeds were most likely swapped."""
    found = pulled(pull_from_speed=50, pull_to_speed=30).discrepancies
    assert [(each.kind, each.field) for each in found] == [("readings_conflict", "pull_to_speed")]


def test_an_engine_without_repairs_has_none() -> None:
    """No work, no reading taken again, no pull: nothing to say."""
    diagnosis = diagnose(filled(healthy_engine=True))
    assert (diagnosis.repairs, diagnosis.retaken, diagnosis.notes) == ((), (), ())


@pytest.mark.parametrize(
    ("readings", "says"),
    [
        ({}, "Found: ignition timing late."),
        ({"after_timing": 3}, "Found: ignition timing late."),
        ({"after_timing": 8}, "Repaired and proven: ignition timing late."),
        ({"after_timing": 8, "fuel_pressure": 1.5}, "Found: ignition timing late; fuel pump pressure low."),
    ],
)
def test_headline_says_that_all_is_repaired(readings: Mapping[str, Any], says: str) -> None:
    """Only once the repair of every fault found is proven by readings taken again."""
    assert repaired("late_timing", timing=2, advance_reading=[8, 18], **readings).headline == says
