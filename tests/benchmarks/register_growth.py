"""How the register's cost grows: `python -m tests.benchmarks.register_growth [--files N]`.

Ratios within one run. `--files` real workbooks (1,000 unless told otherwise) are read into a store, then one more;
the register's own part is measured with records made without workbooks, 1,000 and 10,000. Each step is a process of its
own, so that its peak memory is its own; the peak of the processes that read files for it is the largest of them.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from tests.benchmarks.report import machine, markdown
from tests.support.many_jobs import filled_bytes, jobs, write_jobs
from tests.support.postgres import own_database
from tests.support.register_records import many_records
from workbook_tools.register.book import register_book
from workbook_tools.register.by_year import by_year
from workbook_tools.register.contents import contents_of
from workbook_tools.register.kept import read_kept
from workbook_tools.register.make import make_register
from workbook_tools.register.store import Kept, Store

ENGINES_PER_JOB = 0.3
MEGABYTE_IN_KILOBYTES = 1024


def step(name: str, folder: Path, count: int) -> dict[str, float]:
    """One measured step in a process of its own: seconds and megabytes at the peak."""
    arguments = [
        sys.executable,
        "-m",
        "tests.benchmarks.register_growth",
        "--step",
        name,
        str(folder),
        str(count),
    ]
    return json.loads(subprocess.run(arguments, check=True, capture_output=True, text=True).stdout)


def records(count: int, mark: str = "") -> Iterator[Kept]:
    """Any number of records: a thousand invented jobs over and over, as other engines and other files."""
    first = list(many_records(min(count, 1000), max(int(min(count, 1000) * ENGINES_PER_JOB), 1)))
    for number in range(count):
        each, turn = first[number % len(first)], f"{mark}{number // len(first)}"
        assert each.record is not None
        job = replace(
            each.record.job,
            plate=f"{each.record.job.plate}-{turn}",
            job_number=f"{each.record.job.job_number}-{turn}",
        )
        digest = hashlib.sha256(f"{each.file.sha256}{turn}".encode()).hexdigest()
        file = replace(each.file, path=f"{turn}/{each.file.path}", sha256=digest)
        yield Kept(file, replace(each.record, job=replace(job, typed_digest=digest)))


def bytes_written() -> int:
    """Bytes that this process has given the system to write (Linux)."""
    told = dict(line.split(": ") for line in Path("/proc/self/io").read_text().splitlines())
    return int(told["wchar"])


def ten_shops(folder: Path, count: int) -> None:
    """Ten shops of a chain store their jobs and write their registers at once, on one PostgreSQL server."""
    with own_database() as url, ThreadPoolExecutor(10) as pool:
        list(pool.map(lambda number: one_shop(url, number, count, folder), range(10)))
        with Store.open(url, "the owner") as store:
            assert len(store.frame("jobs", every_shop=True)) == 10 * count


def one_shop(url: str, number: int, count: int, folder: Path) -> None:
    """What one shop of the chain does."""
    with Store.open(url, f"shop {number}") as store:
        batch = list(records(count, f"{number}-"))
        for place in range(0, count, 64):
            store.keep(batch[place : place + 64])
        found = contents_of(store)
    assert len(found.jobs) == count
    target = folder / f"shop {number}.xlsx"
    target.write_bytes(register_book(found, read_kept(target), root=folder, target=target).data)


def run_step(name: str, folder: Path, count: int) -> None:
    """What the process of one step does; prints its figures."""
    start, more = time.perf_counter(), dict[str, float]()
    if name == "read":
        make_register(folder / "jobs", folder / "register.xlsx", jobs=2)
    elif name == "store":
        batch = list(records(count))
        start, written = time.perf_counter(), bytes_written()
        with Store.open(folder / f"{count}.sqlite") as store:
            for place in range(0, count, 500):
                store.keep(batch[place : place + 500])
        more["MB written"] = (bytes_written() - written) / 1e6
    elif name == "one more":
        batch = list(records(1, "one more"))
        start = time.perf_counter()
        with Store.open(folder / f"{count}.sqlite") as store:
            store.keep(batch)
    elif name == "write by year":
        with Store.open(folder / f"{count}.sqlite") as store:
            found = contents_of(store)
        for year, of_year in by_year(found):
            target = folder / f"{count}-{year}.xlsx"
            target.write_bytes(register_book(of_year, read_kept(target), root=folder, target=target).data)
    elif name == "ten shops":
        ten_shops(folder, count)
    elif name == "write":
        target = folder / f"{count}.xlsx"
        with Store.open(folder / f"{count}.sqlite") as store:
            found = contents_of(store)
        kept = read_kept(target)
        target.write_bytes(register_book(found, kept, root=folder, target=target).data)
    seconds = time.perf_counter() - start
    own, children = (
        resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    print(
        json.dumps(
            {
                "s": seconds,
                "MB": own / MEGABYTE_IN_KILOBYTES,
                "readers MB": children / MEGABYTE_IN_KILOBYTES,
                **more,
            }
        )
    )


def main() -> None:
    """Measure and print the table."""
    asked = argparse.ArgumentParser(description="Measure how the register's cost grows.")
    asked.add_argument("--files", type=int, default=1000)
    asked.add_argument("--step", nargs=3)
    options = asked.parse_args()
    if options.step:
        run_step(options.step[0], Path(options.step[1]), int(options.step[2]))
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        rows = measure(folder, options.files)
    head = ("measured", "time", "peak of the process", "peak of a reader", "written")
    lines = [
        (
            what,
            f"{found['s']:.2f} s",
            f"{found['MB']:.0f} MB",
            f"{found['readers MB']:.0f} MB" if found["readers MB"] else "",
            f"{found['MB written']:.1f} MB" if "MB written" in found else "",
        )
        for what, found in rows.items()
    ]
    print(f"{machine()}\n\n{markdown(head, lines)}\n")
    print(markdown(("measured", "ratio", "aim"), growth(rows, options.files)))


def growth(rows: dict[str, dict[str, float]], files: int) -> list[tuple[str, str, str]]:
    """How the cost grows with the jobs: what, the ratio, and the aim in words."""
    part, whole = (
        rows[f"register of {max(files // 10, 1)} new workbooks"],
        rows[f"register of {files} new workbooks"],
    )
    found = [
        (
            f"register of {files} new workbooks against {max(files // 10, 1)}, time",
            whole["s"] / part["s"],
            "at most 10",
        ),
        ("the same, memory", whole["MB"] / part["MB"], "about 1"),
        (
            f"{files} new workbooks against one new among them, time",
            whole["s"] / rows[f"the same with one new among {files}"]["s"],
            "",
        ),
    ]
    for what in (
        "store {} records",
        "write the register of {} jobs",
        "write it again over the one with notes, {} jobs",
    ):
        few, many = rows[what.format("1,000")], rows[what.format("10,000")]
        found.append((f"{what.format('10,000')}, against 1,000, time", many["s"] / few["s"], "at most 10"))
    stored = [rows[f"store {count:,} records"] for count in (1000, 10_000, 100_000)]
    for name, figure in (("time", "s"), ("bytes written", "MB written")):
        for (few, many), what in zip(
            pairwise(stored), ("10,000 against 1,000", "100,000 against 10,000"), strict=True
        ):
            found.append((f"store {what} records, {name}", many[figure] / few[figure], "about 10"))
    return [(what, f"{ratio:.1f}", aim) for what, ratio, aim in found]


def measure(folder: Path, files: int) -> dict[str, dict[str, float]]:
    """Every step by what it is."""
    part = max(files // 10, 1)
    rows: dict[str, dict[str, float]] = {}
    write_jobs(folder / "part" / "jobs", part, max(int(part * ENGINES_PER_JOB), 1), processes=2)
    write_jobs(folder / "jobs", files, max(int(files * ENGINES_PER_JOB), 1), processes=2)
    rows[f"register of {part} new workbooks"] = step("read", folder / "part", part)
    rows[f"register of {files} new workbooks"] = step("read", folder, files)
    engine, typed = next(jobs(1, 1, seed=2))
    (folder / "jobs" / "one more.xlsx").write_bytes(filled_bytes(engine, typed | {"job_number": "one more"}))
    rows[f"the same with one new among {files}"] = step("read", folder, files)
    for count in (1000, 10_000):
        rows[f"store {count:,} records"] = step("store", folder, count)
        rows[f"write the register of {count:,} jobs"] = step("write", folder, count)
        rows[f"write it again over the one with notes, {count:,} jobs"] = step("write", folder, count)
    rows["store 100,000 records"] = step("store", folder, 100_000)
    rows["write the registers of 100,000 jobs, a book a year"] = step("write by year", folder, 100_000)
    for count in (1000, 10_000, 100_000):
        rows[f"one new job among {count:,} stored"] = step("one more", folder, count)
    if os.environ.get("ENGINE_CHECK_POSTGRES_URL"):
        rows["ten shops of 1,000 jobs at once, one PostgreSQL server: stored, read back, ten registers"] = (
            step("ten shops", folder, 1000)
        )
    return rows


if __name__ == "__main__":
    main()
