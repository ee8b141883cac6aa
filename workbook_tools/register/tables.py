"""Writing one sheet of the register: a title, what the sheet is for, and a table with filters.

Texts are written as texts, whatever they begin with; the bookkeeper's columns are pale blue, like the cells of a form
that are there to be filled in.
"""

from __future__ import annotations

import datetime as dt
import math
import os
import re
import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from xlsxwriter.format import Format
from xlsxwriter.url import Url
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from workbook_tools.form.all_sheets import SHOWN
from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.styles import (
    BLUE,
    DATE_FORMAT,
    GREY,
    INPUT_FILL,
    INPUT_LINE,
    LINE,
    SMALL,
    Styles,
)
from workbook_tools.layout.paging import A4, MARGINS
from workbook_tools.register.columns import Column
from workbook_tools.register.kept import Typed

TITLE_ROW, PURPOSE_ROW, SUMS_ROW, HEADS_ROW = range(4)
FIRST_ROW = HEADS_ROW + 1
#: More links than this a spreadsheet program takes for damage; the rest are written as texts.
MOST_LINKS = 60_000
SAFE_IN_A_WAY = frozenset(string.ascii_letters + string.digits + "/-_.~!$&'()*+,;=@")
FIRST_DAY = dt.date(1900, 3, 1)
LONGEST_SHOWN = 900
LINE_POINTS, TALLEST_ROW = 13.0, 400.0
#: Letters of running text in one unit of column width at this size, a little less for words that break early.
LETTERS_A_WIDTH = 1.12
SUM_OF_SHOWN = 109
COUNT_OF_SHOWN = 103

_CELL = re.compile(r"([^!]+)!([A-Z]{1,3}[0-9]{1,7})")

#: Wider tables, in letters, take two pages side by side: on one they can't be read.
ONE_PAGE_WIDE = 300


@dataclass(frozen=True)
class Cells:
    """What one table holds: columns, and rows as mappings by the columns' sources."""

    title: str
    purpose: str
    columns: tuple[Column, ...]
    rows: Sequence[Mapping[str, Any]]
    summed: bool = False
    frozen_columns: int = 1


class FileLink(Url):
    """A link to a file by its way from the workbook, with slashes, as an address: the library makes them backslashes,
    which lead nowhere but on one system, and takes what is after `#` for a place inside the file. `place`: the cell to land in.
    """

    def __init__(self, way: str, place: str = "") -> None:
        # Letters beyond ASCII stay: a spreadsheet program does not undo their escapes in a file's name.
        self._way = "".join(c if c in SAFE_IN_A_WAY or ord(c) > 127 else f"%{ord(c):02X}" for c in way)
        super().__init__("external:file")
        self._text = way
        self._anchor = place

    def _target(self) -> str:
        return self._way


