"""Dates of a job that can't all be right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.form import the_form

#: The earlier day first: the later one can't lie before it.
IN_ORDER = (
    ("date_in", "date_out", "date out is before date in"),
    ("date_in", "released_on", "the day of release is before date in"),
    ("released_on", "date_out", "date out is before the day of release"),
)
#: A job that seems to take longer has a slip in a year (common practice, no source).
LONGEST_JOB_YEARS = 10
DAYS_A_YEAR = 365.25


def conflicts(case: Case) -> Iterator[Discrepancy]:
    """Days in the wrong order, years that no job takes, gauges checked after the job, an engine newer than its job."""
    for earlier, later, why in IN_ORDER:
        first, then = day(case, earlier), day(case, later)
        if first is not None and then is not None and then < first:
            yield conflict(case, later, f"not before {first}", f"{why}, {first}")
    yield from _too_long(case)
    yield from _gauges(case)
    yield from _newer_than_the_job(case)


def day(case: Case, name: str) -> dt.date | None:
    """A date that could be read, without its hours."""
    value = case.dates.get(name)
    if isinstance(value, dt.datetime):
        return value.date()
    return value if isinstance(value, dt.date) else None


def _too_long(case: Case) -> Iterator[Discrepancy]:
    came = day(case, "date_in")
    for name in ("date_out", "released_on"):
        end = day(case, name)
        if came is None or end is None:
            continue
        years = (end - came).days / DAYS_A_YEAR
        if years > LONGEST_JOB_YEARS:
            reason = f"that is {years:.0f} years after the engine came in ({came}), longer than any job; one of the years is a slip"
            yield _discrepancy(
                case, "implausible_entry", name, f"within {LONGEST_JOB_YEARS} years of {came}", reason
            )


def _gauges(case: Case) -> Iterator[Discrepancy]:
    """A gauge may be checked while the job is on, but not after its last day."""
    last = [found for name in ("date_out", "released_on") if (found := day(case, name)) is not None]
    came, checked = day(case, "date_in"), day(case, "gauges_checked_on")
    end = max(last) if last else came
    if checked is not None and end is not None and checked > end:
        what = "the last day of the job" if last else "the day the engine came in"
        yield conflict(
            case,
            "gauges_checked_on",
            f"not after {end}",
            f"gauges last checked after {what} ({end}) were not checked for it",
        )


def _newer_than_the_job(case: Case) -> Iterator[Discrepancy]:
    year, came = case.number("vehicle_year"), day(case, "date_in")
    # Vehicles are sold as next year's from the year before on (common practice, no source).
    if year is not None and came is not None and year > came.year + 1:
        reason = f"a vehicle of {year:.0f} can't have come in on {came}; the year or the date is a slip"
        where = case.form.where("vehicle_year")
        message = f"{where} ({spoken('vehicle_year')}): {reason}. Correct the one that is wrong."
        yield Discrepancy(
            "dates_conflict", "vehicle_year", where, f"{year:.0f}", f"at most {came.year + 1}", message
        )


def conflict(case: Case, name: str, expected: str, reason: str) -> Discrepancy:
    """A dates_conflict at one cell."""
    return _discrepancy(case, "dates_conflict", name, expected, reason)


def _discrepancy(case: Case, kind: str, name: str, expected: str, reason: str) -> Discrepancy:
    where, found = case.form.where(name), str(day(case, name))
    message = f"{where} ({spoken(name)}) says {found}: {reason}. Correct the one that is wrong."
    return Discrepancy(kind, name, where, found, expected, message)


def spoken(name: str) -> str:
    """The label of a cell as it stands on the form."""
    return the_form.items()[name][0].label
