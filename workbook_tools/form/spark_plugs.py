"""Sheet Spark plugs: how each plug looks and its gap, and what the look points to."""

from __future__ import annotations

from workbook_tools.form.measures import GAP
from workbook_tools.form.model import Field, Limits, Sheet, Table

LOOKS = ("normal", "oily", "dry soot", "wet with fuel", "blistered white", "cracked or worn", "coolant traces")

SPARK_PLUGS = Sheet(
    name="Spark plugs",
    purpose="Lay the plugs out in cylinder order while they are out for the compression test, and look at each.",
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
            ),
        ),
    ),
)
