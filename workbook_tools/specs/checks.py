"""What can't be right in a specs book, said cell by cell.

specs_problems(book)        every entry that can't be read, is past belief, or contradicts another
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from workbook_tools.form.ranges import plausible_range
from workbook_tools.language.model import MOST_CYLINDERS, UnitSystem
from workbook_tools.science.engine_geometry import displacement, largest_dwell
from workbook_tools.science.units import conversion_factor
from workbook_tools.specs.book import EngineSpecs, SpecsBook, name_key, spec_columns

MIN, MAX = "_min", "_max"
ADVANCE = ("spec_advance_speed", "spec_advance_min", "spec_advance_max")
#: Displacement and bore x stroke may differ by so much, as figures in manuals are rounded (common practice, no source).
DISPLACEMENT_DIFFERS = 0.03
#: The length whose cube is the unit of displacement.
_LENGTH_OF_VOLUME = {"us": "in", "metric": "cm"}


@dataclass(frozen=True)
class SpecsProblem:
    """One thing in the book that can't be as it stands: where, whose, and in a sentence what and what to do.

    `is_doubt`: it may be right all the same, so that a form can still be made.
    """

    cell: str
    engine: str
    message: str
    is_doubt: bool = False


def specs_problems(book: SpecsBook) -> tuple[SpecsProblem, ...]:
    """All problems of a book, row by row, those of the whole book first."""
    found = [
        *_lost(book),
        *(SpecsProblem(cell, "", said, doubt) for cell, said, doubt in book.shop.problems()),
    ]
    doubles = _doubles(book)
    for engine in book.engines:
        found += problems_of(engine)
        found += [problem for problem in doubles if problem.cell == engine.where("engine_name")]
    return tuple(found)


def problems_of(engine: EngineSpecs) -> tuple[SpecsProblem, ...]:
    """All problems of one engine's row, by kind of check."""
    checks = (
        _unreadable,
        _identity,
        _layout,
        _out_of_range,
        _minimum_over_maximum,
        _curve,
        _dwell,
        _displacement,
    )
    return tuple(problem for check in checks for problem in check(engine))


# --- checks of one row ---------------------------------------------------------------------------------------------------


def _problem(engine: EngineSpecs, name: str, said: str, *, is_doubt: bool = False) -> SpecsProblem:
    label = next(column.label for column in spec_columns() if column.name == name)
    whose = f" of {engine.name}" if engine.name else ""
    return SpecsProblem(
        engine.where(name), engine.name, f"{engine.where(name)} ({label}{whose}): {said}", is_doubt
    )


def _unreadable(engine: EngineSpecs) -> Iterator[SpecsProblem]:
    for name, entry in engine.entries.items():
        if entry.problem:
            yield _problem(engine, name, f"{entry.problem}. Type it anew, or clear the cell.")


def _identity(engine: EngineSpecs) -> Iterator[SpecsProblem]:
    if not engine.name and not engine.entries["engine_name"].problem:
        yield _problem(
            engine,
            "engine_name",
            "the row has figures but no name; without it no form finds them. Name the engine.",
        )
    count = engine.entries.get("cylinder_count")
    if count is None or (count.value is None and not count.problem):
        yield _problem(
            engine, "cylinder_count", "the number of cylinders is missing; no form can be made without it."
        )


def _layout(engine: EngineSpecs) -> Iterator[SpecsProblem]:
    """Banks and firing order must each name every cylinder once, and as many as the engine has."""
    if engine.cylinders is not None and not 1 <= engine.cylinders <= MOST_CYLINDERS:
        yield _problem(
            engine,
            "cylinder_count",
            f"a form is for 1 to {MOST_CYLINDERS} cylinders, not {engine.cylinders}.",
        )
        return
    banks = order = None
    try:
        banks = engine.banks
    except ValueError as problem:
        yield _problem(
            engine, "cylinder_banks", f"{problem}. Write each bank from front to rear: 1-3-5-7 | 2-4-6-8."
        )
    try:
        order = engine.firing_order
    except ValueError as problem:
        yield _problem(engine, "firing_order", f"{problem}. Write every cylinder once: 1-3-4-2.")
    if engine.cylinders is None and banks and order and sum(map(len, banks)) != len(order):
        said = f"it names {len(order)} cylinders, the banks name {sum(map(len, banks))}. One of the two is wrong."
        yield _problem(engine, "firing_order", said)


