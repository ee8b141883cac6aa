"""Checking many workbooks: those named, and all of ours below folders, on several cores.

plan(paths, out_dir)        which files, and where the findings of each go
check_all(plan, jobs=4)     what came of each file, in the order of the plan; one bad file never stops the others
"""

from __future__ import annotations

import signal
from collections import Counter, deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from workbook_tools.checking.check import Checked, check_workbook, is_checked_copy, unchanged_since_check
from workbook_tools.checking.job_files import files_below, real_path
from workbook_tools.errors import BadRequest, EngineCheckError, NotOurWorkbook, fault_of_ours
from workbook_tools.specs.book import SpecsBook, read_specs

if TYPE_CHECKING:
    from concurrent.futures import Future, ProcessPoolExecutor

#: Fewer files than this are checked sooner than other processes have started.
WORTH_PROCESSES = 4
#: Files given to each process ahead: enough to keep it busy, few enough that memory does not grow with the folder.
AHEAD = 4
Status = Literal["checked", "unchanged", "copy", "not ours", "unusable"]


@dataclass(frozen=True)
class FileToCheck:
    """One workbook, the folder for its checked copy (None: in place), and whether a person named it.

    `has_namesake`: another file of the plan has the same name, as a checked copy has the name of its original.
    """

    path: Path
    out_dir: Path | None
    named: bool
    has_namesake: bool = False

    @property
    def target(self) -> Path:
        """The file that gets the findings sheet."""
        return self.path if self.out_dir is None else self.out_dir / self.path.name


@dataclass(frozen=True)
class Plan:
    """The files in their order, and how many lock files of other programs lay beside them."""

    files: tuple[FileToCheck, ...]
    locks: int


