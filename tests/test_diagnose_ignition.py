"""Ignition and plugs as a mechanic judges them: readings in, findings and discrepancies out.

Every case starts from an engine with all tests made and in limits (tests/support/filled.py) and changes what
it names; what is not named must then yield nothing. Sources: rows of the common-practice table (late timing,
advance unit or line) have no published source; gap and dwell figures from US Navy Construction Mechanic Basic
Vol 2, Ch. 2 (0.025 in for four and six cylinders, 0.015 in for eight; dwell 30 degrees on eight) and TM
10-3930-653-14&P (dwell 49 to 55 degrees, gap 0.45 to 0.55 mm); the shift of timing with dwell from geometry.
"""

from __future__ import annotations

import pytest

from tests.support.filled import causes_of, diagnosis_of, finding, kinds_of

LOW_NEEDLE = {"idle_vacuum_low": 15.8, "idle_vacuum_high": 16.2}
DWELL_49_TO_55 = {"spec_dwell_min": 49.0, "spec_dwell_max": 55.0}


def timed(degrees: float) -> dict[str, object]:
    """Timing set to that, the advance readings moving with it as they do on an engine; eight is right."""
    return {"timing": degrees, "advance_reading": [6.0 + degrees, 16.0 + degrees]}


# why, what differs from the sound engine, findings, discrepancies
CASES = (
    (
        "Three degrees before top where eight are asked, tolerance two: five late.",
        timed(3),
        ["late_timing confirmed"],
        [],
    ),
    ("Six is the last that a tolerance of two allows.", timed(6), [], []),
    ("After top dead centre is written negative.", timed(-4), ["late_timing confirmed"], []),
    ("Thirteen for eight is early.", timed(13), ["early_timing confirmed"], []),
    (
        "The row of common practice: low steady vacuum and even compression, and the light finds it late.",
        {**timed(0), **LOW_NEEDLE},
        ["late_timing confirmed"],
        [],
    ),
    (
        "The same without the light: timing is only to be checked.",
        {"timing": None, "timing_speed": None, "advance_reading": None, "advance_speed": None, **LOW_NEEDLE},
        ["timing_suspected indicated"],
        [],
    ),
    (
        "Read at 1400 rpm the weights have begun to act: early, but to be read again at its speed.",
        {**timed(14), "timing_speed": 1400},
        ["early_timing confirmed provisional"],
        [],
    ),
    (
        "Fifty turns too fast change nothing.",
        {**timed(13), "timing_speed": 700},
        ["early_timing confirmed"],
        [],
    ),
    (
        "A timing without its speed is judged, and the speed asked for.",
        {**timed(3), "timing_speed": None},
        ["late_timing confirmed"],
        ["missing_reading timing_speed"],
    ),
    (
        "Gap before timing: 0.030 in where 0.018 to 0.022 belong.",
        {"point_gap": 0.030, **timed(12), "dwell": None},
        ["contact_gap confirmed", "early_timing confirmed provisional"],
        [],
    ),
    (
        "Dwell of 62 where 49 to 55 belong; the timing waits for it.",
        {"dwell": 62, **timed(0), **DWELL_49_TO_55},
        ["contact_gap confirmed", "late_timing confirmed provisional"],
        [],
    ),
    (
        "A gap out with timing right is a fault of its own.",
        {"point_gap": 0.012},
        ["contact_gap confirmed"],
        [],
    ),
    (
        "A wide gap leaves little dwell: both wide can't be.",
        {"point_gap": 0.030, "dwell": 66, **DWELL_49_TO_55},
        ["contact_gap confirmed"],
        ["readings_conflict dwell"],
    ),
    (
        "A wide gap and a small dwell say the same.",
        {"point_gap": 0.030, "dwell": 42, **DWELL_49_TO_55},
        ["contact_gap confirmed"],
        [],
    ),
    (
        "Four cylinders leave 90 degrees of the distributor's turn for each: 95 can't be, and is not used.",
        {"dwell": 95, **DWELL_49_TO_55, **timed(0)},
        ["late_timing confirmed"],
        ["implausible_entry dwell"],
    ),
    ("520 for 52.0 is a decimal point.", {"dwell": 520, **DWELL_49_TO_55}, [], ["decimal_doubt dwell"]),
    ("Worn contacts are replaced.", {"contacts": "worn"}, ["contact_points confirmed"], []),
    ("So are burned ones.", {"contacts": "burned"}, ["contact_points confirmed"], []),
    ("And contacts out of line.", {"contacts": "out of line"}, ["contact_points confirmed"], []),
    ("Pitted contacts speak of the condenser.", {"contacts": "pitted"}, ["condenser confirmed"], []),
    (
        "An electronic ignition has no points to be judged.",
        {
            "ignition_type": "electronic",
            "contacts": "worn",
            "point_gap": 0.040,
            "dwell": 20,
            **DWELL_49_TO_55,
        },
        [],
        [],
    ),
    (
        "A magneto has contacts, and a gap that moves its timing.",
        {"ignition_type": "magneto", "point_gap": 0.040, "dwell": None, **timed(2)},
        ["contact_gap confirmed", "late_timing confirmed provisional"],
        [],
    ),
    (
        "The row of common practice: the line carries the manifold's vacuum and nothing moves: the unit.",
        {"advance_unit_moves": "no", "advance_line_vacuum": 14.5, "manifold_vacuum_then": 15.0},
        ["vacuum_advance_unit confirmed"],
        [],
    ),
    (
        "The row of common practice: no vacuum in the line: the line.",
        {"advance_unit_moves": "no", "advance_line_vacuum": 0, "manifold_vacuum_then": 15.0},
        ["vacuum_advance_line confirmed"],
        [],
    ),
    (
        "Some of the vacuum: a torn unit bleeds the line as a leaking line does.",
        {"advance_unit_moves": "no", "advance_line_vacuum": 11, "manifold_vacuum_then": 15.0},
        ["vacuum_advance_unit possible", "vacuum_advance_line possible"],
        [],
    ),
    (
        "It comes up with the unit's end plugged: the unit leaks.",
        {
            "advance_unit_moves": "no",
            "advance_line_vacuum": 11,
            "manifold_vacuum_then": 15.0,
            "advance_line_vacuum_plugged": 14.5,
        },
        ["vacuum_advance_unit confirmed"],
        [],
    ),
    (
        "It stays low with its end plugged: the line.",
        {
            "advance_unit_moves": "no",
            "advance_line_vacuum": 11,
            "manifold_vacuum_then": 15.0,
            "advance_line_vacuum_plugged": 11.5,
        },
        ["vacuum_advance_line confirmed"],
        [],
    ),
    (
        "One inch less is still the same.",
        {"advance_unit_moves": "no", "advance_line_vacuum": 14, "manifold_vacuum_then": 15.0},
        ["vacuum_advance_unit confirmed"],
        [],
    ),
    (
        "With the throttle wide open there is nothing to compare.",
        {"advance_unit_moves": "no", "advance_line_vacuum": 0, "manifold_vacuum_then": 0.5},
        ["vacuum_advance_unit possible", "vacuum_advance_line possible"],
        [],
    ),
    (
        "A unit that does not move, line not read: either.",
        {"advance_unit_moves": "no"},
        ["vacuum_advance_unit possible", "vacuum_advance_line possible"],
        ["missing_reading advance_line_vacuum"],
    ),
    (
        "An empty line says something, but only beside the manifold.",
        {"advance_unit_moves": "no", "advance_line_vacuum": 0},
        ["vacuum_advance_line possible"],
        ["missing_reading manifold_vacuum_then"],
    ),
    (
        "No line carries more than what feeds it.",
        {"advance_unit_moves": "no", "advance_line_vacuum": 18, "manifold_vacuum_then": 12},
        ["vacuum_advance_unit possible", "vacuum_advance_line possible"],
        ["readings_conflict advance_line_vacuum"],
    ),
    (
        "A rotor that stays where it is turned.",
        {"rotor_springs_back": "no"},
        ["mechanical_advance confirmed"],
        [],
    ),
    ("A sluggish one too.", {"rotor_springs_back": "sluggish"}, ["mechanical_advance confirmed"], []),
    ("A wandering mark alone is a sign.", {"timing_mark": "wanders"}, ["mechanical_advance possible"], []),
    (
        "Not where there are no weights to stick.",
        {"timing_mark": "wanders", "rotor_springs_back": "not fitted"},
        [],
        [],
    ),
    (
        "An engine without vacuum advance is not asked for its line.",
        {"advance_unit_moves": "not fitted"},
        [],
        [],
    ),
    (
        "At 2000 rpm a third of the way from 16..22 to 26..32 asks for 19.3 to 25.3: 17 is too little.",
        {"advance_reading": [14.0, 17.0]},
        ["mechanical_advance confirmed"],
        [],
    ),
    (
        "Four degrees late all along the curve is the distributor, not the weights.",
        timed(4),
        ["late_timing confirmed"],
        [],
    ),
    (
        "A curve out of its band with the initial timing unknown is provisional.",
        {"timing": None, "timing_speed": None, "advance_reading": [14.0, 17.0]},
        ["mechanical_advance confirmed provisional"],
        [],
    ),
    ("A weak spark.", {"spark": "weak"}, ["weak_spark confirmed"], []),
    ("No spark on a lead.", {"spark": "none"}, ["weak_spark confirmed"], []),
    (
        "Soot with the mixture right, spark not tested.",
        {"spark": None, "plug_look": "dry soot"},
        ["weak_spark possible"],
        [],
    ),
    (
        "Soot and unburned gas are two signs.",
        {
            "spark": None,
            "plug_look": "dry soot",
            "gas_co_2": 0.93,
            "gas_hc_2": 1608,
            "gas_co2_2": 12.7,
            "gas_o2_2": 2.47,
        },
        ["weak_spark indicated"],
        [],
    ),
    (
        "A worn plug is unfit, whatever its gap.",
        {"plug_look": {3: "cracked or worn"}},
        ["plug_fault 3 confirmed"],
        [],
    ),
    (
        "Two plugs with their gap out are two findings.",
        {"plug_gap": {2: 0.050, 4: 0.025}},
        ["plug_fault 2 confirmed", "plug_fault 4 confirmed"],
        [],
    ),
    (
        "Weak on the balance though compression is normal and the plug looks right: its lead next.",
        {"speed_drop": {2: 10}},
        ["weak_spark 2 possible"],
        [],
    ),
    (
        "The same with the plug not looked at: plug, lead or mixture.",
        {"speed_drop": {2: 10}, "plug_look": None, "plug_gap": None},
        ["plug_fault 2 possible"],
        [],
    ),
    (
        "A plug wet with fuel in the weak cylinder did not fire: two signs.",
        {"speed_drop": {2: 10}, "plug_look": {2: "wet with fuel"}},
        ["plug_fault 2 indicated"],
        [],
    ),
    (
        "A cracked plug in the weak cylinder.",
        {"speed_drop": {2: 10}, "plug_look": {2: "cracked or worn"}},
        ["plug_fault 2 confirmed"],
        [],
    ),
    (
        "Weak with low compression supports the valve, not the plug.",
        {
            "speed_drop": {2: 10},
            "compression_first": {2: 70},
            "compression_dry": {2: 95},
            "compression_wet": {2: 98, 3: 150},
            "leakdown": None,
        },
        ["leaking_valve 2 confirmed"],
        [],
    ),
    (
        "Sound spark and even compression, and still unburned charges: a plug or a lead.",
        {"gas_co_2": 0.93, "gas_hc_2": 1608, "gas_co2_2": 12.7, "gas_o2_2": 2.47},
        ["plug_fault possible"],
        [],
    ),
    (
        "Late timing and a low cylinder at once stay two findings.",
        {
            **timed(2),
            "compression_first": {3: 66},
            "compression_dry": {3: 90},
            "compression_wet": {3: 95, 1: 150},
            "leakdown": None,
        },
        ["leaking_valve 3 confirmed", "late_timing confirmed"],
        [],
    ),
)


