"""How long the commands take, as ratios within one run: `python -m tests.benchmarks.check_ratios`.

Each figure is the median of several rounds in which both sides are timed in turn, so that a machine that slows down
slows both.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path

import xlsxwriter
from openpyxl import load_workbook

from workbook_tools import check_workbook, fill_workbook, new_workbook

ROUNDS = 7
READINGS = {
    "coolant_temperature": 185,
    "idle_speed": 650,
    "spec_compression_min": 115,
    "throttle_held_open": "yes",
    "all_plugs_out": "yes",
    "compression_strokes": 5,
    **{f"compression_dry_{n}": 126 + n for n in range(1, 5)},
}


def seconds(work: Callable[[], object]) -> float:
    """How long one call takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def ratio(ours: Callable[[], object], theirs: Callable[[], object]) -> tuple[float, float, float]:
    """Median of ours over theirs, and the two medians in seconds; one round of warm-up first."""
    ours(), theirs()
    pairs = [(seconds(ours), seconds(theirs)) for _ in range(ROUNDS)]
    return (
        statistics.median(a / b for a, b in pairs),
        statistics.median(a for a, _ in pairs),
        statistics.median(b for _, b in pairs),
    )


def load_and_save(path: Path, out: Path) -> None:
    """What a library needs that merely loads and saves the same workbook."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        load_workbook(path).save(out)


def cells_in(path: Path) -> int:
    """How many cells a workbook's sheets hold: entries, results, labels, and the rest of their boxes."""
    with zipfile.ZipFile(path) as book:
        sheets = [name for name in book.namelist() if name.startswith("xl/worksheets/sheet")]
        return sum(book.read(name).count(b"<c ") for name in sheets)


def plain_cells(out: Path, count: int) -> None:
    """As many plain cells as a form has, written by XlsxWriter."""
    book = xlsxwriter.Workbook(out)
    sheet = book.add_worksheet()
    for place in range(count):
        sheet.write_number(place // 10, place % 10, place)
    book.close()


def run(*arguments: str) -> None:
    """One Python process from start to end."""
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True)


def main() -> None:
    """Measure and print the table."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        form, filled, copy = folder / "form.xlsx", folder / "filled.xlsx", folder / "copy.xlsx"
        new_workbook(form)
        fill_workbook(form, READINGS, filled)
        cells = cells_in(form)
        rows = {
            "check against openpyxl loading and saving the same file": ratio(
                lambda: check_workbook(filled, out_dir=folder / "out"), lambda: load_and_save(filled, copy)
            ),
            "new against openpyxl loading and saving the same file": ratio(
                lambda: new_workbook(form), lambda: load_and_save(form, copy)
            ),
            f"new against XlsxWriter writing {cells} plain cells": ratio(
                lambda: new_workbook(form), lambda: plain_cells(copy, cells)
            ),
            "one check process against `import openpyxl`": ratio(
                lambda: run("-m", "workbook_tools", "check", str(filled), "--out-dir", str(folder / "out")),
                lambda: run("-c", "import openpyxl"),
            ),
        }
    print(f"{'':58} {'ratio':>6} {'ours s':>8} {'theirs s':>9}")
    for what, (how_many, ours, theirs) in rows.items():
        print(f"{what:58} {how_many:6.2f} {ours:8.3f} {theirs:9.3f}")


if __name__ == "__main__":
    main()
