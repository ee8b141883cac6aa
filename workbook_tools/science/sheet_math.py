"""Worksheet functions repeated in Python, so that a result recomputed here is the one that the sheet shows.

A spreadsheet holds binary numbers but rounds them as people read them: 1.005 is stored as
1.00499999999999989..., shown as 1.005, and rounds to 1.01. The programs get there by rounding the number to
15 significant digits first, which is all that they show of it.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal, localcontext

SIGNIFICANT_DIGITS = 15


def sheet_decimal(value: float) -> Decimal:
    """The decimal number that a spreadsheet shows for `value`: the nearest one of 15 significant digits.

    Raises ValueError when the value is not a finite number.
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} is not a number that a cell can hold")
    return Decimal(f"{value:.{SIGNIFICANT_DIGITS - 1}e}")


def sheet_round(value: float, digits: int = 0) -> float:
    """`value` rounded to `digits` decimal places as the worksheet's ROUND does it: halves away from zero.

    `digits` may be negative (-1 rounds to tens). Raises ValueError when the value is not a finite number.
    """
    return float(round_half_away(sheet_decimal(value), digits))


def round_half_away(value: Decimal, digits: int) -> Decimal:
    """`value` with `digits` decimal places, halves away from zero."""
    step = Decimal(1).scaleb(-digits)
    with localcontext() as context:
        # quantize refuses results longer than the context's precision; a double has at most 309 places
        # before the point.
        context.prec = 400
        return value.quantize(step, rounding=ROUND_HALF_UP)


def median(values: Iterable[float]) -> float:
    """The middle of the values, or the mean of the two middle ones, as the worksheet's MEDIAN.

    Raises ValueError when there is no value, where the worksheet shows an error.
    """
    held = list(values)
    if not held:
        raise ValueError("the median of no values does not exist")
    return float(statistics.median(held))
