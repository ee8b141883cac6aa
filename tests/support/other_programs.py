"""The same blank form filled and saved by other programs, each in its own way.

    fill_with("ExcelJS", form, {"compression_dry_1": 128}, out)

LibreOffice is driven by `office.py`. Gnumeric's converter and the two libraries of JavaScript are test tooling that
`.ci/run` installs; a program that is missing skips the test, or fails it under ENGINE_CHECK_REQUIRE_PROGRAMS=1.
"""

from __future__ import annotations

import csv
import datetime as dt
import gzip
import json
import os
import shutil
import subprocess
import warnings
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from lxml import etree
from openpyxl import load_workbook
from openpyxl.utils.cell import coordinate_to_tuple

from tests.support.office import Entry, Office
from workbook_tools.package.cells import split_reference
from workbook_tools.package.parts import Package

SCRIPTS = Path(__file__).with_name("programs")
FORMATS = {
    ".xlsx": "Gnumeric_Excel:xlsx2",
    ".pdf": "Gnumeric_pdf:pdf_assistant",
    ".csv": "Gnumeric_stf:stf_csv",
    ".gnumeric": "Gnumeric_XmlIO:sax",
}
GNUMERIC = "{http://www.gnumeric.org/v10.dtd}"
DAY_ZERO = dt.date(1899, 12, 30)
SECONDS = 120


def programs_required() -> bool:
    """Whether a missing program must fail the tests that need it."""
    return os.environ.get("ENGINE_CHECK_REQUIRE_PROGRAMS", "") not in ("", "0")


def need(program: str) -> None:
    """Skip the test where a program is not installed, or fail it where it is required."""
    reason = missing(program)
    if reason and programs_required():
        pytest.fail(reason, pytrace=False)
    if reason:
        pytest.skip(reason)


def missing(program: str) -> str | None:
    """What keeps a program from being used here, as one sentence; None where it can be used."""
    if program == "Gnumeric" and shutil.which("ssconvert") is None:
        return "Gnumeric is not installed: install it (on Debian: apt-get install gnumeric)"
    folder = {"ExcelJS": "exceljs", "SheetJS": "xlsx"}.get(program)
    if folder and (shutil.which("node") is None or not (SCRIPTS / "node_modules" / folder).is_dir()):
        return f"{program} is not installed: run npm ci in tests/support/programs"
    return None


def fill_with(program: str, form: Path, entries: Mapping[str, Entry], out: Path) -> None:
    """Let a program put entries into the cells of these names and save the book."""
    need(program)
    FILLERS[program](form, entries, out)


def _fill_with_gnumeric(form: Path, entries: Mapping[str, Entry], out: Path) -> None:
    """Gnumeric reads the form into a file of its own; the entries are put there, and it calculates and saves.

    Its converter's `--set` reaches the first sheet alone.
    """
    own = out.with_suffix(".gnumeric")
    _convert(form, own)
    book = etree.fromstring(gzip.decompress(own.read_bytes()))
    sheets = {sheet.findtext(f"{GNUMERIC}Name"): sheet for sheet in book.iter(f"{GNUMERIC}Sheet")}
    for name, (title, address) in named_cells(form).items():
        if entries.get(name) is not None:
            _put_into_gnumeric(sheets[title], address, entries[name])
    own.write_bytes(gzip.compress(etree.tostring(book, xml_declaration=True, encoding="UTF-8")))
    _convert(own, out, "--recalc")


def _put_into_gnumeric(sheet: etree._Element, address: str, value: Entry) -> None:
    """A number, day or text in a cell of Gnumeric's own file; value types as its converter writes them."""
    row, column = coordinate_to_tuple(address)
    place = {"Row": str(row - 1), "Col": str(column - 1)}
    cells = sheet.find(f"{GNUMERIC}Cells")
    for old in cells.iterfind(f"{GNUMERIC}Cell[@Row='{row - 1}'][@Col='{column - 1}']"):
        cells.remove(old)
    day = {"ValueFormat": "yyyy-mm-dd"} if isinstance(value, dt.date) else {}
    number = (value - DAY_ZERO).days if isinstance(value, dt.date) else value
    kind = "60" if isinstance(value, str) else "40"
    etree.SubElement(cells, f"{GNUMERIC}Cell", place, ValueType=kind, **day).text = str(number)


