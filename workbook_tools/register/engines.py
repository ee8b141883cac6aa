"""Histories of engines: which jobs belong to one engine, and what its readings did between its visits.

    histories(jobs, readings, repairs)      one history an engine, the one seen last first

A repaired engine gains compression; what it lost since is the difference between how it was left and how it is found
the next time, so a change is always `found - left_as of the visit before`, over the distance or hours between.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import pandas as pd

from workbook_tools.form import the_form
from workbook_tools.register.records import PROVEN
from workbook_tools.science.units import convert

#: Changes are told per this much: 1,000 of the odometer's unit of distance, 100 hours.
PER = {"mi": 1000.0, "km": 1000.0, "h": 100.0}
COMPRESSION, VACUUM, TIMING = "compression_dry", "idle_vacuum_mean", "timing"
Slot = tuple[str, int]


@dataclass(frozen=True)
class Reading:
    """A reading as found and as left (the same where it was not taken again), in the history's units."""

    found: float | None
    left_as: float | None


@dataclass(frozen=True)
class Visit:
    """One job of an engine; `odometer` is in the history's unit, None where it was not read or is in another kind."""

    shop: str
    job_number: str
    path: str
    date_in: dt.date | None
    date_out: dt.date | None
    odometer: float | None
    readings: Mapping[Slot, Reading]
    repair: str
    proof: str
    #: Causes whose repair a reading proved.
    proven: frozenset[str] = frozenset()
    #: In inHg; None where it is not known.
    station_pressure: float | None = None
    #: Lowest compression and vacuum allowed at that pressure, by the reading's name, in the history's units.
    limits: Mapping[str, float] = field(default_factory=dict)

    @property
    def named(self) -> str:
        """`job 117 (2026-03-11)`."""
        number = f"job {self.job_number}" if self.job_number else f"the job in {self.path}"
        return f"{number} ({self.date_in})" if self.date_in else number


@dataclass(frozen=True)
class Change:
    """What a reading did between two visits, and over which distance (None where that is not known)."""

    earlier: Visit
    later: Visit
    by: float
    distance: float | None


@dataclass(frozen=True)
class History:
    """One engine: how it is called now, its visits in order, and its units."""

    shop: str
    key: str
    by_name_only: bool
    plate: str
    engine_serial: str
    engine_name: str
    vehicle: str
    customer: str
    cylinders: int
    distance_unit: str
    units: Mapping[str, str]
    visits: tuple[Visit, ...]

    @property
    def named(self) -> str:
        """The engine in a line."""
        parts = (self.vehicle, self.plate, self.engine_serial, self.engine_name)
        return ", ".join(part for part in dict.fromkeys(parts) if part) or "engine without a name"

    @cached_property
    def slots(self) -> tuple[Slot, ...]:
        """The readings that any visit has: compression by cylinder, then vacuum, then timing."""
        order = {name: place for place, name in enumerate((COMPRESSION, VACUUM, TIMING))}
        return tuple(
            sorted(
                {slot for visit in self.visits for slot in visit.readings}, key=lambda s: (order[s[0]], s[1])
            )
        )

    def changes(self, slot: Slot) -> list[Change]:
        """The changes of one reading from each visit that has it to the next."""
        having = [visit for visit in self.visits if slot in visit.readings]
        found = []
        for earlier, later in zip(having, having[1:], strict=False):
            before, now = earlier.readings[slot].left_as, later.readings[slot].found
            if before is not None and now is not None:
                found.append(Change(earlier, later, now - before, _distance(earlier, later)))
        return found

    def rate(self, slot: Slot) -> float | None:
        """Change per 1,000 miles or km, or per 100 hours, over the whole history."""
        return self._per(self.changes(slot))

    def last_rate(self, slot: Slot) -> float | None:
        """The same since the visit before the last."""
        return self._per(self.changes(slot)[-1:])

    def _per(self, changes: Iterable[Change]) -> float | None:
        known = [each for each in changes if each.distance]
        distance = sum(each.distance or 0.0 for each in known)
        return PER[self.distance_unit] * sum(each.by for each in known) / distance if distance > 0 else None

    @property
    def per(self) -> str:
        """`per 1,000 mi`, `per 100 h`."""
        return f"per {PER[self.distance_unit]:,.0f} {self.distance_unit}"


def _distance(earlier: Visit, later: Visit) -> float | None:
    if earlier.odometer is None or later.odometer is None or later.odometer <= earlier.odometer:
        return None
    return later.odometer - earlier.odometer


def histories(jobs: pd.DataFrame, readings: pd.DataFrame, repairs: pd.DataFrame) -> list[History]:
    """The history of every engine that can be told from others, the one seen last first."""
    proven: dict[tuple[str, str], set[str]] = {}
    for row in repairs[repairs["proof"] == PROVEN].itertuples(index=False):
        proven.setdefault((row.shop, row.sha256), set()).add(row.cause)
    by_job: dict[tuple[str, str], list[Any]] = {}
    for row in readings.itertuples(index=False):
        by_job.setdefault((row.shop, row.sha256), []).append(row)
    grouped: dict[str, list[Any]] = {}
    rows = list(jobs.itertuples(index=False))
    for row, key in zip(rows, engine_keys(rows), strict=True):
        if key:
            grouped.setdefault(key, []).append(row)
    found = [_history(key, group, by_job, proven) for key, group in grouped.items()]
    return sorted(found, key=lambda each: (-_ordinal(each.visits[-1].date_in), each.named))


