"""A shop's life at random: `python -m tests.attack.soak [--steps 2000] [--seed 1] [--office]`.

Forms are made, filled, checked (in place, as copies, in folders, by `watch`), answered, saved by other programs, renamed, copied
and deleted; checks are killed, disks refuse, clocks jump, somebody saves or renames in the middle, files belong to others and
have second names; the register is made in between. After each step everything that people typed must be where they typed it,
every other file as it was, and every file whose, and as open, as it was.
"""

from __future__ import annotations

import argparse
import errno
import os
import random
import shutil
import stat
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from openpyxl import load_workbook

from tests.attack.kills import STEPS_INTO, killed_check
from tests.place_sheet_samples import edited, parts
from tests.support.office import Office
from workbook_tools import check_workbook, fill_workbook
from workbook_tools.checking.watch import COPIES, Watcher
from workbook_tools.errors import EngineCheckError
from workbook_tools.form.all_sheets import SHEETS
from workbook_tools.generate.named_cells import NamedCells
from workbook_tools.generate.workbook import entries_for, shape_for, workbook_bytes
from workbook_tools.package import safe_write
from workbook_tools.package.parts import Package
from workbook_tools.register.make import make_register
from workbook_tools.report.answers import read_answers

OWNER, SHOP = 21001, 31000
#: A part that no spreadsheet program of these tests knows; it must stay, byte for byte.
STRANGE = "xl/strange.bin"
FIELDS = (
    "vehicle",
    "plate",
    "complaint_notes",
    "idle_vacuum_low",
    "idle_vacuum_high",
    "compression_dry_1",
    "timing",
)
STEPS_OF_A_LIFE = 40
DONE: Counter[str] = Counter()
OFFICE: list[Office] = []


@cache
def blank() -> bytes:
    """An empty form of one cylinder with a strange part in it."""
    shape = shape_for(1, None, "us")
    form = workbook_bytes(shape, entries_for(shape, {}), [sheet.name for sheet in SHEETS])
    kind = b'<Default Extension="bin" ContentType="application/octet-stream"/></Types>'
    return edited(
        form, {STRANGE: b"kept as it is" * 9, "[Content_Types].xml": lambda x: x.replace(b"</Types>", kind)}
    )


@dataclass
class Job:
    """What people know of one workbook: what they typed, what they answered, whose it is; `saved` by a program that drops parts."""

    typed: dict[str, object]
    answers: set[str] = field(default_factory=set)
    owner: tuple[int, int, int] = (0, 0, 0)
    other_name: Path | None = None
    saved: bool = False


def access_of(path: Path) -> tuple[int, int, int]:
    """Owner, group and mode."""
    what = path.stat()
    return what.st_uid, what.st_gid, stat.S_IMODE(what.st_mode)


