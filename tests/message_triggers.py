"""Every refusal of the program, brought about: for each message that a user can meet, something that makes it be said.

Each trigger gets an empty folder and pytest's monkeypatch. Here are the table itself and what is asked for and filled;
`message_triggers_checks.py` and `message_triggers_files.py` add to it. The messages are judged in `test_messages.py`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import openpyxl
import pytest

from tests.place_sheet_samples import donor, small_host
from tests.test_place_sheet_refusals import REFUSED
from workbook_tools.commands.program import parser
from workbook_tools.form.all_sheets import SHEETS
from workbook_tools.generate.fill import fill_workbook
from workbook_tools.generate.workbook import entries_for, new_workbook, shape_for, workbook_bytes
from workbook_tools.report import place_sheet
from workbook_tools.specs.sheet import write_specs_book

Patch = pytest.MonkeyPatch
Trigger = Callable[[Path, Patch], object]
TRIGGERS: dict[str, Trigger] = {}


def trigger(act: Trigger) -> Trigger:
    """Put a trigger into the table under its own name."""
    TRIGGERS[act.__name__] = act
    return act


@cache
def blank_form() -> bytes:
    """An empty form for one cylinder."""
    shape = shape_for(1, None, "us")
    return workbook_bytes(shape, entries_for(shape, {}), [sheet.name for sheet in SHEETS])


@dataclass
class Shop:
    """Files to go wrong with, in one folder."""

    folder: Path

    def form(self, name: str = "job.xlsx", **options: object) -> Path:
        """An empty form."""
        if options:
            return new_workbook(self.folder / name, cylinders=1, **options)  # type: ignore[arg-type]
        return self.file(name, blank_form())

    def file(self, name: str, data: bytes | str = b"") -> Path:
        """Any file."""
        path = self.folder / name
        path.write_bytes(data.encode() if isinstance(data, str) else data)
        return path

    def changed(self, path: Path, change: Callable[[openpyxl.Workbook], object]) -> Path:
        """A workbook changed by another program."""
        book = openpyxl.load_workbook(path)
        change(book)
        book.save(path)
        return path

    def specs(self, *rows: dict[str, object], units: str = "us") -> Path:
        """A specs book with engines, each a row of values by column heading's name."""
        path = self.folder / "engines.xlsx"
        write_specs_book(path, units=units)  # type: ignore[arg-type]
        book = openpyxl.load_workbook(path)
        sheet = book["Engines"]
        for number, row in enumerate(rows):
            for column, value in row.items():
                cell = sheet[
                    book.defined_names[f"column_{column}"].attr_text.rpartition("!")[2].replace("$", "")
                ]
                sheet.cell(cell.row + 1 + number, cell.column).value = value  # type: ignore[arg-type]
        book.save(path)
        return path


def said(*arguments: object) -> None:
    """A command as `main` runs it, its refusal not yet turned into words."""
    asked = parser().parse_args([str(each) for each in arguments])
    asked.run(asked)


def failing(code: int, words: str) -> Callable[..., object]:
    """A call to the system that fails."""

    def fail(*_: object, **__: object) -> object:
        raise OSError(code, words)

    return fail


# --- asking for what can't be made -------------------------------------------------------------------------------------

WRONG_COMMANDS: dict[str, tuple[str, ...]] = {
    "form_of_another_kind": ("new", "{}/form.ods"),
    "engine_without_specs": ("new", "{}/form.xlsx", "--engine", "A"),
    "specs_of_another_kind": ("specs", "{}/engines.csv"),
    "too_many_cylinders": ("new", "{}/form.xlsx", "--cylinders", "17"),
    "no_currency": ("new", "{}/form.xlsx", "--currency", ""),
    "odd_banks": ("new", "{}/form.xlsx", "--banks", "1-2"),
    "odd_firing_order": ("new", "{}/form.xlsx", "--firing-order", "1-1-2-3"),
    "too_long_a_job_number": ("new", "{}/form.xlsx", "--job", "x" * 40_000),
    "register_of_another_kind": ("register", "{}", "--out", "{}/register.csv"),
    "register_of_no_folder": ("register", "{}/nowhere", "--out", "{}/register.xlsx"),
    "shared_store_without_shop": ("register", "{}", "--out", "{}/r.xlsx", "--store", "postgresql://u@localhost/d"),
    "store_of_another_kind": ("register", "{}", "--out", "{}/r.xlsx", "--store", "mysql://u@localhost/d", "--shop", "A"),
    "store_of_no_address": ("register", "{}", "--out", "{}/r.xlsx", "--store", "://", "--shop", "A"),
    "out_in_no_folder": ("new", "{}/nowhere/form.xlsx"),
    "no_form_to_fill": ("fill", "{}/nowhere.xlsx", "{}/r.csv", "-o", "{}/out.xlsx"),
}  # fmt: skip
for _name, _command in WRONG_COMMANDS.items():
    TRIGGERS[_name] = lambda folder, _, command=_command: said(*(each.format(folder) for each in command))