def _out_of_range(engine: EngineSpecs) -> Iterator[SpecsProblem]:
    for column in spec_columns():
        value, field = engine.value(column.name), column.field
        if not isinstance(value, float) or field.kind == "choice" or column.name == "cylinder_count":
            continue
        low, high = plausible_range(field, engine.units)
        if (low is not None and value < low) or (high is not None and value > high):
            unit = field.measure.unit(engine.units)
            usual = " to ".join(f"{limit:g}" for limit in (low, high) if limit is not None)
            said = f"{value:g} {unit}".strip() + f" is outside what is plausible, {usual} {unit}".rstrip()
            yield _problem(engine, column.name, f"{said}. Look it up again.", is_doubt=True)


def _minimum_over_maximum(engine: EngineSpecs) -> Iterator[SpecsProblem]:
    names = {column.name for column in spec_columns()}
    for name in (column.name for column in spec_columns() if MIN in column.name):
        partner = name.replace(MIN, MAX)
        if partner not in names:
            continue
        low, high = engine.value(name), engine.value(partner)
        if isinstance(low, float) and isinstance(high, float) and low > high:
            said = f"the lowest, {low:g}, is above the highest, {high:g} in {engine.where(partner)}. Look both up again."
            yield _problem(engine, name, said)


def _curve(engine: EngineSpecs) -> Iterator[SpecsProblem]:
    """Points of the advance curve: whole, without a gap, from the lowest speed up."""
    last: tuple[int, float] | None = None
    gap: int | None = None
    for number in range(1, _points() + 1):
        speed, *band = (engine.value(f"{name}_{number}") for name in ADVANCE)
        if isinstance(speed, float):
            if gap is not None:
                said = f"point {gap} before it is blank. Move the points up."
                yield _problem(engine, f"{ADVANCE[0]}_{number}", said)
                gap = None
            if last is not None and speed <= last[1]:
                said = f"{speed:g} rpm is not above the {last[1]:g} rpm of point {last[0]}. Write the points from the lowest speed up."
                yield _problem(engine, f"{ADVANCE[0]}_{number}", said)
            last = number, speed
            if all(advance is None for advance in band):
                yield _problem(
                    engine,
                    f"{ADVANCE[1]}_{number}",
                    f"point {number} has a speed and no advance. Add it, or clear the speed.",
                )
        elif any(advance is not None for advance in band):
            yield _problem(
                engine,
                f"{ADVANCE[0]}_{number}",
                f"point {number} has an advance and no speed. Add the speed.",
            )
        elif gap is None:
            gap = number


def _points() -> int:
    return max(column.number or 0 for column in spec_columns() if column.field.name == ADVANCE[0])


def _dwell(engine: EngineSpecs) -> Iterator[SpecsProblem]:
    if engine.cylinders is None or engine.cylinders < 1:
        return
    for name in ("spec_dwell_min", "spec_dwell_max"):
        value, most = engine.value(name), largest_dwell(engine.cylinders)
        if isinstance(value, float) and value > most:
            said = f"{value:g}° is more than the {most:g}° that {engine.cylinders} cylinders leave for one set of points."
            yield _problem(engine, name, said, is_doubt=True)


def _displacement(engine: EngineSpecs) -> Iterator[SpecsProblem]:
    told, bore, stroke = (engine.value(name) for name in ("displacement", "bore", "stroke"))
    if engine.cylinders is None or not all(isinstance(value, float) for value in (told, bore, stroke)):
        return
    swept = displacement(bore, stroke, engine.cylinders)  # type: ignore[arg-type]
    swept *= conversion_factor(_unit("bore", engine.units), _LENGTH_OF_VOLUME[engine.units]) ** 3
    if abs(swept - told) > DISPLACEMENT_DIFFERS * swept:  # type: ignore[operator]
        unit = _unit("displacement", engine.units)
        said = f"bore, stroke and {engine.cylinders} cylinders give {swept:.0f} {unit}, not {told:g}. One of the figures is wrong."
        yield _problem(engine, "displacement", said, is_doubt=True)


def _unit(name: str, units: UnitSystem) -> str:
    return next(column.field.measure.unit(units) for column in spec_columns() if column.name == name)


# --- checks of the whole book ----------------------------------------------------------------------------------------------


def _lost(book: SpecsBook) -> Iterator[SpecsProblem]:
    for name in book.lost:
        head = next(column.head(book.units) for column in spec_columns() if column.name == name)
        yield SpecsProblem(
            "", "", f"The column {head} can't be found: its figures count as blank. Name a column so again."
        )


def _doubles(book: SpecsBook) -> list[SpecsProblem]:
    """Names that stand twice, said at each row but the first."""
    first: dict[str, EngineSpecs] = {}
    found = []
    for engine in book.engines:
        other = first.setdefault(name_key(engine.name), engine)
        if engine.name and other is not engine:
            said = f"the name stands in row {other.row} already; no form can tell which is meant. Keep one row, or rename one."
            found.append(_problem(engine, "engine_name", said))
    return found
