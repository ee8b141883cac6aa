"""Commands on a disk that has no room: `python -m tests.attack.full_disk [--steps 30]`.

The disk is a real one, a tmpfs of 1 MB, mounted where nobody else sees it (a mount namespace of its own, unshare(1)).
A file fills it but for a little room, more each time, from none to enough; with each, a workbook on it is checked, and one
beside it is copied onto it. Where the room was too small: exit 2, one sentence, the workbook as it was, nothing beside
it; where it was enough, a whole workbook with its findings.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from workbook_tools.commands.program import main as command

REPOSITORY = Path(__file__).parents[2]
SAMPLE = REPOSITORY / "sample_workbooks" / "filled" / "S-101-pump-burned-valve.xlsx"
SIZE = 1024 * 1024
#: Room that is more than enough for a second workbook.
ENOUGH = 400 * 1024


def may_mount() -> list[str] | None:
    """The command that opens a place where a disk may be mounted, None where this system or user has none."""
    for place in (["unshare", "-m"], ["unshare", "-rm"]):
        with contextlib.suppress(OSError):
            with tempfile.TemporaryDirectory() as folder:
                tried = subprocess.run(
                    [*place, "mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", folder], capture_output=True
                )
            if tried.returncode == 0:
                return place
    return None


@contextlib.contextmanager
def filled_up(disk: Path, room: int) -> Iterator[None]:
    """The disk with that many bytes of room."""
    filler = disk / "filler"
    free = os.statvfs(disk)
    filler.write_bytes(bytes(max(free.f_bavail * free.f_frsize - room, 0)))
    try:
        yield
    finally:
        filler.unlink()


def whole_with_findings(path: Path) -> bool:
    """Whether a workbook is whole and has its findings sheet."""
    with zipfile.ZipFile(path) as archive:
        return archive.testzip() is None and b'name="Findings"' in archive.read("xl/workbook.xml")


def attempt(disk: Path, room: int, *, copied: bool) -> str:
    """Check a workbook with that much room on its disk, or on the disk for its copy; `written` or `refused`.

    Raises AssertionError where anything else came of it.
    """
    with tempfile.TemporaryDirectory() as elsewhere:
        jobs, out = (Path(elsewhere), disk / "out") if copied else (disk / "jobs", disk / "out")
        for folder in (jobs, out):
            folder.mkdir(exist_ok=True)
        job = jobs / "job.xlsx"
        shutil.copyfile(SAMPLE, job)
        said = io.StringIO()
        with filled_up(disk, room), contextlib.redirect_stderr(said):
            status = command(["check", str(job), *(["--out-dir", str(out)] if copied else [])])
            if status == 2:
                assert said.getvalue().count("\n") == 1 and "No space left on device" in said.getvalue(), (
                    said.getvalue()
                )
                assert job.read_bytes() == SAMPLE.read_bytes()
                assert os.listdir(jobs) == ["job.xlsx"] and os.listdir(out) == []
            else:
                assert status == 0 and whole_with_findings(out / "job.xlsx" if copied else job)
                assert os.listdir(jobs) == ["job.xlsx"]
        for folder in (disk / "jobs", out):
            shutil.rmtree(folder, ignore_errors=True)
    return "refused" if status == 2 else "written"


def fill_up(disk: Path, steps: int) -> Counter[str]:
    """Check with more and more room on that disk: how often it was too small and how often enough."""
    rooms = [ENOUGH * number // (steps - 1) // 4096 * 4096 for number in range(steps)]
    came_of = Counter(
        f"{'copy' if copied else 'in place'}: {attempt(disk, room, copied=copied)}"
        for room in rooms
        for copied in (0, 1)
    )
    assert len(came_of) == 4, f"the disk was never full, or always: {came_of}"
    return came_of


def main() -> int:
    """Mount a small disk where nobody else sees it, and fill it up."""
    asked = argparse.ArgumentParser(description="Check workbooks on a full disk.")
    asked.add_argument("--steps", type=int, default=30, metavar="N")
    asked.add_argument("--mounted", type=Path, metavar="DIR", help=argparse.SUPPRESS)
    options = asked.parse_args()
    if options.mounted:
        for what, how_often in sorted(fill_up(options.mounted, options.steps).items()):
            print(f"{how_often:6} {what}")
        return 0
    place = may_mount()
    if place is None:
        print("no disk can be mounted here", file=sys.stderr)
        return 3
    with tempfile.TemporaryDirectory() as disk:
        again = [
            sys.executable,
            "-m",
            "tests.attack.full_disk",
            "--steps",
            str(options.steps),
            "--mounted",
            disk,
        ]
        script = f'mount -t tmpfs -o size={SIZE} tmpfs "$0" && exec "$@"'
        return subprocess.run([*place, "sh", "-c", script, disk, *again], cwd=REPOSITORY).returncode


if __name__ == "__main__":
    sys.exit(main())
