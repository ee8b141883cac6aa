"""Placing a sheet: the user's parts stay, a second placing replaces, other programs read the result."""

from __future__ import annotations

import re
import subprocess
import sys
import warnings
from pathlib import Path

import openpyxl
import pytest
from lxml import etree
from openxml_audit import OpenXmlValidator
from python_calamine import CalamineWorkbook

from tests.place_sheet_samples import (
    book,
    donor,
    edited,
    parts,
    rich_host,
    saved_by_office,
    small_host,
    strict,
    with_prefix,
)
from workbook_tools.report import place_sheet

INDEX = {
    "[Content_Types].xml",
    "xl/workbook.xml",
    "xl/_rels/workbook.xml.rels",
    "xl/styles.xml",
    "docProps/app.xml",
}
NS = {"m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}


def written(folder: Path, data: bytes, name: str = "job.xlsx") -> Path:
    """A file with this content."""
    path = folder / name
    path.write_bytes(data)
    return path


def titles(path: Path) -> list[str]:
    """The sheet names as python-calamine reads them."""
    return CalamineWorkbook.from_path(str(path)).sheet_names


def opened(path: Path, **options: bool) -> openpyxl.Workbook:
    """The book as openpyxl loads it, with its warning that it drops extensions hushed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        return openpyxl.load_workbook(path, **options)


def audit(path: Path) -> set[str]:
    """What the validator finds wrong."""
    return {
        f"{error.part_uri} {error.description}" for error in OpenXmlValidator().validate(str(path)).errors
    }


HOSTS = {
    "rich": rich_host,
    "plain": lambda: small_host("A"),
    "strict": lambda: strict(small_host("A", "B")),
    "prefixed, absolute targets": lambda: with_prefix(small_host("A")),
    "1904": lambda: small_host("A", date_1904=True),
    "no styles": lambda: edited(
        small_host("A"),
        {
            "xl/styles.xml": None,
            "xl/_rels/workbook.xml.rels": lambda x: re.sub(rb"<Relationship [^>]*styles.xml\"/>", b"", x),
            "[Content_Types].xml": lambda x: re.sub(rb"<Override [^>]*styles.xml\"[^>]*/>", b"", x),
        },
    ),
}


@pytest.mark.parametrize("host", HOSTS)
def test_every_other_part_stays_byte_for_byte(host: str, tmp_path: Path) -> None:
    """Only the index parts differ after a placing, and after a second one, whatever kind of book it is."""
    path = written(tmp_path, HOSTS[host]())
    before = parts(path)
    for _ in range(2):
        place_sheet(path, donor(), path)
        after = parts(path)
        assert {name for name in before if after.get(name) != before[name]} <= INDEX
        assert titles(path)[:-1] == titles(written(tmp_path, HOSTS[host](), "old.xlsx"))
        assert titles(path)[-1] == "Findings"


def test_the_sample_holds_what_it_is_meant_to_prove() -> None:
    """The user's book has a picture, shape, comment, sparkline, 2010 bars, custom XML and a calc chain."""
    content = parts(rich_host())
    sheet = content["xl/worksheets/sheet1.xml"]
    assert b"sparklineGroup" in sheet and b"x14:dataBar" in sheet
    assert (
        b"xdr:sp " in content["xl/drawings/drawing1.xml"]
        and b"xdr:pic" in content["xl/drawings/drawing1.xml"]
    )
    assert {"xl/comments1.xml", "xl/media/image1.png", "customXml/item1.xml", "xl/calcChain.xml"} <= set(
        content
    )


@pytest.mark.parametrize("host", HOSTS)
def test_placing_again_adds_nothing(host: str, tmp_path: Path) -> None:
    """The same sheet placed again gives the same bytes, also after other texts were placed in between."""
    path = written(tmp_path, HOSTS[host]())
    place_sheet(path, donor(), path)
    first = path.read_bytes()
    place_sheet(path, donor(), path)
    assert path.read_bytes() == first
    for number in range(10):
        place_sheet(path, donor(f"Something else {number}"), path)
    place_sheet(path, donor(), path)
    assert path.read_bytes() == first


def test_fifty_placings_leave_one(tmp_path: Path) -> None:
    """Fifty placings in a row leave the bytes of one."""
    path = written(tmp_path, rich_host())
    place_sheet(path, donor(), path)
    first = path.read_bytes()
    for _ in range(49):
        place_sheet(path, donor(), path)
    assert path.read_bytes() == first


def test_a_copy_leaves_the_host_alone(tmp_path: Path) -> None:
    """With another `out` the host's file is not touched, and the copy is what the host would have become."""
    host, out = written(tmp_path, rich_host()), tmp_path / "out.xlsx"
    before = host.read_bytes()
    assert place_sheet(host, donor(), out) == "Findings"
    assert host.read_bytes() == before
    place_sheet(host, donor(), host)
    assert host.read_bytes() == out.read_bytes()


@pytest.mark.parametrize("host", ["rich", "plain", "prefixed, absolute targets", "1904", "no styles"])
def test_the_validator_finds_nothing_new(host: str, tmp_path: Path) -> None:
    """openxml-audit finds in the result no more than in host and donor alone."""
    path = written(tmp_path, HOSTS[host]())
    old = audit(path) | audit(written(tmp_path, donor(), "donor.xlsx"))
    for _ in range(2):
        place_sheet(path, donor(), path)
        assert audit(path) <= old


def test_the_validator_finds_a_planted_fault(tmp_path: Path) -> None:
    """openxml-audit does object when a sheet part breaks the schema, so its silence means something."""
    broken = edited(
        donor(), {"xl/worksheets/sheet1.xml": lambda x: x.replace(b"<sheetData>", b"<oops/><sheetData>")}
    )
    assert audit(written(tmp_path, broken))


def test_a_sheet_of_the_users_own_is_left_alone(tmp_path: Path) -> None:
    """Ours takes the next free name, in all its references as well, and only ours is replaced."""
    path = written(tmp_path, small_host("Readings", "findings", "Findings (2)"))
    before = parts(path)
    assert place_sheet(path, donor(), path) == "Findings (3)"
    assert place_sheet(path, donor(), path) == "Findings (3)"
    after = parts(path)
    assert titles(path) == ["Readings", "findings", "Findings (2)", "Findings (3)"]
    assert after["xl/worksheets/sheet2.xml"] == before["xl/worksheets/sheet2.xml"]
    sheet = opened(path)["Findings (3)"]
    assert sheet["A4"].value == "='Findings (3)'!A2-'Findings (3)'!A3"
    assert sheet["B3"].hyperlink.location == "'Findings (3)'!A1"
    assert sheet["B2"].hyperlink.location == "'Readings'!A2"
    assert sheet.print_area == "'Findings (3)'!$A$1:$C$20"
    assert sheet.data_validations.dataValidation[0].formula1 == "'Findings (3)'!$A$2:$A$3"
    chart = after["xl/charts/chart1.xml"]
    assert b"'Findings (3)'!$A$2:$A$3" in chart and b"Readings!$A$2:$A$4" in chart
    assert b"<xm:f>'Findings (3)'!A2:A3</xm:f>" in after["xl/worksheets/sheet4.xml"]


def test_a_renamed_and_moved_sheet_is_still_ours(tmp_path: Path) -> None:
    """A user may rename and move our sheet: it is replaced, keeps the new name, and comes last again."""
    path = written(tmp_path, small_host("A", "B"))
    place_sheet(path, donor(), path)
    workbook = opened(path)
    workbook["Findings"].title = "Our findings"
    workbook["Our findings"].defined_names["placed_findings_sheet"].attr_text = "'Our findings'!$A$1"
    workbook.move_sheet("Our findings", -2)
    workbook.save(path)
    assert place_sheet(path, donor(), path) == "Our findings"
    assert titles(path) == ["A", "B", "Our findings"]


def test_other_tabs_keep_their_names_and_the_window_its_sheet(tmp_path: Path) -> None:
    """Names of a tab follow it when ours goes away from before it; the shown sheet stays shown."""
    path = written(tmp_path, small_host("A"))
    place_sheet(path, donor(), path)
    workbook = opened(path)
    workbook.create_sheet("Later").print_area = "A1:B2"
    workbook.active = 2
    workbook.save(path)
    place_sheet(path, donor(), path)
    workbook = opened(path)
    assert workbook.sheetnames == ["A", "Later", "Findings"]
    assert workbook["Later"].print_area == "'Later'!$A$1:$B$2"
    assert workbook.active.title == "Later"
    assert re.findall(rb'sheetId="(\d+)"', parts(path)["xl/workbook.xml"]) == [b"1", b"3", b"2"]


def test_one_sheet_alone_is_selected(tmp_path: Path) -> None:
    """Never two sheets selected, or typing would go into both; who looked at ours goes on looking at it."""
    path = written(tmp_path, small_host("A"))
    place_sheet(path, donor(), path)
    selected = [b'tabSelected="1"' in parts(path)[f"xl/worksheets/sheet{n}.xml"] for n in (1, 2)]
    assert selected == [True, False]
    workbook = opened(path)
    workbook.move_sheet("Findings", -1)
    workbook.active = 0
    workbook["A"].sheet_view.tabSelected = False
    workbook.save(path)
    place_sheet(path, donor(), path)
    selected = [b'tabSelected="1"' in parts(path)[f"xl/worksheets/sheet{n}.xml"] for n in (1, 2)]
    # openpyxl numbers the parts anew by their tabs: now the first part is ours, and so is its successor.
    assert selected == [True, False] and b">Burned valve" in parts(path)["xl/worksheets/sheet1.xml"]
    assert opened(path).active.title == "Findings"


def test_a_copied_sheet_of_ours_stays(tmp_path: Path) -> None:
    """When the user copied our sheet with its mark, the copy stays as it is and the first one is replaced."""
    path = written(tmp_path, small_host("A"))
    place_sheet(path, donor(), path)
    workbook = opened(path)
    copy = workbook.copy_worksheet(workbook["Findings"])
    copy.title = "Kept"
    copy.defined_names.add(
        openpyxl.workbook.defined_name.DefinedName("placed_findings_sheet", attr_text="Kept!$A$1")
    )
    workbook.move_sheet("Kept", -2)
    workbook.save(path)
    assert place_sheet(path, donor("New text"), path) == "Findings"
    workbook = opened(path)
    assert workbook.sheetnames == ["Kept", "A", "Findings"]
    assert (
        workbook["Kept"]["A1"].value == "Burned valve in cylinder 3"
        and workbook["Findings"]["A1"].value == "New text"
    )


def test_the_calculation_chain_goes_only_with_cells_of_the_old_sheet(tmp_path: Path) -> None:
    """A chain without our cells stays; one that lists cells of the removed sheet is dropped."""
    path = written(tmp_path, rich_host())
    place_sheet(path, donor(), path)
    place_sheet(path, donor(), path)
    assert "xl/calcChain.xml" in parts(path)
    sheet_id = max(int(i) for i in re.findall(rb'sheetId="(\d+)"', parts(path)["xl/workbook.xml"]))
    cell = f'<c r="A4" i="{sheet_id}"/></calcChain>'.encode()
    path.write_bytes(
        edited(path.read_bytes(), {"xl/calcChain.xml": lambda x: x.replace(b"</calcChain>", cell)})
    )
    place_sheet(path, donor(), path)
    after = parts(path)
    assert "xl/calcChain.xml" not in after
    assert b"calcChain" not in after["[Content_Types].xml"] + after["xl/_rels/workbook.xml.rels"]


def test_the_list_of_titles_names_the_sheet(tmp_path: Path) -> None:
    """The document properties list our sheet after the user's and before the named ranges, once."""
    path = written(tmp_path, rich_host())
    place_sheet(path, donor(), path)
    first = parts(path)["docProps/app.xml"]
    ours, theirs = b"<vt:lpstr>Findings</vt:lpstr>", b"<vt:lpstr>My notes</vt:lpstr>"
    moved = first.replace(theirs + ours, ours + theirs)
    assert moved != first
    path.write_bytes(edited(path.read_bytes(), {"docProps/app.xml": moved}))
    place_sheet(path, donor(), path)
    app = etree.fromstring(parts(path)["docProps/app.xml"])
    texts = [element.text for element in app.iter("{*}lpstr", "{*}i4")]
    assert texts[:6] == ["Worksheets", "3", "Named Ranges", "2", "Readings", "My notes"]
    assert texts[6:] == ["Findings", "all_psi", "'My notes'!Print_Area"]


RELS = (
    b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">%s</Relationships>'
)
LOST = {
    "a drawing": (b"../drawings/drawing1.xml", "drawing"),
    "a drawing, spelled otherwise": (b"../Drawings/drawing%31.xml", "drawing"),
    "a drawing, written as a reference": (b"/xl/drawings/drawing&#49;.xml", "drawing"),
    "a table": (b"../tables/table1.xml", "table"),
    "a chart": (b"../charts/chart1.xml", "chart"),
    "a sheet": (b"sheet2.xml", "worksheet"),
}


@pytest.mark.parametrize("target", LOST)
def test_no_part_takes_the_name_of_one_that_was_lost(target: str, tmp_path: Path) -> None:
    """A sheet that leads to a part that is not there gets none of ours, and nothing grows with each placing."""
    leads_to, kind = LOST[target]
    relation = b'<Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/%s" Target="%s"/>'
    rels = RELS % (relation % (kind.encode(), leads_to))
    host = edited(small_host("A"), {"xl/worksheets/_rels/sheet1.xml.rels": rels})
    path, sizes = written(tmp_path, host), []
    before = {name for name in parts(host)}
    for _ in range(3):
        place_sheet(path, donor(), path)
        found = parts(path)
        assert found["xl/worksheets/_rels/sheet1.xml.rels"] == rels
        new = {name.rsplit("/", 1)[-1] for name in found.keys() - before}
        assert leads_to.rsplit(b"/", 1)[-1].replace(b"%31", b"1").replace(b"&#49;", b"1").decode() not in new
        sizes.append(path.stat().st_size)
    assert len(set(sizes)) == 1


def test_numbers_of_tabs_that_are_not_there_stay(tmp_path: Path) -> None:
    """A window that shows the ninth tab of two, and a name of the twelfth: as they were after each placing."""
    odd = rb'<workbookView activeTab="8" firstSheet="9" '
    name = b'<definedNames><definedName name="old" localSheetId="11">A!$A$1</definedName></definedNames>'
    host = edited(
        small_host("A", "B"),
        {
            "xl/workbook.xml": lambda x: re.sub(
                rb"<workbookView ([^>]*?)(activeTab=\"\d+\")? ?/>", odd + rb"\1/>", x
            ).replace(b"</sheets>", b"</sheets>" + name)
        },
    )
    path, seen = written(tmp_path, host), []
    for _ in range(3):
        place_sheet(path, donor(), path)
        seen.append(parts(path)["xl/workbook.xml"])
    assert seen[0] == seen[1] == seen[2]
    assert b'activeTab="8"' in seen[2] and b'firstSheet="9"' in seen[2] and b'localSheetId="11"' in seen[2]


def test_macros_are_kept(tmp_path: Path) -> None:
    """The macro part of an .xlsm book stays, and the book stays an .xlsm book."""
    data = edited(
        small_host("A"),
        {
            "xl/vbaProject.bin": b"not a real project",
            "xl/_rels/workbook.xml.rels": lambda x: x.replace(
                b"</Relationships>",
                (
                    b'<Relationship Id="rId77"'
                    b' Type="http://schemas.microsoft.com/office/2006/relationships/vbaProject"'
                    b' Target="vbaProject.bin"/></Relationships>'
                ),
            ),
            "[Content_Types].xml": lambda x: x.replace(
                b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml",
                b"application/vnd.ms-excel.sheet.macroEnabled.main+xml",
            ).replace(
                b"</Types>",
                (b'<Default Extension="bin" ContentType="application/vnd.ms-office.vbaProject"/></Types>'),
            ),
        },
    )
    path = written(tmp_path, data, "job.xlsm")
    place_sheet(path, donor(), path)
    after = parts(path)
    assert (
        after["xl/vbaProject.bin"] == b"not a real project"
        and b"macroEnabled.main" in after["[Content_Types].xml"]
    )
    book = opened(path, keep_vba=True)
    # openpyxl leaves this one open, and the collector would close it after what it is written to.
    book.vba_archive.close()
    assert book.sheetnames == ["A", "Findings"]


def test_a_strict_book_stays_strict(tmp_path: Path) -> None:
    """A strict book has no transitional spreadsheet namespace in the parts that belong to the new sheet."""
    path = written(tmp_path, HOSTS["strict"]())
    place_sheet(path, donor(), path)
    after = parts(path)
    for name in (
        "xl/workbook.xml",
        "xl/styles.xml",
        "xl/worksheets/sheet3.xml",
        "xl/charts/chart1.xml",
        "xl/worksheets/_rels/sheet3.xml.rels",
    ):
        assert b"http://purl.oclc.org/ooxml/" in after[name]
        assert b"openxmlformats.org/spreadsheetml" not in after[name]
        assert b"openxmlformats.org/officeDocument" not in after[name]


def test_a_strict_donor_fits_a_usual_book(tmp_path: Path) -> None:
    """A donor in the strict dialect gives the same workbook as the usual one."""
    one, two = (written(tmp_path, small_host("A"), name) for name in ("1.xlsx", "2.xlsx"))
    place_sheet(one, donor(), one)
    place_sheet(two, strict(donor()), two)
    assert one.read_bytes() == two.read_bytes()


@pytest.mark.parametrize("host", ["rich", "strict", "1904"])
def test_libreoffice_reads_it_and_its_own_save_is_still_known(host: str, tmp_path: Path) -> None:
    """LibreOffice shows all values of the result; in the book that it saves our sheet is replaced."""
    path = written(tmp_path, HOSTS[host]())
    place_sheet(path, donor(), path)
    saved = saved_by_office(path, tmp_path)
    for _ in range(2):
        sheet = CalamineWorkbook.from_path(str(saved)).get_sheet_by_name("Findings").to_python()
        assert sheet[0][0] == "Burned valve in cylinder 3" and sheet[3][0] == 25.25
        assert str(sheet[4][0]) == "2024-02-29"
        assert place_sheet(saved, donor(), saved) == "Findings"
    assert titles(saved) == titles(path)
    assert audit(saved) <= audit(saved_by_office(path, tmp_path / "again"))


def test_openpyxls_own_save_is_still_known(tmp_path: Path) -> None:
    """After a load and save in openpyxl our sheet is found and replaced."""
    path = written(tmp_path, small_host("A", "Findings"))
    assert place_sheet(path, donor(), path) == "Findings (2)"
    opened(path).save(path)
    assert place_sheet(path, donor(), path) == "Findings (2)"
    assert titles(path) == ["A", "Findings", "Findings (2)"]


def test_a_book_of_only_our_sheet_can_be_its_own_host(tmp_path: Path) -> None:
    """A book whose only sheet is ours is replaced whole."""
    path = written(tmp_path, book(lambda w: w.add_worksheet("A")))
    place_sheet(path, donor(), path)
    workbook = opened(path)
    del workbook["A"]
    workbook.save(path)
    assert place_sheet(path, donor(), path) == "Findings" and titles(path) == ["Findings"]


def test_importing_the_stage_loads_no_xml_library() -> None:
    """The package of the stage is light: what placing needs is loaded when it is asked for."""
    script = (
        "import sys, workbook_tools.report as r; assert 'lxml' not in sys.modules;"
        "r.place_sheet; assert 'lxml' in sys.modules and 'openpyxl' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", script], check=True)
