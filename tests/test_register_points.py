"""What can't be right between jobs, what is open in them, and what engines' histories say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.support.register_records import finding, kept, record
from workbook_tools.register.bills import bills_of
from workbook_tools.register.contents import Contents, contents_of
from workbook_tools.register.engines import COMPRESSION
from workbook_tools.register.records import DiscrepancyFacts, JobRecord, RepairFacts
from workbook_tools.register.store import Kept, Store


def contents(tmp_path: Path, jobs: Sequence[JobRecord | Kept]) -> Contents:
    """The register's contents for those jobs."""
    with Store.open(tmp_path / "jobs.sqlite") as store:
        store.keep([each if isinstance(each, Kept) else kept(each) for each in jobs])
        return contents_of(store)


def kinds(found: Contents) -> list[str]:
    """Kinds of open points in order."""
    return list(found.points["kind"])


def visit(
    number: str, year: int, odometer: float | None, compression: Sequence[float] = (), **more: object
) -> JobRecord:
    """A visit of one engine on the third of March of a year."""
    day = dt.date(year, 3, 3)
    return record(number, compression, **({"date_in": day, "date_out": day, "odometer": odometer} | more))


def test_a_job_number_on_two_jobs_is_said_at_both(tmp_path: Path) -> None:
    """Numbers that differ only in case or spaces count as the same; each job names the other's file."""
    found = contents(
        tmp_path,
        [record("A-1", plate="A"), kept(record("a-1 ", plate="B"), "b.xlsx"), record("2", plate="C")],
    )
    assert kinds(found) == ["duplicate job number"] * 2
    assert "b.xlsx" in found.points["what"].iloc[1] or "b.xlsx" in found.points["what"].iloc[0]
    assert len(found.jobs) == 3


def test_jobs_without_a_number_are_no_duplicates(tmp_path: Path) -> None:
    """Blank numbers are not held against each other."""
    assert not kinds(
        contents(tmp_path, [kept(record("", plate="A"), "a.xlsx"), kept(record("", plate="B"), "b.xlsx")])
    )


def test_a_checked_copy_is_the_same_job(tmp_path: Path) -> None:
    """A workbook and its checked copy are one job, the checked one, and no point."""
    job = record("1", is_checked=False)
    copy = record("1", typed_digest=job.job.typed_digest, headline="Checked.")
    found = contents(tmp_path, [kept(job, "jobs/1.xlsx", "a"), kept(copy, "checked/1.xlsx", "b")])
    assert list(found.jobs["path"]) == ["checked/1.xlsx"]
    assert not kinds(found)
    assert found.copies == 1


@pytest.mark.parametrize("checked_twice", [False, True])
def test_the_same_file_twice_counts_once_and_is_said(tmp_path: Path, checked_twice: bool) -> None:
    """The same bytes in two places, or the same entries checked in two files, are one job and one point."""
    job = record("1")
    twin = record("1", typed_digest=job.job.typed_digest, odometer=50_000.0) if checked_twice else job
    found = contents(
        tmp_path, [kept(job, "a.xlsx", "x"), kept(twin, "b.xlsx", "y" if checked_twice else "x")]
    )
    assert kinds(found) == ["same file twice"]
    assert "a.xlsx, b.xlsx" in found.points["what"].iloc[0]
    assert len(found.jobs) == 1


@pytest.mark.parametrize(
    ("first", "second", "reported"),
    [
        ((50_000, "mi"), (49_000, "mi"), True),
        ((50_000, "mi"), (50_000, "mi"), False),
        ((50_000, "mi"), (81_000, "km"), False),
        ((50_000, "mi"), (80_000, "km"), True),
        ((50_000, "mi"), (120, "h"), False),
        ((50_000, "mi"), (None, "mi"), False),
    ],
)
def test_an_odometer_that_runs_backwards(
    tmp_path: Path, first: tuple[float, str], second: tuple[float | None, str], reported: bool
) -> None:
    """Less distance than at the visit before is reported, in either unit (50,000 mi are 80,467 km, by definition of the
    mile); hours are not held against miles."""
    jobs = [
        visit("1", 2023, first[0], odometer_unit=first[1]),
        visit("2", 2024, second[0], odometer_unit=second[1]),
    ]
    found = contents(tmp_path, jobs)
    assert kinds(found) == (["odometer runs backwards"] if reported else [])
    if reported:
        assert found.points["job_number"].iloc[0] == "2"


