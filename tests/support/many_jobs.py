"""Invented jobs in any number: `python -m tests.support.many_jobs FOLDER --jobs 200 --engines 60`.

Filled workbooks of a shop that does not exist, over five years. Engines come back with more miles or hours on them and
less compression; now and then one has a fault, most of which are repaired and gauged again. The same numbers give the
same jobs. One form is made for each shape of engine and filled over and over, which is quick.
"""

from __future__ import annotations

import argparse
import datetime as dt
import random
import tempfile
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import lru_cache, partial
from pathlib import Path

from workbook_tools import new_workbook
from workbook_tools.form import the_form
from workbook_tools.generate.fill import as_typed, store_result, write_value
from workbook_tools.generate.named_cells import NamedCells, open_cells
from workbook_tools.language.model import Field, Result, UnitSystem, Value

FIRST_DAY = dt.date(2021, 1, 11)
DAYS = 5 * 365
SHAPES: tuple[tuple[int, UnitSystem], ...] = ((4, "us"), (6, "us"), (4, "us"), (8, "us"), (1, "us"))
KINDS = ("pickup", "delivery van", "coupe", "farm truck", "tractor", "saw")
COMPLAINTS = ("lacks power", "rough idle", "hard starting", "misfires", "high fuel use", "other")


@dataclass
class Engine:
    """One invented engine, as it stands after its last job."""

    number: int
    cylinders: int
    units: UnitSystem
    unit: str
    odometer: float
    a_year: float
    compression: list[float]
    wear: list[float] = field(default_factory=list)

    @property
    def name(self) -> str:
        """What the shop calls its kind."""
        return f"Invented {self.cylinders}-cylinder"


def engines(count: int, chance: random.Random) -> list[Engine]:
    """A fleet of invented engines."""
    made = []
    for number in range(1, count + 1):
        cylinders, units = SHAPES[number % len(SHAPES)]
        in_hours = cylinders == 1 or number % 11 == 0
        best = chance.uniform(140, 158)
        made.append(
            Engine(
                number=number,
                cylinders=cylinders,
                units=units,
                unit="h" if in_hours else "mi",
                odometer=round(chance.uniform(50, 900) if in_hours else chance.uniform(8_000, 90_000)),
                a_year=chance.uniform(60, 300) if in_hours else chance.uniform(4_000, 14_000),
                compression=[best + chance.uniform(-3, 3) for _ in range(cylinders)],
                wear=[chance.uniform(0.4, 1.4) for _ in range(cylinders)],
            )
        )
    return made