@dataclass(frozen=True)
class Outcome:
    """What came of one file. `words` are for people, `json` for programs ('' unless asked for)."""

    path: Path
    status: Status
    words: str = ""
    json: str = ""
    job_number: str = ""
    headline: str = ""
    findings: int = 0
    discrepancies: int = 0
    owed: int = 0
    against: tuple[str, ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether any finding or discrepancy is there."""
        return bool(self.findings or self.discrepancies)


def plan(paths: Sequence[Path], out_dir: Path | None = None) -> Plan:
    """The files named, and the workbooks below the folders named, each once; copies go to the same place below `out_dir`.

    Raises BadRequest where a copy would take the place of a file that is to be checked, or of another's copy.
    """
    files: list[FileToCheck] = []
    locks = 0
    for path in paths:
        if not path.is_dir():
            files.append(FileToCheck(path, out_dir, named=True))
            continue
        found = files_below(path, leave_out=_own_output(path, out_dir))
        locks += found.locks
        known = {real_path(file.path) for file in files}
        for workbook in found.workbooks:
            inside = workbook.relative_to(found.root)
            if real_path(workbook) not in known:
                files.append(FileToCheck(path / inside, out_dir and out_dir / inside.parent, named=False))
    if out_dir is not None:
        _refuse_overwriting(files, out_dir)
    names = Counter(file.path.name for file in files)
    return Plan(tuple(replace(file, has_namesake=names[file.path.name] > 1) for file in files), locks)


def _own_output(folder: Path, out_dir: Path | None) -> tuple[Path, ...]:
    """The folder of copies where it lies inside the folder to be checked."""
    if out_dir is None or folder.resolve() not in out_dir.resolve().parents:
        return ()
    return (out_dir,)


def _refuse_overwriting(files: Sequence[FileToCheck], out_dir: Path) -> None:
    sources = {real_path(file.path): file for file in files}
    targets: dict[Path, FileToCheck] = {}
    for file in files:
        target = real_path(file.target)
        if target in sources:
            raise BadRequest(
                f"The checked copy of {file.path} would take the place of {sources[target].path}, which is to be checked itself; "
                "choose another folder than "
                f"{out_dir}, or leave --out-dir out to check the files in place."
            )
        other = targets.setdefault(target, file)
        if real_path(other.path) != real_path(file.path):
            raise BadRequest(
                f"{other.path} and {file.path} would both be copied to {file.target}; check them one after the other, "
                "each with a folder of its own."
            )


def check_all(
    planned: Plan,
    *,
    jobs: int = 1,
    again: bool = False,
    as_json: bool = False,
    specs: Path | None = None,
    in_words: Callable[[Checked], str] | None = None,
) -> Iterator[Outcome]:
    """Check the files of a plan and yield what came of each, in order.

    A checked copy found beside its original in a folder is left alone. A workbook found in a folder that is as the
    last check saw it, judged by the same program, form and specs book, is left as it is unless `again`. `in_words` (a
    function of a module, for it goes to other processes) tells a check to people.
    Raises UnusableFile for a specs book that can't be read, before anything is checked.
    """
    _specs.cache_clear()
    _specs(specs)  # an unusable book is said once, and processes that are copies of this one need not read it
    work = partial(_check_one, again=again, as_json=as_json, specs=specs, in_words=in_words)
    if jobs < 2 or len(planned.files) < WORTH_PROCESSES:
        yield from map(work, planned.files)
    else:
        yield from _in_processes(planned.files, work, min(jobs, len(planned.files)))


@lru_cache(maxsize=1)
def _specs(path: Path | None) -> SpecsBook | None:
    return None if path is None else read_specs(path)


def _check_one(
    file: FileToCheck,
    again: bool,
    as_json: bool,
    specs: Path | None,
    in_words: Callable[[Checked], str] | None,
) -> Outcome:
    """What came of one file, whatever is wrong with it."""
    try:
        book = _specs(specs)
        if file.has_namesake and not file.named and is_checked_copy(file.path):
            return Outcome(file.path, "copy")
        before = None if again or file.named else unchanged_since_check(file.path, file.target, book)
        if before is not None and not as_json:
            return Outcome(
                file.path,
                "unchanged",
                findings=before.findings,
                discrepancies=before.discrepancies,
                owed=before.owed,
            )
        checked = check_workbook(file.path, out_dir=file.out_dir, write=before is None, specs=book)
        return _outcome(file, checked, "checked" if before is None else "unchanged", as_json, in_words)
    except NotOurWorkbook as problem:
        return Outcome(file.path, "unusable" if file.named else "not ours", str(problem))
    except EngineCheckError as problem:
        return Outcome(file.path, "unusable", str(problem))
    except Exception as problem:  # one odd file must not keep a person from all the others
        return Outcome(file.path, "unusable", f"{file.path} could not be checked, {fault_of_ours(problem)}.")


def _outcome(
    file: FileToCheck,
    checked: Checked,
    status: Status,
    as_json: bool,
    in_words: Callable[[Checked], str] | None,
) -> Outcome:
    found = checked.diagnosis
    return Outcome(
        file.path,
        status,
        words=in_words(checked) if in_words else "",
        json=checked.in_json() if as_json else "",
        job_number=found.job_number,
        headline=found.headline,
        findings=len(found.findings),
        discrepancies=len(found.discrepancies),
        owed=len(found.missing),
        against=checked.against,
    )


# --- processes -------------------------------------------------------------------------------------------------------

Work = Callable[[FileToCheck], Outcome]


def _in_processes(files: Sequence[FileToCheck], work: Work, jobs: int) -> Iterator[Outcome]:
    """Outcomes in order. Where a process dies over a file, the files left go on in new ones, the first of them alone."""
    from concurrent.futures import BrokenExecutor  # what it loads would delay the check of one file

    left = deque(files)
    while left:
        try:
            with _pool(jobs) as pool:
                with closing(_ahead(pool, tuple(left), work, jobs * AHEAD)) as outcomes:
                    for outcome in outcomes:
                        left.popleft()
                        yield outcome
        except BrokenExecutor:
            yield _alone(left.popleft(), work)


def _ahead(
    pool: ProcessPoolExecutor, files: Sequence[FileToCheck], work: Work, ahead: int
) -> Iterator[Outcome]:
    waiting: deque[Future[Outcome]] = deque()
    for file in files:
        waiting.append(pool.submit(work, file))
        if len(waiting) >= ahead:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()


def _alone(file: FileToCheck, work: Work) -> Outcome:
    from concurrent.futures import BrokenExecutor

    try:
        with _pool(1) as pool:
            return pool.submit(work, file).result()
    except BrokenExecutor:
        return Outcome(
            file.path,
            "unusable",
            f"{file.path} could not be checked: the process that read it ended (out of memory?).",
        )


def _pool(jobs: int) -> ProcessPoolExecutor:
    from concurrent.futures import ProcessPoolExecutor

    return ProcessPoolExecutor(jobs, initializer=_leave_interrupts_to_the_parent)


def _leave_interrupts_to_the_parent() -> None:
    """Ctrl-C reaches every process of a terminal: the parent stops giving out files, these finish the one in hand."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
