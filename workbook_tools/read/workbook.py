"""Reading a filled workbook back: defined names lead to the cells, labels where a name is lost.

read_workbook(path)     the filled form, or one clear sentence why the file can't be used
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import cached_property, lru_cache
from pathlib import Path

from workbook_tools.errors import BadRequest, EngineCheckError, NotOurWorkbook, UnusableFile
from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHOWN
from workbook_tools.form.ranges import default_for
from workbook_tools.form.the_form import FORM_VERSION
from workbook_tools.generate.workbook import shape_for
from workbook_tools.language.model import Field, Shape
from workbook_tools.layout.layout import layout
from workbook_tools.layout.plan import Place, column_letters
from workbook_tools.package.cells import LAST_ROW, Content, Formula, SheetCells, column_of
from workbook_tools.package.intake import read_file
from workbook_tools.package.parts import Package
from workbook_tools.package.properties import custom_properties
from workbook_tools.read.entries import read_date
from workbook_tools.read.filled_form import FilledForm, FoundCell
from workbook_tools.read.limits import SheetAllowance, refuse_too_long_lists
from workbook_tools.read.other_reader import contents_of
from workbook_tools.read.typing_aids import without_choices, without_highlights
from workbook_tools.science.engine_geometry import banks_text, parse_banks

#: Where a sheet has lost all its names, no cell of the form can be further down or right than this.
FURTHEST_ROW, FURTHEST_COLUMN = 2000, 200
IDENTITY = ("form_version", "unit_system", "form_cylinders", "form_banks")


def read_workbook(path: str | Path, package: Package | None = None) -> FilledForm:
    """The filled form in a workbook; `package` where its file was opened before.

    Raises NotOurWorkbook for a workbook without our names, UnusableFile for a file that can't be read at all.
    """
    path = Path(path)
    book = _Book(path, package or Package(read_file(path), str(path)))
    shape, version, changed = _identity(path, book)
    book.name_as_today(version)
    finder = _Finder(book, shape)
    cells: dict[str, FoundCell] = {}
    lost: list[str] = []
    for name, cell in the_form.cells(shape).items():
        found = finder.find(cell)
        if found is not None:
            cells[name] = found
        elif cell.since <= version:
            lost.append(name)
    if not cells:
        raise NotOurWorkbook(
            f"{path} has none of the cells of an engine-check form; engine-check new makes one."
        )
    return FilledForm(
        path=path,
        shape=shape,
        form_version=version,
        cells=cells,
        lost=tuple(lost),
        renamed_sheets=finder.renamed,
        hidden_sheets=frozenset(book.sheets.hidden),
        changed_identity=tuple(changed),
        epoch=book.epoch,
        digest=_digest(cells, book.epoch),
        left_out=_left_out(book, shape, cells),
        without_choices=without_choices(cells.values(), book.xml_of),
        without_highlights=without_highlights(cells.values(), book.xml_of),
    )


class _Book:
    """The user's workbook: its cells by title and address, its names, and what it says of itself."""

    def __init__(self, path: Path, package: Package) -> None:
        self.path = path
        self.package = package
        self.sheets = SheetCells(package)
        refuse_too_long_lists(package, self.sheets)
        self._allowance = SheetAllowance(package)
        with reading(path):
            self.references = {
                name: place
                for name, place in self.sheets.names.items()
                if _row_and_column(place[1])[0] <= LAST_ROW
            }
            self.properties = custom_properties(package)
        self.epoch = self.sheets.epoch
        self._contents: dict[str, dict[str, Content]] = {}

    def name_as_today(self, version: int) -> None:
        """Give names that a form of that version has for something else to what has them today."""
        for name, (now, since) in the_form.TAKEN_OVER.items():
            if version < since and name in self.references:
                self.references[now] = self.references.pop(name)

    @property
    def titles(self) -> list[str]:
        """Titles of the worksheets."""
        return list(self.sheets.parts)

    def xml_of(self, title: str) -> bytes:
        """A sheet's XML as it stands in the file."""
        return self.package.bytes_of(self.sheets.parts[title])

    def content(self, title: str, address: str) -> Content:
        """What was typed into a cell: a value, or a formula."""
        return self.contents(title).get(address)

    def contents(self, title: str) -> dict[str, Content]:
        """All cells of a sheet that hold anything, by address; those that nobody could type into are left alone."""
        if title not in self._contents:
            self._allowance.use(self.sheets.parts[title])
            last_row, last_column = self._furthest.get(title, (FURTHEST_ROW, FURTHEST_COLUMN))
            with reading(self.path):
                self._contents[title] = contents_of(self.sheets, title, last_row, last_column)
        return self._contents[title]

    @cached_property
    def _furthest(self) -> dict[str, tuple[int, int]]:
        """The last row and column, from 1, that a name leads to, by sheet."""
        found: dict[str, tuple[int, int]] = {}
        for title, address in self.references.values():
            row, column = _row_and_column(address)
            last_row, last_column = found.get(title, (1, 1))
            found[title] = max(row, last_row), min(max(column, last_column), FURTHEST_COLUMN)
        return found

    def look_everywhere(self, title: str) -> None:
        """Read a sheet as far as any form goes: where names are lost, the others don't tell where its last cell is."""
        self._furthest[title] = (FURTHEST_ROW, FURTHEST_COLUMN)
        self._contents.pop(title, None)

    def stored(self, title: str, address: str) -> object:
        """The stored result of a formula."""
        found = self.sheets.stored(title, address)
        return None if found == "" else found


