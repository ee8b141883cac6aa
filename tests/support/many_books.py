"""Workbooks of many origins, each with something that a library which loads and saves a book would lose.

    BOOKS["pictures"](folder)      writes that book into the folder and returns its path

Written by XlsxWriter, openpyxl and pandas, or by another program from a form; parts that none of them writes are put in
by hand with the names, types and relationships of ECMA-376 or Microsoft's [MS-XLSX] (from memory), and content that only
has to stay as it is.
"""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
from openpyxl.chart import BarChart, Reference
from openpyxl.comments import Comment
from openpyxl.drawing.image import Image

from tests.place_sheet_samples import book, edited, parts, picture, rich_host, small_host, strict, with_prefix
from tests.support.other_programs import saved_by_gnumeric

OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
MICROSOFT = "http://schemas.microsoft.com/office"
SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml"
Book = Callable[[Path], Path]
BOOKS: dict[str, Book] = {}


def _listed(name: str, ending: str = ".xlsx") -> Callable[[Callable[[], bytes]], Callable[[], bytes]]:
    """Put a maker of bytes into the table."""

    def add(make: Callable[[], bytes]) -> Callable[[], bytes]:
        def write(folder: Path) -> Path:
            path = folder / f"book{ending}"
            path.write_bytes(make())
            return path

        BOOKS[name] = write
        return make

    return add


# --- as XlsxWriter writes them -----------------------------------------------------------------------------------------


def _sheet(write: Callable[[Any, Any], None], **options: Any) -> bytes:
    """A book in which `write(book, sheet)` fills sheet A."""

    def fill(workbook: Any) -> None:
        sheet = workbook.add_worksheet("A")
        sheet.write_row(0, 0, ["psi", 150, 145, 90])
        sheet.write_formula("A3", "=SUM(B1:D1)", None, 385)
        write(workbook, sheet)

    return book(fill, **options)


@_listed("pictures")
def pictures() -> bytes:
    """On the sheet, behind it, in its header and inside a cell."""

    def write(_: Any, sheet: Any) -> None:
        sheet.insert_image("F1", "on.png", {"image_data": picture()})
        sheet.set_background(picture())
        sheet.set_header("&L&G", {"image_left": "head.png", "image_data_left": picture()})
        sheet.embed_image("B5", "in.png", {"image_data": picture()})

    return _sheet(write)


@_listed("shapes and charts")
def shapes_and_charts() -> bytes:
    """A text box, a chart on the sheet, and a sheet that is a chart."""

    def write(workbook: Any, sheet: Any) -> None:
        sheet.insert_textbox("F1", "a drawn note")
        for place in (sheet, None):
            chart = workbook.add_chart({"type": "line"})
            chart.add_series({"values": "=A!$B$1:$D$1"})
            if place:
                place.insert_chart("F10", chart)
            else:
                workbook.add_chartsheet("Chart").set_chart(chart)

    return _sheet(write)


@_listed("form controls and comments")
def controls_and_comments() -> bytes:
    """A button, a check box in a cell, and comments with their drawing."""

    def write(_: Any, sheet: Any) -> None:
        sheet.insert_button("F1", {"macro": "run_it", "caption": "Run"})
        sheet.insert_checkbox("B5", True)
        sheet.write_comment("B1", "first cylinder", {"author": "Technician A (invented)"})

    return _sheet(write)


@_listed("sparklines and 2010 highlights")
def extensions() -> bytes:
    """What stands in extension lists."""

    def write(_: Any, sheet: Any) -> None:
        sheet.add_sparkline("F1", {"range": "A!B1:D1"})
        sheet.conditional_format("B1:D1", {"type": "data_bar", "data_bar_2010": True})
        sheet.conditional_format("B2:D2", {"type": "icon_set", "icon_style": "3_arrows"})

    return _sheet(write)


@_listed("tables, filters and links")
def tables() -> bytes:
    """A table, a filter, outline levels and links to outside."""

    def write(_: Any, sheet: Any) -> None:
        sheet.add_table("F1:G3", {"name": "Findings"})
        sheet.write_url("A9", "https://example.org/manual")
        sheet.set_row(4, None, None, {"level": 1, "hidden": True})
        sheet.autofilter("A12:B14")

    return _sheet(write)


@_listed("dynamic arrays")
def dynamic_arrays() -> bytes:
    """A formula that spills, with its part of metadata."""
    return _sheet(lambda _, sheet: sheet.write_dynamic_array_formula("A5", "=SORT(B1:D1)", None, 90))


@_listed("hidden and protected sheets")
def hidden() -> bytes:
    """Sheets hidden and very hidden, protection and ranges that may be typed into."""

    def write(workbook: Any, sheet: Any) -> None:
        workbook.add_worksheet("Hidden").hide()
        workbook.add_worksheet("Lists").very_hidden()
        sheet.protect("secret", {"sort": True})
        sheet.unprotect_range("B1:D1", "readings")
        workbook.define_name("Lists!here", "=Lists!$A$1:$A$3")

    return _sheet(write)


