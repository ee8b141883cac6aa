"""A findings sheet placed into workbooks of many origins: every other part stays, every program opens the result.

What a placing may change is listed in `may_change`; all else is compared byte for byte. `python -m tests.test_nothing_lost`
does so with every book, fifty times, and prints a line for each.
"""

from __future__ import annotations

import datetime as dt
import posixpath
import re
import tempfile
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from lxml import etree
from python_calamine import CalamineWorkbook

from tests.place_sheet_samples import edited, parts, small_host
from tests.support.book_variants import VARIANTS
from tests.support.make_samples import entries, jobs, write_form
from tests.support.many_books import BOOKS, Book, with_part
from tests.support.office import Office
from tests.support.other_programs import FILLERS, fill_with, texts_in_gnumeric
from tests.test_place_sheet import audit, opened, titles
from workbook_tools import check_workbook, fill_workbook
from workbook_tools.commands import program as command
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.errors import UnusableFile
from workbook_tools.read.workbook import read_workbook
from workbook_tools.report import place_sheet
from workbook_tools.report.findings_sheet import findings_book

NOW = dt.datetime(2026, 3, 20, 9, 0)
#: The validator's advice on texts in cells: so they are written on purpose, that no part of the user's is touched.
INLINE_ADVICE = "inline-string cell(s)"


@cache
def blank() -> bytes:
    """The blank form of the first sample job."""
    with tempfile.TemporaryDirectory() as folder:
        return write_form(jobs()[0], Path(folder) / "form.xlsx").read_bytes()


@cache
def filled() -> bytes:
    """The first sample job, filled from its list."""
    with tempfile.TemporaryDirectory() as folder:
        form = Path(folder) / "form.xlsx"
        form.write_bytes(blank())
        fill_workbook(form, entries(jobs()[0]), form)
        return form.read_bytes()


