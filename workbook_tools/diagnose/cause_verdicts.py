"""How the readings are asked about one named cause: verdicts, and the usual shapes of a test.

A verdict says whether the readings speak for the cause, against it, or say nothing of it, and in which cells.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from workbook_tools.diagnose.case import Case
from workbook_tools.language.model import cell_name

Cylinders = tuple[int, ...]


@dataclass(frozen=True)
class Verdict:
    """What the readings say of a named cause, and the cells that say it."""

    says: Literal["for", "against", "nothing"]
    cells: tuple[str, ...] = ()


Test = Callable[[Case, Cylinders], Verdict]
CylinderTest = Callable[[Case, int], Verdict]
NOTHING = Verdict("nothing")


def speaks_for(*cells: str) -> Verdict:
    """The readings in these cells speak for the cause."""
    return Verdict("for", cells)


def against(*cells: str) -> Verdict:
    """The readings in these cells speak against the cause."""
    return Verdict("against", cells)


def sign(holds: bool, cell: str) -> Verdict | None:
    """A sign that speaks for a cause where it holds."""
    return speaks_for(cell) if holds else None


# --- the usual shapes of a test --------------------------------------------------------------------------------------


def below(name: str, number: int | None = None) -> Test:
    """A cause that lies in a reading below its limit."""
    return lambda case, _: _one_side(case, name, number, case.is_below, case.is_above)


def above(name: str, number: int | None = None) -> Test:
    """A cause that lies in a reading above its limit."""
    return lambda case, _: _one_side(case, name, number, case.is_above, case.is_below)


def _one_side(
    case: Case,
    name: str,
    number: int | None,
    bad: Callable[[str, int | None], bool],
    good: Callable[[str, int | None], bool],
) -> Verdict:
    cell = cell_name(name, number)
    if bad(name, number):
        return speaks_for(cell)
    return against(cell) if case.is_inside(name, number) or good(name, number) else NOTHING


def word(name: str, *fault: str) -> Test:
    """A cause that is seen: the words that say so, any other word speaking against it."""

    def test(case: Case, _: Cylinders) -> Verdict:
        seen = case.text(name)
        if not seen:
            return NOTHING
        return speaks_for(name) if seen in fault else against(name)

    return test


def by_cylinder(judge: CylinderTest) -> Test:
    """A cause that sits in a cylinder: one is enough to speak for it, all named must speak against it."""

    def test(case: Case, cylinders: Cylinders) -> Verdict:
        verdicts = [judge(case, n) for n in cylinders or case.cylinders]
        for each in verdicts:
            if each.says == "for":
                return each
        if all(each.says == "against" for each in verdicts):
            return against(*dict.fromkeys(cell for each in verdicts for cell in each.cells))
        return NOTHING

    return test
