"""The guide against engines with a known fault: `python -m tests.benchmarks.guide_play [--set-aside]`, a table.

Each engine is played from an empty form by `next` alone (`tests/support/guide_play.py`): every fault that a test of the
form confirms, on five shapes, with the complaint that fits, with none and with a misleading one; twenty engines with two
faults; and the single faults once more with one reading in ten replaced. A third of the engines, drawn by seed before
anything was tuned, is played with --set-aside only. Beside it: the order of the sheets, and what a master needs who
knows the fault (`TESTS_OF_A_MASTER`).
"""

from __future__ import annotations

import random
import statistics
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from tests.support.guide_play import Played, in_order, minutes_of, misled, play
from tests.support.known_engines import (
    BRINGS,
    COMPLAINT_OF,
    DECIDING_READINGS,
    MISLEADING,
    TESTS_OF_A_MASTER,
    engine,
    faults_on,
    sound,
)
from workbook_tools.guide.tests import TESTS
from workbook_tools.language.model import Shape, UnitSystem
from workbook_tools.science.engine_geometry import default_banks

SHAPES: tuple[tuple[int, UnitSystem], ...] = ((4, "us"), (8, "us"), (6, "us"), (1, "us"), (4, "metric"))
COMPLAINTS = ("fitting", "none", "misleading")
SEED = 1302
#: Faults that are not hidden by each other, so that both can be found on one engine.
PAIRS = (
    ("leaking_valve", "late_timing"),
    ("leaking_valve", "air_cleaner"),
    ("worn_rings", "contact_gap"),
    ("worn_rings", "weak_spark"),
    ("head_gasket", "engine_overheated"),
    ("late_timing", "intake_leak"),
    ("late_timing", "air_cleaner"),
    ("contact_points", "low_fuel_pressure"),
    ("contact_gap", "mechanical_advance"),
    ("plug_fault", "rich_mixture"),
    ("plug_fault", "contact_points"),
    ("weak_spark", "slow_cranking"),
    ("mechanical_advance", "air_cleaner"),
    ("vacuum_advance_unit", "exhaust_restriction"),
    ("exhaust_restriction", "contact_points"),
    ("low_fuel_pressure", "heat_riser_stuck"),
    ("high_fuel_pressure", "plug_fault"),
    ("idle_mixture", "mechanical_advance"),
    ("general_wear", "contact_gap"),
    ("carbon_deposits", "late_timing"),
)


@dataclass(frozen=True)
class Engine:
    """One engine to be played: its shape, faults, complaint, and whether one reading in ten misleads."""

    cylinders: int
    units: UnitSystem
    faults: tuple[str, ...]
    complaint: str
    misleads: bool
    seed: int

    @property
    def shape(self) -> Shape:
        """Its shape."""
        return Shape(self.cylinders, default_banks(self.cylinders), self.units)


def engines() -> list[Engine]:
    """All engines of the benchmark, in a fixed order."""
    rng, found = random.Random(SEED), []
    for cylinders, units in SHAPES:
        shape = Shape(cylinders, default_banks(cylinders), units)
        for fault in faults_on(shape):
            for complaint in COMPLAINTS:
                found.append(Engine(cylinders, units, (fault,), complaint, False, rng.randrange(10**6)))
            found.append(Engine(cylinders, units, (fault,), "fitting", True, rng.randrange(10**6)))
    found += [Engine(4, "us", pair, "fitting", False, rng.randrange(10**6)) for pair in PAIRS]
    return found


def set_aside(all_of_them: Sequence[Engine]) -> set[int]:
    """The places of a third of the engines, drawn before anything was tuned."""
    return set(random.Random(SEED + 1).sample(range(len(all_of_them)), len(all_of_them) // 3))


def played(each: Engine, by_sheets: bool = False) -> Played:
    """One engine played by the guide, or in the order of the sheets."""
    shape, first = each.shape, each.faults[0]
    readings = engine(first, shape, random.Random(each.seed), *each.faults[1:])
    complaint = {"fitting": COMPLAINT_OF[first], "none": "", "misleading": MISLEADING[first]}[each.complaint]
    if each.misleads:
        rng = random.Random(each.seed)
        other = rng.choice([fault for fault in faults_on(shape) if fault != first])
        keep = [name for name in readings if name.startswith(DECIDING_READINGS[first])]
        readings = misled(readings, engine(other, shape, rng), sound(shape), keep, rng)
    repaired = {
        fault: engine(rest[0], shape, random.Random(each.seed)) if rest else sound(shape)
        for fault in each.faults
        for rest in [[other for other in each.faults if other != fault]]
    }
    brings = tuple(more for fault in each.faults for more in BRINGS.get(fault, ()))
    steps = in_order([test.name for test in TESTS]) if by_sheets else None
    return play(shape, readings, complaint, each.faults, brings=brings, repaired=repaired, steps_of=steps)


def row(name: str, of: Sequence[Engine], plays: Sequence[Played]) -> str:
    """One line of the table."""
    reached = sum(
        all(fault in each.confirmed for fault in one.faults) for one, each in zip(of, plays, strict=True)
    )
    minutes = [
        max(each.confirmed.get(fault, each.minutes) for fault in one.faults)
        for one, each in zip(of, plays, strict=True)
    ]
    master = [minutes_of([t for fault in one.faults for t in _more(fault, one)]) for one in of]
    wrong = sum(bool(each.wrong) for each in plays)
    clear = sum(each.false_clear for each in plays)
    return (
        f"| {name} | {reached} of {len(of)} | {statistics.mean(minutes):.1f} | {max(minutes):.1f} | "
        f"{statistics.mean(master):.1f} | {wrong} | {clear} |"
    )


def _more(fault: str, one: Engine) -> tuple[str, ...]:
    before = one.faults[: one.faults.index(fault)]
    made = {test for each in before for test in TESTS_OF_A_MASTER[each]}
    return tuple(test for test in TESTS_OF_A_MASTER[fault] if test not in made)


def main() -> int:
    """Print the table of the engines that tuning may look at, or of those set aside."""
    every = engines()
    aside, wanted = set_aside(every), "--set-aside" in sys.argv
    chosen = [each for place, each in enumerate(every) if (place in aside) == wanted]
    groups = {
        "One fault, fitting complaint": [
            e for e in chosen if e.complaint == "fitting" and not e.misleads and len(e.faults) == 1
        ],
        "One fault, no complaint": [e for e in chosen if e.complaint == "none"],
        "One fault, misleading complaint": [e for e in chosen if e.complaint == "misleading"],
        "One reading in ten misleads": [e for e in chosen if e.misleads],
        "Two faults": [e for e in chosen if len(e.faults) > 1],
    }
    print(
        "| Engines | Reached | Minutes, mean | Worst | A master who knows | Wrong, not provisional | False all-clear |"
    )
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: |")
    with ProcessPoolExecutor() as pool:
        for name, of in groups.items():
            plays = list(pool.map(played, of, chunksize=4))
            print(row(name, of, plays), flush=True)
            if "-v" in sys.argv:
                for one, each in zip(of, plays, strict=True):
                    if (
                        each.wrong
                        or each.false_clear
                        or any(fault not in each.confirmed for fault in one.faults)
                    ):
                        print(" ", one, each.ended, each.minutes, each.steps, each.wrong)
        singles = [
            one
            for of in groups.values()
            for one in of
            if len(one.faults) == 1 and one.complaint == "fitting" and not one.misleads
        ]
        plays = list(pool.map(played, singles, [True] * len(singles), chunksize=4))
        print(row("In the order of the sheets", singles, plays))
    return 0


if __name__ == "__main__":
    sys.exit(main())
