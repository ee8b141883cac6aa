"""Who may open a file: its owner, group, mode, access list and attributes, and carrying them over to its successor.

give(old, new)                      the same access for the new file; whether that went all the way
mode_beside, open_to_group, close_to_others     a copy no more open to others than what it was made from
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

#: Where Linux keeps the access list (POSIX.1e draft 17) of a file: acl(5), xattr(7).
ACCESS_LIST = "system.posix_acl_access"
#: Attributes that the system itself gives to every new file by its own policy.
GIVEN_BY_THE_SYSTEM = "security."


@dataclass(frozen=True)
class Access:
    """Owner, group, mode bits and extended attributes of a file; `names` counts the names (hard links) that it has."""

    owner: int
    group: int
    mode: int
    attributes: dict[str, bytes]
    names: int

    def same_as(self, other: Access) -> bool:
        """Whether the same people may do the same; the names are not compared."""
        mine, theirs = ((each.owner, each.group, each.mode, each.carried) for each in (self, other))
        return mine == theirs

    @property
    def carried(self) -> dict[str, bytes]:
        """The attributes that belong to the file and not to the system's policy."""
        return {
            name: value for name, value in self.attributes.items() if not name.startswith(GIVEN_BY_THE_SYSTEM)
        }


def access_of(path: Path) -> Access:
    """The access of a file."""
    what = path.stat()
    return Access(what.st_uid, what.st_gid, stat.S_IMODE(what.st_mode), _attributes(path), what.st_nlink)


def give(old: Path, new: Path) -> bool:
    """Give a new file the access of an old one as far as the system allows.

    False where the new one can't take the old one's place without a loss: another owner, group, list or attribute, or
    other names (hard links) that would go on leading to the old content.
    """
    wanted = access_of(old)
    if hasattr(os, "chown"):
        # One at a time: a member of the group may give the group, nobody but root the owner.
        for owner, group in ((-1, wanted.group), (wanted.owner, -1)):
            with suppress(OSError):
                os.chown(new, owner, group)
    with suppress(OSError):
        os.chmod(new, wanted.mode)
    _give_attributes(wanted, new)
    return wanted.names == 1 and wanted.same_as(access_of(new))


def mode_beside(source: Path | None) -> int:
    """The mode to make a new file with: no more open than the file that it is made from, the system's own mask aside."""
    if source is None or not source.exists():
        return 0o666
    return _allowed(source, same_group=False) & 0o666


def open_to_group(new: Path, source: Path) -> None:
    """Give a new file the group of the file that it was made from, and that group what it may do there."""
    wanted = source.stat()
    if hasattr(os, "chown"):
        with suppress(OSError):
            os.chown(new, -1, wanted.st_gid)
    if new.stat().st_gid == wanted.st_gid:
        os.chmod(new, stat.S_IMODE(new.stat().st_mode) | _allowed(source, same_group=True) & stat.S_IRWXG)


def close_to_others(new: Path, source: Path) -> None:
    """Take from a file whatever the file that it was made from does not allow to its group and to others.

    Where the group is another one, its members get no more than everybody.
    """
    if source.exists():
        same_group = new.stat().st_gid == source.stat().st_gid
        os.chmod(new, stat.S_IMODE(new.stat().st_mode) & (_allowed(source, same_group) | stat.S_IRWXU))


def _allowed(source: Path, same_group: bool) -> int:
    """The mode of a file; the group's part is that of others where it speaks for other people."""
    mode = stat.S_IMODE(source.stat().st_mode)
    # With an access list the group's bits are the most that anyone named in it may do.
    if not same_group or ACCESS_LIST in _attributes(source):
        mode = mode & ~stat.S_IRWXG | (mode & stat.S_IRWXO) << 3
    return mode


def anyone_may_write(path: Path) -> bool:
    """Whether the mode lets anybody at all write."""
    return bool(path.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH))


def _attributes(path: Path) -> dict[str, bytes]:
    if not hasattr(os, "listxattr"):
        return {}
    found: dict[str, bytes] = {}
    with suppress(OSError):  # some disks know none
        for name in os.listxattr(path):
            with suppress(OSError):
                found[name] = os.getxattr(path, name)
    return found


def _give_attributes(wanted: Access, new: Path) -> None:
    if not hasattr(os, "setxattr"):
        return
    there = _attributes(new)
    for name, value in wanted.attributes.items():
        if there.get(name) != value:
            with suppress(OSError):
                os.setxattr(new, name, value)
    # The folder may give lists of its own to new files.
    for name in there.keys() - wanted.attributes.keys():
        with suppress(OSError):
            os.removexattr(new, name)
    with suppress(OSError):  # a list changes the mode and the other way round
        os.chmod(new, wanted.mode)
