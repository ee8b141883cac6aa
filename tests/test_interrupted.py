"""Whatever interrupts a check, the workbook is afterwards the old one or the new one, whole, and no litter stays."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.attack.full_disk import may_mount
from tests.support.many_jobs import write_jobs
from workbook_tools.checking.check import check_workbook
from workbook_tools.commands.program import main
from workbook_tools.errors import UnusableFile
from workbook_tools.package import safe_write

REPOSITORY = Path(__file__).parents[1]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A filled workbook alone in its folder."""
    (made,) = write_jobs(tmp_path / "made", 1, 1)
    (tmp_path / "jobs").mkdir()
    return made.rename(tmp_path / "jobs" / "job.xlsx")


def alone(path: Path) -> bool:
    """Whether nothing lies beside a file."""
    return [each.name for each in path.parent.iterdir()] == [path.name]


@pytest.mark.skipif(sys.platform == "win32", reason="processes are killed by signal")
def test_killed_checks_leave_the_old_or_the_new_workbook(tmp_path: Path) -> None:
    """Killed at every step of the writing and at any moment, a check leaves a whole workbook; the next one tidies up."""
    from tests.attack.kills import STEPS, kills

    found = kills(2 * STEPS, 7, tmp_path)
    assert found["old, killed"] >= STEPS // 2 and found["new, killed"] >= 1
    assert found["litter left by the kill"] >= 1


@pytest.mark.skipif(sys.platform == "win32", reason="processes are killed by signal")
def test_killed_checks_of_a_file_with_two_names(tmp_path: Path) -> None:
    """A file that must stay the same one is written into: whenever that was cut off, the next check brings it back."""
    from tests.attack.kills import STEPS_INTO, kills

    found = kills(2 * STEPS_INTO, 8, tmp_path, two_names=True)
    assert (
        found["torn, killed"] >= 1 and found["old, killed"] >= STEPS_INTO // 2 and found["new, killed"] >= 1
    )


@pytest.mark.parametrize("step", ["write", "fsync", "replace"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EACCES])
def test_a_system_that_refuses_changes_nothing(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], step: str, number: int
) -> None:
    """A full disk, a broken one or one that may not be written: one sentence, the old workbook, nothing beside it."""
    before = job.read_bytes()

    def refuse(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    if step == "write":
        monkeypatch.setattr(safe_write, "_new_file", refuse)
    else:
        monkeypatch.setattr(safe_write.os, step, refuse)
    assert main(["check", str(job)]) == 2
    said = capsys.readouterr().err
    assert "nothing was changed" in said and os.strerror(number) in said and "Traceback" not in said
    assert job.read_bytes() == before and alone(job)


def check_beyond_a_limit_of_size(job: Path) -> None:
    """Check a workbook where the system refuses in the middle of the data: it must stay as it was."""
    resource = pytest.importorskip("resource")
    before = job.read_bytes()
    child = os.fork()
    if child == 0:
        status = 9
        try:
            import signal

            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) // 2, len(before) // 2))
            try:
                check_workbook(job)
            except UnusableFile as problem:
                status = 0 if "could not be written" in str(problem) else 8
        finally:
            os._exit(status)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert job.read_bytes() == before and alone(job)


def test_disk_that_is_really_full(job: Path) -> None:
    """On a small disk with more and more room a check is refused in one sentence or done, in place and as a copy.

    Where no disk may be mounted, a limit of the size of files stands for it.
    """
    if may_mount() is None:
        check_beyond_a_limit_of_size(job)
        return
    filled_up = subprocess.run(
        [sys.executable, "-m", "tests.attack.full_disk", "--steps", "5"],
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
    )
    assert filled_up.returncode == 0, filled_up.stderr
    assert "in place: refused" in filled_up.stdout and "copy: refused" in filled_up.stdout


def test_limit_of_size(job: Path) -> None:
    """With no room for a second file the system itself refuses in the middle of the data: the old workbook stays."""
    check_beyond_a_limit_of_size(job)


def test_a_save_during_the_check_is_not_lost(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where another program saved the workbook meanwhile, its save stays, and the check says so."""
    later = job.read_bytes() + b"\0"
    real = safe_write.os.fsync

    def saved_meanwhile(handle: int) -> None:
        job.write_bytes(later)
        real(handle)

    monkeypatch.setattr(safe_write.os, "fsync", saved_meanwhile)
    with pytest.raises(UnusableFile, match="saved by another program"):
        check_workbook(job)
    assert job.read_bytes() == later and alone(job)


def test_two_checks_of_one_file_at_once(job: Path) -> None:
    """Two checks at once end with one whole findings sheet: the second waits for the first."""
    problems: list[Exception] = []

    def check() -> None:
        try:
            check_workbook(job)
        except UnusableFile as problem:
            problems.append(problem)

    both = [threading.Thread(target=check) for _ in range(2)]
    for each in both:
        each.start()
    for each in both:
        each.join()
    assert problems == []
    assert load_workbook(job).sheetnames.count("Findings") == 1 and alone(job)


def test_a_clock_that_jumps_changes_nothing(job: Path) -> None:
    """A workbook saved in the future or long ago is checked like any other, and known as unchanged by what is in it."""
    for stamp in (0, 4_000_000_000):
        os.utime(job, (stamp, stamp))
        assert main(["check", str(job.parent)]) == 0
        assert load_workbook(job).sheetnames.count("Findings") == 1
    assert alone(job)
