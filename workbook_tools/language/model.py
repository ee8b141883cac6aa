"""The vocabulary in which the form is written down: shapes, measures, fields, results, sheets.

Everything here is data. No spreadsheet library is known; the generator turns it into cells, the reader finds those
cells again by the names given here, and the parity tests hold what the formulas show against what Python works out.
Fields, results and sheets are there once each, and are told apart as what they are, not by all that they hold.

A cell name is a field's or result's name, with `_N` behind it where it repeats (`compression_dry_3`). In a formula
`all_NAME` is the whole column of a repeated field or result.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from workbook_tools.language.expressions import Cond, Node

UnitSystem = Literal["us", "metric"]
Kind = Literal["number", "whole", "choice", "text", "date", "money"]
Per = Literal["job", "cylinder"] | int
Value = float | str | None

IN_LIMITS = "in limits"
NEAR_LIMIT = "near limit"
OUT_OF_LIMITS = "out of limits"
NOT_TAKEN = "not taken"
NO_LIMIT = "no limit given"
#: The largest engine that a form is for.
MOST_CYLINDERS = 16
#: The choice for a part that this engine does not have: nothing more is asked of it.
ABSENT = "not fitted"
MARKS = (IN_LIMITS, NEAR_LIMIT, OUT_OF_LIMITS, NOT_TAKEN, NO_LIMIT)

#: The systems in the order in which they are checked, and where each may stand.
System = Literal["readiness", "compression", "ignition", "fuel and air"]
SYSTEMS: tuple[System, ...] = ("readiness", "compression", "ignition", "fuel and air")
PROVEN, FAULT, OPEN = "proven", "fault found", "not proven yet"
#: The cells that say so.
STATES: dict[System, str] = {
    "readiness": "state_readiness",
    "compression": "state_compression",
    "ignition": "state_ignition",
    "fuel and air": "state_fuel_and_air",
}
#: Every core reading was made, and what has no limit to hold it against stays unjudged.
AS_FAR_AS_FIGURES = "proven as far as the figures go"

#: How sure a cause is: its deciding test was made and agrees; two signs or more; one sign.
Strength = Literal["confirmed", "indicated", "possible"]
CONFIRMED: Strength = "confirmed"
INDICATED: Strength = "indicated"
POSSIBLE: Strength = "possible"
STRENGTHS: tuple[Strength, ...] = (CONFIRMED, INDICATED, POSSIBLE)


@dataclass(frozen=True)
class Shape:
    """What a workbook was made for: its cylinders, banks (front to rear), unit system and currency sign."""

    cylinders: int
    banks: tuple[tuple[int, ...], ...]
    units: UnitSystem = "us"
    currency: str = "$"

    @property
    def neighbours(self) -> dict[int, tuple[int, ...]]:
        """Cylinder number to the numbers beside it on the same bank."""
        beside: dict[int, tuple[int, ...]] = {}
        for bank in self.banks:
            for place, cylinder in enumerate(bank):
                beside[cylinder] = bank[max(place - 1, 0) : place] + bank[place + 1 : place + 2]
        return beside

    def numbers(self, per: Per) -> tuple[int | None, ...]:
        """The repeat numbers of something that repeats `per`; (None,) where it does not repeat."""
        if per == "job":
            return (None,)
        return tuple(range(1, (self.cylinders if per == "cylinder" else per) + 1))

    def rows(self, per: Per) -> tuple[int | None, ...]:
        """The same numbers in the order in which they stand below each other: cylinders bank by bank, front to rear."""
        if per == "cylinder":
            return tuple(cylinder for bank in self.banks for cylinder in bank)
        return self.numbers(per)


@dataclass(frozen=True)
class Measure:
    """A unit in both systems, and the decimals that a reading in it deserves."""

    us: str = ""
    metric: str = ""
    us_decimals: int = 0
    metric_decimals: int = 0
    #: What is measured, as `read.doubts` knows units and slips of it; '' where no slip can be told.
    quantity: str = ""

    def unit(self, units: UnitSystem) -> str:
        """The unit's symbol in that system, '' for a bare number."""
        return self.us if units == "us" else self.metric

    def decimals(self, units: UnitSystem) -> int:
        """Decimals shown in that system."""
        return self.us_decimals if units == "us" else self.metric_decimals


