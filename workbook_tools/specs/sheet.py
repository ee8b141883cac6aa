"""Writing an empty specs book: a table of engines, a page that explains its columns.

write_specs_book(out, units="us")
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from workbook_tools.errors import BadRequest
from workbook_tools.form.ranges import plausible_range
from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.styles import FONT, GREY, SIZE, SMALL, Styles
from workbook_tools.generate.validation import validation_of
from workbook_tools.language.model import Field, Shape, UnitSystem
from workbook_tools.language.prose import help_of
from workbook_tools.layout.grid import height_of
from workbook_tools.layout.paging import A4, MARGINS
from workbook_tools.layout.plan import absolute, address, column_letters
from workbook_tools.package.safe_write import replace_file
from workbook_tools.science.units import convert
from workbook_tools.specs.book import COLUMN_NAME, SHEET, SPECS_VERSION, SpecColumn, spec_columns
from workbook_tools.specs.shop import SHOP_NAME, SHOP_SHEET, shop_fields

#: Engines that the table has room for; more are typed below it, and the table grows.
ROOM_FOR = 120
HELP_SHEET = "Columns"
TABLE = "Engines_table"
TITLE_ROW, PURPOSE_ROW, GROUP_ROW, EXAMPLE_ROW, HEAD_ROW = range(5)
FIRST_ROW = HEAD_ROW + 1
WIDTHS = {"text": 24.0, "choice": 15.0}
NUMBER_WIDTH = 12.0
NAME_WIDTH = 30.0
HEAD_HEIGHT, ENGINE_HEIGHT = 64.0, 18.0
UNIT_NAMES = {"us": "US", "metric": "metric"}
#: The same request gives the same bytes: the day in the file's properties is fixed.
CREATED = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
PURPOSE = (
    "One row an engine, in {units} units, copied from its manual. What is left blank is common practice. "
    "Sheet Columns explains each column; so does the note at each cell. Sheet Shop is for the shop's own data."
)
#: An invented engine above the heads, where no engine is read, so that nobody's figures can be left over from it.
EXAMPLE: Mapping[str, str | float] = {
    "engine_name": "Example: Pump 4 (invented)",
    "cylinder_count": 4,
    "cylinder_banks": "1-2-3-4",
    "firing_order": "1-3-4-2",
    "ignition_type": "contact points",
    "displacement": 134,
    "system_voltage": 12,
    "spec_timing": 8,
    "spec_source": "its manual, page 12",
}


def write_specs_book(out: str | Path, *, units: UnitSystem = "us") -> Path:
    """Write an empty specs book in one unit system to `out` and return its path.

    Raises BadRequest for other units than us and metric, UnusableFile where `out` can't be written.
    """
    if units not in ("us", "metric"):
        raise BadRequest(f"Units are us or metric, not {units}; name one of these.")
    replace_file(Path(out), specs_bytes(units))
    return Path(out)


def specs_bytes(units: UnitSystem) -> bytes:
    """The empty specs book as a file's bytes, the same for the same request."""
    memory = BytesIO()
    default_format = {"font_name": FONT, "font_size": SIZE}
    book = Workbook(memory, {"in_memory": True, "default_format_properties": default_format})
    book.set_properties({"title": "Engine specifications", "created": CREATED})
    shape = Shape(1, ((1,),), units)
    styles = Styles(book, shape)
    _write_engines(book, book.add_worksheet(SHEET), styles, shape)
    _write_shop(book, book.add_worksheet(SHOP_SHEET), styles, shape)
    _write_help(book, book.add_worksheet(HELP_SHEET), styles, shape)
    book.close()
    return memory.getvalue()


# --- the table ---------------------------------------------------------------------------------------------


def _write_engines(book: Workbook, page: Worksheet, styles: Styles, shape: Shape) -> None:
    columns = spec_columns()
    last_row = HEAD_ROW + ROOM_FOR
    page.hide_gridlines(2)
    checked(page.write_string(TITLE_ROW, 0, "Engine specifications", styles.caption("title")), "the title")
    purpose = PURPOSE.format(units=UNIT_NAMES[shape.units])
    checked(page.write_string(PURPOSE_ROW, 0, purpose, styles.format(valign="vcenter")), "the purpose")
    for row, height in ((TITLE_ROW, 30), (PURPOSE_ROW, 22), (GROUP_ROW, 24), (HEAD_ROW, HEAD_HEIGHT)):
        checked(page.set_row(row, height), f"height of row {row}")
    _write_table(page, columns, styles, shape, last_row)
    group = ""
    for number, column in enumerate(columns):
        title = column.group if column.group != group else ""
        group = column.group
        checked(page.write_string(GROUP_ROW, number, title, styles.caption("heading")), "a heading")
        checked(page.set_column(number, number, _width(column)), f"width of column {number}")
        _write_example(page, number, column, styles, shape)
        for row in range(FIRST_ROW, last_row + 1):
            checked(page.write_blank(row, number, None, styles.cell(_typed(column))), "a cell for an entry")
        _validate(page, number, column, shape, last_row)
        name = COLUMN_NAME + column.name
        checked(book.define_name(name, absolute(SHEET, HEAD_ROW, number)), f"name {name}")
    for row in range(FIRST_ROW, last_row + 1):
        checked(page.set_row(row, ENGINE_HEIGHT), f"height of row {row}")
    texts = [_column_of_cells(n, last_row) for n, column in enumerate(columns) if column.field.kind == "text"]
    checked(page.ignore_errors({"number_stored_as_text": " ".join(texts)}), "what to leave unmarked")
    page.freeze_panes(FIRST_ROW, 1)
    page.set_selection(FIRST_ROW, 0, FIRST_ROW, 0)
    _print(page, last_row, len(columns) - 1)


