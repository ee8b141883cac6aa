"""What the ignition readings give: points, timing, and the vacuum advance, as formulas and as Python.

With the cam and the distributor body fixed, one degree more dwell makes the spark about one crank degree
later: half a distributor degree on each side of the lobe, and the crank turns twice as fast (geometry). So
the points are set before the timing. Dwell can't exceed the distributor's turn shared among the cylinders.
"""

from __future__ import annotations

from workbook_tools.language.measures import ANGLE, SPEED, TIMING, VACUUM
from workbook_tools.language.model import IN_LIMITS, NEAR_LIMIT, OUT_OF_LIMITS, Limits, Result, Shape, Value
from workbook_tools.language.values import Values
from workbook_tools.science.sheet_math import sheet_round

CONTACTS = ("good", "worn", "out of line", "pitted", "burned")
NO_POINTS = ("electronic", "magneto")
NOT_FITTED = "not on this ignition"
LATER, EARLIER = "later", "earlier"
UNIT, LINE, MOVES = "unit", "line", "it moves"
READ_BOTH = "read both again, throttle part open"
POINTS_FIRST = ": set the points first"

GAP_LIMITS = Limits("spec_point_gap_min", "spec_point_gap_max", asked="points_fitted")
DWELL_LIMITS = Limits("spec_dwell_min", "spec_dwell_max", asked="points_fitted")
TIMING_LIMITS = Limits("timing_low", "timing_high")


def difference(v: Values, of: str, less: str) -> Value:
    """One number less another, None where either is missing."""
    first, second = v.number(of), v.number(less)
    return None if first is None or second is None else sheet_round(first - second, 6)


# --- contact points ------------------------------------------------------------------------------------


def points_fitted(v: Values, _: int | None) -> Value:
    """'no' for electronic and magneto ignition, 'yes' for contact points, also where only readings say so."""
    kind = v.text("ignition_type")
    if kind in NO_POINTS:
        return "no"
    read = (
        v.number("point_gap") is not None or v.number("dwell") is not None or v.text("contacts") in CONTACTS
    )
    return "yes" if kind == "contact points" or read else None


def points_note(v: Values, _: int | None) -> Value:
    """Says so where this ignition has no points."""
    return NOT_FITTED if v.text("points_fitted") == "no" else None


def largest_dwell(v: Values, _: int | None) -> Value:
    """Distributor degrees for one cylinder: one set of points, one lobe a cylinder (geometry)."""
    return sheet_round(v.constant("full_turn") / v.shape.cylinders, 6)


def largest_dwell_formula(shape: Shape, _: int | None) -> str:
    """The same: how many cylinders there are is fixed when the form is made."""
    return f"=ROUND({{full_turn}}/{shape.cylinders},6)"


def dwell_possible(v: Values, _: int | None) -> Value:
    """'no' where the dwell is larger than any that this many cylinders leave room for."""
    dwell, most = v.number("dwell"), v.number("largest_dwell")
    if dwell is None or most is None or v.text("points_fitted") == "no":
        return None
    return "yes" if dwell <= most else "no"


def dwell_timing_shift(v: Values, _: int | None) -> Value:
    """Crank degrees by which setting the dwell to mid-range moves the spark; later is negative."""
    dwell, low, high = v.number("dwell"), v.number("spec_dwell_min"), v.number("spec_dwell_max")
    if dwell is None or low is None or high is None or v.text("points_fitted") == "no":
        return None
    return sheet_round(v.constant("crank_per_dwell") * (dwell - (low + high) / 2), 6)


def timing_after_dwell(v: Values, _: int | None) -> Value:
    """Timing to be expected once the dwell stands in the middle of its range."""
    timing, shift = v.number("timing"), v.number("dwell_timing_shift")
    return None if timing is None or shift is None else sheet_round(timing + shift, 6)


def gap_timing_direction(v: Values, _: int | None) -> Value:
    """Which way setting a wrong gap moves the spark, where no dwell was read to say how far."""
    inside, gap, most = v.number("margin_point_gap"), v.number("point_gap"), v.number("spec_point_gap_max")
    if inside is None or inside >= 0 or gap is None or v.number("dwell") is not None:
        return None
    return LATER if most is not None and gap > most else EARLIER


POINTS = (
    Result(
        "points_note",
        "Contact points",
        f'=IF(points_fitted="no","{NOT_FITTED}","")',
        points_note,
    ),
    Result("largest_dwell", "Largest dwell there can be", largest_dwell_formula, largest_dwell, ANGLE),
    Result(
        "dwell_possible",
        "Dwell possible",
        '=IF(OR(COUNT(dwell)=0,points_fitted="no"),"",IF(dwell<=largest_dwell,"yes","no"))',
        dwell_possible,
        help="no: read it again, on the right cylinder scale",
    ),
    Result(
        "dwell_timing_shift",
        "Setting the dwell moves the spark by",
        '=IF(OR(COUNT(dwell,spec_dwell_min,spec_dwell_max)<3,points_fitted="no"),"",'
        "ROUND({crank_per_dwell}*(dwell-(spec_dwell_min+spec_dwell_max)/2),6))",
        dwell_timing_shift,
        ANGLE,
        help="of the crank, to the middle of its range; later is negative",
    ),
    Result(
        "timing_after_dwell",
        "Timing expected then",
        '=IF(COUNT(timing,dwell_timing_shift)<2,"",ROUND(timing+dwell_timing_shift,6))',
        timing_after_dwell,
        TIMING,
    ),
    Result(
        "gap_timing_direction",
        "Setting the gap makes the spark",
        '=IF(OR(COUNT(margin_point_gap)=0,COUNT(point_gap)=0,COUNT(dwell)=1),"",IF(margin_point_gap>=0,"",'
        f'IF(IF(COUNT(spec_point_gap_max)=1,point_gap>spec_point_gap_max,FALSE),"{LATER}","{EARLIER}")))',
        gap_timing_direction,
        help="where no dwell was read",
    ),
    Result(
        "points_fitted",
        "Points fitted",
        f'=IF(OR(ignition_type="{NO_POINTS[0]}",ignition_type="{NO_POINTS[1]}"),"no",'
        'IF(OR(ignition_type="contact points",COUNT(point_gap,dwell)>0,'
        + ",".join(f'contacts="{look}"' for look in CONTACTS)
        + '),"yes",""))',
        points_fitted,
        working=True,
    ),
)


