"""Reading a filled workbook back: openpyxl opens it, defined names lead to the cells, labels where a name is lost.

    read_workbook(path)     the filled form, or one clear sentence why the file can't be used
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import warnings
import zipfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from xml.etree.ElementTree import ParseError

from openpyxl import load_workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904, MAC_EPOCH, WINDOWS_EPOCH
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.workbook.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from workbook_tools.engine_geometry import banks_text, parse_banks
from workbook_tools.errors import BadRequest, NotOurWorkbook, UnusableFile
from workbook_tools.form import whole
from workbook_tools.form.model import Shape
from workbook_tools.form.whole import FORM_VERSION
from workbook_tools.generate.layout import layout
from workbook_tools.generate.plan import Place
from workbook_tools.generate.workbook import shape_for
from workbook_tools.read.filled_form import FilledForm, FoundCell

IDENTITY = ("form_version", "unit_system", "form_cylinders", "form_banks")
REFERENCE = re.compile(r"^=?'?((?:[^'!]|'')+)'?!\$?([A-Z]{1,3})\$?([0-9]{1,7})$")


def read_workbook(path: str | Path) -> FilledForm:
    """The filled form in a workbook.

    Raises NotOurWorkbook for a workbook without our names, UnusableFile for a file that can't be read at all.
    """
    path = Path(path)
    formulas, stored = _open(path, values=False), _open(path, values=True)
    references = dict(_references(formulas))
    shape, version, changed = _identity(path, stored, references)
    finder = _Finder(formulas, stored, references, shape)
    cells: dict[str, FoundCell] = {}
    lost: list[str] = []
    for name, cell in whole.cells(shape).items():
        found = finder.find(cell)
        if found is None:
            lost.append(name)
        else:
            cells[name] = found
    if not cells:
        raise NotOurWorkbook(f"{path} has none of the cells of an engine-check form.")
    epoch = MAC_EPOCH if stored.epoch == CALENDAR_MAC_1904 else WINDOWS_EPOCH
    hidden = frozenset(sheet.title for sheet in formulas.worksheets if sheet.sheet_state != "visible")
    return FilledForm(
        path=path,
        shape=shape,
        form_version=version,
        cells=cells,
        lost=tuple(lost),
        renamed_sheets=finder.renamed,
        hidden_sheets=hidden,
        changed_identity=tuple(changed),
        epoch=epoch,
        digest=_digest(cells),
    )


def _open(path: Path, *, values: bool) -> Workbook:
    try:
        with warnings.catch_warnings():
            # Parts that openpyxl would lose on saving don't concern a reader.
            warnings.simplefilter("ignore")
            return load_workbook(path, data_only=values, keep_links=False)
    except FileNotFoundError as problem:
        raise UnusableFile(f"{path} does not exist; check the name.") from problem
    except PermissionError as problem:
        raise UnusableFile(f"{path} can't be read: no permission.") from problem
    except (InvalidFileException, zipfile.BadZipFile) as problem:
        raise UnusableFile(f"{path} is no .xlsx or .xlsm workbook; save it as .xlsx and try again.") from problem
    except (KeyError, ValueError, TypeError, AttributeError, IndexError, OSError, ParseError, EOFError) as problem:
        reason = str(problem).splitlines()[0] if str(problem) else type(problem).__name__
        raise UnusableFile(f"{path} is damaged and can't be read ({reason}); open it and save it again.") from problem


def _references(book: Workbook) -> Iterator[tuple[str, tuple[str, str]]]:
    """Defined names that lead to one cell: name, (sheet title, address)."""
    titles = set(book.sheetnames)
    for name, defined in book.defined_names.items():
        match = REFERENCE.match(defined.attr_text or "")
        if match and match.group(1).replace("''", "'") in titles:
            yield name, (match.group(1).replace("''", "'"), match.group(2) + match.group(3))


def _identity(
    path: Path, book: Workbook, references: Mapping[str, tuple[str, str]]
) -> tuple[Shape, int, list[tuple[str, str, str]]]:
    """Shape and form version from the named cells, from the custom properties where a cell is lost or changed."""
    kept: dict[str, str] = {}
    for prop in book.custom_doc_props.props:
        kept[prop.name] = str(prop.value)
    told: dict[str, str] = {}
    changed = []
    for name in IDENTITY:
        cell = None
        if name in references:
            sheet, address = references[name]
            cell = book[sheet][address].value
        text = "" if cell is None else (f"{cell:g}" if isinstance(cell, float) else str(cell)).strip()
        told[name] = kept.get(name, text).strip() or text
        if text and name in kept and not _same_word(text, kept[name]):
            changed.append((name, text, kept[name]))
    if not any(told.values()):
        raise NotOurWorkbook(
            f"{path} is a workbook, but no engine-check form: it has none of the form's names. "
            "Make a form with: engine-check new"
        )
    try:
        version, cylinders = int(float(told["form_version"])), int(float(told["form_cylinders"]))
        shape = shape_for(cylinders, told["form_banks"] or None, told["unit_system"].lower() or "us")  # type: ignore[arg-type]
    except (ValueError, BadRequest) as problem:
        raise UnusableFile(
            f"{path}: what the form says of itself on sheet Cautions can't be read ({problem}); "
            "copy the readings into a new form."
        ) from problem
    if version > FORM_VERSION:
        raise UnusableFile(f"{path} was made by a newer program (form version {version}); update engine-check.")
    changed += _changed_on_engine(book, references, shape)
    return shape, version, changed


def _changed_on_engine(
    book: Workbook, references: Mapping[str, tuple[str, str]], shape: Shape
) -> list[tuple[str, str, str]]:
    """Cylinders and banks on sheet Engine where they are no longer what the form was made for."""
    changed = []
    for name, made_for in (("cylinder_count", str(shape.cylinders)), ("cylinder_banks", banks_text(shape.banks))):
        if name not in references:
            continue
        sheet, address = references[name]
        cell = book[sheet][address].value
        text = "" if cell is None else f"{cell:g}" if isinstance(cell, (int, float)) else str(cell)
        if name == "cylinder_banks" and text:
            try:
                text = banks_text(parse_banks(text, shape.cylinders))
            except ValueError:
                pass
        if text and not _same_word(text, made_for):
            changed.append((name, text, made_for))
    return changed


def _same_word(one: str, other: str) -> bool:
    return re.sub(r"\s", "", one).casefold() == re.sub(r"\s", "", other).casefold()


class _Finder:
    """Finds the cells of the form: by name, else by sheet and label."""

    def __init__(
        self, formulas: Workbook, stored: Workbook, references: Mapping[str, tuple[str, str]], shape: Shape
    ) -> None:
        self.formulas, self.stored, self.references = formulas, stored, references
        self.places = layout(shape).cells
        self.titles = self._titles(shape)
        self.renamed = {form: title for form, title in self.titles.items() if form != title}
        self.labels: dict[str, dict[str, list[tuple[int, int]]]] = {}

    def _titles(self, shape: Shape) -> dict[str, str]:
        """Form sheet to the title it has now: where most of its names lead, else the sheet of that name."""
        votes: dict[str, dict[str, int]] = {}
        for name, cell in whole.cells(shape).items():
            if name in self.references:
                count = votes.setdefault(cell.sheet.name, {})
                title = self.references[name][0]
                count[title] = count.get(title, 0) + 1
        titles = {form: max(count, key=lambda title: count[title]) for form, count in votes.items()}
        for place in self.places.values():
            if place.sheet not in titles and place.sheet in self.formulas.sheetnames:
                titles[place.sheet] = place.sheet
        return titles

    def find(self, cell: whole.Cell) -> FoundCell | None:
        """The cell in the workbook, None where neither name nor label leads to it."""
        by_name = cell.name in self.references
        if by_name:
            title, address = self.references[cell.name]
        else:
            spot = self._by_label(self.places[cell.name])
            if spot is None:
                return None
            title, address = spot
        raw = self.stored[title][address].value
        content = self.formulas[title][address].value
        formula = getattr(content, "text", content) if _holds_formula(content) else None
        return FoundCell(cell, title, address, raw, formula if formula is None else str(formula), by_name)

    def _by_label(self, place: Place) -> tuple[str, str] | None:
        """Sheet and address of a cell whose label stands where the layout puts it, or moved together with it."""
        title = self.titles.get(place.sheet)
        if title is None:
            return None
        sheet: Worksheet = self.formulas[title]
        spots = self._labels(sheet).get(place.row_label, [])
        if len(spots) != 1 and (place.row, 0) not in spots:
            return None
        row = place.row if (place.row, 0) in spots else spots[0][0]
        return title, sheet.cell(row + 1, place.column + 1).coordinate

    def _labels(self, sheet: Worksheet) -> dict[str, list[tuple[int, int]]]:
        if sheet.title not in self.labels:
            found: dict[str, list[tuple[int, int]]] = {}
            for (row, column), cell in sheet._cells.items():  # noqa: SLF001 - only the cells that exist
                if column == 1 and cell.value is not None:
                    found.setdefault(str(cell.value), []).append((row - 1, 0))
            self.labels[sheet.title] = found
        return self.labels[sheet.title]


def _holds_formula(content: object) -> bool:
    return (isinstance(content, str) and content.startswith("=")) or hasattr(content, "ref")


def _digest(cells: Mapping[str, FoundCell]) -> str:
    """SHA-256 over what was read, so that a placed findings sheet does not change it."""
    summed = hashlib.sha256()
    for name in sorted(cells):
        cell = cells[name]
        summed.update(repr((name, _plain(cell.raw), cell.formula)).encode())
    return summed.hexdigest()


def _plain(raw: object) -> object:
    return raw.isoformat() if isinstance(raw, (dt.date, dt.time)) else raw
