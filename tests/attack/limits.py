"""Workbooks at every limit: `python -m tests.attack.limits [CASE ...]`, printed as a table with time and memory.

Each of the files in `hard_files.py` and `hard_contents.py` is checked by the command itself in a process of its own, whose
processor time (a lone machine's clock) and peak memory are taken. It must be refused in one sentence and stay as it was,
or be checked with the findings of the sample that it was made from; within LIMITS, without a traceback, and with nothing
left beside it.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
import zipfile
from dataclasses import dataclass
from pathlib import Path

from tests.attack import hard_contents
from tests.attack.hard_files import BOOK, CASES, SAMPLE, Case

assert hard_contents, "its cases stand in the same table"

#: Seconds and megabytes for one file.
LIMITS = (20.0, 500.0)
REPOSITORY = Path(__file__).parents[2]


@dataclass(frozen=True)
class Run:
    """One check in its own process: exit status, what it printed, seconds of processor and clock, megabytes at the peak."""

    status: int
    printed: str
    said: str
    seconds: float
    clock: float
    megabytes: float


#: Starts a command and writes its exit status, seconds of processor and peak in kB to a file.
STARTER = """
import json, os, sys
_, status, used = os.wait4(os.posix_spawn(sys.argv[2], sys.argv[2:], os.environ), 0)
with open(sys.argv[1], "w") as file:
    json.dump([os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime, used.ru_maxrss], file)
"""


def made_apart(case: Case, path: Path) -> None:
    """Write a case's file in a process that ends, so that this one stays small. Raises OSError where that fails."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            path.write_bytes(case.make())
            status = 0
        finally:
            os._exit(status)
    if os.waitpid(child, 0)[1]:
        raise OSError(f"{path} could not be made")


def checked_apart(path: Path) -> Run:
    """Check a workbook by the command, and measure it.

    The peak is the system's own figure for the ended process. It counts what the process that started it held
    at that moment too, and a worker of the tests holds much: so it is started by a small one (`STARTER`).
    """
    command = [sys.executable, "-X", "utf8", "-m", "workbook_tools", "check", str(path), "--json"]
    with (
        tempfile.TemporaryFile() as printed,
        tempfile.TemporaryFile() as said,
        tempfile.NamedTemporaryFile() as measured,
    ):
        start = time.perf_counter()
        subprocess.run(
            [sys.executable, "-I", "-S", "-c", STARTER, measured.name, *command],
            stdout=printed,
            stderr=said,
            cwd=REPOSITORY,
            check=True,
        )
        clock = time.perf_counter() - start
        for stream in (printed, said):
            stream.seek(0)
        status, seconds, kilobytes = json.loads(measured.read())
        return Run(status, printed.read().decode(), said.read().decode(), seconds, clock, kilobytes / 1024)


def judged(printed: str) -> object:
    """The part of a check's result that no hard file may change: what is wrong with the engine."""
    found = json.loads(printed)
    findings = [
        (each["cause"], each["cylinders"], each["strength"], each["statement"]) for each in found["findings"]
    ]
    return found["job_number"], found["headline"], found["states"], findings


def digest(path: Path) -> bytes:
    """SHA-256 of a file, which is not taken into memory: some are large."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").digest()


def problems(case: Case, run: Run, path: Path, before: bytes, usual: object) -> list[str]:
    """What is wrong with how a file was dealt with."""
    wrong = []
    if run.seconds > LIMITS[0]:
        wrong.append(f"took {run.seconds:.0f} s")
    if run.megabytes > LIMITS[1]:
        wrong.append(f"took {run.megabytes:.0f} MB")
    if [each.name for each in path.parent.iterdir()] != [path.name]:
        wrong.append("left something beside the file")
    if "Traceback" in run.said or "fault of this program" in run.said:
        wrong.append(f"a fault: {run.said[-300:]}")
    elif run.status == 2:
        if digest(path) != before:
            wrong.append("was refused, and changed")
        if len(run.said.strip().splitlines()) != 1:
            wrong.append(f"not one sentence: {run.said[:300]}")
        if case.refusal == "" or (case.refusal or "") not in run.said:
            wrong.append(f"not refused for that reason: {run.said.strip()[:300]}")
    elif run.status == 0:
        if case.refusal:
            wrong.append("was not refused")
        if judged(run.printed) != usual:
            wrong.append("other findings than the sample's")
        with zipfile.ZipFile(path) as archive:
            if archive.testzip() is not None or b'name="Findings"' not in archive.read(BOOK):
                wrong.append("no whole workbook with a findings sheet")
    else:
        wrong.append(f"ended with {run.status}: {run.said[-300:]}")
    return wrong


def usual_result(folder: Path) -> object:
    """What a check of the unharmed sample finds."""
    path = folder / "sample.xlsx"
    path.write_bytes(SAMPLE.read_bytes())
    return judged(checked_apart(path).printed)


def attempt(name: str, folder: Path, usual: object) -> tuple[list[str], Run, int]:
    """Make and check one case in an empty folder of its own: what is wrong, how it went, and the file's size in bytes."""
    (folder / "file").mkdir(parents=True)
    path = folder / "file" / "job.xlsx"
    made_apart(CASES[name], path)
    before, size = digest(path), path.stat().st_size
    run = checked_apart(path)
    return problems(CASES[name], run, path, before, usual), run, size


def main() -> int:
    """Run the cases asked for, all without any, and print the table."""
    asked = argparse.ArgumentParser(description="Check workbooks at every limit.")
    asked.add_argument(
        "cases", nargs="*", metavar="CASE", help="words that a case's name holds; all cases without"
    )
    options = asked.parse_args()
    names = [name for name in CASES if not options.cases or any(word in name for word in options.cases)]
    wrong: list[str] = []
    print("| What is in the file | Size | Result | Seconds of processor | by the clock | MB at the peak |")
    print("| --- | --- | --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory() as folder:
        usual = usual_result(Path(folder))
        for number, name in enumerate(names):
            found, run, size = attempt(name, Path(folder) / str(number), usual)
            (Path(folder) / str(number) / "file" / "job.xlsx").unlink()
            result = {0: "checked", 2: "refused"}.get(run.status, f"ended with {run.status}")
            print(
                f"| {name} | {size / 1e6:.1f} MB | {result} | {run.seconds:.1f} | {run.clock:.1f} | {run.megabytes:.0f} |",
                flush=True,
            )
            wrong += [f"{name}: {each}" for each in found]
    print("\n" + ("\n".join(wrong) if wrong else f"{len(names)} files, nothing went wrong"))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
