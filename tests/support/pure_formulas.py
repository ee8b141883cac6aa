"""A second formula engine, in pure Python, for machines without LibreOffice and as a second opinion with it.

    Model(path).evaluate({"compression_dry_1": 150}, ["compression_lowest"])

The PyPI package `formulas` parses and calculates each single formula. Finding cells by name and the order of
calculation are done here: the package's own workbook model takes 18 s to load a book of 1,000 formulas over
2,000 names (0.2 s here), and this way formulas that differ only in the cells they look at are compiled once,
and calculated once for the same values: about 2 ms a formula, next to nothing for one seen before.

What `formulas` 1.3.4 calculates otherwise than LibreOffice 7.4, found by comparing 230 formulas:

repaired in `formula_repairs.py`
    ROUND of numbers that only look like a half (1.005); comparisons past the 15th digit; numbers joined to
    text with 16 or 17 digits; "12" typed as text, counted as a number by COUNT, SUM, ISNUMBER and their like;
    TEXT rounding halves to even; `--` before a truth value
repaired here
    numbers with an unsigned exponent (1E15), which it cannot parse
left, not to be used in a form that this engine checks
    COUNTIF with "<>" or "?*" (wrong count); TRIM of inner spaces (kept); a range where one cell is meant
    (first cell, where programs intersect)
left, as programs differ there anyway
    which error value an impossible MEDIAN, SMALL, SQRT or INDEX shows (#NUM! or #REF! here); TRUE joined to
    text ("TRUE" here, "1" in LibreOffice); a number of 1E21 joined to text; numbers written as text inside
    SUM or MIN
"""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import formulas
import numpy as np
import openpyxl
import schedula
from formulas.functions import XlError
from formulas.ranges import Ranges
from formulas.tokens.operand import Error
from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token
from openpyxl.utils.cell import coordinate_to_tuple, get_column_letter
from openpyxl.utils.datetime import to_excel
from openpyxl.worksheet.formula import ArrayFormula

from tests.support.formula_repairs import apply_repairs
from tests.support.office import CellError, Entry, Value

apply_repairs()

Place = tuple[str, int, int]
Area = tuple[str, int, int, int, int]
ADDRESS = re.compile(
    r"(?:'(?P<quoted>(?:[^']|'')+)'!|(?P<plain>[^'!]+)!)?\$?(?P<c1>[A-Z]{1,3})\$?(?P<r1>\d+)"
    r"(?::\$?(?P<c2>[A-Z]{1,3})\$?(?P<r2>\d+))?",
    re.IGNORECASE,
)


class FormulaError(ValueError):
    """A workbook, name or formula that this engine cannot calculate; the message says which and where."""


