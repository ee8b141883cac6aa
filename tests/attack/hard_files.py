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
USUAL_MAIN, STRICT_MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main", b"http://purl.oclc.org/ooxml/spreadsheetml/main"
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


def case(name: str, refusal: str | None, quick: bool = False) -> Callable[[Callable[[], bytes]], Callable[[], bytes]]:
    """Put the function that makes a workbook into the table."""

    def listed(make: Callable[[], bytes]) -> Callable[[], bytes]:
        CASES[name] = Case(make, refusal, quick)
        return make

    return listed


@cache
def _sample() -> Parts:
    with zipfile.ZipFile(SAMPLE) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts: Iterable[tuple[str, bytes]], level: int = 6) -> bytes:
    """A zip of parts; a name may be there twice."""
    data = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED, compresslevel=level) as archive:
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
    with zipfile.ZipFile(data, "a", zipfile.ZIP_DEFLATED) as archive, archive.open("xl/media/a.bin", "w", force_zip64=True) as part:
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
    """A thousand entries of the directory lead to the same 30 MB (after the layout of zip files in PKWARE's APPNOTE)."""
    data = sample_with(("xl/media/a.bin", bytes(30 * MEGABYTE)))
    start = data.rindex(b"PK\x01\x02", 0, data.rindex(b"xl/media/a.bin"))
    end = data.rindex(b"PK\x05\x06")
    entry = data[start:end]
    more = b"".join(entry.replace(b"xl/media/a.bin", b"xl/media/%05d" % number + b"\0"[:0]) for number in range(10))
    count = struct.unpack_from("<H", data, end + 10)[0] + 10
    tail = bytearray(data[end:])
    struct.pack_into("<HHI", tail, 8, count, count, struct.unpack_from("<I", data, end + 12)[0] + len(more))
    return data[:end] + more + bytes(tail)


@case("a directory that says of 200 MB that they are 100 bytes", "is damaged", quick=True)
def lying_directory() -> bytes:
    data = bytearray(sample_with(("xl/media/a.bin", bytes(20 * MEGABYTE))))
    for mark, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        start = data.rindex(mark, 0, data.rindex(b"xl/media/a.bin") if mark == b"PK\x01\x02" else data.index(b"xl/media/a.bin"))
        struct.pack_into("<I", data, start + offset, 100)
    return bytes(data)


@case("50,000 empty parts", "more than 4000 parts")
def many_parts() -> bytes:
    return sample_with(*((f"xl/media/{number}.bin", b"") for number in range(50_000)))


@case("20 photographs of 3 MB", "")
def photographs() -> bytes:
    """What people really do."""
    chance = random.Random(1)
    return sample_with(*((f"xl/media/image{number}.jpeg", chance.randbytes(3 * MEGABYTE)) for number in range(20)), level=1)


# --- what XML can do -------------------------------------------------------------------------------------------------------

LAUGHS = b"".join(
    [b'<!ENTITY a0 "ha">', *(b'<!ENTITY a%d "%b">' % (n, b"&a%d;" % (n - 1) * 10) for n in range(1, 10))]
)  # fmt: skip
ENTITIES = {
    "a billion laughs": (LAUGHS, b"&a9;"),
    "one entity of 1 MB, used 200 times": (b'<!ENTITY a "%b">' % (b"x" * MEGABYTE), b"&a;" * 200),
    "an external entity": (b'<!ENTITY a SYSTEM "file:///etc/passwd">', b"&a;"),
    "an entity from the network": (b'<!ENTITY a SYSTEM "http://127.0.0.1:9/a">', b"&a;"),
    "entities of a file outside": (b'<!ENTITY % a SYSTEM "file:///etc/passwd"> %a;', b""),
}
#: Part, and where in it an entity could be used.
PLACES = {
    "the workbook": (BOOK, b'<sheet name="Job"'),
    "a sheet": (SHEET, b"<sheetData>"),
    "the texts": (TEXTS, b"</t>"),
    "the styles": (STYLES, b"<fonts"),
    "the properties": (PROPERTIES, b"</vt:lpwstr>"),
    "the list of contents": (TYPES, b"<Override"),
    "the relationships": (BOOK_RELS, b"<Relationship "),
    "the core properties": ("docProps/core.xml", b"<dcterms:created"),
}


