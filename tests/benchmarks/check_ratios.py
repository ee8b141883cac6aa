"""How long the commands take, as ratios within one run: `python -m tests.benchmarks.check_ratios`.

Each figure is the median of several rounds in which both sides are timed in turn, so that a machine that slows down
slows both. A round that the machine disturbed is outvoted by the others.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable, Mapping
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.utils.cell import coordinate_to_tuple
from xlsxwriter import Workbook

from tests.benchmarks.report import Row, compiled, machine, table
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.package.cells import SheetCells
from workbook_tools.package.parts import Package, q

ROUNDS = 9
READINGS = {
    "coolant_temperature": 185,
    "idle_speed": 650,
    "spec_compression_min": 115,
    "throttle_held_open": "yes",
    "all_plugs_out": "yes",
    "compression_strokes": 5,
    **{f"compression_dry_{n}": 126 + n for n in range(1, 5)},
}
#: Row, column, formula ('' where the cell has none), and what it holds or shows.
PlainCell = tuple[int, int, str, float | bool | str | None]


def seconds(work: Callable[[], object]) -> float:
    """How long one call takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def ratio(what: str, aim: str, ours: Callable[[], object], theirs: Callable[[], object]) -> Row:
    """Median of ours over theirs, and the two medians in seconds; one round of warm-up first."""
    ours(), theirs()
    pairs = [(seconds(ours), seconds(theirs)) for _ in range(ROUNDS)]
    return Row(
        what,
        statistics.median(a / b for a, b in pairs),
        statistics.median(a for a, _ in pairs),
        statistics.median(b for _, b in pairs),
        aim=aim,
    )


def load_and_save(path: Path, out: Path) -> None:
    """What a library needs that merely loads and saves the same workbook."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        load_workbook(path).save(out)


def cells_of(path: Path) -> list[list[PlainCell]]:
    """What stands in each sheet: entries, results, labels, and the empty rest of their boxes."""
    sheets = SheetCells(Package(path.read_bytes(), str(path)))
    found = []
    for title in sheets.parts:
        cells: list[PlainCell] = []
        for address, element in sheets.cells(title).items():
            row, column = coordinate_to_tuple(address)
            formula = element.findtext(q("f")) or ""
            cells.append((row - 1, column - 1, formula, sheets.stored(title, address)))
        found.append(cells)
    return found


def plain_book(out: Path, sheets: list[list[PlainCell]], formulas: bool) -> None:
    """The same cells in as many sheets, written by XlsxWriter with one format, no names, rules or charts."""
    book = Workbook(out)
    boxed = book.add_format({"border": 1})
    for cells in sheets:
        page = book.add_worksheet()
        for row, column, formula, value in cells:
            if formula and formulas:
                page.write_formula(row, column, formula, boxed, "" if value is None else value)
            elif isinstance(value, str) and value:
                page.write_string(row, column, value, boxed)
            elif isinstance(value, (int, float)):
                page.write_number(row, column, value, boxed)
            else:
                page.write_blank(row, column, None, boxed)
    book.close()


def plain_numbers(out: Path, count: int) -> None:
    """As many bare numbers in one sheet: the least that XlsxWriter can be asked for."""
    book = Workbook(out)
    page = book.add_worksheet()
    for place in range(count):
        page.write_number(place // 10, place % 10, place)
    book.close()


def run(environment: Mapping[str, str], *arguments: str) -> None:
    """One Python process from start to end."""
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True, env=environment)


def measure(folder: Path) -> list[Row]:
    """Every ratio."""
    form, filled, copy = folder / "form.xlsx", folder / "filled.xlsx", folder / "copy.xlsx"
    out = folder / "out"
    new_workbook(form)
    fill_workbook(form, READINGS, filled)
    sheets = cells_of(form)
    cells = sum(map(len, sheets))
    as_installed = compiled(folder / "compiled")
    return [
        ratio(
            "`check` against openpyxl loading and saving the same file",
            "at most 1.0",
            lambda: check_workbook(filled, out_dir=out),
            lambda: load_and_save(filled, copy),
        ),
        ratio(
            'one `check` from process start to result against `python -c "import openpyxl"`',
            "at most 3",
            lambda: run(as_installed, "-m", "workbook_tools", "check", str(filled), "--out-dir", str(out)),
            lambda: run(as_installed, "-c", "import openpyxl"),
        ),
        ratio(
            f"`new` against XlsxWriter writing the same {cells} cells plain: texts, numbers, formulas",
            "at most 2",
            lambda: new_workbook(form),
            lambda: plain_book(copy, sheets, formulas=True),
        ),
        ratio(
            f"`new` against XlsxWriter writing the same {cells} cells plain, results in place of formulas",
            "",
            lambda: new_workbook(form),
            lambda: plain_book(copy, sheets, formulas=False),
        ),
        ratio(
            f"`new` against XlsxWriter writing {cells} numbers into one sheet",
            "",
            lambda: new_workbook(form),
            lambda: plain_numbers(copy, cells),
        ),
        ratio(
            "`new` against openpyxl loading and saving the same file",
            "",
            lambda: new_workbook(form),
            lambda: load_and_save(form, copy),
        ),
    ]


def main() -> None:
    """Measure and print the table in Markdown."""
    print(f"{machine()}\n")
    with tempfile.TemporaryDirectory() as name:
        print(table(measure(Path(name)), "ours", "the other"))


if __name__ == "__main__":
    main()
