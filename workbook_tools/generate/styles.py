"""The look of all sheets: one typeface, a quiet palette, and each cell format by what it is for.

Fills and the caution line are of the Okabe-Ito colour-blind-safe set or tints of it (M. Okabe, K. Ito, Color
Universal Design, 2008); every text stands at least 4.5:1 against what is behind it (WCAG 2.1, 1.4.3).
"""

from __future__ import annotations

from typing import Any

from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook

from workbook_tools.language.model import (
    FAULT,
    NEAR_LIMIT,
    NO_LIMIT,
    NOT_TAKEN,
    OUT_OF_LIMITS,
    PROVEN,
    Field,
    Item,
    Result,
    Shape,
)

FONT = "Arial"
SIZE, SMALL = 11, 9

WHITE, BLACK = "#FFFFFF", "#000000"
INK = "#1A1A1A"
GREY = "#595959"
BLUE = "#00476F"
#: What is still to be typed stands out; what is there already steps back and keeps its blue line.
INPUT_FILL, FILLED_FILL, INPUT_LINE = "#DCECF9", "#F5FAFE", "#8FB3CC"
LINE = "#C9D1D6"
VERMILLION = "#D55E00"
#: Vermillion and orange with white in them: on the pure colours black is hard to read in a grey print.
STRONG_ORANGE, MIDDLE_ORANGE = "#E49659", "#F2CF80"
PALE_YELLOW, PALE_GREEN = "#FCF6B1", "#CCEBE1"
#: A tint of vermillion for cautions, and a shade of it in which letters are read on white.
CAUTION_FILL, CAUTION_INK = "#FBE8DC", "#9A4400"
FILLED = "filled"

#: Text and what is behind it, for every pair that a sheet can show.
TEXT_ON_FILL: dict[str, tuple[str, str]] = {
    "input": (INK, INPUT_FILL),
    FILLED: (INK, FILLED_FILL),
    "computed": (INK, WHITE),
    "heading": (BLUE, WHITE),
    "help": (GREY, WHITE),
    "caution": (INK, CAUTION_FILL),
    "short caution": (CAUTION_INK, WHITE),
    OUT_OF_LIMITS: (BLACK, STRONG_ORANGE),
    NEAR_LIMIT: (BLACK, PALE_YELLOW),
    NOT_TAKEN: (GREY, WHITE),
    NO_LIMIT: (GREY, WHITE),
    PROVEN: (BLACK, PALE_GREEN),
    FAULT: (BLACK, STRONG_ORANGE),
}
BOLD = {OUT_OF_LIMITS, FAULT}

DATE_FORMAT = "yyyy-mm-dd"
TEXT_FORMAT = "@"

_WRAPPED = {"text_wrap": True, "valign": "vcenter"}
#: A caution stands on a tint of its own behind a stripe that is seen from a step away.
_CAUTION = {"left": 5, "left_color": VERMILLION, "indent": 1, "font_size": SMALL, "bg_color": CAUTION_FILL}
_CAUTION_IN_HEAD = {"bold": True, "font_size": SMALL, "font_color": CAUTION_INK, "valign": "vcenter"}
_CAPTIONS: dict[str, dict[str, Any]] = {
    "title": {"font_size": 20, "bold": True, "font_color": BLUE, "valign": "vcenter"},
    "purpose": {**_WRAPPED},
    "cost": {**_WRAPPED, "font_size": SMALL, "font_color": GREY},
    "link": {"font_size": SMALL, "font_color": BLUE, "underline": 1, "valign": "vcenter"},
    "heading": {
        "font_size": 12,
        "bold": True,
        "font_color": BLUE,
        "bottom": 2,
        "bottom_color": BLUE,
        "valign": "vcenter",
    },
    "head": {"font_size": SMALL, "font_color": GREY, "bottom": 2, "bottom_color": BLUE, "align": "center"},
    "note": {**_WRAPPED, "italic": True},
    "caution": {**_CAUTION, **_WRAPPED},
    "caution word": {"bold": True, "font_size": SMALL},
    "caution text": {"font_size": SMALL},
    "short caution": {**_CAUTION, **_WRAPPED, "bold": True},
    "heading caution": {**_CAUTION_IN_HEAD, "bottom": 2, "bottom_color": BLUE},
    "label": {**_WRAPPED},
    "board label": {"bold": True, "font_color": BLUE, "valign": "vcenter"},
    "unit": {"font_color": GREY, "valign": "vcenter", "indent": 1},
    "job": {"font_color": GREY, "valign": "vcenter", "align": "right"},
    "help": {**_WRAPPED, "font_size": SMALL, "font_color": GREY, "indent": 1},
    "paragraph": {**_WRAPPED},
    "below dial": {**_WRAPPED, "valign": "top", "align": "center", "font_size": SMALL},
    "row head": {"text_wrap": True, "valign": "bottom", "bold": True},
    "row number": {"align": "left", "valign": "vcenter"},
    "column head": {"text_wrap": True, "valign": "bottom", "align": "center", "bold": True},
    "column unit": {
        "font_size": SMALL,
        "font_color": GREY,
        "align": "center",
        "bottom": 1,
        "bottom_color": LINE,
    },
    "small head": {**_WRAPPED, "font_size": SMALL, "bold": True, "font_color": GREY},
    "small label": {"font_size": SMALL, "font_color": GREY, "valign": "vcenter", "align": "left"},
}


