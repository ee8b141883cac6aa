"""Who could open a workbook can open it after a check, and nobody else: owner, group, mode, access lists, attributes, links.

Access lists are written as Linux keeps them (POSIX.1e draft 17, layout of `linux/posix_acl_xattr.h`, from memory): version 2, then
tag, permissions and number of each entry.
"""

from __future__ import annotations

import os
import shutil
import stat
import struct
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.support.many_jobs import write_jobs
from workbook_tools import check_workbook
from workbook_tools.commands.program import main
from workbook_tools.package import access, safe_write

pytestmark = pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() != 0, reason="takes the place of several users"
)
OWNER, COLLEAGUE, STRANGER, SHOP = 21001, 21002, 21003, 31000
USER_OBJ, USER, GROUP_OBJ, MASK, OTHER = 1, 2, 4, 16, 32


@pytest.fixture(scope="module")
def made() -> Iterator[bytes]:
    """A filled workbook; a check of it loads all that one needs, since other users may not read the program's folder."""
    folder = Path(tempfile.mkdtemp())
    (path,) = write_jobs(folder, 1, 1)
    content = path.read_bytes()
    assert main(["check", str(path)]) == 0
    assert main(["register", str(folder), "--out", str(folder / "r.xlsx"), "--csv", str(folder / "csv")]) == 0
    shutil.rmtree(folder)
    yield content


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder of the shop that its people may write in, where others can reach it."""
    place = Path(tempfile.mkdtemp())
    os.chown(place, OWNER, SHOP)
    place.chmod(0o2775)
    yield place
    shutil.rmtree(place)


def job(folder: Path, content: bytes, mode: int, owner: int = OWNER, group: int = SHOP) -> Path:
    """A workbook of somebody's."""
    path = folder / "job.xlsx"
    path.write_bytes(content)
    os.chown(path, owner, group)
    path.chmod(mode)
    return path


def as_user(user: int, *arguments: str, groups: tuple[int, ...] = (SHOP,)) -> int:
    """The exit status of a command given by another user."""
    child = os.fork()
    if child == 0:
        status = 99
        try:
            os.setgroups(list(groups))
            os.setgid(user)
            os.setuid(user)
            status = main(list(arguments))
        finally:
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def access_list(*entries: tuple[int, int, int]) -> bytes:
    """An access list as the system keeps it, of (tag, permissions, number)."""
    return struct.pack("<I", 2) + b"".join(struct.pack("<HHI", *entry) for entry in entries)


NOBODY = 0xFFFFFFFF
FOR_A_STRANGER = access_list(
    (USER_OBJ, 6, NOBODY), (USER, 6, STRANGER), (GROUP_OBJ, 4, NOBODY), (MASK, 6, NOBODY), (OTHER, 0, NOBODY)
)


def is_checked(path: Path) -> bool:
    """Whether a workbook has its findings, and nothing of ours lies beside it."""
    beside = [each.name for each in path.parent.iterdir() if each.name.startswith(safe_write.OURS)]
    return "Findings" in load_workbook(path).sheetnames and not beside


@pytest.mark.parametrize("checker", [OWNER, COLLEAGUE, 0], ids=["owner", "colleague", "root"])
def test_a_shared_workbook_stays_everybodys(made: bytes, folder: Path, checker: int) -> None:
    """Owner, group and mode stay, whoever of the shop checks it; the owner and the colleague check it again."""
    path = job(folder, made, 0o660)
    for each in (checker, OWNER, COLLEAGUE):
        assert as_user(each, "check", str(path)) == 0
        what = path.stat()
        assert (what.st_uid, what.st_gid, stat.S_IMODE(what.st_mode)) == (OWNER, SHOP, 0o660)
    assert is_checked(path)


@pytest.mark.parametrize("checker", [OWNER, COLLEAGUE, 0], ids=["owner", "colleague", "root"])
def test_access_lists_attributes_and_links_stay(made: bytes, folder: Path, checker: int) -> None:
    """A stranger named in the access list may still write, a note at the file is still there, both names lead to it."""
    path = job(folder, made, 0o660)
    os.setxattr(path, access.ACCESS_LIST, FOR_A_STRANGER)
    os.setxattr(path, "user.note", b"ask before driving")
    before = access.access_of(path)
    assert as_user(checker, "check", str(path)) == (0 if checker != COLLEAGUE else 2)
    if checker == COLLEAGUE:  # the list gives the group to read alone
        path.chmod(0o660)
        os.setxattr(path, access.ACCESS_LIST, FOR_A_STRANGER.replace(b"\4\0\4\0", b"\4\0\6\0"))
        before = access.access_of(path)
        assert as_user(checker, "check", str(path)) == 0
    assert access.access_of(path) == before
    assert as_user(STRANGER, "check", str(path), groups=(STRANGER, SHOP)) == 0
    assert access.access_of(path) == before
    os.link(path, folder / "other name.xlsx")
    assert as_user(checker, "check", str(path)) == 0
    assert (folder / "other name.xlsx").samefile(path) and is_checked(path)


