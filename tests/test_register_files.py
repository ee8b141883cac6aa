"""The register over a folder of real workbooks: what is read, what is skipped, what is read again."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from tests.support.many_jobs import filled_bytes, jobs, write_jobs
from tests.support.postgres import own_database
from workbook_tools import check_workbook, new_workbook
from workbook_tools.commands.program import main
from workbook_tools.errors import BadRequest, UnusableFile
from workbook_tools.register import RegisterMade, make_register
from workbook_tools.register.store import Store


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A folder with six filled jobs of three engines."""
    write_jobs(tmp_path / "shop", 6, 3)
    return tmp_path / "shop"


def run(folder: Path, **options: object) -> RegisterMade:
    """The register of the folder, written beside it."""
    return make_register(folder, folder.parent / "register.xlsx", **options)  # type: ignore[arg-type]


def texts(path: Path, sheet: str) -> set[object]:
    """All that stands on a sheet."""
    return {cell.value for row in load_workbook(path)[sheet].iter_rows() for cell in row}


def test_amounts_and_readings_come_from_the_workbooks(shop: Path) -> None:
    """Every job stands with its number, and its bill as the workbook's own formulas give it."""
    made = run(shop)
    assert (made.jobs, made.engines, made.read, made.unusable) == (6, 3, 6, ())
    engine, typed = next(jobs(6, 3))
    found = texts(made.out, "Jobs")
    assert {f"J-{n:05d}" for n in range(1, 7)} <= found
    form = load_workbook(next(shop.rglob(f"{typed['job_number']}.xlsx")), data_only=True)
    ((sheet, cell),) = form.defined_names["bill_total"].destinations
    assert form[sheet][cell.replace("$", "")].value in found
    assert any(str(text).endswith(engine.name) for text in found)


def test_only_what_is_new_is_read(shop: Path) -> None:
    """Nothing is read twice: not an unchanged file, not one that was moved, not one whose time alone changed."""
    run(shop)
    assert run(shop).read == 0
    first, second, third, *_ = sorted(shop.rglob("*.xlsx"))
    first.rename(shop / "moved.xlsx")
    os.utime(second, ns=(1, 1))
    made = run(shop)
    assert (made.read, made.gone, len(made.moved), made.jobs) == (0, (), 1, 6)
    engine, typed = next(jobs(1, 1, seed=9))
    third.write_bytes(filled_bytes(engine, typed | {"job_number": "changed"}))
    made = run(shop)
    # Another job was saved over it: the one that was there is not lost with it.
    assert (made.read, made.jobs, len(made.written_over), made.missing) == (1, 7, 1, 1)
    assert "changed" in texts(made.out, "Jobs")


def test_what_is_no_job_is_skipped_and_counted(shop: Path) -> None:
    """Other workbooks, blank forms, lock files, hidden files and the register itself are no jobs; a broken file is said."""
    Workbook().save(shop / "prices.xlsx")
    new_workbook(shop / "blank.xlsx", job_number="77")
    (shop / "~$open.xlsx").write_bytes(b"lock")
    (shop / ".~lock.open.xlsx#").write_bytes(b"lock")
    (shop / ".hidden.xlsx").write_bytes(b"hidden")
    (shop / "broken.xlsx").write_bytes(b"PK\x03\x04 broken")
    made = make_register(shop, shop / "register.xlsx")
    again = make_register(shop, shop / "register.xlsx")
    for each in (made, again):
        assert (each.jobs, each.others, each.blank, each.locks, len(each.unusable)) == (6, 1, 1, 2, 1)
    assert "broken.xlsx" in again.unusable[0]
    assert again.read == 0
    assert any("broken.xlsx" in str(text) for text in texts(again.out, "Open points"))


def test_checked_copies_are_the_same_jobs(shop: Path) -> None:
    """Jobs and their checked copies below one folder are listed once."""
    for path in sorted(shop.rglob("*.xlsx"))[:2]:
        check_workbook(path, out_dir=shop / "checked")
    made = run(shop)
    assert (made.jobs, made.copies) == (6, 2)
    assert not [concern for concern in made.concerns if "files" in concern]


def test_the_same_bytes_twice_are_read_once_and_said(shop: Path) -> None:
    """A copied file is read once, listed once, and reported."""
    first = next(shop.rglob("*.xlsx"))
    shutil.copy(first, shop / "copy of it.xlsx")
    made = run(shop)
    assert (made.jobs, made.read) == (6, 6)
    assert any("copy of it.xlsx" in concern for concern in made.concerns)


