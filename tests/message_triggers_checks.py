"""Refusals of what is checked: other files, other workbooks, forms that were changed, files that can't be read."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import openpyxl
from lxml import etree

from tests.attack import hard_contents
from tests.attack.hard_files import BOOK, CASES, SAMPLE, swapped
from tests.message_triggers import Patch, Shop, failing, identity_changed, said, trigger
from tests.place_sheet_samples import donor, edited, rich_host, small_host
from workbook_tools.checking.check import check_workbook
from workbook_tools.generate.fill import fill_workbook
from workbook_tools.package import intake as package_intake
from workbook_tools.package.index import marked_tab
from workbook_tools.package.parts import Package, q
from workbook_tools.read.workbook import read_workbook
from workbook_tools.report import place_sheet
from workbook_tools.report.answers import SHEET_NAME, read_answers

assert hard_contents, "its cases stand in the same table"


@trigger
def check_nothing(folder: Path, _: Patch) -> object:
    return check_workbook(folder / "no.xlsx")


@trigger
def check_folder_as_file(folder: Path, _: Patch) -> object:
    return check_workbook(folder)


@trigger
def check_other_format(folder: Path, _: Patch) -> object:
    return check_workbook(Shop(folder).file("job.ods"))


@trigger
def check_over_another_file(folder: Path, _: Patch) -> object:
    (folder / "out").mkdir()
    (folder / "out" / "job.xlsx").write_bytes(small_host("A"))
    return check_workbook(Shop(folder).form(), out_dir=folder / "out")


@trigger
def check_into_a_file(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    return check_workbook(shop.form(), out_dir=shop.file("out"))


@trigger
def check_copy_over_source(folder: Path, _: Patch) -> object:
    (folder / "a").mkdir()
    path, other = Shop(folder).form(), Shop(folder / "a").form()
    return said("check", path, other, "--out-dir", folder / "a")


@trigger
def check_two_copies_in_one_place(folder: Path, _: Patch) -> object:
    for each in ("a", "b"):
        (folder / each).mkdir()
    return said("check", Shop(folder / "a").form(), Shop(folder / "b").form(), "--out-dir", folder / "out")


@trigger
def check_other_workbook(folder: Path, _: Patch) -> object:
    return check_workbook(Shop(folder).file("x.xlsx", small_host("A")))


@trigger
def check_form_of_a_newer_program(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    return check_workbook(shop.changed(shop.form(), lambda book: identity_changed(book, "form_version", 999)))


@trigger
def check_form_that_says_nonsense(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    return check_workbook(
        shop.changed(shop.form(), lambda book: identity_changed(book, "form_cylinders", "many"))
    )


@trigger
def check_form_without_cells(folder: Path, _: Patch) -> object:
    def empty(book: openpyxl.Workbook) -> None:
        for name in list(book.defined_names):
            del book.defined_names[name]
        for sheet in book.sheetnames[1:]:
            del book[sheet]
        book.create_sheet("Mine")
        del book[book.sheetnames[0]]

    shop = Shop(folder)
    return check_workbook(shop.changed(shop.form(), empty))


@trigger
def check_damaged_cells(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    path = shop.form()
    path.write_bytes(edited(path.read_bytes(), {"xl/styles.xml": b"<styleSheet"}))
    return read_workbook(path)


@trigger
def read_without_permission(folder: Path, patch: Patch) -> object:
    path = Shop(folder).form()
    patch.setattr(Path, "read_bytes", failing_permission)
    return check_workbook(path)


def failing_permission(*_: object) -> bytes:
    """A file that the system does not let us read."""
    raise PermissionError(13, "Permission denied")


@trigger
def read_failing(folder: Path, patch: Patch) -> object:
    path = Shop(folder).form()
    patch.setattr(Path, "read_bytes", failing(5, "Input/output error"))
    return check_workbook(path)


@trigger
def read_a_folder(folder: Path, _: Patch) -> object:
    return place_sheet(folder, donor(), folder / "out.xlsx")


@trigger
def read_nothing(folder: Path, _: Patch) -> object:
    return place_sheet(folder / "no.xlsx", donor(), folder / "out.xlsx")


@trigger
def zip_with_password(folder: Path, _: Patch) -> object:
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w") as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
    data = bytearray(memory.getvalue())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(mark) + offset] |= 1
    return place_sheet(Shop(folder).file("x.xlsx", bytes(data)), donor(), folder / "out.xlsx")


@trigger
def too_much_in_all(folder: Path, patch: Patch) -> object:
    patch.setattr(package_intake, "MAX_TOTAL_BYTES", 5000)
    return place_sheet(Shop(folder).file("x.xlsx", rich_host()), donor(), folder / "out.xlsx")


@trigger
def damaged_answers(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    path = shop.form()
    check_workbook(path)
    book = Package(path.read_bytes(), "")
    part = next(
        each.target
        for each in book.relations(book.workbook)
        if each.id == marked_tab(book, SHEET_NAME).relation_id
    )
    root = book.xml(part)
    for cell in root.iter("{*}c"):
        cell.set("t", "s")
        for stored in [*cell.findall("{*}v"), *cell.findall("{*}is")]:
            cell.remove(stored)
        etree.SubElement(cell, q("v")).text = "999999"
    path.write_bytes(edited(path.read_bytes(), {part: etree.tostring(root)}))
    return read_answers(path)


@trigger
def too_many_parts(folder: Path, patch: Patch) -> object:
    patch.setattr(package_intake, "MAX_ENTRIES", 5)
    return place_sheet(Shop(folder).file("x.xlsx", rich_host()), donor(), folder / "out.xlsx")


@trigger
def two_sheets_in_one_part(folder: Path, _: Patch) -> object:
    more = swapped(BOOK, b"</sheets>", b'<sheet name="Twin" sheetId="99" r:id="rId2"/></sheets>')
    return check_workbook(Shop(folder).file("x.xlsx", edited(SAMPLE.read_bytes(), dict([more]))))


@trigger
def fill_without_texts(folder: Path, _: Patch) -> object:
    package = Package(Shop(folder).form("x.xlsx").read_bytes(), "x.xlsx")
    texts = package.of_workbook("sharedStrings")
    assert texts is not None
    root = package.xml(texts)
    root[:] = root[:1]
    package.touch(texts)
    path = Shop(folder).file("x.xlsx", package.to_bytes())
    return fill_workbook(path, {"vehicle": "tractor"}, folder / "out.xlsx")


@trigger
def a_property_that_is_no_number(folder: Path, _: Patch) -> object:
    package = Package(Shop(folder).form("x.xlsx").read_bytes(), "x.xlsx")
    properties = package.xml("docProps/custom.xml")
    next(each for each in properties.iter("{*}i4", "{*}r8")).text = "three"
    package.touch("docProps/custom.xml")
    return check_workbook(Shop(folder).file("x.xlsx", package.to_bytes()))


@trigger
def far_more_than_a_form(folder: Path, _: Patch) -> object:
    return check_workbook(Shop(folder).file("x.xlsx", CASES["330,000 cells in the first row"].make()))