def _write_example(page: Worksheet, number: int, column: SpecColumn, styles: Styles, shape: Shape) -> None:
    """What an invented engine would have in this column, pale and above the table."""
    value, measure = EXAMPLE.get(column.name), column.field.measure
    look = styles.format(italic=True, font_color=GREY, font_size=SMALL, align="left")
    if isinstance(value, (int, float)):
        usual, here = measure.unit("us"), measure.unit(shape.units)
        shown = value if usual == here else convert(value, usual, here)
        checked(page.write_string(EXAMPLE_ROW, number, f"{shown:.4g}", look), "an example")
    elif value is not None:
        checked(page.write_string(EXAMPLE_ROW, number, value, look), "an example")


def _write_table(
    page: Worksheet, columns: tuple[SpecColumn, ...], styles: Styles, shape: Shape, last_row: int
) -> None:
    head = styles.format(text_wrap=True, valign="top", align="left", bold=True, bottom=1)
    options = {
        "name": TABLE,
        "style": None,
        "columns": [{"header": column.head(shape.units), "header_format": head} for column in columns],
    }
    checked(page.add_table(HEAD_ROW, 0, last_row, len(columns) - 1, options), "the table")


def _typed(column: SpecColumn) -> Field:
    """The field as it is here: what a form locks, because it is made for one engine, is typed in the book."""
    return replace(column.field, locked=False)


def _width(column: SpecColumn) -> float:
    return NAME_WIDTH if column.name == "engine_name" else WIDTHS.get(column.field.kind, NUMBER_WIDTH)


def _column_of_cells(number: int, last_row: int) -> str:
    return f"{address(FIRST_ROW, number)}:{address(last_row, number)}"


def _validate(page: Worksheet, number: int, column: SpecColumn, shape: Shape, last_row: int) -> None:
    """The same choices, ranges and notes as on the form; a name that stands twice warns."""
    options: dict[str, Any] | None = validation_of(column.field, shape, {})
    if column.name == "engine_name":
        letters = column_letters(number)
        names = f"${letters}${FIRST_ROW + 1}:${letters}${last_row + 1}"
        options = (options or {}) | {
            "validate": "custom",
            "value": f"=COUNTIF({names},{letters}{FIRST_ROW + 1})<2",
            "input_message": "The name by which a form finds this engine. Each name once.",
            "input_title": column.field.label,
            "error_type": "warning",
            "error_title": "This name is there already",
            "error_message": "Each engine has one row. Give this one another name, or change the other row.",
        }
    if column.field.locked:  # locked on a form, which is made for one engine; typed here
        options = (options or {}) | {"input_message": _help(column, shape.units)}
    if options:
        box = (FIRST_ROW, number, last_row, number)
        checked(page.data_validation(*box, options), f"validation of {column.name}")


def _print(page: Worksheet, last_row: int, last_column: int) -> None:
    page.set_landscape()
    page.set_paper(A4.number)
    page.set_margins(**MARGINS)
    page.set_print_scale(60)
    checked(page.print_area(0, 0, last_row, last_column), "print area")
    checked(page.repeat_rows(GROUP_ROW, HEAD_ROW), "repeated rows")
    checked(page.repeat_columns(0, 0), "repeated column")
    checked(page.set_footer("&L&A&RPage &P of &N"), "footer")


# --- the shop ---------------------------------------------------------------------------------------------------------

SHOP_WIDTHS = (30.0, 44.0, 8.0, 60.0)
SHOP_PURPOSE = "Written once; every new form that is made with this book has it. What is left blank is typed on the form."
LOGO_HELP = "A logo: place a picture (PNG or JPEG, up to 1 MB) anywhere on this sheet. It stands on the customer's page."


