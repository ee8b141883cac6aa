"""What people do to a file between its reading and its writing is never lost: saves, answers, renames, new files, notes."""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.support.many_jobs import write_jobs
from tests.support.one_sheet import sheet_in
from tests.test_register_book import rows, type_in
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.checking.watch import COPIES, Watcher
from workbook_tools.commands.program import main
from workbook_tools.errors import ChangedMeanwhile, UnusableFile
from workbook_tools.package import safe_write
from workbook_tools.register.make import make_register
from workbook_tools.specs.sheet import write_specs_book

Meanwhile = Callable[[Callable[[], object]], None]
ANSWER = "valve was ground"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A filled workbook alone in its folder."""
    (made,) = write_jobs(tmp_path / "made", 1, 1)
    (tmp_path / "jobs").mkdir()
    return made.rename(tmp_path / "jobs" / "job.xlsx")


@pytest.fixture
def meanwhile(monkeypatch: pytest.MonkeyPatch) -> Meanwhile:
    """Have something done by somebody else once, when the new content is on the disk and not in its place yet."""

    def arrange(act: Callable[[], object]) -> None:
        real, left = os.fsync, [act]

        def flushed(handle: int) -> None:
            if left:
                left.pop()()
            real(handle)

        monkeypatch.setattr(safe_write.os, "fsync", flushed)

    return arrange


def answered(path: Path) -> bytes:
    """The bytes of a checked workbook with an answer typed into its findings."""
    before = path.read_bytes()
    book = load_workbook(path)
    sheet = book["Findings"]
    cell = next(cell for line in sheet.iter_rows() for cell in line if cell.value == "Answer")
    sheet.cell(cell.row, cell.column + 1, ANSWER)
    book.save(path)
    content = path.read_bytes()
    path.write_bytes(before)
    return content


def has_answer(path: Path) -> bool:
    """Whether the answer is in a workbook."""
    cells = (cell for line in sheet_in(path, "Findings").iter_rows() for cell in line)
    return any(cell.value == ANSWER for cell in cells)


def is_alone(path: Path) -> bool:
    """Whether nothing lies beside a file."""
    return [each.name for each in path.parent.iterdir()] == [path.name]


def test_an_answer_saved_into_the_copy(job: Path, tmp_path: Path, meanwhile: Meanwhile) -> None:
    """An answer saved into a checked copy while the check runs stays, the check says so, and the next one keeps it."""
    out = tmp_path / "checked"
    copy = out / "job.xlsx"
    check_workbook(job, out_dir=out)
    content = answered(copy)
    meanwhile(lambda: copy.write_bytes(content))
    with pytest.raises(ChangedMeanwhile, match="saved by another program"):
        check_workbook(job, out_dir=out)
    assert copy.read_bytes() == content and is_alone(copy)
    check_workbook(job, out_dir=out)
    assert has_answer(copy)


def test_a_copy_that_somebody_made_meanwhile(job: Path, tmp_path: Path, meanwhile: Meanwhile) -> None:
    """A file that appears in the place of the copy stays what it is."""
    copy = tmp_path / "checked" / "job.xlsx"
    meanwhile(lambda: copy.write_bytes(b"mine"))
    with pytest.raises(ChangedMeanwhile, match="made by another program"):
        check_workbook(job, out_dir=copy.parent)
    assert copy.read_bytes() == b"mine" and is_alone(copy)


def test_an_original_renamed_during_its_check(job: Path, meanwhile: Meanwhile) -> None:
    """It does not come back under its old name."""
    meanwhile(lambda: job.rename(job.with_name("renamed.xlsx")))
    with pytest.raises(ChangedMeanwhile, match="renamed, moved or deleted"):
        check_workbook(job)
    assert [each.name for each in job.parent.iterdir()] == ["renamed.xlsx"]


def test_an_original_renamed_while_it_is_judged(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same where it was renamed between reading and the beginning of the writing."""
    real = safe_write.check_replaceable
    calls = []

    def renamed(path: str | Path) -> Path:
        if calls:
            job.rename(job.with_name("renamed.xlsx"))
        calls.append(path)
        return real(path)

    monkeypatch.setattr("workbook_tools.package.place.check_replaceable", renamed)
    calls.append("the first look is that of the check itself")
    with pytest.raises(ChangedMeanwhile, match="renamed, moved or deleted"):
        check_workbook(job)
    assert [each.name for each in job.parent.iterdir()] == ["renamed.xlsx"]