def jobs(count: int, engine_count: int, seed: int = 1) -> Iterator[tuple[Engine, dict[str, object]]]:
    """Jobs in order of their dates: the engine, and the readings by cell name."""
    chance = random.Random(seed)
    fleet = engines(engine_count, chance)
    days = sorted(chance.randrange(DAYS) for _ in range(count))
    seen = {engine.number: 0 for engine in fleet}
    for number, day in enumerate(days, start=1):
        # Those that have waited longest come first, as engines are not brought in every week.
        waiting = sorted(fleet, key=lambda engine: seen[engine.number])[: max(1, engine_count // 2)]
        engine = chance.choice(waiting)
        years = (day - seen[engine.number]) / 365
        seen[engine.number] = day
        run = round(engine.a_year * years)
        engine.odometer += run
        per = 100 if engine.unit == "h" else 1000
        engine.compression = [
            now - wear * run / per * 0.35 for now, wear in zip(engine.compression, engine.wear, strict=True)
        ]
        yield engine, readings(engine, number, FIRST_DAY + dt.timedelta(days=day), chance)


def readings(engine: Engine, number: int, came: dt.date, chance: random.Random) -> dict[str, object]:
    """The readings of one job; a repaired engine is left with its compression restored."""
    left = came + dt.timedelta(days=chance.randrange(0, 6))
    typed: dict[str, object] = {
        "job_number": f"J-{number:05d}",
        "date_in": came,
        "date_out": left,
        "customer_name": f"Invented customer {engine.number}",
        "technician": f"Technician {'AB'[number % 2]} (invented)",
        "vehicle": f"Invented {KINDS[engine.number % len(KINDS)]}",
        "plate": f"SAMPLE {engine.number:03d}",
        "engine_serial": f"INV-{engine.number:04d}",
        "engine_name": engine.name,
        "odometer": engine.odometer,
        "odometer_unit": engine.unit,
        "complaint": chance.choice(COMPLAINTS),
        "spec_compression_min": 110,
        "spec_compression_max": 170,
        "spec_timing": 6,
        "spec_timing_speed": 600,
        "spec_operating_temp_min": 170,
        "spec_idle_speed_min": 550,
        "spec_idle_speed_max": 700,
        "coolant_temperature": chance.randrange(178, 198),
        "idle_speed": chance.randrange(580, 660),
        "throttle_held_open": "yes",
        "all_plugs_out": "yes",
        "compression_strokes": 5,
        "timing": 6 + chance.choice((0, 0, 0, 0, 0.5, -0.5, -5)),
        "timing_speed": 600,
        "fuel_pressure": round(chance.uniform(2.6, 3.4), 1),
        "labour_rate": 72.5,
        "tax_percent": 8,
        "tax_on": "parts",
    }
    if engine.cylinders > 2:
        vacuum = round(chance.uniform(18.4, 20.4), 1)
        typed |= {
            "idle_vacuum_low": vacuum,
            "idle_vacuum_high": vacuum + 0.3,
            "needle": "steady",
            "cranking_vacuum": 17,
        }
    dry = [round(value + chance.uniform(-1.5, 1.5)) for value in engine.compression]
    if engine.cylinders > 1 and chance.random() < 0.12:
        typed |= _burned_valve(engine, dry, chance)
    typed |= {f"compression_dry_{n}": value for n, value in enumerate(dry, start=1)}
    if typed["timing"] == 1:
        typed |= {
            "concluded_cause_2": "late_timing",
            "work_2": "Set the ignition timing",
            "work_cause_2": "late_timing",
            "hours_2": 0.5,
        }
        typed |= {"after_timing": 6} if chance.random() < 0.8 else {}
    typed |= {
        "work_3": "Checked the engine over",
        "hours_3": 1.0,
        "part_3": "Air filter",
        "quantity_3": 1,
        "unit_price_3": 12.4,
    }
    if chance.random() < 0.9:
        typed |= {"released_by": "Foreman (invented)", "released_on": left}
    return typed


def _burned_valve(engine: Engine, dry: list[int], chance: random.Random) -> dict[str, object]:
    """One cylinder low, its wet test, and mostly the repair with the gauge on it again."""
    which = chance.randrange(engine.cylinders)
    sound = dry[which]
    dry[which] = round(sound * 0.62)
    typed: dict[str, object] = {
        f"compression_wet_{which + 1}": dry[which] + 4,
        f"compression_wet_{(which + 1) % engine.cylinders + 1}": dry[(which + 1) % engine.cylinders] + 4,
        "concluded_cause_1": "leaking_valve",
        "concluded_cylinders_1": str(which + 1),
        "work_1": "Ground the valve in, new gasket",
        "work_cause_1": "leaking_valve",
        "part_1": "Gasket set",
        "quantity_1": 1,
        "unit_price_1": 48.9,
        "hours_1": 5.5,
    }
    if chance.random() < 0.85:
        engine.compression = [
            value + (0 if place != which else 4) for place, value in enumerate(engine.compression)
        ]
        typed[f"after_compression_{which + 1}"] = sound + 4
    return typed


@lru_cache(maxsize=None)
def _form(cylinders: int, units: UnitSystem) -> NamedCells:
    """An empty form of that shape, opened once."""
    with tempfile.TemporaryDirectory() as folder:
        path = new_workbook(Path(folder) / "form.xlsx", cylinders=cylinders, units=units)
        return open_cells(path)


def filled_bytes(engine: Engine, typed: dict[str, object]) -> bytes:
    """The form of that engine with the readings in its cells, its results stored."""
    form = _form(engine.cylinders, engine.units)
    known = the_form.cells(form.shape)
    before = {name: form.value(name) for name in typed}
    for name, value in typed.items():
        item = known[name].item
        assert isinstance(item, Field)
        write_value(form.element(name), as_typed(item, value))
    entries: dict[str, Value] = {
        name: form.value(name) for name, cell in known.items() if isinstance(cell.item, Field)
    }
    values = the_form.compute(form.shape, entries).values
    for name, cell in known.items():
        if isinstance(cell.item, Result):
            store_result(form.element(name), values.get(name))
    data = form.to_bytes()
    for name, old in before.items():
        write_value(form.element(name), old)
    return data


def write_jobs(folder: Path, count: int, engine_count: int, seed: int = 1, processes: int = 1) -> list[Path]:
    """Write that many filled workbooks, one folder a year, and return their paths.

    More `processes` give the same files sooner.
    """
    if processes == 1:
        return [_write_job(folder, engine, typed) for engine, typed in jobs(count, engine_count, seed)]
    with ProcessPoolExecutor(processes) as pool:
        asked = list(jobs(count, engine_count, seed))
        return list(pool.map(partial(_write_pair, folder), asked, chunksize=10))


def _write_pair(folder: Path, job: tuple[Engine, dict[str, object]]) -> Path:
    return _write_job(folder, *job)


def _write_job(folder: Path, engine: Engine, typed: dict[str, object]) -> Path:
    came = typed["date_in"]
    assert isinstance(came, dt.date)
    path = folder / f"{came:%Y}" / f"{typed['job_number']}.xlsx"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(filled_bytes(engine, typed))
    return path


def main() -> None:
    """Write the jobs that were asked for."""
    asked = argparse.ArgumentParser(description="Write invented filled jobs.")
    asked.add_argument("folder", type=Path)
    asked.add_argument("--jobs", type=int, default=200)
    asked.add_argument("--engines", type=int, default=60)
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    print(
        f"{len(write_jobs(options.folder, options.jobs, options.engines, options.seed))} jobs in {options.folder}"
    )


if __name__ == "__main__":
    main()
