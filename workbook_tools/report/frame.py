"""A pandas frame as a formatted sheet in somebody's workbook, with everything else of it left as it was.

place_frame(frame, host, out, "Stock")      host and out may be the same file

Texts stay texts, whatever they begin with; days and numbers are what they are. A sheet placed before is replaced: the
same name in the same place.
"""

from __future__ import annotations

import datetime as dt
import math
import numbers
from collections.abc import Hashable, Sequence
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from workbook_tools.errors import BadRequest
from workbook_tools.generate.styles import BLUE, DATE_FORMAT, FONT, SIZE
from workbook_tools.package.cells import written_out
from workbook_tools.package.place import place_sheet

if TYPE_CHECKING:
    import pandas as pd

#: What spreadsheet programs allow (Microsoft, "Excel specifications and limits", from memory).
MOST_ROWS, MOST_COLUMNS, LONGEST_TEXT, LONGEST_NAME = 1_048_576, 16_384, 32_767, 31
NOT_IN_A_NAME = frozenset("[]:*?/\\")
FIRST_DAY = dt.datetime(1900, 3, 1)
NARROWEST, WIDEST, ROWS_MEASURED = 8, 60, 500
MOMENT_FORMAT = f"{DATE_FORMAT} hh:mm:ss"


def place_frame(
    frame: pd.DataFrame, host: str | Path, out: str | Path, name: str, *, index: bool = False
) -> str:
    """Put a frame as sheet `name` last into a copy of the workbook `host`, or into the host itself; returns the sheet's name.

    Columns are as wide as their texts, heads stand out, stay in sight and have filters. A sheet placed there before is
    replaced and keeps its name and place. `index` writes the index too, as the first columns. Infinite numbers are
    texts, missing values blank. Raises BadRequest for a name or a frame that no sheet can have, and UnusableFile with
    nothing changed where a file can't be used.
    """
    _refuse(frame, name)
    told = frame.reset_index() if index else frame
    if len(told) >= MOST_ROWS or len(told.columns) > MOST_COLUMNS:
        raise BadRequest(
            f"The frame has {len(told):,} rows and {len(told.columns):,} columns, and a sheet holds {MOST_ROWS - 1:,} and "
            f"{MOST_COLUMNS:,}; give a part of it."
        )
    memory = BytesIO()
    options = {"in_memory": True, "default_format_properties": {"font_name": FONT, "font_size": SIZE}}
    book = Workbook(memory, options)
    _write(book, book.add_worksheet(name), told)
    book.close()
    return place_sheet(host, memory.getvalue(), out)


def _refuse(frame: pd.DataFrame, name: str) -> None:
    if (
        not name.strip()
        or len(name) > LONGEST_NAME
        or set(name) & NOT_IN_A_NAME
        or name[0] == "'"
        or name[-1] == "'"
    ):
        raise BadRequest(
            f"A sheet can't be called “{name}”; give a name of 1 to {LONGEST_NAME} letters, without brackets, colon, star, question "
            "mark or strokes, and without quotes at its ends."
        )
    if not frame.columns.is_unique:
        raise BadRequest("Two columns of the frame have one name; give each its own.")


def _write(book: Workbook, page: Worksheet, frame: pd.DataFrame) -> None:
    head = book.add_format(
        {"bold": True, "font_color": BLUE, "bottom": 2, "bottom_color": BLUE, "valign": "bottom"}
    )
    day, moment = (
        book.add_format({"num_format": each, "align": "left"}) for each in (DATE_FORMAT, MOMENT_FORMAT)
    )
    plain = book.add_format()
    for place, heading in enumerate(frame.columns):
        page.write_string(0, place, _text(_heading(heading)), head)
        values = frame.iloc[:, place].tolist()
        only_days = all(
            _is_day(value) for value in values if isinstance(value, dt.datetime) and value == value
        )
        for row, value in enumerate(values, start=1):
            _write_value(page, row, place, value, plain, day if only_days else moment)
        page.set_column(place, place, _width(_heading(heading), values))
    page.freeze_panes(1, 0)
    if len(frame.columns):
        page.autofilter(0, 0, max(len(frame), 1), len(frame.columns) - 1)


def _write_value(page: Worksheet, row: int, place: int, value: Any, plain: Format, day: Format) -> None:
    if value is None or (isinstance(value, numbers.Real) and math.isnan(value)) or value != value:
        return
    if hasattr(value, "to_pydatetime"):
        value = value.to_pydatetime()
    if isinstance(value, bool) or type(value).__name__ == "bool_":
        page.write_boolean(row, place, bool(value), plain)
    elif isinstance(value, numbers.Real) and math.isfinite(value):
        page.write_number(row, place, float(value), plain)
    elif isinstance(value, dt.datetime) and value.tzinfo is None and value >= FIRST_DAY:
        page.write_datetime(row, place, value, day)
    elif isinstance(value, dt.date) and not isinstance(value, dt.datetime) and value >= FIRST_DAY.date():
        page.write_datetime(row, place, dt.datetime.combine(value, dt.time()), day)
    else:
        page.write_string(row, place, _text(value), plain)


def _is_day(value: dt.datetime) -> bool:
    return (value.hour, value.minute, value.second, value.microsecond) == (0, 0, 0, 0)


def _heading(heading: Hashable) -> str:
    return " / ".join(map(str, heading)) if isinstance(heading, tuple) else str(heading)


def _text(value: object) -> str:
    """A text as a cell takes it; days before the calendar, lengths of time and others as they are written."""
    return written_out(str(value))[:LONGEST_TEXT]


def _width(heading: str, values: Sequence[object]) -> float:
    longest = max((len(str(value)) for value in values[:ROWS_MEASURED]), default=0)
    return min(max(len(heading) + 3, longest + 2, NARROWEST), WIDEST)
