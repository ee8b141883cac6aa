"""Expressions in plain words, for the reference pages: labels of the form in italics, a table row by row."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from workbook_tools.language import expressions as x
from workbook_tools.language.constants import CONSTANTS

COMPARED = {"<": "is below", "<=": "is at most", ">": "is above", ">=": "is at least", "=": "is"}
NOT_COMPARED = {
    "<": "is not below",
    "<=": "is not at most",
    ">": "is not above",
    ">=": "is not at least",
    "=": "is not",
}
ARITHMETIC = {"+": "plus", "-": "less", "*": "times", "/": "over", "^": "to the power of"}
AGGREGATES = {
    "MAX": "the highest",
    "MIN": "the lowest",
    "MEDIAN": "the median",
    "SUM": "the sum",
    "COUNT": "how many",
}
CALLS = {
    "LN": "the logarithm of",
    "ABS": "the size of",
    "SQRT": "the root of",
    "COS": "the cosine of",
    "SIN": "the sine of",
}
BESIDE = {0: "", -1: " of the cylinder before", 1: " of the cylinder after"}
STRENGTH = {"+": 1, "-": 1, "*": 2, "/": 2, "^": 3}


class Sentences:
    """Says expressions with the labels of one form."""

    def __init__(self, labels: Mapping[str, str]) -> None:
        self.labels = labels

    def say(self, part: x.Node) -> str:
        """An expression as a sentence without its full stop."""
        match part:
            case x.Choose((condition,), (outcome,), x.Literal(None)):
                return f"{self.say(outcome)} where {self.say(condition)}"
            case x.Choose(conditions, outcomes, otherwise):
                rows = [f"{self.say(o)} if {self.say(c)}" for c, o in zip(conditions, outcomes, strict=True)]
                return "; else ".join([*rows, self.say(otherwise)])
            case x.Cond():
                return self._condition(part)
            case x.Join(parts):
                return " and ".join(self._in_brackets(each) for each in parts)
            case x.Cell(name, fixed, step):
                return self._label(name) + BESIDE[step] + (f" {fixed}" if fixed else "")
            case x.Literal(held):
                return "blank" if held is None else f'"{held}"' if isinstance(held, str) else f"{held:g}"
        return self._number(part)

    def _label(self, name: str) -> str:
        return f"*{self.labels.get(name, name)}*"

    def _in_brackets(self, part: x.Node) -> str:
        text = self.say(part)
        return f"({text})" if isinstance(part, x.Choose) else text

    def _number(self, part: x.Node) -> str:
        match part:
            case x.Constant(name):
                return f"{CONSTANTS[name].us:.6g}"
            case x.Cylinders():
                return "the number of cylinders"
            case x.OwnNumber():
                return "its own number"
            case x.Aggregate("COUNTIF", name, criterion):
                return f"how many {self._label(name)} are " + (
                    "below 0" if criterion == "<0" else f'"{criterion}"'
                )
            case x.Aggregate("LARGE", name, _, rank):
                assert rank is not None
                return f"{self._label(name)} number {self.say(rank)} from the top"
            case x.Aggregate("COUNT", name):
                return f"how many {self._label(name)} there are"
            case x.Aggregate(function, name):
                return f"{AGGREGATES[function]} of all {self._label(name)}"
            case x.PointBeside(name, of, below):
                side = "the largest {} not above" if below else "the smallest {} not below"
                return f"{side.format(self._label(name))} {self.say(of)}"
            case x.MeanAt(name, keys, at):
                return f"the mean of {self._label(name)} where {self._label(keys)} is {self.say(at)}"
            case x.SumAt(name, keys, at):
                return f"the sum of {self._label(name)} where {self._label(keys)} is {self.say(at)}"
            case x.Arith(op, left, right):
                own = STRENGTH[op]
                return (
                    f"{self._within(left, own)} {ARITHMETIC[op]} {self._within(right, own + (op in '-/^'))}"
                )
            case x.Call("ROUND", (inner, x.Literal(digits))):
                return self.say(inner) if digits == 6 else f"{self.say(inner)}, to {digits:g} decimals"
            case x.Call(function, (inner, *_)) if function in CALLS:
                return f"{CALLS[function]} ({self.say(inner)})"
            case x.Call(_, (inner, *_)):
                return f"({self.say(inner)}) in whole steps"
            case x.OrZero(inner):
                return self.say(inner)
            case x.Extreme(parts, is_largest):
                return f"the {'largest' if is_largest else 'smallest'} of ({', '.join(map(self.say, parts))})"
            case x.Pick(index, figures):
                shown = (each if isinstance(each, str) else f"{each:g}" for each in figures)
                return f"number {self.say(index)} of ({', '.join(shown)})"
            case x.At(name, index) | x.TextAt(name, index):
                return f"{self._label(name)} in row {self.say(index)}"
            case x.PlaceOf(name, of):
                return f"the row where {self._label(name)} is {self.say(of)}"
            case x.NumbersWith(name, words):
                return f"the numbers of those whose {self._label(name)} is " + " or ".join(
                    f'"{each}"' for each in words
                )
            case x.Letter(inner, place):
                return f"letter {self.say(place)} of {self.say(inner)}"
            case x.Repeated(text, times):
                return f'"{text}", {self.say(times)} times'
            case x.ByNumber(parts):
                return f"in each row its own; in the first: {self.say(parts[0])}"
        raise TypeError(part)

    def _within(self, part: x.Node, strength: int) -> str:
        text = self._in_brackets(part)
        return f"({text})" if isinstance(part, x.Arith) and STRENGTH[part.op] < strength else text

    def _condition(self, part: x.Node) -> str:
        match part:
            case x.Truth(held):
                return "always" if held else "never"
            case x.Compare("=", x.Aggregate("COUNT", name), x.Literal(held)) if held == 0:
                return f"no {self._label(name)} is known"
            case x.Compare(">", x.Aggregate("COUNT", name), x.Literal(held)) if held == 0:
                return f"some {self._label(name)} is known"
            case x.Compare(op, left, right):
                return f"{self._in_brackets(left)} {COMPARED[op]} {self._in_brackets(right)}"
            case x.Is(inner, words):
                return f"{self._in_brackets(inner)} is " + " or ".join(f'"{each}"' for each in words)
            case x.Same(left, right):
                return f"{self._in_brackets(left)} is the same as {self._in_brackets(right)}"
            case x.Known(inner):
                return f"{self._in_brackets(inner)} is known"
            case x.Not(x.Compare(op, left, right)):
                return f"{self._in_brackets(left)} {NOT_COMPARED[op]} {self._in_brackets(right)}"
            case x.Not(x.Is(inner, words)):
                return f"{self._in_brackets(inner)} is not " + " or ".join(f'"{each}"' for each in words)
            case x.Not(x.Known(inner)):
                return f"{self._in_brackets(inner)} is not known"
            case x.Not(inner):
                return f"not ({self.say(inner)})"
            case x.All(parts):
                return self._together(parts, " and ", x.Any_)
            case x.Any_(parts):
                return self._together(parts, " or ", x.All)
        raise TypeError(part)

    def _together(self, parts: tuple[x.Cond, ...], word: str, other: Callable[..., object]) -> str:
        return word.join(
            f"({self.say(each)})" if isinstance(each, other) else self.say(each) for each in parts
        )  # type: ignore[arg-type]