@dataclass(frozen=True)
class Limits:
    """The names of the cells that hold a reading's limits, any of which may be absent or blank.

    `low` and `high` are blurred by `tolerance` (the gauge's limit of error). `floor` is a limit from comparing
    readings of one gauge with each other, which its tolerance does not blur. `asked` is a cell that says "no" on
    engines that have no such part: the reading is not asked for there and gets no mark.
    """

    low: str | None = None
    high: str | None = None
    tolerance: str | None = None
    floor: str | None = None
    asked: str | None = None

    def at(self, number: int | None) -> Limits:
        """The same limits with `#` in the names replaced by a repeat number."""
        names = (self.low, self.high, self.tolerance, self.floor, self.asked)
        return Limits(*(name and numbered_text(name, number) for name in names))


@dataclass(frozen=True, eq=False)
class Field:
    """One thing that the form asks for. Ranges and `default` are in US units unless a metric figure is given."""

    name: str
    label: str
    kind: Kind = "number"
    measure: Measure = Measure()
    per: Per = "job"
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    default: float | str | None = None
    default_metric: float | None = None
    #: What stands in each of a repeated field, where they differ.
    defaults: tuple[float, ...] = ()
    help: str = ""
    limits: Limits | None = None
    locked: bool = False
    wide: bool = False
    #: Lines below each other in which its text is read whole, in a block.
    lines: int = 1
    #: The choices that speak of no fault; any other that is chosen is a sign. () where none is.
    sound: tuple[str, ...] = ()
    #: What is measured, where its unit alone does not say; '' where no slip of it is told.
    quantity: str | None = None
    #: The cells that hold its lowest and highest specified value, where its own limits are one-sided.
    doubted_beyond: tuple[str, str] | None = None
    #: The version of the form that first asked for it.
    since: int = 1
    #: The choice of the unit of the number before it: it stands behind that, in its row.
    is_unit: bool = False
    #: Columns that its box takes in a table; 0 where its kind says so.
    columns: int = 0


@dataclass(frozen=True, eq=False)
class Result:
    """One thing that the workbook computes, written once as an expression over cells.

    Formula, value in Python, cells and sentence all come from `expression`: a number, a text, or blank where the
    cell shows an empty text. `working` results are helper cells: calculated and named like all others, but put
    beside the printed part of the sheet.
    """

    name: str
    label: str
    expression: Node
    measure: Measure = Measure()
    per: Per = "job"
    help: str = ""
    limits: Limits | None = None
    working: bool = False
    is_mark: bool = False
    money: bool = False
    wide: bool = False
    percent: bool = False
    is_date: bool = False
    #: Stands out among what is beside it.
    strong: bool = False
    #: Lines below each other in which its text is read whole, in a block.
    lines: int = 1
    #: In the letters of small print, where its box is narrow.
    small: bool = False
    #: A share drawn as a bar of letters.
    is_bar: bool = False
    #: Shown behind its own number: `3: sound`.
    numbered: bool = False
    #: How its words are shown: each with the mark or state that it looks like, "" standing for any other word.
    looks: tuple[tuple[str, str], ...] = ()
    #: The version of the form that first showed it.
    since: int = 1


Item = Field | Result


@dataclass(frozen=True)
class Block:
    """Rows of single items under a heading, with what to do and the cautions that belong to this step."""

    title: str
    items: tuple[Item, ...]
    what_to_do: str = ""
    cautions: tuple[str, ...] = ()
    #: Whether the readings call for this test; None where it belongs to every check.
    needed: Cond | None = None
    #: Few short items, side by side in one row; what to do and cautions stand at the part below them, not here.
    is_flat: bool = False


