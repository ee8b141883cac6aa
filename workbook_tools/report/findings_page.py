"""A page written from the top down: boxes across a row, each wrapped text with the height that it needs.

The page has eight columns: one for what a row says, six for what it holds, and a hidden one for the keys by
which answers are known again.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.styles import (
    BLACK,
    BLUE,
    GREY,
    INK,
    INPUT_FILL,
    INPUT_LINE,
    LINE,
    MIDDLE_ORANGE,
    PALE_GREEN,
    PALE_YELLOW,
    SIZE,
    SMALL,
    STRONG_ORANGE,
    TEXT_FORMAT,
    VERMILLION,
    WHITE,
    Styles,
)
from workbook_tools.language.model import IN_LIMITS, NEAR_LIMIT, NO_LIMIT, NOT_TAKEN, OUT_OF_LIMITS
from workbook_tools.layout import grid
from workbook_tools.layout.letters import height_of, lines_of, room_for
from workbook_tools.layout.plan import address
from workbook_tools.package.names import quoted
from workbook_tools.report.answers import ANSWER_LABEL

COLUMN_WIDTH = 15.0
LABEL, FIRST, LAST, KEYS = 0, 1, 6, 7
#: Spreadsheet programs allow rows of 409 points; a higher text gets several rows.
HIGHEST_ROW = 400.0
LONGEST_TEXT = 32_767
_NOT_IN_XML = re.compile("[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]")

#: Text and fill of each word in a box. Strong fills for what is sure, pale ones for what may still change.
#: Okabe-Ito vermillion, orange, yellow and bluish green, or tints of them.
BADGES: dict[str, tuple[str, str]] = {
    "confirmed": (BLACK, STRONG_ORANGE),
    "indicated": (BLACK, MIDDLE_ORANGE),
    "possible": (BLACK, PALE_YELLOW),
    "confirmed, provisional": (BLACK, "#F9DFCC"),
    "indicated, provisional": (BLACK, "#FBEBC8"),
    "possible, provisional": (BLACK, WHITE),
    "proven": (BLACK, PALE_GREEN),
    "fault found": (BLACK, STRONG_ORANGE),
    "not proven yet": (INK, WHITE),
    "proven as far as the figures go": (INK, WHITE),
    "not proven": (BLACK, STRONG_ORANGE),
    "not retaken": (BLACK, PALE_YELLOW),
    OUT_OF_LIMITS: (BLACK, STRONG_ORANGE),
    NEAR_LIMIT: (BLACK, PALE_YELLOW),
    IN_LIMITS: (INK, WHITE),
    NOT_TAKEN: (GREY, WHITE),
    NO_LIMIT: (GREY, WHITE),
}
STRONG = {"confirmed", "indicated", "fault found", "not proven", OUT_OF_LIMITS}

_WRAPPED: dict[str, Any] = {"text_wrap": True, "valign": "vcenter"}
_TOP: dict[str, Any] = {"text_wrap": True, "valign": "top"}
_CARD: dict[str, Any] = {**_TOP, "top": 1, "top_color": LINE}
_QUIET: dict[str, Any] = {"font_size": SMALL, "font_color": GREY}
_HEAD: dict[str, Any] = {**_WRAPPED, **_QUIET, "bottom": 1, "bottom_color": LINE}
_INPUT: dict[str, Any] = {"bg_color": INPUT_FILL, "border": 1, "border_color": INPUT_LINE}
LOOKS: dict[str, dict[str, Any]] = {
    "title": {"font_size": 20, "bold": True, "font_color": BLUE, "valign": "vcenter"},
    "job": {**_WRAPPED, "bold": True, "align": "right"},
    "system": {**_WRAPPED, "bold": True},
    "middle": _WRAPPED,
    "text": _TOP,
    "strong": {**_TOP, "bold": True},
    "headline": {**_WRAPPED, "bold": True, "font_size": 14},
    "name": {**_WRAPPED, "bold": True, "font_size": 12, "top": 1, "top_color": LINE},
    "label": {**_TOP, "font_size": SMALL, "font_color": GREY},
    "small": {**_TOP, "font_size": SMALL, "font_color": GREY},
    "note": {**_WRAPPED, "font_size": SMALL, "font_color": GREY},
    "small ink": {**_TOP, "font_size": SMALL},
    "link": {**_TOP, "font_size": 10, "font_color": BLUE, "underline": 1},
    "small link": {**_TOP, "font_size": SMALL, "font_color": BLUE, "underline": 1},
    "caution": {**_WRAPPED, "left": 5, "left_color": VERMILLION},
    "card": _CARD,
    "card link": {**_CARD, "font_size": SMALL, "font_color": BLUE, "underline": 1},
    "card label": {**_CARD, "font_size": SMALL, "font_color": GREY},
    "head": _HEAD,
    "number head": {**_HEAD, "align": "right"},
    "number": {"valign": "top", "align": "right", "num_format": "General"},
    "row number": {"valign": "top", "align": "left", "num_format": "General"},
    "answer label": {**_WRAPPED, "bold": True, "font_size": SMALL, "font_color": BLUE},
    "answer": {**_TOP, **_INPUT, "locked": False, "num_format": TEXT_FORMAT},
}  # fmt: skip
_BORDERS = frozenset({"border", "top", "bottom", "left", "right"})
#: A line of heads is never the last of a page.
HEADS = {"head", "number head"}
RIGHT_LOOKS = {"number", "number head", "job"}
BADGE: dict[str, Any] = {**_WRAPPED, "align": "center", "font_size": SMALL, "border": 1, "border_color": GREY}
#: Height in points: room for a few words by hand on paper.
ANSWER_HEIGHT = 30.0
#: Keeps a note off the line of its heading.
NOTE_PADDING = 6.0


@dataclass(frozen=True)
class Box:
    """A text or number in the columns from `first` to `last`; `link` is the sheet and cell it leads to."""

    first: int
    last: int
    text: str | float
    look: str = "text"
    link: tuple[str, str] | None = None
    badge: bool = False

    @property
    def indented(self) -> bool:
        """Whether the text keeps off the box to its left; numbers and badges have their own place."""
        return (self.first > LABEL and self.look not in RIGHT_LOOKS) or self.look == "caution"

    @property
    def height(self) -> float:
        """The row height in which the text is seen whole."""
        # Numbers are never wrapped.
        text = self.text if isinstance(self.text, str) else ""
        columns = self.last - self.first + 1
        return height_of(text, columns, COLUMN_WIDTH, *self._letters, int(self.indented))

    @property
    def fits_a_line(self) -> bool:
        """Whether the text needs no wrapping."""
        room = room_for(self.last - self.first + 1, COLUMN_WIDTH, self._letters[0], int(self.indented))
        return lines_of(str(self.text), room, self._letters[1]) == 1

    def in_a_line(self) -> Box:
        """A box that names a cell, in one line: a long sheet name is shown by its beginning."""
        sheet, mark, cell = str(self.text).rpartition("!")
        box = self
        while mark and sheet and not box.fits_a_line:
            sheet = sheet[:-1]
            box = replace(self, text=f"{sheet}…!{cell}")
        return box

    @property
    def is_bordered(self) -> bool:
        """Whether it has a line on any side."""
        return not _BORDERS.isdisjoint(self._properties)

    @property
    def _properties(self) -> dict[str, Any]:
        return BADGE if self.badge else LOOKS[self.look]

    @property
    def _letters(self) -> tuple[float, bool]:
        """Size and weight of the letters."""
        properties = self._properties
        return properties.get("font_size", SIZE), self.badge or bool(properties.get("bold"))


@dataclass
class FindingsPage:
    """The findings sheet as it is being written; `row` is the next free one."""

    book: Workbook
    page: Worksheet
    styles: Styles
    row: int = 0
    starts: list[int] = field(default_factory=list)
    heights: dict[int, float] = field(default_factory=dict)
    answer_cells: list[str] = field(default_factory=list)
    _looks: dict[tuple[object, ...], Any] = field(default_factory=dict)
    _kept: int = 0
    _with_next: bool = False

    @contextmanager
    def together(self) -> Iterator[None]:
        """What is written inside is not torn over two pages where it fits on one."""
        self._may_start()
        self._kept += 1
        yield
        self._kept -= 1

    def line(self, *boxes: Box, least: float = 0.0) -> int:
        """Write boxes across the next row, or rows where one can't be high enough; returns the first."""
        self._may_start()
        top = self.row
        height = max([least, *(box.height for box in boxes)])
        rows = math.ceil(height / HIGHEST_ROW)
        for row in range(top, top + rows):
            self._set_height(row, height / rows)
        for box in boxes:
            self._write(top, top + rows - 1, box)
        self.row += rows
        self._with_next = all(box.look in HEADS for box in boxes)
        return top

    def gap(self, height: float = grid.SPACE_HEIGHT) -> None:
        """An empty row; no page begins with one."""
        self._set_height(self.row, height)
        self.row += 1

    def heading(self, text: str, note: str = "") -> None:
        """The heading of a section, with a line on how to read it."""
        self.gap()
        self._may_start()
        self._set_height(self.row, grid.HEADING_HEIGHT)
        style = self.styles.caption("heading")
        for column in range(LABEL, LAST + 1):
            checked(self.page.write_blank(self.row, column, None, style), text)
        checked(self.page.write_string(self.row, LABEL, text, style), text)
        self.row += 1
        if note:
            self._with_next = True
            box = Box(LABEL, LAST, note, "note")
            self.line(box, least=box.height + NOTE_PADDING)
        self.gap(grid.GAP_HEIGHT)
        self._with_next = True

    def answer(self, key: str, typed: str) -> None:
        """The cell for an answer, with what was typed there before, and its key in the hidden column."""
        self.gap(grid.GAP_HEIGHT)
        top = self.line(
            Box(LABEL, LABEL, ANSWER_LABEL, "answer label"),
            Box(FIRST, LAST, typed, "answer"),
            least=ANSWER_HEIGHT,
        )
        checked(self.page.write_string(top, KEYS, key, self.styles.caption("small label")), key)
        self.answer_cells.append(address(top, FIRST))

    def look(self, name: str, **more: Any) -> Any:
        """The format of a look."""
        key = (name, *more.items())
        if key not in self._looks:
            self._looks[key] = self.styles.format(**{**LOOKS[name], **more})
        return self._looks[key]

    def _badge(self, word: str) -> Any:
        text, fill = BADGES[word]
        filled = {"bg_color": fill} if fill != WHITE else {}
        return self.styles.format(**BADGE, font_color=text, bold=word in STRONG, **filled)

    def _write(self, top: int, bottom: int, box: Box) -> None:
        indent = {"indent": 1, "align": "left"} if box.indented else {}
        style = self._badge(str(box.text)) if box.badge else self.look(box.look, **indent)
        where = address(top, box.first)
        if box.last > box.first or bottom > top:
            # The cells under a merged one show nothing but their borders.
            beneath = style if box.is_bordered else None
            checked(self.page.merge_range(top, box.first, bottom, box.last, "", beneath), where)
        if isinstance(box.text, (int, float)):
            checked(self.page.write_number(top, box.first, box.text, style), where)
        elif not box.text:
            checked(self.page.write_blank(top, box.first, None, style), where)
        elif box.link is not None:
            sheet, cell = box.link
            target = f"internal:{quoted(sheet)}!{cell}"
            checked(self.page.write_url(top, box.first, target, style, fitting(box.text)), where)
        else:
            checked(self.page.write_string(top, box.first, fitting(box.text), style), where)

    def _may_start(self) -> None:
        """A page may begin at this row, unless it belongs to the one above."""
        if not self._kept and not self._with_next and self.row not in self.starts:
            self.starts.append(self.row)
        self._with_next = False

    def _set_height(self, row: int, height: float) -> None:
        self.heights[row] = height
        checked(self.page.set_row(row, height), f"height of row {row}")


def fitting(text: str) -> str:
    """Text as a cell can hold it: no control characters, no more than the file format's programs allow."""
    return _NOT_IN_XML.sub(" ", text)[:LONGEST_TEXT]
