"""Where the proof of the ignition stands, and its next step, for sheet Summary.

Fault found, when one of these is confirmed or indicated (in this order the next step is chosen):

    points    gap or dwell out of limits, or contacts worn, out of line, burned or pitted; not where no
              points are fitted
    timing    measured timing out of limits
    to read   timing not measured, while a steady vacuum is out below its range, compression is even and
              counts, and the vacuum is not so low that an untested intake explains it better
    advance   the unit does not move, and line and manifold vacuum tell whether unit or line; the rotor does
              not spring back at once; or a reading out of the curve's band
    plugs     a plug cracked or worn, or its gap out of limits; or the plug alone wet or sooty in a cylinder
              that hardly slows the engine, though its compression is normal
    spark     weak or none; or, not called strong, most plugs sooty with the mixture in order, and unburned
              gas with even compression

Proven, when none is found and the timing, and gap or dwell where points are fitted, were read and are in
limits. Otherwise not proven yet. Points count as fitted where the engine says so, or where it says nothing
and they were read.
"""

from __future__ import annotations

from workbook_tools.form.gas_results import IN_ORDER, MISFIRE
from workbook_tools.form.ignition_results import LINE, UNIT
from workbook_tools.form.summary import FAULT, OPEN, PROVEN, inside_formula, is_inside
from workbook_tools.language.model import OUT_OF_LIMITS, Result, Value
from workbook_tools.language.values import Values

#: Which fault goes first, and what to do about it.
NEXT_FOR_FAULT = {
    "points": "Set or renew the points, then read the timing",
    "timing": "Set the timing, then look at the advance",
    "to read": "Vacuum is low and compression even: read the timing with the light",
    "advance": "Mend what Ignition points to, then check the advance again",
    "plugs": "Renew the plugs that are worn or out of gap",
    "spark": "Check coil, leads, cap and rotor",
}
WORN_CONTACTS = ("worn", "out of line", "burned", "pitted")


def timing_to_read(v: Values, _: int | None) -> Value:
    """'yes' where a steady low vacuum with even compression asks for the timing, which was not measured."""
    mean, least = v.number("idle_vacuum_mean"), v.number("low_limit_idle_vacuum_mean")
    low = (
        v.text("mark_idle_vacuum_mean") == OUT_OF_LIMITS
        and mean is not None
        and least is not None
        and mean < least
    )
    even = v.text("compression_even") == "yes" and v.text("compression_counts") != "no"
    intake_read = (
        v.number("margin_cranking_vacuum") is not None
        or v.number("margin_cranking_vacuum_retest") is not None
    )
    intake_likelier = v.text("vacuum_very_low") == "yes" and not intake_read
    unread = v.number("margin_timing") is None
    return (
        "yes"
        if v.text("idle_is_steady") == "yes" and low and even and unread and not intake_likelier
        else None
    )


def ignition_fault(v: Values, _: int | None) -> Value:
    """The first fault found in the ignition, a key of NEXT_FOR_FAULT."""
    fitted = v.text("points_fitted") == "yes"
    if v.text("gap_fault") == "yes" or (fitted and v.text("contacts") in WORN_CONTACTS):
        return "points"
    if v.text("mark_timing") == OUT_OF_LIMITS:
        return "timing"
    if v.text("timing_to_read") == "yes":
        return "to read"
    sticking = v.text("rotor_springs_back") in ("sluggish", "no")
    if (
        v.text("line_compare") in (UNIT, LINE)
        or sticking
        or v.count_text("mark_advance_corrected", OUT_OF_LIMITS)
    ):
        return "advance"
    unfit = v.count_text("plug_look", "cracked or worn") + v.count_text("mark_plug_gap", OUT_OF_LIMITS)
    if unfit + v.count_text("plug_unfired", "yes"):
        return "plugs"
    return "spark" if v.text("spark") in ("weak", "none") or v.text("spark_suspected") == "yes" else None


def spark_suspected(v: Values, _: int | None) -> Value:
    """'yes' where the spark was not tested and both soot and unburned gas speak against it."""
    idle, raised = v.text("mixture_says", 1), v.text("mixture_says", 2)
    soot = v.text("plugs_mostly") == "dry soot" and raised in (IN_ORDER, MISFIRE)
    even = v.text("compression_even") == "yes" and v.text("compression_counts") != "no"
    unburned = MISFIRE in (idle, raised) and even
    return "yes" if v.text("spark") != "strong" and soot and unburned else None


def state_ignition(v: Values, _: int | None) -> Value:
    """Fault found, proven or not proven yet, as the head of this module says."""
    if v.text("ignition_fault"):
        return FAULT
    points = v.text("points_fitted") != "yes" or is_inside(v, "point_gap") or is_inside(v, "dwell")
    return PROVEN if points and is_inside(v, "timing") else OPEN