def engine_keys(rows: Sequence[Any]) -> list[str]:
    """The key of each job's engine, '' where nothing tells it from others.

    Plate and serial together; a job that gives only one of them belongs to the engine that has it, where there is but
    one. Without both it is the engine's name at that customer: the name alone is of a kind of engine.
    """
    pairs = [(row.shop, _bare(row.plate), _bare(row.engine_serial)) for row in rows]
    full = {pair for pair in pairs if pair[1] and pair[2]}
    keys = []
    for row, (shop, plate, serial) in zip(rows, pairs, strict=True):
        if bool(plate) != bool(serial):
            matching = [
                each
                for each in full
                if each[0] == shop and (each[1] == plate if plate else each[2] == serial)
            ]
            if len(matching) == 1:
                _, plate, serial = matching[0]
        if plate or serial:
            keys.append(f"{shop}|{plate}|{serial}")
        elif _bare(row.engine_name):
            keys.append(f"{shop}|name|{_bare(row.customer_name)}|{_bare(row.engine_name)}")
        else:
            keys.append("")
    return keys


def _bare(text: str) -> str:
    """A number as it is compared: `AB-12 c` and `ab 12C` are one."""
    return re.sub(r"[\W_]", "", text).casefold()


def _history(
    key: str,
    group: list[Any],
    by_job: Mapping[tuple[str, str], list[Any]],
    proven: Mapping[tuple[str, str], set[str]],
) -> History:
    # A day on which an engine was in twice is told apart by its odometer.
    group = sorted(group, key=lambda row: (_ordinal(row.date_in), _number(row.odometer) or 0.0, row.path))
    newest = group[-1]
    distance_unit = _distance_unit(group)
    units = {name: _unit(name, newest.units) for name in (COMPRESSION, VACUUM, TIMING)}
    visits = []
    for row in group:
        readings = {
            (each.name, int(each.number)): Reading(
                _in(each.found, each.unit, units[each.name]), _in(each.left_as, each.unit, units[each.name])
            )
            for each in by_job.get((row.shop, row.sha256), ())
        }
        odometer = _odometer(row, distance_unit)
        visits.append(
            Visit(
                row.shop,
                row.job_number,
                row.path,
                _day(row.date_in),
                _day(row.date_out),
                odometer,
                readings,
                row.repair,
                row.proof,
                frozenset(proven.get((row.shop, row.sha256), ())),
                _in(row.station_pressure, _unit_of_place(row.units), _unit_of_place("us")),
                _limits(row, units),
            )
        )
    return History(
        shop=newest.shop,
        key=key,
        by_name_only="|name|" in key,
        plate=_last(group, "plate"),
        engine_serial=_last(group, "engine_serial"),
        engine_name=_last(group, "engine_name"),
        vehicle=_last(group, "vehicle"),
        customer=_last(group, "customer_name"),
        cylinders=int(newest.cylinders),
        distance_unit=distance_unit,
        units=units,
        visits=tuple(visits),
    )


def _unit_of_place(system: Any) -> str:
    """The unit of a barometer."""
    return the_form.items()["station_pressure"][0].measure.unit(system)


def _limits(row: Any, units: Mapping[str, str]) -> dict[str, float]:
    told = {COMPRESSION: row.compression_min, VACUUM: row.vacuum_min}
    found = {name: _in(value, _unit(name, row.units), units[name]) for name, value in told.items()}
    return {name: value for name, value in found.items() if value is not None}


def _distance_unit(group: Sequence[Any]) -> str:
    """The unit of the newest odometer reading."""
    return next((row.odometer_unit for row in reversed(group) if _number(row.odometer) is not None), "mi")


def _odometer(row: Any, unit: str) -> float | None:
    value = _number(row.odometer)
    if value is None or (row.odometer_unit == "h") != (unit == "h"):
        return None
    return value if row.odometer_unit == unit else convert(value, row.odometer_unit, unit)


def _unit(name: str, system: Any) -> str:
    return the_form.items()[name][0].measure.unit(system)


def _in(value: Any, unit: str, wanted: str) -> float | None:
    number = _number(value)
    return number if number is None or unit == wanted else convert(number, unit, wanted)


def _last(group: Sequence[Any], name: str) -> str:
    return next((getattr(row, name) for row in reversed(group) if getattr(row, name)), "")


def _number(value: Any) -> float | None:
    return None if value is None or pd.isna(value) else float(value)


def _day(value: Any) -> dt.date | None:
    return None if value is None or pd.isna(value) else value


def _ordinal(value: Any) -> int:
    day = _day(value)
    return 0 if day is None else day.toordinal()