class Model:
    """A workbook calculated without a spreadsheet program, for one set of entries after another.

    Raises FormulaError for a formula that cannot be parsed, a name or address that leads nowhere, and a
    circle.
    """

    def __init__(self, workbook: Path) -> None:
        book = openpyxl.load_workbook(workbook)
        try:
            self._contents = {
                (sheet.title, cell.row, cell.column): _content(cell.value, cell.data_type)
                for sheet in book.worksheets
                for row in sheet.iter_rows()
                for cell in row
                if cell.value is not None
            }
            self._names = {name.casefold(): defined.attr_text for name, defined in book.defined_names.items()}
            self._spelling = list(book.defined_names)
        finally:
            book.close()
        self._compiled: dict[str, Any] = {}
        self._prepared: dict[Place, tuple[str, list[Area]]] = {}
        self._known: dict[tuple[Any, ...], Any] = {}  # results by formula and what it looked at
        self._results: dict[Place, Any] = {}
        self._entries: dict[Place, Any] = {}

    def evaluate(
        self, values: Mapping[str, Entry] | None = None, names: Iterable[str] | None = None
    ) -> dict[str, Value]:
        """Calculated values by defined name, after `values` were typed over the workbook's own contents.

        Without `names`: every workbook-level name of a single cell. Values as `Office.read_names` gives them.
        """
        self._results = {}
        self._entries = {self._place(name): _entry(value) for name, value in (values or {}).items()}
        if names is None:
            names = [name for name in self._spelling if self._is_cell(name)]
        return {name: _as_value(self._cell(self._place(name))) for name in names}

    def _area(self, reference: str, home: str) -> Area:
        text = self._names.get(reference.casefold(), reference)
        match = ADDRESS.fullmatch(text.lstrip("="))
        if not match:
            raise FormulaError(f"{reference}: neither a defined name nor an address (sheet {home})")
        quoted = match["quoted"]
        sheet = quoted.replace("''", "'") if quoted else match["plain"] or home
        row, column = coordinate_to_tuple(match["c1"] + match["r1"])
        if match["c2"] is None:
            return sheet, row, column, row, column
        last_row, last_column = coordinate_to_tuple(match["c2"] + match["r2"])
        return sheet, row, column, last_row, last_column

    def _is_constant(self, name: str) -> bool:
        text = self._names.get(name.casefold())
        return text is not None and all(
            token.subtype != Token.RANGE for token in Tokenizer("=" + text.lstrip("=")).items
        )

    def _is_cell(self, name: str) -> bool:
        match = ADDRESS.fullmatch(self._names[name.casefold()])
        return match is not None and match["c2"] is None

    def _place(self, name: str) -> Place:
        if name.casefold() not in self._names:
            raise FormulaError(f"no defined name {name!r}")
        sheet, row, column, last_row, last_column = self._area(name, "")
        if (row, column) != (last_row, last_column):
            raise FormulaError(f"defined name {name!r} does not refer to one single cell")
        return sheet, row, column

    def _cell(self, place: Place) -> Any:
        """Raw value of one cell, calculated at most once for a set of entries."""
        if place in self._results:
            if self._results[place] is _PENDING:
                raise FormulaError(f"the formula in {_spell(place)} depends on itself")
            return self._results[place]
        content = self._entries.get(place, self._contents.get(place, schedula.EMPTY))
        if isinstance(content, _Formula):
            self._results[place] = _PENDING
            content = self._calculate(place, content.text)
        self._results[place] = content
        return content

    def _calculate(self, place: Place, text: str) -> Any:
        if place not in self._prepared:
            self._prepared[place] = self._prepare(place, text)
        template, areas = self._prepared[place]
        blocks = [self._block(area) for area in areas]
        # True and 1 are the same key, and not the same value.
        seen = (template, *((type(value), value) for block in blocks for value in block.flat))
        if seen not in self._known:
            if template not in self._compiled:
                self._compiled[template] = _compile(template, place)
            self._known[seen] = _call(self._compiled[template], areas, blocks)
        return self._known[seen]

    def _prepare(self, place: Place, text: str) -> tuple[str, list[Area]]:
        """The formula with each reference replaced by a stand-in address, and what the stand-ins stand for.

        Formulas that differ only in the cells they look at become one template, which is compiled once.
        """
        areas: list[Area] = []
        parts = []
        for token in Tokenizer(text).items:
            if token.subtype == Token.RANGE and self._is_constant(token.value):
                parts.append(f"({self._names[token.value.casefold()].lstrip('=')})")
            elif token.subtype == Token.RANGE:
                area = self._area(token.value, place[0])
                if area not in areas:
                    areas.append(area)
                parts.append(_stand_in(areas.index(area), area))
            else:
                parts.append(_plain_number(token.value) if token.subtype == Token.NUMBER else token.value)
        return "=" + "".join(parts), areas

    def _block(self, area: Area) -> np.ndarray:
        sheet, row, column, last_row, last_column = area
        block = np.empty((last_row - row + 1, last_column - column + 1), object)
        for (i, j), _ in np.ndenumerate(block):
            block[i, j] = self._cell((sheet, row + i, column + j))
        return block


def evaluate(workbook: Path, names: Iterable[str] | None = None) -> dict[str, Value]:
    """`Model(workbook).evaluate({}, names)`: calculated values of a workbook as it stands."""
    return Model(workbook).evaluate({}, names)


class _Formula:
    def __init__(self, text: str) -> None:
        self.text = text


_PENDING = object()


_range_of = functools.cache(Ranges.get_range)


def _compile(template: str, place: Place) -> Any:
    try:
        return formulas.Parser().ast(template)[1].compile()
    except formulas.errors.FormulaError as error:
        raise FormulaError(f"{_spell(place)}: cannot parse {template}") from error


def _call(function: Any, areas: list[Area], blocks: list[np.ndarray]) -> Any:
    held = {
        _stand_in(number, area): block for number, (area, block) in enumerate(zip(areas, blocks, strict=True))
    }
    result = function(*(Ranges().set_value(_range_of(key), held[key]) for key in function.inputs))
    first = np.asarray(getattr(result, "value", result), object).ravel()[0]
    return 0.0 if first is schedula.EMPTY else first


def _plain_number(text: str) -> str:
    """The number without an exponent, which the package cannot parse unless it is signed."""
    return format(Decimal(text), "f") if "E" in text.upper() else text


def _stand_in(number: int, area: Area) -> str:
    _, row, column, last_row, last_column = area
    rows, columns = last_row - row + 1, last_column - column + 1
    return f"S{number}!A1" + (f":{get_column_letter(columns)}{rows}" if (rows, columns) != (1, 1) else "")


def _spell(place: Place) -> str:
    return f"{place[0]}!{get_column_letter(place[2])}{place[1]}"


def _content(value: Any, data_type: str) -> Any:
    if isinstance(value, ArrayFormula):
        return _Formula(value.text)
    if data_type == "f":
        return _Formula(value)
    if data_type == "e":
        return Error.errors[value]
    return _entry(value)


def _entry(value: Any) -> Any:
    if value is None:
        return schedula.EMPTY
    if isinstance(value, (dt.datetime, dt.date, dt.time)):
        return float(to_excel(value))
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _as_value(raw: Any) -> Value:
    if raw is schedula.EMPTY:
        return None
    if isinstance(raw, XlError):
        return CellError(str(raw))
    return str(raw) if isinstance(raw, str) else float(raw)