@lru_cache(maxsize=8192)
def _row_and_column(address: str) -> tuple[int, int]:
    letters = address.rstrip("0123456789")
    return int(address[len(letters) :]), column_of(letters)


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """Say of a file that reading stumbles over that it is damaged, instead of a traceback."""
    try:
        yield
    except EngineCheckError:
        raise
    except (
        KeyError,
        ValueError,
        TypeError,
        AttributeError,
        IndexError,
        OSError,
        SyntaxError,
        EOFError,
    ) as problem:
        # What the reader stumbled over is said in a programmer's words; it stays in the exception's cause.
        raise UnusableFile(
            f"{path} is damaged and can't be read; open it in a spreadsheet program and save it again, "
            "or take it from a backup."
        ) from problem


def _identity(path: Path, book: _Book) -> tuple[Shape, int, list[tuple[str, str, str]]]:
    """Shape and form version from the custom properties, from the named cells where a program dropped those."""
    told: dict[str, str] = {}
    changed = []
    for name in IDENTITY:
        text = _text_at(book, name)
        kept = book.properties.get(name, "").strip()
        told[name] = kept or text
        if text and kept and not _same_word(text, kept):
            changed.append((name, text, kept))
    if not any(told.values()):
        if book.references.keys() & the_form.cells(shape_for(1, None, "us")).keys():
            raise NotOurWorkbook(
                f"{path} holds only some of the sheets of an engine-check form, without what the form was made for (on sheet "
                "Cautions); check the workbook they were copied from, or copy the readings into a new form."
            )
        raise NotOurWorkbook(
            f"{path} is a workbook, but no engine-check form: it has none of the form's names. "
            "The command engine-check new makes one."
        )
    try:
        version, cylinders = int(float(told["form_version"])), int(float(told["form_cylinders"]))
        units = told["unit_system"].lower() or "us"
        shape = shape_for(cylinders, told["form_banks"] or None, units, _currency(book))  # type: ignore[arg-type]
    except (ValueError, BadRequest) as problem:
        raise UnusableFile(
            f"{path}: what the form says of itself on sheet Cautions can't be read ({problem}); "
            "copy the readings into a new form."
        ) from problem
    if version > FORM_VERSION:
        raise UnusableFile(
            f"{path} was made by a newer program (form version {version}); update engine-check."
        )
    return shape, version, changed + _changed_on_engine(book, shape)


def _currency(book: _Book) -> str:
    """The sign from the properties, from its cell where a program spoilt it there; it is only shown with amounts."""
    for text in (book.properties.get("form_currency", "").strip(), _text_at(book, "form_currency")):
        with suppress(BadRequest):
            return shape_for(1, None, "us", text).currency
    return "$"


def _left_out(book: _Book, shape: Shape, cells: Mapping[str, FoundCell]) -> frozenset[str]:
    """Sheets that the form was made without by choice; one on which something was typed is a sheet like the others."""
    told = book.properties.get("form_sheets", "").strip() or _text_at(book, "form_sheets")
    chosen = {name.strip() for name in told.split(",")}
    known = {sheet.name for sheet in SHOWN}
    if not told or not chosen <= known:
        return frozenset()
    typed = {
        cell.form.sheet.name
        for cell in cells.values()
        if isinstance(cell.form.item, Field)
        and not cell.form.item.locked
        and cell.raw not in (None, "", default_for(cell.form.item, shape, cell.form.number))
    }
    return frozenset(known - chosen - typed)


def _text_at(book: _Book, name: str) -> str:
    """A named cell's value as text, '' where there is none."""
    return _as_text(book.content(*book.references[name])) if name in book.references else ""


def _as_text(value: object) -> str:
    """A number without a useless `.0`, whatever a program made of it; '' for nothing."""
    return "" if value is None else f"{value:g}" if isinstance(value, (int, float)) else str(value).strip()


