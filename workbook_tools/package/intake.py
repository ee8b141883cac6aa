"""Taking the parts out of a workbook file, with every refusal said in one sentence."""

from __future__ import annotations

import io
import os
import re
import stat
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from workbook_tools.errors import UnusableFile
from workbook_tools.package.safe_write import was_stopped

# A form with forty photographs fits; three copies of it in memory, as placing needs, stay below 500 MB.
MAX_TOTAL_BYTES = 120 * 1024 * 1024
MAX_ENTRIES = 4_000
MAX_RATIO = 400
RATIO_COUNTS_FROM = 32 * 1024 * 1024  # below that a blank bitmap may shrink as well as a bomb

#: An element with that many attributes is longer than so many letters.
_LONG_STRETCH = 5000
_ENDLESS_TAG = re.compile(rb"""<[^\s<>"'/=!?]+(?:\s+[^\s=<>"'/]+\s*=\s*(?:"[^"<]*"|'[^'<]*')){1000}""")

CONTENT_TYPES = "[Content_Types].xml"
OLE_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
SAVE_AS = "open it in its program and save it as .xlsx"

#: A form with photographs of every step has a tenth of it.
MOST_BYTES = 250_000_000


def read_file(path: str | Path) -> bytes:
    """The bytes of a file; raises UnusableFile when it is missing, no regular file, far too large, or closed to us.

    What it is and how large is asked first: a pipe would be waited for, a device has no end.
    """
    try:
        what = os.stat(path)
        if stat.S_ISDIR(what.st_mode):
            raise IsADirectoryError
        if not stat.S_ISREG(what.st_mode):
            raise UnusableFile(f"{path} is no file but a pipe or a device; give the name of a workbook.")
        if what.st_size > MOST_BYTES:
            raise UnusableFile(
                f"{path} has {what.st_size / 1e6:.0f} MB, far more than a form needs; it was not read. "
                "Copy the form into a workbook of its own."
            )
        return Path(path).read_bytes()
    except FileNotFoundError as error:
        raise UnusableFile(f"{path} does not exist; check the name.") from error
    except IsADirectoryError as error:
        raise UnusableFile(f"{path} is a folder; give the name of a workbook.") from error
    except PermissionError as error:
        raise UnusableFile(f"{path}: no permission to read it; ask its owner.") from error
    except OSError as error:
        raise UnusableFile(f"{path} could not be read ({error.strerror or error}); try again.") from error


def opened(data: bytes, label: str) -> zipfile.ZipFile:
    """A workbook's zip, its entries looked through.

    Raises UnusableFile for anything that is no Open XML package, is damaged, or unpacks to an absurd size.
    """
    if not data.startswith(b"PK"):
        raise UnusableFile(_what_it_is_instead(data, label))
    with _unpacking(label):
        archive = zipfile.ZipFile(io.BytesIO(data))
        _check_entries(archive.infolist(), label)
        return archive


def content_of(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, label: str) -> bytes:
    """What an entry holds. Raises UnusableFile where it is damaged."""
    with _unpacking(label):
        return archive.read(entry)


@contextmanager
def _unpacking(label: str) -> Iterator[None]:
    try:
        yield
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        if was_stopped(label):
            raise UnusableFile(
                f"{label} was being written when the computer or the program stopped; check it by name, which brings it back."
            ) from error
        raise UnusableFile(f"{label} is damaged and cannot be unpacked; take it from a backup.") from error


def too_much(label: str, part: str) -> UnusableFile:
    """The refusal of a part that would take too long, or too much memory, to read."""
    return UnusableFile(
        f"{label}: its part {part} holds far more than a form needs; it was not read. Copy the form into a workbook of its own."
    )


def count_elements(content: bytes) -> int:
    """How many elements an XML text has, comments and the like counted with them."""
    return content.count(b"<") - content.count(b"</")


def has_endless_tag(content: bytes) -> bool:
    """Whether an element has a thousand attributes: parsers compare each with all others."""
    if b"\0" in content[:4]:
        content = content.decode("utf-16", "replace").encode()
    return any(_ENDLESS_TAG.match(content, start) for start in _long_stretches(content))


def _long_stretches(content: bytes) -> Iterator[int]:
    """Where so many letters stand between one angle bracket and the next, found in leaps: a form's parts have a megabyte."""
    start = content.find(b"<")
    while 0 <= start < len(content) - _LONG_STRETCH:
        end = content.rfind(b"<", start + 1, start + 1 + _LONG_STRETCH)
        if end < 0:
            yield start
            end = content.find(b"<", start + 1 + _LONG_STRETCH)
        start = end


def _check_entries(infos: list[zipfile.ZipInfo], label: str) -> None:
    names = [info.filename for info in infos]
    if CONTENT_TYPES not in names:
        if "mimetype" in names and "content.xml" in names:
            raise UnusableFile(f"{label} is an OpenDocument file (.ods), not .xlsx; {SAVE_AS}.")
        raise UnusableFile(f"{label} is a zip file, but not a workbook; give an .xlsx file.")
    # Part names know no difference between small and capital letters, and none begins with a slash in a zip.
    if len({name.replace("\\", "/").lstrip("/").lower() for name in names}) != len(names):
        raise UnusableFile(
            f"{label} holds the same part twice, so it is unclear which one counts; save it anew."
        )
    if any(info.flag_bits & 1 for info in infos):
        raise UnusableFile(f"{label} is a zip file with a password; unpack it and give the workbook itself.")
    if len(infos) > MAX_ENTRIES:
        raise UnusableFile(
            f"{label} is made of more than {MAX_ENTRIES} parts; it was not opened. Copy the form into a workbook of its own."
        )
    for info in infos:
        ratio = info.file_size / max(info.compress_size, 1)
        if info.file_size > RATIO_COUNTS_FROM and ratio > MAX_RATIO:
            raise UnusableFile(
                f"{label}: its part {info.filename} unpacks to an absurd size; it was not opened. Save it anew in its program."
            )
    if sum(info.file_size for info in infos) > MAX_TOTAL_BYTES:
        raise UnusableFile(
            f"{label} unpacks to more than {MAX_TOTAL_BYTES // 1024 // 1024} MB; it was not opened. Make the pictures in it"
            " smaller, or copy the form into a workbook of its own."
        )


def _what_it_is_instead(data: bytes, label: str) -> str:
    suffix = Path(label).suffix.lower()
    if not data:
        return f"{label} is empty; take it from a backup."
    if data.startswith(OLE_MAGIC):
        if "EncryptedPackage".encode("utf-16-le") in data:
            return (
                f"{label} is encrypted with a password; remove the password in its program and save it again."
            )
        return f"{label} is an old .xls workbook, not .xlsx; {SAVE_AS}."
    if suffix in (".csv", ".tsv", ".txt"):
        return f"{label} is a text file ({suffix}), not a workbook; {SAVE_AS}."
    return f"{label} is not an .xlsx workbook; {SAVE_AS}."
