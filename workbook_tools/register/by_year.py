"""Registers of one year each, where one book of all would be slow to open.

A shop with more jobs than `MOST_JOBS` gets one book a year beside the name that was asked for (`register-2025.xlsx`): a job is
in the year of its bill, else in that in which it came in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pandas as pd

from workbook_tools.register.contents import KEY, Contents

#: A book of so many jobs has 9 MB and opens in half a minute; a sheet holds a million rows, and each job has several findings.
MOST_JOBS = 20_000
UNDATED = "undated"


def book_of_year(target: Path, year: str) -> Path:
    """`register.xlsx` and 2025: `register-2025.xlsx`."""
    return target.with_name(f"{target.stem}-{year}{target.suffix}")


def year_of(jobs: pd.DataFrame) -> pd.Series:
    """The year of each job: of its invoice, else of the day it left, else of the day it came in."""
    day = jobs["invoice_date"].where(jobs["invoice_date"].notna(), jobs["date_out"])
    day = day.where(day.notna(), jobs["date_in"])
    return day.map(lambda each: f"{each:%Y}" if pd.notna(each) else UNDATED)


def by_year(contents: Contents) -> Iterator[tuple[str, Contents]]:
    """Each year with what belongs to it; an engine with its whole history is in every year in which it came."""
    years = year_of(contents.jobs)
    newest = years[years != UNDATED].max()
    for year in sorted(set(years)):
        jobs = contents.jobs[years == year].reset_index(drop=True)
        keys = jobs[KEY]
        paths = set(zip(jobs["shop"], jobs["path"], strict=True))
        of_year = pd.Series(
            [
                (shop, path) in paths or (not path and year == newest)
                for shop, path in zip(contents.points["shop"], contents.points["path"], strict=True)
            ],
            index=contents.points.index,
            dtype=bool,
        )
        yield (
            year,
            replace(
                contents,
                jobs=jobs,
                findings=contents.findings.merge(keys, on=KEY),
                lines=contents.lines.merge(keys, on=KEY),
                points=contents.points[of_year].reset_index(drop=True),
                engines=[
                    engine
                    for engine in contents.engines
                    if any((visit.shop, visit.path) in paths for visit in engine.visits)
                ],
            ),
        )
