"""Watching a folder: what was saved is checked once, in the file or, while a program has it open, beside it."""

from __future__ import annotations

import shutil
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from tests.support.many_jobs import write_jobs
from tests.support.office import office_missing, office_required
from tests.support.office_steps import take_steps
from workbook_tools import new_workbook
from workbook_tools.checking.watch import COPIES, Watcher, watch
from workbook_tools.errors import BadRequest


@pytest.fixture
def jobs(tmp_path: Path) -> Path:
    """A folder with two filled jobs."""
    for file in write_jobs(tmp_path / "made", 2, 2):
        (tmp_path / "jobs").mkdir(exist_ok=True)
        shutil.copy(file, tmp_path / "jobs")
    return tmp_path / "jobs"


def has_findings(path: Path) -> bool:
    """Whether a workbook has a findings sheet."""
    return "Findings" in load_workbook(path, read_only=True).sheetnames


def test_a_saved_workbook_is_checked_once(jobs: Path) -> None:
    """A saved workbook gets its findings and one line; its own write is no new save."""
    first, second = sorted(jobs.glob("*.xlsx"))
    watcher = Watcher(jobs)
    (line,) = watcher.saved([first])
    assert first.name in line and "Sheet Findings was written." in line and "\n" not in line
    assert has_findings(first) and not has_findings(second)
    assert list(watcher.saved([first])) == []


def test_while_a_program_has_it_open_the_findings_go_beside(jobs: Path) -> None:
    """An open workbook stays as it is; once it is let go it gets its findings, and the copy goes."""
    job = sorted(jobs.glob("*.xlsx"))[0]
    before = job.read_bytes()
    lock = job.with_name(f".~lock.{job.name}#")
    lock.write_text("a program")
    watcher = Watcher(jobs)
    (line,) = watcher.saved([job])
    assert "open in another program" in line and f"{COPIES}/{job.name}" in line
    assert job.read_bytes() == before and has_findings(jobs / COPIES / job.name)
    assert list(watcher.saved([job, jobs / COPIES / job.name])) == []
    lock.unlink()
    (line,) = watcher.saved([lock])
    assert "was written" in line and has_findings(job)
    assert not (jobs / COPIES).exists()


def test_opening_a_workbook_is_no_save(jobs: Path) -> None:
    """A workbook that is opened and closed as it was is not written into, nor beside."""
    job = sorted(jobs.glob("*.xlsx"))[0]
    before = job.read_bytes()
    lock = job.with_name(f".~lock.{job.name}#")
    lock.write_text("a program")
    watcher = Watcher(jobs)
    assert list(watcher.saved([lock])) == []
    lock.unlink()
    assert list(watcher.saved([lock])) == []
    assert job.read_bytes() == before and not (jobs / COPIES).exists()


def test_a_copy_that_was_written_in_is_kept(jobs: Path) -> None:
    """A copy in which somebody answered meanwhile is not cleared away."""
    job = sorted(jobs.glob("*.xlsx"))[0]
    lock = job.with_name(f"~${job.name}")
    lock.write_text("a program")
    watcher = Watcher(jobs)
    list(watcher.saved([job]))
    copy = jobs / COPIES / job.name
    copy.write_bytes(copy.read_bytes() + b" ")
    lock.unlink()
    list(watcher.saved([lock]))
    assert copy.exists()


def test_what_is_no_job_is_passed_over(jobs: Path) -> None:
    """Other workbooks, other files, hidden and vanished ones get no line; a broken one gets a sentence."""
    Workbook().save(jobs / "prices.xlsx")
    (jobs / "notes.txt").write_text("notes")
    (jobs / ".hidden.xlsx").write_bytes(b"hidden")
    broken = jobs / "broken.xlsx"
    broken.write_bytes(b"PK\x03\x04 broken")
    others = [jobs / name for name in ("prices.xlsx", "notes.txt", ".hidden.xlsx", "gone.xlsx")]
    assert list(Watcher(jobs).saved(others)) == []
    (line,) = Watcher(jobs).saved([broken])
    assert "broken.xlsx" in line


def test_a_folder_is_watched_for_real(jobs: Path) -> None:
    """A workbook saved into a watched folder is checked within seconds, and the watch ends when it is told to."""
    lines: list[str] = []
    stop = threading.Event()
    watching = threading.Thread(target=watch, args=(jobs, lines.append), kwargs={"stop": stop})
    watching.start()
    try:
        deadline = time.monotonic() + 60
        while not lines and time.monotonic() < deadline:
            time.sleep(0.05)
        time.sleep(1)
        new_workbook(jobs / "new.tmp.xlsx", job_number="9").replace(jobs / "new.xlsx")
        while not any("new.xlsx" in line for line in lines) and time.monotonic() < deadline:
            time.sleep(0.1)
        time.sleep(1.5)
    finally:
        stop.set()
        watching.join(30)
    assert not watching.is_alive()
    assert [line.split(": ")[0].split()[-1] for line in lines[1:]] == ["new.xlsx"]
    assert has_findings(jobs / "new.xlsx")


def test_a_job_is_saved_from_libreoffice(tmp_path: Path) -> None:
    """Saved twice while open there, its findings come beside it each time; once it is closed they are in it, in one line each."""
    reason = office_missing()
    if reason:
        pytest.fail(reason) if office_required() else pytest.skip(reason)
    folder, profile = tmp_path / "jobs", tmp_path / "office"
    folder.mkdir()
    profile.mkdir()
    job, copy = new_workbook(folder / "job 7.xlsx", cylinders=1), folder / COPIES / "job 7.xlsx"
    steps: list[list[Any]] = [["open", str(job), "Hidden"], ["rest", 1.5]]
    for name, number in (("coolant_temperature", 185), ("idle_speed", 600)):
        steps += [["enter", name, number], ["save"], ["wait_for", str(copy)]]
    steps += [["close"], ["wait_for", str(job)]]
    lines: list[str] = []
    stop = threading.Event()
    watching = threading.Thread(target=watch, args=(folder, lines.append), kwargs={"stop": stop})
    watching.start()
    try:
        time.sleep(1)
        take_steps(steps, profile)
        deadline = time.monotonic() + 60
        while len(lines) < 4 and time.monotonic() < deadline:
            time.sleep(0.1)
    finally:
        stop.set()
        watching.join(30)
    assert ["checked/job 7.xlsx" in line for line in lines[1:]] == [True, True, False], lines
    assert "Sheet Findings was written." in lines[-1] and not any("\n" in line for line in lines)
    assert has_findings(job) and not copy.parent.exists()


def test_no_folder_is_said(tmp_path: Path) -> None:
    """What is no folder is refused in a sentence."""
    with pytest.raises(BadRequest, match="no folder"):
        watch(tmp_path / "none", print)