class TableWriter:
    """Writes tables into one workbook; `root` is the folder of the job workbooks, `target` the register's own path."""

    def __init__(
        self, book: Workbook, styles: Styles, root: Path, target: Path, currencies: Sequence[str]
    ) -> None:
        self.book = book
        self.styles = styles
        self.currencies = currencies
        self._links = 0
        self._base = _link_base(root, target)

    def write(self, page: Worksheet, cells: Cells) -> None:
        """Write the table, and set the sheet up for the screen and for printing."""
        checked(page.write_string(TITLE_ROW, 0, cells.title, self.styles.caption("title")), "title")
        page.set_row(TITLE_ROW, 30)
        purpose = self.styles.format(font_color=GREY, valign="vcenter")
        checked(page.write_string(PURPOSE_ROW, 0, cells.purpose, purpose), "purpose")
        page.set_row(PURPOSE_ROW, 20)
        last = FIRST_ROW + max(len(cells.rows), 1) - 1
        page.set_row(HEADS_ROW, 32)
        heads = [{"header": column.heading, "header_format": self._head(column)} for column in cells.columns]
        made = page.add_table(
            HEADS_ROW,
            0,
            last,
            len(cells.columns) - 1,
            {"columns": heads, "style": None, "name": cells.title.replace(" ", "_").lower()},
        )
        checked(made, f"table {cells.title}")
        for place, column in enumerate(cells.columns):
            options = {"hidden": True} if column.kind == "key" else {}
            checked(page.set_column(place, place, column.width, None, options), "width of a column")
        for number, row in enumerate(cells.rows, start=FIRST_ROW):
            page.set_row(number, row_height(cells.columns, row))
            for place, column in enumerate(cells.columns):
                self._cell(page, number, place, column, row)
        if not cells.rows:
            for place, column in enumerate(cells.columns):
                page.write_blank(FIRST_ROW, place, None, self._format(column, {}))
        if cells.summed and cells.rows:
            self._sums(page, cells, last)
        self._set_up(page, cells, last)

    def _head(self, column: Column) -> Format:
        left = "right" if column.kind in ("number", "plain", "whole", "hours", "money", "percent") else "left"
        own = {"bg_color": INPUT_FILL} if column.kind == "own" else {}
        return self.styles.format(
            bold=True,
            font_color=BLUE,
            font_size=SMALL,
            text_wrap=True,
            valign="bottom",
            align=left,
            bottom=2,
            bottom_color=BLUE,
            **own,
        )

    def _format(self, column: Column, row: Mapping[str, Any], **more: Any) -> Format:
        look: dict[str, Any] = {"valign": "top", "bottom": 1, "bottom_color": LINE, "font_size": 10}
        if column.kind == "wrapped":
            look["text_wrap"] = True
        elif column.kind == "own":
            look |= {"bg_color": INPUT_FILL, "border": 1, "border_color": INPUT_LINE, "text_wrap": True}
        elif column.kind in ("link", "place"):
            look |= {"font_color": BLUE, "underline": 1, "text_wrap": column.kind == "place"}
        elif column.kind == "key":
            look |= {"font_color": GREY}
        formats = {
            "date": DATE_FORMAT,
            "whole": "#,##0",
            "number": "+0.0;-0.0;0.0",
            "plain": "0.##",
            "hours": "0.00",
            "percent": "0%",
        }
        if column.kind == "money":
            sign = str(row.get("currency") or "")
            formats["money"] = f'"{sign}"#,##0.00' if sign else "#,##0.00"
        if column.kind in formats:
            look["num_format"] = formats[column.kind]
            look |= {"align": "left"} if column.kind == "date" else {"align": "right", "indent": 1}
        return self.styles.format(**(look | more))

    def _cell(self, page: Worksheet, row: int, place: int, column: Column, values: Mapping[str, Any]) -> None:
        value = values.get(column.source)
        if column.kind == "own":
            self._own(page, row, place, column, value)
            return
        style = self._format(column, values)
        if value is None or value == "" or value != value:
            page.write_blank(row, place, None, style)
        elif column.kind in ("link", "place"):
            self._link(page, row, place, values, str(value), style, column.kind == "place")
        elif column.kind == "money":
            page.write_number(row, place, int(value) / 100, style)
        elif isinstance(value, dt.date):
            write_day(page, row, place, value, style)
        elif isinstance(value, str):
            checked(page.write_string(row, place, shown(value), style), column.heading)
        else:
            page.write_number(row, place, float(value), style)

    def _own(self, page: Worksheet, row: int, place: int, column: Column, typed: Typed | None) -> None:
        if typed is None:
            as_date = (
                {"num_format": DATE_FORMAT, "align": "left"}
                if column.heading.casefold().endswith(" on")
                else {}
            )
            page.write_blank(row, place, None, self._format(column, {}, **as_date))
            return
        value = typed.value
        style = self._format(column, {}, num_format=typed.number_format, align="left")
        if isinstance(value, bool):
            page.write_boolean(row, place, value, style)
        elif isinstance(value, (dt.date, dt.time)):
            page.write_datetime(row, place, value, style)
        elif isinstance(value, (int, float)):
            page.write_number(row, place, value, style)
        else:
            checked(page.write_string(row, place, str(value), style), column.heading)

    def _link(
        self,
        page: Worksheet,
        row: int,
        place: int,
        values: Mapping[str, Any],
        target: str,
        style: Format,
        to_cell: bool = False,
    ) -> None:
        """A link to a file, or to a cell of the form in the file of that row; a text where there is none to lead to."""
        self._links += 1
        words, cell = target, ""
        if to_cell:
            target, cell = str(values.get("path") or ""), reference_of(words)
        if target == values.get("history"):
            checked(page.write_url(row, place, target, style, "history"), "link")
            return
        words = words if to_cell else target.rpartition("/")[2]
        address = FileLink(f"{self._base}{target}", cell)
        linked = (
            self._links <= MOST_LINKS
            and len(address._target()) <= Url.MAX_URL_LEN
            and target
            and (cell or not to_cell)
            and not values.get("elsewhere")
            and not values.get("missing_since")
        )
        if not linked or page.write_url(row, place, address, style, words) != 0:
            page.write_string(row, place, words, self._format(Column("", "", "text"), values))

    def _sums(self, page: Worksheet, cells: Cells, last: int) -> None:
        """What the filter shows, counted and summed over the table: amounts only where all are in one currency."""
        style = {"bold": True, "bottom": 0, "valign": "vcenter"}
        for place, column in enumerate(cells.columns):
            letters = xl_col_to_name(place)
            area = f"{letters}{FIRST_ROW + 1}:{letters}{last + 1}"
            if place == 0:
                count = len(cells.rows)
                formula = f'=SUBTOTAL({COUNT_OF_SHOWN},{self._counted(cells)})&" shown"'
                page.write_formula(SUMS_ROW, 0, formula, self.styles.format(**style), f"{count} shown")
            elif column.kind == "hours" or (column.kind == "money" and len(self.currencies) == 1):
                share = 100 if column.kind == "money" else 1
                total = sum(row[column.source] for row in cells.rows) / share
                look = self._format(column, {"currency": self.currencies[0]}, **style)
                page.write_formula(SUMS_ROW, place, f"=SUBTOTAL({SUM_OF_SHOWN},{area})", look, total)

    def _counted(self, cells: Cells) -> str:
        """The column that every row fills: the last."""
        letters = xl_col_to_name(len(cells.columns) - 1)
        return f"{letters}{FIRST_ROW + 1}:{letters}{FIRST_ROW + len(cells.rows)}"

    def _set_up(self, page: Worksheet, cells: Cells, last: int) -> None:
        page.hide_gridlines(2)
        page.freeze_panes(FIRST_ROW, cells.frozen_columns)
        page.set_landscape()
        page.set_paper(A4.number)
        page.set_margins(**MARGINS)
        page.fit_to_pages(2 if sum(column.width for column in cells.columns) > ONE_PAGE_WIDE else 1, 0)
        page.repeat_columns(0, cells.frozen_columns - 1)
        checked(page.repeat_rows(HEADS_ROW), "repeated heads")
        checked(page.print_area(0, 0, last, len(cells.columns) - 1), "print area")
        checked(page.set_footer("&L&A&RPage &P of &N"), "footer")


