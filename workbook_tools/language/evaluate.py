"""What an expression comes to: values from cells, and which row and cells decided.

    evaluator(expression, shape)(values.get, 3)     the value in the cell of number 3
    decision(expression, shape, values.get, 3)      the row of the table that decided, and the cells it rests on

Expressions are turned into plain Python functions once a shape, since a check works out some thousand cells.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from workbook_tools.language import expressions as x
from workbook_tools.language.constants import CONSTANTS
from workbook_tools.language.model import Per, Shape, Value, cell_name
from workbook_tools.science.sheet_math import median, sheet_round

#: How a cell is asked for: by its defined name, None where blank.
Get = Callable[[str], Value]
Evaluate = Callable[[Get, int | None], Value]

#: Decimals to which two numbers are compared: 15 digits hold any reading, and no gauge shows more than these.
COMPARED_TO = 6
_CLEARLY_APART = 10.0**-COMPARED_TO


def difference_sign(one: float, other: float) -> int:
    """-1, 0 or 1: how two numbers compare in a worksheet, rounded to six decimals."""
    apart = one - other
    if not -_CLEARLY_APART < apart < _CLEARLY_APART:
        return 1 if apart > 0 else -1
    if apart == 0:
        return 0
    rounded = sheet_round(apart, COMPARED_TO)
    return (rounded > 0) - (rounded < 0)


#: The signs of the difference for which a comparison holds.
COMPARISONS: dict[str, tuple[int, ...]] = {"<": (-1,), "<=": (-1, 0), ">": (1,), ">=": (0, 1), "=": (0,)}
ARITHMETIC: dict[str, Callable[[float, float], float]] = {
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "^": math.pow,
}
CALLS: dict[str, Callable[..., float]] = {
    "ROUND": lambda value, digits: sheet_round(value, int(digits)),
    "ROUNDUP": lambda value, _: float(math.ceil(value)),
    "INT": lambda value: float(math.floor(value)),
    "ABS": abs,
    "SQRT": math.sqrt,
    "COS": lambda degrees: math.cos(math.radians(degrees)),
    "SIN": lambda degrees: math.sin(math.radians(degrees)),
    "LN": math.log,
}
EXTREMES = {"MAX": max, "MIN": min, "MEDIAN": median}


@dataclass(frozen=True, eq=False)
class Numbering:
    """Which cells an item has in a workbook of one shape."""

    shape: Shape
    repeats: Mapping[str, Per]
    #: Functions already made, each beside its expression, so that the id of one is not given to another.
    made: dict[int, tuple[x.Node, Evaluate]] = field(default_factory=dict)

    def per(self, name: str) -> Per:
        """How an item repeats. Raises KeyError for an item that the form does not have."""
        return self.repeats[name]

    def column(self, name: str) -> tuple[str, ...]:
        """The cells of an item."""
        return tuple(cell_name(name, n) for n in self.shape.numbers(self.per(name)))


def beside(shape: Shape, cylinder: int, step: int) -> int | None:
    """The cylinder before (-1) or after (+1) on the same bank, None at the bank's end."""
    for bank in shape.banks:
        if cylinder in bank:
            place = bank.index(cylinder) + step
            return bank[place] if 0 <= place < len(bank) else None
    return None


def cell_of(cell: x.Cell, numbers: Numbering, own: int | None) -> str | None:
    """The defined name of a cell of an expression, None past the end of a bank and for a cylinder that is not there."""
    if cell.fixed is not None:
        there = cell.fixed in numbers.shape.numbers(numbers.per(cell.name))
        return cell_name(cell.name, cell.fixed) if there else None
    if numbers.per(cell.name) == "job":
        return cell.name
    if own is None:
        raise ValueError(f"{cell.name} repeats, but what is worked out from it does not: name its number")
    other = beside(numbers.shape, own, cell.step) if cell.step else own
    return None if other is None else cell_name(cell.name, other)


def evaluator(expression: x.Node, numbers: Numbering) -> Evaluate:
    """The function that works out an expression in workbooks of one shape."""
    return _Compiler(numbers).compile(expression)


def _number(held: Value) -> float | None:
    # By far the most cells hold one of these two, and a check asks for some hundred thousand.
    if held.__class__ is float or held is None:
        return held  # type: ignore[return-value]
    return held if isinstance(held, (int, float)) and not isinstance(held, bool) else None


