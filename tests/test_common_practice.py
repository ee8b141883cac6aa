"""Published readings and common practice, each as a whole job: a workbook made, filled and checked must lead to that cause.

Common practice has no published source; the published rules name theirs beside the case. Sources:
    OD1001                  US Army Ordnance course OD1001, Lesson 3/Learning Event 2, pp. 87 and 89 (vacuum gauge)
    TM 5-4210-230-14&P-1    Addendum 2 (compression test: 75 %, wet test, neighbours)
    TM 10-3930-618-20       para 2-12 (spread of 10 psi, normal 120 to 125 psi), para 2-13 (exhaust)
    TM 10-3930-647-14&P     para 4-40 (10 psi above normal, two adjacent even and low)
    TM 10-3930-653-14&P     section 4-1-1 (difference under 1.0 kgf/cm2, standard 11.0 kgf/cm2)
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tests.support.filled import causes_of, diagnosis_of, kinds_of, shape_of
from tests.support.forms import blank_form
from workbook_tools import check_workbook, fill_workbook
from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.language.model import UnitSystem

#: A warm engine with its idle right; contact points, timed at 6 degrees.
WARM: dict[str, Any] = {
    "ignition_type": "contact points",
    "spec_operating_temp_min": 170,
    "spec_idle_speed_min": 550,
    "spec_idle_speed_max": 650,
    "spec_timing": 6,
    "coolant_temperature": 185,
    "idle_speed": 600,
    "spec_point_gap_min": 0.016,
    "spec_point_gap_max": 0.020,
}
TESTED = {"throttle_held_open": "yes", "all_plugs_out": "yes", "compression_strokes": 5}
SOUND = WARM | TESTED | {f"compression_dry_{n}": psi for n, psi in enumerate((122, 124, 121, 123), start=1)}
IGNITION = {"timing": 6, "timing_speed": 600, "point_gap": 0.018}
INTAKE = {"cranking_vacuum": 17, "cranking_vacuum_rise": "fast", "fuel_pressure": 3.0}
STEADY = {"needle": "steady", "idle_vacuum_low": 19.6, "idle_vacuum_high": 20}
LOW = {"needle": "steady", "idle_vacuum_low": 15, "idle_vacuum_high": 15.4}
LEAN = {"running_speed": 2000, "running_vacuum": 14, "running_vacuum_choked": 18.5}
BURNED = SOUND | {"compression_dry_3": 80, "compression_wet_3": 90, "compression_wet_1": 132}
GASKET = SOUND | {"compression_dry_2": 80, "compression_dry_3": 84, "compression_wet_1": 132}
GASKET |= {"compression_wet_2": 89, "compression_wet_3": 93}


@dataclass(frozen=True)
class Practice:
    """A fact of the trade, readings that show it, and the finding it must lead to (None: nothing may be found)."""

    fact: str
    readings: dict[str, Any]
    cause: str | None
    cylinders: tuple[int, ...] = ()
    never: tuple[str, ...] = field(default=())


COMMON_PRACTICE = (
    Practice(
        "steady idle vacuum, warm, sea level: 18 inHg is in range",
        SOUND | STEADY | {"idle_vacuum_low": 18, "idle_vacuum_high": 18},
        None,
    ),
    Practice(
        "steady idle vacuum, warm, sea level: 21 inHg is in range",
        SOUND | STEADY | {"idle_vacuum_low": 21, "idle_vacuum_high": 21},
        None,
    ),
    Practice("cylinders 10 psi apart are even", SOUND | {"compression_dry_2": 114}, None),
    Practice(
        "cylinders more than 10 psi apart are not", SOUND | {"compression_dry_2": 111}, "leaking_valve", (2,)
    ),
    Practice(
        "two neighbours equally low: gasket between them", GASKET, "head_gasket", (2, 3), ("leaking_valve",)
    ),
    Practice(
        "oil raises a low reading: rings",
        BURNED | {"compression_wet_3": 118},
        "worn_rings",
        (3,),
        ("leaking_valve",),
    ),
    Practice("oil does not raise it: valve", BURNED, "leaking_valve", (3,), ("worn_rings",)),
    Practice("low steady vacuum, compression normal: timing to be checked", SOUND | LOW, "timing_suspected"),
    Practice(
        "low steady vacuum, compression normal, and the light: late",
        SOUND | LOW | IGNITION | {"timing": -3},
        "late_timing",
    ),
    Practice(
        "distributor line has the manifold's vacuum and nothing moves: unit",
        SOUND
        | IGNITION
        | {"advance_unit_moves": "no", "advance_line_vacuum": 15, "manifold_vacuum_then": 15},
        "vacuum_advance_unit",
        never=("vacuum_advance_line",),
    ),
    Practice(
        "distributor line has no vacuum: line",
        SOUND | IGNITION | {"advance_unit_moves": "no", "advance_line_vacuum": 0, "manifold_vacuum_then": 15},
        "vacuum_advance_line",
        never=("vacuum_advance_unit",),
    ),
    Practice(
        "cranking, throttle closed: 15 inHg is enough",
        SOUND | {"cranking_vacuum": 15, "cranking_vacuum_rise": "fast"},
        None,
    ),
    Practice("cranking, throttle closed: 12 inHg is a leak", SOUND | {"cranking_vacuum": 12}, "intake_leak"),
    Practice(
        "cranking, throttle closed: slow to rise is a leak",
        SOUND | {"cranking_vacuum": 16, "cranking_vacuum_rise": "slow"},
        "intake_leak",
    ),
    Practice(
        "still low after tightening the manifold: cracked manifold or burned heat riser",
        SOUND | {"cranking_vacuum": 10, "cranking_vacuum_retest": 10.5},
        "manifold_or_heat_riser",
        never=("intake_leak",),
    ),
    Practice(
        "idle mixture right: highest steady needle",
        SOUND
        | IGNITION
        | INTAKE
        | {
            "needle": "slow wander",
            "idle_vacuum_low": 16,
            "idle_vacuum_high": 18,
            "mixture_best_vacuum": 19.5,
        },
        "idle_mixture",
    ),
    Practice(
        "needle falls back at set throttle, the choke restores it: lean",
        SOUND | IGNITION | LEAN,
        "lean_mixture",
        never=("carburettor",),
    ),
    Practice("pump pressure 2.6 psi is right", SOUND | INTAKE | {"fuel_pressure": 2.6}, None),
    Practice("pump pressure 3.5 psi is not over 3.5", SOUND | INTAKE | {"fuel_pressure": 3.5}, None),
    Practice("pump pressure under 2.5 psi", SOUND | INTAKE | {"fuel_pressure": 2.2}, "low_fuel_pressure"),
    Practice("pump pressure over 3.5 psi", SOUND | INTAKE | {"fuel_pressure": 4.2}, "high_fuel_pressure"),
    Practice(
        "pump pressure right and still lean: carburettor", SOUND | IGNITION | INTAKE | LEAN, "carburettor"
    ),
)

PUBLISHED = (
    Practice("OD1001 p. 87: steady near 20 inHg at idle is normal", SOUND | STEADY, None),
    Practice(
        "OD1001 p. 87: 1 inHg less for each 1000 ft, 15 inHg at 5000 ft is normal",
        SOUND | STEADY | {"site_elevation": 5000, "idle_vacuum_low": 15, "idle_vacuum_high": 15},
        None,
    ),
    Practice(
        "OD1001 p. 87: throttle snapped, to 2 and then 25 inHg, is normal",
        SOUND | STEADY | {"snap_vacuum_low": 2, "snap_vacuum_high": 25},
        None,
    ),
    Practice(
        "OD1001 p. 89: slow float between 12 and 16: mixture",
        SOUND | {"needle": "slow wander", "idle_vacuum_low": 12, "idle_vacuum_high": 16},
        "idle_mixture",
    ),
    Practice(
        "OD1001 p. 89 and TM 10-3930-618-20 para 2-13: normal, then falling while running: exhaust",
        SOUND | IGNITION | STEADY | {"needle_with_speed": "falls slowly while held"},
        "exhaust_restriction",
    ),
    Practice("OD1001 p. 89: steady below normal: ignition timing", SOUND | LOW, "timing_suspected"),
    Practice(
        "OD1001 p. 89: steady below normal: manifold gasket, where the timing is right",
        SOUND | LOW | IGNITION | {"cranking_vacuum": 11},
        "intake_leak",
        never=("timing_suspected", "late_timing"),
    ),
    Practice(
        "OD1001 p. 89: steady below normal with low compression everywhere: rings",
        WARM
        | TESTED
        | LOW
        | {"spec_compression_min": 110}
        | {f"compression_dry_{n}": 70 for n in (1, 2, 3, 4)}
        | {f"compression_wet_{n}": 104 for n in (1, 2, 3, 4)},
        "general_wear",
        (1, 2, 3, 4),
    ),
    Practice(
        "OD1001 p. 89: steady below normal with low compression everywhere and no help from oil: valve timing jumped",
        WARM
        | TESTED
        | LOW
        | {"spec_compression_min": 110}
        | {f"compression_dry_{n}": 70 for n in (1, 2, 3, 4)}
        | {f"compression_wet_{n}": 72 for n in (1, 2, 3, 4)},
        "valve_timing",
        (1, 2, 3, 4),
    ),
    Practice(
        "OD1001 p. 89: regular drop of 3 to 6 inHg: valve, until compression is gauged",
        WARM | {"needle": "evenly spaced drops", "idle_vacuum_low": 15, "idle_vacuum_high": 19.5},
        "leaking_valve",
    ),
    Practice(
        "OD1001 p. 89: regular drop: head gasket, where it swings wide",
        WARM | {"needle": "wide regular swing", "idle_vacuum_low": 9, "idle_vacuum_high": 19},
        "head_gasket",
    ),
    Practice(
        "OD1001 p. 89: occasional drop: sticking valve",
        SOUND | {"needle": "occasional drops", "idle_vacuum_low": 16, "idle_vacuum_high": 20},
        "sticking_valve",
    ),
    Practice(
        "TM 5-4210-230-14&P-1: lowest under 75 % of the highest",
        SOUND
        | {
            "spec_compression_spread": 60,
            "compression_dry_3": 90,
            "compression_wet_3": 120,
            "compression_wet_1": 132,
        },
        "worn_rings",
        (3,),
    ),
    Practice(
        "TM 5-4210-230-14&P-1: 75 % of the highest is enough",
        SOUND | {"spec_compression_spread": 60, "compression_dry_3": 93},
        None,
    ),
    Practice(
        "TM 10-3930-618-20 para 2-12: 120 to 125 psi, 10 psi apart at most, is normal",
        SOUND | {"spec_compression_min": 110},
        None,
    ),
    Practice(
        "TM 10-3930-647-14&P para 4-40: more than 10 psi above normal: deposits",
        SOUND | {"spec_compression_max": 135} | {f"compression_dry_{n}": 138 for n in (1, 2, 3, 4)},
        "carbon_deposits",
        (1, 2, 3, 4),
    ),
    Practice(
        "TM 10-3930-647-14&P para 4-40: two adjacent even and low: gasket", GASKET, "head_gasket", (2, 3)
    ),
)

#: 11.0 kgf/cm2 is 1078.7 kPa, a difference of 1.0 is 98.07 kPa (1 kgf/cm2 = 98.0665 kPa exactly).
KGF = 98.0665
METRIC = {
    "spec_operating_temp_min": 77,
    "coolant_temperature": 85,
    "idle_speed": 600,
    "spec_compression_spread": KGF,
    "compression_strokes": 5,
    "throttle_held_open": "yes",
    "all_plugs_out": "yes",
}


def found_in_file(readings: dict[str, Any], folder: Path, units: UnitSystem = "us") -> Diagnosis:
    """The diagnosis of readings that went the whole way: a new workbook, filled, checked."""
    blank_form(folder / "form.xlsx", shape_of(4, units))
    fill_workbook(folder / "form.xlsx", readings, folder / "job.xlsx")
    return check_workbook(folder / "job.xlsx", out_dir=folder / "checked").diagnosis


def judge(practice: Practice, found: Diagnosis) -> None:
    """Fail where the readings do not lead to the cause, or lead to one that they speak against."""
    if practice.cause is None:
        assert (causes_of(found), kinds_of(found)) == ([], [])
        return
    led_to = [(each.cause, each.cylinders) for each in found.findings]
    assert (practice.cause, practice.cylinders) in led_to, causes_of(found)
    assert not {cause for cause, _ in led_to} & set(practice.never), causes_of(found)


@pytest.mark.parametrize("practice", COMMON_PRACTICE, ids=lambda practice: practice.fact)
def test_common_practice_leads_to_its_cause(practice: Practice, tmp_path: Path) -> None:
    """Each row of common practice, as a real workbook, leads to that cause (common practice, no source)."""
    judge(practice, found_in_file(practice.readings, tmp_path))


@pytest.mark.parametrize("practice", PUBLISHED, ids=lambda practice: practice.fact)
def test_published_rule_leads_to_its_cause(practice: Practice) -> None:
    """Each published needle reading and compression rule leads to the cause that its manual names."""
    judge(practice, diagnosis_of(**practice.readings))


@pytest.mark.parametrize(("least", "low"), [(10.05, False), (9.95, True)])
def test_difference_of_one_kilogram(least: float, low: bool, tmp_path: Path) -> None:
    """TM 10-3930-653-14&P section 4-1-1: standard 11.0 kgf/cm2, cylinders less than 1.0 apart, typed as read."""
    typed = {f"compression_dry_{n}": "11.0 kg/cm2" for n in (1, 2, 4)} | {
        "compression_dry_3": f"{least} kg/cm2"
    }
    found = found_in_file(METRIC | typed, tmp_path, "metric")
    assert bool(found.findings) is low, causes_of(found)
    assert {each.cylinders for each in found.findings} == ({(3,)} if low else set())


def test_twenty_percent_below_the_average(tmp_path: Path) -> None:
    """TM 1-1500-204-23-1: a cylinder 20 % below the average is rejected; the rules of spread reject it too."""
    readings = SOUND | {"compression_dry_3": 90}
    dry = [readings[f"compression_dry_{n}"] for n in (1, 2, 3, 4)]
    assert dry[2] < 0.8 * sum(dry) / 4
    assert {each.cylinders for each in found_in_file(readings, tmp_path).findings} == {(3,)}
