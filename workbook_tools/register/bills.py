"""What was billed, paid and is open: invoices, months, years, by cause and by technician, from the jobs' own cents.

    bills_of(jobs, lines, paid, today)      all of it as frames; a pure function

An invoice is of the day that stands on it, else of the day the engine left; a job with neither is not billed yet. Paid is
what has a day, on the form or in the bookkeeper's column: part payments and credit notes are not kept apart.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import pandas as pd

from workbook_tools.faults.causes import CAUSES

KEY = ["shop", "sha256"]
AMOUNTS = ("parts_cents", "labour_cents", "net_cents", "tax_cents", "total_cents", "paid_cents", "open_cents")
OF_LINES = ("parts_cents", "labour_cents", "net_cents")
NOT_BILLED = "not billed yet"
NO_CAUSE, NOT_SPLIT_UP, NO_TECHNICIAN = "no cause given", "lines not kept", "no name"
#: A longer gap between two months is a slip in a year, or a shop that was shut: it is not filled with empty months.
LONGEST_GAP_MONTHS = 24
#: Numbers further apart are two sequences, or a slip in a digit: their gap is told by its ends alone.
LISTED_GAP = 12
_TRAILING_DIGITS = re.compile(r"(.*?)(\d{1,15})\s*", re.DOTALL)

#: What the bookkeeper typed for a job: a day, or words where it is no day.
Paid = Mapping[tuple[str, str], object]


@dataclass(frozen=True)
class Bills:
    """Frames with one row an invoice, month, year, cause and year, technician and year; amounts in whole cents."""

    invoices: pd.DataFrame
    months: pd.DataFrame
    years: pd.DataFrame
    causes: pd.DataFrame
    technicians: pd.DataFrame


def bills_of(jobs: pd.DataFrame, lines: pd.DataFrame, paid: Paid, today: dt.date) -> Bills:
    """Bring the jobs' bills together; `paid` goes before what a form says, by (shop, sha256)."""
    billed = billed_jobs(jobs, paid, today)
    return Bills(
        invoices=invoices(billed),
        months=months(billed),
        years=summed(billed, ["year", "currency"]),
        causes=by_cause(billed, lines),
        technicians=summed(
            billed.assign(technician=billed["technician"].replace("", NO_TECHNICIAN)),
            ["year", "technician", "currency"],
        ),
    )


def billed_jobs(jobs: pd.DataFrame, paid: Paid, today: dt.date) -> pd.DataFrame:
    """The jobs with the day, month and year of their bill, net, what is paid and open, and for how many days."""
    rows = jobs.copy()
    rows["billed_on"] = rows["invoice_date"].where(rows["invoice_date"].notna(), rows["date_out"])
    rows["month"] = [f"{day:%Y-%m}" if pd.notna(day) else NOT_BILLED for day in rows["billed_on"]]
    rows["year"] = [month[:4] if month != NOT_BILLED else NOT_BILLED for month in rows["month"]]
    rows["net_cents"] = rows["parts_cents"] + rows["labour_cents"]
    keys = zip(rows["shop"], rows["sha256"], strict=True)
    typed = [paid.get(key) for key in keys]
    rows["paid_on"] = pd.Series(
        [
            own if own is not None else (None if pd.isna(day) else day)
            for own, day in zip(typed, rows["paid_on"], strict=True)
        ],
        index=rows.index,
        dtype=object,
    )
    is_paid = rows["paid_on"].notna()
    rows["paid_cents"] = rows["total_cents"].where(is_paid, 0)
    rows["open_cents"] = rows["total_cents"].where(~is_paid & rows["billed_on"].notna(), 0)
    rows["days_open"] = pd.Series(
        [
            (today - day).days if pd.notna(day) and cents else None
            for day, cents in zip(rows["billed_on"], rows["open_cents"], strict=True)
        ],
        index=rows.index,
        dtype=object,
    )
    return rows


def invoices(billed: pd.DataFrame) -> pd.DataFrame:
    """One row an invoice, the newest first: every bill of an engine that left, and every number that was given."""
    given = billed["invoice_number"] != ""
    left = billed["billed_on"].notna() & (billed["total_cents"] != 0)
    found = billed[given | left]
    order = found.assign(_day=pd.to_datetime(found["billed_on"], errors="coerce"))
    ordered = order.sort_values(["_day", "invoice_number"], ascending=[False, False], na_position="first")
    return ordered.drop(columns="_day").reset_index(drop=True)


