"""Plays engines with a known fault by what the check says next, as a technician who does nothing else would.

    play(shape, readings, complaint)        what was confirmed, after how many minutes, by which tests

The clock is kept apart from the guide: a test costs its minutes (`minutes_of`), a set-up what it takes where it does
not stand, and it stands until a test that excludes it.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.support.filled import EPOCH, defaults, form_with
from tests.support.known_engines import Readings
from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.entries import open_case
from workbook_tools.diagnose.guide import RECHECK, REPAIR, blank_cells, next_steps
from workbook_tools.diagnose.model import NextStep
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.guide.fits import SUSPECTS
from workbook_tools.guide.tests import BY_NAME, PLACE, Test
from workbook_tools.language.model import CONFIRMED, Field, Shape
from workbook_tools.read.filled_form import FilledForm, FoundCell

Steps = Callable[[Case], Sequence[NextStep]]

#: Where the play is given up: no technician follows a guide longer.
MOST_STEPS = 45
#: What stands in a new form whoever fills it: its specifications are known from the start.
GIVEN = ("spec_", "site_", "ignition_type", "fuel_feed", "system_voltage")


@dataclass
class Clock:
    """Minutes, with set-ups that stand."""

    minutes: float = 0.0
    standing: set[str] = field(default_factory=set)

    def make(self, test: Test, cylinders: int = 1) -> None:
        """A test is made."""
        if test.set_up and test.set_up not in self.standing:
            self.minutes += test.set_up_minutes
            self.standing.add(test.set_up)
        self.standing.discard(test.excludes)
        self.minutes += test.minutes * (cylinders if test.each_cylinder else 1)


@dataclass(frozen=True)
class Played:
    """How a play went: minutes at which each cause was confirmed, the steps taken, minutes in all, and how it ended.

    `wrong`: causes confirmed, and not provisional, that the engine does not have. `false_clear`: it was called sound.
    """

    confirmed: Mapping[str, float]
    steps: tuple[str, ...]
    minutes: float
    ended: str
    wrong: tuple[str, ...]
    false_clear: bool


def begun(shape: Shape, readings: Readings, complaint: str) -> Readings:
    """The form as it comes to the bench: the engine's figures and the complaint."""
    found = dict(defaults(shape))
    found |= {name: each for name, each in readings.items() if name.startswith(GIVEN)}
    if complaint:
        found["complaint"] = complaint
    return found


def play(
    shape: Shape,
    readings: Readings,
    complaint: str,
    sought: Sequence[str],
    *,
    brings: Sequence[str] = (),
    repaired: Mapping[str, Readings] | None = None,
    steps_of: Steps | None = None,
) -> Played:
    """Follow `next` until every cause sought is confirmed, or nothing is left.

    `brings`: causes that may be confirmed beside those sought. `repaired`: the engine's readings once a cause was put
    right, by cause. `steps_of`: another order than the guide's.
    """
    typed, clock, made = begun(shape, readings, complaint), Clock(), []
    confirmed: dict[str, float] = {}
    wrong: set[str] = set()
    ended = "too many steps"
    for _ in range(MOST_STEPS):
        case = case_of(shape, typed)
        for each in confirmed_in(case):
            confirmed.setdefault(each, clock.minutes)
            if each not in (*sought, *brings, *wrong):
                wrong |= _surely_wrong(shape, typed, each)
        if all(each in confirmed for each in sought):
            ended = "found"
            break
        steps = steps_of(case) if steps_of else next_steps(case, ())
        if not steps:
            ended = "nothing left"
            break
        step = steps[0]
        made.append(step.test)
        if step.test == REPAIR:
            cause = SUSPECTS[int(case.number("guide_repair") or 1) - 1]
            typed |= dict(zip(step.fields, ("put right", cause), strict=True))
            readings = (repaired or {}).get(cause, readings)
        elif step.test == RECHECK:
            typed |= {name: _again(name, readings) for name in step.fields}
            clock.minutes += step.minutes
        else:
            leaks = sum(name.startswith("leakdown_") for name in step.fields)
            clock.make(BY_NAME[step.test], leaks or 1)
            typed |= {name: readings.get(name) for name in step.fields}
    headline = diagnose(form_with(shape, typed)).headline if ended == "nothing left" else ""
    clear = headline.startswith("No fault found:") and bool(sought)
    return Played(confirmed, tuple(made), clock.minutes, ended, tuple(sorted(wrong)), clear)


def case_of(shape: Shape, typed: Readings) -> Case:
    """The case of a form in which nothing but entries stands: quicker than a whole one, and the same for the guide."""
    cells = {
        name: FoundCell(cell, cell.sheet.name, "A1", typed.get(name), None)
        for name, cell in the_form.cells(shape).items()
        if isinstance(cell.item, Field)
    }
    form = FilledForm(
        Path("played.xlsx"), shape, the_form.FORM_VERSION, cells, (), {}, frozenset(), (), EPOCH, ""
    )
    return open_case(form)[0]


def confirmed_in(case: Case) -> Iterator[str]:
    """The causes that a verdict cell calls confirmed."""
    for cause in CAUSES.values():
        of_engine = bool(cause.signs) and case.text(cause.engine_cell) == CONFIRMED
        of_one = cause.of_cylinders and any(
            case.text(cause.cylinder_cell, n) == CONFIRMED for n in case.cylinders
        )
        if of_engine or of_one:
            yield cause.id


def _surely_wrong(shape: Shape, typed: Readings, cause: str) -> set[str]:
    found = diagnose(form_with(shape, typed)).findings
    return {
        each.cause
        for each in found
        if each.cause == cause and each.strength == CONFIRMED and not each.provisional
    }


def _again(name: str, readings: Readings) -> object:
    before = name.removeprefix("after_")
    if before.startswith("compression_"):
        before = before.replace("compression_", "compression_dry_")
    if before.startswith("gas_"):
        before += "_2"
    return readings.get(before)


def in_order(tests: Sequence[str]) -> Steps:
    """The order of a fixed list: what a technician does who works through the sheets."""

    def steps_of(case: Case) -> Sequence[NextStep]:
        for name in tests:
            place = PLACE[name]
            if case.text("test_made", place) != "yes" and case.text("test_open", place) == "yes":
                return (NextStep(name, tuple(blank_cells(case, BY_NAME[name])), 0.0, "", ""),)
        return ()

    return steps_of


def misled(
    readings: Readings,
    other: Readings,
    sound: Readings,
    keep: Sequence[str],
    rng: random.Random,
    share: float = 0.1,
) -> Readings:
    """One reading in ten replaced: half by a sound engine's, half by that of an engine with another fault; `keep` stays."""
    found = dict(readings)
    for name in sorted(readings):
        if name.startswith(GIVEN) or name in keep or readings[name] is None:
            continue
        if rng.random() < share:
            found[name] = (sound if rng.random() < 0.5 else other)[name]
    return found


def minutes_of(tests: Sequence[str]) -> float:
    """What some tests cost, one after the other, each set-up once while it stands."""
    clock = Clock()
    for name in tests:
        clock.make(BY_NAME[name])
    return clock.minutes