@_listed("properties of its own")
def properties() -> bytes:
    """Document properties that somebody added."""

    def write(workbook: Any, _: Any) -> None:
        workbook.set_custom_property("Shop", "Invented garage")
        workbook.set_properties({"title": "Readings", "comments": "=1+1"})

    return _sheet(write)


@_listed("texts in their cells")
def constant_memory() -> bytes:
    """A book written row by row, as data loggers do."""
    return small_host("Log", "Log (2)", constant_memory=True)


@_listed("days from 1904")
def days_of_1904() -> bytes:
    """The calendar that began on the Mac."""
    return small_host("A", "B", date_1904=True)


@_listed("macros", ".xlsm")
def macros() -> bytes:
    """A book with macros and a button that runs one."""

    def write(workbook: Any, sheet: Any) -> None:
        workbook.add_vba_project(io.BytesIO(b"macros, kept as they are"), is_stream=True)
        sheet.insert_button("F1", {"macro": "run_it"})

    return _sheet(write)


@_listed("a sheet of that name")
def same_name() -> bytes:
    """A user's own sheet has the name that ours would take."""
    return small_host("findings", "Findings (2)")


@_listed("all of it")
def everything() -> bytes:
    """Picture, shape, comment, sparkline, custom XML and a calculation chain in one."""
    return rich_host()


@_listed("prefixes and absolute targets")
def other_spelling() -> bytes:
    """The same part spelt otherwise."""
    return with_prefix(rich_host())


@_listed("strict dialect")
def strict_book() -> bytes:
    """The namespaces of the standard's strict dialect."""
    return strict(small_host("A", "B"))


# --- as other libraries write them ---------------------------------------------------------------------------------------


def _saved(workbook: openpyxl.Workbook) -> bytes:
    data = io.BytesIO()
    workbook.save(data)
    return data.getvalue()


@_listed("openpyxl's own")
def by_openpyxl() -> bytes:
    """Chart, picture, comment and validation as openpyxl writes them."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.append(["psi", 150, 145, 90])
    chart = BarChart()
    chart.add_data(Reference(sheet, min_col=2, max_col=4, min_row=1))
    sheet.add_chart(chart, "F10")
    sheet.add_image(Image(picture()), "F1")
    sheet["B1"].comment = Comment("first cylinder", "Technician A (invented)")
    sheet.print_title_rows = "1:1"
    return _saved(workbook)


@_listed("a table of pandas")
def by_pandas() -> bytes:
    """A data frame written to a file."""
    data = io.BytesIO()
    frame = pd.DataFrame({"cylinder": [1, 2], "taken": pd.to_datetime(["2026-03-02", "2026-03-03"])})
    frame.to_excel(data, sheet_name="Readings", engine="openpyxl")
    return data.getvalue()


def gnumeric_book(folder: Path) -> Path:
    """The rich book as Gnumeric saves it."""
    (folder / "rich.xlsx").write_bytes(rich_host())
    return saved_by_gnumeric(folder / "rich.xlsx", folder / "book.xlsx")


BOOKS["Gnumeric's own"] = gnumeric_book


# --- parts that no library at hand writes --------------------------------------------------------------------------------


def with_part(
    data: bytes,
    source: str,
    kind: str,
    name: str,
    content: bytes,
    content_type: str = "",
    *,
    inside: bytes = b"",
) -> bytes:
    """The book with one more part, led to from `source` ('' for the package); `inside` goes before the sheet's end."""
    folder, _, file = source.rpartition("/")
    rels = f"{folder}/_rels/{file}.rels" if source else "_rels/.rels"
    empty = b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"></Relationships>'
    old = parts(data).get(rels, empty)
    number = f"rIdX{old.count(b'<Relationship ')}"
    link = f'<Relationship Id="{number}" Type="{kind}" Target="/{name}"/></Relationships>'.encode()
    kept: dict[str, Any] = {name: content, rels: old.replace(b"</Relationships>", link)}
    if content_type:
        listed = f'<Override PartName="/{name}" ContentType="{content_type}"/></Types>'.encode()
        kept["[Content_Types].xml"] = lambda xml: xml.replace(b"</Types>", listed)
    else:
        ending = name.rpartition(".")[2]
        default = f'<Default Extension="{ending}" ContentType="application/{ending}"/></Types>'.encode()
        kept["[Content_Types].xml"] = lambda xml: xml.replace(b"</Types>", default)
    if inside:
        kept[source] = lambda xml: xml.replace(
            b"</worksheet>", inside.replace(b"{id}", number.encode()) + b"</worksheet>"
        )
    return edited(data, kept)


