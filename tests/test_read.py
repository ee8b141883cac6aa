"""Reading a filled form back, from whichever program saved it, and saying plainly what can't be used."""

from __future__ import annotations

import warnings
import zipfile
from collections import Counter
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.support.office import Office
from workbook_tools import fill_workbook, new_workbook
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.errors import NotOurWorkbook, UnusableFile
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.read.workbook import read_workbook

BURNED_VALVE = {
    "job_number": "117",
    "customer_name": "=HYPERLINK(1)",
    "date_in": "2026-04-02",
    "coolant_temperature": 185,
    "idle_speed": 650,
    "spec_idle_speed_min": 600,
    "spec_idle_speed_max": 700,
    "spec_compression_min": 115,
    "throttle_held_open": "yes",
    "all_plugs_out": "yes",
    "compression_strokes": 5,
    "compression_dry_1": 128,
    "compression_dry_2": 126,
    "compression_dry_3": 85,
    "compression_dry_4": 127,
    "compression_wet_3": "88 psi",
    "compression_wet_1": 133,
}


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An invented four-cylinder engine with a burned valve, filled from a list."""
    folder = tmp_path_factory.mktemp("read")
    new_workbook(folder / "form.xlsx")
    fill_workbook(folder / "form.xlsx", BURNED_VALVE, folder / "filled.xlsx")
    return folder / "filled.xlsx"


def resaved_by_openpyxl(path: Path, out: Path) -> Path:
    """The workbook as openpyxl saves it: without any stored result."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        load_workbook(path).save(out)
    return out


def typed(form: FilledForm) -> dict[str, object]:
    """What was typed, by name."""
    return {name: cell.raw for name, cell in form.inputs.items() if cell.raw is not None}


def kinds(form: FilledForm) -> Counter[str]:
    """Kinds of discrepancies."""
    return Counter(each.kind for each in diagnose(form).discrepancies)


def test_everything_filled_is_read_back(filled: Path) -> None:
    """Each entry comes back as it was filled, text that looks like a formula as text."""
    form = read_workbook(filled)
    assert form.lost == () and form.changed_identity == ()
    read = typed(form)
    assert read["compression_dry_3"] == 85
    assert read["customer_name"] == "=HYPERLINK(1)"
    assert form.cells["customer_name"].formula is None
    assert kinds(form) == {"entry_is_text": 1}


def test_openpyxl_save_reads_the_same(filled: Path, tmp_path: Path) -> None:
    """openpyxl drops stored results: readings, findings and all other discrepancies stay the same."""
    form, again = read_workbook(filled), read_workbook(resaved_by_openpyxl(filled, tmp_path / "again.xlsx"))
    assert typed(again) == typed(form) and again.digest == form.digest
    assert [f.statement for f in diagnose(again).findings] == [f.statement for f in diagnose(form).findings]
    assert kinds(again) - kinds(form) == {"not_calculated": 1}


def test_libreoffice_save_reads_the_same(filled: Path, tmp_path: Path, office: Office) -> None:
    """A workbook saved by LibreOffice gives the same readings, findings and discrepancies."""
    office.resave(filled, tmp_path / "again.xlsx")
    form, again = read_workbook(filled), read_workbook(tmp_path / "again.xlsx")
    assert typed(again) == typed(form) and again.digest == form.digest
    assert [f.statement for f in diagnose(again).findings] == [f.statement for f in diagnose(form).findings]
    assert kinds(again) == kinds(form)


def test_moved_renamed_and_inserted_are_no_problem(filled: Path, tmp_path: Path, office: Office) -> None:
    """A sheet renamed and moved, and rows inserted above the readings, change nothing that is read."""
    steps = [
        ("unprotect", "Compression"),
        ("insert_rows", "Compression", 1, 3),
        ("rename_sheet", "Compression", "Druck & co"),
    ]
    office.rearrange(filled, steps, tmp_path / "moved.xlsx")
    form, moved = read_workbook(filled), read_workbook(tmp_path / "moved.xlsx")
    assert typed(moved) == typed(form)
    assert moved.cells["compression_dry_1"].sheet == "Druck & co"
    assert moved.cells["compression_dry_1"].address != form.cells["compression_dry_1"].address
    assert kinds(moved) == kinds(form)


