"""What the bookkeeper typed into an earlier register, so that the next one has it again.

    read_kept(path)                 everything typed into columns of the bookkeeper's own, by row key
    Kept.for_job(...), for_point    what belongs to a row of the new register
    Kept.left_over()                what belongs to no row any more

Each row of the register has a key in a hidden column, so notes survive sorting, filtering, moved columns and another
program's save. A job is known again by its shop, number and file; where the file was moved by its number, where the
number was corrected by its file, as long as only one job fits.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import warnings
import zipfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from workbook_tools.errors import UnusableFile
from workbook_tools.package.cells import letters_of
from workbook_tools.package.intake import read_file
from workbook_tools.package.safe_write import Digest, digest_of
from workbook_tools.read.workbook import reading
from workbook_tools.register.columns import (
    HEADINGS_OF,
    KEY_HEADING,
    NOTE,
    OWN_HEADINGS,
    PAID_IN_FORM,
    PAID_ON,
    REGISTER_HEADINGS,
)

REGISTER_MARK, REGISTER_VERSION_MARK = "engine_check_register", "engine_check_register_version"
#: The heads of a table are looked for in so many rows.
HEADS_WITHIN = 30
LONGEST_HEADING = 100
#: A register of as many jobs as one book holds unpacks to a third of it.
MOST_UNPACKED = 400_000_000

OwnValue = str | float | int | bool | dt.datetime | dt.date | dt.time
JobKey = tuple[str, str, str]


@dataclass(frozen=True)
class Typed:
    """What one cell of the bookkeeper's held, and the number format it was shown in."""

    value: OwnValue
    number_format: str = "General"


Row = dict[str, Typed]


@dataclass
class Kept:
    """Rows typed earlier by key; each is handed out once. `digest`: that of the register they were read from, if any."""

    rows: dict[str, Row] = field(default_factory=dict)
    digest: Digest = None

    @property
    def headings(self) -> list[str]:
        """The bookkeeper's headings: those set aside, then columns of the bookkeeper's own making."""
        own = dict.fromkeys(OWN_HEADINGS)
        own |= dict.fromkeys(heading for row in self.rows.values() for heading in row)
        return list(own)

    def match_jobs(self, keys: Sequence[JobKey]) -> dict[JobKey, Row]:
        """The rows of the jobs with those keys (shop, number, path)."""
        old = {tuple(json.loads(key)[1:]): key for key in self.rows if key.startswith('["job"')}
        matched: dict[JobKey, Row] = {}
        for same in (lambda k: k, lambda k: (k[0], k[1]) if k[1] else None, lambda k: (k[0], k[2])):
            left_new = [key for key in keys if key not in matched]
            here = Counter(same(key) for key in left_new)
            there = Counter(same(key) for key in old)
            by_part = {same(key): key for key in old}
            for key in left_new:
                part = same(key)
                if part is not None and here[part] == 1 and there[part] == 1:
                    matched[key] = self.rows.pop(old.pop(by_part[part]))
        return matched

    def for_jobs(self, keys: Sequence[JobKey]) -> Kept:
        """The rows of those jobs alone, under their keys; these are not taken from here."""
        found = Kept(dict(self.rows)).match_jobs(keys)
        return Kept({job_key(*key): row for key, row in found.items()})

    def take(self, key: str) -> Row:
        """The row of that very key, empty where there is none."""
        return self.rows.pop(key, {})


def job_key(shop: str, number: str, path: str) -> str:
    """The key of a job's row."""
    return json.dumps(["job", shop, number, path], ensure_ascii=False)


def key_in_words(key: str) -> tuple[str, str]:
    """Job number and file of a row that is no longer in the register."""
    try:
        told = json.loads(key)
    except ValueError:
        return "", ""
    if isinstance(told, list) and len(told) == 4 and told[0] == "job":
        return str(told[2]), str(told[3])
    if isinstance(told, list) and len(told) >= 5 and told[0] == "point":
        return str(told[3]), f"open point: {told[2]}"
    return "", "typed by hand, on no row of the register"


