"""Refusals of what is placed, written and kept: sheets, files, specs books, registers and their stores."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pandas as pd
import xlsxwriter
from sqlalchemy import create_engine, text

from tests.message_triggers import Patch, Shop, failing, identity_changed, said, trigger
from tests.place_sheet_samples import donor, edited, rich_host, small_host
from workbook_tools.checking.check import check_workbook
from workbook_tools.commands import reference_pages as reference
from workbook_tools.commands import sample_jobs as sample
from workbook_tools.generate.fill import fill_workbook
from workbook_tools.office_extension.build import write_extension
from workbook_tools.package import intake, safe_write
from workbook_tools.package.parts import Package
from workbook_tools.register import kept as kept_module
from workbook_tools.register import store as store_module
from workbook_tools.register.experience import experience_of
from workbook_tools.register.make import make_register
from workbook_tools.register.store import Store
from workbook_tools.report import place_frame, place_sheet
from workbook_tools.specs.book import read_specs

# --- placing -----------------------------------------------------------------------------------------------------------


def _placed(folder: Path, guest: bytes, host: bytes | None = None) -> object:
    path = Shop(folder).file("host.xlsx", host or small_host("A"))
    return place_sheet(path, guest, folder / "out.xlsx")


@trigger
def findings_apart_in_the_workbook_itself(folder: Path, _: Patch) -> object:
    path = Shop(folder).form()
    return check_workbook(path, apart=path)


@trigger
def findings_apart_in_place_of_something_else(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    return check_workbook(shop.form(), apart=shop.file("mine.xlsx", small_host("A")))


@trigger
def findings_apart_as_something_else(folder: Path, _: Patch) -> object:
    return check_workbook(Shop(folder).form(), apart=folder / "findings.csv")


@trigger
def findings_apart_of_a_folder(folder: Path, _: Patch) -> object:
    return said("check", folder, "--apart", folder / "f.xlsx")


@trigger
def findings_apart_and_copies(folder: Path, _: Patch) -> object:
    return said("check", "a.xlsx", "--apart", folder / "f.xlsx", "--out-dir", folder)


@trigger
def no_names_on_standard_input(_: Path, patch: Patch) -> object:
    patch.setattr("sys.stdin", io.StringIO("\n"))
    return said("check", "-")


@trigger
def guest_with_two_sheets(folder: Path, _: Patch) -> object:
    return _placed(folder, small_host("A", "B"))


@trigger
def frame_without_a_name(folder: Path, _: Patch) -> object:
    return place_frame(pd.DataFrame(), folder / "x.xlsx", folder / "y.xlsx", "a/b")


@trigger
def frame_with_a_name_twice(folder: Path, _: Patch) -> object:
    return place_frame(pd.DataFrame([[1, 2]], columns=["a", "a"]), folder / "x.xlsx", folder / "y.xlsx", "A")


@trigger
def frame_that_is_too_wide(folder: Path, _: Patch) -> object:
    return place_frame(pd.DataFrame([range(16_385)]), folder / "x.xlsx", folder / "y.xlsx", "A")


@trigger
def guest_that_leans_on_others(folder: Path, _: Patch) -> object:
    change = {"xl/workbook.xml": lambda x: x.replace(b"</sheets>", b"</sheets><externalReferences/>")}
    return _placed(folder, edited(small_host("A"), change))


@trigger
def guest_without_cells(folder: Path, _: Patch) -> object:
    change = {
        "xl/_rels/workbook.xml.rels": lambda x: x.replace(
            b"relationships/worksheet", b"relationships/chartsheet"
        )
    }
    return _placed(folder, edited(small_host("A"), change))


@trigger
def guest_with_picture_in_cell(folder: Path, _: Patch) -> object:
    return _placed(
        folder,
        edited(donor(), {"xl/worksheets/sheet1.xml": lambda x: x.replace(b"<c r=", b'<c vm="1" r=', 1)}),
    )


@trigger
def guest_with_unknown_part(folder: Path, _: Patch) -> object:
    link = (
        b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId9" '
        b'Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/oleObject" Target="../x.bin"/></Relationships>'
    )
    return _placed(
        folder, edited(small_host("A"), {"xl/worksheets/_rels/sheet1.xml.rels": link, "xl/x.bin": b"x"})
    )


@trigger
def guest_with_a_date_before_1904(folder: Path, _: Patch) -> object:
    memory = io.BytesIO()
    with xlsxwriter.Workbook(memory) as book:
        book.add_worksheet("A").write_number(0, 0, 5, book.add_format({"num_format": "yyyy-mm-dd"}))
    return _placed(folder, memory.getvalue(), small_host("A", date_1904=True))


@trigger
def damaged_inside(folder: Path, _: Patch) -> object:
    return _placed(
        folder, edited(donor(), {"xl/worksheets/sheet1.xml": lambda x: x.replace(b' s="', b' s="x', 1)})
    )


@trigger
def harmed_on_the_way(folder: Path, patch: Patch) -> object:
    real = Package.to_bytes
    patch.setattr(Package, "to_bytes", lambda book: edited(real(book), {"xl/media/image1.png": b"harmed"}))
    return _placed(folder, donor(), rich_host())


def _meanwhile(patch: Patch, act: Callable[[], object]) -> None:
    """Have something done by somebody else while a file is being written."""
    real = safe_write.os.fsync

    def flushed(handle: int) -> None:
        act()
        real(handle)

    patch.setattr(safe_write.os, "fsync", flushed)


@trigger
def saved_meanwhile(folder: Path, patch: Patch) -> object:
    path = Shop(folder).file("host.xlsx", small_host("A"))
    _meanwhile(patch, lambda: path.write_bytes(small_host("A", "B")))
    return place_sheet(path, donor(), path)


@trigger
def renamed_meanwhile(folder: Path, patch: Patch) -> object:
    path = Shop(folder).file("host.xlsx", small_host("A"))
    _meanwhile(patch, lambda: path.rename(folder / "other.xlsx"))
    return place_sheet(path, donor(), path)


@trigger
def made_meanwhile(folder: Path, patch: Patch) -> object:
    _meanwhile(patch, lambda: Shop(folder).file("form.xlsx"))
    return Shop(folder).form("form.xlsx", units="us")


@trigger
def checked_by_another_for_long(folder: Path, patch: Patch) -> object:
    path = Shop(folder).form()
    patch.setattr(safe_write, "LONGEST_WAIT", 0.1)
    with safe_write.our_turn(path):
        return check_workbook(path)


@trigger
def stopped_while_it_was_written(folder: Path, _: Patch) -> object:
    path = Shop(folder).file("host.xlsx", small_host("A")[:4000])
    Shop(folder).file(f"{safe_write._own_name(path)}{safe_write.BEFORE}", small_host("A"))
    return intake.read_file(path) and Package(intake.read_file(path), str(path))


@trigger
def link_that_leads_to_nothing(folder: Path, _: Patch) -> object:
    (folder / "link.xlsx").symlink_to(folder / "gone.xlsx")
    return place_sheet(Shop(folder).file("host.xlsx", small_host("A")), donor(), folder / "link.xlsx")


# --- writing -----------------------------------------------------------------------------------------------------------


@trigger
def write_to_a_folder(folder: Path, _: Patch) -> object:
    return safe_write.check_replaceable(folder)


@trigger
def write_what_is_open(folder: Path, _: Patch) -> object:
    Shop(folder).file("~$job.xlsx")
    return safe_write.check_replaceable(Shop(folder).file("job.xlsx"))


@trigger
def read_a_pipe(folder: Path, _: Patch) -> object:
    os.mkfifo(folder / "pipe.xlsx")
    return intake.read_file(folder / "pipe.xlsx")


@trigger
def read_what_is_far_too_large(folder: Path, _: Patch) -> object:
    with open(folder / "large.xlsx", "wb") as file:
        file.truncate(intake.MOST_BYTES + 1)
    return intake.read_file(folder / "large.xlsx")


@trigger
def write_to_a_link_to_itself(folder: Path, _: Patch) -> object:
    (folder / "loop.xlsx").symlink_to("loop.xlsx")
    return safe_write.check_replaceable(folder / "loop.xlsx")


@trigger
def learn_from_no_store(folder: Path, _: Patch) -> object:
    return experience_of(str(folder / "register.xlsx"))


@trigger
def write_to_a_pipe(folder: Path, _: Patch) -> object:
    os.mkfifo(folder / "pipe")
    return safe_write.check_replaceable(folder / "pipe")


@trigger
def write_read_only(folder: Path, _: Patch) -> object:
    path = Shop(folder).file("job.xlsx")
    path.chmod(0o444)
    return safe_write.check_replaceable(path)


@trigger
def write_without_permission(folder: Path, patch: Patch) -> object:
    path = Shop(folder).file("job.xlsx")
    patch.setattr(os, "access", lambda asked, mode: Path(asked) != path)
    return safe_write.check_replaceable(path)


@trigger
def write_in_a_closed_folder(folder: Path, patch: Patch) -> object:
    patch.setattr(os, "access", lambda asked, mode: Path(asked) != folder)
    return safe_write.check_replaceable(folder / "job.xlsx")


@trigger
def write_on_a_full_disk(folder: Path, patch: Patch) -> object:
    patch.setattr(safe_write.os, "fsync", failing(28, "No space left on device"))
    return safe_write.replace_file(folder / "job.xlsx", b"x")


@trigger
def reference_into_a_file(folder: Path, _: Patch) -> object:
    return reference.write_reference(Shop(folder).file("docs"))


@trigger
def sample_into_a_file(folder: Path, _: Patch) -> object:
    return sample.write_sample(Shop(folder).file("out"))


@trigger
def sample_over_another_file(folder: Path, _: Patch) -> object:
    Shop(folder).file(sample.filled_workbooks()[0].name, "mine")
    return sample.write_sample(folder)


@trigger
def sample_not_installed(folder: Path, patch: Patch) -> object:
    patch.setattr(Path, "glob", lambda *_: iter(()))
    return sample.filled_workbooks()


# --- specs book --------------------------------------------------------------------------------------------------------


@trigger
def specs_in_other_units(folder: Path, _: Patch) -> object:
    return said("specs", Shop(folder).specs(units="metric"), "--units", "us")


@trigger
def no_specs_book(folder: Path, _: Patch) -> object:
    return read_specs(Shop(folder).file("x.xlsx", small_host("A")))


def _specs_changed(folder: Path, change: Callable[[openpyxl.Workbook], object]) -> object:
    shop = Shop(folder)
    return read_specs(shop.changed(shop.specs(), change))


def _specs_identity(book: openpyxl.Workbook, name: str, value: object) -> None:
    identity_changed(book, name, value)


@trigger
def specs_of_a_newer_program(folder: Path, _: Patch) -> object:
    return _specs_changed(folder, lambda book: _specs_identity(book, "specs_version", 999))


@trigger
def specs_that_say_nonsense(folder: Path, _: Patch) -> object:
    return _specs_changed(folder, lambda book: _specs_identity(book, "specs_units", "furlongs"))


@trigger
def specs_without_sheet(folder: Path, _: Patch) -> object:
    def drop(book: openpyxl.Workbook) -> None:
        for name in [each for each, place in book.defined_names.items() if "Engines" in place.attr_text]:
            del book.defined_names[name]
        del book["Engines"]

    return _specs_changed(folder, drop)


@trigger
def specs_without_names_of_engines(folder: Path, _: Patch) -> object:
    def drop(book: openpyxl.Workbook) -> None:
        for name in [each for each, place in book.defined_names.items() if "Engines" in place.attr_text]:
            del book.defined_names[name]
        for row in book["Engines"].iter_rows():
            for cell in row:
                if type(cell).__name__ == "Cell":
                    cell.value = None

    return _specs_changed(folder, drop)


ENGINE = {"engine_name": "Four", "cylinder_count": 4, "cylinder_banks": "1-2-3-4", "firing_order": "1-3-4-2"}


@trigger
def specs_engine_unknown(folder: Path, _: Patch) -> object:
    return said("new", folder / "f.xlsx", "--engine", "Fuor", "--specs", Shop(folder).specs(ENGINE))


@trigger
def specs_engine_twice(folder: Path, _: Patch) -> object:
    return said("new", folder / "f.xlsx", "--engine", "Four", "--specs", Shop(folder).specs(ENGINE, ENGINE))


@trigger
def specs_engine_unusable(folder: Path, _: Patch) -> object:
    odd = ENGINE | {"cylinder_count": 99}
    return said("new", folder / "f.xlsx", "--engine", "Four", "--specs", Shop(folder).specs(odd))


@trigger
def specs_other_cylinders(folder: Path, _: Patch) -> object:
    return said(
        "new", folder / "f.xlsx", "--engine", "Four", "--cylinders", 6, "--specs", Shop(folder).specs(ENGINE)
    )


@trigger
def specs_other_order(folder: Path, _: Patch) -> object:
    return said(
        "new",
        folder / "f.xlsx",
        "--engine",
        "Four",
        "--firing-order",
        "1-2-4-3",
        "--specs",
        Shop(folder).specs(ENGINE),
    )


# --- register ----------------------------------------------------------------------------------------------------------


@trigger
def register_over_a_workbook(folder: Path, _: Patch) -> object:
    return make_register(folder, Shop(folder).file("register.xlsx", small_host("A")))


@trigger
def register_with_a_sheet_of_mine(folder: Path, _: Patch) -> object:
    make_register(folder, folder / "register.xlsx")
    Shop(folder).changed(folder / "register.xlsx", lambda book: book.create_sheet("Mine"))
    return make_register(folder, folder / "register.xlsx")


@trigger
def register_of_another_folder(folder: Path, _: Patch) -> object:
    for name in ("jobs", "other"):
        (folder / name).mkdir()
    fill_workbook(Shop(folder / "jobs").form(), {"vehicle": "tractor"}, folder / "jobs" / "job.xlsx")
    make_register(folder / "jobs", folder / "register.xlsx")
    return make_register(folder / "other", folder / "register.xlsx")


@trigger
def register_of_a_shop_without_a_name(folder: Path, _: Patch) -> object:
    return make_register(folder, folder / "register.xlsx", shop="\udcff")


@trigger
def register_that_unpacks_to_far_too_much(folder: Path, patch: Patch) -> object:
    patch.setattr(kept_module, "MOST_UNPACKED", 1000)
    make_register(folder, folder / "register.xlsx")
    return make_register(folder, folder / "register.xlsx")


@trigger
def forgetting_a_job_that_is_there(folder: Path, _: Patch) -> object:
    fill_workbook(
        Shop(folder).form("form.xlsx"), {"vehicle": "tractor", "job_number": "7"}, folder / "job.xlsx"
    )
    return make_register(folder, folder / "register.xlsx", forget=["7"])


@trigger
def forgetting_a_job_that_never_was(folder: Path, _: Patch) -> object:
    return make_register(folder, folder / "register.xlsx", forget=["7"])


@trigger
def store_with_words_for_money(folder: Path, _: Patch) -> object:
    fill_workbook(
        Shop(folder).form("form.xlsx"), {"vehicle": "tractor", "job_number": "7"}, folder / "job.xlsx"
    )
    make_register(folder, folder / "register.xlsx")
    engine = create_engine(f"sqlite:///{folder / 'register.store.sqlite'}")
    with engine.begin() as connection:
        connection.execute(text("UPDATE register_jobs SET total_cents = 'much'"))
    engine.dispose()
    return make_register(folder, folder / "register.xlsx")


def _store_of_version(folder: Path, version: str) -> object:
    place = folder / "store.sqlite"
    with Store.open(place):
        pass
    engine = create_engine(f"sqlite:///{place}")
    with engine.begin() as connection:
        connection.execute(text(f"UPDATE register_info SET value = '{version}'"))
    engine.dispose()
    with Store.open(place):
        return None


@trigger
def store_of_a_newer_program(folder: Path, _: Patch) -> object:
    return _store_of_version(folder, "999")


@trigger
def store_of_an_older_program(folder: Path, _: Patch) -> object:
    return _store_of_version(folder, "0")


@trigger
def store_that_is_none(folder: Path, _: Patch) -> object:
    with Store.open(Shop(folder).file("store.sqlite", "no database" * 100)):
        return None


@trigger
def store_without_driver(folder: Path, patch: Patch) -> object:
    def missing(*_: object, **__: object) -> object:
        raise ImportError("No module named 'psycopg'")

    patch.setattr(store_module, "create_engine", missing)
    with Store.open("postgresql://u@localhost/d", "A"):
        return None


# --- reading -----------------------------------------------------------------------------------------------------------


@trigger
def check_a_sheet_copied_from_a_form(folder: Path, _: Patch) -> object:
    def only_compression(book: openpyxl.Workbook) -> None:
        for name, defined in list(book.defined_names.items()):
            if "Compression" not in defined.attr_text:
                del book.defined_names[name]
        for sheet in book.sheetnames:
            if sheet != "Compression":
                del book[sheet]
        for kept in list(book.custom_doc_props.names):
            del book.custom_doc_props[kept]

    shop = Shop(folder)
    return check_workbook(shop.changed(shop.form(), only_compression))


# --- the extension -----------------------------------------------------------------------------------------------------


@trigger
def extension_of_another_kind(folder: Path, _: Patch) -> object:
    return write_extension(folder / "engine-check.zip")


@trigger
def extension_over_another_file(folder: Path, _: Patch) -> object:
    return write_extension(Shop(folder).file("somebody-elses.oxt"))