def without_names(path: Path, out: Path, *names: str) -> Path:
    """The workbook with defined names taken away."""
    book = load_workbook(path)
    for name in names:
        del book.defined_names[name]
    book.save(out)
    return out


def test_lost_name_is_found_by_label(filled: Path, tmp_path: Path) -> None:
    """An input whose name was deleted is found by its sheet and label, and said so."""
    form = read_workbook(
        without_names(filled, tmp_path / "a.xlsx", "coolant_temperature", "compression_dry_3")
    )
    assert form.cells["coolant_temperature"].raw == 185 and not form.cells["coolant_temperature"].by_name
    assert form.cells["compression_dry_3"].raw == 85
    found = [each for each in diagnose(form).discrepancies if each.kind == "layout_changed"]
    assert {each.field for each in found} == {"coolant_temperature", "compression_dry_3"}


def test_typed_over_formula_is_reported_once(filled: Path, tmp_path: Path) -> None:
    """A result typed over is reported as such, and what follows from it is not reported again."""
    book = load_workbook(filled, data_only=False)
    stored = load_workbook(filled, data_only=True)
    sheet = book["Compression"]
    address = book.defined_names["compression_highest"].attr_text.split("!")[1].replace("$", "")
    sheet[address].value = 160
    book.save(tmp_path / "over.xlsx")
    assert stored["Compression"][address].value == 128
    found = [
        each
        for each in diagnose(read_workbook(tmp_path / "over.xlsx")).discrepancies
        if each.kind != "entry_is_text"
    ]
    assert [(each.kind, each.field) for each in found if each.kind == "formula_replaced"] == [
        ("formula_replaced", "compression_highest")
    ]
    assert not [each for each in found if each.kind == "result_differs"]


def with_part(path: Path, out: Path, part: str, change) -> Path:  # noqa: ANN001 - a function of bytes
    """The workbook with one part of its zip changed."""
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(out, "w") as target:
        for info in source.infolist():
            data = source.read(info)
            target.writestr(info, change(data) if info.filename == part else data)
    return out


def test_wrong_stored_result_is_reported(filled: Path, tmp_path: Path) -> None:
    """A stored result that its readings don't give is reported at its cell, alone."""
    form = read_workbook(filled)
    address = form.cells["compression_spread"].address.encode()

    def change(data: bytes) -> bytes:
        start = data.index(b'r="' + address + b'"')
        place = data.index(b"<v>43</v>", start)
        return data[:place] + b"<v>34</v>" + data[place + 9 :]

    sheets = [f"xl/worksheets/sheet{n}.xml" for n in range(1, 13)]
    part = next(name for name in sheets if _has(filled, name, address))
    wrong = diagnose(read_workbook(with_part(filled, tmp_path / "wrong.xlsx", part, change)))
    found = [each for each in wrong.discrepancies if each.kind == "result_differs"]
    assert [(each.field, each.found, each.expected) for each in found] == [("compression_spread", "34", "43")]


def _has(path: Path, part: str, address: bytes) -> bool:
    with zipfile.ZipFile(path) as book:
        data = book.read(part)
    return b"compression_highest-compression_lowest" in data and b'r="' + address + b'"' in data


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("job.xlsx", b"PK\x03\x04 broken", "damaged"),
        ("job.xlsx", b"", "empty"),
        ("job.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "old .xls"),
        ("job.xlsx", b"a,b\n1,2\n", "not an .xlsx"),
    ],
)
def test_unusable_files_are_said_in_one_sentence(
    tmp_path: Path, name: str, content: bytes, words: str
) -> None:
    """Damaged, empty and foreign files are refused in words, without a traceback."""
    (tmp_path / name).write_bytes(content)
    with pytest.raises(UnusableFile, match=words):
        read_workbook(tmp_path / name)


def test_a_workbook_that_is_no_form_of_ours(tmp_path: Path) -> None:
    """Any other workbook is refused as none of ours."""
    from openpyxl import Workbook

    Workbook().save(tmp_path / "other.xlsx")
    with pytest.raises(NotOurWorkbook, match="no engine-check form"):
        read_workbook(tmp_path / "other.xlsx")
