"""Checks killed in the middle: `python -m tests.attack.kills [--count 300] [--seed 1] [--two-names]`.

Half are killed at a step of the writing (before or after each call to the system, and in the middle of the data), half at
any moment of the check. After each kill the workbook must be the old one or the new one, whole; the next check must
clear what the killed one left. With two names (hard links) the workbook is written into: then it may be torn, and the next
check brings it back.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from tests.support.many_jobs import write_jobs
from workbook_tools.checking.check import check_workbook
from workbook_tools.package import safe_write

#: Calls to the system that the writing consists of, each with the module that it is reached by.
CALLS: tuple[tuple[Any, str], ...] = (
    (safe_write.os, "fsync"),
    (safe_write.os, "replace"),
    (safe_write.access, "give"),
    (safe_write.fcntl, "flock"),
)
#: A few steps more than a writing has that puts a new file in place, and one into the same file; one past the last kills nothing.
STEPS, STEPS_INTO = 14, 24


def die() -> None:
    """End this process as a power cut would: nothing is flushed, nothing is tidied."""
    os.kill(os.getpid(), signal.SIGKILL)


def kill_at(step: int) -> None:
    """Make this process die at that step of its next writing."""
    seen = -1

    def count() -> None:
        nonlocal seen
        if seen == step:
            die()
        seen += seen >= 0

    def opened(file: Any) -> _Halves:
        nonlocal seen
        seen = max(seen, 0)  # what is cleared away before has as many steps as there is litter
        return _Halves(file, count)

    def wrapped(call: Callable[..., Any]) -> Callable[..., Any]:
        def calling(*arguments: Any, **options: Any) -> Any:
            count()
            result = call(*arguments, **options)
            count()
            return result

        return calling

    for module, name in CALLS:
        setattr(module, name, wrapped(getattr(module, name)))
    real = os.fdopen
    safe_write.os.fdopen = lambda *arguments: opened(real(*arguments))  # type: ignore[assignment]


class _Halves:
    """A file that writes in two halves, with a step between them."""

    def __init__(self, file: Any, count: Callable[[], None]) -> None:
        self._file, self._count = file, count

    def __enter__(self) -> _Halves:
        self._file.__enter__()
        return self

    def __exit__(self, *problem: Any) -> None:
        self._file.__exit__(*problem)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def write(self, data: bytes) -> None:
        middle = len(data) // 2
        self._file.write(data[:middle])
        self._file.flush()
        self._count()
        self._file.write(data[middle:])


def killed_check(path: Path, step: int | None, after_seconds: float) -> bool:
    """Check a workbook in a process that is killed, at a step or after a time; whether it was killed before it ended."""
    child = os.fork()
    if child == 0:
        try:
            if step is not None:
                kill_at(step)
            check_workbook(path)
        finally:
            os._exit(0)
    if step is None:
        time.sleep(after_seconds)
        os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def state_of(path: Path, old: bytes) -> str:
    """`old`, `new`, or `torn` where only a check would bring it back; raises where it is neither, or not whole."""
    if path.read_bytes() == old:
        return "old"
    if safe_write.was_stopped(path) and not safe_write.unpacks(path):
        check_workbook(path)
        state_of(path, old)
        return "torn"
    assert safe_write.unpacks(path), "the workbook is torn"
    book = load_workbook(path, read_only=True)
    assert "Findings" in book.sheetnames, "the workbook is neither the old one nor the new one"
    book.close()
    return "new"


def kills(count: int, seed: int, folder: Path, two_names: bool = False) -> Counter[str]:
    """Kill that many checks of a workbook in an empty folder; how often the workbook was the old and the new one.

    Raises AssertionError where it was neither, or the next check left something lying about.
    """
    chance = random.Random(seed)
    (made,) = write_jobs(folder / "made", 1, 1)
    path = folder / "jobs" / "job.xlsx"
    path.parent.mkdir()
    old = made.read_bytes()
    path.write_bytes(old)
    if two_names:
        os.link(path, folder / "other name.xlsx")
    start = time.perf_counter()
    check_workbook(path)
    whole_check = time.perf_counter() - start
    found: Counter[str] = Counter()
    for number in range(count):
        path.write_bytes(old)
        step = number // 2 % (STEPS_INTO if two_names else STEPS) if number % 2 == 0 else None
        died = killed_check(path, step, chance.uniform(0, whole_check * 1.2))
        found[f"{state_of(path, old)}, {'killed' if died else 'ended before'}"] += 1
        found["litter left by the kill"] += len(list(path.parent.iterdir())) > 1
        if number % 10 == 9 or number == count - 1:
            check_workbook(path)
            assert [each.name for each in path.parent.iterdir()] == [path.name], (
                "the next check left something lying about"
            )
    if two_names:
        assert path.samefile(folder / "other name.xlsx"), "the other name leads to another file now"
    return found


def main() -> None:
    """Kill and print what came of it."""
    asked = argparse.ArgumentParser(description="Kill checks in the middle of their work.")
    asked.add_argument("--count", type=int, default=300, metavar="N")
    asked.add_argument("--seed", type=int, default=1, metavar="N")
    asked.add_argument("--two-names", action="store_true")
    options = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        found = kills(options.count, options.seed, Path(name), options.two_names)
    for what, how_often in sorted(found.items()):
        print(f"{how_often:6} {what}")
    sys.exit(0)


if __name__ == "__main__":
    main()
