"""Expressions as worksheet formulas over defined names.

    formula(expression, numbers, 3)     =IF(COUNT(compression_wet_3,compression_dry_3)<2,"",...)

A worksheet takes an empty cell for 0 and a text for an error, so every part is asked first whether its cells hold
numbers. AND and OR work out all their parts whatever the first says: each comparison asks for itself. What a row of a
table has found to be there is not asked again in the rows below it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from workbook_tools.language import expressions as x
from workbook_tools.language.evaluate import (
    COMPARED_TO,
    Numbering,
    cell_of,
)
from workbook_tools.language.folding import Folding, is_whole
from workbook_tools.language.model import numbered_text

#: Cells that are known to hold numbers where a part of a formula stands.
Facts = frozenset[str]
NO_FACTS: Facts = frozenset()
TRUTH = {True: "TRUE", False: "FALSE"}
CONTRARY = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "=": "<>"}
STRENGTH = {"+": 1, "-": 1, "*": 2, "/": 2, "^": 3}
DEGREES = ("COS", "SIN")
#: LibreOffice takes 30 arguments of CHOOSE.
MOST_CHOSEN = 29
#: Letters that a list of all numbers of a column surely has room in.
LONGEST_LIST = 255
#: Stands for a number that is not known among those of which the extreme is taken.
BEYOND = {True: "-9E+99", False: "9E+99"}


def formula(expression: x.Node, numbers: Numbering, own: int | None) -> str:
    """The formula of one cell."""
    return numbered_text(pattern(expression, numbers, own), own)


def pattern(expression: x.Node, numbers: Numbering, own: int | None) -> str:
    """The formula with `#` for the cell's own number; alike for all numbers unless `depends_on_number`."""
    return "=" + _Writer(numbers, own).shown(Folding(numbers, own).folded(expression), NO_FACTS)


def depends_on_number(expression: x.Node) -> bool:
    """Whether more than its own number changes from one cell to the next."""
    return any(
        isinstance(part, (x.OwnNumber, x.ByNumber)) or (isinstance(part, x.Cell) and part.step)
        for part in expression.walk()
    )


@dataclass(frozen=True)
class Needs:
    """What must hold for a number not to be blank: cells that hold numbers, and conditions once they do."""

    cells: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()

    def __add__(self, other: Needs) -> Needs:
        return Needs(_each_once(self.cells, other.cells), _each_once(self.tests, other.tests))

    def less(self, facts: Facts) -> Needs:
        """What is not known to hold yet."""
        return Needs(
            tuple(c for c in self.cells if c not in facts), tuple(t for t in self.tests if t not in facts)
        )

    @property
    def any(self) -> bool:
        """Whether anything must be asked."""
        return bool(self.cells or self.tests)

    @property
    def facts(self) -> Facts:
        """All of it, as known."""
        return frozenset((*self.cells, *self.tests))


def _each_once(*parts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(each for part in parts for each in part))


def literal(held: x.Held) -> str:
    """A figure or text as it stands in a formula."""
    if held is None:
        return '""'
    if isinstance(held, str):
        return '"' + held.replace('"', '""') + '"'
    return f"{held:.15g}"


