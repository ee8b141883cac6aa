"""Invoices, months, years, work and technicians: to the cent, against sums worked out otherwise; numbers missing and twice."""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
from collections import Counter
from decimal import Decimal
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.one_sheet import sheet_in
from tests.support.register_records import kept, record
from tests.test_register_book import contents, rows, type_in, write
from workbook_tools.register.bills import NOT_BILLED, NOT_SPLIT_UP, bills_of, gaps, invoices
from workbook_tools.register.book import register_book
from workbook_tools.register.export import write_csv
from workbook_tools.register.kept import Kept as TypedBefore
from workbook_tools.register.points import points_of_bills
from workbook_tools.register.records import JobRecord, LineFacts
from workbook_tools.register.store import Kept

TODAY = dt.date(2026, 3, 31)


def bill(number: str, chance: random.Random) -> JobRecord:
    """An invented job with a bill of up to four lines, to the cent."""
    lines = tuple(
        LineFacts(
            chance.choice(["worn_rings", "late_timing", ""]),
            "work",
            "part",
            chance.randrange(0, 1200) / 100,
            chance.randrange(-500, 90_000),
            chance.randrange(0, 60_000),
        )
        for _ in range(chance.randrange(0, 5))
    )
    parts, labour = sum(each.parts_cents for each in lines), sum(each.labour_cents for each in lines)
    tax = round(parts * 0.0825)
    day_in = dt.date(2023, 1, 1) + dt.timedelta(chance.randrange(0, 1100))
    out = None if chance.random() < 0.1 else day_in + dt.timedelta(chance.randrange(0, 20))
    invoiced = out + dt.timedelta(chance.randrange(0, 40)) if out and chance.random() < 0.5 else None
    return record(
        number,
        lines=lines,
        plate=f"P {number}",
        date_in=day_in,
        date_out=out,
        invoice_date=invoiced,
        invoice_number=f"R-{int(number):05d}" if out else "",
        paid_on=out if out and chance.random() < 0.6 else None,
        technician=chance.choice(["Invented A", "Invented B", ""]),
        hours=round(sum(each.hours for each in lines), 2),
        parts_cents=parts,
        labour_cents=labour,
        tax_cents=tax,
        total_cents=parts + labour + tax,
    )


def many(count: int) -> list[Kept]:
    chance = random.Random(7)
    return [kept(bill(str(number), chance)) for number in range(1, count + 1)]


def money(text: object) -> Decimal:
    return Decimal(str(text))


def test_a_thousand_invented_jobs_add_up_to_the_cent(tmp_path: Path) -> None:
    """Read back from the CSV files with decimals, and summed by plain loops: the months', years', causes' and people's sums agree."""
    jobs = many(1000)
    found = contents(tmp_path, jobs)
    book = register_book(found, TypedBefore(), root=tmp_path, target=tmp_path / "r.xlsx", today=TODAY)
    write_csv(found, book, tmp_path / "csv")

    def table(name: str) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO((tmp_path / "csv" / f"{name}.csv").read_text("utf-8-sig"))))

    by_month: Counter[str] = Counter()
    by_year: Counter[str] = Counter()
    of_person: Counter[tuple[str, str]] = Counter()
    of_cause: Counter[str] = Counter()
    for each in jobs:
        assert each.record is not None
        job = each.record.job
        day = job.invoice_date or job.date_out
        month = f"{day:%Y-%m}" if day else NOT_BILLED
        by_month[month] += job.total_cents
        by_year[month[:4] if day else NOT_BILLED] += job.total_cents
        of_person[month[:4] if day else NOT_BILLED, job.technician or "no name"] += job.total_cents
        for line in each.record.lines:
            of_cause[month[:4] if day else NOT_BILLED] += line.parts_cents + line.labour_cents
    assert {row["month"]: money(row["total"]) * 100 for row in table("months")} == by_month
    assert {row["year"]: money(row["total"]) * 100 for row in table("years")} == by_year
    told = {(row["year"], row["technician"]): money(row["total"]) * 100 for row in table("technicians")}
    assert told == of_person
    net: Counter[str] = Counter()
    for row in table("work"):
        net[row["year"]] += int(money(row["net"]) * 100)
        assert row["named"] != NOT_SPLIT_UP
    assert net == of_cause
    listed = table("invoices")
    assert sum(money(row["gross"]) for row in listed) * 100 == sum(
        cents for month, cents in by_month.items() if month != NOT_BILLED
    )
    for row in listed:
        assert money(row["net"]) + money(row["tax"]) == money(row["gross"])
    # RFC 4180: one header row, lines end in CRLF, every record of one length; days as ISO 8601
    text = (tmp_path / "csv" / "invoices.csv").read_bytes()
    assert text.count(b"\r\n") == text.count(b"\n") == len(listed) + 1
    dt.date.fromisoformat(listed[0]["date"])
    assert "." in listed[0]["gross"] and "," not in listed[0]["gross"]


def test_the_sheets_show_the_same_sums(tmp_path: Path) -> None:
    """Years on the sheet, in whole units, are the cents of the frames."""
    jobs = many(60)
    path = tmp_path / "r.xlsx"
    made = register_book(contents(tmp_path, jobs), TypedBefore(), root=tmp_path, target=path, today=TODAY)
    path.write_bytes(made.data)
    shown = {row["Year"]: row for row in rows(path, "Years")}
    for row in made.bills.years.to_dict("records"):
        line = shown[row["year"]]
        for heading, name in (
            ("Net", "net_cents"),
            ("Tax", "tax_cents"),
            ("Gross", "total_cents"),
            ("Paid", "paid_cents"),
        ):
            assert round(line[heading] * 100) == row[name]
        billed = row["year"] != NOT_BILLED
        assert row["paid_cents"] + row["open_cents"] == (row["total_cents"] if billed else row["paid_cents"])


