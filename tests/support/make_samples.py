"""The sample workbooks made anew from their readings: `python -m tests.support.make_samples`.

For each row of `sample_workbooks/jobs.csv` a form is written, LibreOffice types the readings into its cells
by name, calculates and saves it (filled), and the check adds its findings sheet to a copy (checked).
"""

from __future__ import annotations

import csv
import datetime as dt
import tempfile
from dataclasses import dataclass
from pathlib import Path

from tests.support.office import Entry, Office
from workbook_tools import check_workbook, new_workbook
from workbook_tools.form import the_form
from workbook_tools.generate.fill import as_typed
from workbook_tools.generate.workbook import shape_for
from workbook_tools.language.model import Field

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_workbooks"
#: The checked samples say this day, so that making them anew changes nothing else.
CHECKED_AT = dt.datetime(2026, 3, 20, 9, 0)


@dataclass(frozen=True)
class SampleJob:
    """One row of the jobs table; `typed_over` holds figures that somebody typed over a formula."""

    file: str
    cylinders: int
    banks: str
    firing_order: str
    units: str
    currency: str
    typed_over: tuple[tuple[str, str], ...]

    @property
    def readings(self) -> Path:
        """The list of its readings."""
        return SAMPLES / "readings" / f"{self.file}.csv"

    @property
    def filled(self) -> Path:
        """The workbook as the spreadsheet program saved it."""
        return SAMPLES / "filled" / f"{self.file}.xlsx"

    @property
    def checked(self) -> Path:
        """The same with its findings sheet."""
        return SAMPLES / "checked" / f"{self.file}.xlsx"


def jobs() -> list[SampleJob]:
    """The sample jobs in the order of the table."""
    with (SAMPLES / "jobs.csv").open(newline="", encoding="utf-8") as file:
        return [_job(row) for row in csv.DictReader(file)]


def _job(row: dict[str, str]) -> SampleJob:
    typed_over = tuple(tuple(pair.split("=")) for pair in row["typed_over"].split())
    plain = {name: row[name] for name in ("file", "banks", "firing_order", "units", "currency")}
    return SampleJob(**plain, cylinders=int(row["cylinders"]), typed_over=typed_over)


def entries(job: SampleJob) -> dict[str, Entry]:
    """What is typed into the form, by cell name: the readings, then what is typed over formulas."""
    cells = the_form.cells(shape_for(job.cylinders, job.banks, job.units, job.currency))
    typed: dict[str, Entry] = {}
    with job.readings.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            item = cells[row["field"]].item
            assert isinstance(item, Field), f"{row['field']} is computed"
            typed[row["field"]] = as_typed(item, row["value"])
    return typed | {name: float(figure) for name, figure in job.typed_over}


def write_form(job: SampleJob, path: Path) -> Path:
    """The empty form for the job's engine."""
    return new_workbook(
        path,
        cylinders=job.cylinders,
        banks=job.banks,
        firing_order=job.firing_order,
        units=job.units,
        currency=job.currency,
    )


def make(office: Office, job: SampleJob) -> None:
    """Write the filled and the checked workbook of one job anew."""
    job.filled.parent.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        form = write_form(job, Path(folder) / "form.xlsx")
        office.fill(form, entries(job), job.filled, seen=True)
    job.checked.unlink(missing_ok=True)
    check_workbook(job.filled, out_dir=job.checked.parent, now=CHECKED_AT)


def main() -> None:
    """Make all samples anew."""
    with Office() as office:
        for job in jobs():
            make(office, job)
            print(job.checked)


if __name__ == "__main__":
    main()
