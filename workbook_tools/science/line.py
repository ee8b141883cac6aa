"""A straight line through readings, and where it reaches a limit, with the band in which four of five would lie.

Ordinary least squares and the inverse of its prediction band: N. R. Draper and H. Smith, Applied Regression Analysis,
chapters 1 and 3 (from memory; held against statsmodels and scipy in the tests).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

#: Student's t below which nine of ten lie, by degrees of freedom from 1: so that eight of ten lie within it either way
#: (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2).
T_90 = (
    *(3.078, 1.886, 1.638, 1.533, 1.476, 1.440, 1.415, 1.397, 1.383, 1.372),
    *(1.363, 1.356, 1.350, 1.345, 1.341, 1.337, 1.333, 1.330, 1.328, 1.325),
    *(1.323, 1.321, 1.319, 1.318, 1.316, 1.315, 1.314, 1.313, 1.311, 1.310),
)
T_90_BEYOND = 1.282
FEWEST = 3


@dataclass(frozen=True)
class Line:
    """y = mean_y + slope * (x - mean_x); `spread` is the standard deviation about it, on n - 2 degrees of freedom."""

    n: int
    mean_x: float
    mean_y: float
    slope: float
    sum_squares_x: float
    spread: float

    @property
    def t(self) -> float:
        """Student's t of the 80 % band."""
        freedom = self.n - 2
        return T_90[freedom - 1] if freedom <= len(T_90) else T_90_BEYOND

    def at(self, x: float) -> float:
        """The line at x."""
        return self.mean_y + self.slope * (x - self.mean_x)

    def half_band(self, x: float) -> float:
        """Half the width of the band at x in which a new reading lies eight times of ten."""
        away = (x - self.mean_x) ** 2 / self.sum_squares_x
        return self.t * self.spread * math.sqrt(1 + 1 / self.n + away)


def line_through(xs: Sequence[float], ys: Sequence[float]) -> Line | None:
    """The line of least squares; None for fewer than three points, or where all have one x."""
    n = len(xs)
    if n < FEWEST:
        return None
    mean_x, mean_y = math.fsum(xs) / n, math.fsum(ys) / n
    squares = math.fsum((x - mean_x) ** 2 for x in xs)
    if squares <= 0:
        return None
    slope = math.fsum((x - mean_x) * (y - mean_y) for x, y in zip(xs, ys, strict=True)) / squares
    rest = math.fsum((y - mean_y - slope * (x - mean_x)) ** 2 for x, y in zip(xs, ys, strict=True))
    return Line(n, mean_x, mean_y, slope, squares, math.sqrt(rest / (n - 2)))


@dataclass(frozen=True)
class Reached:
    """Where a falling line reaches a limit: on the line, and where the lower and the upper edge of its band do."""

    x: float
    low: float
    high: float


def reaches(line: Line, limit: float) -> Reached | None:
    """Where the line comes down to the limit; None where it does not fall, or is too uncertain to say that it ever does."""
    if line.slope >= 0:
        return None
    above, t_s = line.mean_y - limit, line.t * line.spread
    # |mean_y + slope d - limit| = t s sqrt(1 + 1/n + d^2/Sxx), solved for d
    a = line.slope**2 - t_s**2 / line.sum_squares_x
    b = 2 * line.slope * above
    c = above**2 - t_s**2 * (1 + 1 / line.n)
    if a <= 0 or (root := b * b - 4 * a * c) < 0:
        return None
    ends = sorted(((-b - math.sqrt(root)) / (2 * a), (-b + math.sqrt(root)) / (2 * a)))
    return Reached(line.mean_x - above / line.slope, line.mean_x + ends[0], line.mean_x + ends[1])