def _text(held: Value) -> str | None:
    return held if isinstance(held, str) and held else None


class _Compiler:
    """Turns expressions into functions of (get, own number)."""

    def __init__(self, numbers: Numbering) -> None:
        self.numbers = numbers
        self.shape = numbers.shape

    def compile(self, part: x.Node) -> Evaluate:
        """The function of one part; what many tables ask alike is made once."""
        if id(part) not in self.numbers.made:
            self.numbers.made[id(part)] = part, self._compiled(part)
        return self.numbers.made[id(part)][1]

    def _later(self, parts: Sequence[x.Node]) -> list[Evaluate]:
        """The functions of parts, each made when it is first asked: half of them never are in the check of one job."""
        functions: list[Evaluate] = []
        for place, part in enumerate(parts):
            functions.append(partial(self._now, functions, place, part))
        return functions

    def _now(self, functions: list[Evaluate], place: int, part: x.Node, get: Get, n: int | None) -> Value:
        functions[place] = self.compile(part)
        return functions[place](get, n)

    def _compiled(self, part: x.Node) -> Evaluate:
        """The function of one part made anew; a part of a new kind must be added here, in `formulas.py` and in `sentences.py`."""
        match part:
            # The most frequent kinds first: a form has some twenty thousand parts, and each is held against the cases in turn.
            case x.Literal(held) | x.Truth(held):
                return lambda get, n: held
            case x.Cell():
                return self._cell(part)
            case x.Is(inner, words):
                return self._is(self.compile(inner), frozenset(words))
            case x.All(parts):
                return self._all(self._later(parts))
            case x.Arith("+" | "*" as op, x.Arith(inner_op)) if inner_op == op:
                return self._chain(op, _chained(op, part))
            case x.Arith(op, left, right):
                return self._arithmetic(op, self.compile(left), self.compile(right))
            case x.OrZero(inner):
                worked_out = self.compile(inner)
                return lambda get, n: worked_out(get, n) or 0.0
            case x.Known(inner):
                worked_out = self.compile(inner)
                return lambda get, n: worked_out(get, n) is not None
            case x.Not(inner):
                worked_out = self.compile(inner)
                return lambda get, n: not worked_out(get, n)
            case x.Compare(op, left, right):
                return self._compare(op, self.compile(left), self.compile(right))
            case x.Any_(parts):
                return self._any(self._later(parts))
            case x.Choose(conditions, outcomes, otherwise):
                return self._choose(self._later(conditions), self._later((*outcomes, otherwise)))
            case x.Constant(name):
                figure = CONSTANTS[name].value(self.shape.units)
                return lambda get, n: figure
            case x.Cylinders():
                cylinders = self.shape.cylinders
                return lambda get, n: cylinders
            case x.OwnNumber():
                return lambda get, n: n
            case x.Aggregate():
                return self._aggregate(part)
            case x.PointBeside(name, of, below):
                return self._point_beside(name, self.compile(of), below)
            case x.MeanAt(name, keys, at):
                return self._mean_at(name, keys, self.compile(at))
            case x.SumAt(name, keys, at):
                return self._sum_at(name, keys, self.compile(at))
            case x.Call(function, parts):
                return self._call(function, [self.compile(each) for each in parts])
            case x.Extreme(parts, is_largest):
                return self._extreme([self.compile(each) for each in parts], max if is_largest else min)
            case x.Pick(index, figures):
                place = self.compile(index)
                return lambda get, n: _picked(figures, place(get, n))
            case x.At(name, index):
                return self._at(name, self.compile(index), _number)
            case x.TextAt(name, index):
                return self._at(name, self.compile(index), _text)
            case x.PlaceOf(name, of):
                return self._place_of(name, self.compile(of))
            case x.NumbersWith(name, words):
                return self._numbers_with(name, frozenset(each.lower() for each in words))
            case x.Letter(inner, place):
                return self._letter(self.compile(inner), self.compile(place))
            case x.Repeated(text, times):
                count = self.compile(times)
                return lambda get, n: text * int(count(get, n) or 0) or None  # type: ignore[arg-type]
            case x.ByNumber(parts):
                own = [self.compile(each) for each in parts]
                return lambda get, n: own[(n or 1) - 1](get, n)
            case x.Join(parts):
                return self._join([self.compile(each) for each in parts])
            case x.Same(left, right):
                one, other = self.compile(left), self.compile(right)
                return lambda get, n: str(one(get, n)).lower() == str(other(get, n)).lower()
        raise TypeError(part)

    def _cell(self, cell: x.Cell) -> Evaluate:
        worked_out = _text if isinstance(cell, x.TextCell) else _number
        if cell.fixed is not None or self.numbers.per(cell.name) == "job":
            name = cell_of(cell, self.numbers, None)
            return (lambda get, n: None) if name is None else lambda get, n: worked_out(get(name))
        names = {n: cell_of(cell, self.numbers, n) for n in self.shape.numbers(self.numbers.per(cell.name))}

        def of_own_number(get: Get, n: int | None) -> Value:
            found = names[n]
            return None if found is None else worked_out(get(found))

        return of_own_number

    def _aggregate(self, part: x.Aggregate) -> Evaluate:
        cells, criterion = self.numbers.column(part.name), part.criterion.lower()

        # Loops over lists that are made anew each time: no part of a check is worked out more often than a column.
        def held(get: Get) -> list[float]:
            found = []
            for name in cells:
                value = get(name)
                if value.__class__ is float or (value is not None and (value := _number(value)) is not None):
                    found.append(value)
            return found  # type: ignore[return-value]

        def count_of_text(get: Get, n: int | None) -> Value:
            count = 0
            for name in cells:
                value = get(name)
                if value.__class__ is str and value.lower() == criterion:  # type: ignore[union-attr]
                    count += 1
            return count

        if part.function == "COUNTIF":
            if criterion == "<0":
                return lambda get, n: sum(value < 0 for value in held(get))
            return count_of_text
        if part.function == "COUNT":
            return lambda get, n: len(held(get))
        if part.function == "SUM":
            return lambda get, n: math.fsum(held(get))
        if part.function == "LARGE":
            assert part.rank is not None
            rank = self.compile(part.rank)
            return lambda get, n: _picked(sorted(held(get), reverse=True), rank(get, n))
        pick = EXTREMES[part.function]
        return lambda get, n: pick(values) if (values := held(get)) else None

    def _point_beside(self, name: str, of: Evaluate, below: bool) -> Evaluate:
        cells = self.numbers.column(name)

        def point(get: Get, n: int | None) -> Value:
            limit = of(get, n)
            if limit is None:
                return None
            held = (value for cell in cells if (value := _number(get(cell))) is not None)
            inside = [each for each in held if (each <= limit if below else each >= limit)]
            return (max if below else min)(inside) if inside else None

        return point

    def _mean_at(self, name: str, keys: str, at: Evaluate) -> Evaluate:
        pairs = tuple(zip(self.numbers.column(keys), self.numbers.column(name), strict=True))

        def mean(get: Get, n: int | None) -> Value:
            key = at(get, n)
            there = [
                _number(get(value)) or 0.0
                for each, value in pairs
                if key is not None and _number(get(each)) == key
            ]
            return sum(there) / len(there) if there else None

        return mean

    def _sum_at(self, name: str, keys: str, at: Evaluate) -> Evaluate:
        pairs = tuple(zip(self.numbers.column(keys), self.numbers.column(name), strict=True))

        def total(get: Get, n: int | None) -> Value:
            key, found = at(get, n), []
            for each, value in pairs:
                held = get(each)
                if held == key and _number(held) == key:
                    found.append(_number(get(value)) or 0.0)
            return math.fsum(found)

        return total

    def _at(self, name: str, index: Evaluate, kind: Callable[[Value], Value]) -> Evaluate:
        cells = self.numbers.column(name)

        def at(get: Get, n: int | None) -> Value:
            cell = _picked(cells, index(get, n))
            return None if cell is None else kind(get(str(cell)))

        return at

    def _place_of(self, name: str, of: Evaluate) -> Evaluate:
        cells = self.numbers.column(name)

        def place_of(get: Get, n: int | None) -> Value:
            held = of(get, n)
            if held is None:
                return None
            return next((place for place, cell in enumerate(cells, 1) if get(cell) == held), None)

        return place_of

    def _numbers_with(self, name: str, words: frozenset[str]) -> Evaluate:
        cells = self.numbers.column(name)

        def numbers_with(get: Get, n: int | None) -> Value:
            found = (at for at, cell in enumerate(cells, 1) if str(get(cell) or "").lower() in words)
            return ", ".join(map(str, found)) or None

        return numbers_with

    @staticmethod
    def _letter(part: Evaluate, place: Evaluate) -> Evaluate:
        def letter(get: Get, n: int | None) -> Value:
            held, at = part(get, n), place(get, n)
            return (held[int(at) - 1 : int(at)] or None) if isinstance(held, str) and at else None  # type: ignore[arg-type]

        return letter

    def _chain(self, op: str, parts: list[x.Node]) -> Evaluate:
        """A sum or product of many parts, from the left as it is written: the guide's are of some forty."""
        if op == "+":
            fixed = [each for each in parts if isinstance(each, x.Literal)]
            weighted = [each for part in parts[len(fixed) :] if (each := _weighted(part))]
            if len(fixed) + len(weighted) == len(parts):
                return self._weighted_sum(sum(float(each.held or 0) for each in fixed), weighted)
        held, work = [self.compile(each) for each in parts], ARITHMETIC[op]

        def chain(get: Get, n: int | None) -> Value:
            total: Value = None
            for place, each in enumerate(held):
                value = each(get, n)
                if value is None:
                    return None
                total = work(total, value) if place else value  # type: ignore[arg-type]
            return total

        return chain

    def _weighted_sum(self, start: float, parts: list[tuple[x.Cell, float]]) -> Evaluate:
        named = [(cell_of(cell, self.numbers, None), weight) for cell, weight in parts]
        pairs = [(name, weight) for name, weight in named if name is not None]

        def weighted_sum(get: Get, n: int | None) -> Value:
            total = start
            for name, weight in pairs:
                value = get(name)
                if value.__class__ is not float:
                    value = _number(value) or 0.0
                total += value * weight  # type: ignore[operator]
            return total

        return weighted_sum

    @staticmethod
    def _arithmetic(op: str, left: Evaluate, right: Evaluate) -> Evaluate:
        work, divides = ARITHMETIC[op], op == "/"

        def arithmetic(get: Get, n: int | None) -> Value:
            one, other = left(get, n), right(get, n)
            if one is None or other is None or (divides and other == 0):
                return None
            return work(one, other)  # type: ignore[arg-type]

        return arithmetic

    @staticmethod
    def _call(function: str, parts: list[Evaluate]) -> Evaluate:
        work = CALLS[function]

        def call(get: Get, n: int | None) -> Value:
            held = [each(get, n) for each in parts]
            return None if None in held else work(*held)

        return call

    @staticmethod
    def _extreme(parts: list[Evaluate], pick: Callable[[list[float]], float]) -> Evaluate:
        def extreme(get: Get, n: int | None) -> Value:
            known = [value for each in parts if (value := each(get, n)) is not None]
            return pick(known) if known else None  # type: ignore[arg-type]

        return extreme

    @staticmethod
    def _join(parts: list[Evaluate]) -> Evaluate:
        def join(get: Get, n: int | None) -> Value:
            held = (each(get, n) for each in parts)
            return (
                "".join("" if v is None else v if isinstance(v, str) else f"{v:.15g}" for v in held) or None
            )

        return join

    @staticmethod
    def _compare(op: str, left: Evaluate, right: Evaluate) -> Evaluate:
        signs = COMPARISONS[op]

        def compare(get: Get, n: int | None) -> Value:
            one = left(get, n)
            if one is None:
                return False
            other = right(get, n)
            return other is not None and difference_sign(one, other) in signs  # type: ignore[arg-type]

        return compare

    # A loop takes half the time of all() over a generator, and no part of a check is made more often.
    @staticmethod
    def _all(conditions: list[Evaluate]) -> Evaluate:
        def all_hold(get: Get, n: int | None) -> Value:
            for condition in conditions:
                if not condition(get, n):
                    return False
            return True

        return all_hold

    @staticmethod
    def _any(conditions: list[Evaluate]) -> Evaluate:
        def any_holds(get: Get, n: int | None) -> Value:
            for condition in conditions:
                if condition(get, n):
                    return True
            return False

        return any_holds

    @staticmethod
    def _is(part: Evaluate, words: frozenset[str]) -> Evaluate:
        def is_one(get: Get, n: int | None) -> Value:
            held = part(get, n)
            return isinstance(held, str) and held.lower() in words

        return is_one

    @staticmethod
    def _choose(conditions: list[Evaluate], outcomes: list[Evaluate]) -> Evaluate:
        """`outcomes` has one more, for where no condition holds."""

        def choose(get: Get, n: int | None) -> Value:
            for condition, outcome in zip(conditions, outcomes, strict=False):
                if condition(get, n):
                    return outcome(get, n)
            return outcomes[-1](get, n)

        return choose


