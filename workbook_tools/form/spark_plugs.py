"""Sheet Spark plugs: how each plug looks and its gap, and what the look points to."""

from __future__ import annotations

from workbook_tools.form.compression_results import SOUND
from workbook_tools.language.measures import GAP
from workbook_tools.language.model import (
    OUT_OF_LIMITS,
    Block,
    Field,
    Limits,
    Result,
    Shape,
    Sheet,
    Table,
    Value,
)
from workbook_tools.language.values import Values

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


def plug_points_to(v: Values, n: int | None) -> Value:
    """What the look of one plug points to."""
    return LOOKS_MEAN.get(v.text("plug_look", n))


def plug_points_to_formula() -> str:
    """The same as nested IFs."""
    text = '""'
    for look, meaning in reversed(LOOKS_MEAN.items()):
        text = f'IF(plug_look_#="{look}","{meaning}",{text})'
    return f"={text}"


UNFIRED = ("wet with fuel", "dry soot")


def plug_unfired(v: Values, n: int | None) -> Value:
    """'yes' where a cylinder of normal compression hardly slows the engine, its plug alone unfired."""
    look = v.text("plug_look", n)
    weak = v.text("drop_is_weak", n) == "weak" and v.text("compression_counts") != "no"
    sound = v.text("compression_is_low", n) == SOUND and v.text("mark_leakdown", n) != OUT_OF_LIMITS
    alone = 2 * v.count_text("plug_look", look) <= v.shape.cylinders
    return "yes" if look in UNFIRED and weak and sound and alone else None


def plug_unfired_formula(shape: Shape, _: int | None) -> str:
    """The same as a formula."""
    looks = ",".join(
        f'AND(plug_look_#="{look}",2*COUNTIF(all_plug_look,"{look}")<={shape.cylinders})' for look in UNFIRED
    )
    return (
        f'=IF(AND(OR({looks}),drop_is_weak_#="weak",compression_counts<>"no",compression_is_low_#="{SOUND}",'
        f'mark_leakdown_#<>"{OUT_OF_LIMITS}"),"yes","")'
    )


def plugs_mostly(v: Values, _: int | None) -> Value:
    """The look that more than half of the plugs show: a cause common to all cylinders."""
    return next((look for look in LOOKS if 2 * v.count_text("plug_look", look) > v.shape.cylinders), None)


def plugs_mostly_formula(shape: Shape, _: int | None) -> str:
    """The same as nested IFs."""
    text = '""'
    for look in reversed(LOOKS):
        text = f'IF(2*COUNTIF(all_plug_look,"{look}")>{shape.cylinders},"{look}",{text})'
    return f"={text}"


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
                Field("plug_look", "Look", "choice", per="cylinder", choices=LOOKS),
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
                    plug_points_to_formula(),
                    plug_points_to,
                    per="cylinder",
                    wide=True,
                ),
                Result(
                    "plug_unfired",
                    "Did not fire",
                    plug_unfired_formula,
                    plug_unfired,
                    per="cylinder",
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
                    plugs_mostly_formula,
                    plugs_mostly,
                    help="alike: look for a cause common to all cylinders; one apart: look at that cylinder",
                ),
            ),
        ),
    ),
)
