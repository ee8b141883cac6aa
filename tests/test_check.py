"""The main job from file to findings sheet: what is written, what is kept, what is refused, what is printed."""

from __future__ import annotations

import datetime as dt
import io
import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from openpyxl import load_workbook

import workbook_tools
from tests.support.one_sheet import sheet_in
from tests.test_read import BURNED_VALVE
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.commands.program import main
from workbook_tools.errors import BadRequest, UnusableFile
from workbook_tools.language.model import MARKS
from workbook_tools.report import place_sheet

CHECKED_AT = dt.datetime(2026, 1, 2, 3, 4)
INDEX_PARTS = {
    "[Content_Types].xml",
    "xl/workbook.xml",
    "xl/_rels/workbook.xml.rels",
    "xl/styles.xml",
    "docProps/app.xml",
}


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented engine with a burned valve, filled once."""
    folder = tmp_path_factory.mktemp("check")
    new_workbook(folder / "form.xlsx")
    fill_workbook(folder / "form.xlsx", BURNED_VALVE, folder / "job.xlsx")
    return folder / "job.xlsx"


@pytest.fixture
def job(template: Path, tmp_path: Path) -> Path:
    """A copy of it to be checked."""
    return Path(shutil.copy(template, tmp_path / "job.xlsx"))


def parts(path: Path) -> dict[str, bytes]:
    """The parts of a workbook."""
    with zipfile.ZipFile(path) as book:
        return {name: book.read(name) for name in book.namelist()}


def test_findings_apart(job: Path, tmp_path: Path) -> None:
    """In a workbook of their own they are those that the workbook gets, with its answers, and it stays as it was."""
    check_workbook(job, now=CHECKED_AT)
    page = sheet_in(job, "Findings")
    answer = next(cell for row in page.iter_rows() for cell in row if cell.value == "Answer").offset(0, 1)
    book = load_workbook(job)
    book["Findings"][answer.coordinate] = "seen, head is off"
    book.save(job)
    check_workbook(job, now=CHECKED_AT)
    before, out = job.read_bytes(), tmp_path / "apart.xlsx"
    for _ in range(2):  # the second time it replaces what it wrote
        checked = check_workbook(job, apart=out, now=CHECKED_AT)
        assert (checked.written_to, checked.sheet) == (out, "Findings")
        assert load_workbook(out).sheetnames == ["Findings"]
        apart, placed = sheet_in(out, "Findings"), sheet_in(job, "Findings")
        cells = {cell.coordinate: cell.value for row in apart.iter_rows() for cell in row}
        assert "seen, head is off" in cells.values()
        assert cells == {cell.coordinate: cell.value for row in placed.iter_rows() for cell in row}
        assert job.read_bytes() == before
    # As one who copies the sheet into the workbook has it: it is known again as ours.
    assert place_sheet(job, out, tmp_path / "again.xlsx") == "Findings"
    assert check_workbook(tmp_path / "again.xlsx").sheet == "Findings"


def test_nothing_else_is_replaced_by_findings_apart(job: Path, tmp_path: Path) -> None:
    """Neither the workbook itself, nor a checked one, nor any other file."""
    check_workbook(job)
    other, note = Path(shutil.copy(job, tmp_path / "other.xlsx")), tmp_path / "note.xlsx"
    note.write_text("not a workbook")
    before = {path: path.read_bytes() for path in (job, other, note)}
    for out in before:
        with pytest.raises((BadRequest, UnusableFile)):
            check_workbook(job, apart=out)
    assert {path: path.read_bytes() for path in before} == before


def test_names_come_from_standard_input(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One a line, whatever ends the lines; each is checked as if it had been named."""
    second = Path(shutil.copy(job, tmp_path / "a job with spaces.xlsx"))
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{job}\r\n\n{second}\n"))
    assert main(["check", "-"]) == 0
    assert all(load_workbook(path).sheetnames[-1] == "Findings" for path in (job, second))
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{second}\n"))
    out = tmp_path / "apart.xlsx"
    assert main(["check", "--json", "--strict", "--apart", str(out), "-"]) == 1
    assert (
        json.loads(capsys.readouterr().out.splitlines()[-1])["job_number"]
        == check_workbook(job).diagnosis.job_number
    )
    assert load_workbook(out).sheetnames == ["Findings"]