def _changed_on_engine(book: _Book, shape: Shape) -> list[tuple[str, str, str]]:
    """Cylinders and banks on sheet Engine where they are no longer what the form was made for."""
    changed = []
    for name, made_for in (
        ("cylinder_count", str(shape.cylinders)),
        ("cylinder_banks", banks_text(shape.banks)),
    ):
        text = _text_at(book, name)
        if name == "cylinder_banks" and text:
            with suppress(ValueError):
                text = banks_text(parse_banks(text, shape.cylinders))
        if text and not _same_word(text, made_for):
            changed.append((name, text, made_for))
    return changed


def _same_word(one: str, other: str) -> bool:
    return re.sub(r"\s", "", one).casefold() == re.sub(r"\s", "", other).casefold()


class _Finder:
    """Finds the cells of the form: by name, else by sheet and label."""

    def __init__(self, book: _Book, shape: Shape) -> None:
        self.book = book
        self.shape = shape
        self.titles = self._titles(shape)
        self.renamed = {form: title for form, title in self.titles.items() if form != title}
        self.labels: dict[str, dict[str, list[int]]] = {}
        cells = the_form.cells(shape)
        nameless = {cells[name].sheet.name for name in cells.keys() - book.references.keys()}
        for title in (self.titles[sheet] for sheet in nameless & self.titles.keys()):
            book.look_everywhere(title)

    def _titles(self, shape: Shape) -> dict[str, str]:
        """Form sheet to the title it has now: where most of its names lead, else the sheet of that name."""
        references = self.book.references
        votes = Counter(
            (cell.sheet.name, references[name][0])
            for name, cell in the_form.cells(shape).items()
            if name in references
        )
        first = {form: title for (form, title), _ in reversed(votes.most_common())}
        titles = {form: first[form] for form, _ in votes}
        for cell in the_form.cells(shape).values():
            if cell.sheet.name not in titles and cell.sheet.name in self.book.titles:
                titles[cell.sheet.name] = cell.sheet.name
        return titles

    @cached_property
    def places(self) -> Mapping[str, Place]:
        """Where the layout puts each cell: worked out only where a name is lost."""
        return layout(self.shape).cells

    def find(self, cell: the_form.Cell) -> FoundCell | None:
        """The cell in the workbook, None where neither name nor label leads to it."""
        by_name = cell.name in self.book.references
        if not by_name and not isinstance(cell.item, Field):
            # A result is recomputed anyway; what stands where it might have been says nothing.
            return None
        place = self.book.references[cell.name] if by_name else self._by_label(self.places[cell.name])
        if place is None:
            return None
        title, address = place
        content = self.book.content(title, address)
        if isinstance(content, Formula):
            return FoundCell(cell, title, address, self.book.stored(title, address), content.text, by_name)
        return FoundCell(cell, title, address, content, None, by_name)

    def _by_label(self, place: Place) -> tuple[str, str] | None:
        """Sheet and address of a cell whose label stands where the layout puts it, or moved together with it."""
        title = self.titles.get(place.sheet)
        if title is None:
            return None
        rows = self._labels(title).get(place.row_label, [])
        if place.row not in rows and len(rows) != 1:
            return None
        row = place.row if place.row in rows else rows[0]
        return title, f"{column_letters(place.column)}{row + 1}"

    def _labels(self, title: str) -> dict[str, list[int]]:
        """Texts in column A of a sheet, with the rows they stand in."""
        if title not in self.labels:
            found: dict[str, list[int]] = {}
            for address, value in self.book.contents(title).items():
                if address[0] == "A" and address[1:].isdigit():
                    found.setdefault(str(value), []).append(int(address[1:]) - 1)
            self.labels[title] = found
        return self.labels[title]


def _digest(cells: Mapping[str, FoundCell], epoch: dt.datetime) -> str:
    """SHA-256 over what was typed, the same whichever program saved it and whether or not findings were added."""
    typed = (
        repr((name, _plain(cells[name].raw, item, epoch)))
        for name in sorted(cells)
        if isinstance(item := cells[name].form.item, Field)
    )
    return hashlib.sha256("".join(typed).encode()).hexdigest()


def _plain(raw: object, item: Field, epoch: dt.datetime) -> object:
    """A day as programs write it: as a day, a moment, or the number of one whose format is not seen."""
    if item.kind == "date" and not isinstance(raw, str):
        day = read_date(raw, epoch).value
        raw = dt.datetime.combine(day, dt.time()) if isinstance(day, dt.date) else raw
    if isinstance(raw, (dt.date, dt.time)):
        return raw.isoformat()
    return float(raw) if isinstance(raw, int) else raw
