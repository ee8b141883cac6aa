"""The whole form: its sheets in the order of the work, every cell by name, every formula, every result.

FORM                    the sheets
fields(), results()     what is asked, what is computed, by name
cells(shape)            every cell of a workbook of that shape
formula_of(...)         the formula of one result cell
compute(shape, values)  all results from readings, as the workbook's own formulas would give them
decision_of(...)        which row of a result's table decided, and on which cells
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from graphlib import TopologicalSorter

from workbook_tools.form.all_sheets import SHEETS
from workbook_tools.form.marks import results_for
from workbook_tools.language.evaluate import Decision, Evaluate, Get, Numbering, cell_of, decision, evaluator
from workbook_tools.language.expressions import READING, Node, column_names, items_named, of_number
from workbook_tools.language.expressions import Cell as CellPart
from workbook_tools.language.formulas import depends_on_number, pattern
from workbook_tools.language.model import (
    WITH_ITEMS,
    Field,
    Item,
    Per,
    Result,
    Shape,
    Sheet,
    Value,
    cell_name,
    numbered_text,
)
from workbook_tools.language.values import Values

FORM_VERSION = 7
#: What is made ready for one shape of engine is kept for so many: all that a shop meets, in both systems of units.
SHAPES = 40
#: Names that a form of an earlier version has for something else: today's name of that, and the version that took it over.
TAKEN_OVER = {"bill_note": ("bill_missing", 4)}


@dataclass(frozen=True)
class Cell:
    """One input or computed cell of a workbook: its defined name, what it is, its repeat number, its sheet."""

    name: str
    item: Item
    number: int | None
    sheet: Sheet

    @property
    def since(self) -> int:
        """The version of the form that first had it."""
        return max(self.item.since, self.sheet.since)


def items_of(sheet: Sheet) -> tuple[Item, ...]:
    """Fields and results in the order of the sheet, limit, margin and mark results included."""
    found: list[Item] = []
    for part in sheet.parts:
        if isinstance(part, WITH_ITEMS):
            for item in part.items:
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


@lru_cache(maxsize=SHAPES)
def cells(shape: Shape) -> Mapping[str, Cell]:
    """Every cell of a workbook of that shape by defined name, in the order of the form."""
    found = {}
    for item, sheet in items().values():
        for number in shape.numbers(item.per):
            name = cell_name(item.name, number)
            found[name] = Cell(name, item, number, sheet)
    return found


@lru_cache(maxsize=SHAPES)
def numbering(shape: Shape) -> Numbering:
    """Which cells each item has in a workbook of that shape."""
    return Numbering(shape, repeats())


@lru_cache(maxsize=SHAPES * 1024)
def _pattern(result: Result, shape: Shape, number: int | None) -> str:
    return pattern(result.expression, numbering(shape), number)


@lru_cache(maxsize=1024)
def _depends_on_number(result: Result) -> bool:
    return depends_on_number(result.expression)


@lru_cache(maxsize=SHAPES)
def formulas(shape: Shape) -> Mapping[str, str]:
    """The formulas of all result cells by name."""
    return {
        name: formula_of(cell.item, shape, cell.number)
        for name, cell in cells(shape).items()
        if isinstance(cell.item, Result)
    }


def formula_of(result: Result, shape: Shape, number: int | None) -> str:
    """The formula of one result cell over defined names."""
    # Written once for all its repeats, where nothing but the own number changes.
    written_for = number if number is None or _depends_on_number(result) else 1
    return numbered_text(_pattern(result, shape, written_for), number)


def columns_of(shape: Shape) -> tuple[str, ...]:
    """The repeated items that some formula refers to as a whole, in the order of the form."""
    used = {
        name
        for result in results().values()
        for part in result.expression.walk()
        for name in column_names(part)
    }
    return tuple(name for name in repeats() if name in used)


def items_read(result: Result) -> tuple[str, ...]:
    """The items that a result's expression names, in the order of the form."""
    return tuple(name for name in items() if name in _items_named()[result.name])


@lru_cache(maxsize=SHAPES * 2048)
def cells_read(result: Result, shape: Shape, number: int | None) -> tuple[str, ...]:
    """The cells that a result's expression names. Raises KeyError for an item that the form does not have."""
    numbers, found = numbering(shape), []
    for part in _reading_parts(of_number(result.expression, number)):
        if isinstance(part, CellPart):
            name = cell_of(part, numbers, number)
            found += [] if name is None else [name]
        for name in column_names(part):
            found += numbers.column(name)
    return tuple(dict.fromkeys(found))