@cache
def findings() -> bytes:
    """The findings of that job as a book of one sheet."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.xlsx"
        path.write_bytes(filled())
        form = read_workbook(path)
        return findings_book(diagnose(form), form, answers={}, program_version="0", checked_at=NOW)


def _form(make: Callable[[], bytes]) -> Book:
    def write(folder: Path) -> Path:
        path = folder / "book.xlsx"
        path.write_bytes(make())
        return path

    return write


def _filled_by(program: str) -> Book:
    def write(folder: Path) -> Path:
        form = _form(blank)(folder)
        fill_with(program, form, entries(jobs()[0]), folder / f"{program}.xlsx")
        return folder / f"{program}.xlsx"

    return write


FORMS: dict[str, Book] = {
    "a blank form": _form(blank),
    "a filled form": _form(filled),
    "LibreOffice's form": _form(lambda: jobs()[0].filled.read_bytes()),
    **{f"{program}'s form": _filled_by(program) for program in FILLERS},
    **{f"form, {variant}": _form(lambda v=variant: VARIANTS[v](filled())) for variant in VARIANTS},
}
EVERY: dict[str, Book] = {**BOOKS, **FORMS}
IN_SUITE = [*BOOKS, "a blank form", "LibreOffice's form", "SheetJS's form", "form, strict"]
#: Books that a program can't open before anything was placed either.
CLOSED_TO = {
    "strict dialect": {"openpyxl", "Gnumeric"},
    "form, strict": {"openpyxl", "Gnumeric"},
    "form, other folders": {"openpyxl", "Gnumeric"},
    "Gnumeric's own": {"openpyxl"},
}


def place(path: Path) -> None:
    """A check where the book is a form of ours, the placing alone where it is not."""
    if path.parent.name == "form":
        check_workbook(path, now=NOW)
    else:
        place_sheet(path, findings(), path)


def made(name: str, folder: Path) -> Path:
    """A book of the table in a folder of its own."""
    own = folder / ("form" if name in FORMS else "book")
    own.mkdir()
    return EVERY[name](own)


def may_change(content: dict[str, bytes]) -> set[str]:
    """The parts that list what is in a book: content types, workbook, its relationships, styles, titles of sheets."""
    root = _targets(content, "_rels/.rels", "")
    workbook = root["officeDocument"]
    folder, file = posixpath.split(workbook)
    rels = f"{folder}/_rels/{file}.rels"
    found = {
        "[Content_Types].xml",
        workbook,
        rels,
        root.get("extended-properties", root.get("extendedProperties", "")),
    }
    return found | {_targets(content, rels, folder).get("styles", f"{folder}/styles.xml")}


def _targets(content: dict[str, bytes], rels: str, folder: str) -> dict[str, str]:
    """Part by kind of relationship."""
    return {
        each.get("Type", "").rpartition("/")[2]: posixpath.normpath(
            posixpath.join("/", folder, each.get("Target", ""))
        ).lstrip("/")
        for each in etree.fromstring(content[rels])
    }


def test_many_books() -> None:
    """There are books of at least thirty origins in the suite, and more in the long run."""
    assert len(IN_SUITE) >= 30 and set(IN_SUITE) < set(EVERY)


@pytest.mark.parametrize("name", IN_SUITE)
def test_every_other_part_stays(name: str, tmp_path: Path, office: Office) -> None:
    """Once and once more: parts but the listing ones stay byte for byte and in order, and every program opens the result."""
    place_and_compare(name, tmp_path, office)


def place_and_compare(name: str, folder: Path, office: Office) -> int:
    """Place findings twice and hold the result against the book; fails where anything else changed; how many parts stayed."""
    path = made(name, folder)
    before, old_titles, faults = parts(path), titles(path), audit(path)
    order = zipfile.ZipFile(path).namelist()
    shows = {program: show for program, show in SHOWN_BY.items() if program not in CLOSED_TO.get(name, ())}
    for program in CLOSED_TO.get(name, ()):
        with pytest.raises((AssertionError, LookupError)):
            SHOWN_BY[program](path, old_titles[-1], folder)
    place(path)
    first = path.read_bytes()
    place(path)
    assert path.read_bytes() == first
    after = parts(path)
    stayed = {part for part in before if after.get(part) == before[part]}
    assert before.keys() - stayed <= may_change(before)
    assert [part for part in zipfile.ZipFile(path).namelist() if part in before] == order
    new = titles(path)
    assert new[:-1] == old_titles and new[-1] not in old_titles
    assert {fault for fault in audit(path) - faults if INLINE_ADVICE not in fault} <= donors_faults()
    saved = folder / "office.xlsx"
    office.resave(path, saved)
    assert titles(saved) == new
    headline = shown_by_calamine(saved, new[-1], folder)
    assert headline.startswith("Findings") and {show(path, new[-1], folder) for show in shows.values()} == {
        headline
    }
    return len(stayed)


def shown_by_calamine(path: Path, sheet: str, _: Path) -> str:
    """The first text on a sheet, as python-calamine reads it."""
    rows = CalamineWorkbook.from_path(str(path)).get_sheet_by_name(sheet).to_python()
    return next(str(cell) for row in rows for cell in row if cell)


def shown_by_openpyxl(path: Path, sheet: str, _: Path) -> str:
    """The same, as openpyxl loads it."""
    return next(str(cell) for row in opened(path)[sheet].iter_rows(values_only=True) for cell in row if cell)


def shown_by_gnumeric(path: Path, sheet: str, folder: Path) -> str:
    """The same, as Gnumeric writes it to CSV."""
    return next(cell for row in texts_in_gnumeric(path, folder)[sheet] for cell in row if cell)


SHOWN_BY = {"calamine": shown_by_calamine, "openpyxl": shown_by_openpyxl, "Gnumeric": shown_by_gnumeric}


@cache
def donors_faults() -> frozenset[str]:
    """What the validator says of the findings book alone."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "findings.xlsx"
        path.write_bytes(findings())
        return frozenset(audit(path))


@pytest.mark.parametrize(("name", "times"), [("all strange parts at once", 50), ("LibreOffice's form", 10)])
def test_many_times_is_once(name: str, times: int, tmp_path: Path) -> None:
    """Checks in a row leave the bytes of one."""
    assert placed_often(made(name, tmp_path), times) == 0


def placed_often(path: Path, times: int) -> int:
    """Bytes that the file grew by from the first placing to the last; fails where only its content changed."""
    place(path)
    first = path.read_bytes()
    for _ in range(times - 1):
        place(path)
    last = path.read_bytes()
    assert last == first or len(last) != len(first)
    return len(last) - len(first)


def test_macros_stay_a_book_with_macros(tmp_path: Path) -> None:
    """A form with macros, kept as .xlsm, is checked and is one afterwards."""
    kind = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    macro = b"application/vnd.ms-excel.sheet.macroEnabled.main+xml"
    data = with_part(
        edited(filled(), {"[Content_Types].xml": lambda xml: xml.replace(kind, macro)}),
        "xl/workbook.xml",
        "http://schemas.microsoft.com/office/2006/relationships/vbaProject",
        "xl/vbaProject.bin",
        b"macros, kept as they are",
        "application/vnd.ms-office.vbaProject",
    )
    path = tmp_path / "job.xlsm"
    path.write_bytes(data)
    checked = check_workbook(path)
    after = parts(path)
    assert checked.written_to == path and titles(path)[-1] == "Findings"
    assert after["xl/vbaProject.bin"] == b"macros, kept as they are" and macro in after["[Content_Types].xml"]


