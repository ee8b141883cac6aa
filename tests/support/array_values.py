"""The form's results for many engines of one shape at once: the same expressions, worked out over arrays.

    results_of(shape, forms)      every cell of the form to a `Cells`, one place a form

A cell is a pair of arrays, as it may hold a number in one form and a text in the next: numbers with NaN where there is
none, and codes of texts with 0 where there is none. Written apart from `language.evaluate`, so that one checks the other.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from workbook_tools.form import the_form
from workbook_tools.language import expressions as x
from workbook_tools.language.constants import CONSTANTS
from workbook_tools.language.evaluate import cell_of
from workbook_tools.language.model import Result, Shape, Value
from workbook_tools.science.sheet_math import sheet_round

Floats = NDArray[np.float64]
Codes = NDArray[np.int32]
Bools = NDArray[np.bool_]
#: How near to a half a number must lie for the worksheet's own rounding to be asked: of 1, and of the number.
NEAR_HALF, SHARE_NEAR_HALF = 1e-9, 1e-14


class Texts:
    """Texts by code; 0 is blank."""

    def __init__(self) -> None:
        self.texts: list[str] = [""]
        self.codes: dict[str, int] = {"": 0}
        #: For words asked before: which texts are among them, as far as there were texts then.
        self._among: dict[frozenset[str], list[bool]] = {}

    def code(self, text: str) -> int:
        """The code of a text, a new one where it is new."""
        if text not in self.codes:
            self.codes[text] = len(self.texts)
            self.texts.append(text)
        return self.codes[text]

    def lower_is_in(self, codes: Codes, words: frozenset[str]) -> Bools:
        """Where a text is one of the words, whatever its capitals."""
        among = self._among.setdefault(words, [])
        among += [text.lower() in words and text != "" for text in self.texts[len(among) :]]
        return np.array(among)[codes]


@dataclass(frozen=True)
class Cells:
    """One cell in all forms."""

    numbers: Floats
    codes: Codes

    @property
    def known(self) -> Bools:
        """Where it is not blank."""
        return ~np.isnan(self.numbers) | (self.codes != 0)

    def values(self, texts: Texts) -> list[Value]:
        """The cell form by form, as the scalar evaluation gives it."""
        return [
            texts.texts[code] if code else None if np.isnan(number) else float(number)
            for number, code in zip(self.numbers, self.codes, strict=True)
        ]


def results_of(shape: Shape, forms: Sequence[Mapping[str, Value]]) -> tuple[dict[str, Cells], Texts]:
    """Every input and result cell by name, over all forms. Raises TypeError for a part of a kind unknown here."""
    run, texts = _Run(shape, len(forms)), Texts()
    run.texts = texts
    for name, cell in the_form.cells(shape).items():
        if isinstance(cell.item, Result):
            continue
        held = [form.get(name) for form in forms]
        numbers = [
            float(v) if isinstance(v, (int, float)) and not isinstance(v, bool) else np.nan for v in held
        ]
        codes = [texts.code(v) if isinstance(v, str) else 0 for v in held]
        run.cells[name] = Cells(np.array(numbers), np.array(codes, dtype=np.int32))
    with np.errstate(all="ignore"):
        for cell in the_form.calculation_order(shape):
            assert isinstance(cell.item, Result)
            run.made.clear()
            run.cells[cell.name] = run.held(cell.item.expression, cell.number)
    return run.cells, texts


class _Run:
    def __init__(self, shape: Shape, count: int) -> None:
        self.shape, self.count = shape, count
        self.numbering = the_form.numbering(shape)
        self.cells: dict[str, Cells] = {}
        self.texts = Texts()
        #: What was worked out for the present cell already: tables share parts.
        self.made: dict[int, Cells | Bools] = {}
        self.no_text = np.zeros(count, dtype=np.int32)
        self.no_number = np.full(count, np.nan)

    def number(self, figure: float | None) -> Cells:
        return Cells(np.full(self.count, np.nan if figure is None else float(figure)), self.no_text)

    def of_numbers(self, numbers: Floats) -> Cells:
        return Cells(numbers, self.no_text)

    def column(self, name: str) -> Floats:
        return np.stack([self.cells[cell].numbers for cell in self.numbering.column(name)])

    def held(self, part: x.Node, n: int | None) -> Cells:
        """A number or a text."""
        if id(part) not in self.made:
            self.made[id(part)] = self._held(part, n)
        found = self.made[id(part)]
        assert isinstance(found, Cells)
        return found

    def holds(self, part: x.Node, n: int | None) -> Bools:
        """A condition."""
        if id(part) not in self.made:
            self.made[id(part)] = self._holds(part, n)
        found = self.made[id(part)]
        assert isinstance(found, np.ndarray)
        return found

    def _held(self, part: x.Node, n: int | None) -> Cells:
        match part:
            case x.Literal(held):
                if isinstance(held, str):
                    return Cells(self.no_number, np.full(self.count, self.texts.code(held), dtype=np.int32))
                return self.number(held)
            case x.Constant(name):
                return self.number(CONSTANTS[name].value(self.shape.units))
            case x.Cylinders():
                return self.number(self.shape.cylinders)
            case x.OwnNumber():
                return self.number(n)
            case x.Cell():
                name = cell_of(part, self.numbering, n)
                if name is None:
                    return self.number(None)
                there = self.cells[name]
                if isinstance(part, x.TextCell):
                    return Cells(self.no_number, there.codes)
                return self.of_numbers(there.numbers)
            case x.Aggregate():
                return self.of_numbers(self._aggregate(part, n))
            case x.PointBeside(name, of, below):
                limit, held = self.held(of, n).numbers, self.column(name)
                inside = np.where(held <= limit if below else held >= limit, held, np.nan)
                return self.of_numbers((np.fmax if below else np.fmin).reduce(inside))
            case x.MeanAt(name, keys, at):
                there = self.column(keys) == self.held(at, n).numbers
                total = np.where(there, np.nan_to_num(self.column(name)), 0.0).sum(axis=0)
                return self.of_numbers(np.where(there.any(axis=0), total / there.sum(axis=0), np.nan))
            case x.SumAt(name, keys, at):
                there = self.column(keys) == self.held(at, n).numbers
                return self.of_numbers(np.where(there, np.nan_to_num(self.column(name)), 0.0).sum(axis=0))
            case x.Arith(op, left, right):
                one, other = self.held(left, n).numbers, self.held(right, n).numbers
                if op == "/":
                    other = np.where(other == 0, np.nan, other)
                return self.of_numbers(ARITHMETIC[op](one, other))
            case x.Call(function, parts):
                return self.of_numbers(CALLS[function](*(self.held(each, n).numbers for each in parts)))
            case x.OrZero(inner):
                return self.of_numbers(np.nan_to_num(self.held(inner, n).numbers))
            case x.Extreme(parts, is_largest):
                held = np.stack([self.held(each, n).numbers for each in parts])
                return self.of_numbers((np.fmax if is_largest else np.fmin).reduce(held))
            case x.Pick(index, figures):
                place = np.trunc(np.nan_to_num(self.held(index, n).numbers)).astype(int)
                inside = (place >= 1) & (place <= len(figures))
                at = np.clip(place - 1, 0, None) % len(figures)
                if isinstance(figures[0], str):
                    codes = np.array([self.texts.code(str(each)) for each in figures], dtype=np.int32)
                    return Cells(self.no_number, np.where(inside, codes[at], 0))
                return self.of_numbers(np.where(inside, np.array(figures, dtype=float)[at], np.nan))
            case x.At(name, index) | x.TextAt(name, index):
                cells = [self.cells[each] for each in self.numbering.column(name)]
                row = np.nan_to_num(self.held(index, n).numbers, nan=1.0).astype(int) - 1
                every = np.arange(self.count)
                return Cells(
                    np.stack([each.numbers for each in cells])[row, every],
                    np.stack([each.codes for each in cells])[row, every],
                )
            case x.PlaceOf(name, of):
                there = self.column(name) == self.held(of, n).numbers
                return self.of_numbers(np.where(there.any(axis=0), there.argmax(axis=0) + 1.0, np.nan))
            case x.NumbersWith(name, words):
                cells = [self.cells[cell].codes for cell in self.numbering.column(name)]
                wanted = frozenset(each.lower() for each in words)
                there = np.array([self.texts.lower_is_in(codes, wanted) for codes in cells])
                lists = (", ".join(str(at + 1) for at in np.flatnonzero(each)) for each in there.T)
                return Cells(
                    self.no_number, np.array([self.texts.code(each) for each in lists], dtype=np.int32)
                )
            case x.Letter(inner, place):
                texts = [self.texts.texts[code] for code in self.held(inner, n).codes]
                places = np.nan_to_num(self.held(place, n).numbers).astype(int)
                letters = (text[max(at - 1, 0) : at] for text, at in zip(texts, places, strict=True))
                return Cells(
                    self.no_number, np.array([self.texts.code(each) for each in letters], dtype=np.int32)
                )
            case x.Repeated(text, times):
                counts = np.nan_to_num(self.held(times, n).numbers).astype(int)
                return Cells(
                    self.no_number,
                    np.array([self.texts.code(text * each) for each in counts], dtype=np.int32),
                )
            case x.ByNumber():
                return self.held(x.of_number(part, n), n)
            case x.Join(parts):
                return self._joined([self.held(each, n) for each in parts])
            case x.Choose(conditions, outcomes, otherwise):
                rows = [self.holds(each, n) for each in conditions]
                outs = [self.held(each, n) for each in outcomes]
                last = self.held(otherwise, n)
                return Cells(
                    np.select(rows, [each.numbers for each in outs], last.numbers),
                    np.select(rows, [each.codes for each in outs], last.codes),
                )
        raise TypeError(part)

    def _holds(self, part: x.Node, n: int | None) -> Bools:
        match part:
            case x.Truth(held):
                return np.full(self.count, held)
            case x.Compare(op, left, right):
                one, other = self.held(left, n).numbers, self.held(right, n).numbers
                apart = rounded(one - other, 6)
                return ~np.isnan(one) & ~np.isnan(other) & COMPARISONS[op](apart, 0.0)
            case x.Is(inner, words):
                return self.texts.lower_is_in(self.held(inner, n).codes, frozenset(words))
            case x.Same(left, right):
                lower = np.array([self.texts.code(text.lower()) for text in list(self.texts.texts)])
                return lower[self.held(left, n).codes] == lower[self.held(right, n).codes]
            case x.Known(inner):
                return self.held(inner, n).known
            case x.Not(inner):
                return ~self.holds(inner, n)
            case x.All(parts):
                return np.logical_and.reduce([self.holds(each, n) for each in parts])
            case x.Any_(parts):
                return np.logical_or.reduce([self.holds(each, n) for each in parts])
        raise TypeError(part)

    def _aggregate(self, part: x.Aggregate, n: int | None) -> Floats:
        held = self.column(part.name)
        match part.function:
            case "COUNTIF" if part.criterion == "<0":
                return (held < 0).sum(axis=0).astype(float)
            case "COUNTIF":
                words = frozenset((part.criterion.lower(),))
                cells = (self.cells[cell].codes for cell in self.numbering.column(part.name))
                return np.sum([self.texts.lower_is_in(codes, words) for codes in cells], axis=0).astype(float)
            case "COUNT":
                return (~np.isnan(held)).sum(axis=0).astype(float)
            case "SUM":
                return np.nansum(held, axis=0)
            case "LARGE":
                assert part.rank is not None
                down = -np.sort(-held, axis=0)
                rank = np.nan_to_num(self.held(part.rank, n).numbers).astype(int)
                inside = (rank >= 1) & (rank <= len(held))
                picked = np.take_along_axis(down, np.clip(rank - 1, 0, len(held) - 1)[None], axis=0)[0]
                return np.where(inside, picked, np.nan)
            case "MEDIAN":
                counted, up = (~np.isnan(held)).sum(axis=0), np.sort(held, axis=0)
                low, high = np.clip((counted - 1) // 2, 0, None), np.clip(counted // 2, 0, len(held) - 1)
                middle = [np.take_along_axis(up, each[None], axis=0)[0] for each in (low, high)]
                return np.where(counted > 0, (middle[0] + middle[1]) / 2, np.nan)
            case "MAX" | "MIN":
                return (np.fmax if part.function == "MAX" else np.fmin).reduce(held)
        raise TypeError(part)

    def _joined(self, parts: list[Cells]) -> Cells:
        rows = zip(*(each.values(self.texts) for each in parts), strict=True)
        codes = [
            self.texts.code(
                "".join("" if v is None else v if isinstance(v, str) else f"{v:.15g}" for v in row)
            )
            for row in rows
        ]
        return Cells(self.no_number, np.array(codes, dtype=np.int32))


def rounded(values: Floats, digits: int) -> Floats:
    """Halves away from zero; the few that lie by a half are rounded as the worksheet does it."""
    scale = 10.0**digits
    scaled = np.abs(values) * scale
    whole = np.floor(scaled + 0.5)
    found = np.copysign(whole / scale, values)
    near = np.abs(scaled - np.floor(scaled) - 0.5) < NEAR_HALF + SHARE_NEAR_HALF * scaled
    for place in np.flatnonzero(near & np.isfinite(values)):
        found[place] = sheet_round(float(values[place]), digits)
    return found


ARITHMETIC: dict[str, Callable[[Floats, Floats], Floats]] = {
    "+": np.add,
    "-": np.subtract,
    "*": np.multiply,
    "/": np.divide,
    "^": np.power,
}
COMPARISONS: dict[str, Callable[[Floats, float], Bools]] = {
    "<": np.less,
    "<=": np.less_equal,
    ">": np.greater,
    ">=": np.greater_equal,
    "=": np.equal,
}
CALLS: dict[str, Callable[..., Floats]] = {
    "ROUND": lambda value, digits: rounded(value, int(digits[0])),
    "ROUNDUP": lambda value, _: np.ceil(value),
    "INT": np.floor,
    "ABS": np.abs,
    "SQRT": np.sqrt,
    "LN": np.log,
    "COS": lambda degrees: np.cos(np.radians(degrees)),
    "SIN": lambda degrees: np.sin(np.radians(degrees)),
}
