"""Sheet Compression: dry and wet readings, leak-down and speed drop by cylinder, and what they point to.

What follows from the dry readings is worked out in `compression_results.py`, what each cylinder points to in
`cylinder_verdicts.py`; this module says what is asked and in which
order, and sets the results beside it.
"""

from __future__ import annotations

from workbook_tools.language.measures import COMPRESSION, NONE, PERCENT, SPEED
from workbook_tools.language.model import Block, Chart, Field, Limits, Line, Sheet, Table
from workbook_tools.sheets import compression_results as dry
from workbook_tools.sheets import cylinder_verdicts as verdicts

YES_NO = ("yes", "no")
LEAK_PLACES = ("nowhere", "intake", "exhaust", "oil filler", "coolant", "next cylinder")

COMPRESSION_LIMITS = Limits(
    "site_compression_min",
    "site_compression_max",
    "compression_gauge_tolerance",
    "compression_comparison_line",
)

COMPRESSION_SHEET = Sheet(
    name="Compression",
    purpose="Gauge every cylinder dry, after the first stroke and again at the end; then the low ones and one sound one wet; "
    "leak-down where it is still open.",
    cost="45 minutes; plug wrench, compression gauge, oil can, helper at the starter; leak-down tester and air",
    parts=(
        Block(
            "Test conditions",
            (
                Field("throttle_held_open", "Throttle held open", "choice", choices=YES_NO),
                Field("all_plugs_out", "All plugs out", "choice", choices=YES_NO),
                Field(
                    "compression_strokes",
                    "Strokes a cylinder",
                    "whole",
                    low=1,
                    high=20,
                    help="the same for each, at least 4",
                ),
                *dry.CONDITIONS,
            ),
            is_flat=True,
        ),
        Table(
            "Dry test",
            per="cylinder",
            row_label="Cylinder",
            cautions=("cranking", "hot parts"),
            columns=(
                Field(
                    "compression_first", "First stroke", measure=COMPRESSION, per="cylinder", low=0, high=300
                ),
                Field(
                    "compression_dry",
                    "Dry, at the end",
                    measure=COMPRESSION,
                    per="cylinder",
                    low=0,
                    high=300,
                    limits=COMPRESSION_LIMITS,
                ),
                *dry.DRY,
            ),
        ),
        Block("All cylinders together", (*dry.ALL_CYLINDERS, *verdicts.EVEN)),
        Chart(
            "Compression by cylinder",
            per="cylinder",
            bars=(Line("compression_dry", "dry"), Line("compression_wet", "wet")),
            limits=(
                Line("compression_low_line", "low below this", as_level=True),
                Line("site_compression_max", "highest allowed", as_level=True),
            ),
            x_title="Cylinder",
            y_title=COMPRESSION,
            rows=10,
        ),
        Table(
            "Wet test and leak-down",
            per="cylinder",
            row_label="Cylinder",
            what_to_do="Wet: a spoon of engine oil in each low cylinder and in one sound one, then gauge again. "
            "Leak-down: piston at top dead centre, listen where the air comes out.",
            cautions=("cranking", "compressed air"),
            columns=(
                Field("compression_wet", "Wet", measure=COMPRESSION, per="cylinder", low=0, high=320),
                Field(
                    "leakdown",
                    "Leak-down",
                    measure=PERCENT,
                    per="cylinder",
                    low=0,
                    high=100,
                    limits=Limits(high="spec_leakdown_max"),
                ),
                Field(
                    "leak_heard_at",
                    "Leak heard at",
                    "choice",
                    measure=NONE,
                    per="cylinder",
                    choices=LEAK_PLACES,
                    sound=("nowhere",),
                ),
                *verdicts.WET_AND_LEAK,
            ),
        ),
        Table(
            "Speed drop",
            per="cylinder",
            row_label="Cylinder",
            what_to_do="Engine at idle: short out one cylinder's spark at a time. A weak cylinder falls less.",
            cautions=("high voltage", "running engine", "exhaust gas"),
            columns=(
                Field("speed_drop", "Fall in speed", measure=SPEED, per="cylinder", low=-50, high=800),
                *verdicts.SPEED_DROP,
            ),
        ),
        Block("Balance", verdicts.BALANCE),
    ),
)