def test_paid_by_hand_goes_before_the_form(tmp_path: Path) -> None:
    """A day typed in the bookkeeper's column is the payment; one that stands on the form alone is shown there and not kept."""
    jobs = [
        kept(record("1", paid_on=dt.date(2025, 4, 4), invoice_number="1")),
        kept(record("2", plate="B", invoice_number="2")),
        kept(record("3", plate="C", invoice_number="3")),
    ]
    path = write(tmp_path, jobs)
    shown = {row["Job"]: row["Paid on"] for row in rows(path, "Jobs")}
    assert shown == {"1": dt.datetime(2025, 4, 4), "2": None, "3": None}
    type_in(path, "Jobs", "2", "Paid on", dt.datetime(2025, 5, 5), "yyyy-mm-dd")
    jobs[0] = kept(record("1", paid_on=dt.date(2025, 6, 6), invoice_number="1"))
    path = write(tmp_path, jobs)
    shown = {row["Job"]: row["Paid on"] for row in rows(path, "Jobs")}
    assert shown == {"1": dt.datetime(2025, 6, 6), "2": dt.datetime(2025, 5, 5), "3": None}
    listed = {row["Job"]: row for row in rows(path, "Invoices")}
    assert listed["2"]["Paid on"] == dt.datetime(2025, 5, 5) and listed["2"]["Still to pay"] == 0
    assert listed["3"]["Still to pay"] == pytest.approx(85.89) and listed["3"]["Days open"] > 0


def numbered(*numbers: str, **facts: object) -> pd.DataFrame:
    made = [record(str(n), plate=f"P{n}", invoice_number=number, **facts) for n, number in enumerate(numbers)]
    frame = pd.DataFrame(
        [{"shop": "", "sha256": str(n), "path": f"{n}.xlsx", **vars(each.job)} for n, each in enumerate(made)]
    )
    return bills_of(
        frame,
        pd.DataFrame(columns=["shop", "sha256", "cause", "hours", "parts_cents", "labour_cents"]),
        {},
        TODAY,
    ).invoices


def test_numbers_missing_and_used_twice() -> None:
    """Gaps by the digits at the end, each beginning a sequence of its own."""
    found = numbered(
        "R-2026-001", "R-2026-002", "R-2026-006", "r-2026-006", "X7", "X9", "R-2025-900", "paid in cash"
    )
    assert [(gap.after, gap.before, gap.missing) for gap in gaps(found)] == [
        (
            "R-2026-002",
            found[found["invoice_number"].str.lower() == "r-2026-006"]["invoice_number"].iloc[0],
            ("R-2026-003", "R-2026-004", "R-2026-005"),
        ),
        ("X7", "X9", ("X8",)),
    ]
    points = points_of_bills(found)
    kinds = Counter(points["kind"])
    assert kinds == {"invoice number twice": 2, "invoice numbers missing": 2}
    assert any("R-2026-003, R-2026-004, R-2026-005" in what for what in points["what"])


def test_a_great_gap_is_told_by_its_ends() -> None:
    (gap,) = gaps(numbered("9", "900009"))
    assert gap.count == 899_999 and len(gap.missing) == 12


@given(st.sets(st.integers(1, 300), min_size=2))
def test_every_missing_number_is_counted_once(there: set[int]) -> None:
    frame = pd.DataFrame({"shop": "", "invoice_number": [f"R-{number:04d}" for number in there]})
    missing = set(range(min(there), max(there) + 1)) - there
    assert sum(gap.count for gap in gaps(frame)) == len(missing)
    assert {int(each[2:]) for gap in gaps(frame) for each in gap.missing} <= missing


def test_a_bill_without_a_number_is_told_only_where_a_shop_numbers_its_bills() -> None:
    assert points_of_bills(numbered("", "")).empty
    assert list(points_of_bills(numbered("1", ""))["kind"]) == ["bill without a number"]


def test_jobs_of_an_earlier_store_are_summed_without_their_lines(tmp_path: Path) -> None:
    found = contents(tmp_path, [kept(record("1"))])
    bills = bills_of(found.jobs, found.lines, {}, TODAY)
    assert bills.causes[["named", "net_cents"]].to_numpy().tolist() == [[NOT_SPLIT_UP, 8490]]


def test_an_open_point_leads_to_its_cell(tmp_path: Path) -> None:
    """The link of a point opens the workbook at the cell; a job that is missing has none."""
    from tests.test_register_book import POINT

    path = write(tmp_path, [kept(record("1", discrepancies=[POINT]))])
    page = sheet_in(path, "Open points")
    links = [cell.hyperlink for line in page.iter_rows() for cell in line if cell.hyperlink]
    assert {(link.target, link.location) for link in links} == {("1.xlsx", "'Ignition'!B7"), ("1.xlsx", None)}


def test_invoices_are_those_of_engines_that_left(tmp_path: Path) -> None:
    jobs = [
        kept(record("1", date_out=None)),
        kept(record("2", plate="B", date_out=None, invoice_number="7")),
        kept(record("3", plate="C", total_cents=0, parts_cents=0, labour_cents=0, tax_cents=0)),
        kept(record("4", plate="D")),
    ]
    found = contents(tmp_path, jobs)
    bills = bills_of(found.jobs, found.lines, {}, TODAY)
    assert list(bills.invoices["job_number"]) == ["2", "4"]
    assert len(invoices(bills.invoices)) == 2
