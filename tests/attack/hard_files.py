"""Workbooks made to be too much: a filled sample job with one thing in it that goes to, or beyond, every limit.

Each is made by a function of its own, from the standard library alone, so that the process that measures stays small.
The sizes of sheets (1,048,576 rows, 16,384 columns) and of formulas (8,192 characters) are those of ECMA-376's
spreadsheet programs, from memory.
"""

from __future__ import annotations

import io
import random
import re
import struct
import warnings
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

SAMPLE = Path(__file__).parents[2] / "sample_workbooks" / "filled" / "S-101-pump-burned-valve.xlsx"
BOOK, BOOK_RELS, TYPES = "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"
TEXTS, STYLES, PROPERTIES = "xl/sharedStrings.xml", "xl/styles.xml", "docProps/custom.xml"
#: The sheets Compression (with readings and results) and Cautions (the last one).
SHEET, LAST_SHEET = "xl/worksheets/sheet5.xml", "xl/worksheets/sheet12.xml"
ROWS, COLUMNS = 1_048_576, 16_384
MEGABYTE = 1024 * 1024
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
WORKSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
#: Namespaces of the two dialects (ECMA-376 parts 1 and 4); those of a sheet's cells are enough to make a workbook strict.
USUAL_MAIN, STRICT_MAIN = (
    b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
    b"http://purl.oclc.org/ooxml/spreadsheetml/main",
)
Parts = dict[str, bytes]


@dataclass(frozen=True)
class Case:
    """One hard workbook: how it is made, and what must come of it.

    `refusal` holds words of the one sentence that refuses it; '' where it must be checked with the sample's own findings,
    None where either will do. `quick` ones are part of the tests.
    """

    make: Callable[[], bytes]
    refusal: str | None
    quick: bool = False


CASES: dict[str, Case] = {}


def case(
    name: str, refusal: str | None, quick: bool = False
) -> Callable[[Callable[[], bytes]], Callable[[], bytes]]:
    """Put the function that makes a workbook into the table."""

    def listed(make: Callable[[], bytes]) -> Callable[[], bytes]:
        CASES[name] = Case(make, refusal, quick)
        return make

    return listed


@cache
def _sample() -> Parts:
    with zipfile.ZipFile(SAMPLE) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def sample_part(name: str) -> bytes:
    """The content of one part of the sample."""
    return _sample()[name]


def packed(parts: Iterable[tuple[str, bytes]], level: int = 6) -> bytes:
    """A zip of parts; a name may be there twice."""
    data = io.BytesIO()
    with (
        warnings.catch_warnings(),
        zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED, compresslevel=level) as archive,
    ):
        warnings.simplefilter("ignore")
        for name, content in parts:
            archive.writestr(name, content)
    return data.getvalue()


def sample_with(*more: tuple[str, bytes], level: int = 6) -> bytes:
    """The sample with these parts in place of its own, or beside them."""
    return packed((_sample() | dict(more)).items(), level)


def swapped(part: str, old: bytes, new: bytes, times: int = 1) -> tuple[str, bytes]:
    """A part of the sample with one text of it exchanged; raises ValueError where it does not hold that text."""
    content = _sample()[part]
    if old not in content:
        raise ValueError(f"{part} does not hold {old!r}")
    return part, content.replace(old, new, times)


# --- bombs ---------------------------------------------------------------------------------------------------------------