def _write_shop(book: Workbook, page: Worksheet, styles: Styles, shape: Shape) -> None:
    page.hide_gridlines(2)
    for number, width in enumerate(SHOP_WIDTHS):
        checked(page.set_column(number, number, width), f"width of column {number}")
    checked(page.write_string(TITLE_ROW, 0, "The shop", styles.caption("title")), "the title")
    checked(page.write_string(PURPOSE_ROW, 0, SHOP_PURPOSE, styles.format(valign="vcenter")), "the purpose")
    for row, height in ((TITLE_ROW, 30), (PURPOSE_ROW, 22)):
        checked(page.set_row(row, height), f"height of row {row}")
    row = PURPOSE_ROW + 2
    for name, field in shop_fields().items():
        checked(page.set_row(row, ENGINE_HEIGHT), f"height of row {row}")
        checked(page.write_string(row, 0, field.label, styles.caption("label")), name)
        checked(page.write_blank(row, 1, None, styles.cell(field)), name)
        checked(page.write_string(row, 2, field.measure.unit(shape.units), styles.caption("help")), name)
        checked(page.write_string(row, 3, field.help, styles.caption("help")), name)
        checked(book.define_name(SHOP_NAME + name, absolute(SHOP_SHEET, row, 1)), f"name of {name}")
        options = validation_of(field, shape, {})
        if options:
            checked(page.data_validation(row, 1, row, 1, options), f"validation of {name}")
        row += 1
    checked(page.write_string(row + 1, 0, LOGO_HELP, styles.caption("help")), "the logo")
    page.set_landscape()
    page.set_paper(A4.number)
    page.set_margins(**MARGINS)
    page.fit_to_pages(1, 0)
    checked(page.set_footer("&L&A&RPage &P of &N"), "footer")


# --- what the columns mean -------------------------------------------------------------------------------------------

HELP_HEADS = ("Column", "Unit", "Usual entries", "Where blank", "What it is")
HELP_WIDTHS = (36.0, 12.0, 22.0, 16.0, 64.0)
OTHER_HELP = {
    "engine_name": "the name by which a form finds its engine here; each name once",
    "cylinder_count": "1 to 16; a form can't be made without it",
    "cylinder_banks": "front to rear, one group a bank: 1-3-5-7 | 2-4-6-8; neighbours on a bank share a gasket land",
}


def _help(column: SpecColumn, units: UnitSystem) -> str:
    return OTHER_HELP.get(column.name, help_of(column.field, units))


def _write_help(book: Workbook, page: Worksheet, styles: Styles, shape: Shape) -> None:
    page.hide_gridlines(2)
    for number, width in enumerate(HELP_WIDTHS):
        checked(page.set_column(number, number, width), f"width of column {number}")
    checked(page.write_string(0, 0, "What the columns mean", styles.caption("title")), "the title")
    checked(page.set_row(0, 30), "height of row 0")
    facts: tuple[tuple[str, str, str | int], ...] = (
        ("specs_version", "Version of this book", SPECS_VERSION),
        ("specs_units", "Units", shape.units),
    )
    for row, (name, label, value) in enumerate(facts, start=1):
        checked(page.write_string(row, 0, label, styles.caption("small label")), label)
        checked(page.write(row, 1, value, styles.caption("small label")), label)
        checked(book.define_name(name, absolute(HELP_SHEET, row, 1)), f"name {name}")
        checked(book.set_custom_property(name, value), f"property {name}")
    head_row = len(facts) + 2
    for number, words in enumerate(HELP_HEADS):
        checked(page.write_string(head_row, number, words, styles.caption("small head", bottom=1)), "a head")
    row, group = head_row + 1, ""
    for column in spec_columns():
        if column.group != group:
            group = column.group
            for number in range(len(HELP_HEADS)):
                title = group if number == 0 else ""
                checked(page.write_string(row, number, title, styles.caption("heading")), "a heading")
            checked(page.set_row(row, 26), "height of a heading")
            row += 1
        for number, words in enumerate(_help_row(column, shape)):
            style = styles.caption("label" if number == 0 else "help")
            checked(page.write_string(row, number, words, style), f"help of {column.name}")
        checked(
            page.set_row(row, height_of(_help(column, shape.units), HELP_WIDTHS[-1], "small", 18.0)),
            "height of a row",
        )
        row += 1
    page.freeze_panes(head_row + 1, 0)
    page.set_landscape()
    page.set_paper(A4.number)
    page.set_margins(**MARGINS)
    page.fit_to_pages(1, 0)
    checked(page.repeat_rows(head_row), "repeated rows")
    checked(page.set_footer("&L&A&RPage &P of &N"), "footer")


def _help_row(column: SpecColumn, shape: Shape) -> tuple[str, ...]:
    field = column.field
    low, high = plausible_range(field, shape.units)
    usual = " to ".join(f"{limit:.15g}" for limit in (low, high) if limit is not None)
    metric = shape.units == "metric" and field.default_metric is not None
    default = field.default_metric if metric else field.default
    return (
        column.label,
        field.measure.unit(shape.units),
        usual or ", ".join(field.choices),
        "" if default is None else f"{default}",
        _help(column, shape.units),
    )