class Styles:
    """The formats of one workbook, each made once."""

    def __init__(self, book: Workbook, shape: Shape) -> None:
        self.book = book
        self.shape = shape
        self._made: dict[tuple[tuple[str, Any], ...], Format] = {}
        self._captions: dict[str, Format] = {}
        self._cells: dict[tuple[str, bool, bool, bool], Format] = {}
        self._highlights: dict[str, Format] = {}

    def format(self, **properties: Any) -> Format:
        """The format with those properties in the sheet's typeface."""
        wanted = {"font_name": FONT, "font_size": SIZE, "font_color": INK, **properties}
        key = tuple(sorted(wanted.items()))
        if key not in self._made:
            self._made[key] = self.book.add_format(wanted)
        return self._made[key]

    def caption(self, style: str, **more: Any) -> Format:
        """The format of a text that is no reading."""
        if more:
            return self.format(**_CAPTIONS[style], **more)
        if style not in self._captions:
            self._captions[style] = self.format(**_CAPTIONS[style])
        return self._captions[style]

    def cell(self, item: Item, first: bool = True, last: bool = True, working: bool = False) -> Format:
        """The format of an input or computed cell, or of the rest of its box where it spans columns."""
        key = (item.name, first, last, working)
        if key not in self._cells:
            self._cells[key] = self._new_cell(item, first, last, working)
        return self._cells[key]

    def _new_cell(self, item: Item, first: bool, last: bool, working: bool) -> Format:
        if working:
            return self.format(
                font_size=SMALL,
                font_color=GREY,
                num_format=number_format(item, self.shape),
                valign="vcenter",
                align="left",
            )
        return self.format(**self._box(item, first, last))

    def _box(self, item: Item, first: bool = True, last: bool = True) -> dict[str, Any]:
        """Number format, alignment and outline of a cell, or of a part of a box of several."""
        line = INPUT_LINE if is_typed(item) else LINE
        properties: dict[str, Any] = {"valign": "vcenter", "num_format": number_format(item, self.shape)}
        properties |= {"top": 1, "bottom": 1, "top_color": line, "bottom_color": line}
        properties |= {"left": 1, "left_color": line} if first else {}
        properties |= {"right": 1, "right_color": line} if last else {}
        properties |= {"font_color": BLUE} if isinstance(item, Result) and item.is_bar else {}
        properties |= {"font_size": SMALL} if isinstance(item, Result) and item.small else {}
        properties |= {"bold": True} if isinstance(item, Result) and item.strong else {}
        properties |= {"bg_color": INPUT_FILL, "locked": not first} if is_typed(item) else {}
        return properties | alignment(item)

    def wrapped(self, item: Item, number: int | None = None) -> Format:
        """The format of an item whose text wraps in a box of merged cells, or in a cell of its own."""
        box = self._box(item)
        if isinstance(item, Result) and item.numbered:
            box |= {"num_format": f'"{number}: "@', "indent": 0, "align": "center"}
        return self.format(**box, text_wrap=True)

    def highlight(self, mark: str) -> Format:
        """The conditional format of a mark: text colour, fill and weight; the typeface stays the cell's."""
        if mark not in self._highlights:
            self._highlights[mark] = self._new_highlight(mark)
        return self._highlights[mark]

    def _new_highlight(self, mark: str) -> Format:
        text, fill = TEXT_ON_FILL[mark]
        properties: dict[str, Any] = {"font_color": text, "bold": mark in BOLD}
        if fill != WHITE:
            properties["bg_color"] = fill
        return self.book.add_format(properties)


def is_typed(item: Item) -> bool:
    """Whether a cell is there to be typed into."""
    return isinstance(item, Field) and not item.locked


def alignment(item: Item) -> dict[str, Any]:
    """Marks in the middle, texts left, numbers right beside their unit."""
    if isinstance(item, Result) and item.is_mark:
        return {"align": "center"}
    if isinstance(item, Field) and item.kind in ("text", "choice", "date"):
        return {"align": "left", "indent": 1}
    measured = item.measure.us or item.measure.metric
    plain_number = (
        isinstance(item, Field) or measured or item.money or item.percent or item.measure.us_decimals
    )
    return {"align": "right", "indent": 1} if plain_number else {"align": "left", "indent": 1}


def number_format(item: Item, shape: Shape) -> str:
    """How a cell shows its value: readings as they were typed, results with the decimals of their measure.

    Readings have the general format: a fixed one would round what was typed, and hide that a program took an
    entry for a date. Text cells are text, or programs would turn `1-2` into a date.
    """
    money = f'"{shape.currency}"#,##0.00'
    if isinstance(item, Field):
        kinds = {"date": DATE_FORMAT, "text": TEXT_FORMAT, "money": money}
        return kinds.get(item.kind, "General")
    if item.money:
        return money
    if item.is_date:
        return DATE_FORMAT
    if item.percent:
        return "0%"
    decimals = item.measure.decimals(shape.units)
    if not (item.measure.us or item.measure.metric) and not decimals:
        return "General"
    return "0." + "0" * decimals if decimals else "0"
