"""Where things stand on the sheets of one workbook, as plain data: what the layout function returns.

Rows and columns count from 0. Widths are in characters, heights in points, as spreadsheet programs have them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from workbook_tools.language.model import Chart, Item, Link
from workbook_tools.layout.paging import Paging
from workbook_tools.package.cells import letters_of

CaptionStyle = Literal[
    "title",
    "job",
    "purpose",
    "cost",
    "heading",
    "head",
    "note",
    "caution",
    "short caution",
    "heading caution",
    "label",
    "board label",
    "unit",
    "help",
    "paragraph",
    "below dial",
    "row head",
    "row number",
    "column head",
    "column unit",
    "small head",
    "small label",
]

#: What the head of a sheet shows beside its title.
NEXT_WORD = "Next: "
JOB_FORMULA, NEXT_FORMULA = '=job_number&""', f'="{NEXT_WORD}"&next_test'


@dataclass(frozen=True)
class Place:
    """One named cell: what stands there, where, and the words beside it by which people know it.

    `span` columns look like one box, of which only the first is the cell: text runs on into the empty rest.
    `label` is the item's label, `row_label` the text in column A of its row; in a block both are the same.
    """

    name: str
    item: Item
    number: int | None
    sheet: str
    row: int
    column: int
    span: int
    label: str
    row_label: str
    working: bool = False
    #: Its text runs on in lines below each other, in one cell of the whole box.
    wraps: bool = False


@dataclass(frozen=True)
class Caption:
    """A text that is no reading: a head, a label, a unit, a note. `last_column` is where its box ends.

    With a `number` the cell holds that, shown between the text and what comes `behind` it.
    """

    row: int
    column: int
    last_column: int
    text: str
    style: CaptionStyle
    number: int | None = None
    behind: str = ""


@dataclass(frozen=True)
class LinkPlace:
    """Words that lead somewhere, and where they stand."""

    link: Link
    row: int
    column: int


@dataclass(frozen=True)
class DialPlace:
    """The drawn dial of a choice, in one cell."""

    choice: str
    row: int
    column: int


@dataclass(frozen=True)
class LevelCell:
    """A helper cell that repeats a single limit beside a chart, so that a level can be drawn across it."""

    row: int
    column: int
    source: str


@dataclass(frozen=True)
class SplitCell:
    """A helper cell of a column that is drawn in two colours: the reading where it is out of limits, or where it is not."""

    row: int
    column: int
    reading: str
    mark: str
    is_out: bool


@dataclass(frozen=True)
class PointCell:
    """A helper cell of one point of a curve: its number where it can be drawn, or the x or y drawn."""

    row: int
    column: int
    part: Literal["number", "x", "y"]
    number: int
    repeats: int
    x: str
    y: str
    numbers_column: int


@dataclass(frozen=True)
class ChartPlace:
    """A chart, the cells it covers, and the columns of its categories, levels, curves (x beside y) and of what is drawn in
    two colours (in limits beside out of them)."""

    chart: Chart
    row: int
    rows: int
    columns: int
    repeats: int
    categories_column: int
    level_columns: Mapping[str, int]
    curve_columns: Mapping[str, tuple[int, int]]
    split_columns: Mapping[str, tuple[int, int]]


@dataclass(frozen=True)
class MetaCell:
    """A locked cell that says what the workbook was made for."""

    name: str
    sheet: str
    row: int
    column: int


@dataclass(frozen=True)
class ListPlace:
    """Choices too long to be written into a validation, one a row, under a range name."""

    name: str
    sheet: str
    row: int
    column: int
    choices: tuple[str, ...]


@dataclass(frozen=True)
class SheetPlan:
    """All that stands on one sheet, and how it is laid out and printed."""

    name: str
    places: tuple[Place, ...]
    captions: tuple[Caption, ...]
    links: tuple[LinkPlace, ...]
    levels: tuple[LevelCell, ...]
    splits: tuple[SplitCell, ...]
    points: tuple[PointCell, ...]
    charts: tuple[ChartPlace, ...]
    dials: tuple[DialPlace, ...]
    job_number: tuple[int, int]
    next_step: tuple[int, int]
    row_heights: Mapping[int, float]
    column_widths: tuple[float, ...]
    last_row: int
    last_column: int
    pages: Paging


@dataclass(frozen=True)
class Layout:
    """Where everything stands: sheets in order, named cells, column ranges, what the book was made for."""

    sheets: tuple[SheetPlan, ...]
    cells: Mapping[str, Place]
    ranges: Mapping[str, tuple[Place, Place]]
    meta: tuple[MetaCell, ...]
    lists: tuple[ListPlace, ...]


def column_letters(column: int) -> str:
    """The letters of a column: 0 is A, 26 is AA."""
    return letters_of(column + 1)


def address(row: int, column: int) -> str:
    """A cell's address as people write it: (4, 1) is B5."""
    return f"{column_letters(column)}{row + 1}"


def absolute(sheet: str, row: int, column: int, last_row: int | None = None) -> str:
    """An absolute reference to a cell, or to a column of cells, as formulas write it."""
    letters = column_letters(column)
    reference = f"'{sheet}'!${letters}${row + 1}"
    return reference if last_row is None else f"{reference}:${letters}${last_row + 1}"


def pages_of(sheet: str, breaks: Sequence[int], corners: tuple[int, int, int, int]) -> str:
    """What is printed, one area a page: first row, first column, last row and last column of all, cut before each of the breaks.

    A page ends with its area in every program; of row breaks Gnumeric 1.12 makes breaks between columns, and prints all the
    empty ones up to there.
    """
    top, first, bottom, last = corners
    letters, last_letters = column_letters(first), column_letters(last)
    return ",".join(
        f"'{sheet}'!${letters}${start + 1}:${last_letters}${end}"
        for start, end in zip((top, *breaks), (*breaks, bottom + 1), strict=True)
    )


def link_formula(link: Link) -> str:
    """The formula of a link that leads to the cell which another cell names, blank where that is blank."""
    return f'=IF({link.cell}="","",HYPERLINK("#"&{link.cell},"{link.words}"))'