def _with_entity(part: str, place: bytes, declared: bytes, used: bytes) -> bytes:
    content = _sample()[part]
    start = content.index(b"?>") + 2
    if place not in content:
        raise ValueError(f"{part} does not hold {place!r}")
    declared = b"<!DOCTYPE x [" + declared + b"]>"
    return sample_with((part, content[:start] + declared + content[start:].replace(place, used + place, 1)))


for _what, (_declared, _used) in ENTITIES.items():
    for _where, (_part, _place) in PLACES.items():
        CASES[f"{_what} in {_where}"] = Case(
            lambda part=_part, place=_place, declared=_declared, used=_used: _with_entity(part, place, declared, used),
            None,
            _where in ("a sheet", "the properties") and _what != "entities of a file outside",
        )


@case("a document type from the network", "declares a document type", quick=True)
def foreign_doctype() -> bytes:
    return sample_with(swapped(BOOK, b"?>", b'?><!DOCTYPE workbook SYSTEM "http://127.0.0.1:9/a.dtd">'))


@case("100,000 elements in each other", "is damaged")
def deep_xml() -> bytes:
    return sample_with(swapped(SHEET, b"<sheetData>", b"<a>" * 100_000 + b"</a>" * 100_000 + b"<sheetData>"))


@case("a text of 15 MB", None)
def endless_text() -> bytes:
    return sample_with(swapped(TEXTS, b"</sst>", b"<si><t>" + b"x" * 15 * MEGABYTE + b"</t></si></sst>"))


for _what, _bad in {"half a character": b"\xc3\x28", "bytes of another code": b"\xff\xfe\x00a", "a zero byte": b"\0"}.items():
    for _where in ("the workbook", "a sheet", "the texts", "the properties"):
        _part, _place = PLACES[_where]
        CASES[f"{_what} in {_where}"] = Case(
            lambda part=_part, place=_place, bad=_bad: sample_with(swapped(part, place, bad + place)),
            "is damaged",
            _what == "half a character",
        )


# --- names of parts and where they lead ------------------------------------------------------------------------------------


@case("parts whose names lead outside", "", quick=True)
def traversal() -> bytes:
    names = ("../../../../../tmp/outside", "/etc/outside", "C:\\outside", "..\\..\\outside", "xl/../../outside", "file:///tmp/outside")
    return sample_with(*((name, b"outside") for name in names))


@case("relationships that lead outside", "", quick=True)
def outside_relations() -> bytes:
    targets = (
        *("../../../../../../etc/passwd", "file:///etc/passwd", "http://127.0.0.1:9/a", "\\\\127.0.0.1\\share\\a.xlsx"),
        *("/etc/passwd", "https://127.0.0.1:9/a.xlsx"),
    )
    kinds = ("externalLink", "theme", "image", "externalLinkPath", "worksheet", "vbaProject")
    links = "".join(
        f'<Relationship Id="rIdOut{number}{mode}" Type="{OFFICE}/{kind}" Target="{target}"{mode and f" TargetMode={chr(34)}External{chr(34)}"}/>'
        for number, (kind, target) in enumerate((kind, target) for kind in kinds for target in targets)
        for mode in ("", "External")
    )
    return sample_with(swapped(BOOK_RELS, b"</Relationships>", links.encode() + b"</Relationships>"))


@case("the texts taken from outside", "", quick=True)
def texts_from_outside() -> bytes:
    return sample_with(swapped(BOOK_RELS, b'Target="sharedStrings.xml"', b'Target="../../../../../../etc/passwd"'))


# --- too many rows, cells, names --------------------------------------------------------------------------------------------


def _in_sheet(part: str, more: bytes) -> tuple[str, bytes]:
    return swapped(part, b"</sheetData>", more + b"</sheetData>")


@case("1,048,576 rows, the empty ones styled", "")
def styled_rows() -> bytes:
    rows = b"".join(b'<row r="%d" s="5" customFormat="1"/>' % number for number in range(200, ROWS + 1))
    return sample_with(_in_sheet(SHEET, rows))


@case("1,048,576 styled rows with a styled cell in each", None)
def styled_cells() -> bytes:
    rows = b"".join(b'<row r="%d"><c r="A%d" s="5"/></row>' % (number, number) for number in range(200, ROWS + 1))
    return sample_with(_in_sheet(SHEET, rows))