@contextmanager
def refusing(step: str, number: int) -> Iterator[None]:
    """The system refuses one call of the writing."""
    real = getattr(os, step)

    def refuse(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    setattr(os, step, refuse)
    try:
        yield
    finally:
        setattr(os, step, real)


@contextmanager
def meanwhile(act: Callable[[], object]) -> Iterator[None]:
    """Somebody does something once, while the new content is on the disk and not in its place yet."""
    real, left = os.fsync, [act]

    def flushed(handle: int) -> None:
        if left:
            left.pop()()
        real(handle)

    os.fsync = flushed  # type: ignore[assignment]
    try:
        yield
    finally:
        os.fsync = real


class Shop(RuleBasedStateMachine):
    """A folder of jobs, what people know of them, and all that happens to them."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.jobs_folder, self.out = self.folder / "jobs", self.folder / "out"
        self.jobs_folder.mkdir()
        self.jobs: dict[Path, Job] = {}
        self.copies: dict[Path, set[str]] = {}
        self.bytes_of: dict[Path, bytes] = {}
        self.touched: set[Path] = set()
        self.made = 0
        self.watcher = Watcher(self.jobs_folder)

    def teardown(self) -> None:
        shutil.rmtree(self.folder, ignore_errors=True)

    # --- who is meant, what was done ---------------------------------------------------------------------------------

    def step(self, name: str, *paths: Path) -> None:
        """Count a step; only these files may change by it."""
        DONE[name] += 1
        self.touched = set(paths)

    def pick(self, number: int) -> tuple[Path, Job]:
        """One of the jobs."""
        path = sorted(self.jobs)[number % len(self.jobs)]
        return path, self.jobs[path]

    def new_path(self, number: int) -> Path:
        """A name that no file has; some as long as the system allows."""
        self.made += 1
        stem = f"J-{self.made}"
        return self.jobs_folder / (stem + ("x" * (250 - len(stem)) if number % 11 == 0 else "") + ".xlsx")

    def check(self, path: Path, **options: Any) -> bool:
        """Check a workbook; whether it was done, and not refused in a sentence."""
        try:
            check_workbook(path, **options)
        except EngineCheckError as refused:
            assert str(refused).strip().endswith((".", ")")), refused
            return False
        return True

    # --- what happens ------------------------------------------------------------------------------------------------

    @rule(number=st.integers(0, 99))
    def new(self, number: int) -> None:
        """A new form, already with its job number."""
        path = self.new_path(number)
        self.step("new", path)
        path.write_bytes(blank())
        fill_workbook(path, {"job_number": path.stem[:9]}, path)
        self.jobs[path] = Job({"job_number": path.stem[:9]}, owner=access_of(path))

    has_jobs = precondition(lambda self: self.jobs)

    @has_jobs
    @rule(number=st.integers(0, 99), name=st.sampled_from(FIELDS), value=st.integers(1, 180))
    def fill(self, number: int, name: str, value: int) -> None:
        """A reading typed."""
        path, job = self.pick(number)
        self.step("fill", path)
        text = name in FIELDS[:3]
        typed: object = f"=typed {value}" if text else float(value)
        fill_workbook(path, {name: typed}, path)
        job.typed[name] = typed

    @has_jobs
    @rule(number=st.integers(0, 99))
    def checked(self, number: int) -> None:
        """A check in place."""
        path, _ = self.pick(number)
        self.step("check", path)
        assert self.check(path)

    @has_jobs
    @rule(number=st.integers(0, 99))
    def copied_check(self, number: int) -> None:
        """A check that writes a copy."""
        path, job = self.pick(number)
        copy = self.out / path.name
        self.step("check --out-dir", copy)
        if self.check(path, out_dir=self.out):
            self.copies.setdefault(copy, set()).update(job.answers)
            assert access_of(copy)[2] & 0o077 & ~job.owner[2] == 0, "the copy is more open than the workbook"

    @has_jobs
    @rule(number=st.integers(0, 99), at=st.integers(0, STEPS_INTO))
    def killed(self, number: int, at: int) -> None:
        """A check killed at a step of its writing, and the next one, which brings back what was torn."""
        path, _ = self.pick(number)
        self.step("kill", path)
        killed_check(path, at, 0.0)
        assert self.check(path)

    @has_jobs
    @rule(
        number=st.integers(0, 99),
        call=st.sampled_from(("fsync", "replace")),
        error=st.sampled_from((errno.ENOSPC, errno.EIO, errno.EACCES, errno.EXDEV)),
    )
    def refused(self, number: int, call: str, error: int) -> None:
        """A check on a disk that refuses: what was there stays, byte for byte."""
        path, job = self.pick(number)
        self.step("disk refuses", *([path] if call == "replace" and job.other_name else []))
        with refusing(call, error):
            done = self.check(path)
        assert not done or (call == "replace" and path in self.touched)

    @has_jobs
    @rule(number=st.integers(0, 99), value=st.integers(1, 180))
    def saved_meanwhile(self, number: int, value: int) -> None:
        """Somebody saves a reading while the check runs: the save stays."""
        path, job = self.pick(number)
        self.step("save meanwhile", path)
        aside = self.folder / "aside.xlsx"
        fill_workbook(path, {"timing": float(value)}, aside)
        saved = aside.read_bytes()
        aside.unlink()
        with meanwhile(lambda: path.write_bytes(saved)):
            self.check(path)
        job.typed["timing"] = float(value)

    @has_jobs
    @rule(number=st.integers(0, 99))
    def renamed_meanwhile(self, number: int) -> None:
        """Somebody renames the workbook while the check runs: it does not come back."""
        path, job = self.pick(number)
        there = self.new_path(number)
        self.step("rename meanwhile", path, there)
        with meanwhile(lambda: path.rename(there)):
            assert not self.check(path)
        assert not path.exists()
        self.jobs[there] = self.jobs.pop(path)

    @has_jobs
    @rule(number=st.integers(0, 99))
    def renamed(self, number: int) -> None:
        """A workbook gets another name."""
        path, _ = self.pick(number)
        there = self.new_path(number)
        self.step("rename", path, there)
        path.rename(there)
        self.jobs[there] = self.jobs.pop(path)

    @precondition(lambda self: 0 < len(self.jobs) < 6)
    @rule(number=st.integers(0, 99))
    def duplicated(self, number: int) -> None:
        """A workbook is copied by hand."""
        path, job = self.pick(number)
        there = self.new_path(number)
        self.step("copy", there)
        shutil.copy2(path, there)
        self.jobs[there] = Job(dict(job.typed), set(job.answers), access_of(there), saved=job.saved)

    @precondition(lambda self: len(self.jobs) > 4)
    @rule(number=st.integers(0, 99))
    def deleted(self, number: int) -> None:
        """A workbook is thrown away."""
        path, job = self.pick(number)
        self.step("delete", path)
        path.unlink()
        if job.other_name is not None:
            job.other_name.unlink()
        del self.jobs[path]

    @has_jobs
    @rule(number=st.integers(0, 99), stamp=st.sampled_from((0, 1, 4_000_000_000)))
    def clock_jumps(self, number: int, stamp: int) -> None:
        """A file from long ago or from the future."""
        path, _ = self.pick(number)
        self.step("clock")
        os.utime(path, (stamp, stamp))

    @precondition(lambda self: self.jobs and os.geteuid() == 0)
    @rule(number=st.integers(0, 99), mode=st.sampled_from((0o600, 0o640, 0o660, 0o664)))
    def given_away(self, number: int, mode: int) -> None:
        """A workbook becomes somebody else's."""
        path, job = self.pick(number)
        self.step("owner")
        os.chown(path, OWNER, SHOP)
        path.chmod(mode)
        job.owner = access_of(path)

    @has_jobs
    @rule(number=st.integers(0, 99))
    def linked(self, number: int) -> None:
        """A workbook gets a second name elsewhere (a hard link)."""
        path, job = self.pick(number)
        self.step("link")
        if job.other_name is None:
            job.other_name = (
                self.folder / f"second name {self.made} {len(self.bytes_of)} {random.random()}.xlsx"
            )
            os.link(path, job.other_name)

    @has_jobs
    @rule(number=st.integers(0, 99), where=st.booleans())
    def answered(self, number: int, where: bool) -> None:
        """An answer typed into the findings, of the workbook or of its copy, by a program that loads and saves."""
        path, job = self.pick(number)
        target = self.out / path.name if where else path
        if not target.exists() or "Findings" not in load_workbook(target, read_only=True).sheetnames:
            return
        self.step("answer", target)
        book = load_workbook(target)
        cells = [cell for line in book["Findings"].iter_rows() for cell in line if cell.value == "Answer"]
        if not cells:
            return
        text = f"answer {DONE['answer']}"
        cell = cells[number % len(cells)]
        old = book["Findings"].cell(cell.row, cell.column + 1).value
        book["Findings"].cell(cell.row, cell.column + 1, text)
        known = self.copies[target] if where else job.answers
        known.discard(str(old))
        known.add(text)
        book.save(target)
        job.saved = job.saved or not where

    @precondition(lambda self: self.jobs and OFFICE)
    @rule(number=st.integers(0, 99))
    def saved_by_office(self, number: int) -> None:
        """A workbook saved by LibreOffice, which drops parts that it does not know."""
        path, job = self.pick(number)
        if number % 4 or job.other_name is not None:
            return
        self.step("LibreOffice", path)
        # LibreOffice opens no file whose name leaves no room for that of its lock.
        given, aside = self.folder / "given.xlsx", self.folder / "aside.xlsx"
        shutil.copy(path, given)
        OFFICE[0].resave(given, aside)
        path.write_bytes(aside.read_bytes())
        given.unlink()
        aside.unlink()
        job.saved = True

    @has_jobs
    @rule(number=st.integers(0, 99), is_open=st.booleans())
    def watched(self, number: int, is_open: bool) -> None:
        """A saved workbook is seen by `watch`, while a program has it open or not."""
        path, _ = self.pick(number)
        if len(path.name) > 240:
            return
        lock = path.with_name(f".~lock.{path.name}#")
        self.step("watch", path, self.jobs_folder / COPIES / path.name)
        if is_open:
            lock.write_text("a program")
        for line in self.watcher.saved([path]):
            assert "fault of this program" not in line, line
        if is_open:
            lock.unlink()
            list(self.watcher.saved([lock]))

    @has_jobs
    @rule(number=st.integers(0, 99))
    def registered(self, number: int) -> None:
        """The register is made anew, now and then."""
        if number % 8:
            return
        self.step("register", self.folder / "register.xlsx")
        made = make_register(self.jobs_folder, self.folder / "register.xlsx", forget_missing=True)
        assert made.unusable == ()

    # --- what must hold ----------------------------------------------------------------------------------------------

    @invariant()
    def everything_is_there(self) -> None:
        """Untouched files are as they were; in the others stands what was typed and answered."""
        now = {path: path.read_bytes() for path in [*self.jobs, *self.copies] if path.exists()}
        for path, content in now.items():
            if path in self.touched or self.bytes_of.get(path) != content:
                assert path in self.touched or path not in self.bytes_of, f"{path.name} changed"
                self.holds(path, content)
        for path, job in self.jobs.items():
            assert access_of(path) == job.owner, (path.name, access_of(path), job.owner)
            if job.other_name is not None:
                assert job.other_name.samefile(path), f"{path.name}: its second name leads elsewhere"
        litter = [each.name for each in self.folder.rglob(f"{safe_write.OURS}*")]
        assert not litter, litter
        known = {path.name for path in self.jobs}
        assert {each.name for each in self.jobs_folder.iterdir() if each.is_file()} == known
        self.bytes_of, self.touched = now, set()

    def holds(self, path: Path, content: bytes) -> None:
        """A workbook holds what people typed and answered, and its strange part."""
        package = Package(content, str(path))
        if path in self.jobs:
            job = self.jobs[path]
            cells = NamedCells(package, str(path))
            shown = {name: cells.value(name) for name in job.typed}
            assert shown == job.typed, (path.name, shown, job.typed)
            if not job.saved:
                assert parts(path)[STRANGE] == b"kept as it is" * 9
            wanted = job.answers
        else:
            wanted = self.copies[path]
        kept = set(read_answers(path, package).values())
        assert wanted <= kept, (path.name, wanted - kept)


def soak(steps: int, chance: int) -> Counter[str]:
    """So many steps of lives drawn from that seed; how often each kind. AssertionError where anything was lost."""
    DONE.clear()
    lives = max(1, steps // STEPS_OF_A_LIFE)
    run = settings(
        max_examples=lives,
        stateful_step_count=STEPS_OF_A_LIFE,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(seed(chance)(Shop), settings=run)
    return DONE


def main() -> None:
    """Live and print what was done."""
    asked = argparse.ArgumentParser(description="A shop's life at random.")
    asked.add_argument("--steps", type=int, default=2000, metavar="N")
    asked.add_argument("--seed", type=int, default=1, metavar="N")
    asked.add_argument("--office", action="store_true", help="save by LibreOffice too")
    options = asked.parse_args()
    started = time.monotonic()
    with ExitStack() as opened:
        if options.office:
            OFFICE.append(opened.enter_context(Office()))
        done = soak(options.steps, options.seed)
    for what, how_often in done.most_common():
        print(f"{how_often:6} {what}")
    print(f"{sum(done.values())} steps in {time.monotonic() - started:.0f} s, nothing lost")
    sys.exit(0)


if __name__ == "__main__":
    main()
