"""Finding the workbooks below a folder.

files_below(folder, leave_out)      workbooks to look into, and how many lock files lay beside them
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.errors import BadRequest

CHECKABLE = (".xlsx", ".xlsm")
LOCKS = (".~lock.", "~$")


@dataclass(frozen=True)
class Folder:
    """The workbooks below a folder in order of their paths, and how many lock files of other programs were there."""

    root: Path
    workbooks: tuple[Path, ...]
    locks: int

    def name_of(self, path: Path) -> str:
        """A file's path from the folder, with slashes; bytes that are no text are written out."""
        return _as_text(path.relative_to(self.root).as_posix())

    @property
    def label(self) -> str:
        """The folder's whole path as text."""
        return _as_text(str(self.root))


def _as_text(path: str) -> str:
    return path.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def real_path(path: Path) -> Path:
    """Where a path leads, the path itself where links lead in a circle."""
    try:
        return path.resolve()
    except (OSError, RuntimeError):
        return path.absolute()


def files_below(folder: Path, leave_out: Collection[Path] = ()) -> Folder:
    """The .xlsx and .xlsm files below a folder, hidden ones excepted, and the files and folders of `leave_out`.

    Raises BadRequest where there is no such folder.
    """
    if not folder.is_dir():
        raise BadRequest(f"{folder} is no folder; give the folder that the job workbooks are in.")
    root = folder.resolve()
    left_out = {real_path(path) for path in leave_out}
    found, locks = [], 0
    for path in _walk(root, left_out):
        if path.name.startswith(LOCKS):
            locks += 1
        elif path.suffix.lower() in CHECKABLE and not path.name.startswith(".") and path not in left_out:
            found.append(path)
    return Folder(root, tuple(sorted(found)), locks)


def _walk(root: Path, left_out: Collection[Path]) -> Iterator[Path]:
    for place, folders, names in os.walk(root):
        here = Path(place)
        folders[:] = sorted(
            name for name in folders if not name.startswith(".") and here / name not in left_out
        )
        yield from (here / name for name in sorted(names))