def saved_by_gnumeric(book: Path, out: Path) -> Path:
    """The book as Gnumeric reads and writes it."""
    need("Gnumeric")
    _convert(book, out)
    return out


def texts_in_gnumeric(book: Path, folder: Path) -> dict[str, list[list[str]]]:
    """What Gnumeric shows in a book: by sheet the rows of its CSV; fails where it can't open it."""
    need("Gnumeric")
    _run("ssconvert", "-S", "-T", FORMATS[".csv"], str(book), str(folder / "%n.csv"))
    titles = [each.get("name", "") for each in _root_of(book).iter("{*}sheet")]
    found = {}
    for number, title in enumerate(titles):
        with (folder / f"{number}.csv").open(newline="", encoding="utf-8") as file:
            found[title] = list(csv.reader(file))
    return found


def pages_of_gnumeric(book: Path, folder: Path) -> list[str]:
    """What stands on each page as Gnumeric prints a workbook (by way of poppler's pdftotext)."""
    need("Gnumeric")
    paper = folder / "printed.pdf"
    _convert(book, paper)
    return _pages_in(paper)


def pages_of_libreoffice(office: Office, book: Path, folder: Path) -> list[str]:
    """The same as LibreOffice prints it."""
    paper = folder / "printed.pdf"
    office.to_pdf(book, paper)
    return _pages_in(paper)


def _pages_in(paper: Path) -> list[str]:
    told = subprocess.run(["pdftotext", "-layout", str(paper), "-"], check=True, capture_output=True).stdout
    return told.decode("utf-8").split("\f")[:-1]


def _convert(source: Path, out: Path, *options: str) -> None:
    _run("ssconvert", "-T", FORMATS[out.suffix], *options, str(source), str(out))


def _fill_with_openpyxl(form: Path, entries: Mapping[str, Entry], out: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = load_workbook(form)
        for name, value in entries.items():
            title, address = split_reference(book.defined_names[name].attr_text) or ("", "")
            cell = book[title][address]
            cell.value = value
            if isinstance(value, str):
                cell.data_type = "s"
        book.save(out)


def _fill_with_node(script: str) -> Callable[[Path, Mapping[str, Entry], Path], None]:
    def fill(form: Path, entries: Mapping[str, Entry], out: Path) -> None:
        listed = out.with_suffix(".json")
        dates = {
            name: {"date": each.isoformat()} for name, each in entries.items() if isinstance(each, dt.date)
        }
        listed.write_text(json.dumps({**entries, **dates}), encoding="utf-8")
        _run("node", str(SCRIPTS / script), str(form), str(listed), str(out))

    return fill


def named_cells(book: Path) -> dict[str, tuple[str, str]]:
    """Sheet title and address of each defined name that leads to one cell."""
    found = {
        each.get("name", ""): split_reference(each.text) for each in _root_of(book).iter("{*}definedName")
    }
    return {name: place for name, place in found.items() if place}


def _root_of(book: Path) -> etree._Element:
    package = Package(book.read_bytes(), str(book))
    return package.xml(package.workbook)


def _run(*command: str) -> None:
    done = subprocess.run(command, capture_output=True, text=True, timeout=SECONDS)
    assert done.returncode == 0, f"{' '.join(command)[:300]}\n{done.stderr[-3000:]}"


FILLERS: Mapping[str, Callable[[Path, Mapping[str, Entry], Path], None]] = {
    "openpyxl": _fill_with_openpyxl,
    "Gnumeric": _fill_with_gnumeric,
    "ExcelJS": _fill_with_node("fill_with_exceljs.js"),
    "SheetJS": _fill_with_node("fill_with_sheetjs.js"),
}