SHEET, WORKBOOK = "xl/worksheets/sheet1.xml", "xl/workbook.xml"
#: name: (part it belongs to, relationship type, part, content, content type)
STRANGE: Mapping[str, tuple[str, str, str, bytes, str]] = {
    "threaded comments": (
        SHEET,
        f"{MICROSOFT}/2017/10/relationships/threadedComment",
        "xl/threadedComments/threadedComment1.xml",
        b'<ThreadedComments xmlns="http://schemas.microsoft.com/office/spreadsheetml/2018/threadedcomments"/>',
        "application/vnd.ms-excel.threadedcomments+xml",
    ),
    "persons of comments": (
        WORKBOOK,
        f"{MICROSOFT}/2017/10/relationships/person",
        "xl/persons/person.xml",
        b'<personList xmlns="http://schemas.microsoft.com/office/spreadsheetml/2018/threadedcomments"/>',
        "application/vnd.ms-excel.person+xml",
    ),
    "slicer": (
        SHEET,
        f"{MICROSOFT}/2007/relationships/slicer",
        "xl/slicers/slicer1.xml",
        b'<slicers xmlns="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"/>',
        "application/vnd.ms-excel.slicer+xml",
    ),
    "slicer cache": (
        WORKBOOK,
        f"{MICROSOFT}/2007/relationships/slicerCache",
        "xl/slicerCaches/slicerCache1.xml",
        b'<slicerCacheDefinition xmlns="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" name="a" sourceName="a"/>',
        "application/vnd.ms-excel.slicerCache+xml",
    ),
    "a part of the future": (
        WORKBOOK,
        "urn:example:relationships/unheardOf",
        "xl/unheard/of1.xml",
        b"<unheard xmlns='urn:example'>&#38; kept</unheard>",
        "application/x-unheard-of+xml",
    ),
    "custom XML": (
        WORKBOOK,
        f"{OFFICE}/customXml",
        "customXml/item1.xml",
        b"<job xmlns='urn:example'>4711</job>",
        "application/xml",
    ),
    "printer settings": (
        SHEET,
        f"{OFFICE}/printerSettings",
        "xl/printerSettings/printerSettings1.bin",
        bytes(range(256)),
        f"{SPREADSHEET}.printerSettings",
    ),
    "connections": (
        WORKBOOK,
        f"{OFFICE}/connections",
        "xl/connections.xml",
        b'<connections xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        b'<connection id="1" name="log" type="6" refreshedVersion="6"><textPr sourceFile="log.csv"/></connection></connections>',
        f"{SPREADSHEET}.connections+xml",
    ),
    "control properties": (
        SHEET,
        f"{OFFICE}/ctrlProp",
        "xl/ctrlProps/ctrlProp1.xml",
        b'<formControlPr xmlns="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" objectType="CheckBox"/>',
        "application/vnd.ms-excel.controlproperties+xml",
    ),
    "an embedded object": (
        SHEET,
        f"{OFFICE}/oleObject",
        "xl/embeddings/oleObject1.bin",
        b"\xd0\xcf\x11\xe0kept",
        f"{SPREADSHEET}.oleObject",
    ),
    "a ribbon of its own": (
        "",
        f"{MICROSOFT}/2007/relationships/ui/extensibility",
        "customUI/customUI14.xml",
        b'<customUI xmlns="http://schemas.microsoft.com/office/2009/07/customui"/>',
        "application/xml",
    ),
    "a thumbnail": ("", f"{PACKAGE}/metadata/thumbnail", "docProps/thumbnail.jpeg", b"\xff\xd8kept", ""),
    "a label of secrecy": (
        "",
        f"{MICROSOFT}/2020/02/relationships/classificationlabels",
        "docMetadata/LabelInfo.xml",
        b'<clbl:labelList xmlns:clbl="http://schemas.microsoft.com/office/2020/mipLabelMetadata"/>',
        "application/vnd.ms-office.classificationlabels+xml",
    ),
    "a revision log": (
        WORKBOOK,
        f"{OFFICE}/revisionHeaders",
        "xl/revisions/revisionHeaders.xml",
        b'<headers xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" guid="{00000000-0000-0000-0000-000000000001}"/>',
        f"{SPREADSHEET}.revisionHeaders+xml",
    ),
}


def _strange(name: str) -> bytes:
    source, kind, part, content, content_type = STRANGE[name]
    return with_part(small_host("A", "B"), source, kind, part, content, content_type)


for _name in STRANGE:
    _listed(_name)(lambda name=_name: _strange(name))


@_listed("all strange parts at once")
def all_strange() -> bytes:
    """One book with every one of them, beside picture, shape and comment."""
    data = rich_host()
    for name, (source, kind, part, content, content_type) in STRANGE.items():
        if name != "custom XML":
            data = with_part(data, source, kind, part, content, content_type)
    return data


# --- odd zip files -------------------------------------------------------------------------------------------------------


@_listed("an odd zip")
def odd_zip() -> bytes:
    """Folders as entries, parts that nobody lists, nothing compressed, a comment, the content types last."""
    content = parts(rich_host())
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_STORED) as archive, warnings.catch_warnings():
        archive.comment = b"made by hand"
        archive.writestr("xl/", b"")
        archive.writestr("xl/orphan.dat", b"nobody leads here")
        for name in sorted(content, key=lambda each: each == "[Content_Types].xml"):
            archive.writestr(name, content[name])
    return data.getvalue()
