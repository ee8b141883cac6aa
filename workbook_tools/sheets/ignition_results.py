"""What the ignition readings give: points, timing, and the vacuum advance, as formulas and as Python.

With the cam and the distributor body fixed, one degree more dwell makes the spark about one crank degree
later: half a distributor degree on each side of the lobe, and the crank turns twice as fast (geometry). So
the points are set before the timing. Dwell can't exceed the distributor's turn shared among the cylinders.
"""

from __future__ import annotations

from workbook_tools.language.expressions import (
    BLANK,
    CYLINDERS,
    NO,
    YES,
    any_known,
    constant,
    joined,
    number,
    table,
    word,
    yes_if,
)
from workbook_tools.language.measures import ANGLE, SPEED, TIMING, VACUUM
from workbook_tools.language.model import IN_LIMITS, NEAR_LIMIT, OUT_OF_LIMITS, Limits, Result

CONTACTS = ("good", "worn", "out of line", "pitted", "burned")
WITH_POINTS = ("contact points", "magneto")
NOT_FITTED = "not on this ignition"
LATER, EARLIER = "later", "earlier"
UNIT, LINE, MOVES = "unit", "line", "it moves"
LINE_OR_UNIT = "unit or line: plug the end of the line"
READ_BOTH = "read both again, throttle part open"
POINTS_FIRST = ": set the points first"

GAP_LIMITS = Limits("spec_point_gap_min", "spec_point_gap_max", asked="points_fitted")
DWELL_LIMITS = Limits("spec_dwell_min", "spec_dwell_max", asked="dwell_asked")
TIMING_LIMITS = Limits("timing_low", "timing_high")


# --- contact points ------------------------------------------------------------------------------------

gap, dwell, contacts = number("point_gap"), number("dwell"), word("contacts")
fitted, kind = word("points_fitted"), word("ignition_type")
dwell_low, dwell_high = number("spec_dwell_min"), number("spec_dwell_max")
timing, timing_error, shift = number("timing"), number("timing_error"), number("dwell_timing_shift")
gap_margin = number("margin_point_gap")

POINTS = (
    Result("points_note", "Contact points", table((fitted == NO, NOT_FITTED))),
    Result(
        "largest_dwell",
        "Largest dwell there can be",
        (constant("full_turn") / CYLINDERS).round(6),
        ANGLE,
        help="one set of points, one lobe a cylinder (geometry)",
    ),
    Result(
        "dwell_possible",
        "Dwell possible",
        table(
            (dwell.missing | (word("dwell_asked") == NO), BLANK),
            (dwell <= number("largest_dwell"), YES),
            otherwise=NO,
        ),
        help="no: read it again, on the right cylinder scale",
    ),
    Result(
        "dwell_timing_shift",
        "Setting the dwell moves the spark by",
        (constant("crank_per_dwell") * (dwell - (dwell_low + dwell_high) / 2))
        .round(6)
        .where(word("dwell_asked") != NO),
        ANGLE,
        help="of the crank, to the middle of its range; later is negative",
    ),
    Result("timing_after_dwell", "Timing expected then", (timing + shift).round(6), TIMING),
    Result(
        "gap_timing_direction",
        "Setting the gap makes the spark",
        table(
            (gap.missing | dwell.known | ~(gap_margin < 0), BLANK),
            (gap > number("spec_point_gap_max"), LATER),
            otherwise=EARLIER,
        ),
        help="where no dwell was read",
    ),
    Result(
        "points_fitted",
        "Points fitted",
        table(
            (kind == "electronic", NO),
            (kind.is_in(*WITH_POINTS) | any_known(gap, dwell) | contacts.is_in(*CONTACTS), YES),
        ),
        help="also where only readings say so; a magneto has contacts too",
        working=True,
    ),
    Result(
        "dwell_asked",
        "Dwell asked for",
        table((kind.is_in("electronic", "magneto"), NO), (fitted == YES, YES)),
        help="a magneto's contacts have a gap, and no dwell",
        working=True,
    ),
)


# --- timing --------------------------------------------------------------------------------------------

timing_mark, gap_fault = word("mark_timing"), word("gap_fault")
timing_word = table(
    (timing_mark.is_in(IN_LIMITS, NEAR_LIMIT), IN_LIMITS),
    ((timing_mark == OUT_OF_LIMITS) & (timing_error < 0), "late"),
    ((timing_mark == OUT_OF_LIMITS) & timing_error.known, "early"),
)

TIMING_RESULTS = (
    Result(
        "timing_error",
        "Timing error",
        (timing - number("spec_timing")).round(6),
        ANGLE,
        help="of the crank; late is negative",
    ),
    Result(
        "timing_says",
        "Timing is",
        joined(timing_word, table(((gap_fault == YES) & number("margin_timing").known, POINTS_FIRST))),
        wide=True,
    ),
    Result(
        "timing_speed_difference",
        "Read off its speed by",
        (number("timing_speed") - number("spec_timing_speed")).round(6),
        SPEED,
        help="a faster engine may have begun to advance",
    ),
    Result(
        "gap_fault",
        "Gap or dwell out",
        yes_if((word("mark_point_gap") == OUT_OF_LIMITS) | (word("mark_dwell") == OUT_OF_LIMITS)),
        help="the timing is then judged again after it was set",
        working=True,
    ),
)


# --- vacuum advance ------------------------------------------------------------------------------------

manifold, plugged = number("manifold_vacuum_then"), number("advance_line_vacuum_plugged")
in_line, lost = number("advance_line_vacuum"), number("advance_line_difference")
moves, same = word("advance_unit_moves"), constant("same_vacuum")

VACUUM_ADVANCE = (
    Result(
        "advance_line_difference",
        "Lost on the way to the unit",
        (number("manifold_vacuum_then") - in_line).round(6),
        VACUUM,
    ),
    Result(
        "line_compare",
        "Points to",
        table(
            (moves == YES, MOVES),
            (moves != NO, BLANK),
            ((manifold - plugged <= same) & (in_line < manifold - same), UNIT),
            ((plugged < manifold - same) & (in_line < manifold - same), LINE),
            ((lost > same) & (in_line <= same), LINE),
            (lost > same, LINE_OR_UNIT),
            # Next to no vacuum with the throttle so far open, or more in the line than feeds it: nothing is told.
            ((in_line > same) & (lost >= -1 * same), UNIT),
            otherwise=READ_BOTH,
        ),
        wide=True,
        help="does not move although the vacuum reaches it: the unit; else its line",
    ),
)
