"""Filling a form from a list of readings: a data logger, a tablet, a test.

    fill_workbook(form, readings, out)      field,value rows into a copy of the form

Only the cells filled and the computed cells' stored results are written; every other part of the form stays byte for
byte. Numbers are written as numbers, dates as dates; whatever else is given is written as text, for the check to judge.
"""

from __future__ import annotations

import csv
import datetime as dt
import math
from collections.abc import Iterable, Mapping
from pathlib import Path

from lxml import etree

from workbook_tools.errors import BadRequest, UnusableFile
from workbook_tools.form import the_form
from workbook_tools.form.ranges import cause_named, choice_in_words, is_numeric_choice
from workbook_tools.form.start import GO_ON
from workbook_tools.generate.named_cells import NamedCells, open_cells
from workbook_tools.language.model import Field, Result, Value
from workbook_tools.layout.plan import JOB_FORMULA, NEXT_FORMULA, NEXT_WORD, link_formula
from workbook_tools.package.cells import escaped
from workbook_tools.package.parts import q
from workbook_tools.package.safe_write import replace_file

DAY_ZERO = dt.date(1899, 12, 30)
LONGEST_TEXT = 32_767
Filling = float | str | dt.date | None


def fill_workbook(
    form: str | Path,
    readings: str | Path | Mapping[str, object] | Iterable[tuple[str, object]],
    out: str | Path,
) -> int:
    """Write readings (a CSV file of field,value rows, or pairs) into a copy of a form; returns how many cells it filled.

    A blank value empties its cell. Raises BadRequest for a field that the form has not or that is computed, UnusableFile
    for a file that can't be used; nothing is written then.
    """
    cells = open_cells(form)
    known = the_form.cells(cells.shape)
    filled: dict[str, Filling] = {}
    for name, value in _pairs(readings):
        cell = known.get(name)
        if cell is None or name not in cells:
            raise BadRequest(f"{form} has no field {name}; look its name up in docs/fields.md.")
        if not isinstance(cell.item, Field):
            raise BadRequest(f"{name} is computed by the form, so it can't be filled in; leave it out.")
        if cell.item.locked:
            raise BadRequest(f"{name} was set when the form was made; make a new form for another engine.")
        filled[name] = typed = as_typed(cell.item, value)
        if isinstance(typed, str) and len(typed) > LONGEST_TEXT:
            raise BadRequest(
                f"{name}: a cell holds {LONGEST_TEXT} characters, this text has {len(typed)}; shorten it."
            )
    for name, value in filled.items():
        write_value(cells.element(name), value)
    _store_results(cells)
    replace_file(Path(out), cells.to_bytes())
    return len(filled)


def _pairs(
    readings: str | Path | Mapping[str, object] | Iterable[tuple[str, object]],
) -> list[tuple[str, object]]:
    if isinstance(readings, Mapping):
        return list(readings.items())
    if not isinstance(readings, (str, Path)):
        return list(readings)
    path = Path(readings)
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = [row for row in csv.reader(file) if any(part.strip() for part in row)]
    except OSError as problem:
        raise UnusableFile(f"{path} can't be read ({problem.strerror}); check the name.") from problem
    except (UnicodeDecodeError, csv.Error) as problem:
        raise UnusableFile(f"{path} is no CSV file in UTF-8; save it as CSV, UTF-8.") from problem
    if rows and [part.strip().lower() for part in rows[0][:2]] == ["field", "value"]:
        rows = rows[1:]
    for line, row in enumerate(rows, start=2):
        if len(row) < 2:
            raise UnusableFile(
                f"{path}, row {line} holds '{','.join(row)[:60]}' alone; write each row as field,value."
            )
    return [(row[0].strip(), row[1]) for row in rows]


def as_typed(field: Field, value: object) -> Filling:
    """A value as its cell should hold it: a number, a date, a text, or None for an empty cell."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.date()
    if isinstance(value, dt.date):
        return value
    if field.kind == "text":
        return f"{value:.15g}" if isinstance(value, float) else str(value)
    if isinstance(value, (int, float)):
        return float(value) if math.isfinite(value) else str(value)
    text = str(value).strip()
    if field.kind == "date":
        try:
            return dt.date.fromisoformat(text)
        except ValueError:
            return text
    if field.kind != "choice" or is_numeric_choice(field):
        try:
            # A list from a program writes plain numbers; everything that is not one stays the text it is.
            number = float(text) if text.replace("_", "") == text else math.nan
            return number if math.isfinite(number) else text
        except ValueError:
            return text
    named = cause_named(text)
    return (
        choice_in_words(named if named in field.choices else text) if named or text in field.choices else text
    )


def write_value(cell: etree._Element, value: Filling) -> None:
    """Put a value into a cell of a sheet's XML; its format stays."""
    for child in list(cell):
        cell.remove(child)
    cell.attrib.pop("t", None)
    if value is None:
        return
    if isinstance(value, dt.date):
        value = float((value - DAY_ZERO).days)
    if isinstance(value, float):
        etree.SubElement(cell, q("v")).text = repr(int(value)) if value.is_integer() else repr(value)
        return
    cell.set("t", "inlineStr")
    text = etree.SubElement(etree.SubElement(cell, q("is")), q("t"))
    text.text = escaped(value)
    text.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")


def _store_results(cells: NamedCells) -> None:
    """Write what the entries now give into the computed cells, so that a viewer that does not calculate shows it."""
    known = the_form.cells(cells.shape)
    entries: dict[str, Value] = {}
    for name, cell in known.items():
        if isinstance(cell.item, Field) and name in cells:
            entries[name] = cells.value(name)
    values = the_form.compute(cells.shape, entries)
    for name, cell in known.items():
        if isinstance(cell.item, Result) and name in cells:
            store_result(cells.element(name), values.values.get(name))
    job_number, step = values.values.get("job_number"), values.values.get("next_test")
    heads = [(JOB_FORMULA, job_number), (NEXT_FORMULA, f"{NEXT_WORD}{step or ''}")]
    heads.append((link_formula(GO_ON), GO_ON.words if values.values.get(GO_ON.cell) else ""))
    for formula, shown in heads:
        for head in cells.with_formula(formula):
            store_result(head, escaped(shown) if isinstance(shown, str) else "")


def store_result(cell: etree._Element, value: Value) -> None:
    """Put a stored result beside a cell's formula; a cell whose formula is gone is left alone."""
    formula = cell.find(q("f"))
    if formula is None:
        return
    for child in list(cell):
        if child is not formula:
            cell.remove(child)
    cell.attrib.pop("t", None)
    if isinstance(value, (int, float)):
        etree.SubElement(cell, q("v")).text = (
            repr(float(value)) if not float(value).is_integer() else repr(int(value))
        )
    else:
        cell.set("t", "str")
        etree.SubElement(cell, q("v")).text = value or ""