def test_the_whole_job_in_one_call(job: Path) -> None:
    """A filled form gets its findings sheet last, and the result says what is wrong and on which cells it rests."""
    checked = check_workbook(job)
    assert load_workbook(job).sheetnames[-1] == checked.sheet == "Findings"
    (finding,) = checked.diagnosis.findings
    assert (finding.cause, finding.cylinders, finding.strength, finding.provisional) == (
        "leaking_valve",
        (3,),
        "confirmed",
        False,
    )
    assert {"compression_dry_3", "compression_wet_3"} <= {each.field for each in finding.evidence}
    assert all("!" in each.cell for each in finding.evidence)


def test_every_other_part_stays_byte_for_byte(job: Path) -> None:
    """Only the index parts differ after a check; all else is the very bytes it was."""
    before = parts(job)
    check_workbook(job)
    after = parts(job)
    assert {name for name in before if before[name] != after.get(name)} <= INDEX_PARTS


def test_a_second_check_replaces_the_sheet_and_keeps_answers(job: Path) -> None:
    """Checking again leaves one findings sheet, of the same size, with the answer that was typed."""
    import datetime as dt

    now = dt.datetime(2026, 4, 3, 9, 30)
    check_workbook(job, now=now)
    size = job.stat().st_size
    for _ in range(3):
        check_workbook(job, now=now)
    assert job.stat().st_size == size
    assert load_workbook(job).sheetnames.count("Findings") == 1


def test_out_dir_leaves_the_original_untouched(job: Path, tmp_path: Path) -> None:
    """With a folder for results the user's file keeps every byte."""
    before = job.read_bytes()
    checked = check_workbook(job, out_dir=tmp_path / "out")
    assert job.read_bytes() == before
    assert checked.written_to == tmp_path / "out" / "job.xlsx"
    assert "Findings" in load_workbook(checked.written_to).sheetnames


def test_a_sheet_of_the_users_own_called_findings_is_left_alone(job: Path) -> None:
    """A sheet named Findings that is not ours stays; ours takes the next free name."""
    book = load_workbook(job)
    book.create_sheet("Findings")["A1"] = "my own notes"
    book.save(job)
    assert check_workbook(job).sheet != "Findings"
    assert sheet_in(job, "Findings")["A1"].value == "my own notes"


def test_results_come_as_frames(job: Path) -> None:
    """Findings, discrepancies, tests owed, computed values and marks are offered as pandas frames."""
    checked = check_workbook(job, write=False)
    assert list(checked.findings()["cause"]) == ["leaking_valve"]
    assert "entry_is_text" in set(checked.discrepancies()["kind"])
    assert {"name", "workbook", "recomputed", "agrees"} <= set(checked.computed().columns)
    assert set(checked.marks()["mark"]) <= set(MARKS)
    assert not checked.missing().empty


# --- what can't be used ----------------------------------------------------------------------------------------------


def lock(job: Path) -> None:
    """A lock file as a spreadsheet program leaves it beside an open workbook."""
    job.with_name(f".~lock.{job.name}#").write_text(",mechanic,bench,")


def read_only(job: Path) -> None:
    """A file that its owner made read-only."""
    job.chmod(0o444)


@pytest.mark.parametrize(("spoil", "words"), [(lock, "open in another program"), (read_only, "read-only")])
def test_a_file_that_cannot_be_replaced_is_left_alone(job: Path, spoil, words: str, capsys) -> None:  # noqa: ANN001
    """Open elsewhere or read-only: one sentence, exit 2, nothing touched."""
    spoil(job)
    before = job.read_bytes()
    assert main(["check", str(job)]) == 2
    said = capsys.readouterr().err
    assert words in said and "Traceback" not in said and said.count("\n") == 1
    assert job.read_bytes() == before
    assert not list(job.parent.glob("*.unfinished*"))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("gone.xlsx", "does not exist"),
        ("old.xls", "save it as .xlsx"),
        ("list.csv", "save it as .xlsx"),
        ("book.ods", "save it as .xlsx"),
    ],
)
def test_other_files_are_refused_in_one_sentence(tmp_path: Path, name: str, words: str, capsys) -> None:  # noqa: ANN001
    """Missing files and other formats: one clear sentence with what to do, exit 2."""
    if name != "gone.xlsx":
        (tmp_path / name).write_bytes(b"whatever")
    assert main(["check", str(tmp_path / name)]) == 2
    said = capsys.readouterr().err
    assert words in said and said.count("\n") == 1


