"""Open points: what is unanswered or unproven in a job, and what can't be right between jobs.

    open_points(...)    one row a point: those that only the register can see first, then job by job

A point's key is made of the job number and of what it is about, so that a note beside it stays when the job workbook is
checked or saved again.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import pandas as pd

from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.register.bills import gaps, used_twice
from workbook_tools.register.engines import COMPRESSION, Change, History, Slot, Visit
from workbook_tools.register.records import NOT_PROVEN, NOT_RETAKEN
from workbook_tools.register.schema import JOB
from workbook_tools.science.units import convert

NUMBER_TWICE, NUMBERS_MISSING, NO_NUMBER = (
    "invoice number twice",
    "invoice numbers missing",
    "bill without a number",
)
DUPLICATE, TWICE, DATES, BACKWARDS, FALLING, UNREADABLE, UNPROVEN = (
    "duplicate job number",
    "same file twice",
    "dates conflict",
    "odometer runs backwards",
    "compression falls faster",
    "file can't be used",
    "repair to be proven",
)
LONGEST_LIST = 6


@dataclass(frozen=True)
class Point:
    """One open point: what kind, whose job, where on the form, in a sentence, and the file to open."""

    shop: str
    kind: str
    job_number: str
    date_in: dt.date | None
    customer_name: str
    vehicle: str
    cell: str
    what: str
    path: str
    about: str
    from_register: bool = False


COLUMNS = [*Point.__dataclass_fields__, "key"]
INVOICE_CELL = "Repairs"


def open_points(
    jobs: pd.DataFrame,
    every_content: pd.DataFrame,
    files: pd.DataFrame,
    discrepancies: pd.DataFrame,
    repairs: pd.DataFrame,
    engines: Sequence[History],
) -> pd.DataFrame:
    """All open points as a frame, each with its key."""
    by_path = {(row.shop, row.path): row for row in jobs.itertuples(index=False)}
    points = [
        *duplicate_numbers(jobs),
        *same_files(jobs, every_content, files),
        *(point for engine in engines for point in engine_points(engine, by_path)),
        *unusable_files(files),
        *job_points(jobs, discrepancies, repairs),
    ]
    return _frame(points)


def points_of_bills(invoices: pd.DataFrame) -> pd.DataFrame:
    """Numbers of invoices that stand twice or are missing between two, and bills without one where a shop gives numbers."""
    points = [*numbers_twice(invoices), *numbers_missing(invoices), *without_number(invoices)]
    return _frame(points)


def numbers_twice(invoices: pd.DataFrame) -> Iterator[Point]:
    """Invoices of one number."""
    twice = used_twice(invoices)
    for _, group in twice.groupby(["shop", "_number"], sort=True):
        rows = list(group.itertuples(index=False))
        for row in rows:
            others = _listed([f"job {each.job_number} ({each.path})" for each in rows if each is not row])
            what = f"Invoice number {row.invoice_number} is also that of {others}. Give one of them another number."
            yield _point(row, NUMBER_TWICE, what, INVOICE_CELL, row.path)


def numbers_missing(invoices: pd.DataFrame) -> Iterator[Point]:
    """Gaps in the sequences of numbers."""
    for gap in gaps(invoices):
        named = ", ".join(gap.missing) if len(gap.missing) == gap.count else f"{gap.count:,} numbers"
        verb = "is" if gap.count == 1 else "are"
        what = f"Between invoices {gap.after} and {gap.before} {verb} missing: {named}. Look for the job, or note why there is none."
        yield Point(
            gap.shop, NUMBERS_MISSING, "", None, "", "", "", what, "", f"{gap.after} {gap.before}", True
        )


def without_number(invoices: pd.DataFrame) -> Iterator[Point]:
    """Bills of engines that left, without a number, where the shop numbers its invoices."""
    numbering = set(invoices[invoices["invoice_number"] != ""]["shop"])
    bare = invoices[(invoices["invoice_number"] == "") & invoices["shop"].isin(numbering)]
    for row in bare.itertuples(index=False):
        what = "The engine has left with a bill and no invoice number. Give the bill its number on sheet Repairs."
        yield _point(row, NO_NUMBER, what, INVOICE_CELL, row.path)


def _frame(points: Sequence[Point]) -> pd.DataFrame:
    """Points as a frame, each with its key."""
    seen: dict[str, int] = {}
    rows = []
    for point in points:
        key = json.dumps(["point", point.shop, point.kind, point.job_number, point.about], ensure_ascii=False)
        seen[key] = seen.get(key, 0) + 1
        told_apart = key if seen[key] == 1 else f"{key[:-1]}, {seen[key]}]"
        rows.append(asdict(point) | {"key": told_apart})
    return pd.DataFrame(rows, columns=COLUMNS)


def duplicate_numbers(jobs: pd.DataFrame) -> Iterator[Point]:
    """Job numbers that stand on different jobs; both are counted, so the bookkeeper must know."""
    numbered = jobs[jobs["job_number"] != ""]
    numbered = numbered.assign(_number=numbered["job_number"].str.strip().str.casefold())
    # Set apart first: going through thousands of groups of one is what a register's time would go into.
    several = numbered[numbered.duplicated(["shop", "_number"], keep=False)]
    for _, group in several.groupby(["shop", "_number"], sort=True):
        paths = list(group["path"])
        for row in group.itertuples(index=False):
            others = _listed([path for path in paths if path != row.path])
            what = (
                f"Job number {row.job_number} is also that of another job with other entries, in {others}. Both are counted in "
                "the register: correct the number of one, or remove the file that is not wanted."
            )
            yield _point(row, DUPLICATE, what, cell="Job", about=row.path)


def same_files(jobs: pd.DataFrame, every_content: pd.DataFrame, files: pd.DataFrame) -> Iterator[Point]:
    """Jobs that lie in several files: the same bytes, or the same entries checked twice; they count once.

    A workbook and its checked copy are no point: that is how `check --out-dir` leaves them.
    """
    by_content = files[files["status"] == JOB].groupby(["shop", "sha256"])["path"].apply(list).to_dict()
    held_often = [len(by_content[row.shop, row.sha256]) > 1 for row in every_content.itertuples(index=False)]
    several_files = pd.Series(held_often, index=every_content.index, dtype=bool)
    doubtful = every_content[every_content.duplicated(["shop", "typed_digest"], keep=False) | several_files]
    digests = doubtful.groupby(["shop", "typed_digest"])
    shown = {(row.shop, row.typed_digest): row for row in jobs.itertuples(index=False)}
    for key, group in digests:
        checked = group[group["is_checked"]]
        held = [by_content[row.shop, row.sha256] for row in group.itertuples(index=False)]
        twice = [path for paths in held if len(paths) > 1 for path in paths]
        if len(checked) > 1:
            twice += [
                path for row in checked.itertuples(index=False) for path in by_content[row.shop, row.sha256]
            ]
        if not twice:
            continue
        row = shown[key]
        what = (
            f"The same job lies in {len(set(twice))} files: {_listed(sorted(set(twice)))}. It is counted once; keep one, so "
            "that nobody fills in the other."
        )
        yield _point(row, TWICE, what, about="")


def engine_points(engine: History, by_path: dict[tuple[str, str], Any]) -> Iterator[Point]:
    """What the visits of one engine say against each other."""
    for visit, what, kind, about in (*backwards(engine), *overlapping(engine), *falling(engine)):
        yield _point(by_path[visit.shop, visit.path], kind, what, cell="", about=about)


def backwards(engine: History) -> Iterator[tuple[Visit, str, str, str]]:
    """Visits whose odometer or hours read less than at the visit before."""
    read = [visit for visit in engine.visits if visit.odometer is not None and visit.date_in is not None]
    for earlier, later in zip(read, read[1:], strict=False):
        if (later.odometer or 0.0) < (earlier.odometer or 0.0):
            unit = engine.distance_unit
            what = (
                f"The odometer of {engine.named} reads {later.odometer:,.0f} {unit} at {later.named}, and read "
                f"{earlier.odometer:,.0f} {unit} at {earlier.named}. One of the readings, its unit or a date is a slip, or the "
                "odometer was changed."
            )
            yield later, what, BACKWARDS, earlier.job_number


def overlapping(engine: History) -> Iterator[tuple[Visit, str, str, str]]:
    """Visits that began before the engine had left from the one before; a name alone may be of two engines."""
    if engine.by_name_only:
        return
    for earlier, later in zip(engine.visits, engine.visits[1:], strict=False):
        if earlier.date_out and later.date_in and later.date_in < earlier.date_out and earlier.date_in:
            what = (
                f"{engine.named} came in on {later.date_in} ({later.named}) and had not left from {earlier.named} before "
                f"{earlier.date_out}. One of the dates is a slip, or the jobs are of two engines."
            )
            yield later, what, DATES, earlier.job_number


def falling(engine: History) -> Iterator[tuple[Visit, str, str, str]]:
    """Cylinders that lost clearly more compression since the visit before than their own history lets expect.

    Expected is the rate of all earlier visits over the same distance, a gain counting as none. Clearly more: by over the
    difference between cylinders that is common practice, since two gaugings of a sound cylinder differ by some of that.
    """
    allowed = convert(common_spread(), "psi", engine.units[COMPRESSION])
    lost: list[str] = []
    for slot in engine.slots:
        if slot[0] != COMPRESSION:
            continue
        changes = [each for each in engine.changes(slot) if each.distance]
        if len(changes) < 2 or changes[-1].later is not engine.visits[-1]:
            continue
        last = changes[-1]
        if explained(last, slot):
            continue
        expected = _expected(changes[:-1], last.distance or 0.0)
        if -last.by - expected > allowed:
            unit = engine.units[COMPRESSION]
            lost.append(
                f"cylinder {slot[1]} lost {-last.by:.0f} {unit} where {expected:.0f} was to be expected"
            )
    if lost:
        earlier, later = engine.visits[-2:]
        what = (
            f"Compression of {engine.named} falls faster than its own history since {earlier.named}: {'; '.join(lost)}. "
            "Look for the cause, or gauge it again."
        )
        yield later, what, FALLING, earlier.job_number


def explained(change: Change, slot: Slot) -> bool:
    """Whether a proven repair of the compression lies between, after which this cylinder was not gauged again.

    Carbon that was cleaned out, say, had raised the reading before.
    """
    reading = change.earlier.readings[slot]
    of_compression = any(
        cause in CAUSES and CAUSES[cause].system == "compression" for cause in change.earlier.proven
    )
    return of_compression and reading.found == reading.left_as


def common_spread() -> float:
    """The difference between cylinders that common practice allows, in psi."""
    return float(the_form.fields()["spec_compression_spread"].default or 0.0)


def _expected(earlier: Sequence[Change], distance: float) -> float:
    """The loss over a distance at the rate of earlier visits, at least none."""
    run = sum(each.distance or 0.0 for each in earlier)
    return max(0.0, -sum(each.by for each in earlier) / run * distance) if run else 0.0


def unusable_files(files: pd.DataFrame) -> Iterator[Point]:
    """Workbooks that could not be read; of one that could be read before, the job as it was then still stands."""
    for row in files[files["message"] != ""].itertuples(index=False):
        yield Point(row.shop, UNREADABLE, "", None, "", "", "", row.message, row.path, row.path, True)


def job_points(jobs: pd.DataFrame, discrepancies: pd.DataFrame, repairs: pd.DataFrame) -> Iterator[Point]:
    """Unanswered discrepancies, and repairs not proven where no discrepancy says so already."""
    rows = {(row.shop, row.sha256): row for row in jobs.itertuples(index=False)}
    open_ones: dict[tuple[str, str], list[Point]] = {key: [] for key in rows}
    said = set()
    for each in discrepancies.itertuples(index=False):
        key = (each.shop, each.sha256)
        if each.kind == "repair_not_proven":
            said.add(key)
        if not each.answer:
            open_ones[key].append(
                _point(rows[key], each.kind.replace("_", " "), each.message, each.cell, each.field)
            )
    for each in repairs.itertuples(index=False):
        key = (each.shop, each.sha256)
        if key in said or each.proof not in (NOT_PROVEN, NOT_RETAKEN):
            continue
        name = CAUSES[each.cause].shown_as if each.cause in CAUSES else each.cause
        what = f"The repair of “{name}” ({each.work}) is {each.proof}: take the reading that decides it on sheet Recheck."
        open_ones[key].append(_point(rows[key], UNPROVEN, what, "Recheck", each.cause))
    for points in open_ones.values():
        yield from points


def _point(row: Any, kind: str, what: str, cell: str = "", about: str = "") -> Point:
    day = None if pd.isna(row.date_in) else row.date_in
    from_register = kind in (DUPLICATE, TWICE, BACKWARDS, FALLING, NUMBER_TWICE) or (
        kind == DATES and not cell
    )
    return Point(
        row.shop,
        kind,
        row.job_number,
        day,
        row.customer_name,
        row.vehicle,
        cell,
        what,
        row.path,
        about,
        from_register,
    )


def _listed(paths: Sequence[str]) -> str:
    shown = ", ".join(paths[:LONGEST_LIST])
    return shown + (f" and {len(paths) - LONGEST_LIST} more" if len(paths) > LONGEST_LIST else "")
