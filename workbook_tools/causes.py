"""The fault vocabulary: every cause that a check can find, what decides it, and what to do next.

One row a cause; the ids are the choices of `concluded_cause` and `work_cause` on sheet Repairs and the
`cause` of a finding. What decides, supports and speaks against a cause is said for people; the rules
themselves stand in `diagnose`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

System = Literal["readiness", "compression", "ignition", "fuel and air"]
SYSTEMS: tuple[System, ...] = ("readiness", "compression", "ignition", "fuel and air")


@dataclass(frozen=True)
class Cause:
    """One cause; `caution` is a key of `form.cautions.CAUTIONS` where the next step can hurt, else empty."""

    id: str
    system: System
    shown_as: str
    decided_by: str
    supported_by: str = ""
    spoken_against_by: str = ""
    next_step: str = ""
    caution: str = ""


_CAUSES = (
    Cause(
        id="engine_not_ready",
        system="readiness",
        shown_as="Engine not at working temperature or speed",
        decided_by="coolant below spec_operating_temp_min, or idle speed out of its range",
        next_step="Warm up, set the idle, take the readings again",
        caution="running engine",
    ),
    Cause(
        id="engine_overheated",
        system="readiness",
        shown_as="Engine hotter than its working range",
        decided_by="coolant above spec_operating_temp_max",
        next_step="Let it cool, find the reason before any further running test",
        caution="hot parts",
    ),
    Cause(
        id="low_oil_pressure",
        system="readiness",
        shown_as="Oil pressure low",
        decided_by="oil_pressure below spec_oil_pressure_min",
        next_step="Stop the engine; find the reason before any further running test",
    ),
    Cause(
        id="slow_cranking",
        system="readiness",
        shown_as="Starter turns the engine too slowly",
        decided_by="cranking_speed below spec, or battery below 0.8 of the nominal voltage while cranking",
        supported_by="all compression readings even and low",
        next_step=(
            "Charge or replace the battery, check the starter circuit, then repeat the compression test"
        ),
        caution="battery",
    ),
    Cause(
        id="compression_test_invalid",
        system="readiness",
        shown_as="Compression test not made under test conditions",
        decided_by="throttle not held open, plugs left in, or fewer than four strokes",
        supported_by="all readings low and even",
        next_step="Repeat the test with the conditions met",
        caution="cranking",
    ),
    Cause(
        id="worn_rings",
        system="compression",
        shown_as="Worn or broken rings, worn cylinder",
        decided_by=(
            "a low cylinder recovers at least half of its shortfall in the wet test; or leakage "
            "over limit heard at the oil filler"
        ),
        supported_by=(
            "first stroke low and building up; oily plug; snap test low: falls to about zero and "
            "rises short of normal"
        ),
        spoken_against_by="wet test brings little gain",
        next_step="Leak-down test shows how much; then lift the head or pull the piston",
        caution="compressed air",
    ),
    Cause(
        id="leaking_valve",
        system="compression",
        shown_as="Burned or leaking valve",
        decided_by=(
            "a low cylinder recovers less than a fifth of its shortfall in the wet test and no "
            "neighbour is equally low; or leakage over limit heard at intake or exhaust (name "
            "which valve)"
        ),
        supported_by="evenly spaced drops of the needle; first stroke low and staying low",
        spoken_against_by="wet test recovers the shortfall",
        next_step="Check valve clearance first; leak-down test tells intake from exhaust",
        caution="compressed air",
    ),
    Cause(
        id="head_gasket",
        system="compression",
        shown_as="Head gasket leaking between cylinders",
        decided_by=(
            "two neighbours on one bank equally low (within 10 psi of each other) with little wet "
            "gain; or leakage heard at the next cylinder or in the coolant"
        ),
        supported_by="wide regular swing of the needle; coolant traces on the plug",
        spoken_against_by="neighbours differ widely",
        next_step="Leak-down on both cylinders, listen at the neighbour and watch the coolant",
        caution="compressed air",
    ),
    Cause(
        id="sticking_valve",
        system="compression",
        shown_as="Valve sticking at times",
        decided_by="occasional drops of the needle with even compression",
        next_step="Free or replace the valve; penetrating oil through the intake is the quick proof",
        caution="running engine",
    ),
    Cause(
        id="weak_valve_springs",
        system="compression",
        shown_as="Weak or broken valve springs",
        decided_by="needle swing widens as speed rises",
        next_step="Measure spring pressure",
    ),
    Cause(
        id="worn_valve_guides",
        system="compression",
        shown_as="Worn intake valve guides",
        decided_by="fast flutter at idle that steadies with speed",
        supported_by="oily plugs",
        spoken_against_by="flutter gone once valves are adjusted",
        next_step="Adjust valve clearance first, look again, then check guide wear",
        caution="running engine",
    ),
    Cause(
        id="tight_valves",
        system="compression",
        shown_as="Valve clearance too small",
        decided_by="valve_clearance too tight, or flutter that is gone after adjustment",
        next_step="Set clearance to the manual",
    ),
    Cause(
        id="valve_timing",
        system="compression",
        shown_as="Valve timing out",
        decided_by="all cylinders low and even, wet test brings little gain, test conditions met",
        supported_by="steady vacuum well below normal",
        next_step="Check timing chain or gear marks",
    ),
    Cause(
        id="general_wear",
        system="compression",
        shown_as="Wear in all cylinders",
        decided_by="all cylinders low and each recovers at least half in the wet test",
        supported_by="high odometer, oily plugs",
        next_step="Overhaul estimate",
    ),
    Cause(
        id="carbon_deposits",
        system="compression",
        shown_as="Carbon build-up",
        decided_by="compression above spec_compression_max at site",
        next_step="Decarbonise; check for knock",
    ),
    Cause(
        id="late_timing",
        system="ignition",
        shown_as="Ignition timing late",
        decided_by="timing below spec_timing by more than the tolerance",
        supported_by="low steady vacuum with normal compression",
        next_step="Set points first (gap moves timing), then timing",
        caution="running engine",
    ),
    Cause(
        id="early_timing",
        system="ignition",
        shown_as="Ignition timing early",
        decided_by="timing above spec_timing by more than the tolerance",
        supported_by="vacuum high and steady; knock",
        next_step="Set timing; check for knock on the road fuel",
        caution="running engine",
    ),
    Cause(
        id="timing_suspected",
        system="ignition",
        shown_as="Ignition timing to be checked",
        decided_by="low steady vacuum, compression proven normal, timing not measured",
        next_step="Measure timing with the light",
        caution="running engine",
    ),
    Cause(
        id="vacuum_advance_unit",
        system="ignition",
        shown_as="Vacuum advance unit faulty",
        decided_by="unit does not move and the line carries the manifold's vacuum",
        next_step="Replace the unit, recheck advance",
        caution="running engine",
    ),
    Cause(
        id="vacuum_advance_line",
        system="ignition",
        shown_as="Vacuum advance line clogged or leaking",
        decided_by="unit does not move and the line shows no vacuum, or clearly less than the manifold",
        next_step="Clear or replace the line",
        caution="running engine",
    ),
    Cause(
        id="mechanical_advance",
        system="ignition",
        shown_as="Mechanical advance sticking",
        decided_by="rotor does not spring back, or advance curve out of its limits",
        supported_by="timing mark wanders",
        next_step="Clean and free the weights, check springs",
        caution="running engine",
    ),
    Cause(
        id="contact_gap",
        system="ignition",
        shown_as="Contact gap or dwell out of limits",
        decided_by="point_gap or dwell outside spec",
        next_step="Set gap with the rubbing block on the top of a cam lobe, then recheck timing",
        caution="running engine",
    ),
    Cause(
        id="contact_points",
        system="ignition",
        shown_as="Contact points worn",
        decided_by="contacts worn, out of line or burned",
        next_step="Replace the points",
    ),
    Cause(
        id="condenser",
        system="ignition",
        shown_as="Condenser faulty",
        decided_by="contacts pitted",
        next_step="Replace points and condenser together",
    ),
    Cause(
        id="weak_spark",
        system="ignition",
        shown_as="Weak or missing spark",
        decided_by="spark weak or none",
        supported_by="sooty plugs with mixture in order",
        next_step="Check coil, leads, cap and rotor",
        caution="high voltage",
    ),
    Cause(
        id="plug_fault",
        system="ignition",
        shown_as="Spark plug unfit",
        decided_by="plug cracked or worn, or gap outside spec",
        supported_by="small speed drop on that cylinder with normal compression",
        next_step="Renew the plug",
        caution="hot parts",
    ),
    Cause(
        id="intake_leak",
        system="fuel and air",
        shown_as="Air leak at the intake manifold",
        decided_by="cranking_vacuum below the site limit or slow to rise",
        supported_by="very low steady vacuum; lean signs",
        next_step="Tighten the manifold fastenings and repeat the test",
        caution="hot parts",
    ),
    Cause(
        id="manifold_or_heat_riser",
        system="fuel and air",
        shown_as="Cracked manifold or burned heat riser",
        decided_by=(
            "cranking vacuum still low after the fastenings were tightened; or heat riser burned through"
        ),
        next_step="Pressure-test or remove the manifold",
        caution="hot parts",
    ),
    Cause(
        id="heat_riser_stuck",
        system="fuel and air",
        shown_as="Heat riser stuck",
        decided_by="heat_riser stuck",
        next_step="Free the valve; check it moves with heat",
        caution="hot parts",
    ),
    Cause(
        id="low_vacuum_unexplained",
        system="fuel and air",
        shown_as="Low vacuum not explained yet",
        decided_by="low steady vacuum with compression, timing and intake all in limits",
        next_step="Check valve timing and exhaust restriction",
        caution="exhaust gas",
    ),
    Cause(
        id="idle_mixture",
        system="fuel and air",
        shown_as="Idle mixture out of adjustment",
        decided_by="slow wander, which goes steady at mixture_best_vacuum inside the normal range",
        supported_by="gas analysis off at idle only",
        next_step="Set for the highest steady reading",
        caution="running engine",
    ),
    Cause(
        id="lean_mixture",
        system="fuel and air",
        shown_as="Running mixture lean",
        decided_by=(
            "running_vacuum falls and stays below normal at set throttle, and the choke brings it "
            "up; or measured lambda above 1.05 at the raised speed"
        ),
        supported_by="blistered white plugs",
        next_step="Fuel pressure and delivery next, before the carburettor is blamed",
        caution="fuel",
    ),
    Cause(
        id="rich_mixture",
        system="fuel and air",
        shown_as="Mixture rich",
        decided_by="measured lambda below 0.90 at the raised speed",
        supported_by="dry soot on most plugs; air cleaner blocked",
        next_step="Check choke, float level and air cleaner",
        caution="fuel",
    ),
    Cause(
        id="low_fuel_pressure",
        system="fuel and air",
        shown_as="Fuel pump pressure low",
        decided_by="fuel_pressure below spec_fuel_pressure_min",
        supported_by="delivery low",
        next_step="Check filter and line, then the pump",
        caution="fuel",
    ),
    Cause(
        id="high_fuel_pressure",
        system="fuel and air",
        shown_as="Fuel pump pressure high",
        decided_by="fuel_pressure above spec_fuel_pressure_max",
        supported_by="rich signs",
        next_step="Check the pump and return line",
        caution="fuel",
    ),
    Cause(
        id="low_fuel_delivery",
        system="fuel and air",
        shown_as="Fuel delivery low",
        decided_by="delivery rate below spec_fuel_delivery_min",
        next_step="Filter, line, tank vent, pump",
        caution="fuel",
    ),
    Cause(
        id="carburettor",
        system="fuel and air",
        shown_as="Carburettor at fault",
        decided_by="lean at set throttle, fuel pressure (and delivery, if taken) in limits, no intake leak",
        spoken_against_by="fuel pressure out of limits or not measured",
        next_step="Overhaul the carburettor",
        caution="fuel",
    ),
    Cause(
        id="air_cleaner",
        system="fuel and air",
        shown_as="Air cleaner restricted",
        decided_by="air_cleaner dirty or blocked",
        supported_by="rich signs",
        next_step="Clean or renew",
    ),
    Cause(
        id="exhaust_restriction",
        system="fuel and air",
        shown_as="Exhaust restricted",
        decided_by="back-pressure over limit; or vacuum falls slowly while raised speed is held",
        next_step="Measure back-pressure; inspect muffler and pipes",
        caution="exhaust gas",
    ),
)

CAUSES: dict[str, Cause] = {cause.id: cause for cause in _CAUSES}
