"""The shop's own table of engine specifications: one row an engine, read back from its workbook.

    read_specs(path)            the book: its engines, and what each cell says
    SpecsBook.engine(name)      one engine, or a clear sentence with the names that are near

The columns are the fields of sheet Engine, so that a specification added to the form is a column of the book too.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from pathlib import Path

from workbook_tools.errors import BadRequest, NotOurWorkbook, UnusableFile
from workbook_tools.form.the_form import Cell
from workbook_tools.language.model import Block, Field, Shape, Table, UnitSystem, Value, cell_name
from workbook_tools.package.cells import LAST_ROW, Content, Formula, SheetCells
from workbook_tools.package.intake import read_file
from workbook_tools.package.parts import Package
from workbook_tools.package.properties import custom_properties
from workbook_tools.read.entries import Entry
from workbook_tools.read.filled_form import FoundCell, entry_of
from workbook_tools.read.limits import SheetAllowance, refuse_too_long_lists
from workbook_tools.read.other_reader import contents_of
from workbook_tools.read.workbook import reading
from workbook_tools.science.engine_geometry import parse_banks, parse_firing_order
from workbook_tools.science.units import convert
from workbook_tools.sheets.engine import ENGINE
from workbook_tools.specs.shop import ShopData, read_shop

SPECS_VERSION = 1
SHEET = "Engines"
#: A column is known by a name of the workbook that leads to its head; the field's name stands behind this.
COLUMN_NAME = "column_"
#: Heads are looked for in so many rows where a column has lost its name.
HEAD_WITHIN_ROWS, FURTHEST_COLUMN = 40, 400
#: How like a name must be to be suggested (difflib's ratio), and how many are.
NEAR_ENOUGH, SUGGESTED_AT_MOST = 0.55, 4
#: Figures kept of a specification that is converted to the form's units.
KEPT_FIGURES = 4


@dataclass(frozen=True)
class SpecColumn:
    """One column of the book: the cell of sheet Engine that it fills, and the heading of the form it belongs to."""

    name: str
    field: Field
    number: int | None
    group: str
    row_label: str = ""

    @property
    def label(self) -> str:
        """The field's label, `Point 1, speed` where it repeats."""
        label = self.field.label
        return (
            label if self.number is None else f"{self.row_label} {self.number}, {label[0].lower()}{label[1:]}"
        )

    def head(self, units: UnitSystem) -> str:
        """The column's head, label and unit: `Point 1, speed, rpm`."""
        return ", ".join(part for part in (self.label, self.field.measure.unit(units)) if part)


@lru_cache(maxsize=1)
def spec_columns() -> tuple[SpecColumn, ...]:
    """The columns in the order of sheet Engine, the points of a curve one after the other."""
    columns: list[SpecColumn] = []
    for part in ENGINE.parts:
        if isinstance(part, Block):
            fields = [item for item in part.items if isinstance(item, Field)]
            columns += [SpecColumn(field.name, field, None, part.title) for field in fields]
        elif isinstance(part, Table) and isinstance(part.per, int):
            fields = [item for item in part.columns if isinstance(item, Field)]
            columns += [
                SpecColumn(cell_name(field.name, number), field, number, part.title, part.row_label)
                for number in range(1, part.per + 1)
                for field in fields
            ]
    return tuple(columns)


@dataclass(frozen=True)
class EngineSpecs:
    """One engine of the book: what each of its cells says, by the names of sheet Engine, in the book's units."""

    row: int
    units: UnitSystem
    cells: Mapping[str, FoundCell] = field(repr=False)
    entries: Mapping[str, Entry] = field(repr=False)

    @property
    def name(self) -> str:
        """The engine's name, '' where there is none."""
        return str(self.value("engine_name") or "")

    def value(self, name: str) -> Value:
        """What a cell says, in the book's units; None where it is blank or can't be read."""
        entry = self.entries.get(name)
        value = None if entry is None or entry.problem else entry.value
        return float(value) if isinstance(value, int) else value  # type: ignore[return-value]

    def value_in(self, name: str, units: UnitSystem) -> Value:
        """What a cell says in another unit system, to four figures."""
        value, measure = self.value(name), _columns()[name].field.measure
        source, target = measure.unit(self.units), measure.unit(units)
        if not isinstance(value, float) or source == target:
            return value
        return float(f"{convert(value, source, target):.{KEPT_FIGURES}g}")

    def where(self, name: str) -> str:
        """Sheet and cell, `Engines!D7`."""
        return self.cells[name].where if name in self.cells else f"row {self.row}"

    @property
    def cylinders(self) -> int | None:
        """How many cylinders, None where the book does not say."""
        count = self.value("cylinder_count")
        return int(count) if isinstance(count, float) else None

    @property
    def banks(self) -> tuple[tuple[int, ...], ...] | None:
        """The banks front to rear; None where they are blank. Raises ValueError where they name no banks."""
        text = self.value("cylinder_banks")
        return parse_banks(str(text), self.cylinders) if text else None

    @property
    def firing_order(self) -> tuple[int, ...] | None:
        """The firing order; None where it is blank. Raises ValueError where it is none."""
        text = self.value("firing_order")
        return parse_firing_order(str(text), self.cylinders) if text else None