@pytest.mark.parametrize(
    ("left", "reported"),
    [(dt.date(2024, 3, 2), False), (dt.date(2024, 3, 3), False), (dt.date(2024, 3, 4), True)],
)
def test_an_engine_in_two_jobs_at_once(tmp_path: Path, left: dt.date, reported: bool) -> None:
    """An engine that came in again before it had left is reported; on the same day it may."""
    found = contents(tmp_path, [visit("1", 2023, 1000, date_out=left), visit("2", 2024, 2000)])
    assert kinds(found) == (["dates conflict"] if reported else [])


# Expected by the rule as it is told on the sheet: the earlier rate over the new distance, and the 10 psi that common
# practice allows between cylinders. The first two intervals lose 2 psi each over 10,000 mi.
@pytest.mark.parametrize(
    ("last", "reported"), [(134, False), (125, False), (124, False), (123, True), (90, True), (150, False)]
)
def test_compression_that_falls_faster_than_its_own_history(
    tmp_path: Path, last: float, reported: bool
) -> None:
    """A cylinder that loses over 10 psi more than its earlier rate gives is reported, with the cylinder."""
    levels = (140.0, 138.0, 136.0, last)
    jobs = [visit(str(n), 2020 + n, 10_000 * (n + 1), (140 - n, level)) for n, level in enumerate(levels)]
    found = contents(tmp_path, jobs)
    assert kinds(found) == (["compression falls faster"] if reported else [])
    if reported:
        assert "cylinder 2 lost" in found.points["what"].iloc[0]


def test_a_repair_does_not_hide_what_was_lost_after_it(tmp_path: Path) -> None:
    """The change runs from how the engine was left to how it is found again."""
    repaired = record(
        "2",
        (140, 95),
        (140, 142),
        date_in=dt.date(2022, 3, 3),
        date_out=dt.date(2022, 3, 3),
        odometer=20_000.0,
    )
    found = contents(
        tmp_path, [visit("1", 2021, 10_000, (142, 141)), repaired, visit("3", 2023, 30_000, (139, 140))]
    )
    (engine,) = found.engines
    assert [change.by for change in engine.changes((COMPRESSION, 2))] == [-46, -2]
    assert engine.last_rate((COMPRESSION, 2)) == pytest.approx(-0.2)
    assert engine.rate((COMPRESSION, 1)) == pytest.approx(-0.15)
    assert engine.per == "per 1,000 mi"


def test_a_history_is_in_the_units_of_the_newest_visit(tmp_path: Path) -> None:
    """Metric and US visits of one engine stand in one unit (1 psi = 6.894757 kPa, NIST SP 811)."""
    metric = visit("2", 2024, 20_000, (900.0,), units="metric", odometer_unit="km")
    found = contents(tmp_path, [visit("1", 2023, 10_000, (140.0,)), metric])
    first = found.engines[0].visits[0]
    assert first.readings[COMPRESSION, 1].found == pytest.approx(965.266, abs=0.001)
    assert first.odometer == pytest.approx(16_093.44)


@pytest.mark.parametrize(
    ("facts", "engines"),
    [
        ([{"plate": "AB-1", "engine_serial": "X"}, {"plate": "ab 1", "engine_serial": "x"}], 1),
        ([{"plate": "AB-1", "engine_serial": "X"}, {"plate": "AB-1", "engine_serial": ""}], 1),
        ([{"plate": "AB-1", "engine_serial": "X"}, {"plate": "AB-1", "engine_serial": "Y"}], 2),
        (
            [
                {"plate": "AB-1", "engine_serial": "X"},
                {"plate": "AB-1", "engine_serial": "Y"},
                {"plate": "AB-1", "engine_serial": ""},
            ],
            3,
        ),
        (
            [
                {"plate": "", "engine_serial": "", "customer_name": "P"},
                {"plate": "", "engine_serial": "", "customer_name": "Q"},
            ],
            2,
        ),
        ([{"plate": "", "engine_serial": "", "customer_name": "P"}] * 2, 1),
        ([{"plate": "", "engine_serial": "", "engine_name": ""}] * 2, 0),
    ],
)
def test_which_jobs_are_of_one_engine(tmp_path: Path, facts: list[dict[str, object]], engines: int) -> None:
    """Plate and serial tell an engine; one of them will do where only one engine has it; else name and customer."""
    jobs = [visit(str(n), 2020 + n, 1000.0 * (n + 1), **each) for n, each in enumerate(facts)]
    assert len(contents(tmp_path, jobs).engines) == engines


