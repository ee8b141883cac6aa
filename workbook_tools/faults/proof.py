"""What the readings taken again say of a repair, as conditions: the sheet shows it live, and the check asks the same.

A repair is proven by the reading that decided its cause, back in limits. Of two such readings one is enough, unless
the other was taken again and is out. A reading that was in limits before proves nothing where another was out. What
sits in cylinders is proven for each of them by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from workbook_tools.faults.model import Cause
from workbook_tools.language.expressions import CYLINDERS, FALSE, Cond, either, every, number, word
from workbook_tools.language.model import CONFIRMED, INDICATED, Block, Strength, Table
from workbook_tools.sheets.compression_results import LOW, is_low
from workbook_tools.sheets.fuel_and_air import FUEL_AND_AIR
from workbook_tools.sheets.gas_results import GAS_POINTS, RAISED
from workbook_tools.sheets.readings import is_inside, is_judged, is_out
from workbook_tools.sheets.recheck import PER_AGAIN, SOUND_WORDS, before_of

#: A cylinder whose readings speak against it, whatever is wrong with it.
READS_BADLY = (is_low == LOW) | is_out("leakdown")
_AT_GAS_POINTS = {
    item.name
    for part in FUEL_AND_AIR.parts
    if isinstance(part, (Block, Table))
    for item in part.items
    if item.per == GAS_POINTS
}


@dataclass(frozen=True, eq=False)
class RecheckRule:
    """When the readings taken again speak against a repair, and when, if they do not, they prove it; of one cylinder where it
    sits in cylinders.

    `deciding`: for each of the readings that prove it, when it is one that can: it was not right before, or none was wrong.
    """

    disproven: Cond
    proven_else: Cond
    deciding: dict[str, Cond]


@cache
def is_right(name: str) -> Cond:
    """A reading taken again is as on a sound engine."""
    if name == "after_needle":
        # One or two cylinders give no needle to go by.
        return (CYLINDERS > 2) & (word(name) == SOUND_WORDS[name])
    return word(name) == SOUND_WORDS[name] if name in SOUND_WORDS else is_inside(name)


@cache
def is_wrong(name: str) -> Cond:
    """A reading taken again is not, be it by less than the gauge can tell: it proves nothing then."""
    if name == "after_needle":
        return (CYLINDERS > 2) & word(name).known & ~is_right(name)
    return (word(name).known if name in SOUND_WORDS else is_judged(name)) & ~is_right(name)


@cache
def was_right(name: str) -> Cond:
    """The reading before the repair, of one that was taken again, was in limits."""
    before = before_of(name)
    if name in SOUND_WORDS:
        return FALSE
    if before == "compression_dry":
        return is_inside(before) & ~(is_low == LOW)
    return is_inside(before, RAISED if before in _AT_GAS_POINTS else None)


@cache
def proof_of(cause: Cause) -> RecheckRule:
    """What proves a cause's repair, and what speaks against it."""
    all_right = every(*(was_right(name) for name in cause.recheck))
    one = len(cause.recheck) == 1
    deciding = {name: ~was_right(name) | all_right for name in cause.recheck}
    shown = {name: _is_shown(cause, name) for name in cause.recheck}
    disproven = either(*(is_wrong(name) for name in cause.recheck))
    proven = either(*(shown[name] if one else shown[name] & deciding[name] for name in cause.recheck))
    return RecheckRule(disproven, proven, deciding)


def _is_shown(cause: Cause, name: str) -> Cond:
    if name not in cause.instead:
        return is_right(name)
    return is_right(name) | (number(name).missing & cause.instead[name])


def by_cylinder(cause: Cause) -> bool:
    """Whether its repair is proven cylinder by cylinder."""
    return any(PER_AGAIN[name] == "cylinder" for name in cause.recheck)


def sure_of(cause: Cause) -> tuple[Strength, ...]:
    """How sure a cause has to be to be found: what no test decides can't be surer than indicated."""
    return (CONFIRMED,) if cause.deciding else (CONFIRMED, INDICATED)


@cache
def is_concerned(cause: Cause) -> Cond:
    """A cylinder has to be taken again for the repair: the fault was found in it, or it read badly where it is the engine's."""
    if cause.cylinder_signs:
        return word(cause.cylinder_cell).is_in(*sure_of(cause))
    return READS_BADLY
