"""Writing a file so that whatever happens, either the old file or the whole new one is there.

lock_beside(path)        the lock file that a spreadsheet program keeps while it has the file open
check_replaceable(path)  one clear sentence when a file must not or cannot be replaced
our_turn(path)           waits while another check of ours is at work on the same file
replace_file(path, ...)  temporary file beside the target, flushed, checked, moved over it in one step
remove_file(path, ...)   deletes a file that is still what it was

All that replaces or deletes a file of somebody's goes through here: what was read is compared with what is there just before,
and whoever could open the old file can open the new one.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import time
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from workbook_tools.errors import ChangedMeanwhile, UnusableFile
from workbook_tools.package import access

try:
    import fcntl
except ImportError:  # Windows: there an open file cannot be deleted, which serves the same purpose
    fcntl = None  # type: ignore[assignment]

#: Names of our own files beside a target: `.engine-check-` with the digest of its name and chance, so that none is too long.
OURS, UNFINISHED, BEFORE = ".engine-check-", ".unfinished", ".before"
#: How long another check of ours is waited for, and how often it is looked after.
LONGEST_WAIT, LOOK_EVERY = 60.0, 0.05

#: The digest of a file's bytes; None where there is no file.
Digest = bytes | None
#: In the place of a digest: nobody looked into the file that is to be replaced.
NOT_READ: Digest = b""


def digest_of(data: bytes) -> bytes:
    """The digest that `replace_file` is given for a file that held these bytes."""
    return hashlib.sha256(data).digest()


def digest_there(path: Path) -> Digest:
    """The digest of the file that is there now; it is not read into memory, where copies of it may be already."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").digest()
    except FileNotFoundError:
        return None


def lock_beside(path: str | Path) -> Path | None:
    """The lock file of a program that has `path` open, or None.

    Known are `.~lock.NAME#` (LibreOffice) and `~$NAME` (office programs).
    """
    # A program may have opened the file by a link; then its lock lies beside the link or beside the file.
    for place in (Path(path).absolute(), _resolved(path)):
        for name in (f".~lock.{place.name}#", f"~${place.name}"):
            with suppress(
                OSError
            ):  # such a name may be too long for the system: then nobody has made that file
                if place.with_name(name).is_file():
                    return place.with_name(name)
    return None


def _resolved(path: str | Path) -> Path:
    problem: Exception | None = None
    try:
        found = Path(path).resolve()
        if not found.is_symlink():
            return found
    except (OSError, RuntimeError) as raised:  # up to Python 3.12; later ones give the link itself
        problem = raised
    raise UnusableFile(f"{path} is a link that leads to itself; give the name of a file.") from problem


def check_replaceable(path: str | Path) -> Path:
    """The file that writing to `path` would replace, links resolved; a torn one is put right first.

    Raises UnusableFile when it is open elsewhere, read-only or no file, or its folder is missing or closed.
    """
    target = _resolved(path)
    if Path(path).is_symlink() and not target.exists():
        raise UnusableFile(f"{path} is a link to a file that does not exist ({target}); delete the link.")
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
        if not access.anyone_may_write(target):
            raise UnusableFile(f"{path} is read-only; make it writable or write to another file.")
        if not os.access(target, os.W_OK):
            raise UnusableFile(f"{path}: no permission to write it; ask its owner or write to another file.")
    if not os.access(target.parent, os.W_OK):
        raise UnusableFile(f"{path}: no permission to write in {target.parent}; write to another folder.")
    _restore(target)
    return target


@contextmanager
def our_turn(path: str | Path) -> Iterator[None]:
    """Hold a file's turn: a second check of the same file waits here, a minute at the most.

    The system gives the turn back when a check ends, however it ends. Raises UnusableFile after that minute.
    """
    if fcntl is None or not Path(path).is_file():
        yield
        return
    handle = _take_turn(Path(path))
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)


def _take_turn(path: Path) -> int | None:
    """A handle that holds the turn; None where the file can't be opened, which reading it will say."""
    until = time.monotonic() + LONGEST_WAIT
    while True:
        try:
            handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
        except OSError:
            return None
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            # The check that had it before put a new file in its place.
            if not path.exists() or os.path.samestat(os.fstat(handle), path.stat()):
                return handle
        except BlockingIOError:
            pass
        except OSError:  # some network disks know no locks: what was read is compared all the same
            return handle
        os.close(handle)
        if time.monotonic() > until:
            raise UnusableFile(
                f"{path} has been under check by another engine-check for a minute; try again when that has ended."
            )
        time.sleep(LOOK_EVERY)


