"""Sheet Summary: one line a system - proven, fault found, not proven yet - and the next test to make."""

from __future__ import annotations

from workbook_tools.form.compression_results import LITTLE_GAIN, LOW, RECOVERS
from workbook_tools.form.cylinder_verdicts import CONFIRMED, INDICATED, TIGHT, WET_NEXT
from workbook_tools.language.model import OUT_OF_LIMITS, Block, Result, Shape, Sheet, Value
from workbook_tools.language.values import Values

PROVEN, FAULT, OPEN = "proven", "fault found", "not proven yet"
NOTHING_NEXT = "nothing: all systems proven"


def is_inside(v: Values, name: str, n: int | None = None) -> bool:
    """Whether a reading was taken against a limit and is on its good side (a near mark beyond a limit is not)."""
    margin = v.number(f"margin_{name}", n)
    return margin is not None and margin >= 0


def inside_formula(name: str) -> str:
    """The same as a formula: true where the margin is known and not negative."""
    return f"AND(COUNT(margin_{name})=1,SUM(margin_{name})>=0)"


# --- readiness -------------------------------------------------------------------------------------------------------

READINESS_MARKS = ("coolant_temperature", "oil_pressure", "idle_speed", "cranking_speed", "battery_cranking")


def state_readiness(v: Values, _: int | None) -> Value:
    """Fault where any readiness reading is out or the compression test was not made under test conditions."""
    if any(v.text(f"mark_{name}") == OUT_OF_LIMITS for name in READINESS_MARKS):
        return FAULT
    if v.text("compression_conditions") == "not met":
        return FAULT
    has_range = (
        v.number("spec_operating_temp_min") is not None or v.number("spec_operating_temp_max") is not None
    )
    warm = is_inside(v, "coolant_temperature") or not has_range
    return PROVEN if warm and is_inside(v, "idle_speed") else OPEN


def next_readiness(v: Values, _: int | None) -> Value:
    """What to do next in readiness."""
    state = v.text("state_readiness")
    if state == PROVEN:
        return None
    if state == FAULT:
        return "Mend what is out of limits on Warm-up or Compression, then read again"
    if v.number("idle_speed") is None:
        return "Warm the engine up; read coolant, oil pressure and idle speed"
    return "Fill in the engine's working temperature and idle speed, and read both"


STATE_READINESS = Result(
    "state_readiness",
    "Readiness",
    "=IF(OR("
    + ",".join(f'mark_{name}="{OUT_OF_LIMITS}"' for name in READINESS_MARKS)
    + f',compression_conditions="not met"),"{FAULT}",IF(AND(OR({inside_formula("coolant_temperature")},'
    f'COUNT(spec_operating_temp_min,spec_operating_temp_max)=0),{inside_formula("idle_speed")}),"{PROVEN}","{OPEN}"))',
    state_readiness,
)
NEXT_READINESS = Result(
    "next_readiness",
    "Next for readiness",
    f'=IF(state_readiness="{PROVEN}","",IF(state_readiness="{FAULT}",'
    '"Mend what is out of limits on Warm-up or Compression, then read again",IF(COUNT(idle_speed)=0,'
    '"Warm the engine up; read coolant, oil pressure and idle speed",'
    '"Fill in the engine\'s working temperature and idle speed, and read both")))',
    next_readiness,
    wide=True,
)


# --- compression -----------------------------------------------------------------------------------------------------


def valve_train_fault(v: Values, _: int | None) -> Value:
    """'yes' where needle or valve clearance find a valve-train fault: confirmed, or with two signs."""
    needle, with_speed = v.text("needle_judged"), v.text("needle_with_speed")
    clearance, after = v.text("valve_clearance"), v.text("needle_after_valve_adjustment")
    if clearance == "too tight" or (needle == "fast flutter" and after == "steady"):
        return "yes"
    if v.shape.cylinders < 3:
        return None
    if with_speed == "widens":
        return "yes"
    flutter = needle == "fast flutter" and with_speed == "steadies"
    set_already = clearance == "in limits" or after in ("unchanged", "better")
    if flutter and (set_already or v.count_text("plug_look", "oily") > 0):
        return "yes"
    return "yes" if needle == "occasional drops" and v.text("compression_even") == "yes" else None


def valve_train_formula(shape: Shape, _: int | None) -> str:
    """The same as a formula; below three cylinders no needle is judged."""
    tight = 'OR(valve_clearance="too tight",AND(needle_judged="fast flutter",needle_after_valve_adjustment="steady"))'
    if shape.cylinders < 3:
        return f'=IF({tight},"yes","")'
    return (
        f'=IF(OR({tight},needle_with_speed="widens",AND(needle_judged="fast flutter",needle_with_speed="steadies",'
        'OR(valve_clearance="in limits",needle_after_valve_adjustment="unchanged",'
        'needle_after_valve_adjustment="better",COUNTIF(all_plug_look,"oily")>0)),'
        'AND(needle_judged="occasional drops",compression_even="yes")),"yes","")'
    )


