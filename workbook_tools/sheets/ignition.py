"""Sheet Ignition: points before timing, timing, advance by vacuum and by speed, and the spark itself.

What is worked out from the readings stands in `ignition_results.py`, the advance curve in
`advance_results.py`; this module says what is asked, in which order.
"""

from __future__ import annotations

from workbook_tools.language.measures import ANGLE, GAP, SPEED, TIMING, VACUUM
from workbook_tools.language.model import ABSENT, Block, Chart, Field, Line, Sheet, Table
from workbook_tools.sheets import ignition_results as results
from workbook_tools.sheets.advance_results import ADVANCE_POINTS, ADVANCE_VERDICT, CURVE
from workbook_tools.sheets.ignition_results import CONTACTS, DWELL_LIMITS, GAP_LIMITS, TIMING_LIMITS

IGNITION = Sheet(
    name="Ignition",
    purpose="Set the points first, then the timing, then look at the advance: each moves the one after it.",
    cost="30 minutes; feeler gauge or dwell meter, timing light, vacuum gauge, tachometer",
    parts=(
        Block(
            "Contact points",
            (
                Field("contacts", "Contacts", "choice", choices=CONTACTS, sound=("good",)),
                Field(
                    "point_gap",
                    "Point gap",
                    measure=GAP,
                    low=0.002,
                    high=0.06,
                    help="rubbing block on the top of a cam lobe",
                    limits=GAP_LIMITS,
                ),
                Field(
                    "dwell", "Dwell", measure=ANGLE, low=2, high=180, limits=DWELL_LIMITS, quantity="dwell"
                ),
                *results.POINTS,
            ),
            what_to_do="Ignition off for contacts and gap. Gap or dwell is enough; a magneto has a gap "
            "and no dwell. With electronic ignition go on to the timing.",
            cautions=("high voltage", "running engine"),
        ),
        Block(
            "Timing",
            (
                Field("timing", "Timing", measure=TIMING, low=-40, high=60, limits=TIMING_LIMITS),
                Field("timing_speed", "Speed at that moment", measure=SPEED, low=150, high=3000),
                Field(
                    "timing_mark", "Timing mark", "choice", choices=("steady", "wanders"), sound=("steady",)
                ),
                *results.TIMING_RESULTS,
            ),
            what_to_do="Vacuum line off and plugged. Before top dead centre is positive.",
            cautions=("running engine", "exhaust gas", "high voltage"),
        ),
        Block(
            "Vacuum advance",
            (
                Field(
                    "advance_unit_moves",
                    "Advance unit moves",
                    "choice",
                    choices=("yes", "no", ABSENT),
                    sound=("yes", "not fitted"),
                ),
                Field("advance_line_vacuum", "Vacuum in the line", measure=VACUUM, low=0, high=29),
                Field("manifold_vacuum_then", "Vacuum in the manifold then", measure=VACUUM, low=0, high=29),
                Field(
                    "advance_line_vacuum_plugged",
                    "In the line, its end plugged",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    help="end at the unit plugged: it comes up to the manifold's where the unit leaks",
                ),
                *results.VACUUM_ADVANCE,
            ),
            what_to_do="Without such a unit say so. Line connected: vary the speed and watch the unit. If it stands still, tee the gauge "
            "into its line, raise the speed slowly, and read line and manifold at the same throttle.",
            cautions=("running engine", "exhaust gas"),
        ),
        Block(
            "Mechanical advance",
            (
                Field(
                    "rotor_springs_back",
                    "Rotor springs back",
                    "choice",
                    choices=("yes", "sluggish", "no", ABSENT),
                    sound=("yes", "not fitted"),
                ),
            ),
            what_to_do="Ignition off, cap off: turn the rotor against its spring and let go.",
            cautions=("high voltage",),
        ),
        Table(
            "Advance by speed",
            per=ADVANCE_POINTS,
            row_label="Point",
            columns=(
                Field("advance_speed", "Speed", measure=SPEED, per=ADVANCE_POINTS, low=300, high=7000),
                Field("advance_reading", "Advance read", measure=ANGLE, per=ADVANCE_POINTS, low=-20, high=80),
                *CURVE,
            ),
            what_to_do="Vacuum line off and plugged: total advance at up to six speeds, from the lowest up.",
            cautions=("running engine", "exhaust gas", "high voltage"),
        ),
        Block("The curve", (ADVANCE_VERDICT,)),
        Chart(
            "Advance by speed, less the timing error",
            per=ADVANCE_POINTS,
            bars=(Line("advance_corrected", "measured"),),
            limits=(Line("advance_band_min", "least"), Line("advance_band_max", "most")),
            x="advance_speed",
            x_title="Speed, rpm",
            y_title=ANGLE,
            rows=12,
        ),
        Block(
            "Spark",
            (Field("spark", "Spark", "choice", choices=("strong", "weak", "none"), sound=("strong",)),),
            what_to_do="Spark tester on a lead, body to earth; helper at the starter; no fuel vapour near.",
            cautions=("high voltage", "running engine", "fuel"),
        ),
    ),
)
