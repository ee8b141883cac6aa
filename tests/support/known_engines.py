"""Invented engines with a known fault: what every test of the form would read on them, and the shortest way to prove it.

    engine("late_timing", shape, rng)       readings by cell name, in the shape's units
    TESTS_OF_A_MASTER["late_timing"]        the tests that prove this fault soonest, written down by hand

The readings are those of a sound engine (`filled.healthy`) with what the fault does to them, as handbooks and mechanics
describe it (common practice, no source; the needle: US Army OD1001, vacuum lesson). They know nothing of the guide:
they were written before its table of what each cause shows.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping

from tests.support.filled import _in_units, defaults, healthy, spread
from workbook_tools.language.model import Shape

Readings = dict[str, object]
Fault = Callable[[Shape, random.Random], Readings]

#: The complaint that a customer with this fault usually comes with.
COMPLAINT_OF = {
    "engine_overheated": "overheats",
    "low_oil_pressure": "knocks",
    "slow_cranking": "hard starting",
    "worn_rings": "uses oil",
    "leaking_valve": "rough idle",
    "head_gasket": "rough idle",
    "worn_valve_guides": "uses oil",
    "tight_valves": "rough idle",
    "valve_timing": "lacks power",
    "general_wear": "uses oil",
    "carbon_deposits": "knocks",
    "late_timing": "lacks power",
    "early_timing": "knocks",
    "vacuum_advance_unit": "high fuel use",
    "vacuum_advance_line": "high fuel use",
    "mechanical_advance": "lacks power",
    "contact_gap": "misfires",
    "contact_points": "hard starting",
    "condenser": "misfires",
    "weak_spark": "misfires",
    "plug_fault": "misfires",
    "intake_leak": "rough idle",
    "manifold_or_heat_riser": "rough idle",
    "heat_riser_stuck": "stalls",
    "idle_mixture": "stalls",
    "lean_mixture": "lacks power",
    "rich_mixture": "high fuel use",
    "low_fuel_pressure": "lacks power",
    "high_fuel_pressure": "high fuel use",
    "low_fuel_delivery": "lacks power",
    "carburettor": "lacks power",
    "air_cleaner": "high fuel use",
    "exhaust_restriction": "lacks power",
}
#: What a fault brings with it: found beside it, and no mistake.
BRINGS = {
    "contact_gap": ("late_timing", "weak_spark"),
    "condenser": ("weak_spark", "contact_points"),
    "intake_leak": ("lean_mixture", "idle_mixture"),
    "manifold_or_heat_riser": ("lean_mixture", "intake_leak"),
    "low_fuel_pressure": ("lean_mixture", "low_fuel_delivery"),
    "low_fuel_delivery": ("lean_mixture",),
    "carburettor": ("lean_mixture",),
    "lean_mixture": ("carburettor",),
    "high_fuel_pressure": ("rich_mixture",),
    "air_cleaner": ("rich_mixture",),
}

#: The beginnings of the readings that alone decide each fault: these are never replaced where others mislead.
DECIDING_READINGS: dict[str, tuple[str, ...]] = {
    "engine_overheated": ("coolant_",),
    "low_oil_pressure": ("oil_",),
    "slow_cranking": ("battery_cranking", "cranking_speed"),
    "worn_rings": ("compression_", "leak", "throttle_held", "all_plugs"),
    "leaking_valve": ("compression_", "leak", "throttle_held", "all_plugs"),
    "head_gasket": ("compression_", "leak", "throttle_held", "all_plugs"),
    "worn_valve_guides": ("needle", "valve_clearance"),
    "tight_valves": ("valve_clearance", "needle_after"),
    "valve_timing": ("compression_", "throttle_held", "all_plugs"),
    "general_wear": ("compression_", "leak", "throttle_held", "all_plugs"),
    "carbon_deposits": ("compression_", "throttle_held", "all_plugs"),
    "late_timing": ("timing",),
    "early_timing": ("timing",),
    "vacuum_advance_unit": ("advance_", "manifold_vacuum_then"),
    "vacuum_advance_line": ("advance_", "manifold_vacuum_then"),
    "mechanical_advance": ("rotor_", "advance_"),
    "contact_gap": ("point_gap", "dwell"),
    "contact_points": ("contacts",),
    "condenser": ("contacts",),
    "weak_spark": ("spark",),
    "plug_fault": ("plug_",),
    "intake_leak": ("cranking_vacuum", "hoses_", "carburettor_base"),
    "manifold_or_heat_riser": ("cranking_vacuum", "hoses_", "carburettor_base", "heat_riser"),
    "heat_riser_stuck": ("heat_riser",),
    "idle_mixture": ("needle", "mixture_best", "idle_vacuum"),
    "lean_mixture": ("running_", "gas_"),
    "rich_mixture": ("gas_",),
    "low_fuel_pressure": ("fuel_pressure",),
    "high_fuel_pressure": ("fuel_pressure",),
    "low_fuel_delivery": ("fuel_delivery",),
    "carburettor": ("running_", "gas_", "cranking_vacuum", "fuel_"),
    "air_cleaner": ("air_cleaner",),
    "exhaust_restriction": ("backpressure", "needle_with_speed"),
}

#: A complaint that sends the mechanic the wrong way.
MISLEADING = {
    fault: {"uses oil": "misfires", "knocks": "uses oil", "high fuel use": "knocks"}.get(
        complaint, "uses oil"
    )
    for fault, complaint in COMPLAINT_OF.items()
}

#: The tests that confirm each fault soonest, in their order, by hand: what has to come before is there too (a warm
#: engine before the needle and the light, the dry test before the wet one, the gap before the timing).
TESTS_OF_A_MASTER: dict[str, tuple[str, ...]] = {
    "engine_overheated": ("readiness",),
    "low_oil_pressure": ("readiness",),
    "slow_cranking": ("battery and starter",),
    "worn_rings": ("readiness", "idle vacuum", "dry compression", "wet compression"),
    "leaking_valve": ("readiness", "idle vacuum", "dry compression", "wet compression"),
    "head_gasket": ("readiness", "idle vacuum", "dry compression", "wet compression"),
    "worn_valve_guides": ("readiness", "idle vacuum", "valve clearance"),
    "tight_valves": ("readiness", "idle vacuum", "valve clearance"),
    "valve_timing": ("readiness", "idle vacuum", "dry compression", "wet compression"),
    "general_wear": ("readiness", "idle vacuum", "dry compression", "wet compression"),
    "carbon_deposits": ("readiness", "dry compression"),
    "late_timing": ("readiness", "idle vacuum", "contacts and dwell", "timing by the light"),
    "early_timing": ("readiness", "contacts and dwell", "timing by the light"),
    "vacuum_advance_unit": ("readiness", "advance unit", "vacuum in the advance line"),
    "vacuum_advance_line": ("readiness", "advance unit", "vacuum in the advance line"),
    "mechanical_advance": ("rotor springs back",),
    "contact_gap": ("contacts and dwell",),
    "contact_points": ("contacts and dwell",),
    "condenser": ("contacts and dwell",),
    "weak_spark": ("spark at a lead",),
    "plug_fault": ("spark at a lead", "plugs"),
    "intake_leak": ("readiness", "idle vacuum", "cranking vacuum", "retest after tightening"),
    "manifold_or_heat_riser": (
        "readiness",
        "idle vacuum",
        "cranking vacuum",
        "retest after tightening",
        "carburettor base tested",
        "hoses pinched off",
    ),
    "heat_riser_stuck": ("heat riser",),
    "idle_mixture": ("readiness", "idle vacuum", "idle mixture"),
    "lean_mixture": ("readiness", "running mixture and choke"),
    "rich_mixture": ("readiness", "exhaust gas"),
    "low_fuel_pressure": ("fuel pressure",),
    "high_fuel_pressure": ("fuel pressure",),
    "low_fuel_delivery": ("fuel pressure", "fuel delivery"),
    "carburettor": ("readiness", "cranking vacuum", "running mixture and choke", "fuel pressure"),
    "air_cleaner": ("air cleaner",),
    "exhaust_restriction": ("readiness", "idle vacuum", "back-pressure"),
}


def engine(fault: str, shape: Shape, rng: random.Random, *more: str) -> Readings:
    """What every test would read on an engine with this fault (and more of them), by cell name.

    A later fault's readings take the place of an earlier one's where both touch a reading.
    """
    found = dict(defaults(shape))
    for readings in (
        healthy(shape),
        _read_by_a_thorough_man(shape, rng),
        *(FAULTS[each](shape, rng) for each in (fault, *more)),
    ):
        for name, reading in readings.items():
            found |= spread(shape, name, reading)
    if found["needle"] != "steady" and fault != "tight_valves":
        found["needle_after_valve_adjustment"] = "unchanged"
    return found


def sound(shape: Shape) -> Readings:
    """What every test would read on an engine without a fault."""
    found = dict(defaults(shape))
    for name, reading in {**healthy(shape), **_read_by_a_thorough_man(shape, random.Random(0))}.items():
        found |= spread(shape, name, reading)
    return found


def _in(shape: Shape, **us: object) -> Readings:
    return {name: _scaled(shape, name, reading) for name, reading in us.items()}


def _scaled(shape: Shape, name: str, reading: object) -> object:
    if isinstance(reading, dict):
        return {n: _in_units(shape, name, each) for n, each in reading.items()}
    return _in_units(shape, name, reading)


def _read_by_a_thorough_man(shape: Shape, rng: random.Random) -> Readings:
    """What `healthy` leaves out because a sound engine does not call for it."""
    return _in(
        shape,
        compression_wet={n: 151.0 + n % 3 for n in range(1, shape.cylinders + 1)},
        leak_heard_at="nowhere",
        cranking_vacuum_retest=17.5 if shape.cylinders > 2 else 8.0,
        hoses_pinched="no change",
        carburettor_base_tested="no change",
        running_vacuum_choked=19.0 if shape.cylinders > 2 else 12.0,
        advance_line_vacuum=15.0,
        manifold_vacuum_then=15.2,
        advance_line_vacuum_plugged=15.2,
        needle_after_valve_adjustment="steady",
    )


def _one(shape: Shape, rng: random.Random) -> int:
    return rng.randint(1, shape.cylinders)


def _pair(shape: Shape, rng: random.Random) -> tuple[int, int]:
    bank = rng.choice([bank for bank in shape.banks if len(bank) > 1])
    place = rng.randrange(len(bank) - 1)
    return bank[place], bank[place + 1]


def _all(shape: Shape, reading: float, spread_by: float = 1.0) -> dict[int, float]:
    return {n: reading + spread_by * (n % 3) for n in range(1, shape.cylinders + 1)}


def _needle(shape: Shape, word: str) -> str:
    """One and two cylinders swing the needle at every stroke: no pattern is told there."""
    return word if shape.cylinders > 2 else "evenly spaced drops"


def _overheated(shape: Shape, rng: random.Random) -> Readings:
    return _in(shape, coolant_temperature=rng.choice((222.0, 226.0, 228.0)))


def _low_oil(shape: Shape, rng: random.Random) -> Readings:
    return _in(shape, oil_pressure=rng.choice((9.0, 12.0, 15.0)))


def _slow_starter(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        battery_rest=11.9,
        battery_cranking=rng.choice((8.2, 8.8)),
        cranking_speed=rng.choice((95.0, 110.0)),
    )


def _rings(shape: Shape, rng: random.Random) -> Readings:
    k, low = _one(shape, rng), rng.choice((88.0, 95.0, 102.0))
    return _in(
        shape,
        compression_first={k: 42.0},
        compression_dry={k: low},
        compression_wet={k: 140.0},
        leakdown={k: 38.0},
        leak_heard_at={k: "oil filler"},
        plug_look={k: "oily"},
        speed_drop={k: 22.0},
        idle_vacuum_low=15.6,
        idle_vacuum_high=18.6,
        needle=_needle(shape, "evenly spaced drops"),
        snap_vacuum_low=0.5,
        snap_vacuum_high=20.5,
    )


def _valve(shape: Shape, rng: random.Random) -> Readings:
    k, low = _one(shape, rng), rng.choice((60.0, 75.0, 92.0))
    return _in(
        shape,
        compression_first={k: low - 15},
        compression_dry={k: low},
        compression_wet={k: low + 7},
        leakdown={k: rng.choice((45.0, 62.0))},
        leak_heard_at={k: rng.choice(("exhaust", "exhaust", "intake"))},
        speed_drop={k: 12.0},
        idle_vacuum_low=14.0,
        idle_vacuum_high=19.0,
        needle=_needle(shape, "evenly spaced drops"),
        gas_hc=[700.0, 650.0],
        gas_o2=[2.4, 2.2],
        gas_co2=[12.6, 13.0],
    )


def _gasket(shape: Shape, rng: random.Random) -> Readings:
    one, other = _pair(shape, rng)
    low = rng.choice((78.0, 90.0))
    return _in(
        shape,
        compression_first={one: 55.0, other: 57.0},
        compression_dry={one: low, other: low + 3},
        compression_wet={one: low + 6, other: low + 8},
        leakdown={one: 48.0, other: 45.0},
        leak_heard_at={one: "next cylinder", other: "next cylinder"},
        speed_drop={one: 18.0, other: 16.0},
        idle_vacuum_low=11.0,
        idle_vacuum_high=18.5,
        needle=_needle(shape, "wide regular swing"),
    )


def _guides(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        idle_vacuum_low=17.4,
        idle_vacuum_high=18.6,
        needle=_needle(shape, "fast flutter"),
        needle_with_speed="steadies",
        needle_after_valve_adjustment="unchanged",
        plug_look={_one(shape, rng): "oily"},
    )


def _tight(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        valve_clearance="too tight",
        needle=_needle(shape, "fast flutter"),
        idle_vacuum_low=17.2,
        idle_vacuum_high=18.4,
        needle_after_valve_adjustment="steady",
    )


def _valve_timing(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        compression_first=_all(shape, 60.0),
        compression_dry=_all(shape, 96.0),
        compression_wet=_all(shape, 101.0),
        idle_vacuum_low=9.6,
        idle_vacuum_high=10.0,
        snap_vacuum_high=20.0,
        cranking_vacuum=10.5,
        cranking_vacuum_retest=10.5,
        running_vacuum=13.5,
        running_vacuum_choked=13.0,
        raised_vacuum_start=13.0,
        raised_vacuum_held=13.0,
        mixture_best_vacuum=10.2,
    )


def _wear(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        compression_first=_all(shape, 40.0),
        compression_dry=_all(shape, 100.0),
        compression_wet=_all(shape, 138.0),
        leakdown=_all(shape, 34.0),
        leak_heard_at="oil filler",
        plug_look="oily",
        idle_vacuum_low=15.2,
        idle_vacuum_high=15.6,
        snap_vacuum_low=0.5,
        snap_vacuum_high=20.0,
        cranking_vacuum=12.5,
        cranking_vacuum_retest=12.5,
        oil_pressure=28.0,
        running_vacuum=16.0,
        running_vacuum_choked=15.6,
        mixture_best_vacuum=15.6,
    )


def _carbon(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        compression_first=_all(shape, 118.0),
        compression_dry=_all(shape, 181.0),
        compression_wet=_all(shape, 184.0),
    )


def _late(shape: Shape, rng: random.Random) -> Readings:
    late = rng.choice((7.0, 9.0, 11.0))
    return _in(
        shape,
        timing=8.0 - late,
        idle_vacuum_low=15.2,
        idle_vacuum_high=15.6,
        running_vacuum=17.4,
        running_vacuum_choked=16.6,
        raised_vacuum_start=18.2,
        raised_vacuum_held=18.1,
        advance_reading=[14.0 - late, 24.0 - late],
        mixture_best_vacuum=15.7,
        coolant_temperature=198.0,
    )


def _early(shape: Shape, rng: random.Random) -> Readings:
    early = rng.choice((6.0, 7.0))
    return _in(
        shape,
        timing=8.0 + early,
        idle_vacuum_low=21.6,
        idle_vacuum_high=22.0,
        advance_reading=[14.0 + early, 24.0 + early],
        mixture_best_vacuum=21.8,
    )


def _advance_unit(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        advance_unit_moves="no",
        advance_line_vacuum=15.0,
        manifold_vacuum_then=15.2,
        advance_line_vacuum_plugged=15.1,
    )


def _advance_line(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        advance_unit_moves="no",
        advance_line_vacuum=0.0,
        manifold_vacuum_then=15.2,
        advance_line_vacuum_plugged=0.3,
    )


def _weights(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        rotor_springs_back=rng.choice(("no", "sluggish")),
        timing_mark="wanders",
        advance_reading=[9.0, 11.0],
        raised_vacuum_start=18.5,
        raised_vacuum_held=18.5,
    )


def _gap(shape: Shape, rng: random.Random) -> Readings:
    largest = min(360 / shape.cylinders, 180)
    return _in(
        shape,
        contacts="good",
        point_gap=0.010,
        dwell=round(0.74 * largest, 1),
        timing=4.0,
        advance_reading=[10.0, 20.0],
        gas_hc=[650.0, 420.0],
        gas_o2=[2.1, 1.8],
    )


def _points(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        contacts=rng.choice(("worn", "burned", "out of line")),
        gas_hc=[560.0, 380.0],
        gas_o2=[1.8, 1.5],
    )


def _condenser(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape, contacts="pitted", spark="weak", gas_hc=[700.0, 640.0], gas_o2=[2.3, 2.2], gas_co2=[12.6, 12.8]
    )


def _spark(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        spark=rng.choice(("weak", "weak", "none")),
        gas_hc=[820.0, 760.0],
        gas_o2=[2.6, 2.4],
        gas_co2=[12.4, 12.7],
        plug_look="dry soot",
        idle_vacuum_low=18.4,
        idle_vacuum_high=19.2,
    )


def _plug(shape: Shape, rng: random.Random) -> Readings:
    k = _one(shape, rng)
    return _in(
        shape,
        plug_look={k: "cracked or worn"},
        speed_drop={k: 15.0},
        gas_hc=[760.0, 690.0],
        gas_o2=[2.5, 2.3],
        gas_co2=[12.5, 12.8],
        idle_vacuum_low=15.8,
        idle_vacuum_high=19.2,
        needle=_needle(shape, rng.choice(("evenly spaced drops", "occasional drops"))),
    )


def _leak(shape: Shape, rng: random.Random) -> Readings:
    at = rng.choice(("fastenings", "hose", "base"))
    few = shape.cylinders < 3
    return _in(
        shape,
        idle_vacuum_low=5.0 if few else 8.6,
        idle_vacuum_high=6.0 if few else 9.0,
        raised_vacuum_start=13.5,
        raised_vacuum_held=13.5,
        mixture_best_vacuum=9.5,
        running_vacuum=13.5,
        running_vacuum_choked=16.0,
        cranking_vacuum=4.0 if few else 9.5,
        cranking_vacuum_rise="slow",
        cranking_vacuum_retest=(8.0 if few else 17.0) if at == "fastenings" else (4.0 if few else 9.6),
        hoses_pinched="vacuum came up" if at == "hose" else "no change",
        carburettor_base_tested="engine changed" if at == "base" else "no change",
        plug_look="blistered white",
        gas_co=[0.3, 0.4],
        gas_co2=[12.6, 13.2],
        gas_o2=[2.6, 1.9],
        gas_hc=[260.0, 180.0],
    )


def _manifold(shape: Shape, rng: random.Random) -> Readings:
    leaking = {
        **_leak(shape, random.Random(0)),
        **_in(shape, hoses_pinched="no change", carburettor_base_tested="no change"),
    }
    few = shape.cylinders < 3
    leaking |= _in(shape, cranking_vacuum_retest=4.0 if few else 9.6)
    if rng.random() < 0.5:
        leaking |= {"heat_riser": "burned through"}
    return leaking


def _riser(shape: Shape, rng: random.Random) -> Readings:
    return _in(shape, heat_riser="stuck")


def _idle_mixture(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        needle=_needle(shape, "slow wander"),
        idle_vacuum_low=17.4,
        idle_vacuum_high=18.3,
        mixture_best_vacuum=19.2,
        gas_co=[4.6, 0.9],
        gas_co2=[11.9, 14.2],
        gas_o2=[0.5, 0.7],
        gas_hc=[360.0, 130.0],
    )


def _lean(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        running_vacuum=14.6 if shape.cylinders > 2 else 5.0,
        running_vacuum_choked=17.6 if shape.cylinders > 2 else 8.0,
        plug_look="blistered white",
        gas_co=[0.3, 0.2],
        gas_co2=[13.0, 12.9],
        gas_o2=[2.2, 2.4],
        gas_hc=[240.0, 180.0],
        mixture_best_vacuum=19.0 if shape.cylinders > 2 else 13.0,
    )


def _rich(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        gas_co=[6.4, 5.8],
        gas_co2=[11.0, 11.3],
        gas_o2=[0.3, 0.3],
        gas_hc=[420.0, 340.0],
        plug_look="dry soot",
        mixture_best_vacuum=19.4,
    )


def _pump_low(shape: Shape, rng: random.Random) -> Readings:
    return {
        **_lean(shape, rng),
        **_in(shape, fuel_pressure=rng.choice((0.8, 1.2)), fuel_delivery_volume=0.45, gas_co=[0.9, 0.2]),
    }


def _pump_high(shape: Shape, rng: random.Random) -> Readings:
    return {**_rich(shape, rng), **_in(shape, fuel_pressure=rng.choice((6.8, 7.5)))}


def _delivery(shape: Shape, rng: random.Random) -> Readings:
    return {**_pump_low(shape, rng), **_in(shape, fuel_pressure=2.8, fuel_delivery_volume=0.4)}


def _carburettor(shape: Shape, rng: random.Random) -> Readings:
    return _lean(shape, rng)


def _cleaner(shape: Shape, rng: random.Random) -> Readings:
    return {
        **_in(
            shape,
            air_cleaner=rng.choice(("dirty", "blocked")),
            gas_co=[2.0, 4.8],
            gas_co2=[13.6, 12.0],
            gas_o2=[0.5, 0.4],
        )
    }


def _exhaust(shape: Shape, rng: random.Random) -> Readings:
    return _in(
        shape,
        idle_vacuum_low=17.4,
        idle_vacuum_high=17.8,
        needle_with_speed="falls slowly while held",
        raised_vacuum_start=18.0,
        raised_vacuum_held=13.0,
        backpressure=rng.choice((4.5, 6.0, 8.0)),
        running_vacuum=15.0,
        running_vacuum_choked=14.5,
    )


FAULTS: Mapping[str, Fault] = {
    "engine_overheated": _overheated,
    "low_oil_pressure": _low_oil,
    "slow_cranking": _slow_starter,
    "worn_rings": _rings,
    "leaking_valve": _valve,
    "head_gasket": _gasket,
    "worn_valve_guides": _guides,
    "tight_valves": _tight,
    "valve_timing": _valve_timing,
    "general_wear": _wear,
    "carbon_deposits": _carbon,
    "late_timing": _late,
    "early_timing": _early,
    "vacuum_advance_unit": _advance_unit,
    "vacuum_advance_line": _advance_line,
    "mechanical_advance": _weights,
    "contact_gap": _gap,
    "contact_points": _points,
    "condenser": _condenser,
    "weak_spark": _spark,
    "plug_fault": _plug,
    "intake_leak": _leak,
    "manifold_or_heat_riser": _manifold,
    "heat_riser_stuck": _riser,
    "idle_mixture": _idle_mixture,
    "lean_mixture": _lean,
    "rich_mixture": _rich,
    "low_fuel_pressure": _pump_low,
    "high_fuel_pressure": _pump_high,
    "low_fuel_delivery": _delivery,
    "carburettor": _carburettor,
    "air_cleaner": _cleaner,
    "exhaust_restriction": _exhaust,
}


def faults_on(shape: Shape) -> Iterable[str]:
    """The faults that an engine of this shape can have and a test of the form confirms on it."""
    no_pattern = (
        {"worn_valve_guides", "idle_mixture", "general_wear", "valve_timing"}
        if shape.cylinders < 3
        else set()
    )
    no_neighbour = {"head_gasket"} if all(len(bank) < 2 for bank in shape.banks) else set()
    return [fault for fault in FAULTS if fault not in no_pattern | no_neighbour]