def test_an_answer_saved_into_the_copy_of_watch(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer typed as soon as the copy is there is not cleared away with it."""
    lock = job.with_name(f".~lock.{job.name}#")
    lock.write_text("a program")
    copy = job.parent / COPIES / job.name
    watcher = Watcher(job.parent)
    real = check_workbook

    def answered_at_once(path: Path, **options: object) -> object:
        checked = real(path, **options)  # type: ignore[arg-type]
        copy.write_bytes(answered(copy))
        return checked

    monkeypatch.setattr("workbook_tools.checking.watch.check_workbook", answered_at_once)
    assert list(watcher.saved([job]))
    monkeypatch.undo()
    lock.unlink()
    assert list(watcher.saved([lock]))
    assert has_answer(copy)


def test_a_note_saved_into_the_register_while_it_is_made(tmp_path: Path, meanwhile: Meanwhile) -> None:
    """What the bookkeeper types while the register is made anew is in the new one."""
    write_jobs(tmp_path / "jobs", 3, 2)
    out = tmp_path / "register.xlsx"
    make_register(tmp_path / "jobs", out)
    (number, *_) = [row["Job"] for row in rows(out, "Jobs")]
    meanwhile(lambda: type_in(out, "Jobs", number, "Note", "paid in cash"))
    make_register(tmp_path / "jobs", out)
    assert {row["Job"]: row["Note"] for row in rows(out, "Jobs")}[number] == "paid in cash"


def test_a_register_saved_again_and_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where it is saved at every try, the run stops with one sentence and the register is the bookkeeper's."""
    write_jobs(tmp_path / "jobs", 2, 2)
    out = tmp_path / "register.xlsx"
    make_register(tmp_path / "jobs", out)
    real, notes = os.fsync, iter(range(100))
    (number, *_) = [row["Job"] for row in rows(out, "Jobs")]

    def saved(handle: int) -> None:
        type_in(out, "Jobs", number, "Note", f"note {next(notes)}")
        real(handle)

    monkeypatch.setattr(safe_write.os, "fsync", saved)
    with pytest.raises(ChangedMeanwhile, match="saved by another program"):
        make_register(tmp_path / "jobs", out)
    assert "note" in {row["Job"]: row["Note"] for row in rows(out, "Jobs")}[number]


@pytest.mark.parametrize("what", ["new", "specs", "fill"])
def test_a_file_made_meanwhile_stays(tmp_path: Path, meanwhile: Meanwhile, what: str) -> None:
    """A file that appears where a form, a specs book or a filled form is to be written stays what it is."""
    form, out = new_workbook(tmp_path / "form.xlsx", cylinders=1), tmp_path / "out.xlsx"
    meanwhile(lambda: out.write_bytes(b"mine"))
    with pytest.raises(ChangedMeanwhile):
        if what == "new":
            new_workbook(out, cylinders=1)
        elif what == "specs":
            write_specs_book(out)
        else:
            fill_workbook(form, {"job_number": "1"}, out)
    assert out.read_bytes() == b"mine"


# --- two checks at once ---------------------------------------------------------------------------------------------


def test_many_checks_of_one_file_at_once(job: Path) -> None:
    """Three commands at once on one workbook: each waits for its turn, each ends with 0, one findings sheet is there."""
    with multiprocessing.get_context("spawn").Pool(3) as pool:
        assert pool.map(_check, [str(job)] * 3) == [0] * 3
    assert load_workbook(job).sheetnames.count("Findings") == 1 and is_alone(job)


def _check(path: str) -> int:
    return main(["check", path])


def test_a_check_that_takes_too_long_is_not_waited_for(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After the longest wait one sentence says that another check is at work; it is no stranger's save."""
    monkeypatch.setattr(safe_write, "LONGEST_WAIT", 0.2)
    before = job.read_bytes()
    with safe_write.our_turn(job), pytest.raises(UnusableFile, match="under check by another engine-check"):
        check_workbook(job)
    assert job.read_bytes() == before
    assert check_workbook(job).sheet == "Findings"


def test_the_turn_is_that_of_the_file_and_not_of_its_name(job: Path) -> None:
    """Whoever waited for a file that was replaced meanwhile takes the turn of the new one."""
    with safe_write.our_turn(job):
        job.with_name("new").write_bytes(job.read_bytes())
        os.replace(job.with_name("new"), job)
        started = time.monotonic()
        with safe_write.our_turn(job):
            pass
        assert time.monotonic() - started < safe_write.LONGEST_WAIT / 2


# --- names and litter -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "letter"), [(230, "n"), (241, "n"), (250, "n"), (255, "n"), (255, "\u00e9")], ids=range(5)
)
def test_names_as_long_as_the_system_allows(job: Path, tmp_path: Path, length: int, letter: str) -> None:
    """A workbook, its copy, a form, a filled form and a register with a name of up to 255 bytes."""
    room = length - len(".xlsx")
    name = letter * (room // len(letter.encode())) + "x" * (room % len(letter.encode())) + ".xlsx"
    assert len(os.fsencode(name)) == length
    path = job.rename(job.with_name(name))
    out = tmp_path / "out"
    assert main(["check", str(path)]) == 0
    assert main(["check", str(path), "--out-dir", str(out)]) == 0
    assert main(["check", str(path.parent)]) == 0
    assert list(Watcher(path.parent).saved([path])) == []
    form = tmp_path / "forms" / name
    form.parent.mkdir()
    assert main(["new", str(form), "--cylinders", "1"]) == 0
    (tmp_path / "r.csv").write_text("field,value\njob_number,1\n")
    assert main(["fill", str(form), str(tmp_path / "r.csv"), "-o", str(form)]) == 0
    assert is_alone(path) and is_alone(form) and is_alone(out / name)


def test_only_litter_of_ours_is_cleared(job: Path) -> None:
    """A user's own files with names like ours stay; what a killed run left goes."""
    ours = job.with_name(f"{safe_write._own_name(job)}{safe_write.UNFINISHED}")
    kept = [
        ".job.xlsx.my notes.unfinished",
        f"{ours.name}.txt",
        ours.name.replace(safe_write.UNFINISHED, "-notes.unfinished"),
        ".engine-check-notes.unfinished",
    ]
    for name in [*kept, ours.name]:
        job.with_name(name).write_bytes(b"mine")
    check_workbook(job)
    assert sorted(each.name for each in job.parent.iterdir()) == sorted([*kept, job.name])


def test_a_dangling_link_is_not_written_through(job: Path, tmp_path: Path) -> None:
    """A link in the folder of copies that leads to nothing is said, and nothing is made where it leads."""
    out = tmp_path / "out"
    out.mkdir()
    (out / job.name).symlink_to(tmp_path / "elsewhere.xlsx")
    with pytest.raises(UnusableFile, match="link to a file that does not exist"):
        check_workbook(job, out_dir=out)
    assert not (tmp_path / "elsewhere.xlsx").exists()