def _picked(figures: Sequence[float | str], index: Value) -> Value:
    place = int(index) if isinstance(index, (int, float)) else 0
    return figures[place - 1] if 1 <= place <= len(figures) else None


def _chained(op: str, part: x.Node) -> list[x.Node]:
    """The parts of a sum or product that is worked out from the left."""
    found = []
    while isinstance(part, x.Arith) and part.op == op:
        found.append(part.right)
        part = part.left
    return [part, *found[::-1]]


def _weighted(part: x.Node) -> tuple[x.Cell, float] | None:
    """The cell and the figure of a product of both, the cell counting 0 where it is blank; None for anything else."""
    match part:
        case x.Arith("*", x.OrZero(x.NumberCell(_, fixed) as cell), x.Literal(held)) if fixed is not None:
            return (cell, held) if isinstance(held, float) else None
    return None


# --- what decided ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Decision:
    """Which row of a table decided (None: none did, or it is no table), and the cells that it rests on, in order."""

    row: int | None
    cells: tuple[str, ...]


def decision(expression: x.Node, numbers: Numbering, get: Get, own: int | None) -> Decision:
    """The row that decided and the cells that made it so; of an OR only the parts that hold.

    A row above it that leaves the cell blank says what must be given for any other: that it was counts as well.
    """
    expression = x.of_number(expression, own)
    reader = _Reasons(numbers, get, own)
    if not isinstance(expression, x.Choose):
        return Decision(None, reader.cells(expression))
    given: list[str] = []
    for row, (condition, outcome) in enumerate(zip(expression.conditions, expression.outcomes, strict=True)):
        if reader.value(condition):
            return Decision(
                row, tuple(dict.fromkeys((*given, *reader.reasons(condition), *reader.cells(outcome))))
            )
        if outcome is x.BLANK:
            given += reader.reasons(condition)
    return Decision(None, tuple(dict.fromkeys((*given, *reader.cells(expression.otherwise)))))