def read_kept(path: Path) -> Kept:
    """What was typed into the bookkeeper's columns of an earlier register; nothing where there is no file.

    Raises UnusableFile for a workbook that is no register or has sheets of somebody's own: neither is written over.
    """
    if not path.exists():
        return Kept()
    # The first register of a folder does not wait for it.
    from openpyxl import load_workbook

    with reading(path), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        data = read_file(path)
        _refuse_absurd(path, data)
        shown = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
        try:
            _refuse_others(path, shown)
            rows: dict[str, Row] = {}
            headings = _headings_of(shown)
            for sheet in shown.worksheets:
                for key, row in _rows_of(sheet, headings):
                    rows[key] = rows.get(key, {}) | row
        finally:
            shown.close()
    return Kept(rows, digest_of(data))


def _refuse_absurd(path: Path, data: bytes) -> None:
    """Raises UnusableFile for a file that unpacks to far more than the largest register."""
    with suppress(zipfile.BadZipFile), zipfile.ZipFile(io.BytesIO(data)) as archive:
        unpacked = sum(info.file_size for info in archive.infolist())
        if unpacked > MOST_UNPACKED:
            raise UnusableFile(
                f"{path} unpacks to {unpacked / 1e6:,.0f} MB, far more than a register has; it was not read. Move it away, and "
                "the register is made anew."
            )


def _refuse_others(path: Path, book: Any) -> None:
    mark = next((each.value for each in book.custom_doc_props.props if each.name == REGISTER_MARK), None)
    if mark is None:
        raise UnusableFile(f"{path} is a workbook, but no register; name another file for the register.")
    ours = {name.strip() for name in str(mark).split(",")}
    strangers = [title for title in book.sheetnames if title not in ours]
    if strangers:
        raise UnusableFile(
            f"{path} has a sheet that is not the register's ({', '.join(strangers[:3])}) and would be lost; move it to a "
            "workbook of its own, or write the register to another file."
        )


def _headings_of(book: Any) -> frozenset[str]:
    """The headings that the register had of its own when it was written."""
    told = (each.value for each in book.custom_doc_props.props if each.name == REGISTER_VERSION_MARK)
    version = int(float(str(next(told, 1))))
    return frozenset(each.casefold() for each in HEADINGS_OF.get(version, REGISTER_HEADINGS))


def _rows_of(sheet: Any, headings: frozenset[str]) -> Iterator[tuple[str, Row]]:
    """Row keys of one sheet with what stands in columns of the bookkeeper's."""
    heads: dict[int, str] = {}
    key_at = paid_at = -1
    for number, cells in enumerate(sheet.iter_rows()):
        if key_at < 0:
            if number >= HEADS_WITHIN:
                return
            texts = {
                place: str(cell.value).strip() for place, cell in enumerate(cells) if cell.value is not None
            }
            key_at = next((place for place, text in texts.items() if text == KEY_HEADING), -1)
            heads = texts if key_at >= 0 else {}
            paid_at = next((place for place, text in texts.items() if text == PAID_IN_FORM.heading), -1)
            continue
        key = cells[key_at].value if key_at < len(cells) else None
        if key is None:
            yield from _typed_by_hand(cells)
            continue
        row = {
            heading: Typed(cell.value, cell.number_format or "General")
            for place, cell in enumerate(cells)
            if cell.value is not None and (heading := _own_heading(place, heads, headings)) is not None
        }
        if PAID_ON in row and paid_at >= 0 and _same_day(row[PAID_ON].value, cells[paid_at].value):
            del row[PAID_ON]  # it stood on the form, and nobody typed it here
        if row:
            yield str(key), row


def _same_day(typed: object, in_form: object) -> bool:
    day = typed.date() if isinstance(typed, dt.datetime) else typed
    return isinstance(day, dt.date) and day.isoformat() == str(in_form)


def _own_heading(place: int, heads: Mapping[int, str], headings: frozenset[str]) -> str | None:
    """The heading of a column that is the bookkeeper's, None for one of the register's."""
    heading = heads.get(place, f"Column {letters_of(place + 1)}")[:LONGEST_HEADING]
    known = {each.casefold(): each for each in OWN_HEADINGS}
    if heading.casefold() in known:
        return known[heading.casefold()]
    # A second column of that heading is not the register's.
    first = all(each.casefold() != heading.casefold() for at, each in heads.items() if at < place)
    return None if first and heading.casefold() in headings else heading


def _typed_by_hand(cells: Sequence[Any]) -> Iterator[tuple[str, Row]]:
    """A row below or between the register's, which somebody typed: its texts are kept as a note."""
    texts = [str(cell.value) for cell in cells if cell.value is not None]
    if texts:
        together = " | ".join(texts)
        yield json.dumps(["hand", together], ensure_ascii=False), {NOTE: Typed(together)}
