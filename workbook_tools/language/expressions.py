"""Results written once: an expression over cells, from which formula, value, cells and sentence all come.

    dry, wet = number("compression_dry"), number("compression_wet")
    (wet - dry).round(6)
    table((counts == "no", REPEAT), (dry < line, LOW), otherwise=SOUND)

Blank, text and rounding mean the same everywhere, as in a worksheet that is written with care:

    arithmetic      blank where a cell that it needs holds no number, or a divisor is 0
    comparison      false where a side is blank, so that a condition is always true or false; the difference is
                    rounded to six decimals first, as spreadsheet programs take 0.3 and 0.1 + 0.2 for the same
    text            compared without case; an empty text is blank
    column          numbers only; blank where there is none (a count is 0)

`~(x < 0)` is therefore not `x >= 0`: it is true of a blank too. Conditions have no truth in Python (`if a < b`
raises): they are read when a form is made (`formulas.py`), a job is judged (`evaluate.py`) or the reference is
written (`sentences.py`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, fields
from functools import cache
from typing import Any

from workbook_tools.language.constants import CONSTANTS

#: What is not given in a table or a choice.
Held = float | str | None


#: What stands in the types of fields that hold no parts; most parts have nothing but such fields.
_PLAIN = frozenset({"str", "int", "float", "bool", "None", "Held", "tuple"})


@cache
def _names_of_parts(kind: type) -> tuple[str, ...]:
    """The fields of a kind of part that may hold other parts."""
    return tuple(
        each.name for each in fields(kind) if not _PLAIN.issuperset(re.findall(r"\w+", str(each.type)))
    )


class Node:
    """A part of an expression."""

    def children(self) -> Iterator[Node]:
        """The parts of this part."""
        for name in _names_of_parts(type(self)):
            held = getattr(self, name)
            for part in held if isinstance(held, tuple) else (held,):
                if isinstance(part, Node):
                    yield part

    def walk(self) -> Iterator[Node]:
        """This part and all parts of it, from the left."""
        waiting: list[Node] = [self]
        while waiting:
            part = waiting.pop()
            yield part
            if _names_of_parts(part.__class__):
                waiting += [*part.children()][::-1]

    def __bool__(self) -> bool:
        raise TypeError(f"{self!r} has no truth of its own: combine conditions with &, | and ~")

    @property
    def known(self) -> Cond:
        """True where it is not blank."""
        return Known(self)

    @property
    def missing(self) -> Cond:
        """True where it is blank."""
        return ~Known(self)


class Num(Node):
    """A number or blank."""

    def __add__(self, other: Any) -> Num:
        return Arith("+", self, lift(other))

    def __radd__(self, other: Any) -> Num:
        return Arith("+", lift(other), self)

    def __sub__(self, other: Any) -> Num:
        return Arith("-", self, lift(other))

    def __rsub__(self, other: Any) -> Num:
        return Arith("-", lift(other), self)

    def __mul__(self, other: Any) -> Num:
        return Arith("*", self, lift(other))

    def __rmul__(self, other: Any) -> Num:
        return Arith("*", lift(other), self)

    def __truediv__(self, other: Any) -> Num:
        return Arith("/", self, lift(other))

    def __rtruediv__(self, other: Any) -> Num:
        return Arith("/", lift(other), self)

    def __pow__(self, other: Any) -> Num:
        return Arith("^", self, lift(other))

    def __abs__(self) -> Num:
        return Call("ABS", (self,))

    def __lt__(self, other: Any) -> Cond:
        return Compare("<", self, lift(other))

    def __le__(self, other: Any) -> Cond:
        return Compare("<=", self, lift(other))

    def __gt__(self, other: Any) -> Cond:
        return Compare(">", self, lift(other))

    def __ge__(self, other: Any) -> Cond:
        return Compare(">=", self, lift(other))

    def __eq__(self, other: Any) -> Cond:  # type: ignore[override]
        return Is(self, (other,)) if isinstance(other, str) else Compare("=", self, lift(other))

    __hash__ = object.__hash__

    def round(self, digits: int) -> Num:
        """Rounded as the worksheet's ROUND does it."""
        return Call("ROUND", (self, Literal(digits)))

    def round_up(self) -> Num:
        """The next whole number away from zero."""
        return Call("ROUNDUP", (self, Literal(0)))

    def floor(self) -> Num:
        """The whole number below."""
        return Call("INT", (self,))

    def sqrt(self) -> Num:
        """The square root."""
        return Call("SQRT", (self,))

    def cos(self) -> Num:
        """The cosine of an angle in degrees."""
        return Call("COS", (self,))

    def sin(self) -> Num:
        """The sine of an angle in degrees."""
        return Call("SIN", (self,))

    def ln(self) -> Num:
        """The natural logarithm of a number above 0."""
        return Call("LN", (self,))

    def where(self, condition: Cond) -> Num:
        """The number where a condition holds, else blank."""
        return Choose((condition,), (self,), BLANK)

    @property
    def or_zero(self) -> Num:
        """The number, 0 where it is blank."""
        return OrZero(self)


