"""The column grid that all sheets share, how wide each item's box is, and how high wrapped text stands."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from workbook_tools.form import the_form
from workbook_tools.form.marks import results_for
from workbook_tools.language.model import Block, Field, Item, Result, Shape, Sheet, Table
from workbook_tools.layout import letters
from workbook_tools.layout.letters import PIXELS_BETWEEN, PIXELS_PER_CHARACTER, PIXELS_PER_POINT

LABEL_WIDTH = 34.0
COLUMN_WIDTH = 12.0
#: Between what is printed and the workings, which a laptop does not show until one goes there.
GAP_WIDTH = 32.0
WORKING_WIDTH = 24.0
WORKING_LABEL_WIDTH = 30.0

VALUE, UNIT, LOWEST, HIGHEST, MARK, HELP = 1, 2, 3, 4, 5, 6
#: Last column of texts and charts: a laptop of 1366 pixels shows the columns up to here. Only wide tables go on.
LAST_COLUMN = 8

#: Of a row of drawn dials, which are 74 pixels high.
DIAL_HEIGHT = 59.0
TITLE_HEIGHT = 26.0
HEADING_HEIGHT = 20.0
#: As close as letters of 11 points can be read: what is typed stands on the first screen, and a sheet on one page.
ROW_HEIGHT = 15.0
SPACE_HEIGHT, GAP_HEIGHT, GROUP_HEIGHT = 8.0, 3.0, 6.0
#: Row of the units below a table's heads, with units and without any.
UNITS_HEIGHT, NO_UNITS_HEIGHT = 13.0, 4.0
#: Size and weight of the letters of each kind of text.
LETTERS = {
    "normal": (11, False),
    "bold": (11, True),
    "small": (9, False),
    "small bold": (9, True),
    "heading": (12, True),
}
#: Pixels at both sides of a text, and of the indent that all but bold texts may have.
SIDES, INDENT = 6, 9
_TEXT_IN_FORMULA = re.compile('"([^"]*)"')


def span_in_block(item: Item) -> int:
    """How many columns an item's box takes in a block: up to the help for long texts."""
    if item.limits or item.measure.us or item.measure.metric:
        return 1
    if item.wide:
        return MARK - VALUE + 1
    if isinstance(item, Result):
        return 1 if item.percent or item.money or item.measure.us_decimals else 2
    return max(2, _choice_span(item)) if item.kind in ("choice", "text") else 1


def help_column(block: Block) -> int:
    """Where the help of a block begins: right behind its units, or behind limits, marks and long boxes."""
    printed = [item for item in block.items if not is_working(item)]
    if any(item.limits for item in printed):
        return HELP
    return max([LOWEST, *(VALUE + span_in_block(item) for item in printed)])


def span_in_table(item: Item) -> int:
    """How many columns an item's box takes in a table: results wrap in theirs, what is typed has room in a line."""
    if isinstance(item, Field) and item.columns:
        return item.columns
    if item.wide:
        return 2 if isinstance(item, Result) else 3
    return _choice_span(item) if isinstance(item, Field) else 1


def _choice_span(item: Field) -> int:
    longest = max((pixels_of_text(choice) for choice in item.choices), default=0.0)
    return min(3, max(1, math.ceil(longest / pixels_of(COLUMN_WIDTH))))


def pixels_of_text(text: str, kind: str = "normal") -> float:
    """How wide a box has to be for a text to stand in one line."""
    size, bold = LETTERS[kind]
    return letters.text_width(text, bold) * size * PIXELS_PER_POINT + SIDES + INDENT


def characters_for(text: str, kind: str = "normal") -> float:
    """How many characters wide a column has to be for a text to stand in one line."""
    return math.ceil(pixels_of_text(text, kind) * letters.ROUNDING / PIXELS_PER_CHARACTER)


def row_height(items: Iterable[Item], shape: Shape, number: int | None) -> float:
    """Height of a table's row in which each text that its wrapped results can show is read whole."""
    heights = [ROW_HEIGHT]
    for item in items:
        if isinstance(item, Result) and item.wide:
            box = pixels_between(1, span_in_table(item))
            texts = _TEXT_IN_FORMULA.findall(the_form.formula_of(item, shape, number))
            heights += [height_of(text, box) for text in texts]
    return max(heights)


def is_working(item: Item) -> bool:
    """Whether an item is a helper cell that stands beside the printed part."""
    return isinstance(item, Result) and item.working


def table_columns(table: Table) -> tuple[tuple[Item, ...], tuple[Item, ...]]:
    """Printed columns, marks beside their items, and working columns: limits, margins, helper results."""
    printed: list[Item] = []
    working: list[Item] = []
    for item in table.columns:
        (working if is_working(item) else printed).append(item)
        for result in results_for(item) if item.limits else ():
            (printed if result.is_mark else working).append(result)
    return tuple(printed), tuple(working)


def last_printed_column(sheet: Sheet) -> int:
    """The last printed column of a sheet: wide tables push it to the right."""
    widths = [
        sum(span_in_table(item) for item in table_columns(part)[0])
        for part in sheet.parts
        if isinstance(part, Table)
    ]
    return max([LAST_COLUMN, *widths])


def pixels_between(first: int, last: int) -> float:
    """Width in pixels of the printed columns from `first` to `last`."""
    widths = (LABEL_WIDTH if column == 0 else COLUMN_WIDTH for column in range(first, last + 1))
    return sum(pixels_of(width) for width in widths)


def pixels_of(width: float) -> float:
    """Pixels of a column that is so many characters wide."""
    return width * PIXELS_PER_CHARACTER + PIXELS_BETWEEN


def points_between(first: int, last: int) -> float:
    """Width in points of the printed columns from `first` to `last`."""
    return pixels_between(first, last) / PIXELS_PER_POINT


def lines_of(text: str, pixels: float, kind: str = "normal") -> int:
    """How many lines a text takes in a box of that width; generous, so that nothing is cut off."""
    size, bold = LETTERS[kind]
    sides = SIDES if bold else SIDES + INDENT
    return letters.lines_of(text, (pixels - sides) / (size * PIXELS_PER_POINT * letters.ROUNDING), bold)


def lines_height(lines: int) -> float:
    """Row height in which so many lines can be read whole."""
    return lines * LETTERS["normal"][0] * letters.LINE_HEIGHT + letters.PADDING / 2


def height_of(text: str, pixels: float, kind: str = "normal", least: float = ROW_HEIGHT) -> float:
    """Row height in which a wrapped text can be read whole; a single line stands in the least."""
    lines = lines_of(text, pixels, kind)
    padding = letters.PADDING if lines > 1 else 0.0
    return max(least, lines * LETTERS[kind][0] * letters.LINE_HEIGHT + padding)
