"""Finding the workbooks below a folder, and reading each into a record.

    files_below(folder, leave_out)      workbooks to look into, and how many lock files lay beside them
    read_job(path)                      what one file is, and its record where it is a job of ours
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.check import CHECKABLE
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.errors import BadRequest, EngineCheckError, NotOurWorkbook
from workbook_tools.package import Package
from workbook_tools.package_intake import read_file
from workbook_tools.read.workbook import read_workbook
from workbook_tools.register.records import JobRecord, clean, is_blank, record_of
from workbook_tools.register.schema import BLANK, JOB, OTHER, UNUSABLE
from workbook_tools.report.answers import SHEET_NAME, read_answers
from workbook_tools.report.package_index import marked_tab

LOCKS = (".~lock.", "~$")


@dataclass(frozen=True)
class Folder:
    """The workbooks below a folder in order of their paths, and how many lock files of other programs were there."""

    root: Path
    workbooks: tuple[Path, ...]
    locks: int

    def name_of(self, path: Path) -> str:
        """A file's path from the folder, with slashes; bytes that are no text are written out."""
        inside = path.relative_to(self.root).as_posix()
        return inside.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


@dataclass(frozen=True)
class ReadFile:
    """What one file is (a status of `schema`), why where it can't be used, and its record where it is a job."""

    status: str
    message: str = ""
    record: JobRecord | None = None


def files_below(folder: Path, leave_out: Collection[Path] = ()) -> Folder:
    """The .xlsx and .xlsm files below a folder, hidden ones and `leave_out` excepted.

    Raises BadRequest where there is no such folder.
    """
    if not folder.is_dir():
        raise BadRequest(f"{folder} is no folder; give the folder that the job workbooks are in.")
    root = folder.resolve()
    left_out = {path.resolve() for path in leave_out}
    found, locks = [], 0
    for path in _walk(root):
        if path.name.startswith(LOCKS):
            locks += 1
        elif path.suffix.lower() in CHECKABLE and not path.name.startswith(".") and path not in left_out:
            found.append(path)
    return Folder(root, tuple(sorted(found)), locks)


def _walk(root: Path) -> Iterator[Path]:
    for place, folders, names in os.walk(root):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        yield from (Path(place, name) for name in sorted(names))


def digest_of(path: Path) -> str:
    """SHA-256 of a file's bytes. Raises UnusableFile where it can't be read."""
    return hashlib.sha256(read_file(path)).hexdigest()


def read_job(path: Path) -> ReadFile:
    """Read and judge one workbook; whatever is wrong with it is said and never raised, for the others go on."""
    try:
        form = read_workbook(path)
        if is_blank(form):
            return ReadFile(BLANK)
        record = record_of(form, diagnose(form), read_answers(path), is_checked(path))
        return ReadFile(JOB, record=record)
    except NotOurWorkbook:
        return ReadFile(OTHER)
    except EngineCheckError as problem:
        return ReadFile(UNUSABLE, clean(problem))
    except Exception as problem:  # one odd file must not keep a bookkeeper from all the others
        told = f"{type(problem).__name__}: {problem}"
        return ReadFile(UNUSABLE, clean(f"{path} could not be judged, by a fault of this program ({told})."))


def is_checked(path: Path) -> bool:
    """Whether the workbook has a findings sheet of ours."""
    return marked_tab(Package(read_file(path), str(path)), SHEET_NAME) is not None
