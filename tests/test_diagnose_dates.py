"""Dates of a job that can't all be right. How long a job may take and how new a vehicle may be: common practice, no source."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import pytest

from tests.support.filled import diagnosis_of

MARCH_2, MARCH_9, MARCH_12 = dt.datetime(2026, 3, 2), dt.datetime(2026, 3, 9), dt.datetime(2026, 3, 12)
FEBRUARY_1 = dt.datetime(2026, 2, 1)


@pytest.mark.parametrize(
    ("readings", "expected", "why"),
    [
        ({}, [], "no dates, no conflict"),
        ({"date_in": MARCH_2, "date_out": MARCH_12, "released_on": MARCH_9}, [], "in, released, out"),
        ({"date_in": MARCH_2, "date_out": MARCH_2, "released_on": MARCH_2}, [], "all within a day"),
        ({"date_in": dt.datetime(2026, 3, 2, 15, 30), "date_out": MARCH_2}, [], "hours do not count"),
        ({"date_in": MARCH_9, "date_out": MARCH_2}, ["dates_conflict date_out"], "left before it came"),
        (
            {"date_in": "2026-03-09", "date_out": "2 March 2026"},
            ["dates_conflict date_out"],
            "dates typed as text",
        ),
        (
            {"date_in": MARCH_9, "released_on": MARCH_2},
            ["dates_conflict released_on"],
            "released before it came",
        ),
        (
            {"date_out": MARCH_9, "released_on": MARCH_12},
            ["dates_conflict date_out"],
            "left before it was released",
        ),
        (
            {"date_in": MARCH_2, "date_out": dt.datetime(2062, 3, 12)},
            ["implausible_entry date_out"],
            "2062 for 2026",
        ),
        (
            {"date_in": MARCH_2, "date_out": dt.datetime(2027, 3, 12)},
            [],
            "a year in the shop: a long rebuild",
        ),
        ({"date_in": MARCH_2, "gauges_checked_on": FEBRUARY_1}, [], "checked a month before"),
        ({"date_in": MARCH_2, "gauges_checked_on": dt.datetime(2019, 1, 1)}, [], "old, but possible"),
        (
            {"date_in": MARCH_2, "gauges_checked_on": MARCH_9},
            ["dates_conflict gauges_checked_on"],
            "after the only day known",
        ),
        (
            {"date_in": MARCH_2, "date_out": MARCH_12, "gauges_checked_on": MARCH_9},
            [],
            "checked while the job was on",
        ),
        (
            {"date_in": MARCH_2, "date_out": MARCH_9, "gauges_checked_on": MARCH_12},
            ["dates_conflict gauges_checked_on"],
            "checked when the engine was gone",
        ),
        ({"date_in": MARCH_2, "vehicle_year": 2027}, [], "sold as next year's"),
        (
            {"date_in": MARCH_2, "vehicle_year": 2062},
            ["dates_conflict vehicle_year"],
            "built long after it came in",
        ),
        (
            {"date_in": MARCH_2, "date_out": "03/04/2026"},
            ["unreadable_entry date_out"],
            "March or April: not judged",
        ),
    ],
)
def test_days_of_a_job(readings: Mapping[str, Any], expected: list[str], why: str) -> None:
    """Each conflict is told once, at the later of the two cells."""
    found = diagnosis_of(**readings).discrepancies
    assert [f"{each.kind} {each.field}" for each in found] == expected, why


def test_a_conflict_names_both_days() -> None:
    """The one that is wrong may be either."""
    (found,) = diagnosis_of(date_in=MARCH_9, date_out=MARCH_2).discrepancies
    assert "2026-03-02" in found.message and "2026-03-09" in found.message
    assert (found.found, found.expected) == ("2026-03-02", "not before 2026-03-09")