def row_height(columns: Sequence[Column], row: Mapping[str, Any]) -> float:
    """Points that the row's longest wrapped text needs; programs differ in whether they find that out themselves."""
    lines = 1
    for column in columns:
        value = row.get(column.source)
        text = str(value.value if isinstance(value, Typed) else value or "")
        if column.kind in ("wrapped", "own", "place") and text:
            broken = shown(text).split("\n")
            lines = max(
                lines, sum(math.ceil(max(len(part), 1) / (column.width * LETTERS_A_WIDTH)) for part in broken)
            )
    return min(LINE_POINTS * lines + 4, TALLEST_ROW)


def write_day(page: Worksheet, row: int, place: int, day: dt.date, style: Format) -> None:
    """A date as a date; days before the spreadsheet's calendar as a text."""
    if day >= FIRST_DAY:
        page.write_datetime(row, place, dt.datetime(day.year, day.month, day.day), style)
    else:
        page.write_string(row, place, day.isoformat(), style)


def shown(text: str, longest: int = LONGEST_SHOWN) -> str:
    """A text as a table shows it: the beginning of a long one, which stands whole in the workbook and the store."""
    return text if len(text) <= longest else f"{text[: longest - 1].rstrip()}…"


def reference_of(cell: str) -> str:
    """A cell of the form as a link names it, from how messages do: `Fuel and air!B7`, or a sheet alone; '' for anything else."""
    match = _CELL.match(cell)
    sheet = match[1] if match else cell
    if sheet not in {each.name for each in SHOWN}:
        return ""
    return f"'{sheet}'!{match[2] if match else 'A1'}"


def _link_base(root: Path, target: Path) -> str:
    """The way from the register to the folder of the jobs; from another drive there is only the whole path."""
    try:
        base = os.path.relpath(root, target.resolve().parent)
    except ValueError:
        base = str(root)
    return "" if base == "." else f"{Path(base).as_posix()}/"
