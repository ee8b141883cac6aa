"""Puts right, in the package `formulas`, what it calculates otherwise than spreadsheet programs do.

Each repair is one entry of the package's own tables of functions and operators, nothing else is touched.
Found by comparing with LibreOffice (`test_support_pure_formulas.py` has the cases).
"""

from __future__ import annotations

import functools
import inspect
import re
from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import numpy as np
from formulas.functions import get_functions, replace_empty, wrap_ufunc
from formulas.functions.operators import LOGIC_OPERATORS, OPERATORS, logic_input_parser
from formulas.functions.text import _str
from formulas.ranges import Ranges

#: Functions that leave text in a cell out, also where it looks like a number: `formulas` reads "12" as 12.
TEXT_BLIND = ("AVERAGE", "COUNT", "ISNUMBER", "LARGE", "MAX", "MEDIAN", "MIN", "SMALL", "SUM", "SUMPRODUCT")
SIGNIFICANT_DIGITS = 15
NOT_A_NUMBER = "text"


def shown(value: float) -> Decimal:
    """The number as a spreadsheet shows it: 15 significant digits."""
    return Decimal(f"{float(value):.{SIGNIFICANT_DIGITS - 1}e}")


def round_as_shown(value: float, digits: float) -> float:
    """ROUND: halves away from zero of the number as shown, so that ROUND(1.005,2) is 1.01."""
    step = Decimal(1).scaleb(-int(digits))
    number = shown(value)
    if number and number.adjusted() + int(digits) >= SIGNIFICANT_DIGITS:
        return float(number)  # no digits left to drop
    return float(number.quantize(step, rounding=ROUND_HALF_UP))


def number_text(value: Any) -> Any:
    """What `&` makes of a value: numbers with at most 15 digits (`formulas` shows up to 17)."""
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return f"{value:.{SIGNIFICANT_DIGITS}g}" if is_number and 1e-5 < abs(value) < 1e15 else _str(value)


def comparable(left: Any, right: Any) -> tuple[tuple[int, Any], ...]:
    """Both sides of a comparison, numbers as shown: 0.1+0.2=0.3 is true."""
    return tuple(
        (kind, shown(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else value)
        for kind, value in logic_input_parser(left, right)
    )


def blind_to_text(function: Callable[..., Any]) -> Callable[..., Any]:
    """The function with number-like text in the cells it refers to replaced by text that is none."""

    def wrapper(*args: Any) -> Any:
        return function(*(_hide_text(arg) if isinstance(arg, Ranges) else arg for arg in args))

    return functools.update_wrapper(wrapper, function)


def _hide_text(cells: Ranges) -> Any:
    block = cells.value
    if not any(isinstance(value, str) for value in block.ravel()):
        return cells
    hidden = [NOT_A_NUMBER if isinstance(value, str) else value for value in block.ravel()]
    result = np.empty(len(hidden), object)
    result[:] = hidden
    return result.reshape(block.shape)


def text_of_rounded(value: Any, code: Any, function: Callable[..., Any]) -> Any:
    """TEXT of the number rounded as a spreadsheet rounds: TEXT(2.5,"0") is 3 (the package says 2)."""
    if isinstance(value, float) and isinstance(code, str) and re.search("[0#]", code):
        decimals = re.search(r"\.([0#]+)", code)
        value = round_as_shown(value, (len(decimals[1]) if decimals else 0) + 2 * code.count("%"))
    return function(value, code)


@functools.cache
def apply_repairs() -> None:
    """Change the package's tables, once."""
    functions = get_functions()
    functions["ROUND"] = wrap_ufunc(round_as_shown)
    for name in TEXT_BLIND:
        functions[name] = blind_to_text(functions[name])
    text = functools.partial(text_of_rounded, function=inspect.unwrap(functions["TEXT"]))
    functions["TEXT"] = wrap_ufunc(text, input_parser=lambda *a: a)
    for sign, compare in LOGIC_OPERATORS.items():
        OPERATORS[sign] = wrap_ufunc(compare, input_parser=comparable, args_parser=lambda *a: a)
    OPERATORS["&"] = wrap_ufunc(
        lambda left, right: left + right,
        input_parser=lambda *a: map(number_text, a),
        args_parser=lambda *a: (replace_empty(value, "") for value in a),
    )
    # The parser reads "--" as "+"; a truth value must still become a number: SUMPRODUCT(--(cells="low")).
    OPERATORS["U+"] = wrap_ufunc(
        lambda x: float(x) if isinstance(x, (bool, np.bool_)) else x, input_parser=lambda *a: a
    )
