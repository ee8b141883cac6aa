"""Watching a folder: each workbook of ours is checked when it was saved, and what came of it is told in one line.

    watch(folder, say)              until it is stopped
    Watcher(folder).saved(paths)    the lines on what became of files that changed

While a program has a workbook open, its findings go into a copy in the folder `checked` beside it; once the program has let go
of the file they go into the file itself, and that copy is cleared away.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from threading import Event

from workbook_tools.checking.check import Checked, check_workbook, is_checked_copy, unchanged_since_check
from workbook_tools.checking.job_files import CHECKABLE, LOCKS
from workbook_tools.errors import BadRequest, EngineCheckError, NotOurWorkbook, fault_of_ours
from workbook_tools.package.safe_write import Digest, lock_beside, remove_file
from workbook_tools.specs.book import SpecsBook

COPIES = "checked"
#: A program may take several steps to save; a file is looked at when it has been left alone for so long.
QUIET_MS, LONGEST_MS = 400, 3000
#: A file that can't be read may still be being written: it is tried again so often, after so long.
TRIES, PAUSE_SECONDS = 3, 0.5


def watch(
    folder: Path, say: Callable[[str], None], *, specs: SpecsBook | None = None, stop: Event | None = None
) -> None:
    """Check what is saved below a folder, until `stop` is set or a person interrupts.

    Raises BadRequest where there is no such folder, or the library that watches folders is not installed.
    """
    try:
        from watchfiles import watch as changes_in
    except ImportError as problem:
        raise BadRequest(
            "Watching needs a library that is not there; pip install 'workbook-tools[watch]' installs it."
        ) from problem
    if not folder.is_dir():
        raise BadRequest(f"{folder} is no folder; give the folder that the job workbooks are in.")
    watcher = Watcher(folder, specs)
    say(f"Watching {folder}: each workbook is checked when it is saved. Ctrl-C ends it.")
    for changes in changes_in(
        folder, watch_filter=None, stop_event=stop, debounce=LONGEST_MS, step=QUIET_MS, rust_timeout=500
    ):
        for line in watcher.saved(Path(path) for _, path in changes):
            say(line)


class Watcher:
    """Checks what was saved, and remembers the copies that it made meanwhile."""

    def __init__(self, folder: Path, specs: SpecsBook | None = None) -> None:
        self.folder = folder.resolve()
        self.specs = specs
        self.copies: dict[Path, Digest] = {}
        self.open_yet: set[Path] = set()

    def saved(self, paths: Iterable[Path]) -> Iterator[str]:
        """A line for each workbook among the files that changed, or that a program let go of after it had saved them."""
        for path in sorted({workbook for each in paths if (workbook := self._workbook(each)) is not None}):
            line = self._checked(path)
            if line:
                yield f"{time.strftime('%H:%M')} {path.relative_to(self.folder)}: {line}"

    def _workbook(self, path: Path) -> Path | None:
        """The workbook that a change is about: the file itself, or that whose lock went after it was saved under it."""
        path = path.parent.resolve() / path.name
        for start in LOCKS:
            if path.name.startswith(start):
                lock, path = path, path.with_name(path.name.removeprefix(start).removesuffix("#"))
                # Opening a workbook, or closing it as it was, is no reason to write into it.
                if lock.exists() or path not in self.open_yet:
                    return None
        inside = path.relative_to(self.folder).parts if path.is_relative_to(self.folder) else (".",)
        hidden = any(part.startswith(".") for part in inside) or COPIES in inside[:-1]
        return None if hidden or path.suffix.lower() not in CHECKABLE or not path.is_file() else path

    def _checked(self, path: Path) -> str:
        """What came of a workbook in one line; '' where there is nothing new, or it is none of ours."""
        for tries_left in range(TRIES - 1, -1, -1):
            try:
                return self._check(path)
            except NotOurWorkbook:
                return ""
            except EngineCheckError as problem:
                if tries_left == 0:
                    return str(problem)
                time.sleep(PAUSE_SECONDS)
            except Exception as problem:  # one odd file must not end the watch
                return f"could not be checked, {fault_of_ours(problem)}."
        return ""

    def _check(self, path: Path) -> str:
        copies = path.parent / COPIES if lock_beside(path) else None
        self.open_yet.discard(path)
        if copies is not None:
            self.open_yet.add(path)
        target = path if copies is None else copies / path.name
        if is_checked_copy(path):
            return ""
        if unchanged_since_check(path, target, self.specs) is not None:
            return self._let_go(path) if copies is None else ""
        checked = check_workbook(path, out_dir=copies, specs=self.specs)
        if copies is not None:
            self.copies[target] = checked.digest
            return f"{in_a_line(checked)} It is open in another program: the findings are in {COPIES}/{path.name}."
        self._let_go(path)
        return f"{in_a_line(checked)} Sheet {checked.sheet} was written."

    def _let_go(self, path: Path) -> str:
        """Clear away the copy made while the workbook was open, as long as nobody changed it."""
        copy = path.parent / COPIES / path.name
        if remove_file(copy, self.copies.pop(copy, None)) and not any(copy.parent.iterdir()):
            copy.parent.rmdir()
        return ""


def in_a_line(checked: Checked) -> str:
    """The headline, and how much there is to read."""
    found = checked.diagnosis
    counts = {
        "discrepancy": ("discrepancies", len(found.discrepancies)),
        "test still to do": ("tests still to do", len(found.missing)),
    }
    told = [f"{count} {word if count == 1 else more}" for word, (more, count) in counts.items() if count]
    return " ".join([found.headline, *([f"{', '.join(told)}."] if told else []), *checked.against])
