"""One side of `old_and_new`: the commands of whatever checkout is on the path, each against openpyxl with the same files.

PYTHONPATH=CHECKOUT python tests/benchmarks/one_side.py CHECKOUT FOLDER     prints {measured: [ratio, seconds]} as JSON

Uses nothing of the project but what every commit of it has: the three calls and the command line.
"""

from __future__ import annotations

import json
import os
import shutil
import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path

from openpyxl import load_workbook

from workbook_tools import check_workbook, fill_workbook, new_workbook

ROUNDS, PROCESSES, JOBS, OTHER_ROWS = 7, 5, 24, 50_000


def seconds(work: Callable[[], object]) -> float:
    """How long one call takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def load_and_save(path: Path, out: Path) -> None:
    """What a library needs that merely loads and saves the same workbook."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        load_workbook(path).save(out)


def against(ours: Callable[[], object], theirs: Callable[[], object], rounds: int) -> tuple[float, float]:
    """Median of the ratio, and of our seconds."""
    ours(), theirs()
    pairs = [(seconds(ours), seconds(theirs)) for _ in range(rounds)]
    return statistics.median(a / b for a, b in pairs), statistics.median(a for a, _ in pairs)


def run(*arguments: str) -> None:
    """One Python process from start to end, its modules compiled before."""
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True)


def with_many_cells(job: Path, out: Path) -> None:
    """The workbook with a sheet of somebody's own behind it, of 500,000 cells."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = load_workbook(job)
    page = book.create_sheet("Somebody's own")
    for row in range(OTHER_ROWS):
        page.append([row * 10 + column for column in range(10)])
    book.save(out)


def measure(checkout: Path, folder: Path) -> dict[str, tuple[float, float]]:
    """Every ratio of this side."""
    samples = sorted((checkout / "sample_workbooks" / "filled").glob("*.xlsx"))
    usual, fullest = samples[0], max(samples, key=lambda path: path.stat().st_size)
    copy, out = folder / "copy.xlsx", folder / "out"
    found = {}
    for name, job in (("check, usual form", usual), ("check, fullest sample", fullest)):
        found[name] = against(
            lambda job=job: check_workbook(job, out_dir=out), lambda job=job: load_and_save(job, copy), ROUNDS
        )
    found["process, start to result"] = against(
        lambda: run("-m", "workbook_tools", "check", str(usual), "--out-dir", str(out)),
        lambda: run("-c", "import openpyxl"),
        PROCESSES,
    )
    form, filled = folder / "form.xlsx", folder / "filled.xlsx"
    made = iter(range(1000))
    found["new"] = against(
        lambda: new_workbook(folder / f"new-{next(made)}.xlsx"), lambda: load_and_save(usual, copy), ROUNDS
    )
    new_workbook(form)
    readings = {"coolant_temperature": 185, **{f"compression_dry_{n}": 126 + n for n in range(1, 5)}}
    found["fill"] = against(
        lambda: fill_workbook(form, readings, filled), lambda: load_and_save(form, copy), ROUNDS
    )
    shop = folder / "shop"
    shop.mkdir()
    for number in range(JOBS):
        fill_workbook(usual, {"job_number": f"J-{number}"}, shop / f"{number}.xlsx")
    one = statistics.median(seconds(lambda: load_and_save(usual, copy)) for _ in range(3))

    def register() -> None:
        for old in folder.glob("register*"):
            old.unlink()
        run(
            "-m",
            "workbook_tools",
            "register",
            str(shop),
            "--jobs",
            "1",
            "--out",
            str(folder / "register.xlsx"),
        )

    def check_folder() -> None:
        shutil.rmtree(folder / "checked", ignore_errors=True)
        run("-m", "workbook_tools", "check", str(shop), "--jobs", "2", "--out-dir", str(folder / "checked"))

    for name, work in (("register, a new file", register), ("folder, two processes, a file", check_folder)):
        work()
        took = statistics.median(seconds(work) for _ in range(3)) / JOBS
        found[name] = took / one, took
    host = folder / "host.xlsx"
    with_many_cells(usual, host)
    told = f"from workbook_tools import check_workbook; check_workbook({str(host)!r}, out_dir={str(out)!r})"
    took = min(seconds(lambda: run("-c", told)) for _ in range(2))
    found["500,000 other cells, process"] = took / one, took
    return found


if __name__ == "__main__":
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    print(json.dumps(measure(Path(sys.argv[1]), Path(sys.argv[2]))))
