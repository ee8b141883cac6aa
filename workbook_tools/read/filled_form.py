"""A filled form as it was found in a workbook: every cell of the form, what it holds, and how it was found."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from workbook_tools.form.ranges import is_numeric_choice
from workbook_tools.form.the_form import Cell
from workbook_tools.language.model import Field, Result, Shape, Value
from workbook_tools.read.entries import (
    BLANK,
    Entry,
    read_choice,
    read_date,
    read_money,
    read_number,
    read_text,
    read_whole,
)

DAY_ZERO = dt.datetime(1899, 12, 30)


class FoundCell(NamedTuple):
    """One cell of the form in the user's workbook.

    `sheet` and `address` say where it is now; `raw` is its stored value and `formula` its formula text, None where
    it has none. `by_name` is False where its defined name was lost and it was found by sheet and label.
    """

    form: Cell
    sheet: str
    address: str
    raw: object
    formula: str | None
    by_name: bool = True

    @property
    def where(self) -> str:
        """Sheet and cell in words, for messages: `Compression!B7`."""
        return f"{self.sheet}!{self.address}"


@dataclass(frozen=True)
class FilledForm:
    """A workbook of ours, read: its shape, the cells found, the names lost, and a digest of all that was typed."""

    path: Path
    shape: Shape
    form_version: int
    cells: Mapping[str, FoundCell]
    lost: tuple[str, ...]
    renamed_sheets: Mapping[str, str]
    hidden_sheets: frozenset[str]
    changed_identity: tuple[tuple[str, str, str], ...]
    epoch: dt.datetime
    digest: str
    #: Sheets that the form was made without, on which nothing was typed all the same.
    left_out: frozenset[str] = frozenset()
    #: Sheets, as they are titled now, whose choices or highlights a program dropped.
    without_choices: tuple[str, ...] = ()
    without_highlights: tuple[str, ...] = ()

    @cached_property
    def entries(self) -> Mapping[str, Entry]:
        """What each input cell says, read once."""
        return {name: entry_of(cell, self.shape, self.epoch) for name, cell in self.inputs.items()}

    @cached_property
    def inputs(self) -> Mapping[str, FoundCell]:
        """The input cells by name."""
        return {name: cell for name, cell in self.cells.items() if isinstance(cell.form.item, Field)}

    @cached_property
    def computed(self) -> Mapping[str, FoundCell]:
        """The computed cells by name."""
        return {name: cell for name, cell in self.cells.items() if isinstance(cell.form.item, Result)}

    def where(self, name: str) -> str:
        """Sheet and cell of a name, '' where the workbook has none."""
        return self.cells[name].where if name in self.cells else ""


def entry_of(cell: FoundCell, shape: Shape, epoch: dt.datetime) -> Entry:
    """What an input cell says, read as its kind of field."""
    item = cell.form.item
    assert isinstance(item, Field)
    if cell.raw is None and cell.formula is not None:
        return Entry(None, problem="the cell holds a formula without a stored result")
    unit = item.measure.unit(shape.units)
    if item.kind == "number":
        return read_number(cell.raw, unit)
    if item.kind == "whole":
        return read_whole(cell.raw, unit)
    if item.kind == "money":
        return read_money(cell.raw)
    if item.kind == "date":
        return read_date(cell.raw, epoch)
    if item.kind == "choice":
        raw = f"{cell.raw:g}" if is_number(cell.raw) else cell.raw
        read = read_choice(raw, item.choices)
        if is_numeric_choice(item) and isinstance(read.value, str):
            return Entry(float(read.value), held_as_text=isinstance(cell.raw, str))
        return read
    return read_text(cell.raw) if cell.raw is not None else BLANK


def is_number(raw: object) -> bool:
    """Whether a stored value is a number to a spreadsheet's COUNT."""
    return isinstance(raw, (int, float)) and not isinstance(raw, bool)


def as_seen_by_formulas(raw: object) -> Value:
    """A stored value as the sheet's formulas see it: dates as day numbers, truth values as nothing to count."""
    if is_number(raw):
        return float(raw)  # type: ignore[arg-type]
    if isinstance(raw, str):
        return raw or None
    if isinstance(raw, dt.datetime):
        return (raw - DAY_ZERO) / dt.timedelta(days=1)
    if isinstance(raw, dt.date):
        return float((raw - DAY_ZERO.date()).days)
    return None