def test_answered_discrepancies_are_not_open(tmp_path: Path) -> None:
    """A discrepancy with an answer is closed; one without is open, at its cell."""
    open_one = DiscrepancyFacts("missing_reading", "timing", "Ignition!B7", "Take it.", "")
    closed = DiscrepancyFacts("dates_conflict", "date_out", "Job!B5", "Slip.", "=is right")
    found = contents(tmp_path, [record("1", discrepancies=[open_one, closed])])
    assert found.points[["kind", "cell"]].to_numpy().tolist() == [["missing reading", "Ignition!B7"]]


@pytest.mark.parametrize(
    ("proof", "said", "points"),
    [
        ("proven", False, []),
        ("not proven", False, ["repair to be proven"]),
        ("not taken again", False, ["repair to be proven"]),
        ("not taken again", True, ["repair not proven"]),
        ("can't be proven on the form", False, []),
    ],
)
def test_unproven_repairs_are_open_once(tmp_path: Path, proof: str, said: bool, points: list[str]) -> None:
    """A repair not proven is one open point, be it told by a discrepancy or not; what no reading can prove is none."""
    told = [DiscrepancyFacts("repair_not_proven", "after_timing", "Recheck!B9", "Again.", "")] if said else []
    job = record("1", repairs=[RepairFacts("late_timing", "Set timing", proof)], discrepancies=told)
    assert kinds(contents(tmp_path, [job])) == points


def test_months_have_sums_to_the_cent_and_no_gaps(tmp_path: Path) -> None:
    """A job counts in the month of its invoice, else in which it left; months without jobs stand at nothing."""
    jobs = [
        record("1", date_in=dt.date(2024, 1, 30), date_out=dt.date(2024, 2, 2), total_cents=1001, plate="A"),
        record("2", date_in=dt.date(2024, 2, 20), date_out=None, total_cents=2002, plate="B"),
        record("3", date_in=dt.date(2024, 5, 1), date_out=dt.date(2024, 5, 1), total_cents=-500, plate="C"),
        record("4", date_in=None, date_out=None, total_cents=7, plate="D"),
        record(
            "5",
            date_in=dt.date(2024, 2, 1),
            date_out=dt.date(2024, 2, 1),
            currency="€",
            total_cents=9,
            plate="E",
        ),
    ]
    found = contents(tmp_path, jobs)
    months = bills_of(found.jobs, found.lines, {}, dt.date(2024, 6, 1)).months
    rows = months[["month", "currency", "jobs", "total_cents"]].to_numpy().tolist()
    assert rows == [
        ["2024-02", "$", 1, 1001],
        ["2024-02", "€", 1, 9],
        ["2024-03", "$", 0, 0],
        ["2024-04", "$", 0, 0],
        ["2024-05", "$", 1, -500],
        ["not billed yet", "$", 2, 2009],
    ]


def test_causes_count_once_a_job(tmp_path: Path) -> None:
    """Two findings of one cause in one job are one, by the surer; its repairs are counted by how they stand."""
    jobs = [
        record(
            "1", findings=[finding("worn_rings", "possible"), finding("worn_rings", "confirmed")], plate="A"
        ),
        record(
            "2",
            findings=[finding("worn_rings", "possible")],
            repairs=[RepairFacts("worn_rings", "w", "proven")],
            plate="B",
        ),
        record("3", repairs=[RepairFacts("condenser", "w", "can't be proven on the form")], plate="C"),
    ]
    rows = contents(tmp_path, jobs).causes.set_index("cause")
    assert rows.loc["worn_rings", ["found", "confirmed", "possible", "repaired", "proven"]].tolist() == [
        2,
        1,
        1,
        1,
        1,
    ]
    assert rows.loc["condenser", ["found", "repaired"]].tolist() == [0, 1]


def test_an_empty_folder_gives_an_empty_register(tmp_path: Path) -> None:
    """Nothing in the store gives no rows anywhere, and no error."""
    found = contents(tmp_path, [])
    assert (len(found.jobs), len(found.points), len(found.causes), len(found.engines)) == (0,) * 4
    bills = bills_of(found.jobs, found.lines, {}, dt.date(2024, 6, 1))
    assert all(map(len, vars(bills).values())) is False and len(bills.months) == len(bills.invoices) == 0