@dataclass(frozen=True)
class SpecsBook:
    """A specs book: its unit system, its engines in the order of the rows, and the columns that were not found."""

    path: Path
    units: UnitSystem
    engines: tuple[EngineSpecs, ...]
    lost: tuple[str, ...]
    shop: ShopData = ShopData()

    def engine(self, name: str) -> EngineSpecs:
        """The engine of that name; capitals and spaces make no difference.

        Raises BadRequest where the book has none, with the names that are near, or has more than one.
        """
        found = [engine for engine in self.engines if name_key(engine.name) == name_key(name) != ""]
        if len(found) == 1:
            return found[0]
        if found:
            rows = " and ".join(str(engine.row) for engine in found)
            raise BadRequest(f"{self.path} has {name} more than once, in rows {rows}; keep one of them.")
        raise BadRequest(f"{self.path} has no engine named '{name}'{self._instead(name)}.")

    def near(self, name: str) -> list[str]:
        """Names of the book that look like `name`, the nearest first."""
        by_key = {name_key(engine.name): engine.name for engine in self.engines if engine.name}
        key = name_key(name)
        import difflib

        near = difflib.get_close_matches(key, by_key, n=SUGGESTED_AT_MOST, cutoff=NEAR_ENOUGH)
        near += [each for each in by_key if key and key in each and each not in near]
        return [by_key[each] for each in near[:SUGGESTED_AT_MOST]]

    def _instead(self, name: str) -> str:
        near, named = self.near(name), [engine.name for engine in self.engines if engine.name]
        if near:
            return f"; use one that is near to it: {', '.join(near)}"
        more = f" and {len(named) - SUGGESTED_AT_MOST} more" if len(named) > SUGGESTED_AT_MOST else ""
        return (
            f"; it has {', '.join(named[:SUGGESTED_AT_MOST])}{more}: use one of these"
            if named
            else "; it is still empty, so add one"
        )

    @cached_property
    def digest(self) -> str:
        """SHA-256 over the units and all that the book says of its engines, in whatever order the rows stand."""
        rows = sorted(
            repr(sorted((name, repr(entry.value)) for name, entry in engine.entries.items()))
            for engine in self.engines
        )
        return hashlib.sha256(repr((self.units, rows)).encode()).hexdigest()


def name_key(name: str) -> str:
    """An engine's name as names are compared: without regard to capitals and spaces."""
    return re.sub(r"\s+", "", name).casefold()


def read_specs(path: str | Path) -> SpecsBook:
    """The specs book in a workbook.

    Raises NotOurWorkbook for another workbook, UnusableFile for a file that can't be read or a book of a newer program.
    """
    return _Reader(Path(path)).book()


@lru_cache(maxsize=1)
def _columns() -> dict[str, SpecColumn]:
    return {column.name: column for column in spec_columns()}