def summed(billed: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    """Jobs, hours and money by these columns."""
    sums = {"jobs": ("sha256", "size"), "hours": ("hours", "sum")} | {name: (name, "sum") for name in AMOUNTS}
    return billed.groupby(by, as_index=False).agg(**sums).sort_values(by).reset_index(drop=True)


def months(billed: pd.DataFrame) -> pd.DataFrame:
    """The same by month and currency, with the months between in which nothing was billed."""
    found = summed(billed, ["month", "currency"])
    with_gaps = [_filled(group) for _, group in found.groupby("currency", sort=False)]
    together = pd.concat(with_gaps) if with_gaps else found
    return together.sort_values(["month", "currency"]).reset_index(drop=True)


def _filled(group: pd.DataFrame) -> pd.DataFrame:
    dated = [pd.Period(month, "M") for month in group["month"] if month != NOT_BILLED]
    between = [
        str(earlier + step)
        for earlier, later in zip(dated, dated[1:], strict=False)
        if 1 < (later - earlier).n <= LONGEST_GAP_MONTHS
        for step in range(1, (later - earlier).n)
    ]
    zero = {"currency": group["currency"].iloc[0], "jobs": 0, "hours": 0.0, **dict.fromkeys(AMOUNTS, 0)}
    empty = pd.DataFrame([{"month": month, **zero} for month in between])
    return pd.concat([group, empty]) if between else group


def by_cause(billed: pd.DataFrame, lines: pd.DataFrame) -> pd.DataFrame:
    """Jobs, hours and net by year and the cause that each line of a bill was for.

    Of jobs that were stored before lines were kept there is the sum alone.
    """
    told = billed[[*KEY, "year", "currency"]]
    rows = lines[[*KEY, "cause", "hours", "parts_cents", "labour_cents"]]
    rest = billed[[*KEY, "hours", "parts_cents", "labour_cents"]].set_index(KEY)
    kept = rows.groupby(KEY)[["hours", "parts_cents", "labour_cents"]].sum()
    rest = rest.sub(kept.reindex(rest.index, fill_value=0)).round(2)
    rest = rest[(rest[["parts_cents", "labour_cents"]] != 0).any(axis=1)].reset_index()
    split = rows.assign(named=[_named(cause) for cause in rows["cause"]])
    every = pd.concat([split, rest.assign(named=NOT_SPLIT_UP)]) if len(rest) else split
    every = every.assign(net_cents=every["parts_cents"] + every["labour_cents"]).merge(told, on=KEY)
    sums = {"hours": ("hours", "sum")} | {name: (name, "sum") for name in OF_LINES}
    found = every.groupby(["year", "named", "currency"], as_index=False).agg(**sums)
    counted = every.drop_duplicates([*KEY, "named"]).groupby(["year", "named", "currency"]).size()
    found["jobs"] = [counted[tuple(key)] for key in found[["year", "named", "currency"]].to_numpy()]
    return found.sort_values(["year", "net_cents"], ascending=[True, False]).reset_index(drop=True)


def _named(cause: str) -> str:
    if not cause:
        return NO_CAUSE
    return CAUSES[cause].shown_as if cause in CAUSES else cause


# --- numbers ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class NumberGap:
    """Numbers of a shop's sequence that no invoice has, between two that are there."""

    shop: str
    after: str
    before: str
    missing: tuple[str, ...]
    count: int


def gaps(billed: pd.DataFrame) -> Iterator[NumberGap]:
    """Numbers missing from each sequence: numbers that end in digits, with the same beginning, count up by one."""
    sequences: dict[tuple[str, str], dict[int, str]] = {}
    for shop, number in zip(billed["shop"], billed["invoice_number"], strict=True):
        match = _TRAILING_DIGITS.fullmatch(number)
        if match is not None:
            sequences.setdefault((shop, match[1].strip().casefold()), {}).setdefault(int(match[2]), number)
    for (shop, _), numbers in sorted(sequences.items()):
        ordered = sorted(numbers)
        for lower, upper in zip(ordered, ordered[1:], strict=False):
            if upper - lower > 1:
                between = range(lower + 1, min(upper, lower + 1 + LISTED_GAP))
                spelled = tuple(_spelled(numbers[lower], number) for number in between)
                yield NumberGap(shop, numbers[lower], numbers[upper], spelled, upper - lower - 1)


def _spelled(like: str, number: int) -> str:
    """A number written as the one before it is: R-007 for R-006."""
    match = _TRAILING_DIGITS.fullmatch(like)
    assert match is not None
    return f"{match[1]}{number:0{len(match[2])}d}"


def used_twice(billed: pd.DataFrame) -> pd.DataFrame:
    """Jobs whose invoice number is also another job's, with the number as it is compared."""
    numbered = billed[billed["invoice_number"].str.strip() != ""]
    numbered = numbered.assign(_number=numbered["invoice_number"].str.strip().str.casefold())
    return numbered[numbered.duplicated(["shop", "_number"], keep=False)].sort_values(["shop", "_number"])