def letters(column: int) -> str:
    """The letters of a column, counted from 1."""
    found = ""
    while column:
        column, rest = divmod(column - 1, 26)
        found = chr(65 + rest) + found
    return found


@case("50 rows of 16,384 styled cells", "")
def wide_rows() -> bytes:
    columns = [letters(number).encode() for number in range(1, COLUMNS + 1)]
    rows = b"".join(
        b'<row r="%d">' % row + b"".join(b'<c r="%b%d" s="5"/>' % (column, row) for column in columns) + b"</row>"
        for row in range(200, 250)
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
    return _with_names("".join(_name(f"more_{number}", f"Job!$B${number % 50 + 1}") for number in range(100_000)))


@case("100,000 names that lead on to each other in a ring", "")
def ring_of_names() -> bytes:
    return _with_names("".join(_name(f"ring_{number}", f"ring_{(number + 1) % 100_000}") for number in range(100_000)))


@case("a name that leads to the last row of a sheet", "", quick=True)
def far_name() -> bytes:
    return _with_names("".join(_name(f"far_{number}", f"Compression!$XFD${ROWS - number}") for number in range(3)))


@case("20,000 sheets that are all the same part", "two of its sheets are the same part")
def many_sheets() -> bytes:
    sheets = "".join(f'<sheet name="S{number}" sheetId="{number}" r:id="rId2"/>' for number in range(100, 20_100))
    return sample_with(swapped(BOOK, b"</sheets>", sheets.encode() + b"</sheets>"))


@case("3,900 sheets", None)
def sheets_of_their_own() -> bytes:
    numbers = range(100, 4000)
    tabs = "".join(f'<sheet name="S{number}" sheetId="{number}" r:id="rIdS{number}"/>' for number in numbers)
    links = "".join(
        f'<Relationship Id="rIdS{number}" Type="{OFFICE}/worksheet" Target="worksheets/s{number}.xml"/>' for number in numbers
    )
    types = "".join(f'<Override PartName="/xl/worksheets/s{number}.xml" ContentType="{WORKSHEET}"/>' for number in numbers)
    return sample_with(
        swapped(BOOK, b"</sheets>", tabs.encode() + b"</sheets>"),
        swapped(BOOK_RELS, b"</Relationships>", links.encode() + b"</Relationships>"),
        swapped(TYPES, b"</Types>", types.encode() + b"</Types>"),
        *((f"xl/worksheets/s{number}.xml", _sample()[LAST_SHEET]) for number in numbers),
    )


@case("a million strange elements before the rows", None)
def strange_elements() -> bytes:
    return sample_with(swapped(SHEET, b"<sheetData>", b'<odd a="1" b="2"/>' * 1_000_000 + b"<sheetData>"))


@case("a million cells in the first row", None)
def crowded_row() -> bytes:
    return sample_with(swapped(SHEET, b"<sheetData>", b'<sheetData><row r="1">' + b'<c r="A1"><v>1</v></c>' * 330_000 + b"</row>"))


@case("three million attributes of one element", None)
def attributes() -> bytes:
    odd = b"".join(b' a%d=""' % number for number in range(3_000_000))
    return sample_with(swapped(SHEET, b"<sheetData>", b"<odd" + odd + b"/><sheetData>"))


@case("ten photographs of 11 MB", "")
def large_photographs() -> bytes:
    """All that is let in, hardly smaller than it unpacks."""
    chance = random.Random(1)
    return sample_with(*((f"xl/media/image{number}.jpeg", chance.randbytes(11 * MEGABYTE)) for number in range(10)), level=1)


@case("the same in the strict dialect", "")
def strict_photographs() -> bytes:
    chance = random.Random(1)
    strict = {name: content.replace(USUAL_MAIN, STRICT_MAIN) for name, content in _sample().items()}
    return packed([*strict.items(), *((f"xl/media/image{number}.jpeg", chance.randbytes(11 * MEGABYTE)) for number in range(10))], 1)


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
        b'<dataValidation type="whole" sqref="AC%d"><formula1>1</formula1></dataValidation>' % number for number in range(1, 200_001)
    )
    content = _sample()[SHEET]
    content = content.replace(b"</mergeCells>", merged + b"</mergeCells>").replace(b"</dataValidations>", lists + b"</dataValidations>")
    return sample_with((SHEET, content))