class Text(Node):
    """A text or blank."""

    def __eq__(self, other: Any) -> Cond:  # type: ignore[override]
        return Is(self, (other,))

    def __ne__(self, other: Any) -> Cond:  # type: ignore[override]
        return ~Is(self, (other,))

    __hash__ = object.__hash__

    def is_in(self, *words: str) -> Cond:
        """True where it is one of these words."""
        return Is(self, words)


class Cond(Node):
    """True or false."""

    def __and__(self, other: Cond) -> Cond:
        return All((self, other))

    def __or__(self, other: Cond) -> Cond:
        return Any_((self, other))

    def __invert__(self) -> Cond:
        return self.part if isinstance(self, Not) else Not(self)

    @property
    def as_number(self) -> Num:
        """1 where it holds, else 0."""
        return Choose((self,), (Literal(1.0),), Literal(0.0))


def node(kind: type) -> type:
    """A frozen dataclass that is compared by identity: `==` makes a condition."""
    return dataclass(frozen=True, eq=False)(kind)


# --- leaves ----------------------------------------------------------------------------------------------------------


@node
class Literal(Num, Text):
    """A number, a text, or None for blank."""

    held: Held


@node
class Truth(Cond):
    """Always true, or never."""

    held: bool


@node
class Constant(Num):
    """A figure of `constants.py` in the workbook's units."""

    name: str


@node
class Cylinders(Num):
    """How many cylinders the engine has: fixed when the form is made."""


@node
class OwnNumber(Num):
    """The repeat number of the cell that is worked out."""


@node
class Cell(Node):
    """One cell. `fixed` is a repeat number, else the cell's own is taken; `step` goes places along the bank."""

    name: str
    fixed: int | None = None
    step: int = 0

    def of(self, repeat: int) -> Any:
        """The cell with that repeat number."""
        return type(self)(self.name, repeat, self.step)

    def beside(self, step: int) -> Any:
        """The same of the cylinder before (-1) or after (+1) on its bank; blank past its end."""
        return type(self)(self.name, self.fixed, step)


@node
class NumberCell(Cell, Num):
    """A cell as a number: blank where it holds text."""


@node
class TextCell(Cell, Text):
    """A cell as a text: blank where it holds a number."""


@node
class Aggregate(Num):
    """One figure of a whole column: COUNT, SUM, MAX, MIN, MEDIAN, LARGE (by rank), COUNTIF (of a text, or "<0")."""

    function: str
    name: str
    criterion: str = ""
    rank: Num | None = None


@node
class PointBeside(Num):
    """The largest number of a column that is not above another, or the smallest that is not under it."""

    name: str
    of: Num
    below: bool


@node
class MeanAt(Num):
    """The mean of a column's numbers in the rows where another column holds a number."""

    name: str
    keys: str
    at: Num


@node
class SumAt(Num):
    """The sum of a column's numbers in the rows where another column holds a number; 0 where none does."""

    name: str
    keys: str
    at: Num


