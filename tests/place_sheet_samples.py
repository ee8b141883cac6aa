"""Workbooks for the tests of placing a sheet: books as users keep them, and one-sheet books to place."""

from __future__ import annotations

import datetime as dt
import io
import os
import re
import shutil
import subprocess
import warnings
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter
from PIL import Image

Change = bytes | None | Callable[[bytes], bytes]
# Tested against the namespaces of ECMA-376 part 1 (strict) and part 4 (transitional), written out here anew.
STRICT = [
    (
        b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
        b"http://purl.oclc.org/ooxml/spreadsheetml/main",
    ),
    (
        b"http://schemas.openxmlformats.org/officeDocument/2006/relationships/extended-properties",
        b"http://purl.oclc.org/ooxml/officeDocument/relationships/extendedProperties",
    ),
    (
        b"http://schemas.openxmlformats.org/officeDocument/2006/relationships",
        b"http://purl.oclc.org/ooxml/officeDocument/relationships",
    ),
    (
        b"http://schemas.openxmlformats.org/officeDocument/2006/extended-properties",
        b"http://purl.oclc.org/ooxml/officeDocument/extendedProperties",
    ),
    (
        b"http://schemas.openxmlformats.org/officeDocument/2006/docPropsVTypes",
        b"http://purl.oclc.org/ooxml/officeDocument/docPropsVTypes",
    ),
    (b"http://schemas.openxmlformats.org/drawingml/2006/", b"http://purl.oclc.org/ooxml/drawingml/"),
]


def picture() -> io.BytesIO:
    """A small red picture."""
    data = io.BytesIO()
    Image.new("RGB", (8, 8), "red").save(data, "PNG")
    return data


def book(write: Callable[[Any], None], **options: Any) -> bytes:
    """The bytes of a workbook that `write` fills."""
    data = io.BytesIO()
    workbook = xlsxwriter.Workbook(data, {"in_memory": True, **options})
    write(workbook)
    with warnings.catch_warnings():
        # A chart in a donor may well show cells of a sheet that only the host has.
        warnings.filterwarnings("ignore", "Unknown worksheet reference", UserWarning)
        workbook.close()
    return data.getvalue()


def donor(text: str = "Burned valve in cylinder 3", **options: Any) -> bytes:
    """A one-sheet book "Findings" with everything that a findings sheet may use."""
    return book(lambda workbook: _write_findings(workbook, text), **options)


def _write_findings(workbook: Any, text: str) -> None:
    sheet = workbook.add_worksheet("Findings")
    head = workbook.add_format(
        {
            "bold": True,
            "font_color": "#FFFFFF",
            "bg_color": "#0072B2",
            "border": 1,
            "align": "center",
            "text_wrap": True,
            "font_name": "Arial",
            "font_size": 14,
        }
    )
    number = workbook.add_format({"num_format": '0.0 "psi"', "locked": False})
    day = workbook.add_format({"num_format": "yyyy-mm-dd"})
    pale = workbook.add_format({"bg_color": "#F0E442"})
    sheet.merge_range("A1:C1", text, head)
    sheet.write_number("A2", 145.5, number)
    sheet.write_number("A3", 120.25, number)
    sheet.write_formula("A4", "=Findings!A2-Findings!A3", number, 25.25)
    sheet.write_datetime("A5", dt.date(2024, 2, 29), day)
    sheet.write_rich_string("A6", "plain ", workbook.add_format({"bold": True}), "bold", " =1+1")
    sheet.write_url("B2", "internal:'Readings'!A2", string="reading")
    sheet.write_url("B3", "internal:Findings!A1", string="top")
    sheet.write_url("B4", "https://example.org/rule", string="rule")
    sheet.write_comment("C2", "measured warm")
    sheet.set_column("A:A", 31.5, number)
    sheet.freeze_panes(1, 0)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.set_header("&LJob 4711")
    sheet.set_footer("&CPage &P of &N")
    sheet.print_area("A1:C20")
    sheet.repeat_rows(0)
    sheet.protect()
    sheet.data_validation("C4", {"validate": "list", "source": "=Findings!$A$2:$A$3"})
    sheet.conditional_format("A2:A3", {"type": "cell", "criteria": "<", "value": 130, "format": pale})
    sheet.conditional_format("B8:B9", {"type": "data_bar", "data_bar_2010": True})
    sheet.add_sparkline("C8", {"range": "Findings!A2:A3"})
    sheet.add_table("E1:F3", {"name": "Evidence", "columns": [{"header": "Field"}, {"header": "Value"}]})
    sheet.write_formula("E5", "=ROWS(Evidence[Field])", None, 2)
    sheet.insert_image("H1", "red.png", {"image_data": picture()})
    chart = workbook.add_chart({"type": "column"})
    chart.add_series({"name": "here", "values": "=Findings!$A$2:$A$3"})
    chart.add_series({"name": "there", "values": "=Readings!$A$2:$A$4"})
    sheet.insert_chart("H10", chart)


