"""What checking a folder costs, as ratios within one run: `python -m tests.benchmarks.folder_ratios [--jobs 1000]`.

Every run is a process of its own, as a shop starts it, on a fresh copy of the same generated folder. Times are the
medians of several rounds in which the runs compared are timed in turn; of a large folder one and two processes are
compared on a part of it. Memory is the largest that any of the processes of a run had.

What two processes gain is told twice: by the clock, which suffers from whatever else the machine does, and by the
processors' time: all of one process, over the parent's (which nothing can share out) and half of its children's.
That is what two idle cores give (G. M. Amdahl, AFIPS Spring Joint Computer Conference 1967; from memory).
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
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.report import Row, compiled, machine, table
from tests.support.many_jobs import write_jobs

ROUNDS = 3
ENGINES = 60
#: One and two processes are compared on at most about so many workbooks.
COMPARED_AT_MOST = 250
#: Memory is compared between the folder and one of this share of it.
SMALL_SHARE = 4
MEASURED = """
import resource, sys
from workbook_tools.commands.program import main
status = main(sys.argv[1:])
for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN):
    used = resource.getrusage(who)
    print(used.ru_utime + used.ru_stime, used.ru_maxrss)
sys.exit(status)
"""


@dataclass(frozen=True)
class Run:
    """One run: seconds by the clock, processor seconds of parent and children, and the largest process in MB."""

    seconds: float
    parent: float
    children: float
    megabytes: float

    @property
    def processor(self) -> float:
        """Processor seconds of all its processes."""
        return self.parent + self.children


def check(folder: Path, workers: int, compiled_at: Path) -> Run:
    """Check a folder in a process of its own."""
    command = [sys.executable, "-c", MEASURED, "check", str(folder), "--jobs", str(workers)]
    start = time.perf_counter()
    done = subprocess.run(command, check=True, capture_output=True, text=True, env=compiled(compiled_at))
    taken = time.perf_counter() - start
    (parent, own), (children, theirs) = (line.split() for line in done.stdout.splitlines()[-2:])
    return Run(taken, float(parent), float(children), max(int(own), int(theirs)) / 1024)


def fresh(source: Path, share: int = 1) -> Path:
    """A copy of the generated folder, or of every `share`th file of it."""
    folder = source.with_name("copy")
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for file in sorted(source.rglob("*.xlsx"))[::share]:
        shutil.copy(file, folder / f"{file.parent.name}-{file.name}")
    return folder


@dataclass
class Measured:
    """The runs: the compared ones in their rounds, and for memory the whole folder and a small one."""

    one: list[Run]
    two: list[Run]
    again: list[Run]
    whole: Run
    small: Run


def measure(folder: Path, count: int, rounds: int) -> Measured:
    """Generate the folder and check it, one run after the other."""
    source, compiled_at = folder / "source", folder / "compiled"
    write_jobs(source, count, min(ENGINES, count), processes=os.cpu_count() or 1)
    share = compared_share(count)
    one, two, again = [], [], []
    for _ in range(rounds):
        one.append(check(fresh(source, share), 1, compiled_at))
        two.append(check(copy := fresh(source, share), 2, compiled_at))
        again.append(check(copy, 2, compiled_at))
    whole = two[0] if share == 1 else check(fresh(source), 2, compiled_at)
    small = two[0] if share == SMALL_SHARE else check(fresh(source, SMALL_SHARE), 2, compiled_at)
    return Measured(one, two, again, whole, small)


def compared_share(count: int) -> int:
    """Every so manieth workbook is part of the runs that are compared."""
    return max(1, round(count / COMPARED_AT_MOST))


def rows(found: Measured, count: int) -> list[Row]:
    """The table's rows."""
    compared = len(range(0, count, compared_share(count)))
    fewer = len(range(0, count, SMALL_SHARE))

    def median(what: str, aim: str, pairs: Sequence[tuple[Run, Run]], told: Callable[[Run], float]) -> Row:
        ours, other = ([told(pair[side]) for pair in pairs] for side in (0, 1))
        both = statistics.median(a / b for a, b in zip(ours, other, strict=True))
        return Row(what, both, statistics.median(ours), statistics.median(other), aim=aim)

    one_and_two = list(zip(found.one, found.two, strict=True))
    alone = [one.processor for one in found.one]
    shared = [two.parent + two.children / 2 for two in found.two]
    return [
        median(
            f"{compared} workbooks, 1 process against 2", "at least 1.7", one_and_two, lambda run: run.seconds
        ),
        Row(
            f"{compared} workbooks, the same by processor time",
            statistics.median(a / b for a, b in zip(alone, shared, strict=True)),
            statistics.median(alone),
            statistics.median(shared),
            aim="at least 1.7",
        ),
        median(
            f"{compared} workbooks, first run against a second with nothing changed",
            "",
            list(zip(found.two, found.again, strict=True)),
            lambda run: run.seconds,
        ),
        Row(
            f"largest process, {count} workbooks against {fewer}",
            found.whole.megabytes / found.small.megabytes,
            found.whole.megabytes,
            found.small.megabytes,
            "MB",
            "about 1",
        ),
        Row(
            f"processor time a workbook, {count} against {fewer}",
            (found.whole.processor / count) / (found.small.processor / fewer),
            found.whole.processor / count,
            found.small.processor / fewer,
            aim="about 1",
        ),
    ]


def main() -> None:
    """Measure and print the table in Markdown."""
    parser = argparse.ArgumentParser(description="Time the check of a folder of generated workbooks.")
    parser.add_argument(
        "--jobs", type=int, default=200, metavar="N", help="workbooks in the folder (default 200)"
    )
    parser.add_argument("--rounds", type=int, default=ROUNDS, metavar="N", help=f"default {ROUNDS}")
    asked = parser.parse_args()
    print(f"{machine()}\n")
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as name:
        found = measure(Path(name), asked.jobs, asked.rounds)
    print(table(rows(found, asked.jobs), "first", "second"))
    share = statistics.median(run.parent / run.processor for run in found.two)
    print(f"\nThe parent's share of the processors' time, 2 processes: {share:.1%}.", end=" ")
    print(f"The whole measurement took {(time.perf_counter() - start) / 60:.1f} minutes.")


if __name__ == "__main__":
    main()
