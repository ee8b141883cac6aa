"""What checking a folder costs, as ratios within one run: `python -m tests.benchmarks.folder_ratios [--jobs 1000]`.

Every run is a process of its own, as a shop starts it, on a fresh copy of the same generated folder. Times are the
medians of several rounds in which the runs compared are timed in turn; memory is the largest that any of the processes
of a run had.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from tests.support.many_jobs import write_jobs

ROUNDS = 3
ENGINES = 60
#: Memory is compared between the folder and one of this share of it.
SMALL_SHARE = 4
MEASURED = """
import resource, sys
from workbook_tools.cli import main
status = main(sys.argv[1:])
print(max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)))
sys.exit(status)
"""


@dataclass(frozen=True)
class Run:
    """One run of the command: seconds from process start to end, and the largest process in MB."""

    seconds: float
    megabytes: float


def check(folder: Path, workers: int) -> Run:
    """Check a folder in a process of its own."""
    command = [sys.executable, "-c", MEASURED, "check", str(folder), "--jobs", str(workers)]
    start = time.perf_counter()
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return Run(time.perf_counter() - start, int(done.stdout.split()[-1]) / 1024)


def fresh(source: Path, share: int = 1) -> Path:
    """A copy of the generated folder, or of every `share`th file of it."""
    folder = source.with_name("copy")
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for file in sorted(source.rglob("*.xlsx"))[::share]:
        shutil.copy(file, folder / f"{file.parent.name}-{file.name}")
    return folder


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="Time the check of a folder of generated workbooks.")
    parser.add_argument(
        "--jobs", type=int, default=200, metavar="N", help="workbooks in the folder (default 200)"
    )
    parser.add_argument("--rounds", type=int, default=ROUNDS, metavar="N", help=f"default {ROUNDS}")
    asked = parser.parse_args()
    count = asked.jobs
    print(f"load of the machine before the run: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as name:
        source = Path(name, "source")
        write_jobs(source, count, min(ENGINES, count))
        one, two, again = [], [], []
        for _ in range(asked.rounds):
            one.append(check(fresh(source), 1))
            two.append(check(folder := fresh(source), 2))
            again.append(check(folder, 2))
        small = check(fresh(source, SMALL_SHARE), 2)
    rows = {
        "1 process against 2": (one, two, 1.7, "at least"),
        "first run against a second, nothing changed": (two, again, None, ""),
    }
    print(f"{count} workbooks{'':39} {'ratio':>6} {'first s':>9} {'other s':>9}  {'aim':>6}")
    for what, (first, other, aim, word) in rows.items():
        ratio = statistics.median(a.seconds / b.seconds for a, b in zip(first, other, strict=True))
        a, b = (statistics.median(run.seconds for run in runs) for runs in (first, other))
        print(f"{what:50} {ratio:6.2f} {a:9.2f} {b:9.2f}  {word} {aim or ''}")
    large = max(run.megabytes for run in two)
    fewer = count // SMALL_SHARE
    what = f"memory with {count} workbooks against {fewer}, MB"
    print(f"{what:50} {large / small.megabytes:6.2f} {large:9.1f} {small.megabytes:9.1f}  about 1")
    each = statistics.median(run.seconds for run in two) / count
    print(f"{'seconds a workbook, 2 processes':50} {each:6.3f}")


if __name__ == "__main__":
    main()
