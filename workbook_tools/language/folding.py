"""What is fixed in an expression when the form is made, worked out before its formula is written.

    Folding(numbers, 3).folded(expression)     the same for the cell of number 3, with figures and shape put in

Rows of a table that can never hold fall away, equal rows become one, and what two rows ask alike is asked once.
"""

from __future__ import annotations

from workbook_tools.language import expressions as x
from workbook_tools.language.constants import CONSTANTS
from workbook_tools.language.evaluate import ARITHMETIC, COMPARISONS, Numbering, cell_of, difference_sign


class Folding:
    """Folds the parts of one cell's expression."""

    def __init__(self, numbers: Numbering, own: int | None) -> None:
        self.numbers, self.own = numbers, own
        self._folded: dict[int, x.Node] = {}

    def folded(self, part: x.Node) -> x.Node:
        """The part with all that is fixed for this engine and cell worked out; the same part each time it is met."""
        if id(part) not in self._folded:
            self._folded[id(part)] = self._fold(part)
        return self._folded[id(part)]

    def _fold(self, part: x.Node) -> x.Node:
        match part:
            case x.Constant(name):
                return x.Literal(CONSTANTS[name].value(self.numbers.shape.units))
            case x.Cylinders():
                return x.Literal(self.numbers.shape.cylinders)
            case x.OwnNumber():
                return x.Literal(self.own)
            case x.Cell():
                return (
                    x.BLANK
                    if (part.step or part.fixed) and cell_of(part, self.numbers, self.own) is None
                    else part
                )
            case x.Arith(op, left, right):
                return self._folded_arithmetic(op, self.folded(left), self.folded(right))
            case x.Compare(op, left, right):
                return self._folded_comparison(op, self.folded(left), self.folded(right))
            case x.Is(inner, words):
                inner = self.folded(inner)
                return x.FALSE if inner is x.BLANK else x.Is(inner, words)
            case x.Same(left, right):
                return x.Same(self.folded(left), self.folded(right))  # type: ignore[arg-type]
            case x.Known(inner):
                inner = self.folded(inner)
                if isinstance(inner, x.Literal):
                    return x.Truth(inner.held is not None)
                return x.Known(inner)
            case x.Not(inner):
                inner = self.folded(inner)
                return x.Truth(not inner.held) if isinstance(inner, x.Truth) else x.Not(inner)  # type: ignore[arg-type]
            case x.All(parts):
                return self._folded_all(parts, x.All, stops_at=False)
            case x.Any_(parts):
                return self._folded_all(parts, x.Any_, stops_at=True)
            case x.Choose():
                return self._folded_table(part)
            case x.Aggregate(function, name, criterion, rank) if rank is not None:
                return x.Aggregate(function, name, criterion, self.folded(rank))  # type: ignore[arg-type]
            case x.PointBeside(name, of, below):
                return x.PointBeside(name, self.folded(of), below)  # type: ignore[arg-type]
            case x.MeanAt(name, keys, at):
                return x.MeanAt(name, keys, self.folded(at))  # type: ignore[arg-type]
            case x.SumAt(name, keys, at):
                return x.SumAt(name, keys, self.folded(at))  # type: ignore[arg-type]
            case x.Call(function, parts):
                return x.Call(function, tuple(self.folded(each) for each in parts))  # type: ignore[arg-type]
            case x.OrZero(inner):
                return x.OrZero(self.folded(inner))  # type: ignore[arg-type]
            case x.Extreme(parts, is_largest):
                kept = tuple(each for each in map(self.folded, parts) if each is not x.BLANK)
                return x.Extreme(kept, is_largest) if kept else x.BLANK  # type: ignore[arg-type]
            case x.Pick(index, figures, within):
                return x.Pick(self.folded(index), figures, within)  # type: ignore[arg-type]
            case x.At(name, index):
                return x.At(name, self.folded(index))  # type: ignore[arg-type]
            case x.TextAt(name, index):
                return x.TextAt(name, self.folded(index))  # type: ignore[arg-type]
            case x.PlaceOf(name, of):
                return x.PlaceOf(name, self.folded(of))  # type: ignore[arg-type]
            case x.Letter(inner, place):
                return x.Letter(self.folded(inner), self.folded(place))  # type: ignore[arg-type]
            case x.Repeated(text, times):
                return x.Repeated(text, self.folded(times))  # type: ignore[arg-type]
            case x.ByNumber():
                return self.folded(x.of_number(part, self.own))
            case x.Join(parts):
                return x.Join(tuple(self.folded(each) for each in parts))
        return part

    @staticmethod
    def _folded_arithmetic(op: str, left: x.Node, right: x.Node) -> x.Node:
        if left is x.BLANK or right is x.BLANK:
            return x.BLANK
        if (
            op in "+-*"
            and is_whole(left)
            and is_whole(right)
            and isinstance(left, x.Literal)
            and isinstance(right, x.Literal)
        ):
            return x.Literal(ARITHMETIC[op](left.held, right.held))  # type: ignore[arg-type]
        return x.Arith(op, left, right)  # type: ignore[arg-type]

    @staticmethod
    def _folded_comparison(op: str, left: x.Node, right: x.Node) -> x.Node:
        if left is x.BLANK or right is x.BLANK:
            return x.FALSE
        if isinstance(left, x.Literal) and isinstance(right, x.Literal):
            sign = difference_sign(float(left.held or 0), float(right.held or 0))
            return x.Truth(sign in COMPARISONS[op])
        return x.Compare(op, left, right)  # type: ignore[arg-type]

    def _folded_all(self, parts: tuple[x.Cond, ...], kind: type, stops_at: bool) -> x.Node:
        kept: list[x.Node] = []
        for each in map(self.folded, parts):
            if isinstance(each, x.Truth):
                if each.held is stops_at:
                    return x.Truth(stops_at)
            elif isinstance(each, kind):
                kept += each.parts  # type: ignore[attr-defined]
            else:
                kept.append(each)
        if not kept:
            return x.Truth(not stops_at)
        return kept[0] if len(kept) == 1 else kind(tuple(kept))

    def _folded_table(self, part: x.Choose) -> x.Node:
        rows: list[tuple[x.Node, x.Node]] = []
        otherwise = self.folded(part.otherwise)
        for condition, outcome in zip(
            map(self.folded, part.conditions), map(self.folded, part.outcomes), strict=True
        ):
            if isinstance(condition, x.Truth):
                if condition.held:
                    otherwise = outcome
                    break
                continue
            if rows and isinstance(outcome, x.Literal) and _same_literal(rows[-1][1], outcome):
                before = rows[-1][0]
                parts = (*(before.parts if isinstance(before, x.Any_) else (before,)), condition)
                rows[-1] = (x.Any_(parts), outcome)  # type: ignore[arg-type]
            else:
                rows.append((condition, outcome))
        while rows and _same_literal(rows[-1][1], otherwise):
            rows.pop()
        rows = _factored(rows)
        if not rows:
            return otherwise
        return x.Choose(tuple(row[0] for row in rows), tuple(row[1] for row in rows), otherwise)  # type: ignore[arg-type]