def test_a_signed_form(tmp_path: Path) -> None:
    """A signed form is refused in one sentence and stays as it was; a copy in another folder is checked."""
    data = with_part(
        filled(),
        "",
        "http://schemas.openxmlformats.org/package/2006/relationships/digital-signature/origin",
        "_xmlsignatures/origin.sigs",
        b"",
        "application/vnd.openxmlformats-package.digital-signature-origin",
    )
    path = tmp_path / "job.xlsx"
    path.write_bytes(data)
    with pytest.raises(UnusableFile, match="is digitally signed") as caught:
        check_workbook(path)
    assert "--out-dir" in str(caught.value) and "\n" not in str(caught.value)
    assert path.read_bytes() == data
    checked = check_workbook(path, out_dir=tmp_path / "copies")
    assert path.read_bytes() == data and checked.written_to == tmp_path / "copies" / "job.xlsx"
    assert titles(tmp_path / "copies" / "job.xlsx")[-1] == "Findings"
    (said,) = checked.against
    assert "signature in this copy no longer fits" in said


FINAL = b'<property fmtid="{D5CDD505-2E9C-101B-9397-08002B2CF9AE}" pid="90" name="_MarkAsFinal"><vt:bool>true</vt:bool></property>'
WISHES = {
    "protected against new sheets": lambda part: part.replace(
        b"<bookViews", b'<workbookProtection lockStructure="1"/><bookViews'
    ),
    "asks to be opened to read alone": lambda part: re.sub(
        rb"<workbookPr", b'<fileSharing readOnlyRecommended="1"/><workbookPr', part
    ),
}


def wishing(wish: str) -> bytes:
    """A filled form that asks for something (ECMA-376 part 1, 18.2.29 and 18.2.12; the mark is common practice, no source)."""
    if wish in WISHES:
        return edited(filled(), {"xl/workbook.xml": WISHES[wish]})
    return edited(
        filled(), {"docProps/custom.xml": lambda x: x.replace(b"</Properties>", FINAL + b"</Properties>")}
    )


@pytest.mark.parametrize("wish", [*WISHES, "marked as final"])
def test_what_a_form_asks_for_is_said(wish: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A wish that the check goes against is printed, alone and in a folder, and stands on the findings sheet."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(wishing(wish))
    assert command.main(["check", str(path)]) == 0
    assert wish in capsys.readouterr().err
    texts = {str(cell.value) for line in opened(path)["Findings"].iter_rows() for cell in line}
    assert any(wish in text for text in texts)
    assert command.main(["check", str(tmp_path), "--again"]) == 0
    assert wish in capsys.readouterr().err
    with zipfile.ZipFile(path) as archive:
        kept = archive.read("docProps/custom.xml") + archive.read("xl/workbook.xml")
    assert b"_MarkAsFinal" in kept or b"lockStructure" in kept or b"readOnlyRecommended" in kept


def test_a_lost_part_would_be_noticed(tmp_path: Path) -> None:
    """The comparison itself objects where a book was loaded and saved by a library instead."""
    path = made("all strange parts at once", tmp_path)
    before = parts(path)
    opened(path).save(path)
    after = parts(path)
    assert {each for each in before if after.get(each) != before[each]} - may_change(before)


def test_only_listing_parts_are_listed() -> None:
    """What may change in an ordinary book are these five parts."""
    assert may_change(parts(small_host("A"))) == {
        "[Content_Types].xml",
        "xl/workbook.xml",
        "xl/_rels/workbook.xml.rels",
        "xl/styles.xml",
        "docProps/app.xml",
    }


def main() -> None:
    """Every book: placed, compared, opened by every program, then placed until it is fifty times."""
    with Office() as office:
        for name in EVERY:
            with tempfile.TemporaryDirectory() as folder:
                stayed = place_and_compare(name, Path(folder), office)
            with tempfile.TemporaryDirectory() as folder:
                grown = placed_often(made(name, Path(folder)), 50)
            print(f"{name}: {stayed} parts as they were, after fifty placings {grown} bytes more", flush=True)


if __name__ == "__main__":
    main()
