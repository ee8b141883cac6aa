"""Invented records of jobs for the register, without any workbook: one by one for tests, thousands for benchmarks."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator, Sequence

from tests.support.many_jobs import jobs as many_jobs
from workbook_tools.register.records import (
    DiscrepancyFacts,
    FindingFacts,
    JobFacts,
    JobRecord,
    LineFacts,
    ReadingFacts,
    RepairFacts,
    judged_by,
)
from workbook_tools.register.schema import JOB
from workbook_tools.register.store import FileFacts, Kept

PLAIN = {
    "is_checked": True,
    "units": "us",
    "currency": "$",
    "cylinders": 4,
    "date_in": dt.date(2025, 3, 3),
    "date_out": dt.date(2025, 3, 4),
    "released_on": None,
    "customer_name": "Invented customer",
    "customer_contact": "",
    "technician": "",
    "vehicle": "Invented van",
    "vehicle_year": None,
    "plate": "SAMPLE 1",
    "engine_serial": "INV-1",
    "engine_name": "Invented four",
    "odometer": 50_000.0,
    "odometer_unit": "mi",
    "complaint": "lacks power",
    "complaint_notes": "",
    "headline": "No fault found.",
    "repair": "",
    "proof": "no repair",
    "parts_used": "",
    "hours": 1.5,
    "parts_cents": 1240,
    "labour_cents": 7250,
    "tax_cents": 99,
    "total_cents": 8589,
    "owed_tests": 0,
    "open_discrepancies": 0,
    "invoice_number": "",
    "invoice_date": None,
    "paid_on": None,
    "tax_percent": 8.0,
    "station_pressure": 29.92,
    "compression_min": 100.0,
    "vacuum_min": 17.0,
}


def record(
    job_number: str = "1",
    compression: Sequence[float] = (),
    left_as: Sequence[float] = (),
    findings: Sequence[FindingFacts] = (),
    discrepancies: Sequence[DiscrepancyFacts] = (),
    repairs: Sequence[RepairFacts] = (),
    lines: Sequence[LineFacts] = (),
    **facts: object,
) -> JobRecord:
    """A job that differs from a plain one as said; `compression` by cylinder in psi (kPa where units are metric)."""
    values = PLAIN | facts
    digest = hashlib.sha256(
        repr((job_number, compression, sorted(values.items(), key=str))).encode()
    ).hexdigest()
    unit = "psi" if values["units"] == "us" else "kPa"
    after = list(left_as) or list(compression)
    readings = tuple(
        ReadingFacts("compression_dry", n, unit, found, left)
        for n, (found, left) in enumerate(zip(compression, after, strict=True), start=1)
    )
    chosen = {"typed_digest": digest, "judged_by": judged_by(), "job_number": job_number} | values
    return JobRecord(
        JobFacts(**chosen), tuple(findings), tuple(discrepancies), tuple(repairs), readings, tuple(lines)
    )  # type: ignore[arg-type]


def kept(record_: JobRecord, path: str = "", sha256: str = "") -> Kept:
    """The record as it lies in a file."""
    path = path or f"{record_.job.job_number}.xlsx"
    digest = sha256 or hashlib.sha256((record_.job.typed_digest + path).encode()).hexdigest()
    return Kept(FileFacts(path, 1, 1, digest, judged_by(), JOB), record_)


def many_records(count: int, engine_count: int) -> Iterator[Kept]:
    """Records of the jobs of `many_jobs`, as if their workbooks had been read."""
    for engine, typed in many_jobs(count, engine_count):
        compression = [float(str(typed[f"compression_dry_{n}"])) for n in range(1, engine.cylinders + 1)]
        made = record(
            str(typed["job_number"]),
            compression,
            date_in=typed["date_in"],
            date_out=typed["date_out"],
            plate=typed["plate"],
            engine_serial=typed["engine_serial"],
            engine_name=typed["engine_name"],
            vehicle=typed["vehicle"],
            customer_name=typed["customer_name"],
            odometer=float(engine.odometer),
            odometer_unit=engine.unit,
            cylinders=engine.cylinders,
            findings=(finding("late_timing"),) if typed["timing"] == 1 else (),
        )
        yield kept(made, f"{typed['date_in']:%Y}/{typed['job_number']}.xlsx")


def finding(cause: str, strength: str = "confirmed", answer: str = "") -> FindingFacts:
    """A finding of that cause."""
    return FindingFacts(
        cause, "ignition", "", strength, False, f"Found {cause}.", "Set it.", "", "", "", answer
    )
