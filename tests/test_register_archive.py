"""The archive keeps what it has seen: moved, missing, written-over and unreadable files, and stores of earlier versions."""

from __future__ import annotations

import datetime as dt
import shutil
import sqlite3
import threading
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.support.many_jobs import filled_bytes, jobs
from tests.support.postgres import own_database
from tests.support.register_records import kept, record
from workbook_tools.commands.program import main
from workbook_tools.errors import BadRequest, UnusableFile
from workbook_tools.register import make as make_module
from workbook_tools.register import schema
from workbook_tools.register.make import RegisterMade, make_register
from workbook_tools.register.missing import whereabouts
from workbook_tools.register.store import FileFacts, Store

TODAY = dt.date(2026, 3, 31)
V1 = Path(__file__).with_name("golden") / "store_version_1.sql"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Four jobs of invented engines, each in a file of its number."""
    folder = tmp_path / "jobs"
    folder.mkdir()
    for engine, typed in jobs(4, 4):
        (folder / f"{typed['job_number']}.xlsx").write_bytes(filled_bytes(engine, typed))
    return folder


def run(folder: Path, **options: object) -> RegisterMade:
    return make_register(folder, folder.parent / "register.xlsx", today=TODAY, **options)  # type: ignore[arg-type]


def column(made: RegisterMade, heading: str, sheet: str = "Jobs") -> dict[str, object]:
    """What stands under a heading, by job number."""
    page = load_workbook(made.out, data_only=True)[sheet]
    heads = {cell.value: cell.column for cell in page[4]}
    lines = page.iter_rows(min_row=5)
    return {str(line[heads["Job"] - 1].value): line[heads[heading] - 1].value for line in lines}


def test_a_job_whose_file_is_gone_stays_with_its_money(shop: Path) -> None:
    """It is said once, and marked with the day; the sums are as before, until it is forgotten on purpose."""
    before = run(shop)
    money = column(before, "To pay")
    gone = shop / "J-00002.xlsx"
    gone.unlink()
    made = run(shop)
    assert (made.jobs, made.gone, made.missing) == (4, ("J-00002.xlsx",), 1)
    assert column(made, "To pay") == money
    since = column(made, "File missing since")
    assert since["J-00002"] == dt.datetime(2026, 3, 31) and set(since.values()) == {None, since["J-00002"]}
    again = run(shop)
    assert (again.jobs, again.gone, again.missing) == (4, (), 1)
    forgotten = run(shop, forget=["j-00002"])
    assert (forgotten.jobs, forgotten.forgotten, forgotten.missing) == (3, ("J-00002.xlsx",), 0)


def test_a_file_that_comes_back_is_no_longer_missing(shop: Path, tmp_path: Path) -> None:
    run(shop)
    away = shutil.move(shop / "J-00001.xlsx", tmp_path / "away.xlsx")
    assert run(shop).missing == 1
    shutil.move(away, shop / "J-00001.xlsx")
    made = run(shop)
    assert (made.jobs, made.missing, made.read) == (4, 0, 0)


@pytest.mark.parametrize(
    "how", ["moved", "moved and filled in further", "moved and checked", "without a number"]
)
def test_a_file_that_moved_is_the_same_job(shop: Path, how: str) -> None:
    """By its bytes, its entries, or its number."""
    engine, typed = next(jobs(4, 4))
    first = shop / "J-00001.xlsx"
    if how == "without a number":
        first.write_bytes(
            filled_bytes(engine, {name: value for name, value in typed.items() if name != "job_number"})
        )
    run(shop)
    (shop / "done").mkdir()
    target = shop / "done" / "first.xlsx"
    shutil.move(first, target)
    if how == "moved and filled in further":
        target.write_bytes(filled_bytes(engine, typed | {"complaint_notes": "invented words"}))
    if how in ("moved and checked", "without a number"):
        assert main(["check", str(target)]) == 0
    made = run(shop)
    assert (made.jobs, made.missing, made.gone) == (4, 0, ())
    assert made.moved == (("J-00001.xlsx", "done/first.xlsx"),)


def test_a_copy_with_other_entries_is_a_double_number_not_a_move(shop: Path) -> None:
    """Both files are there: two jobs of one number, and the bookkeeper is told."""
    run(shop)
    engine, typed = next(jobs(4, 4))
    (shop / "copy.xlsx").write_bytes(filled_bytes(engine, typed | {"complaint_notes": "other"}))
    made = run(shop)
    assert made.jobs == 5 and any("is also that of another job" in each for each in made.concerns)
    (shop / "copy.xlsx").unlink()
    # Its twin was there the last time already, so nothing moved: what it was billed stays until it is forgotten.
    made = run(shop)
    assert (made.jobs, made.missing, made.moved) == (5, 1, ())


def test_a_corrected_number_is_no_second_job(shop: Path) -> None:
    """The number alone is another: a slip that was corrected."""
    run(shop)
    engine, typed = next(jobs(4, 4))
    (shop / "J-00001.xlsx").write_bytes(filled_bytes(engine, typed | {"job_number": "J-00077"}))
    made = run(shop)
    assert (made.jobs, made.written_over, made.missing) == (4, (), 0)


def test_a_job_that_was_saved_over_is_kept(shop: Path) -> None:
    run(shop)
    first = shop / "J-00001.xlsx"
    first.write_bytes((shop / "J-00003.xlsx").read_bytes())
    (shop / "J-00003.xlsx").unlink()
    made = run(shop)
    assert (made.jobs, made.missing, made.written_over) == (4, 1, ("J-00001.xlsx",))
    assert set(column(made, "Job")) == {"J-00001", "J-00002", "J-00003", "J-00004"}


def test_a_job_whose_file_can_not_be_read_any_more_stays(shop: Path) -> None:
    """A damaged file takes no money out of the month; it is said in every run, and read again when it is mended."""
    run(shop)
    path = shop / "J-00004.xlsx"
    good = path.read_bytes()
    path.write_bytes(good[: len(good) // 2])
    for _ in range(2):
        made = run(shop)
        assert (made.jobs, len(made.unusable)) == (4, 1)
    path.write_bytes(good)
    made = run(shop)
    assert (made.jobs, made.unusable) == (4, ())


def test_only_missing_jobs_can_be_forgotten(shop: Path) -> None:
    run(shop)
    with pytest.raises(BadRequest, match="is in J-00001.xlsx and would be read again"):
        run(shop, forget=["J-00001"])
    with pytest.raises(
        BadRequest, match=r"No job of the register has the number 9; check it \(no file is missing\)"
    ):
        run(shop, forget=["9"])


def test_the_new_year_s_folder_goes_on_with_the_register(shop: Path, tmp_path: Path) -> None:
    """The folder of last year is put away: the register says so, and keeps its jobs where that is asked for."""
    run(shop)
    shutil.move(shop, tmp_path / "last year")
    shop.mkdir()
    engine, typed = list(jobs(6, 6))[5]
    (shop / "new.xlsx").write_bytes(filled_bytes(engine, typed))
    with pytest.raises(BadRequest, match="--keep-missing"):
        run(shop)
    made = run(shop, keep_missing=True)
    assert (made.jobs, made.missing) == (5, 4)
    assert run(shop).jobs == 5


def facts(path: str, sha256: str, status: str = schema.JOB) -> FileFacts:
    return FileFacts(path, 1, 1, sha256, "x", status)


def test_what_is_gone_is_told_from_what_moved() -> None:
    """Pure: bytes first, then entries, then a number that one new file alone has."""
    told = {"a": ("1", "A", None), "b": ("2", "B", None), "b2": ("2", "B2", None), "c": ("", "C", None)}
    before = {"1.xlsx": facts("1.xlsx", "a"), "2.xlsx": facts("2.xlsx", "b"), "3.xlsx": facts("3.xlsx", "c")}
    now = before | {
        "new/2.xlsx": facts("new/2.xlsx", "b2"),
        "note.xlsx": facts("note.xlsx", "", schema.OTHER),
    }
    found = whereabouts(before, now, ["new/2.xlsx"], told)
    assert found.moved == (("2.xlsx", "new/2.xlsx"),)
    assert found.missing == ("1.xlsx", "3.xlsx")
    assert found.dropped == ("note.xlsx",)


# --- stores of other days --------------------------------------------------------------------------------------------


def store_of_version_1(path: Path) -> Path:
    """A store as the first version of the program wrote it."""
    connection = sqlite3.connect(path)
    connection.executescript(V1.read_text(encoding="utf-8"))
    connection.close()
    return path


def test_a_store_of_the_first_version_is_brought_to_today(tmp_path: Path) -> None:
    """Nothing of it is lost: jobs, parts, files and the folder."""
    path = store_of_version_1(tmp_path / "old.sqlite")
    for _ in range(2):
        with Store.open(path) as store:
            found = store.frame("jobs")
            assert sorted(found["job_number"]) == ["117", "118"]
            assert found["total_cents"].sum() == 12345 + 8589 and set(found["invoice_number"]) == {""}
            assert len(store.frame("findings")) == len(store.frame("repairs")) == 1
            readings = store.frame("readings")
            assert readings["found"].tolist() == [110, 150, 148, 151] and readings["left_as"][0] == 149
            assert sorted(store.known_files()) == ["2025/117.xlsx", "2025/118.xlsx"]
            assert store.folder() == "/srv/jobs" and store.frame("lines").empty


def test_a_server_of_the_first_version_is_brought_to_today() -> None:
    from sqlalchemy import create_engine, text

    with own_database() as url:
        engine = create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
        script = V1.read_text(encoding="utf-8").replace("BEGIN TRANSACTION;", "").replace("COMMIT;", "")
        # what SQLite writes otherwise: whole numbers for truth, floats and big numbers of its own
        script = script.replace("is_checked BOOLEAN", "is_checked INTEGER").replace(
            "provisional BOOLEAN", "provisional INTEGER"
        )
        statements = [each.strip() for each in script.split(";\n") if each.strip()]
        order = sorted(
            statements,
            key=lambda each: (
                not each.startswith("CREATE"),
                "FOREIGN KEY" in each,
                'INSERT INTO "register_jobs"' not in each,
            ),
        )
        with engine.begin() as connection:
            for statement in order:
                connection.exec_driver_sql(statement.replace("%", "%%"))
            for table, column_ in (("register_jobs", "is_checked"), ("register_findings", "provisional")):
                connection.execute(
                    text(f"ALTER TABLE {table} ALTER COLUMN {column_} TYPE BOOLEAN USING {column_} <> 0")
                )
        engine.dispose()
        with Store.open(url) as store:
            assert sorted(store.frame("jobs")["job_number"]) == ["117", "118"]
            assert len(store.frame("readings")) == 4


SPOILT = {
    "text in a column of money": "UPDATE register_jobs SET total_cents = 'much'",
    "a day that is none": "UPDATE register_jobs SET date_in = 'yesterday'",
    "bytes in place of a text": "UPDATE register_jobs SET customer_name = x'ff00'",
    "no amount": "UPDATE register_jobs SET tax_cents = 'x' WHERE job_number = '1'",
}


@pytest.mark.parametrize("how", SPOILT)
def test_a_spoilt_store_is_said_in_a_sentence(tmp_path: Path, how: str) -> None:
    path = tmp_path / "jobs.sqlite"
    with Store.open(path) as store:
        store.keep([kept(record("1")), kept(record("2"))])
    connection = sqlite3.connect(path)
    connection.execute(SPOILT[how])
    connection.commit()
    connection.close()
    with pytest.raises(UnusableFile, match="is damaged"), Store.open(path) as store:
        store.frame("jobs")


@pytest.mark.parametrize("page", range(1, 12))
def test_a_store_with_zeroed_pages_is_said_in_a_sentence(tmp_path: Path, page: int) -> None:
    """Whichever page a disk lost: a sentence, or what is left, and never a fault of this program."""
    path = tmp_path / "jobs.sqlite"
    with Store.open(path) as store:
        store.keep([kept(record(str(number), (140, 141))) for number in range(40)])
    data = bytearray(path.read_bytes())
    data[page * 4096 : (page + 1) * 4096] = bytes(len(data[page * 4096 : (page + 1) * 4096]))
    path.write_bytes(data)
    (tmp_path / "none").mkdir()
    told = main(["register", str(tmp_path / "none"), "--out", str(tmp_path / "r.xlsx"), "--store", str(path)])
    assert told in (0, 2)


def test_a_shop_name_that_is_no_text_is_refused(shop: Path) -> None:
    with pytest.raises(BadRequest, match="name of the shop"):
        run(shop, shop="\udcff")


def test_first_runs_at_once_on_an_empty_server_all_succeed() -> None:
    """Each would make the tables; they wait for each other."""
    for _ in range(5):
        with own_database() as url:
            problems: list[BaseException] = []
            begin = threading.Barrier(3)

            def first_run(
                shop: str,
                url: str = url,
                begin: threading.Barrier = begin,
                problems: list[BaseException] = problems,
            ) -> None:
                try:
                    begin.wait()
                    with Store.open(url, shop) as store:
                        store.keep([kept(record("1"))])
                except BaseException as problem:  # a thread's failure must reach the test
                    problems.append(problem)

            threads = [threading.Thread(target=first_run, args=(f"shop {n}",)) for n in range(3)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            assert problems == []
            with Store.open(url, "all") as store:
                assert len(store.frame("jobs", every_shop=True)) == 3


def test_more_jobs_than_a_book_opens_with_are_in_a_book_a_year(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sums of the books are those of the one; notes typed before go with their jobs, and stay where they were."""
    made = run(shop)
    whole = column(made, "To pay")
    book = load_workbook(made.out)
    page = book["Jobs"]
    heads = {cell.value: cell.column for cell in page[4]}
    page.cell(5, heads["Note"], "mine")
    page.cell(5, heads["Paid on"], dt.datetime(2026, 1, 2))
    book.save(made.out)
    before = made.out.read_bytes()
    monkeypatch.setattr(make_module, "MOST_JOBS", 2)
    for _ in range(2):
        made = run(shop, csv_dir=shop.parent / "tables")
        told = (shop.parent / "tables" / "invoices.csv").read_text("utf-8-sig")
        assert told.count("2026-01-02") == 1
        assert len(made.books) > 1 and made.jobs == 4 and made.others == 0
        found: dict[str, object] = {}
        notes = []
        for each in made.books:
            found |= column(replace(made, out=each), "To pay")
            notes += [note for note in column(replace(made, out=each), "Note").values() if note]
        assert (found, notes) == (whole, ["mine"])
        assert made.out.read_bytes() == before
