"""Workbooks with something in them that should harm whoever reads it: entities, ways outside, formulas, names, damage."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

from tests.attack.hard_files import (
    BOOK,
    BOOK_RELS,
    CASES,
    MEGABYTE,
    OFFICE,
    PROPERTIES,
    ROWS,
    SAMPLE,
    SHEET,
    STYLES,
    TEXTS,
    TYPES,
    Case,
    case,
    sample_part,
    sample_with,
    swapped,
)

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
    content = sample_part(part)
    start = content.index(b"?>") + 2
    if place not in content:
        raise ValueError(f"{part} does not hold {place!r}")
    declared = b"<!DOCTYPE x [" + declared + b"]>"
    return sample_with((part, content[:start] + declared + content[start:].replace(place, used + place, 1)))


for _what, (_declared, _used) in ENTITIES.items():
    for _where, (_part, _place) in PLACES.items():
        CASES[f"{_what} in {_where}"] = Case(
            lambda part=_part, place=_place, declared=_declared, used=_used: _with_entity(
                part, place, declared, used
            ),
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


for _what, _bad in {
    "half a character": b"\xc3\x28",
    "bytes of another code": b"\xff\xfe\x00a",
    "a zero byte": b"\0",
}.items():
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
    names = (
        "../../../../../tmp/outside",
        "/etc/outside",
        "C:\\outside",
        "..\\..\\outside",
        "xl/../../outside",
        "file:///tmp/outside",
    )
    return sample_with(*((name, b"outside") for name in names))


@case("relationships that lead outside", "", quick=True)
def outside_relations() -> bytes:
    targets = (
        *(
            "../../../../../../etc/passwd",
            "file:///etc/passwd",
            "http://127.0.0.1:9/a",
            "\\\\127.0.0.1\\share\\a.xlsx",
        ),
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
    return sample_with(
        swapped(BOOK_RELS, b'Target="sharedStrings.xml"', b'Target="../../../../../../etc/passwd"')
    )


# --- formulas --------------------------------------------------------------------------------------------------------------

#: A computed cell of sheet Compression: its formula stands between the two halves.
_COMPUTED = re.compile(rb'(<c r="[A-Z]+\d+"[^>]*><f[^>]*>)([^<]*)(</f>)')


def _formulas(write: Callable[[int], bytes], part: str = SHEET) -> bytes:
    """The sample with all formulas of a sheet replaced; results stay as they were stored."""
    numbers = iter(range(ROWS))
    content, count = _COMPUTED.subn(
        lambda found: found[1] + write(next(numbers)) + found[3], sample_part(part)
    )
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
        *(
            b"WEBSERVICE(&quot;http://127.0.0.1:9/a&quot;)",
            b"'file:///etc/passwd'#$Sheet1.A1",
            b"cmd|'/c calc'!A1",
        ),
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
        rb'(<definedName [^>]*name="compression_(?:dry|wet)_\d+"[^>]*>)[^<]*',
        lambda found: found[1] + place.encode(),
        sample_part(BOOK),
    )
    if count < 8:
        raise ValueError("the sample has no names of compression readings")
    return sample_with((BOOK, content))


for _what, _place_text in ASTRAY.items():
    CASES[f"names of readings lead {_what}"] = Case(lambda place=_place_text: _led_astray(place), "", True)


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
    CASES[f"{_count} bits turned over (seed {_seed})"] = Case(
        lambda seed=_seed, count=_count: _flipped(seed, count), None, True
    )
