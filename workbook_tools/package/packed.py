"""Entries of a zip as they are packed: copied and compared without unpacking them.

A part that nobody changed is packed already; packing it again takes most of the time of writing a workbook.
"""

from __future__ import annotations

import zipfile

USUAL_PACKING = frozenset({zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED})
#: Size of a local header before its name and its extra field, and where their lengths stand in it (APPNOTE.TXT, 4.3.7).
_HEADER, _NAME_LENGTH, _EXTRA_LENGTH = 30, 26, 28


def packed_in(data: bytes, entry: zipfile.ZipInfo) -> memoryview:
    """The packed bytes of an entry of the zip `data`."""
    at = entry.header_offset
    lengths = (
        int.from_bytes(data[at + place : at + place + 2], "little") for place in (_NAME_LENGTH, _EXTRA_LENGTH)
    )
    start = at + _HEADER + sum(lengths)
    return memoryview(data)[start : start + entry.compress_size]


def copy_packed(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, data: bytes, old: zipfile.ZipInfo) -> None:
    """Append an entry to an archive that is being written, with the packed bytes that `old` has in the zip `data`.

    zipfile has no such call of its own: what follows is what its `writestr` does once the bytes are packed (Python 3.11 to 3.13).
    """
    entry.compress_type = old.compress_type
    entry.CRC, entry.file_size, entry.compress_size = old.CRC, old.file_size, old.compress_size
    assert archive.fp is not None
    archive.fp.seek(archive.start_dir)
    entry.header_offset = archive.fp.tell()
    archive.fp.write(entry.FileHeader(False))
    archive.fp.write(packed_in(data, old))
    archive.start_dir = archive.fp.tell()
    archive.filelist.append(entry)
    archive.NameToInfo[entry.filename] = entry
    archive._didModify = True  # type: ignore[attr-defined]