def test_one_bad_file_does_not_stop_the_others(job: Path, tmp_path: Path, capsys) -> None:  # noqa: ANN001
    """The others are still checked, and the exit status says that one could not be used."""
    (tmp_path / "bad.xlsx").write_bytes(b"no workbook")
    assert main(["check", str(tmp_path / "bad.xlsx"), str(job)]) == 2
    assert "burned or leaking valve" in capsys.readouterr().err


# --- the command line ------------------------------------------------------------------------------------------------


def test_json_is_one_object_a_line_on_standard_output(job: Path, tmp_path: Path, capsys) -> None:  # noqa: ANN001
    """--json prints the result for programs; the words for people go to standard error."""
    assert main(["check", "--json", "--out-dir", str(tmp_path / "out"), str(job), str(job)]) == 0
    out = capsys.readouterr().out.splitlines()
    assert len(out) == 2
    told = json.loads(out[0])
    assert {
        "workbook",
        "job_number",
        "form_version",
        "findings",
        "discrepancies",
        "missing",
        "computed",
        "marks",
    } <= set(told)
    assert set(told["findings"][0]) == {
        "cause",
        "system",
        "cylinders",
        "strength",
        "provisional",
        "statement",
        "evidence",
        "rule",
        "source",
        "next_step",
        "caution",
    }
    assert set(told["findings"][0]["evidence"][0]) == {"field", "cell", "value", "unit"}
    assert set(told["discrepancies"][0]) == {"kind", "field", "cell", "found", "expected", "message"}
    assert set(told["missing"][0]) == {"test", "fields", "why"}
    assert set(told["computed"][0]) == {"name", "cell", "unit", "workbook", "recomputed", "agrees"}
    assert set(told["marks"][0]) == {"field", "cell", "mark", "value", "low", "high", "unit", "limit_source"}


def test_strict_exits_1_when_something_is_open(job: Path, tmp_path: Path) -> None:
    """--strict is for scripts: 1 with a finding or discrepancy, 0 without."""
    assert main(["check", "--strict", "--out-dir", str(tmp_path / "out"), str(job)]) == 1
    new_workbook(tmp_path / "blank.xlsx")
    assert main(["check", "--strict", "--out-dir", str(tmp_path / "out"), str(tmp_path / "blank.xlsx")]) == 0


@pytest.mark.parametrize(
    "arguments",
    [
        ["--cylinders", "17"],
        ["--cylinders", "0"],
        ["--cylinders", "4", "--banks", "1-2 | 3-5"],
        ["--cylinders", "4", "--firing-order", "1-3-4-4"],
        ["--currency", ""],
    ],
)
def test_a_form_that_cannot_be_made_is_refused_in_words(tmp_path: Path, arguments: list[str], capsys) -> None:  # noqa: ANN001
    """Impossible cylinders, banks, firing orders: one sentence, exit 2, no file."""
    assert main(["new", str(tmp_path / "form.xlsx"), *arguments]) == 2
    said = capsys.readouterr().err
    assert said.startswith("engine-check: ") and said.count("\n") == 1
    assert not (tmp_path / "form.xlsx").exists()


def test_new_fill_check_from_the_command_line(tmp_path: Path, capsys) -> None:  # noqa: ANN001
    """The three commands in a row, as a data logger would use them."""
    form, list_, job = tmp_path / "form.xlsx", tmp_path / "readings.csv", tmp_path / "job.xlsx"
    rows = ["field,value", *(f"{name},{value}" for name, value in BURNED_VALVE.items())]
    list_.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert main(["new", str(form), "--job", "117"]) == 0
    assert main(["fill", str(form), str(list_), "-o", str(job)]) == 0
    assert main(["check", str(job)]) == 0
    assert "Found: burned or leaking valve (cylinder 3)." in capsys.readouterr().err