@dataclass(frozen=True)
class Table:
    """One row a repeat (cylinder, curve point, bill line), one column an item; all items repeat alike."""

    title: str
    per: Per
    columns: tuple[Item, ...]
    row_label: str = ""
    what_to_do: str = ""
    cautions: tuple[str, ...] = ()

    @property
    def items(self) -> tuple[Item, ...]:
        """What stands in its columns."""
        return self.columns


@dataclass(frozen=True)
class Link:
    """Words that lead to a sheet, or to the cell that a result names."""

    words: str
    sheet: str = ""
    cell: str = ""


@dataclass(frozen=True)
class Boxes:
    """A row of a board: what it is, and results and links side by side, each with the columns that it takes.

    `number` is that of the results in it, where they repeat; `lines` of text find room in it.
    """

    label: str
    boxes: tuple[tuple[Result | Link, int], ...]
    number: int | None = None
    lines: int = 1


@dataclass(frozen=True)
class Banks:
    """Rows of a board: one box a cylinder, laid out in the engine's banks with its front at the left."""

    label: str
    item: Result
    lines: int = 2


@dataclass(frozen=True)
class Board:
    """What is to be seen at a glance: groups of rows, each close together. `workings` are helper results beside them."""

    groups: tuple[tuple[Boxes | Banks, ...], ...]
    workings: tuple[Result, ...] = ()
    title: str = ""

    @property
    def items(self) -> tuple[Result, ...]:
        """What stands on it, each once."""
        found = [each for group in self.groups for row in group for each in _results_in(row)]
        return tuple({item.name: item for item in (*found, *self.workings)}.values())


def _results_in(row: Boxes | Banks) -> tuple[Result, ...]:
    if isinstance(row, Banks):
        return (row.item,)
    return tuple(each for each, _ in row.boxes if isinstance(each, Result))


@dataclass(frozen=True)
class Line:
    """One series of a chart: a repeated item, or a single item drawn as a level across all categories."""

    source: str
    title: str
    as_level: bool = False


@dataclass(frozen=True)
class Chart:
    """Columns or lines over the repeats of an item, with limit lines; `kind` is 'column' or 'line'.

    `per` says over what it runs; `x` names a repeated item for the categories, else the repeat numbers serve.
    """

    title: str
    per: Per
    bars: tuple[Line, ...]
    limits: tuple[Line, ...] = ()
    x: str | None = None
    x_title: str = ""
    y_title: Measure = Measure()
    #: Rows that it takes at least.
    rows: int = 15


@dataclass(frozen=True)
class Notes:
    """Paragraphs of text on a sheet (the Cautions sheet, hints)."""

    title: str
    paragraphs: tuple[str, ...]


@dataclass(frozen=True)
class Dials:
    """A drawn dial for each choice of a field, with the choice below it."""

    title: str
    choices: tuple[str, ...]


Part = Block | Table | Board | Chart | Notes | Dials
#: The parts that hold cells.
WITH_ITEMS = (Block, Table, Board)


@dataclass(frozen=True, eq=False)
class Sheet:
    """One sheet of the form: what it is for in a line, what it costs in tools and minutes, and its parts."""

    name: str
    purpose: str
    cost: str
    parts: tuple[Part, ...]
    #: One page to be handed over: rows stand as close as they can be read.
    is_page: bool = False
    #: The version of the form that first had it.
    since: int = 1


def numbered_text(text: str, number: int | None) -> str:
    """A name or formula with `#` replaced by the repeat's number."""
    return text if number is None else text.replace("#", str(number))


def cell_name(name: str, number: int | None) -> str:
    """The defined name of one cell: the item's name, with its repeat number behind it where it repeats."""
    return name if number is None else f"{name}_{number}"