def next_ignition(v: Values, _: int | None) -> Value:
    """What to do next in ignition."""
    fault = v.text("ignition_fault")
    if fault:
        return NEXT_FOR_FAULT[fault]
    if v.text("state_ignition") == PROVEN:
        return None
    if v.text("points_fitted") == "yes" and v.number("point_gap") is None and v.number("dwell") is None:
        return "Measure point gap or dwell, then the timing"
    if v.number("timing") is None:
        return "Read the timing with the light, vacuum line off and plugged"
    if v.number("spec_timing") is None:
        return "Fill in the engine's timing on Engine"
    if v.number("margin_point_gap") is None and v.number("margin_dwell") is None:
        return "Fill in the engine's point gap or dwell on Engine"
    return "Look at the marks on Ignition"


def next_for_fault_formula(fault_cell: str, steps: dict[str, str], otherwise: str) -> str:
    """Nested IFs: the step of the fault that a cell names, else another formula."""
    text = otherwise
    for fault, step in reversed(steps.items()):
        text = f'IF({fault_cell}="{fault}","{step}",{text})'
    return f"={text}"


def either(cell: str, words: tuple[str, ...]) -> str:
    """A formula's list of comparisons of one cell with several words, to stand in an OR."""
    return ",".join(f'{cell}="{word}"' for word in words)


IGNITION_SUMMARY = (
    Result(
        "state_ignition",
        "Ignition",
        f'=IF(ignition_fault<>"","{FAULT}",IF(AND({inside_formula("timing")},OR(points_fitted<>"yes",'
        f'{inside_formula("point_gap")},{inside_formula("dwell")})),"{PROVEN}","{OPEN}"))',
        state_ignition,
    ),
    Result(
        "next_ignition",
        "Next for ignition",
        next_for_fault_formula(
            "ignition_fault",
            NEXT_FOR_FAULT,
            f'IF(state_ignition="{PROVEN}","",IF(AND(points_fitted="yes",COUNT(point_gap,dwell)=0),'
            '"Measure point gap or dwell, then the timing",IF(COUNT(timing)=0,'
            '"Read the timing with the light, vacuum line off and plugged",IF(COUNT(spec_timing)=0,'
            '"Fill in the engine\'s timing on Engine",IF(COUNT(margin_point_gap,margin_dwell)=0,'
            '"Fill in the engine\'s point gap or dwell on Engine","Look at the marks on Ignition")))))',
        ),
        next_ignition,
        wide=True,
    ),
    Result(
        "timing_to_read",
        "Low vacuum asks for the timing",
        f'=IF(AND(idle_is_steady="yes",mark_idle_vacuum_mean="{OUT_OF_LIMITS}",'
        "COUNT(idle_vacuum_mean,low_limit_idle_vacuum_mean)=2,idle_vacuum_mean<low_limit_idle_vacuum_mean,"
        'compression_even="yes",compression_counts<>"no",COUNT(margin_timing)=0,'
        'OR(vacuum_very_low<>"yes",COUNT(margin_cranking_vacuum,margin_cranking_vacuum_retest)>0)),"yes","")',
        timing_to_read,
        working=True,
    ),
    Result(
        "spark_suspected",
        "Signs of a weak spark",
        f'=IF(AND(spark<>"strong",plugs_mostly="dry soot",'
        f"OR({either('mixture_says_2', (IN_ORDER, MISFIRE))}),"
        f'OR(mixture_says_1="{MISFIRE}",mixture_says_2="{MISFIRE}"),compression_even="yes",'
        'compression_counts<>"no"),"yes","")',
        spark_suspected,
        working=True,
    ),
    Result(
        "ignition_fault",
        "Fault in ignition",
        f'=IF(OR(gap_fault="yes",AND(points_fitted="yes",OR({either("contacts", WORN_CONTACTS)}))),"points",'
        f'IF(mark_timing="{OUT_OF_LIMITS}","timing",IF(timing_to_read="yes","to read",'
        f'IF(OR(line_compare="{UNIT}",line_compare="{LINE}",rotor_springs_back="sluggish",rotor_springs_back="no",'
        f'COUNTIF(all_mark_advance_corrected,"{OUT_OF_LIMITS}")>0),"advance",'
        f'IF(COUNTIF(all_plug_look,"cracked or worn")+COUNTIF(all_mark_plug_gap,"{OUT_OF_LIMITS}")'
        '+COUNTIF(all_plug_unfired,"yes")>0,"plugs",IF(OR(spark="weak",spark="none",spark_suspected="yes"),"spark",""))))))',
        ignition_fault,
        working=True,
    ),
)