class _Reader:
    """Reads one book."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.package = Package(read_file(path), str(path))
        self.sheets = SheetCells(self.package)
        refuse_too_long_lists(self.package, self.sheets)
        self._allowance = SheetAllowance(self.package)
        with reading(path):
            self.names = self.sheets.names
            self.properties = custom_properties(self.package)
        self.epoch = self.sheets.epoch

    def book(self) -> SpecsBook:
        units = self._identity()
        title, rows = self._rows()
        heads = self._heads(rows, title, units)
        if "engine_name" not in heads:
            raise UnusableFile(
                f"{self.path}: the column of engine names can't be found; copy the engines into a new book, which "
                "engine-check specs NEW.xlsx makes."
            )
        first = heads["engine_name"][0]
        columns = {name: letters for name, (_, letters) in heads.items()}
        engines = [
            engine
            for number, row in sorted(rows.items())
            if number > first and (engine := self._engine(number, row, columns, title, units)) is not None
        ]
        lost = tuple(column.name for column in spec_columns() if column.name not in heads)
        with reading(self.path):
            shop = read_shop(self.package, self.sheets, units, self.epoch)
        return SpecsBook(self.path, units, tuple(engines), lost, shop)

    def _identity(self) -> UnitSystem:
        """The unit system. Raises NotOurWorkbook where the workbook does not say that it is a specs book."""
        told = {
            name: self.properties.get(name, "").strip() or self._text_at(name)
            for name in ("specs_version", "specs_units")
        }
        if not all(told.values()):
            raise NotOurWorkbook(f"{self.path} is no specs book; engine-check specs NEW.xlsx makes one.")
        version, units = told["specs_version"], told["specs_units"].lower()
        if not version.isdigit() or units not in ("us", "metric"):
            raise UnusableFile(
                f"{self.path}: what the book says of itself can't be read (version {version}, units {units}); "
                "copy the engines into a new book."
            )
        if int(version) > SPECS_VERSION:
            raise UnusableFile(
                f"{self.path} was made by a newer program (version {version}); update engine-check."
            )
        return units  # type: ignore[return-value]

    def _text_at(self, name: str) -> str:
        if name not in self.names:
            return ""
        title, address = self.names[name]
        with reading(self.path):
            value = self.sheets.stored(title, address)
        return f"{value:g}" if isinstance(value, (int, float)) else str(value or "").strip()

    def _rows(self) -> tuple[str, dict[int, dict[str, Content]]]:
        """Title of the sheet of engines, and what its cells hold, by row and column letters."""
        title = self.names.get(COLUMN_NAME + "engine_name", (SHEET, ""))[0]
        if title not in self.sheets.parts:
            raise UnusableFile(f"{self.path}: sheet {title} is missing; copy the engines into a new book.")
        self._allowance.use(self.sheets.parts[title])
        rows: dict[int, dict[str, Content]] = {}
        with reading(self.path):
            for address, content in contents_of(self.sheets, title, LAST_ROW, FURTHEST_COLUMN).items():
                letters = address.rstrip("0123456789")
                rows.setdefault(int(address[len(letters) :]), {})[letters] = content
        return title, rows

    def _heads(
        self, rows: Mapping[int, Mapping[str, Content]], title: str, units: UnitSystem
    ) -> dict[str, tuple[int, str]]:
        """Row and column letters of each head: by name, else by its words."""
        words = {
            str(value).strip(): (number, letters)
            for number, row in sorted(rows.items(), reverse=True)
            if number <= HEAD_WITHIN_ROWS
            for letters, value in row.items()
        }
        found: dict[str, tuple[int, str]] = {}
        for column in spec_columns():
            place = self.names.get(COLUMN_NAME + column.name)
            if place is not None and place[0] == title:
                letters = place[1].rstrip("0123456789")
                found[column.name] = int(place[1].removeprefix(letters)), letters
            elif column.head(units) in words:
                found[column.name] = words[column.head(units)]
        return found

    def _engine(
        self,
        number: int,
        row: Mapping[str, Content],
        columns: Mapping[str, str],
        title: str,
        units: UnitSystem,
    ) -> EngineSpecs | None:
        """The engine in a row, None where the row is blank."""
        shape = Shape(1, ((1,),), units)
        cells: dict[str, FoundCell] = {}
        entries: dict[str, Entry] = {}
        for name, letters in columns.items():
            column = _columns()[name]
            raw, formula = self._content(title, f"{letters}{number}", row.get(letters))
            cells[name] = FoundCell(
                Cell(name, column.field, column.number, ENGINE), title, f"{letters}{number}", raw, formula
            )
            entries[name] = entry_of(cells[name], shape, self.epoch)
        if all(entry.value is None and not entry.problem for entry in entries.values()):
            return None
        return EngineSpecs(number, units, cells, entries)

    def _content(self, title: str, address: str, held: Content) -> tuple[object, str | None]:
        """What a cell holds; the stored result and the text where it is a formula."""
        if not isinstance(held, Formula):
            return held, None
        with reading(self.path):
            stored = self.sheets.stored(title, address)
        return (None if stored == "" else stored), held.text