def test_new_writes_over_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A workbook that is there stays as it is: it may be somebody's filled job."""
    job = tmp_path / "job.xlsx"
    job.write_bytes(b"somebody's readings")
    assert main(["new", str(job), "--job", "117"]) == 2
    assert job.read_bytes() == b"somebody's readings"
    assert "is there already" in capsys.readouterr().err


def test_fill_refuses_what_the_form_has_not(tmp_path: Path) -> None:
    """An unknown field, a computed one and a locked one are refused, and nothing is written."""
    new_workbook(tmp_path / "form.xlsx")
    for name in ("compression_dry_5", "station_pressure", "cylinder_count"):
        with pytest.raises(BadRequest, match=name):
            fill_workbook(tmp_path / "form.xlsx", {name: 1}, tmp_path / "out.xlsx")
    assert not (tmp_path / "out.xlsx").exists()


def test_fill_keeps_the_form_byte_for_byte_but_for_its_sheets(tmp_path: Path) -> None:
    """Filling writes cells into the sheets and leaves every other part as it was."""
    new_workbook(tmp_path / "form.xlsx")
    fill_workbook(tmp_path / "form.xlsx", {"job_number": "=1+1"}, tmp_path / "out.xlsx")
    before, after = parts(tmp_path / "form.xlsx"), parts(tmp_path / "out.xlsx")
    changed = {name for name in before if before[name] != after[name]}
    assert changed and all(name.startswith("xl/worksheets/sheet") for name in changed)


def test_fill_refuses_a_form_that_is_missing(tmp_path: Path) -> None:
    """A form that does not exist is said so."""
    with pytest.raises(UnusableFile, match="does not exist"):
        fill_workbook(tmp_path / "form.xlsx", {}, tmp_path / "out.xlsx")


# --- the package -----------------------------------------------------------------------------------------------------


def test_public_names() -> None:
    """The package offers three functions, and nothing else by that way."""
    assert workbook_tools.__all__ == ["check_workbook", "fill_workbook", "new_workbook"]
    with pytest.raises(AttributeError):
        _ = workbook_tools.something_else  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("work", "unwanted"),
    [
        ("import workbook_tools", ("openpyxl", "xlsxwriter", "pandas", "lxml")),
        ("import workbook_tools.commands.program", ("openpyxl", "xlsxwriter", "pandas", "lxml")),
        ("from workbook_tools import new_workbook; new_workbook('form.xlsx')", ("openpyxl", "pandas")),
        (
            "from workbook_tools import new_workbook, check_workbook; new_workbook('f.xlsx'); check_workbook('f.xlsx')",
            ("pandas",),
        ),
    ],
)
def test_nothing_is_imported_that_is_not_needed(tmp_path: Path, work: str, unwanted: tuple[str, ...]) -> None:
    """Importing the package, making a form and checking one load no library that they don't use."""
    code = f"{work}\nimport sys\nprint([name for name in {unwanted!r} if name in sys.modules])"
    environment = {**os.environ, "PYTHONPATH": str(Path(workbook_tools.__file__).parents[1])}
    ran = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stdout.strip() == "[]"


def test_a_save_during_the_check_is_not_written_over(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What another program saves while a check is reading and judging stays, and the check is refused."""
    from workbook_tools.report import findings_sheet

    make, saved = findings_sheet.findings_book, b""

    def saved_meanwhile(*arguments: object, **more: object) -> bytes:
        nonlocal saved
        fill_workbook(job, {"idle_speed": 700}, job)
        saved = job.read_bytes()
        return make(*arguments, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(findings_sheet, "findings_book", saved_meanwhile)
    with pytest.raises(UnusableFile, match="saved by another program just now"):
        check_workbook(job)
    assert job.read_bytes() == saved