# --- timing --------------------------------------------------------------------------------------------


def timing_error(v: Values, _: int | None) -> Value:
    """Measured timing less specified, in crank degrees; late is negative."""
    return difference(v, "timing", "spec_timing")


def gap_fault(v: Values, _: int | None) -> Value:
    """'yes' where gap or dwell is out of limits: the timing is then judged again after it was set."""
    return "yes" if OUT_OF_LIMITS in (v.text("mark_point_gap"), v.text("mark_dwell")) else None


def timing_says(v: Values, _: int | None) -> Value:
    """late, early or in limits; points first where they are out."""
    mark, error = v.text("mark_timing"), v.number("timing_error")
    if mark in (IN_LIMITS, NEAR_LIMIT):
        word = IN_LIMITS
    elif mark == OUT_OF_LIMITS and error is not None:
        word = "late" if error < 0 else "early"
    else:
        return None
    return word + (POINTS_FIRST if v.text("gap_fault") == "yes" else "")


def timing_speed_difference(v: Values, _: int | None) -> Value:
    """How far the timing was read from the speed that its figure is given for."""
    return difference(v, "timing_speed", "spec_timing_speed")


TIMING_RESULTS = (
    Result(
        "timing_error",
        "Timing error",
        '=IF(COUNT(timing,spec_timing)<2,"",ROUND(timing-spec_timing,6))',
        timing_error,
        ANGLE,
        help="of the crank; late is negative",
    ),
    Result(
        "timing_says",
        "Timing is",
        f'=IF(OR(mark_timing="{IN_LIMITS}",mark_timing="{NEAR_LIMIT}"),"{IN_LIMITS}",'
        f'IF(AND(mark_timing="{OUT_OF_LIMITS}",COUNT(timing_error)=1),IF(SUM(timing_error)<0,"late","early"),""))'
        f'&IF(AND(gap_fault="yes",COUNT(margin_timing)=1),"{POINTS_FIRST}","")',
        timing_says,
        wide=True,
    ),
    Result(
        "timing_speed_difference",
        "Read off its speed by",
        '=IF(COUNT(timing_speed,spec_timing_speed)<2,"",ROUND(timing_speed-spec_timing_speed,6))',
        timing_speed_difference,
        SPEED,
        help="a faster engine may have begun to advance",
    ),
    Result(
        "gap_fault",
        "Gap or dwell out",
        f'=IF(OR(mark_point_gap="{OUT_OF_LIMITS}",mark_dwell="{OUT_OF_LIMITS}"),"yes","")',
        gap_fault,
        working=True,
    ),
)


# --- vacuum advance ------------------------------------------------------------------------------------


def advance_line_difference(v: Values, _: int | None) -> Value:
    """Manifold vacuum less the line's at the same throttle."""
    return difference(v, "manifold_vacuum_then", "advance_line_vacuum")


def line_compare(v: Values, _: int | None) -> Value:
    """Which is at fault where the unit does not move: the unit if the line carries the vacuum, else the line.

    With the throttle so far open that there is next to no vacuum, or with more in the line than in the
    manifold, neither can be told: both are to be read again.
    """
    moves, lost, same = (
        v.text("advance_unit_moves"),
        v.number("advance_line_difference"),
        v.constant("same_vacuum"),
    )
    if moves == "yes":
        return MOVES
    if moves != "no":
        return None
    if lost is None:
        return READ_BOTH
    if lost > same:
        return LINE
    carries = (v.number("advance_line_vacuum") or 0.0) > same and lost >= -same
    return UNIT if carries else READ_BOTH


VACUUM_ADVANCE = (
    Result(
        "advance_line_difference",
        "Lost on the way to the unit",
        '=IF(COUNT(advance_line_vacuum,manifold_vacuum_then)<2,"",ROUND(manifold_vacuum_then-advance_line_vacuum,6))',
        advance_line_difference,
        VACUUM,
    ),
    Result(
        "line_compare",
        "Points to",
        f'=IF(advance_unit_moves="yes","{MOVES}",IF(advance_unit_moves<>"no","",IF(COUNT(advance_line_difference)=0,'
        f'"{READ_BOTH}",IF(advance_line_difference>{{same_vacuum}},"{LINE}",IF(AND(SUM(advance_line_vacuum)>{{same_vacuum}},'
        f'advance_line_difference>=-{{same_vacuum}}),"{UNIT}","{READ_BOTH}")))))',
        line_compare,
        wide=True,
        help="does not move although the vacuum reaches it: the unit; else its line",
    ),
)