def test_two_processes_read_as_one_does(shop: Path) -> None:
    """Reading several files at a time gives the same store as one after the other."""
    write_jobs(shop / "more", 10, 4, seed=5)
    kept = []
    for jobs_at_once in (1, 2):
        place = shop.parent / f"{jobs_at_once}.sqlite"
        run(shop, store=place, jobs=jobs_at_once)
        with Store.open(place) as store:
            kept.append(store.frame("jobs"))
    assert kept[0].equals(kept[1])


def test_an_interrupted_run_goes_on_where_it_was(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was stored before a run was broken off is not read again by the next."""
    monkeypatch.setattr("workbook_tools.register.make.BATCH", 2)

    def interrupted(done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(shop, progress=interrupted)
    assert run(shop).read == 4


def test_shops_share_a_server(shop: Path) -> None:
    """Two shops keep their jobs on one PostgreSQL server; each sees its own, and all where all are asked for."""
    other = shop.parent / "other"
    write_jobs(other, 2, 1, seed=3)
    with own_database() as url:
        with pytest.raises(BadRequest, match="--shop"):
            run(shop, store=url)
        assert run(shop, store=url, shop="north").jobs == 6
        assert run(other, store=url, shop="south").jobs == 2
        made = run(shop, store=url, shop="north", every_shop=True)
        assert (made.jobs, made.read) == (8, 0)
        assert {"north", "south"} <= texts(made.out, "Jobs")


def test_a_register_that_is_open_elsewhere_is_left_alone(shop: Path) -> None:
    """A register that a spreadsheet program has open is refused before anything is read, and stays as it is."""
    made = run(shop)
    before = made.out.read_bytes()
    (shop.parent / "~$register.xlsx").write_bytes(b"lock")
    with pytest.raises(UnusableFile, match="open in another program"):
        run(shop)
    assert made.out.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        ([], 0, "6 jobs of 3 engines"),
        (["--csv", "csv"], 0, "6 jobs"),
        (["--out", "register.ods"], 2, "written as .xlsx"),
        (["--store", "mysql://host/x", "--shop", "x"], 2, "not mysql"),
    ],
)
def test_the_command(
    shop: Path,
    arguments: list[str],
    code: int,
    words: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The command says what it did or why not, on standard error only."""
    monkeypatch.chdir(shop.parent)
    assert main(["register", "shop", "--out", "register.xlsx", "--jobs", "1", *arguments]) == code
    told = capsys.readouterr()
    assert words in told.err
    assert told.out == ""


def test_a_folder_that_is_none_is_said(tmp_path: Path) -> None:
    """A folder that is not there is refused in a sentence."""
    with pytest.raises(BadRequest, match="no folder"):
        make_register(tmp_path / "none", tmp_path / "register.xlsx")


def test_another_folder_is_refused_and_nothing_forgotten(shop: Path, tmp_path: Path) -> None:
    """A register pointed at another folder, or at an empty one, refuses and says how it may go on; all jobs stay."""
    made = run(shop)
    before = made.out.read_bytes()
    write_jobs(tmp_path / "other", 3, 2, seed=5)
    for file in sorted((tmp_path / "other").rglob("*.xlsx")):
        file.rename(file.with_name(f"other-{file.name}"))
    (tmp_path / "empty").mkdir()
    for folder in (tmp_path / "other", tmp_path / "empty"):
        with pytest.raises(BadRequest, match=r"none of its 6 jobs can be found below .*--forget-missing"):
            run(folder)
    assert made.out.read_bytes() == before
    assert run(shop).jobs == 6
    assert run(tmp_path / "other", forget_missing=True).jobs == 3


def test_a_folder_that_lost_its_jobs_is_refused(shop: Path) -> None:
    """A folder that is empty today, as on a drive that is not there, does not empty the register."""
    run(shop)
    shutil.move(shop, shop.with_name("away"))
    shop.mkdir()
    with pytest.raises(BadRequest, match="none of its 6 jobs"):
        run(shop)


def test_a_moved_folder_is_known_again(shop: Path) -> None:
    """The same files in another place are the same register, also where some were taken out; a vanished file is named."""
    run(shop)
    moved = shop.with_name("moved")
    shutil.move(shop, moved)
    gone = sorted(moved.rglob("*.xlsx"))[0]
    name = gone.relative_to(moved).as_posix()
    gone.unlink()
    made = run(moved)
    assert (made.jobs, made.gone) == (6, (name,))


def test_checked_jobs_of_the_same_folder_are_no_other_folder(shop: Path) -> None:
    """Files that all changed since the last run, as after a check, are still the register's jobs."""
    run(shop)
    assert main(["check", str(shop), "--jobs", "1"]) == 0
    assert run(shop).jobs == 6