@lru_cache(maxsize=SHAPES * 1024)
def _reading_parts(expression: Node) -> tuple[Node, ...]:
    """The parts of an expression that name cells, each once."""
    return tuple(dict.fromkeys(part for part in expression.walk() if isinstance(part, READING)))


@lru_cache(maxsize=SHAPES)
def calculation_order(shape: Shape) -> tuple[Cell, ...]:
    """The computed cells, each after those it needs."""
    everything, repeated = cells(shape), repeats()
    return tuple(
        everything[cell_name(name, number)]
        for name in _order_of_results()
        for number in shape.numbers(repeated[name])
    )


@lru_cache(maxsize=1)
def _order_of_results() -> tuple[str, ...]:
    """The results, each after those whose cells it reads: one order for all shapes of engine.

    Raises graphlib.CycleError for a circular form, and KeyError for an item that the form does not have. No result may read
    another cell of its own: it would need an order of cells, which takes four times as long to find.
    """
    named = _items_named()
    return tuple(name for name in TopologicalSorter(named).static_order() if name in named)


@lru_cache(maxsize=1)
def _items_named() -> Mapping[str, frozenset[str]]:
    """The items that each result reads. Raises KeyError for one that the form does not have."""
    found = {name: items_named(result.expression) for name, result in results().items()}
    unknown = set().union(*found.values()) - items().keys()
    if unknown:
        raise KeyError(*sorted(unknown))
    return found


@lru_cache(maxsize=SHAPES)
def _evaluators(shape: Shape) -> Mapping[str, Evaluate]:
    numbers = numbering(shape)
    return {name: evaluator(result.expression, numbers) for name, result in results().items()}


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
    known, get = values.values, values.values.get
    for cell, work_out in _steps(shape):
        if not (held and cell.name in held):
            number = cell.number
            known[cell.name] = _if_any(work_out, get, number) if as_typed else work_out(get, number)
    return values


def compute_again(
    before: Values, readings: Mapping[str, Value], held: Mapping[str, Value] | None = None
) -> Values:
    """What `compute(..., as_typed=True)` gives for readings of which most are those of `before`, in a fraction of the time.

    Only what reads an item of which a cell changed is worked out again.
    """
    every = cells(before.shape)
    given = dict(readings) | dict(held or {})
    values = Values(before.shape, repeats(), dict(before.values) | given)
    known, get = values.values, values.values.get
    changed = {
        every[name].item.name
        for name, value in given.items()
        if name in every and _differs(before.values.get(name), value)
    }
    for name in _inputs(before.shape) - given.keys():
        if known.pop(name, None) is not None:
            changed.add(every[name].item.name)
    for cell, work_out in _steps(before.shape):
        name = cell.name
        if (held and name in held) or changed.isdisjoint(_items_named()[cell.item.name]):
            continue
        known[name] = _if_any(work_out, get, cell.number)
        if _differs(before.values.get(name), known[name]):
            changed.add(cell.item.name)
    return values


def _differs(one: Value, other: Value) -> bool:
    return one != other or one.__class__ is not other.__class__


@lru_cache(maxsize=SHAPES)
def _inputs(shape: Shape) -> frozenset[str]:
    return frozenset(name for name, cell in cells(shape).items() if isinstance(cell.item, Field))


@lru_cache(maxsize=SHAPES)
def _steps(shape: Shape) -> tuple[tuple[Cell, Evaluate], ...]:
    """The result cells in the order of calculation, each with its function."""
    evaluate = _evaluators(shape)
    return tuple((cell, evaluate[cell.item.name]) for cell in calculation_order(shape))


def result_if_any(result: Result, values: Values, number: int | None) -> Value:
    """One result from whatever was typed, None where the sheet's formula would show an error (1E+308 added up)."""
    return _if_any(_evaluators(values.shape)[result.name], values.values.get, number)


def _if_any(work_out: Evaluate, get: Get, number: int | None) -> Value:
    try:
        return work_out(get, number)
    except (ArithmeticError, LookupError, ValueError):
        return None


def value_of(expression: Node, values: Values, number: int | None = None) -> Value:
    """What any expression over the form's cells comes to, in the place of number `number`."""
    return evaluator(expression, numbering(values.shape))(values.values.get, number)


def reasons_of(expression: Node, values: Values, number: int | None) -> tuple[str, ...]:
    """The filled cells that an expression, as it comes out, rests on."""
    return decision(expression, numbering(values.shape), values.values.get, number).cells


def decision_of(result: Result, values: Values, number: int | None) -> Decision:
    """The row of a result's table that decided, and the cells that made it so."""
    return decision(result.expression, numbering(values.shape), values.values.get, number)