def even(v: Values, _: int | None) -> Value:
    """'yes' where every cylinder was gauged dry, none is low and none leaks over its limit."""
    dry_all = len(v.column("compression_dry")) == v.shape.cylinders
    low, leaks = v.count_text("compression_is_low", LOW), v.count_text("mark_leakdown", OUT_OF_LIMITS)
    return "yes" if dry_all and not low and not leaks else "no"


def even_formula(shape: Shape, _: int | None) -> str:
    """The same as a formula."""
    return (
        f'=IF(AND(COUNT(all_compression_dry)={shape.cylinders},COUNTIF(all_compression_is_low,"{LOW}")=0,'
        f'COUNTIF(all_mark_leakdown,"{OUT_OF_LIMITS}")=0),"yes","no")'
    )


def in_limits(v: Values, _: int | None) -> Value:
    """'yes' where the cylinders are even, a figure says what they should reach, and none is above its range."""
    specified = v.number("site_compression_min") is not None
    beyond = any(x < 0 for x in v.column("margin_compression_dry"))
    return "yes" if v.text("compression_even") == "yes" and specified and not beyond else "no"


IN_LIMITS_FORMULA = '=IF(AND(compression_even="yes",COUNT(site_compression_min)=1,COUNTIF(all_margin_compression_dry,"<0")=0),"yes","no")'


def all_low_strength(v: Values, _: int | None) -> Value:
    """How sure the common cause of an engine whose cylinders are all low is: confirmed, indicated, possible, blank."""
    if v.text("compression_all_low") != "yes" or v.text("compression_counts") == "no":
        return None
    low = v.count_text("compression_is_low", LOW)
    told = v.count_text("wet_verdict", RECOVERS) == low or v.count_text("wet_verdict", LITTLE_GAIN) == low
    if told:
        alone = v.shape.cylinders == 1 and v.text("wet_verdict", 1) == LITTLE_GAIN
        unsure = alone or v.count_text("small_shortfall", "yes") or v.count_text("points_to", TIGHT)
        return "possible" if unsure else CONFIRMED
    wet_made = len(v.column("wet_gain_share")) > 0
    oily = v.count_text("plug_look", "oily") * 2 > v.shape.cylinders
    very_low = v.text("vacuum_very_low") == "yes"
    return INDICATED if not wet_made and (oily or very_low) else "possible"


def all_low_strength_formula(shape: Shape, _: int | None) -> str:
    """The same as a formula."""
    low = f'COUNTIF(all_compression_is_low,"{LOW}")'
    alone = f',wet_verdict_1="{LITTLE_GAIN}"' if shape.cylinders == 1 else ""
    return (
        '=IF(OR(compression_all_low<>"yes",compression_counts="no"),"",'
        f'IF(OR(COUNTIF(all_wet_verdict,"{RECOVERS}")={low},COUNTIF(all_wet_verdict,"{LITTLE_GAIN}")={low}),'
        f'IF(OR(COUNTIF(all_small_shortfall,"yes")>0,COUNTIF(all_points_to,"{TIGHT}")>0{alone}),"possible","{CONFIRMED}"),'
        f'IF(AND(COUNT(all_wet_gain_share)=0,OR(COUNTIF(all_plug_look,"oily")*2>{shape.cylinders},vacuum_very_low="yes")),'
        f'"{INDICATED}","possible")))'
    )


def state_compression(v: Values, _: int | None) -> Value:
    """Fault where a compression finding is confirmed or indicated; proven where all is in limits under conditions."""
    found = v.count_text("cylinder_strength", CONFIRMED) + v.count_text("cylinder_strength", INDICATED)
    general = v.text("all_low_strength") in (CONFIRMED, INDICATED)
    deposits = bool(v.column("compression_over_max")) and v.text("compression_counts") == "yes"
    if found or general or deposits or v.text("valve_train_fault") == "yes":
        return FAULT
    met = v.text("compression_conditions") == "met" and v.text("starter_slow") != "yes"
    return PROVEN if met and v.text("compression_in_limits") == "yes" else OPEN