Row = tuple[x.Node, x.Node]


def _factored(rows: list[Row]) -> list[Row]:
    """What a row asks beside all that the row below it asks becomes a question inside that row: nothing is asked twice."""
    found: list[Row] = []
    for condition, outcome in reversed(rows):
        mine = _conjuncts(condition)
        below = _conjuncts(found[-1][0]) if found else ()
        shared = {id(each) for each in below}
        more = tuple(each for each in mine if id(each) not in shared)
        if not found or len(mine) - len(more) < len(below) or not more:
            found.append((condition, outcome))
            continue
        inner = x.All(more) if len(more) > 1 else more[0]  # type: ignore[arg-type]
        found[-1] = (found[-1][0], x.Choose((inner,), (outcome,), found[-1][1]))  # type: ignore[arg-type]
    return found[::-1]


def _conjuncts(condition: x.Node) -> tuple[x.Node, ...]:
    return condition.parts if isinstance(condition, x.All) else (condition,)


def _same_literal(one: x.Node, other: x.Node) -> bool:
    return isinstance(one, x.Literal) and isinstance(other, x.Literal) and one.held == other.held


def is_whole(part: x.Node) -> bool:
    """Whether a part is a whole number by its nature, and is compared as it is."""
    match part:
        case x.Literal(held):
            return isinstance(held, (int, float)) and held == int(held)
        case x.Aggregate(function):
            return function in ("COUNT", "COUNTIF")
        case x.Arith(op, left, right):
            return op in "+-*" and is_whole(left) and is_whole(right)
    return False
