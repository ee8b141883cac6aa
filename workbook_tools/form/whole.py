"""The whole form: its sheets in the order of the work, every cell by name, every formula, every result.

FORM                    the sheets
fields(), results()     what is asked, what is computed, by name
cells(shape)            every cell of a workbook of that shape
formula_of(...)         the Excel formula of one result cell
compute(shape, values)  all results from readings, as the workbook's own formulas would give them
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from graphlib import TopologicalSorter

from workbook_tools.form.marks import results_for
from workbook_tools.form.sheets import SHEETS
from workbook_tools.language.constants import CONSTANTS
from workbook_tools.language.model import (
    Block,
    Field,
    Item,
    Per,
    Result,
    Shape,
    Sheet,
    Table,
    Value,
    cell_name,
    numbered_text,
)
from workbook_tools.language.values import Values

FORM_VERSION = 2


@dataclass(frozen=True)
class Cell:
    """One input or computed cell of a workbook: its defined name, what it is, its repeat number, its sheet."""

    name: str
    item: Item
    number: int | None
    sheet: Sheet


def items_of(sheet: Sheet) -> tuple[Item, ...]:
    """Fields and results in the order of the sheet, limit, margin and mark results included."""
    found: list[Item] = []
    for part in sheet.parts:
        if isinstance(part, (Block, Table)):
            for item in part.items if isinstance(part, Block) else part.columns:
                found.append(item)
                found += results_for(item) if item.limits else ()
    return tuple(found)


@lru_cache(maxsize=1)
def items() -> Mapping[str, tuple[Item, Sheet]]:
    """Every field and result of the form by name, with its sheet. Raises ValueError where a name stands twice."""
    found: dict[str, tuple[Item, Sheet]] = {}
    for sheet in SHEETS:
        for item in items_of(sheet):
            if item.name in found:
                raise ValueError(f"the form has two items named {item.name}")
            found[item.name] = (item, sheet)
    return found


def fields() -> dict[str, Field]:
    """What is asked, by name, in the order of the form."""
    return {name: item for name, (item, _) in items().items() if isinstance(item, Field)}


def results() -> dict[str, Result]:
    """What is computed, by name, in the order of the form."""
    return {name: item for name, (item, _) in items().items() if isinstance(item, Result)}


@lru_cache(maxsize=1)
def repeats() -> Mapping[str, Per]:
    """How each item repeats, by name."""
    return {name: item.per for name, (item, _) in items().items()}


@lru_cache(maxsize=64)
def cells(shape: Shape) -> Mapping[str, Cell]:
    """Every cell of a workbook of that shape by defined name, in the order of the form."""
    found = {}
    for item, sheet in items().values():
        for number in shape.numbers(item.per):
            name = cell_name(item.name, number)
            found[name] = Cell(name, item, number, sheet)
    return found


def formula_of(result: Result, shape: Shape, number: int | None) -> str:
    """The formula of one result cell over defined names, constants of the unit system put in."""
    text = result.formula if isinstance(result.formula, str) else result.formula(shape, number)
    text = re.sub(r"\{(\w+)\}", lambda match: f"{CONSTANTS[match.group(1)].value(shape.units):.15g}", text)
    return numbered_text(text, number)


def names_in(formula: str) -> set[str]:
    """The defined names that a formula refers to."""
    outside_quotes = re.sub(r'"[^"]*"', '""', formula)
    return set(re.findall(r"(?<![A-Za-z0-9_.])[a-z][a-z0-9_]*(?![A-Za-z0-9_(])", outside_quotes))


@lru_cache(maxsize=16)
def calculation_order(shape: Shape) -> tuple[Cell, ...]:
    """The computed cells, each after those it needs. Raises graphlib.CycleError for a circular form."""
    everything = cells(shape)
    graph: dict[str, set[str]] = {}
    for name, cell in everything.items():
        if isinstance(cell.item, Result):
            graph[name] = set(_needs(cell, shape))
    return tuple(everything[name] for name in TopologicalSorter(graph).static_order() if name in graph)


def _needs(cell: Cell, shape: Shape) -> Iterator[str]:
    assert isinstance(cell.item, Result)
    for name in names_in(formula_of(cell.item, shape, cell.number)):
        if name.startswith("all_") and name not in repeats():
            base = name.removeprefix("all_")
            yield from (cell_name(base, n) for n in shape.numbers(repeats()[base]))
        else:
            yield name


def compute(
    shape: Shape,
    readings: Mapping[str, Value],
    held: Mapping[str, Value] | None = None,
    *,
    as_typed: bool = False,
) -> Values:
    """Readings with every result added, as the workbook's own formulas give them; `held` results are taken as given.

    `as_typed`: the readings were not judged before and may be anything; a result that they can't give is blank.
    """
    values = Values(shape, repeats(), dict(readings) | dict(held or {}))
    for cell in calculation_order(shape):
        if held and cell.name in held:
            continue
        assert isinstance(cell.item, Result)
        values.values[cell.name] = (
            result_if_any(cell.item, values, cell.number)
            if as_typed
            else cell.item.compute(values, cell.number)
        )
    return values


def result_if_any(result: Result, values: Values, number: int | None) -> Value:
    """One result from whatever was typed, None where the sheet's formula would show an error (1E+308 added up)."""
    try:
        return result.compute(values, number)
    except (ArithmeticError, LookupError, ValueError):
        return None