def next_compression(v: Values, _: int | None) -> Value:
    """What to do next for compression."""
    state = v.text("state_compression")
    if state == PROVEN:
        return None
    # A low cylinder that no test told yet is tested, not repaired.
    if state == FAULT and not v.count_text("points_to", WET_NEXT):
        return "Repair what Compression points to, then gauge again on Recheck"
    if len(v.column("compression_dry")) < v.shape.cylinders:
        return "Gauge every cylinder dry, throttle open, all plugs out"
    if v.text("compression_counts") == "no":
        return "Repeat the compression test under test conditions"
    if v.count_text("compression_is_low", LOW):
        return "Wet test of the low cylinders and one sound one, or leak-down"
    if v.text("compression_conditions") != "met":
        return "Write down the test conditions on Compression"
    if v.number("site_compression_min") is None:
        return "Fill in the engine's lowest compression on Engine"
    return "Look at the marks on Compression"


def next_compression_formula(shape: Shape, _: int | None) -> str:
    """The same as a formula."""
    return (
        f'=IF(state_compression="{PROVEN}","",IF(AND(state_compression="{FAULT}",'
        f'COUNTIF(all_points_to,"{WET_NEXT}")=0),"Repair what Compression points to, then gauge again on Recheck",'
        f'IF(COUNT(all_compression_dry)<{shape.cylinders},"Gauge every cylinder dry, throttle open, all plugs out",'
        'IF(compression_counts="no","Repeat the compression test under test conditions",'
        f'IF(COUNTIF(all_compression_is_low,"{LOW}")>0,"Wet test of the low cylinders and one sound one, or leak-down",'
        'IF(compression_conditions<>"met","Write down the test conditions on Compression",'
        'IF(COUNT(site_compression_min)=0,"Fill in the engine\'s lowest compression on Engine",'
        '"Look at the marks on Compression")))))))'
    )


COMPRESSION_WORKINGS = (
    Result("compression_even", "Compression even", even_formula, even, working=True),
    Result("compression_in_limits", "Compression in limits", IN_LIMITS_FORMULA, in_limits, working=True),
    Result("valve_train_fault", "Valve train fault", valve_train_formula, valve_train_fault, working=True),
    Result("all_low_strength", "All low: how sure", all_low_strength_formula, all_low_strength, working=True),
)
STATE_COMPRESSION = Result(
    "state_compression",
    "Compression",
    f'=IF(OR(COUNTIF(all_cylinder_strength,"{CONFIRMED}")+COUNTIF(all_cylinder_strength,"{INDICATED}")>0,'
    f'all_low_strength="{CONFIRMED}",all_low_strength="{INDICATED}",'
    f'AND(COUNT(all_compression_over_max)>0,compression_counts="yes"),valve_train_fault="yes"),"{FAULT}",'
    'IF(AND(compression_conditions="met",starter_slow<>"yes",compression_in_limits="yes"),'
    f'"{PROVEN}","{OPEN}"))',
    state_compression,
)
NEXT_COMPRESSION = Result(
    "next_compression", "Next for compression", next_compression_formula, next_compression, wide=True
)


# --- the sheet -------------------------------------------------------------------------------------------------------

SYSTEM_STATES = ("state_readiness", "state_compression", "state_ignition", "state_fuel_and_air")


def next_test(v: Values, _: int | None) -> Value:
    """The next step of the first system that is not proven."""
    for state in SYSTEM_STATES:
        if v.text(state) != PROVEN:
            found = v.values.get(state.replace("state", "next", 1))
            return found if isinstance(found, str) else None
    return NOTHING_NEXT


def next_test_formula() -> str:
    """The same as nested IFs."""
    text = f'"{NOTHING_NEXT}"'
    for state in reversed(SYSTEM_STATES):
        text = f'IF({state}<>"{PROVEN}",{state.replace("state", "next", 1)},{text})'
    return f"={text}"


def summary_sheet(ignition: tuple[Result, ...], fuel: tuple[Result, ...]) -> Sheet:
    """The Summary sheet, with the (state, next, workings...) results of ignition and of fuel and air."""
    state_ignition, next_ignition, *ignition_workings = ignition
    state_fuel, next_fuel, *fuel_workings = fuel
    return Sheet(
        name="Summary",
        purpose="Where the proof stands. Work from the top down: a later system is not judged before the earlier ones.",
        cost="nothing to type; run the check for the findings",
        parts=(
            Block(
                "Next test to make", (Result("next_test", "Next", next_test_formula(), next_test, wide=True),)
            ),
            Block(
                "Systems, in the order of proof",
                (
                    STATE_READINESS,
                    NEXT_READINESS,
                    STATE_COMPRESSION,
                    NEXT_COMPRESSION,
                    state_ignition,
                    next_ignition,
                    state_fuel,
                    next_fuel,
                    *COMPRESSION_WORKINGS,
                    *ignition_workings,
                    *fuel_workings,
                ),
            ),
        ),
    )