@pytest.mark.parametrize(("why", "readings", "causes", "kinds"), CASES, ids=[case[0] for case in CASES])
def test_ignition_case(why: str, readings: dict[str, object], causes: list[str], kinds: list[str]) -> None:
    """Each case yields its findings and discrepancies, and none besides."""
    found = diagnosis_of(healthy_engine=True, **readings)
    assert causes_of(found) == causes, why
    assert kinds_of(found) == kinds, why


SHIFTS = (
    (
        "Ten degrees too much dwell: set right, the spark comes ten degrees earlier.",
        62,
        0,
        "10° earlier",
        "10 ° BTDC",
    ),
    ("Six too little: six later.", 46, 14, "6° later", "8 ° BTDC"),
)


@pytest.mark.parametrize(
    ("why", "dwell", "timing", "moved", "then"), SHIFTS, ids=[case[0] for case in SHIFTS]
)
def test_timing_says_what_the_dwell_will_do(
    why: str, dwell: float, timing: float, moved: str, then: str
) -> None:
    """A timing with the dwell out says how far setting the dwell moves it (1 crank degree a degree:
    geometry).
    """
    found = diagnosis_of(healthy_engine=True, dwell=dwell, **timed(timing), **DWELL_49_TO_55)
    late_or_early = next(each for each in found.findings if each.cause in ("late_timing", "early_timing"))
    assert (
        moved in late_or_early.statement and f"to {then}, which would be in limits" in late_or_early.statement
    ), why
    assert late_or_early.provisional and "points" in late_or_early.next_step


def test_eight_cylinders_metric() -> None:
    """The Navy's eight-cylinder figures in millimetres: 0.38 mm and 30 degrees are right, 0.60 mm is not."""
    specified = {
        "spec_point_gap_min": 0.35,
        "spec_point_gap_max": 0.41,
        "spec_dwell_min": 28,
        "spec_dwell_max": 32,
    }
    right = diagnosis_of(8, "metric", healthy_engine=True, point_gap=0.38, dwell=30, **specified)
    wide = diagnosis_of(8, "metric", healthy_engine=True, point_gap=0.60, dwell=30, **specified)
    assert causes_of(right) == [] and causes_of(wide) == ["contact_gap confirmed"]


def test_evidence_names_cell_and_value() -> None:
    """A finding shows the cells it rests on, its rule, a source, a next step and the caution of its work."""
    late = finding(diagnosis_of(healthy_engine=True, **timed(3), **LOW_NEEDLE), "late_timing")
    shown = {each.field: each.value for each in late.evidence}
    assert shown["timing"] == 3 and shown["spec_timing"] == 8 and shown["timing_error"] == -5
    assert shown["idle_vacuum_low"] == 15.8 and all(each.cell for each in late.evidence)
    assert late.source and late.next_step and "fan" in late.caution