def replace_file(
    target: str | Path,
    data: bytes,
    check: Callable[[Path], None] | None = None,
    *,
    before: Digest = NOT_READ,
    private_as: Path | None = None,
) -> None:
    """Put `data` in the place of `target`, or make it new, in one step; on failure the old file is as it was.

    `before` is the digest of what was read there, None where no file was: anything else just before the replacement
    calls it off. NOT_READ stands for what is there when the writing begins. `check` is called with the temporary file once it
    is on the disk and may raise to call it all off.

    Owner, group, mode, access list and attributes of the old file are kept and a link stays a link. A file whose owner or
    other names can't be kept so is written in place, with its old content in a flushed file beside it until that is done.
    A new file is no more open to others than `private_as`, the file that it was made from.
    Raises ChangedMeanwhile, and UnusableFile as check_replaceable does and when the disk is full or the system refuses.
    """
    path = check_replaceable(target)
    _clear_litter(path)
    was = digest_there(path) if before == NOT_READ else before
    temporary = path.with_name(_own_name(path) + UNFINISHED)
    # What others must not read is not for their eyes while it is being written either.
    if private_as is not None and path.exists():
        with suppress(OSError):  # somebody else's file; his copy of it is his
            access.close_to_others(path, private_as)
    mode = 0o600 if path.exists() else access.mode_beside(private_as)
    try:
        with os.fdopen(_new_file(temporary, mode), "wb") as file:
            _lock(file.fileno())
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            if check is not None:
                check(temporary)
            in_one_step = access.give(path, temporary) if path.exists() else True
            if private_as is not None and not path.exists():
                access.open_to_group(temporary, private_as)
            _refuse_if_changed(target, path, was)
            if in_one_step:
                if fcntl is None:  # Windows moves no file that is open
                    file.close()
                os.replace(temporary, path)
            else:
                _write_into(path, data)
    except OSError as error:
        raise UnusableFile(
            f"{target} could not be written ({error.strerror or error}); nothing was changed. Mend that, or write to another folder."
        ) from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
    _flush_folder(path.parent)


def remove_file(path: Path, before: Digest) -> bool:
    """Delete a file that holds what it held; whether it was deleted."""
    if before is None or lock_beside(path) is not None or digest_there(path) != before:
        return False
    path.unlink()
    return True


def _refuse_if_changed(target: str | Path, path: Path, before: Digest) -> None:
    now = digest_there(path)
    if now == before:
        return
    if now is None:
        raise ChangedMeanwhile(
            f"{target} was renamed, moved or deleted just now; nothing was written. Give its new name."
        )
    if before is None:
        raise ChangedMeanwhile(
            f"{target} was made by another program just now; it stays as it is. Try again, or choose another name."
        )
    raise ChangedMeanwhile(f"{target} was saved by another program just now; close it there and try again.")


def _new_file(path: Path, mode: int) -> int:
    return os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | getattr(os, "O_BINARY", 0), mode)


def _lock(handle: int) -> None:
    if fcntl is not None:
        with suppress(OSError):  # some network disks know no locks
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


# --- writing into the same file -------------------------------------------------------------------------------------


def _write_into(path: Path, data: bytes) -> None:
    """Write into a file that must stay the same one; its old content lies beside it until that is done."""
    copy = path.with_name(_own_name(path) + BEFORE)
    with os.fdopen(_new_file(copy, 0o600), "wb") as file:
        _lock(file.fileno())
        old = path.read_bytes()
        file.write(old)
        file.flush()
        os.fsync(file.fileno())
        access.give(path, copy)
        _flush_folder(path.parent)
        try:
            _overwrite(path, data)
        except OSError:
            _overwrite(path, old)
            raise
        finally:
            if digest_there(path) in (digest_of(data), digest_of(old)):
                copy.unlink()


def _overwrite(path: Path, data: bytes) -> None:
    with os.fdopen(os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0)), "r+b") as file:
        # Room first: a full disk is then found before a byte of the old content is gone.
        if hasattr(os, "posix_fallocate") and len(data) > os.fstat(file.fileno()).st_size:
            os.posix_fallocate(file.fileno(), 0, len(data))
        file.write(data)
        file.truncate()
        file.flush()
        os.fsync(file.fileno())


def _restore(path: Path) -> None:
    """Where a run was stopped while it wrote into a workbook, bring its old content back.

    A workbook that unpacks is the old one, the new one, or somebody's later save: then the copy is done with.
    """
    for copy in _own_files(path, BEFORE):
        with suppress(OSError), copy.open("rb") as file:
            if fcntl is not None:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            old = file.read()
            if path.exists() and unpacks(copy) and not unpacks(path):
                _overwrite(path, old)
            copy.unlink()


def was_stopped(path: str | Path) -> bool:
    """Whether a run was stopped while it wrote into this file, so that a check would bring it back."""
    try:
        return any(_own_files(_resolved(path), BEFORE))
    except (UnusableFile, ValueError):  # a label that is no path
        return False


def unpacks(path: Path) -> bool:
    try:
        with zipfile.ZipFile(path) as archive:
            return archive.testzip() is None
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError):
        return False


# --- our own files beside a target ----------------------------------------------------------------------------------


def _own_start(path: Path) -> str:
    return OURS + hashlib.sha256(os.fsencode(path.name)).hexdigest()[:16]


def _own_name(path: Path) -> str:
    return f"{_own_start(path)}-{secrets.token_hex(4)}"


def _own_files(path: Path, ending: str) -> Iterator[Path]:
    """The files that runs of ours left for this target: nothing is taken for one that has another name."""
    ours = re.compile(re.escape(_own_start(path)) + r"-[0-9a-f]{8}" + re.escape(ending))
    with suppress(OSError):
        names = [name for name in os.listdir(path.parent) if name.startswith(OURS) and ours.fullmatch(name)]
        yield from (each for each in map(path.with_name, names) if each.is_file())


def _clear_litter(path: Path) -> None:
    """Delete the temporary files that killed runs left for this target; those of a running one are locked."""
    for litter in _own_files(path, UNFINISHED):
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