# --- formulas --------------------------------------------------------------------------------------------------------------

#: A computed cell of sheet Compression: its formula stands between the two halves.
_COMPUTED = re.compile(rb'(<c r="[A-Z]+\d+"[^>]*><f[^>]*>)([^<]*)(</f>)')


def _formulas(write: Callable[[int], bytes], part: str = SHEET) -> bytes:
    """The sample with all formulas of a sheet replaced; results stay as they were stored."""
    numbers = iter(range(ROWS))
    content, count = _COMPUTED.subn(lambda found: found[1] + write(next(numbers)) + found[3], _sample()[part])
    if not count:
        raise ValueError(f"{part} has no formulas")
    return sample_with((part, content))


@case("every formula of a sheet refers to itself and to all others", "", quick=True)
def circular() -> bytes:
    return _formulas(lambda _: b"SUM($A$1:$XFD$1048576)+Compression!$A$1:$XFD$1048576")


@case("every formula has 8,192 characters", "", quick=True)
def long_formulas() -> bytes:
    return _formulas(lambda _: b"1" + b"+1" * 4095 + b"1")


@case("every formula has 100,000 brackets in each other", "")
def deep_formulas() -> bytes:
    return _formulas(lambda _: b"(" * 100_000 + b"1" + b")" * 100_000)


@case("a formula of 9,000,000 characters", "")
def endless_formula() -> bytes:
    return _formulas(lambda number: b"1" + b"+1" * 4_500_000 if number == 0 else b"1")


@case("formulas that call other files, programs and the network", "", quick=True)
def calling_formulas() -> bytes:
    calls = (
        *(b"WEBSERVICE(&quot;http://127.0.0.1:9/a&quot;)", b"'file:///etc/passwd'#$Sheet1.A1", b"cmd|'/c calc'!A1"),
        *(b"[1]Sheet1!$A$1", b"'C:\\[other.xlsx]Sheet1'!$A$1", b"HYPERLINK(&quot;file:///etc/passwd&quot;)"),
    )
    return _formulas(lambda number: calls[number % len(calls)])


# --- names of the form that lead astray -------------------------------------------------------------------------------------

ASTRAY = {
    "outside of the sheet": "Compression!$XFE$1048577",
    "to a row that no number can be": "Compression!$B$9999999",
    "to row 0": "Compression!$B$0",
    "to a sheet that is not there": "Nowhere!$B$7",
    "to another book": "[1]Compression!$B$7",
    "to a file": "'/etc/[passwd]Compression'!$B$7",
    "to the network": "'http://127.0.0.1:9/[a.xlsx]Compression'!$B$7",
    "to an error": "#REF!",
    "to nothing": "",
    "to a whole sheet": "Compression!$A$1:$XFD$1048576",
    "to many places": "Compression!$B$7,Compression!$B$8,Engine!$A$1",
    "to a program": "cmd|'/c calc'!A1",
}


def _led_astray(place: str) -> bytes:
    content, count = re.subn(
        rb'(<definedName [^>]*name="compression_(?:dry|wet)_\d+"[^>]*>)[^<]*', lambda found: found[1] + place.encode(), _sample()[BOOK]
    )
    if count < 8:
        raise ValueError("the sample has no names of compression readings")
    return sample_with((BOOK, content))


for _what, _place_text in ASTRAY.items():
    CASES[f"names of readings lead {_what}"] = Case(
        lambda place=_place_text: _led_astray(place), "", True
    )


# --- damaged files ----------------------------------------------------------------------------------------------------------


for _share in (0, 1, 10, 50, 90, 99):
    CASES[f"the first {_share} % of the file"] = Case(
        lambda share=_share: SAMPLE.read_bytes()[: SAMPLE.stat().st_size * share // 100],
        "is empty" if _share == 0 else "is damaged",
        True,
    )


def _flipped(seed: int, count: int) -> bytes:
    chance, data = random.Random(seed), bytearray(SAMPLE.read_bytes())
    for _ in range(count):
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    return bytes(data)


for _seed, _count in ((1, 1), (2, 1), (3, 8), (4, 1000)):
    CASES[f"{_count} bits turned over (seed {_seed})"] = Case(lambda seed=_seed, count=_count: _flipped(seed, count), None, True)
