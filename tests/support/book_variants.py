"""The same workbook written in other ways that the file format allows (ECMA-376, 5th edition, parts 1 to 4).

Each function takes the bytes of a book and gives those of another that says the same. Written over the text of the
parts, apart from the package that they are to test, as XlsxWriter writes them (a form of ours as `fill_workbook` left it).
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

from tests.place_sheet_samples import edited, parts, strict

DAYS_BETWEEN = 1462  # from 1899-12-30 to 1904-01-01; ECMA-376 part 1, 18.17.4.1
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
CELL = re.compile(r'<c r="([A-Z]+)(\d+)"([^>]*?)(?:/>|>(.*?)</c>)', re.DOTALL)
DAY_CELL = re.compile(r'(<c r="[A-Z]+\d+"[^>]*>)<v>(4\d{4})</v>')
Change = Callable[[str], str]


def _sheets(data: bytes) -> list[str]:
    return [name for name in parts(data) if re.fullmatch(r"xl/worksheets/sheet\d+\.xml", name)]


def _changed(data: bytes, names: list[str], change: Change) -> bytes:
    return edited(data, {name: lambda xml: change(xml.decode()).encode() for name in names})


def strict_with_written_dates(data: bytes) -> bytes:
    """The strict dialect as Excel writes it: its own namespaces, and days as ISO 8601 text of type `d`."""

    def written(match: re.Match[str]) -> str:
        day = dt.date(1899, 12, 30) + dt.timedelta(int(match[2]))
        return f'{match[1][:-1]} t="d"><v>{day.isoformat()}</v>'

    days = _changed(data, _sheets(data), lambda xml: DAY_CELL.sub(written, xml))
    custom = [
        (
            "officeDocument/2006/relationships/custom-properties",
            "officeDocument/relationships/customProperties",
        ),
        ("officeDocument/2006/custom-properties", "officeDocument/customProperties"),
    ]

    def own(xml: str) -> str:
        for usual, other in custom:
            xml = xml.replace(
                f"http://schemas.openxmlformats.org/{usual}", f"http://purl.oclc.org/ooxml/{other}"
            )
        return xml

    return strict(_changed(days, ["_rels/.rels", "docProps/custom.xml"], own))


def prefixed(data: bytes) -> bytes:
    """Every tag of the spreadsheet namespace with a prefix, in workbook, sheets, styles and texts."""

    def change(xml: str) -> str:
        xml = re.sub(r"<(/?)([A-Za-z]+)(?=[\s/>])", r"<\1book:\2", xml)
        return xml.replace(f'xmlns="{MAIN}"', f'xmlns:book="{MAIN}"')

    return _changed(
        data, ["xl/workbook.xml", "xl/styles.xml", "xl/sharedStrings.xml", *_sheets(data)], change
    )


def inline_strings(data: bytes) -> bytes:
    """Every text in its own cell, and no part of shared strings."""
    shared = parts(data)["xl/sharedStrings.xml"].decode()
    items = re.findall(r"<si>(.*?)</si>", shared, re.DOTALL)

    def inline(match: re.Match[str]) -> str:
        column, row, rest, inside = match.groups()
        if inside is None or ' t="s"' not in rest:
            return match[0]
        number = int(re.search(r"<v>(\d+)</v>", inside)[1])  # type: ignore[index]
        rest = rest.replace(' t="s"', ' t="inlineStr"')
        return f'<c r="{column}{row}"{rest}><is>{items[number]}</is></c>'

    without = _changed(data, _sheets(data), lambda xml: CELL.sub(inline, xml))
    return edited(
        without,
        {
            "xl/sharedStrings.xml": None,
            "xl/_rels/workbook.xml.rels": lambda xml: re.sub(
                rb"<Relationship [^>]*sharedStrings[^>]*/>", b"", xml
            ),
            "[Content_Types].xml": lambda xml: re.sub(rb"<Override [^>]*sharedStrings[^>]*/>", b"", xml),
        },
    )


def shared_formulas(data: bytes) -> bytes:
    """Each run of the same formula down a column written once and referred to below, as Excel does after filling down."""
    return _changed(data, _sheets(data), _share)


def _share(xml: str) -> str:
    formulas = {}
    for match in CELL.finditer(xml):
        found = re.search(r"<f>(.*?)</f>", match[4] or "", re.DOTALL)
        if found:
            formulas[match[1], int(match[2])] = found[1]
    kept: dict[tuple[str, int], str] = {}
    number = 0
    for (column, row), formula in formulas.items():
        if (column, row) in kept or formulas.get((column, row + 1)) != formula:
            continue
        last = row
        while formulas.get((column, last + 1)) == formula:
            last += 1
            kept[column, last] = f'<f t="shared" si="{number}"/>'
        kept[column, row] = f'<f t="shared" ref="{column}{row}:{column}{last}" si="{number}">{formula}</f>'
        number += 1

    def written(match: re.Match[str]) -> str:
        new = kept.get((match[1], int(match[2])))
        return match[0] if new is None else re.sub(r"<f>.*?</f>", lambda _: new, match[0], flags=re.DOTALL)

    return CELL.sub(written, xml)


def dates_of_1904(data: bytes) -> bytes:
    """Days counted from 1904 on, as spreadsheet programs on a Mac did."""
    counted = _changed(
        data,
        _sheets(data),
        lambda xml: DAY_CELL.sub(lambda m: f"{m[1]}<v>{int(m[2]) - DAYS_BETWEEN}</v>", xml),
    )
    return _changed(
        counted, ["xl/workbook.xml"], lambda xml: xml.replace("<workbookPr", '<workbookPr date1904="1"', 1)
    )


def other_folders(data: bytes) -> bytes:
    """All parts of the book in another folder, led to by absolute targets."""
    moved = {re.sub("^xl/", "deep/er/", name): content for name, content in parts(data).items()}
    for name in [name for name in moved if name.endswith(".rels")]:
        folder = name.split("_rels/")[0]
        moved[name] = re.sub(
            rb'Target="(?!/|https?:|#)([^"]*)"',
            lambda m, folder=folder: b'Target="%s"' % _absolute(folder, m[1].decode()).encode(),
            moved[name],
        )
    moved["[Content_Types].xml"] = moved["[Content_Types].xml"].replace(
        b'PartName="/xl/', b'PartName="/deep/er/'
    )
    return edited(data, {**dict.fromkeys(parts(data), None), **moved})


def _absolute(folder: str, target: str) -> str:
    steps = [step for step in folder.split("/") if step]
    for step in target.split("/"):
        if step == "..":
            steps.pop()
        else:
            steps.append(step)
    return "/" + re.sub("^xl/", "deep/er/", "/".join(steps))


VARIANTS: dict[str, Callable[[bytes], bytes]] = {
    "strict": strict_with_written_dates,
    "prefixes": prefixed,
    "inline strings": inline_strings,
    "shared formulas": shared_formulas,
    "1904": dates_of_1904,
    "other folders": other_folders,
}
