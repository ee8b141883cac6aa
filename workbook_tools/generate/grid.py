"""The column grid that all sheets share, how wide each item's box is, and how high wrapped text stands."""

from __future__ import annotations

import math
import textwrap

from workbook_tools.form.marks import results_for
from workbook_tools.form.model import Block, Field, Item, Result, Sheet, Table

LABEL_WIDTH = 34.0
COLUMN_WIDTH = 12.0
GAP_WIDTH = 3.0
WORKING_WIDTH = 16.0
WORKING_LABEL_WIDTH = 30.0

VALUE, UNIT, LOWEST, HIGHEST, MARK, HELP = 1, 2, 3, 4, 5, 6
#: Last printed column of a sheet without wide tables: help runs from HELP to here.
LAST_COLUMN = 9

TITLE_HEIGHT = 30.0
HEADING_HEIGHT = 24.0
ROW_HEIGHT = 22.0
#: A sheet higher than this, in points, gets closer rows, so that it can still be read on one printed page.
LONG_SHEET, CLOSE_ROW_HEIGHT = 1100.0, 18.0
POINTS_PER_CHARACTER = 6.0
SPACE_HEIGHT, GAP_HEIGHT = 9.0, 4.0
#: Height of one line of text, and how many characters fit in a column's width of one, by size of the text.
LINE_HEIGHT = {"normal": 15.0, "bold": 15.0, "small": 12.5, "small bold": 12.5}
CHARACTERS_PER_WIDTH = {"normal": 1.22, "bold": 1.0, "small": 1.45, "small bold": 1.2}


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
    """How many columns an item's box takes in a table."""
    if item.wide:
        return 3
    return _choice_span(item) if isinstance(item, Field) else 1


def _choice_span(item: Field) -> int:
    longest = max((len(choice) for choice in item.choices), default=0)
    return min(3, max(1, math.ceil((longest + 2) / COLUMN_WIDTH)))


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


def width_between(first: int, last: int) -> float:
    """Width in characters of the printed columns from `first` to `last`."""
    return sum(LABEL_WIDTH if column == 0 else COLUMN_WIDTH for column in range(first, last + 1))


def lines_of(text: str, width: float, size: str = "normal") -> int:
    """How many lines a text takes in a box of that width; generous, so that nothing is cut off."""
    characters = max(1, int(width * CHARACTERS_PER_WIDTH[size]) - 1)
    return max(1, sum(len(textwrap.wrap(line, characters)) or 1 for line in text.split("\n")))


def height_of(text: str, width: float, size: str = "normal", least: float = ROW_HEIGHT) -> float:
    """Row height in which a wrapped text can be read whole."""
    return max(least, lines_of(text, width, size) * LINE_HEIGHT[size] + 5.0)
