"""Writing a file so that whatever happens, either the old file or the whole new one is there.

lock_beside(path)        the lock file that a spreadsheet program keeps while it has the file open
check_replaceable(path)  one clear sentence when a file must not or cannot be replaced
replace_file(path, ...)  temporary file beside the target, flushed, checked, moved over it in one step
"""

from __future__ import annotations

import os
import secrets
import shutil
import stat
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from workbook_tools.errors import UnusableFile

try:
    import fcntl
except ImportError:  # Windows: there an open file cannot be deleted, which serves the same purpose
    fcntl = None  # type: ignore[assignment]

UNFINISHED = ".unfinished"


def lock_beside(path: str | Path) -> Path | None:
    """The lock file of a program that has `path` open, or None.

    Known are `.~lock.NAME#` (LibreOffice) and `~$NAME` (office programs).
    """
    # A program may have opened the file by a link; then its lock lies beside the link or beside the file.
    for place in (Path(path).absolute(), _resolved(path)):
        for name in (f".~lock.{place.name}#", f"~${place.name}"):
            if place.with_name(name).is_file():
                return place.with_name(name)
    return None


def _resolved(path: str | Path) -> Path:
    try:
        return Path(path).resolve()
    except (OSError, RuntimeError) as problem:
        raise UnusableFile(f"{path} is a link that leads to itself; give the name of a file.") from problem


def check_replaceable(path: str | Path) -> Path:
    """The file that writing to `path` would replace, links resolved.

    Raises UnusableFile when it is open elsewhere, read-only or no file, or its folder is missing or closed.
    """
    target = _resolved(path)
    if not target.parent.is_dir():
        raise UnusableFile(f"{path}: the folder {target.parent} does not exist; create it first.")
    if target.is_dir():
        raise UnusableFile(f"{path} is a folder; give the name of a file.")
    lock = lock_beside(path)
    if lock is not None:
        raise UnusableFile(
            f"{path} is open in another program (its lock file {lock.name} is there); close it there and try"
            " again, or delete the lock file if no program has it open."
        )
    if target.exists():
        if not target.is_file():
            raise UnusableFile(f"{path} is not an ordinary file; give the name of a file.")
        # The mode is asked as well, because an administrator may write where the owner said not to.
        if not target.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH):
            raise UnusableFile(f"{path} is read-only; make it writable or write to another file.")
        if not os.access(target, os.W_OK):
            raise UnusableFile(f"{path}: no permission to write it; ask its owner or write to another file.")
    if not os.access(target.parent, os.W_OK):
        raise UnusableFile(f"{path}: no permission to write in {target.parent}; write to another folder.")
    return target


def replace_file(target: str | Path, data: bytes, check: Callable[[Path], None] | None = None) -> None:
    """Put `data` in the place of `target`, or make it new, in one step; on failure the old file is as it was.

    `check` is called with the temporary file once it is on the disk and may raise to call it all off. The
    mode of the old file is kept and a symbolic link stays a link. Raises UnusableFile as check_replaceable
    does, and when the disk is full or the system refuses.
    """
    path = check_replaceable(target)
    _clear_litter(path)
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}{UNFINISHED}")
    try:
        _write_through(temporary, data, path, check)
    except OSError as error:
        raise UnusableFile(
            f"{target} could not be written ({error.strerror or error}); nothing was changed. Mend that, or write to another folder."
        ) from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
    _flush_folder(path.parent)


def _write_through(temporary: Path, data: bytes, path: Path, check: Callable[[Path], None] | None) -> None:
    with open(temporary, "xb") as file:
        if fcntl is not None:
            with suppress(OSError):  # some network disks know no locks
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
        if check is not None:
            check(temporary)
        if path.exists():
            shutil.copymode(path, temporary)
        if fcntl is not None:
            os.replace(temporary, path)
            return
    os.replace(temporary, path)


def _clear_litter(path: Path) -> None:
    """Delete the temporary files that killed runs left for this target; those of a running one are locked."""
    for litter in path.parent.iterdir():
        name = litter.name
        if not (name.startswith(f".{path.name}.") and name.endswith(UNFINISHED) and litter.is_file()):
            continue
        with suppress(OSError):
            if fcntl is not None:
                with open(litter, "rb") as file:
                    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            litter.unlink()


def _flush_folder(folder: Path) -> None:
    """Make the new directory entry durable, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
