"""How the register's cost grows: `python -m tests.benchmarks.register_growth [--files N]`.

Ratios within one run. `--files` real workbooks (1,000 unless told otherwise) are read into a store, then one more;
the register's own part is measured with records made without workbooks, 1,000 and 10,000. Each step is a process of its
own, so that its peak memory is its own; the peak of the processes that read files for it is the largest of them.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.benchmarks.report import machine, markdown
from tests.support.many_jobs import filled_bytes, jobs, write_jobs
from tests.support.register_records import many_records
from workbook_tools.register.book import register_book
from workbook_tools.register.contents import contents_of
from workbook_tools.register.kept import read_kept
from workbook_tools.register.make import make_register
from workbook_tools.register.store import Store

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


def run_step(name: str, folder: Path, count: int) -> None:
    """What the process of one step does; prints its figures."""
    start = time.perf_counter()
    if name == "read":
        make_register(folder / "jobs", folder / "register.xlsx", jobs=2)
    elif name == "store":
        batch = list(many_records(count, int(count * ENGINES_PER_JOB)))
        start = time.perf_counter()
        with Store.open(folder / f"{count}.sqlite") as store:
            for place in range(0, count, 500):
                store.keep(batch[place : place + 500])
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
            {"s": seconds, "MB": own / MEGABYTE_IN_KILOBYTES, "readers MB": children / MEGABYTE_IN_KILOBYTES}
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
    head = ("measured", "time", "peak of the process", "peak of a reader")
    lines = [
        (
            what,
            f"{found['s']:.2f} s",
            f"{found['MB']:.0f} MB",
            f"{found['readers MB']:.0f} MB" if found["readers MB"] else "",
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
    return rows


if __name__ == "__main__":
    main()
