"""What a laptop shows of each sheet before anybody scrolls: what is typed, every cylinder of the dry test, each caution once.

Measured on a screenshot of LibreOffice 7.4 in a window of 1366 x 768 at 100 %: 585 pixels of rows, columns A to I.
"""

from __future__ import annotations

from collections import Counter

import pytest

from workbook_tools.form.all_sheets import SHOWN
from workbook_tools.language.model import Block, Field, Shape
from workbook_tools.layout.layout import layout, sheet_of
from workbook_tools.layout.plan import Place, SheetPlan
from workbook_tools.science.engine_geometry import default_banks
from workbook_tools.sheets.cautions import CAUTIONS

WINDOW, LAST_COLUMN = 585, 8
#: Entries that are seen at once of a four-cylinder form, at least.
SEEN = {
    "Job": 16,
    "Engine": 14,
    "Warm-up": 7,
    "Vacuum": 6,
    "Compression": 11,
    "Spark plugs": 8,
    "Ignition": 6,
    "Fuel and air": 5,
    "Repairs": 40,
    "Recheck": 6,
}


def shape(cylinders: int) -> Shape:
    """An engine with the usual banks."""
    return Shape(cylinders, default_banks(cylinders), "us")


def seen(plan: SheetPlan) -> list[Place]:
    """The input cells of a sheet that are seen at first."""
    bottom, below = 0.0, {}
    for row in sorted(plan.row_heights):
        bottom += plan.row_heights[row] * 96 / 72
        below[row] = bottom
    return [
        place
        for place in plan.places
        if isinstance(place.item, Field)
        and not place.item.locked
        and place.column <= LAST_COLUMN
        and below[place.row] <= WINDOW
    ]


@pytest.mark.parametrize("cylinders", [1, 4, 6, 8])
def test_every_cylinder_of_the_dry_test(cylinders: int) -> None:
    """Up to eight cylinders are typed without scrolling, and what the test is made under stands above them."""
    plan = sheet_of(layout(shape(cylinders)), "Compression")
    names = {place.name for place in seen(plan)}
    assert {f"compression_dry_{n}" for n in range(1, cylinders + 1)} <= names
    assert {"throttle_held_open", "all_plugs_out", "compression_strokes"} <= names


@pytest.mark.parametrize("sheet", SEEN)
def test_what_is_typed_is_seen(sheet: str) -> None:
    """Of each sheet so many entries at least."""
    assert len(seen(sheet_of(layout(shape(4)), sheet))) >= SEEN[sheet]


def test_no_caution_is_said_twice() -> None:
    """In full once a sheet, above all that is typed, and in short at each step that it belongs to."""
    for sheet in SHOWN:
        plan = sheet_of(layout(shape(4)), sheet.name)
        full = Counter(each.text for each in plan.captions if each.style == "caution")
        asked = {key for part in sheet.parts for key in getattr(part, "cautions", ())}
        assert full == Counter(CAUTIONS[key] for key in asked), sheet.name
        if not asked:
            continue
        last = max(each.row for each in plan.captions if each.style == "caution")
        assert last < min(place.row for place in plan.places if not place.working)
        in_short = [each.text for each in plan.captions if each.style in ("short caution", "heading caution")]
        for part in sheet.parts:
            if getattr(part, "cautions", ()):
                assert f"Caution: {', '.join(part.cautions)}" in in_short  # type: ignore[union-attr]


def test_a_flat_block_has_nothing_that_is_not_shown() -> None:
    """Items side by side leave no room for cautions and instructions: those stand at the part below them."""
    flat = [part for sheet in SHOWN for part in sheet.parts if isinstance(part, Block) and part.is_flat]
    assert flat
    assert not any(part.cautions or part.what_to_do for part in flat)
