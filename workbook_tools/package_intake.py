"""Taking the parts out of a workbook file, with every refusal said in one sentence."""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import Path

from workbook_tools.errors import UnusableFile

# Larger than any workbook of daily work, small enough that a bomb cannot fill the memory.
MAX_PART_BYTES = 256 * 1024 * 1024
MAX_TOTAL_BYTES = 768 * 1024 * 1024
MAX_ENTRIES = 20_000
MAX_RATIO = 400
RATIO_COUNTS_FROM = 32 * 1024 * 1024  # below that a blank bitmap may shrink as well as a bomb

CONTENT_TYPES = "[Content_Types].xml"
OLE_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
SAVE_AS = "open it in its program and save it as .xlsx"


def read_file(path: str | Path) -> bytes:
    """The bytes of a file; raises UnusableFile when it is missing, a folder, or closed to us."""
    try:
        return Path(path).read_bytes()
    except FileNotFoundError as error:
        raise UnusableFile(f"{path} does not exist; check the name.") from error
    except IsADirectoryError as error:
        raise UnusableFile(f"{path} is a folder; give the name of a workbook.") from error
    except PermissionError as error:
        raise UnusableFile(f"{path}: no permission to read it; ask its owner.") from error
    except OSError as error:
        raise UnusableFile(f"{path} could not be read ({error.strerror or error}); try again.") from error


def read_entries(data: bytes, label: str) -> list[tuple[zipfile.ZipInfo, bytes]]:
    """The entries of a workbook's zip in their order, each with its content.

    Raises UnusableFile for anything that is no Open XML package, is damaged, or unpacks to an absurd size.
    """
    if not data.startswith(b"PK"):
        raise UnusableFile(_what_it_is_instead(data, label))
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            infos = archive.infolist()
            _check_entries(infos, label)
            return [(info, archive.read(info)) for info in infos]
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        raise UnusableFile(f"{label} is damaged and cannot be unpacked; take it from a backup.") from error


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
    if len(infos) > MAX_ENTRIES or sum(info.file_size for info in infos) > MAX_TOTAL_BYTES:
        raise UnusableFile(f"{label} unpacks to more than a workbook can sensibly hold; it was not opened. Save it anew in its program.")
    for info in infos:
        ratio = info.file_size / max(info.compress_size, 1)
        if info.file_size > MAX_PART_BYTES or (info.file_size > RATIO_COUNTS_FROM and ratio > MAX_RATIO):
            raise UnusableFile(
                f"{label}: its part {info.filename} unpacks to an absurd size; it was not opened. Save it anew in its program."
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