def rich_host() -> bytes:
    """A user's book: picture, drawn shape, comment, sparkline, 2010 data bars, custom XML, stored results."""

    def write(workbook: Any) -> None:
        readings = workbook.add_worksheet("Readings")
        readings.write_string("A1", "psi", workbook.add_format({"italic": True, "num_format": "0.000"}))
        readings.write_column("A2", [150, 145, 90])
        readings.write_formula("A5", "=SUM(A2:A4)", None, 385)
        readings.insert_image("D1", "red.png", {"image_data": picture()})
        readings.insert_textbox("D10", "a drawn note")
        readings.write_comment("A2", "first cylinder")
        readings.add_sparkline("B2", {"range": "Readings!A2:A4"})
        readings.conditional_format("A2:A4", {"type": "data_bar", "data_bar_2010": True})
        readings.add_table("F1:G3", {"name": "Evidence"})
        notes = workbook.add_worksheet("My notes")
        notes.write_string("A1", "keep me")
        notes.print_area("A1:B5")
        workbook.define_name("all_psi", "=Readings!$A$2:$A$4")

    return edited(
        book(write),
        {
            "customXml/item1.xml": b"<job xmlns='urn:example'>4711</job>",
            "xl/calcChain.xml": b'<?xml version="1.0"?><calcChain xmlns="http://schemas.openxmlformats.org/'
            b'spreadsheetml/2006/main"><c r="A5" i="1"/></calcChain>',
            "xl/_rels/workbook.xml.rels": lambda xml: xml.replace(
                b"</Relationships>",
                b"".join(
                    [
                        _relation("customXml", "../customXml/item1.xml", "rId90"),
                        _relation("calcChain", "calcChain.xml", "rId91"),
                        b"</Relationships>",
                    ]
                ),
            ),
            "[Content_Types].xml": lambda xml: xml.replace(
                b"</Types>",
                (
                    b'<Override PartName="/xl/calcChain.xml" ContentType="application/vnd.openxmlformats-'
                    b'officedocument.spreadsheetml.calcChain+xml"/></Types>'
                ),
            ),
        },
    )


def _relation(kind: str, target: str, id: str) -> bytes:
    base = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    return f'<Relationship Id="{id}" Type="{base}/{kind}" Target="{target}"/>'.encode()


def small_host(*names: str, **options: Any) -> bytes:
    """A plain book with one number and one text on each sheet."""

    def write(workbook: Any) -> None:
        for name in names:
            workbook.add_worksheet(name).write_row(0, 0, [7, "seven"])

    return book(write, **options)


def strict(data: bytes) -> bytes:
    """The same book in the strict dialect."""

    def change(xml: bytes) -> bytes:
        for usual, other in STRICT:
            xml = xml.replace(usual, other)
        return xml

    names = [
        name for name in parts(data) if name.endswith((".xml", ".rels")) and name != "[Content_Types].xml"
    ]
    return edited(data, {name: change for name in names})


def with_prefix(data: bytes) -> bytes:
    """The same book with `x:` before every tag of the workbook part, and with absolute targets."""

    def prefixed(xml: bytes) -> bytes:
        return re.sub(rb"<(/?)(?=[a-z])", rb"<\1x:", xml).replace(b"xmlns=", b"xmlns:x=")

    return edited(
        data,
        {
            "xl/workbook.xml": prefixed,
            "xl/_rels/workbook.xml.rels": lambda xml: xml.replace(b'Target="', b'Target="/xl/'),
        },
    )


def edited(data: bytes, changes: Mapping[str, Change]) -> bytes:
    """The same zip with parts changed, added, or (None) taken out."""
    content: dict[str, bytes] = parts(data)
    for name, change in changes.items():
        if change is None:
            del content[name]
        else:
            content[name] = change(content[name]) if callable(change) else change
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in content.items():
            archive.writestr(zipfile.ZipInfo(name, (2024, 5, 6, 7, 8, 10)), part, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def parts(data: bytes | Path) -> dict[str, bytes]:
    """Every part of a book by its name."""
    with zipfile.ZipFile(io.BytesIO(data) if isinstance(data, bytes) else data) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def saved_by_office(path: Path, folder: Path, kind: str = "xlsx") -> Path:
    """The book as LibreOffice saves it; skips the test where there is none and nobody requires it."""
    program = shutil.which("soffice") or shutil.which("libreoffice")
    if program is None:
        if os.environ.get("ENGINE_CHECK_REQUIRE_OFFICE") == "1":
            pytest.fail("LibreOffice is required here, but there is none")
        pytest.skip("no LibreOffice")
    profile = (folder / "profile").resolve().as_uri()
    saved = folder / f"saved_{kind}"
    subprocess.run(
        [
            program,
            f"-env:UserInstallation={profile}",
            "--headless",
            "--convert-to",
            kind,
            "--outdir",
            str(saved),
            str(path),
        ],
        check=True,
        capture_output=True,
        timeout=180,
    )
    return saved / f"{path.stem}.{kind.split(':')[0]}"
