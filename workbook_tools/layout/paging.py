"""How a sheet is cut into printed pages: as few as leave its text large enough to be read on paper.

paging(heights, width, starts, head_rows, paper)   upright or lengthwise, and the rows that begin a page

A sheet of several pages is printed to a scale, each page an area of its own: programs that fit a sheet to a width may leave
out its breaks. Gnumeric 1.12 knows one area a sheet: it ends a page where that is full.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from workbook_tools.language.model import UnitSystem

#: Points in an inch, and margins in inches as the sheets have them.
INCH = 72.0
MARGINS = {"left": 0.5, "right": 0.5, "top": 0.5, "bottom": 0.75}
#: Letters of 11 points print at 6.4 points: as small as the small print of a manual.
LEAST_SCALE = 0.58
#: Programs and printers differ a little in what a page holds.
SURE = 0.97


@dataclass(frozen=True)
class Paper:
    """A size of paper: its number in the file format (ECMA-376 part 1, 18.3.1.63), and its sides in points."""

    number: int
    short: float
    long: float


LETTER = Paper(1, 8.5 * INCH, 11 * INCH)
A4 = Paper(9, 210 / 25.4 * INCH, 297 / 25.4 * INCH)


@dataclass(frozen=True)
class Paging:
    """How a sheet prints: lengthwise or upright, the rows before which a page ends, and the scale in percent.

    A sheet without breaks is fitted to one page and has no scale of its own.
    """

    landscape: bool
    breaks: tuple[int, ...] = ()
    scale: int | None = None


def paper_for(units: UnitSystem) -> Paper:
    """The usual paper where those units are: letter with US units, A4 elsewhere (common practice, no source)."""
    return LETTER if units == "us" else A4


def paging(
    heights: Mapping[int, float], width: float, starts: Sequence[int], head_rows: int, paper: Paper
) -> Paging:
    """One page where that can be read, otherwise pages that begin at one of `starts`, the tops of parts.

    `heights` of all rows and `width` in points; the first `head_rows` rows stand on every page. Upright is
    taken where its scale can be read, unless one page lengthwise is as large.
    """
    total = sum(heights.values())
    upright, lengthwise = (room_on(paper, landscape) for landscape in (False, True))
    scales = {
        landscape: min(across / width, down / total)
        for landscape, (across, down) in ((False, upright), (True, lengthwise))
    }
    best = max(scales, key=lambda landscape: scales[landscape])
    if scales[best] >= LEAST_SCALE:
        return Paging(best)
    landscape = upright[0] / width < LEAST_SCALE
    across, down = lengthwise if landscape else upright
    scale = scale_to(across, width)
    return Paging(landscape, breaks(heights, starts, head_rows, 100 * down / scale), scale)


def scale_to(across: float, width: float) -> int:
    """Percent at which a width surely fits, at most 100."""
    return int(100 * min(1.0, SURE * across / width))


def room_on(paper: Paper, landscape: bool) -> tuple[float, float]:
    """Points across and down between the margins."""
    across, down = (paper.long, paper.short) if landscape else (paper.short, paper.long)
    sides = (MARGINS["left"] + MARGINS["right"]) * INCH
    return across - sides, down - (MARGINS["top"] + MARGINS["bottom"]) * INCH


def breaks(
    heights: Mapping[int, float], starts: Sequence[int], head_rows: int, room: float
) -> tuple[int, ...]:
    """The starts at which a new page has to begin, so that no part is torn that fits on one.

    `room` is what a page holds, in points of the sheet's own rows; the rows before the first start count to it.
    """
    head = sum(height for row, height in heights.items() if row < head_rows)
    found: list[int] = []
    used = head
    ends = [*starts[1:], len(heights)]
    for start, end in zip(starts, ends, strict=True):
        height = sum(heights[row] for row in range(start, end))
        if used > head and used + height > room * SURE:
            found.append(start)
            used = head
        used += height
        # What is higher than a page runs on over as many as it needs.
        while used > room * SURE:
            used -= room * SURE - head
    return tuple(found)