class _Reasons:
    """The cells that a part of an expression came from, for one workbook and cell."""

    def __init__(self, numbers: Numbering, get: Get, own: int | None) -> None:
        self.numbers, self.get, self.own = numbers, get, own

    def value(self, part: x.Node) -> Value:
        """What the part comes to."""
        return evaluator(part, self.numbers)(self.get, self.own)

    def cells(self, part: x.Node) -> tuple[str, ...]:
        """Every filled cell of a part; of a table those of the row that decided."""
        if isinstance(part, x.Cell):
            name = cell_of(part, self.numbers, self.own)
            return () if name is None or self.get(name) is None else (name,)
        if isinstance(part, (x.Aggregate, x.PointBeside, x.MeanAt, x.SumAt, x.At, x.TextAt, x.PlaceOf)):
            held = {
                name: value
                for name in self.numbers.column(part.name)
                if (value := self.get(name)) is not None
            }
            if isinstance(part, x.Aggregate) and part.function == "COUNTIF":
                counted = (lambda v: (_number(v) or 0) < 0) if part.criterion == "<0" else None
                wanted = part.criterion.lower()
                return tuple(
                    name for name, v in held.items() if (counted(v) if counted else str(v).lower() == wanted)
                )
            return tuple(held)
        if isinstance(part, x.NumbersWith):
            wanted_words = {each.lower() for each in part.words}
            column = self.numbers.column(part.name)
            return tuple(name for name in column if str(self.get(name)).lower() in wanted_words)
        if isinstance(part, x.Choose):
            return decision(part, self.numbers, self.get, self.own).cells
        if isinstance(part, x.Cond):
            return self.reasons(part)
        return tuple(dict.fromkeys(name for child in part.children() for name in self.cells(child)))

    def reasons(self, condition: x.Node) -> tuple[str, ...]:
        """The cells that make a condition what it is: of an OR that holds, those of the parts that hold."""
        parts: tuple[x.Node, ...] = tuple(condition.children())
        if isinstance(condition, x.Any_) and self.value(condition):
            parts = tuple(each for each in parts if self.value(each))
        return tuple(dict.fromkeys(name for each in parts for name in self.cells(each)))
