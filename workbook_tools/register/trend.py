"""How far an engine still is from its limits, as its readings since the last repair tell.

    outlooks(history)       a line for each cylinder and the vacuum that comes down to its limit, the nearest first

Compression and vacuum are brought to sea level first, as the weather and the height of the place move them. A line needs
three visits, never runs across a repair, and says nothing where its band is wider than the answer.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from workbook_tools.register.engines import COMPRESSION, VACUUM, History, Slot, Visit
from workbook_tools.register.records import NO_REPAIR
from workbook_tools.science import atmosphere
from workbook_tools.science.line import Line, line_through, reaches
from workbook_tools.science.units import convert

SEA_LEVEL = atmosphere.SEA_LEVEL_INHG
SEA_LEVEL_UNIT = "inHg"


@dataclass(frozen=True)
class Outlook:
    """A reading that comes down: how far it is to its limit from the last visit, and between which distances eight of ten lie.

    Distances in the history's unit; the line and `limit` at sea level, in the reading's unit.
    """

    slot: Slot
    line: Line
    visits: tuple[Visit, ...]
    limit: float
    distance: float
    low: float
    high: float
    unit: str

    @property
    def what(self) -> str:
        """`cylinder 2`, `the vacuum`."""
        return f"cylinder {self.slot[1]}" if self.slot[0] == COMPRESSION else "the vacuum at idle"

    @property
    def words(self) -> str:
        """In a sentence, in round figures."""
        return (
            f"About {_round(self.distance)} {self.unit} until {self.what} reaches its limit, between {_round(self.low)} and "
            f"{_round(self.high)}."
        )


def outlooks(history: History) -> list[Outlook]:
    """What comes down to its limit, the nearest first."""
    found = (_outlook(history, slot) for slot in history.slots if slot[0] in (COMPRESSION, VACUUM))
    return sorted((each for each in found if each is not None), key=lambda each: each.distance)


def at_sea_level(value: float, slot: Slot, visit: Visit, unit: str) -> float | None:
    """A reading or limit as it would be at sea level; None where the pressure of the place is not known.

    A gauge reads compression above the pressure of the place, in proportion to it; what the engine leaves in the
    manifold at idle hardly depends on it, so the vacuum gains what the place has less than sea level.
    """
    if not visit.station_pressure:
        return None
    if slot[0] == COMPRESSION:
        return value * SEA_LEVEL / visit.station_pressure
    return (
        value
        + convert(SEA_LEVEL, SEA_LEVEL_UNIT, unit)
        - convert(visit.station_pressure, SEA_LEVEL_UNIT, unit)
    )


def points_since_repair(history: History, slot: Slot) -> list[tuple[Visit, float]]:
    """Visits with the reading at sea level since the last repair; that visit itself as the engine was left."""
    unit, found = history.units[slot[0]], list[tuple[Visit, float]]()
    for visit in history.visits:
        reading = visit.readings.get(slot)
        value = None
        if visit.proof != NO_REPAIR or (reading is not None and reading.found != reading.left_as):
            found.clear()
            # Not read again after the repair: how it was left is not known.
            value = reading.left_as if reading is not None and reading.found != reading.left_as else None
        elif reading is not None:
            value = reading.found
        if (
            value is None
            or visit.odometer is None
            or (level := at_sea_level(value, slot, visit, unit)) is None
        ):
            continue
        found.append((visit, level))
    return found


def _outlook(history: History, slot: Slot) -> Outlook | None:
    points = points_since_repair(history, slot)
    if not points or points[-1][0] is not history.visits[-1]:
        return None
    last = points[-1][0]
    limit = last.limits.get(slot[0])
    lowest = None if limit is None else at_sea_level(limit, slot, last, history.units[slot[0]])
    line = line_through([visit.odometer or 0.0 for visit, _ in points], [value for _, value in points])
    if lowest is None or line is None or (reached := reaches(line, lowest)) is None:
        return None
    here = last.odometer or 0.0
    distance, low, high = reached.x - here, reached.low - here, reached.high - here
    if distance <= 0 or low <= 0 or high - low > distance:
        return None
    visits = tuple(visit for visit, _ in points)
    return Outlook(slot, line, visits, lowest, distance, low, high, history.distance_unit)


def _round(distance: float) -> str:
    """To two figures: `9,000`, `850`."""
    return f"{float(f'{distance:.2g}'):,.0f}"


def band(outlook: Outlook) -> Iterator[tuple[Visit, float, float, float]]:
    """The line and the edges of its band at each visit it is made of."""
    for visit in outlook.visits:
        x = visit.odometer or 0.0
        half = outlook.line.half_band(x)
        yield visit, outlook.line.at(x), outlook.line.at(x) - half, outlook.line.at(x) + half