@case("a part of 1 GB of zeros", "absurd size")
def bomb() -> bytes:
    data = io.BytesIO(sample_with())
    with (
        zipfile.ZipFile(data, "a", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/media/a.bin", "w", force_zip64=True) as part,
    ):
        for _ in range(1024):
            part.write(bytes(MEGABYTE))
    return data.getvalue()


@case("forty parts of 31 MB of zeros, each too small to be a bomb", "unpacks to more than")
def many_small_bombs() -> bytes:
    return sample_with(*((f"xl/media/{number}.bin", bytes(31 * MEGABYTE)) for number in range(40)), level=1)


@case("a part of 250 MB that shrinks to 2 MB", "unpacks to more than")
def slow_bomb() -> bytes:
    chance = random.Random(1)
    block = b"".join(chance.randbytes(40) + bytes(4000) for _ in range(26)) * 2
    return sample_with(("xl/media/a.bin", block * (250 * MEGABYTE // len(block))))


@case("a zip whose entries lie over each other", "is damaged")
def overlapping_entries() -> bytes:
    """Eleven entries of the directory lead to the same 9 MB (after the layout of zip files in PKWARE's APPNOTE)."""
    data = sample_with(("xl/media/a.bin", bytes(9 * MEGABYTE)))
    start = data.rindex(b"PK\x01\x02", 0, data.rindex(b"xl/media/a.bin"))
    end = data.rindex(b"PK\x05\x06")
    entry = data[start:end]
    more = b"".join(entry.replace(b"xl/media/a.bin", b"xl/media/%05d" % number) for number in range(10))
    count = struct.unpack_from("<H", data, end + 10)[0] + 10
    tail = bytearray(data[end:])
    struct.pack_into("<HHI", tail, 8, count, count, struct.unpack_from("<I", data, end + 12)[0] + len(more))
    return data[:end] + more + bytes(tail)


@case("a directory that says of 20 MB that they are 100 bytes", "is damaged", quick=True)
def lying_directory() -> bytes:
    data = bytearray(sample_with(("xl/media/a.bin", bytes(20 * MEGABYTE))))
    for mark, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        start = data.rindex(
            mark,
            0,
            data.rindex(b"xl/media/a.bin") if mark == b"PK\x01\x02" else data.index(b"xl/media/a.bin"),
        )
        struct.pack_into("<I", data, start + offset, 100)
    return bytes(data)


@case("50,000 empty parts", "more than 4000 parts")
def many_parts() -> bytes:
    return sample_with(*((f"xl/media/{number}.bin", b"") for number in range(50_000)))


@case("20 photographs of 3 MB", "")
def photographs() -> bytes:
    """What people really do."""
    chance = random.Random(1)
    return sample_with(
        *((f"xl/media/image{number}.jpeg", chance.randbytes(3 * MEGABYTE)) for number in range(20)), level=1
    )


# --- too many rows, cells, names --------------------------------------------------------------------------------------------


def _in_sheet(part: str, more: bytes) -> tuple[str, bytes]:
    return swapped(part, b"</sheetData>", more + b"</sheetData>")


@case("1,048,576 rows, the empty ones styled", "")
def styled_rows() -> bytes:
    rows = b"".join(b'<row r="%d" s="5" customFormat="1"/>' % number for number in range(200, ROWS + 1))
    return sample_with(_in_sheet(SHEET, rows))


@case("1,048,576 styled rows with a styled cell in each", None)
def styled_cells() -> bytes:
    rows = b"".join(
        b'<row r="%d"><c r="A%d" s="5"/></row>' % (number, number) for number in range(200, ROWS + 1)
    )
    return sample_with(_in_sheet(SHEET, rows))


def letters(column: int) -> str:
    """The letters of a column, counted from 1."""
    found = ""
    while column:
        column, rest = divmod(column - 1, 26)
        found = chr(65 + rest) + found
    return found


@case("30 rows of 16,384 styled cells", "")
def wide_rows() -> bytes:
    columns = [letters(number).encode() for number in range(1, COLUMNS + 1)]
    rows = b"".join(
        b'<row r="%d">' % row
        + b"".join(b'<c r="%b%d" s="5"/>' % (column, row) for column in columns)
        + b"</row>"
        for row in range(200, 230)
    )
    return sample_with(_in_sheet(SHEET, rows))


@case("a million texts that no cell has", None)
def many_texts() -> bytes:
    texts = b"".join(b"<si><t>text %d</t></si>" % number for number in range(1_000_000))
    return sample_with(swapped(TEXTS, b"</sst>", texts + b"</sst>"))


def _with_names(names: str) -> bytes:
    return sample_with(swapped(BOOK, b"</definedNames>", names.encode() + b"</definedNames>"))


def _name(name: str, text: str) -> str:
    return f'<definedName name="{name}">{text}</definedName>'


@case("100,000 more names", "")
def many_names() -> bytes:
    return _with_names(
        "".join(_name(f"more_{number}", f"Job!$B${number % 50 + 1}") for number in range(100_000))
    )


@case("100,000 names that lead on to each other in a ring", "")
def ring_of_names() -> bytes:
    return _with_names(
        "".join(_name(f"ring_{number}", f"ring_{(number + 1) % 100_000}") for number in range(100_000))
    )


@case("a name that leads to the last row of a sheet", "", quick=True)
def far_name() -> bytes:
    return _with_names(
        "".join(_name(f"far_{number}", f"Compression!$XFD${ROWS - number}") for number in range(3))
    )


@case("20,000 sheets that are all the same part", "two of its sheets are the same part")
def many_sheets() -> bytes:
    sheets = "".join(
        f'<sheet name="S{number}" sheetId="{number}" r:id="rId2"/>' for number in range(100, 20_100)
    )
    return sample_with(swapped(BOOK, b"</sheets>", sheets.encode() + b"</sheets>"))


@case("3,900 sheets", None)
def sheets_of_their_own() -> bytes:
    numbers = range(100, 4000)
    tabs = "".join(f'<sheet name="S{number}" sheetId="{number}" r:id="rIdS{number}"/>' for number in numbers)
    links = "".join(
        f'<Relationship Id="rIdS{number}" Type="{OFFICE}/worksheet" Target="worksheets/s{number}.xml"/>'
        for number in numbers
    )
    types = "".join(
        f'<Override PartName="/xl/worksheets/s{number}.xml" ContentType="{WORKSHEET}"/>' for number in numbers
    )
    return sample_with(
        swapped(BOOK, b"</sheets>", tabs.encode() + b"</sheets>"),
        swapped(BOOK_RELS, b"</Relationships>", links.encode() + b"</Relationships>"),
        swapped(TYPES, b"</Types>", types.encode() + b"</Types>"),
        *((f"xl/worksheets/s{number}.xml", _sample()[LAST_SHEET]) for number in numbers),
    )


@case("550,000 strange elements before the rows", None)
def strange_elements() -> bytes:
    return sample_with(swapped(SHEET, b"<sheetData>", b'<odd a="1" b="2"/>' * 550_000 + b"<sheetData>"))


@case("330,000 cells in the first row", None)
def crowded_row() -> bytes:
    return sample_with(
        swapped(
            SHEET, b"<sheetData>", b'<sheetData><row r="1">' + b'<c r="A1"><v>1</v></c>' * 330_000 + b"</row>"
        )
    )


@case("three million attributes of one element", None)
def attributes() -> bytes:
    odd = b"".join(b' a%d=""' % number for number in range(3_000_000))
    return sample_with(swapped(SHEET, b"<sheetData>", b"<odd" + odd + b"/><sheetData>"))


@case("ten photographs of 11 MB", "")
def large_photographs() -> bytes:
    """All that is let in, hardly smaller than it unpacks."""
    chance = random.Random(1)
    return sample_with(
        *((f"xl/media/image{number}.jpeg", chance.randbytes(11 * MEGABYTE)) for number in range(10)), level=1
    )


@case("the same in the strict dialect", "")
def strict_photographs() -> bytes:
    chance = random.Random(1)
    strict = {name: content.replace(USUAL_MAIN, STRICT_MAIN) for name, content in _sample().items()}
    return packed(
        [
            *strict.items(),
            *((f"xl/media/image{number}.jpeg", chance.randbytes(11 * MEGABYTE)) for number in range(10)),
        ],
        1,
    )


@case("64,000 styles of cells", None)
def many_styles() -> bytes:
    content = _sample()[STYLES]
    start = content.index(b"<cellXfs")
    end = content.index(b"</cellXfs>")
    one = re.search(rb"<xf .*?</xf>|<xf [^>]*/>", content[start:end], re.DOTALL)
    assert one is not None
    fonts = b"".join(b'<font><sz val="%d"/><name val="Arial"/></font>' % number for number in range(10_000))
    more = content[:end] + one[0] * 64_000 + content[end:]
    return sample_with((STYLES, more.replace(b"</fonts>", fonts + b"</fonts>", 1)))


@case("200,000 merged ranges, lists and highlights", None)
def many_ranges() -> bytes:
    merged = b"".join(b'<mergeCell ref="AA%d:AB%d"/>' % (number, number) for number in range(1, 200_001))
    lists = b"".join(
        b'<dataValidation type="whole" sqref="AC%d"><formula1>1</formula1></dataValidation>' % number
        for number in range(1, 200_001)
    )
    content = _sample()[SHEET]
    content = content.replace(b"</mergeCells>", merged + b"</mergeCells>").replace(
        b"</dataValidations>", lists + b"</dataValidations>"
    )
    return sample_with((SHEET, content))