for _name, (_make, _file, _) in REFUSED.items():

    def _refuse(folder: Path, _: Patch, make: Callable[[], bytes] = _make, name: str = _file) -> object:
        path = Shop(folder).file(name, make())
        return place_sheet(path, donor(), path)

    TRIGGERS[f"file: {_name}"] = _refuse


@trigger
def completion_without_library(_: Path, patch: Patch) -> object:
    patch.setitem(sys.modules, "shtab", None)
    return said("--print-completion", "bash")


@trigger
def watching_without_library(folder: Path, patch: Patch) -> object:
    patch.setitem(sys.modules, "watchfiles", None)
    return said("watch", folder)


@trigger
def watching_no_folder(folder: Path, _: Patch) -> object:
    return said("watch", folder / "gone")


@trigger
def form_over_another_file(folder: Path, _: Patch) -> object:
    return said("new", Shop(folder).form("a.xlsx"))


@trigger
def several_to_open(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    return said("check", shop.form("a.xlsx"), shop.form("b.xlsx"), "--open")


@trigger
def nothing_that_opens(folder: Path, patch: Patch) -> object:
    patch.setattr("sys.platform", "linux")
    patch.setattr("shutil.which", lambda _: None)
    return said("check", Shop(folder).form(), "--open")


@trigger
def no_tests_named(folder: Path, _: Patch) -> object:
    return said("new", folder / "form.xlsx", "--tests", " , ")


@trigger
def unknown_tests_named(folder: Path, _: Patch) -> object:
    return said("new", folder / "form.xlsx", "--tests", "vacuum,brakes")


@trigger
def unknown_units(folder: Path, _: Patch) -> object:
    return shape_for(4, None, "imperial")  # type: ignore[arg-type]


@trigger
def specs_in_unknown_units(folder: Path, _: Patch) -> object:
    return write_specs_book(folder / "engines.xlsx", units="imperial")  # type: ignore[arg-type]


@trigger
def unknown_sheet(folder: Path, _: Patch) -> object:
    return Shop(folder).form(sheets=["Nowhere"])


@trigger
def no_sheet_named(folder: Path, _: Patch) -> object:
    return Shop(folder).form(sheets=[])


@trigger
def unknown_prefill(folder: Path, _: Patch) -> object:
    return Shop(folder).form(prefill={"nothing": 1})


@trigger
def odd_prefill(folder: Path, _: Patch) -> object:
    return Shop(folder).form(prefill={"timing": b"1"})


# --- filling -----------------------------------------------------------------------------------------------------------


@trigger
def fill_unknown_field(folder: Path, _: Patch) -> object:
    return fill_workbook(Shop(folder).form(), {"nothing": 1}, folder / "out.xlsx")


@trigger
def fill_computed(folder: Path, _: Patch) -> object:
    return fill_workbook(Shop(folder).form(), {"site_idle_vacuum_min": 1}, folder / "out.xlsx")


@trigger
def fill_locked(folder: Path, _: Patch) -> object:
    return fill_workbook(Shop(folder).form(), {"cylinder_count": 2}, folder / "out.xlsx")


@trigger
def fill_too_long(folder: Path, _: Patch) -> object:
    return fill_workbook(Shop(folder).form(), {"complaint_notes": "x" * 40_000}, folder / "out.xlsx")


@trigger
def fill_from_nowhere(folder: Path, _: Patch) -> object:
    return fill_workbook(Shop(folder).form(), folder / "no.csv", folder / "out.xlsx")


@trigger
def fill_from_other_letters(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    return fill_workbook(
        shop.form(), shop.file("r.csv", b"field,value\nvehicle,\xff\xfe"), folder / "out.xlsx"
    )


@trigger
def fill_from_short_rows(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    return fill_workbook(shop.form(), shop.file("r.csv", "field,value\nvehicle\n"), folder / "out.xlsx")


@trigger
def fill_no_form(folder: Path, _: Patch) -> object:
    return fill_workbook(Shop(folder).file("x.xlsx", small_host("A")), {}, folder / "out.xlsx")


def identity_changed(book: openpyxl.Workbook, name: str, value: object) -> None:
    sheet, address = book.defined_names[name].attr_text.replace("$", "").replace("'", "").split("!")
    book[sheet][address] = value
    if name in book.custom_doc_props.names:
        del book.custom_doc_props[name]


@trigger
def fill_form_that_says_nonsense(folder: Path, _: Patch) -> object:
    shop = Shop(folder)
    path = shop.changed(shop.form(), lambda book: identity_changed(book, "form_cylinders", 99))
    return fill_workbook(path, {}, folder / "out.xlsx")
