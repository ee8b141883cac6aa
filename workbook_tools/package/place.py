"""Putting a finished sheet last into somebody's workbook, with every other part of it left as it was.

A spreadsheet library that loads and saves a book loses what it does not know: shapes, sparklines, stored
results. Here the book is never loaded; the new sheet's parts are added to its package and listed in the few
index parts.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.errors import UnusableFile
from workbook_tools.package.index import (
    Vacancy,
    add_tab,
    marked_tab,
    remove_tab,
    tabs,
    uses_1904_dates,
)
from workbook_tools.package.intake import CONTENT_TYPES, read_file
from workbook_tools.package.names import Renaming, free_sheet_name, quoted
from workbook_tools.package.packed import packed_in
from workbook_tools.package.parts import ROOT, Package
from workbook_tools.package.safe_write import NOT_READ, Digest, check_replaceable, digest_of, replace_file
from workbook_tools.package.sheet import DAYS_BETWEEN_DATE_SYSTEMS, SheetCopy, only_sheet
from workbook_tools.package.wishes import is_signed

INDEX_KINDS = {"styles", "calcChain"}


@dataclass(frozen=True)
class Placed:
    """What came of placing a sheet: the name that it got, and the digest of the file written."""

    name: str
    digest: Digest


def place_sheet(host: str | Path, donor: str | Path | bytes, out: str | Path) -> str:
    """Put the only sheet of the donor book (path or bytes) last in a copy of the host, or in the host itself
    where `out` is the host; returns the name that the sheet got.

    A sheet placed earlier is replaced and its tab keeps its name; otherwise the sheet gets the donor's name,
    or the next free one ("Findings (2)"). Where host and donor count days from different years, the sheet's
    dates are counted anew. A digitally signed host is refused in place; a copy keeps its signature parts,
    which then no longer fit the content. Raises UnusableFile, with nothing changed, when a file is unusable.
    """
    return place(Package(read_file(host), str(host)), donor, Path(out)).name


def place(book: Package, donor: str | Path | bytes, out: Path, before: Digest = NOT_READ) -> Placed:
    """Place a sheet as `place_sheet` does, into a host that was opened before.

    `before` is the digest of another file that is to be replaced, None where there was none when it was looked for.
    """
    host = Path(book.label)
    # By name too: a host that was renamed meanwhile must not come back under its old name.
    in_place = out == host or (out.exists() and host.exists() and out.samefile(host))
    source = book.data
    guest = Package(
        donor if isinstance(donor, bytes) else read_file(donor),
        "the book to be placed" if isinstance(donor, bytes) else str(donor),
    )
    if in_place and is_signed(book):
        raise UnusableFile(
            f"{host} is digitally signed, and a change would break the signature; have a copy written (--out-dir FOLDER)."
        )
    check_replaceable(out)
    name = _place(book, guest)
    data = book.to_bytes()
    replace_file(
        out,
        data,
        lambda temporary: _check_written(temporary, book),
        before=digest_of(source) if in_place else before,
        private_as=None if in_place else host,
    )
    return Placed(name, digest_of(data))


def _place(book: Package, guest: Package) -> str:
    with _understanding(book):
        if not tabs(book):
            raise UnusableFile(f"{book.label} has no sheets; open it in its program and save it anew.")
        wanted, sheet = only_sheet(guest)
        old = marked_tab(book, wanted)
        vacancy: Vacancy | None = remove_tab(book, old) if old else None
        name = vacancy.name if vacancy else free_sheet_name(wanted, [tab.name for tab in tabs(book)])
    with _understanding(guest):
        days = DAYS_BETWEEN_DATE_SYSTEMS * (uses_1904_dates(guest) - uses_1904_dates(book))
        copier = SheetCopy(guest, book, Renaming(wanted, name), days)
        part = copier.place(sheet, selected=bool(vacancy and vacancy.windows))
    add_tab(book, name, part, copier.names(quoted(name)), vacancy)
    return name


@contextmanager
def _understanding(package: Package) -> Iterator[None]:
    """Say of a file with a number that is none, or a reference that leads nowhere, that it is damaged."""
    try:
        yield
    except (ValueError, LookupError, TypeError) as error:
        raise UnusableFile(
            f"{package.label} is damaged inside; open it in its program and save it anew."
        ) from error


def _check_written(temporary: Path, book: Package) -> None:
    """Read the written file back: all parts of the user's but the index are the same, the others as meant.

    Parts that went over as they were packed are compared so, with size and check sum; all others are unpacked.
    """
    index = {CONTENT_TYPES, book.workbook, book.first_related(ROOT, "extended-properties")}
    index |= {relation.target for relation in book.relations(book.workbook) if relation.kind in INDEX_KINDS}
    index |= {book.rels_of(book.workbook)}
    users = book.names_read - index - book.removed
    written = temporary.read_bytes()
    harmed = sorted(users & book.changed) + sorted(users - set(book.names()))
    if not zipfile.is_zipfile(io.BytesIO(written)):
        raise _not_as_meant(book, ["its end"])
    with zipfile.ZipFile(io.BytesIO(written)) as archive:
        entries = {info.filename: info for info in archive.infolist()}
        if len(entries) != len(archive.infolist()) or len(entries) != len(book.names()):
            harmed.append("its list of parts")
        for name in book.names():
            entry = entries.get(book.entry_name(name))
            if entry is None or not _is_as_meant(archive, entry, written, book, name):
                harmed.append(name)
    if harmed:
        raise _not_as_meant(book, harmed)


def _not_as_meant(book: Package, harmed: list[str]) -> UnusableFile:
    return UnusableFile(
        f"{book.label}: the written file did not come out as meant ({', '.join(harmed[:3])});"
        " nothing was changed. Please report this with the file."
    )


def _is_as_meant(
    archive: zipfile.ZipFile, entry: zipfile.ZipInfo, written: bytes, book: Package, name: str
) -> bool:
    if not book.is_untouched(name):
        try:
            return archive.read(entry) == book.as_written(name)
        except (zipfile.BadZipFile, zlib.error, EOFError):
            return False
    old = book.entry_read(name)
    same = (entry.compress_type, entry.CRC, entry.file_size) == (old.compress_type, old.CRC, old.file_size)
    return same and packed_in(written, entry) == book.packed(name)