class _Writer:
    """Writes the parts of one cell's formula."""

    def __init__(self, numbers: Numbering, own: int | None) -> None:
        self.numbers, self.own = numbers, own

    # --- names -------------------------------------------------------------------------------------------------------

    def name(self, cell: x.Cell) -> str:
        """A cell's defined name, `#` standing for the own number."""
        if cell.fixed is None and not cell.step and self.numbers.per(cell.name) != "job":
            if self.own is None:
                raise ValueError(
                    f"{cell.name} repeats, but what is worked out from it does not: name its number"
                )
            return f"{cell.name}_#"
        found = cell_of(cell, self.numbers, self.own)
        assert found is not None, "folded before"
        return found

    # --- what a number needs -----------------------------------------------------------------------------------------

    def needs(self, part: x.Node) -> Needs:
        """What must hold for a part not to be blank."""
        match part:
            case x.Literal(None):
                return Needs(tests=("FALSE",))
            case (
                x.Literal()
                | x.OrZero()
                | x.Join()
                | x.Aggregate("COUNT")
                | x.Aggregate("COUNTIF")
                | x.Aggregate("SUM")
            ):
                return Needs()
            case x.NumberCell():
                return Needs((self.name(part),))
            case x.TextCell():
                return Needs(tests=(f'{self.name(part)}<>""',))
            case x.Aggregate("LARGE", name, _, rank):
                assert rank is not None
                return self.needs(rank) + Needs(tests=(f"COUNT(all_{name})>={self.num(rank)}",))
            case x.Aggregate(_, name):
                return Needs(tests=(f"COUNT(all_{name})>0",))
            case x.PointBeside(name, of, below):
                return self.needs(of) + Needs(tests=(f"{self._how_many(name, of, below)}>0",))
            case x.MeanAt(_, keys, at):
                return self.needs(at) + Needs(tests=(f"COUNTIF(all_{keys},{self.num(at)})>0",))
            case x.Arith("/", left, right):
                divisor = (
                    Needs()
                    if isinstance(right, x.Literal) and right.held
                    else Needs(tests=(f"{self.num(right)}<>0",))
                )
                return self.needs(left) + self.needs(right) + divisor
            case x.Arith(_, left, right):
                return self.needs(left) + self.needs(right)
            case x.Call(_, parts):
                found = Needs()
                for each in parts:
                    found += self.needs(each)
                return found
            case x.Extreme(parts):
                if all(isinstance(each, x.NumberCell) for each in parts):
                    return Needs(tests=(f"COUNT({','.join(map(self.num, parts))})>0",))
                if not all(self.needs(each).any for each in parts):
                    return Needs()
                return Needs(tests=(_any_of([self.certain(self.needs(each)) for each in parts]),))
            case x.SumAt(_, _, at):
                return self.needs(at)
            case x.Pick(index, _, True) | x.At(_, index) | x.TextAt(_, index) | x.PlaceOf(_, index):
                return self.needs(index)
            case x.NumbersWith():
                return Needs(tests=(f'{self.num(part)}<>""',))
            case x.Letter(part, place):
                return self.needs(part) + self.needs(place)
            case x.Repeated(_, times):
                return self.needs(times)
            case x.Pick(index, figures):
                at = self.num(index)
                return self.needs(index) + Needs(tests=(f"{at}>=1", f"{at}<={len(figures)}"))
            case x.Choose():
                said = self.exists(part, NO_FACTS)
                return Needs() if said == "TRUE" else Needs(tests=(said,))
        raise TypeError(part)

    def certain(self, needs: Needs) -> str:
        """The condition that all needs hold; tests are asked only where the cells hold numbers."""
        cells = f"COUNT({','.join(needs.cells)})={len(needs.cells)}" if needs.cells else ""
        tests = _in_turn(needs.tests) if needs.tests else ""
        if cells and tests:
            return f"IF({cells},{tests},FALSE)"
        return cells or tests or "TRUE"

    def exists(self, part: x.Node, facts: Facts) -> str:
        """The condition that a part is not blank."""
        if not isinstance(part, x.Choose):
            return self.certain(self.needs(part).less(facts))
        rows = list(zip(part.conditions, part.outcomes, strict=True))
        texts, known = [], facts
        for condition, outcome in rows:
            texts.append(
                (self.cond(condition, known), self.exists(outcome, known | self.true_facts(condition, known)))
            )
            known |= self.false_facts(condition, known)
        said = self.exists(part.otherwise, known)
        for condition_text, own in reversed(texts):
            said = own if own == said else f"IF({condition_text},{own},{said})"
        return said

    # --- facts -------------------------------------------------------------------------------------------------------

    def true_facts(self, condition: x.Node, facts: Facts) -> Facts:
        """What is known where a condition holds."""
        match condition:
            case x.Compare(_, left, right):
                return (self.needs(left) + self.needs(right)).facts
            case x.Known(part) if not isinstance(part, x.Choose):
                return self.needs(part).facts
            case x.Not(part):
                return self.false_facts(part, facts)
            case x.All(parts):
                return frozenset().union(*(self.true_facts(each, facts) for each in parts))
        return NO_FACTS

    def false_facts(self, condition: x.Node, facts: Facts) -> Facts:
        """What is known where a condition does not hold."""
        match condition:
            case x.Compare("=", x.Aggregate("COUNT", name), x.Literal(held)) if held == 0:
                return frozenset((f"COUNT(all_{name})>0",))
            case x.Not(part):
                return self.true_facts(part, facts)
            case x.Any_(parts):
                return frozenset().union(*(self.false_facts(each, facts) for each in parts))
        return NO_FACTS

    # --- formulas ----------------------------------------------------------------------------------------------------

    def shown(self, part: x.Node, facts: Facts) -> str:
        """The part as a cell shows it: an empty text where it is blank."""
        match part:
            case x.Literal(held):
                return literal(held)
            case x.TextCell():
                return f'{self.name(part)}&""'  # an empty cell alone would show 0
            case x.Join(parts):
                return "&".join(self._in_join(each, facts) for each in parts)
            case x.Choose():
                return self._table(
                    list(zip(part.conditions, part.outcomes, strict=True)), part.otherwise, facts
                )
        needs = self.needs(part).less(facts)
        text = self.num(part)
        if needs.tests:
            text = f'IF({_in_turn(needs.tests)},{text},"")'
        if needs.cells:
            count = len(needs.cells)
            asked = f"COUNT({','.join(needs.cells)}){f'<{count}' if count > 1 else '=0'}"
            text = f'IF({asked},"",{text})'
        return text

    def _table(self, rows: list[tuple[x.Node, x.Node]], otherwise: x.Node, facts: Facts) -> str:
        if not rows:
            return self.shown(otherwise, facts)
        (condition, outcome), *rest = rows
        asked = self.cond(condition, facts)
        yes = self.shown(outcome, facts | self.true_facts(condition, facts))
        no = self._table(rest, otherwise, facts | self.false_facts(condition, facts))
        return yes if yes == no else f"IF({asked},{yes},{no})"

    def _as_text(self, part: x.Node, facts: Facts) -> str:
        return self.name(part) if isinstance(part, x.TextCell) else self.shown(part, facts)

    def _in_join(self, part: x.Node, facts: Facts) -> str:
        text = self._as_text(part, facts)
        return f"({text})" if isinstance(part, x.Arith) else text

    def cond(self, condition: x.Node, facts: Facts) -> str:
        """A condition that is true or false whatever the cells hold."""
        match condition:
            case x.Truth(held):
                return TRUTH[held]
            case x.Compare(op, left, right):
                needs = (self.needs(left) + self.needs(right)).less(facts)
                asked = self._compared(op, left, right)
                return f"IF({self.certain(needs)},{asked},FALSE)" if needs.any else asked
            case x.Not(x.Compare(op, left, right)) if (
                not (self.needs(left) + self.needs(right)).less(facts).any
            ):
                return self._compared(CONTRARY[op], left, right)
            case x.Is(part, words):
                said = self._as_text(part, facts)
                return _any_of([f"{said}={literal(each)}" for each in words])
            case x.Same(left, right):
                return f"{self._as_text(left, facts)}={self._as_text(right, facts)}"
            case x.Not(x.Same(left, right)):
                return f"{self._as_text(left, facts)}<>{self._as_text(right, facts)}"
            case x.Not(x.Is(part, (only,))):
                return f"{self._as_text(part, facts)}<>{literal(only)}"
            case x.Known(part):
                return self.exists(part, facts)
            case x.Not(x.Known(x.NumberCell() as cell)) if self.name(cell) not in facts:
                return f"COUNT({self.name(cell)})=0"
            case x.Not(x.Known(x.TextCell() as cell)):
                return f'{self.name(cell)}=""'
            case x.Not(part):
                return f"NOT({self.cond(part, facts)})"
            case x.All(parts):
                return self._all(parts, facts)
            case x.Any_(parts) if all(_is_known_cell(each) for each in parts):
                return f"COUNT({','.join(self.num(each.part) for each in parts)})>0"  # type: ignore[attr-defined]
            case x.Any_(parts):
                return _any_of([self.cond(each, facts) for each in parts])
        raise TypeError(condition)

    def _all(self, parts: tuple[x.Cond, ...], facts: Facts) -> str:
        """What the parts need is asked once for all of them: where it is not there they can't all hold."""
        needs = Needs()
        for each in parts:
            if isinstance(each, x.Compare):
                needs += self.needs(each.left) + self.needs(each.right)
            elif _is_known_cell(each):
                needs += self.needs(each.part)  # type: ignore[attr-defined]
        needs = needs.less(facts)
        asked = [text for each in parts if (text := self.cond(each, facts | needs.facts)) != "TRUE"]
        if not asked:
            return self.certain(needs)
        together = asked[0] if len(asked) == 1 else f"AND({','.join(asked)})"
        return f"IF({self.certain(needs)},{together},FALSE)" if needs.any else together

    def _compared(self, op: str, left: x.Node, right: x.Node) -> str:
        if is_whole(left) and is_whole(right):
            return f"{self.num(left)}{op}{self.num(right)}"
        if isinstance(right, x.Literal) and right.held == 0:
            return f"ROUND({self.num(left)},{COMPARED_TO}){op}0"
        return f"ROUND({self.num(left, 1)}-{self.num(right, 2)},{COMPARED_TO}){op}0"

    def num(self, part: x.Node, strength: int = 0) -> str:
        """A part that is certain not to be blank, as a number; in brackets where it binds less than `strength`."""
        match part:
            case x.Literal(held):
                text = literal(held)
                return f"({text})" if strength and text.startswith("-") else text
            case x.NumberCell():
                return self.name(part)
            case x.OrZero(x.NumberCell() as cell):
                return f"SUM({self.name(cell)})"
            case x.OrZero(inner):
                needs = self.needs(inner)
                return (
                    f"IF({self.certain(needs)},{self.num(inner)},0)"
                    if needs.any
                    else self.num(inner, strength)
                )
            case x.Aggregate("LARGE", name, _, rank):
                assert rank is not None
                return f"LARGE(all_{name},{self.num(rank)})"
            case x.Aggregate("COUNTIF", name, criterion):
                return f"COUNTIF(all_{name},{literal(criterion)})"
            case x.Aggregate(function, name):
                return f"{function}(all_{name})"
            case x.PointBeside(name, of, below):
                return f"{'SMALL' if below else 'LARGE'}(all_{name},{self._how_many(name, of, below)})"
            case x.MeanAt(name, keys, at):
                where = f"all_{keys},{self.num(at)}"
                text = f"SUMIF({where},all_{name})/COUNTIF({where})"
                return f"({text})" if strength > STRENGTH["/"] else text
            case x.SumAt(name, keys, at):
                return f"SUMIF(all_{keys},{self.num(at)},all_{name})"
            case x.Arith(op, left, right):
                own = STRENGTH[op]
                text = self.num(left, own + (op == "^")) + op + self.num(right, own + (op in "-/^"))
                return f"({text})" if own < strength else text
            case x.Call(function, parts) if function in DEGREES:
                return f"{function}(RADIANS({self.num(parts[0])}))"
            case x.Call(function, parts):
                return f"{function}({','.join(map(self.num, parts))})"
            case x.Extreme(parts, is_largest):
                texts = [self._known_or_beyond(each, BEYOND[is_largest]) for each in parts]
                return f"{'MAX' if is_largest else 'MIN'}({','.join(texts)})"
            case x.At(name, index) | x.TextAt(name, index):
                return f"INDEX(all_{name},{self.num(index)})"
            case x.PlaceOf(name, of):
                return f"MATCH({self.num(of)},all_{name},0)"
            case x.NumbersWith(name, words):
                return self._numbers_with(name, words)
            case x.Letter(inner, place):
                return f"MID({self.num(inner)},{self.num(place)},1)"
            case x.Repeated(text, times):
                return f"REPT({literal(text)},{self.num(times)})"
            case x.TextCell():
                return self.name(part)
            case x.Pick(index, figures):
                return _chosen(self.num(index), figures)
            case x.Choose(conditions, outcomes, otherwise):
                return self._chosen_number(list(zip(conditions, outcomes, strict=True)), otherwise, NO_FACTS)
        raise TypeError(part)

    def _numbers_with(self, name: str, words: tuple[str, ...]) -> str:
        found = [
            f'IF({_any_of([f"{cell}={literal(each)}" for each in words])},", {at}","")'
            for at, cell in enumerate(self.numbers.column(name), 1)
        ]
        return f"MID({'&'.join(found)},3,{LONGEST_LIST})"

    def _chosen_number(self, rows: list[tuple[x.Node, x.Node]], otherwise: x.Node, facts: Facts) -> str:
        if not rows:
            return literal(0) if otherwise is x.BLANK else self.num(otherwise)
        (condition, outcome), *rest = rows
        no = self._chosen_number(rest, otherwise, facts | self.false_facts(condition, facts))
        return f"IF({self.cond(condition, facts)},{self.num(outcome)},{no})"

    def _known_or_beyond(self, part: x.Node, beyond: str) -> str:
        """MAX and MIN leave out cells that hold no number, but not a part that is worked out."""
        needs = self.needs(part)
        if isinstance(part, x.NumberCell) or not needs.any:
            return self.num(part)
        return f"IF({self.certain(needs)},{self.num(part)},{beyond})"

    def _how_many(self, name: str, of: x.Num, below: bool) -> str:
        return f'COUNTIF(all_{name},"{"<=" if below else ">="}"&{self.num(of)})'


def _in_turn(tests: tuple[str, ...]) -> str:
    """Tests that hold together, each asked only where those before it hold: a later one may divide by what they ask."""
    first, *rest = tests
    return f"IF({first},{_in_turn(tuple(rest))},FALSE)" if rest else first


def _chosen(index: str, figures: tuple[float | str, ...], first: int = 0) -> str:
    """CHOOSE, one behind the other where there are more figures than some programs take."""
    here, rest = figures[:MOST_CHOSEN], figures[MOST_CHOSEN:]
    at = f"{index}-{first}" if first else index
    chosen = f"CHOOSE({at},{','.join(map(literal, here))})"
    if not rest:
        return chosen
    return f"IF({index}<={first + MOST_CHOSEN},{chosen},{_chosen(index, rest, first + MOST_CHOSEN)})"


def _any_of(conditions: list[str]) -> str:
    return conditions[0] if len(conditions) == 1 else f"OR({','.join(conditions)})"


def _is_known_cell(part: x.Node) -> bool:
    return isinstance(part, x.Known) and isinstance(part.part, x.NumberCell)
