"""Sheet Spark plugs: how each plug looks and its gap, and what the look points to."""

from __future__ import annotations

from workbook_tools.language.expressions import (
    CYLINDERS,
    NO,
    Cond,
    column,
    either,
    table,
    word,
    words_for,
    yes_if,
)
from workbook_tools.language.measures import GAP
from workbook_tools.language.model import OUT_OF_LIMITS, Block, Field, Limits, Result, Sheet, Table
from workbook_tools.sheets.compression_results import SOUND, counts, is_low

#: How a plug looks, and what that points to in the few words that fit beside it (common practice, no source).
LOOKS_MEAN: dict[str, str] = {
    "normal": "nothing wrong",
    "oily": "oil in the cylinder: rings or guides",
    "dry soot": "rich mixture, or weak spark",
    "wet with fuel": "no spark there, or flooded",
    "blistered white": "lean mixture, or timing early",
    "cracked or worn": "renew the plug",
    "coolant traces": "head gasket",
}
LOOKS = tuple(LOOKS_MEAN)


UNFIRED = ("wet with fuel", "dry soot")
look, looks = word("plug_look"), column("plug_look")
#: A cylinder of normal compression that hardly slows the engine.
weak_though_sound = (word("drop_is_weak") == "weak") & (counts != NO) & (is_low == SOUND)
weak_though_sound &= word("mark_leakdown") != OUT_OF_LIMITS


def is_on_most(name: str) -> Cond:
    """Whether more than half of all plugs look so: a cause common to all cylinders."""
    return 2 * looks.count_of(name) > CYLINDERS


unfired_alone = either(*((look == name) & ~is_on_most(name) for name in UNFIRED))

SPARK_PLUGS = Sheet(
    name="Spark plugs",
    purpose="Lay the plugs out in cylinder order while they are out for the compression test; look at each.",
    cost="10 minutes; plug wrench, wire gauge, lamp",
    parts=(
        Table(
            "Plugs",
            per="cylinder",
            row_label="Cylinder",
            what_to_do="Blow the plug seats clean before the plugs come out. Keep the plugs in order.",
            cautions=("hot parts", "high voltage"),
            columns=(
                Field("plug_look", "Look", "choice", per="cylinder", choices=LOOKS, sound=("normal",)),
                Field(
                    "plug_gap",
                    "Gap",
                    measure=GAP,
                    per="cylinder",
                    low=0.005,
                    high=0.15,
                    limits=Limits("spec_plug_gap_min", "spec_plug_gap_max"),
                ),
                Result(
                    "plug_points_to",
                    "Points to",
                    words_for(look, LOOKS_MEAN),
                    per="cylinder",
                    wide=True,
                ),
                Result(
                    "plug_suspect",
                    "Weak though sound",
                    yes_if(weak_though_sound),
                    per="cylinder",
                    help="it hardly slows the engine though its compression is normal",
                    working=True,
                ),
            ),
        ),
        Block(
            "All plugs together",
            (
                Result(
                    "plugs_mostly",
                    "Most plugs are",
                    table(*((is_on_most(name), name) for name in LOOKS)),
                    help="alike: look for a cause common to all cylinders; one apart: look at that cylinder",
                ),
            ),
        ),
    ),
)