def test_a_list_of_the_folder_gives_nobody_a_new_file(made: bytes, folder: Path) -> None:
    """A folder may give new files a list of its own; a workbook that had none has none after the check."""
    path = job(folder, made, 0o600)
    os.setxattr(folder, "system.posix_acl_default", FOR_A_STRANGER)
    assert as_user(OWNER, "check", str(path)) == 0
    assert access.ACCESS_LIST not in os.listxattr(path) and stat.S_IMODE(path.stat().st_mode) == 0o600
    assert is_checked(path)


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o660, 0o644])
@pytest.mark.parametrize("where", ["in place", "copy", "copy again"])
def test_nothing_is_ever_more_open_than_the_workbook(
    made: bytes, folder: Path, monkeypatch: pytest.MonkeyPatch, mode: int, where: str
) -> None:
    """At every step of the writing each file beside it lets others do no more than the workbook does."""
    path, seen = job(folder, made, mode), []
    (folder / "checked").mkdir()
    os.chown(folder / "checked", OWNER, OWNER)
    arguments = (
        ["check", str(path)]
        if where == "in place"
        else ["check", str(path), "--out-dir", str(folder / "checked")]
    )
    if where == "copy again":
        check_workbook(path, out_dir=folder / "checked")
        (folder / "checked" / "job.xlsx").chmod(0o666)

    def looked(call: object) -> object:
        def looking(*given: object, **named: object) -> object:
            result = call(*given, **named)  # type: ignore[operator]
            for each in folder.rglob("*"):
                if each.is_file() and each.name.startswith(safe_write.OURS):
                    seen.append((stat.S_IMODE(each.stat().st_mode), each.stat().st_gid))
            return result

        return looking

    for module, name in ((os, "open"), (os, "fsync"), (os, "chmod"), (os, "chown")):
        monkeypatch.setattr(module, name, looked(getattr(module, name)))
    assert main(arguments) == 0
    monkeypatch.undo()
    assert seen
    for bits, group in seen:
        allowed = mode if group == SHOP else mode & ~0o070 | (mode & 0o007) << 3
        assert bits & 0o077 & ~allowed == 0, (oct(bits), group)
    written = path if where == "in place" else folder / "checked" / "job.xlsx"
    assert written.stat().st_mode & 0o077 & ~mode == 0
    assert is_checked(written)


def test_who_may_not_write_is_told(made: bytes, folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """Somebody who may read the workbook alone gets one sentence, and a copy where he may write."""
    path = job(folder, made, 0o640)
    assert as_user(COLLEAGUE, "check", str(path)) == 2
    assert "no permission to write it" in capfd.readouterr().err
    assert path.read_bytes() == made
    assert as_user(COLLEAGUE, "check", str(path), "--out-dir", str(folder / "mine")) == 0
    copy = (folder / "mine" / "job.xlsx").stat()
    assert (copy.st_uid, copy.st_gid, stat.S_IMODE(copy.st_mode)) == (COLLEAGUE, SHOP, 0o640)
    assert path.read_bytes() == made


def test_a_folder_that_lets_nobody_replace_what_another_owns(made: bytes, folder: Path) -> None:
    """In a folder with the sticky bit a colleague's check writes into the workbook."""
    path = job(folder, made, 0o660)
    folder.chmod(0o3775)
    assert as_user(COLLEAGUE, "check", str(path)) == 0
    assert path.stat().st_uid == OWNER and is_checked(path)


def test_a_register_stays_its_owners(made: bytes, folder: Path) -> None:
    """The register made anew by a colleague is still the owner's, and the tables beside it too."""
    (folder / "jobs").mkdir()
    job(folder / "jobs", made, 0o660)
    out, tables = folder / "register.xlsx", folder / "tables"
    register = ["register", str(folder / "jobs"), "--out", str(out), "--csv", str(tables)]
    assert as_user(OWNER, *register) == 0
    for each in [out, *tables.iterdir(), folder / "register.store.sqlite"]:
        os.chown(each, OWNER, SHOP)
        each.chmod(0o660)
    tables.chmod(0o2775)
    assert as_user(COLLEAGUE, *register) == 0
    for each in [out, *tables.iterdir()]:
        assert (each.stat().st_uid, stat.S_IMODE(each.stat().st_mode)) == (OWNER, 0o660)