class Column:
    """All cells of a repeated item."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __repr__(self) -> str:
        return f"Column({self.name!r})"

    def count(self) -> Num:
        """How many numbers there are."""
        return Aggregate("COUNT", self.name)

    def sum(self) -> Num:
        """Their sum, 0 without any."""
        return Aggregate("SUM", self.name)

    def max(self) -> Num:
        """The highest."""
        return Aggregate("MAX", self.name)

    def min(self) -> Num:
        """The lowest."""
        return Aggregate("MIN", self.name)

    def median(self) -> Num:
        """The median."""
        return Aggregate("MEDIAN", self.name)

    def large(self, rank: Num) -> Num:
        """The rank-th from the top."""
        return Aggregate("LARGE", self.name, rank=rank)

    def count_of(self, text: str) -> Num:
        """How many hold that text."""
        return Aggregate("COUNTIF", self.name, text)

    def any_is(self, text: str) -> Cond:
        """Whether one holds that text."""
        return self.count_of(text) > 0

    def numbers_with(self, *texts: str) -> Text:
        """Which of its cells hold one of those texts, by their numbers, between commas."""
        return NumbersWith(self.name, texts)

    def count_negative(self) -> Num:
        """How many are under 0."""
        return Aggregate("COUNTIF", self.name, "<0")

    def last_up_to(self, limit: Num) -> Num:
        """The largest that is not above `limit`."""
        return PointBeside(self.name, limit, below=True)

    def first_from(self, limit: Num) -> Num:
        """The smallest that is not under `limit`."""
        return PointBeside(self.name, limit, below=False)

    def at(self, index: Num) -> At:
        """The number in its index-th cell."""
        return At(self.name, index)

    def text_at(self, index: Num) -> TextAt:
        """The text in its index-th cell."""
        return TextAt(self.name, index)

    def place_of(self, held: Num) -> Num:
        """Where a number that is in it stands first."""
        return PlaceOf(self.name, held)

    def mean_at(self, keys: str, at: Num) -> Num:
        """The mean in the rows where the column `keys` holds `at`."""
        return MeanAt(self.name, keys, at)

    def sum_at(self, keys: str, at: Num) -> Num:
        """The sum in the rows where the column `keys` holds `at`."""
        return SumAt(self.name, keys, at)

    @property
    def known(self) -> Cond:
        """Whether there is any number."""
        return self.count() > 0

    @property
    def missing(self) -> Cond:
        """Whether there is none."""
        return self.count() == 0


# --- operators -------------------------------------------------------------------------------------------------------


@node
class Arith(Num):
    """Two numbers and one of + - * / ^."""

    op: str
    left: Num
    right: Num


@node
class Call(Num):
    """A worksheet function of numbers; COS and SIN take degrees."""

    function: str
    parts: tuple[Num, ...]


@node
class OrZero(Num):
    """A number, 0 where blank."""

    part: Num


@node
class Extreme(Num):
    """The largest (or smallest) of those that are known."""

    parts: tuple[Num, ...]
    largest: bool = True


@node
class Pick(Num, Text):
    """The index-th of fixed figures or texts, the first being 1; blank beyond them.

    `within`: the index is known to be one of them, and a formula does not ask.
    """

    index: Num
    figures: tuple[float | str, ...]
    within: bool = False


@node
class At(Num):
    """The number in the index-th cell of a column that is filled throughout."""

    name: str
    index: Num


@node
class TextAt(Text):
    """The text in the index-th cell of a column."""

    name: str
    index: Num


@node
class PlaceOf(Num):
    """In which cell of a column a number first stands, the first being 1: a number that is there."""

    name: str
    of: Num


@node
class NumbersWith(Text):
    """The numbers of the cells of a column that hold one of some words, between commas."""

    name: str
    words: tuple[str, ...]


@node
class Letter(Text):
    """The letter of a text at a place, the first being 1."""

    part: Node
    place: Num


@node
class Repeated(Text):
    """A text over and over."""

    text: str
    times: Num


@node
class ByNumber(Num, Text):
    """A column each cell of which has its own expression, by its repeat number; never a part of another."""

    parts: tuple[Node, ...]


@node
class Join(Text):
    """Texts and whole numbers, one behind the other."""

    parts: tuple[Node, ...]


@node
class Compare(Cond):
    """Two numbers held against each other, to six decimals."""

    op: str
    left: Num
    right: Num


@node
class Is(Cond):
    """A text that is one of some words."""

    part: Node
    words: tuple[str, ...]


@node
class Same(Cond):
    """Two texts that are alike, capitals left aside; neither is blank."""

    left: Text
    right: Text


@node
class Known(Cond):
    """Not blank."""

    part: Node


@node
class Not(Cond):
    """The contrary."""

    part: Cond


@node
class All(Cond):
    """Every part holds."""

    parts: tuple[Cond, ...]


@node
class Any_(Cond):
    """One part holds, or more."""

    parts: tuple[Cond, ...]


@node
class Choose(Num, Text):
    """An ordered table: the outcome of the first condition that holds."""

    conditions: tuple[Cond, ...]
    outcomes: tuple[Node, ...]
    otherwise: Node


# --- how expressions are written -------------------------------------------------------------------------------------

BLANK = Literal(None)
CYLINDERS = Cylinders()
OWN_NUMBER = OwnNumber()
TRUE, FALSE = Truth(True), Truth(False)
YES, NO = "yes", "no"


def lift(held: Any) -> Any:
    """A plain number, text or None as a part of an expression."""
    return held if isinstance(held, Node) else Literal(held)


def number(name: str) -> NumberCell:
    """A cell that holds a number."""
    return NumberCell(name.removesuffix("_#"))


def word(name: str) -> TextCell:
    """A cell that holds a text."""
    return TextCell(name.removesuffix("_#"))


def column(name: str) -> Column:
    """All cells of a repeated item."""
    return Column(name)


def constant(name: str) -> Constant:
    """A figure of `constants.py`. Raises KeyError for a name that is not there."""
    CONSTANTS[name]
    return Constant(name)


def table(*rows: tuple[Cond, Any], otherwise: Any = None) -> Choose:
    """The outcome of the first row whose condition holds, read from top to bottom."""
    return Choose(tuple(row[0] for row in rows), tuple(lift(row[1]) for row in rows), lift(otherwise))


def words_for(cell: Text, meaning: dict[str, str], otherwise: Any = None) -> Choose:
    """What each word in a cell means."""
    return table(*((cell == held, means) for held, means in meaning.items()), otherwise=otherwise)


def yes_if(condition: Cond) -> Choose:
    """`yes` where a condition holds, else blank."""
    return table((condition, YES))


def yes_or_no(condition: Cond) -> Choose:
    """`yes` where a condition holds, else `no`."""
    return table((condition, YES), otherwise=NO)


def largest(*parts: Any) -> Num:
    """The largest of those that are known."""
    return Extreme(tuple(map(lift, parts)))


def smallest(*parts: Any) -> Num:
    """The smallest of those that are known."""
    return Extreme(tuple(map(lift, parts)), largest=False)


def joined(*parts: Any) -> Join:
    """Texts and whole numbers, one behind the other."""
    return Join(tuple(map(lift, parts)))


def every(*conditions: Cond) -> Cond:
    """All of them hold."""
    return All(conditions) if conditions else TRUE


def either(*conditions: Cond) -> Cond:
    """One of them holds, or more."""
    return Any_(conditions) if conditions else FALSE


def all_known(*parts: Node) -> Cond:
    """None of them is blank."""
    return every(*(part.known for part in parts))


def any_known(*parts: Node) -> Cond:
    """One of them is not blank."""
    return either(*(part.known for part in parts))


_OF_COLUMN = (Aggregate, PointBeside, At, TextAt, PlaceOf, NumbersWith)
#: The kinds of part that read cells.
READING = (Cell, MeanAt, SumAt, *_OF_COLUMN)


def column_names(part: Node) -> tuple[str, ...]:
    """The items that a part reads as a whole column."""
    if isinstance(part, (MeanAt, SumAt)):
        return part.name, part.keys
    return (part.name,) if isinstance(part, _OF_COLUMN) else ()


def items_named(expression: Node) -> frozenset[str]:
    """The items whose cells an expression reads; all results of a form are asked at the start of each process."""
    found: set[str] = set()
    waiting: list[Any] = [expression]
    while waiting:
        part = waiting.pop()
        if isinstance(part, Cell):
            found.add(part.name)
            continue
        if isinstance(part, READING):
            found.update(column_names(part))
        for name in _names_of_parts(part.__class__):
            held = getattr(part, name)
            if isinstance(held, tuple):
                waiting += held
            elif isinstance(held, Node):
                waiting.append(held)
    return frozenset(found)


def of_number(expression: Node, number: int | None) -> Node:
    """The expression of one cell: of a column of different ones its own."""
    if isinstance(expression, ByNumber):
        assert number is not None, "a column is asked by its number"
        return expression.parts[number - 1]
    return expression
