"""Sheet Ignition: points before timing, timing, advance by vacuum and by speed, and the spark itself.

What is worked out from the readings stands in `ignition_results.py`; this module says what is asked, in which order.
"""

from __future__ import annotations

from workbook_tools.form.measures import ANGLE, GAP, SPEED, TIMING, VACUUM
from workbook_tools.form.model import Block, Field, Limits, Sheet, Table

CONTACTS = ("good", "worn", "out of line", "pitted", "burned")
ADVANCE_POINTS = 6

IGNITION = Sheet(
    name="Ignition",
    purpose="Set the points first, then the timing, then look at the advance: each moves the one after it.",
    cost="30 minutes; feeler gauge or dwell meter, timing light, vacuum gauge, tachometer",
    parts=(
        Block(
            "Contact points",
            (
                Field("contacts", "Contacts", "choice", choices=CONTACTS),
                Field(
                    "point_gap",
                    "Point gap",
                    measure=GAP,
                    low=0.002,
                    high=0.06,
                    limits=Limits("spec_point_gap_min", "spec_point_gap_max"),
                ),
                Field("dwell", "Dwell", measure=ANGLE, low=2, high=180, limits=Limits("spec_dwell_min", "spec_dwell_max")),
            ),
            cautions=("high voltage",),
        ),
        Block(
            "Timing",
            (
                Field("timing", "Timing", measure=TIMING, low=-40, high=60, limits=Limits("timing_low", "timing_high")),
                Field("timing_speed", "Speed at that moment", measure=SPEED, low=150, high=3000),
                Field("timing_mark", "Timing mark", "choice", choices=("steady", "wanders")),
            ),
            cautions=("running engine", "exhaust gas", "high voltage"),
        ),
        Block(
            "Vacuum advance",
            (
                Field("advance_unit_moves", "Advance unit moves", "choice", choices=("yes", "no")),
                Field("advance_line_vacuum", "Vacuum in the line", measure=VACUUM, low=0, high=29),
                Field("manifold_vacuum_then", "Vacuum in the manifold then", measure=VACUUM, low=0, high=29),
            ),
            cautions=("running engine",),
        ),
        Block(
            "Mechanical advance",
            (Field("rotor_springs_back", "Rotor springs back", "choice", choices=("yes", "sluggish", "no")),),
        ),
        Table(
            "Advance by speed",
            per=ADVANCE_POINTS,
            row_label="Point",
            columns=(
                Field("advance_speed", "Speed", measure=SPEED, per=ADVANCE_POINTS, low=300, high=7000),
                Field("advance_reading", "Advance read", measure=ANGLE, per=ADVANCE_POINTS, low=-20, high=80),
            ),
            cautions=("running engine",),
        ),
        Block(
            "Spark",
            (Field("spark", "Spark", "choice", choices=("strong", "weak", "none")),),
            cautions=("high voltage",),
        ),
    ),
)
