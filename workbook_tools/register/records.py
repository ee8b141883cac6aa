"""What the register keeps of one job, taken from a filled form and its diagnosis.

    record_of(form, diagnosis, answers)     the record; a pure function

Texts are data: cut to what a cell holds and without the control characters that no store or workbook takes. Money is
whole cents. A reading that could not be used, or looks like a slip, is left out of the engine's history.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from workbook_tools import __version__
from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.form.ranges import default_for
from workbook_tools.language.model import Field, Result, Shape, cell_name
from workbook_tools.read.entries import Entry
from workbook_tools.read.filled_form import FilledForm, FoundCell, is_number
from workbook_tools.report.answers import discrepancy_keys, finding_keys
from workbook_tools.science.money import to_cents
from workbook_tools.sheets.bill_results import BILL_LINES
from workbook_tools.sheets.recheck import before_of, is_taken_again
from workbook_tools.specs.shop import SHOP_ENTRIES

LONGEST_TEXT = 32_767
#: Readings that an engine's history is made of; `after_` of the same counts where it was taken again.
HISTORY = ("compression_dry", "idle_vacuum_mean", "timing")
NOT_TO_BE_TRUSTED = ("unreadable_entry", "implausible_entry", "unit_doubt", "decimal_doubt")
NO_REPAIR, PROVEN, NOT_PROVEN, NOT_RETAKEN, NOT_PROVABLE = (
    "no repair",
    "proven",
    "not proven",
    "not taken again",
    "can't be proven on the form",
)


@dataclass(frozen=True)
class JobFacts:
    """One job in a row; money in whole cents of `currency`, `odometer` in `odometer_unit` (mi, km or h).

    `station_pressure` and the lowest compression and vacuum allowed at that pressure are in the form's units.
    """

    typed_digest: str
    judged_by: str
    is_checked: bool
    units: str
    currency: str
    cylinders: int
    job_number: str
    date_in: dt.date | None
    date_out: dt.date | None
    released_on: dt.date | None
    customer_name: str
    customer_contact: str
    technician: str
    vehicle: str
    vehicle_year: int | None
    plate: str
    engine_serial: str
    engine_name: str
    odometer: float | None
    odometer_unit: str
    complaint: str
    complaint_notes: str
    headline: str
    repair: str
    proof: str
    parts_used: str
    hours: float
    parts_cents: int
    labour_cents: int
    tax_cents: int
    total_cents: int
    owed_tests: int
    open_discrepancies: int
    invoice_number: str
    invoice_date: dt.date | None
    paid_on: dt.date | None
    tax_percent: float | None
    station_pressure: float | None
    compression_min: float | None
    vacuum_min: float | None


@dataclass(frozen=True)
class FindingFacts:
    """One finding of a job; cylinders as `3, 4`."""

    cause: str
    system: str
    cylinders: str
    strength: str
    provisional: bool
    statement: str
    next_step: str
    caution: str
    rule: str
    source: str
    answer: str


@dataclass(frozen=True)
class DiscrepancyFacts:
    """One discrepancy of a job; `answer` is what was typed beside it, '' while it is open."""

    kind: str
    field: str
    cell: str
    message: str
    answer: str


@dataclass(frozen=True)
class RepairFacts:
    """The repair of one cause and how it stands."""

    cause: str
    work: str
    proof: str


@dataclass(frozen=True)
class LineFacts:
    """One line of the bill: the cause it was for ('' for none), hours, and whole cents of parts and labour."""

    cause: str
    work: str
    part: str
    hours: float
    parts_cents: int
    labour_cents: int


@dataclass(frozen=True)
class ReadingFacts:
    """One reading of the engine's history; `number` is the cylinder, 0 for the whole engine; as found and as left."""

    name: str
    number: int
    unit: str
    found: float | None
    left_as: float | None


@dataclass(frozen=True)
class JobRecord:
    """All that the register keeps of one job."""

    job: JobFacts
    findings: tuple[FindingFacts, ...]
    discrepancies: tuple[DiscrepancyFacts, ...]
    repairs: tuple[RepairFacts, ...]
    readings: tuple[ReadingFacts, ...]
    lines: tuple[LineFacts, ...]


def judged_by() -> str:
    """What a record was made with: another program or form version may judge otherwise."""
    return f"{__version__}/{the_form.FORM_VERSION}"


def record_of(
    form: FilledForm, diagnosis: Diagnosis, answers: Mapping[str, str], is_checked: bool
) -> JobRecord:
    """The record of one job; `answers` by key as `read_answers` gives them."""
    entries = _Entries(form, diagnosis)
    discrepancies = _discrepancies(diagnosis, answers)
    repairs = _repairs(diagnosis)
    facts = JobFacts(
        typed_digest=form.digest,
        judged_by=judged_by(),
        is_checked=is_checked,
        units=form.shape.units,
        currency=clean(form.shape.currency),
        cylinders=form.shape.cylinders,
        job_number=entries.text("job_number"),
        date_in=entries.date("date_in"),
        date_out=entries.date("date_out"),
        released_on=entries.date("released_on"),
        customer_name=entries.text("customer_name"),
        customer_contact=entries.text("customer_contact"),
        technician=entries.text("technician"),
        vehicle=entries.text("vehicle"),
        vehicle_year=entries.whole("vehicle_year"),
        plate=entries.text("plate"),
        engine_serial=entries.text("engine_serial"),
        engine_name=entries.text("engine_name"),
        odometer=entries.number("odometer"),
        odometer_unit=entries.text("odometer_unit") or ("mi" if form.shape.units == "us" else "km"),
        complaint=entries.text("complaint"),
        complaint_notes=entries.text("complaint_notes"),
        headline=clean(diagnosis.headline),
        repair=clean("; ".join(dict.fromkeys(entries.column("work")))),
        proof=proof_of(repairs),
        parts_used=clean("; ".join(dict.fromkeys(entries.column("part")))),
        hours=round(sum(entries.numbers("hours")), 2),
        parts_cents=entries.cents("parts_total"),
        labour_cents=entries.cents("labour_total"),
        tax_cents=entries.cents("tax_total"),
        total_cents=entries.cents("bill_total"),
        owed_tests=len(diagnosis.missing),
        open_discrepancies=sum(not each.answer for each in discrepancies),
        invoice_number=entries.text("invoice_number"),
        invoice_date=entries.date("invoice_date"),
        paid_on=entries.date("paid_on"),
        tax_percent=entries.number("tax_percent"),
        station_pressure=entries.number("station_pressure"),
        compression_min=entries.number("site_compression_min"),
        vacuum_min=entries.number("site_idle_vacuum_min"),
    )
    findings = _findings(diagnosis, answers)
    readings, lines = tuple(_readings(entries)), tuple(_lines(entries))
    return JobRecord(facts, findings, discrepancies, repairs, readings, lines)


def is_blank(form: FilledForm) -> bool:
    """Whether the form is still empty but for a number, the shop's data and the engine's figures: a stock of forms is no job."""
    return all(
        cell.form.sheet.name == "Engine"
        or name == "job_number"
        or name in SHOP_ENTRIES
        or _as_it_was_made(cell, form.shape)
        for name, cell in form.inputs.items()
    )


def _as_it_was_made(cell: FoundCell, shape: Shape) -> bool:
    item = cell.form.item
    assert isinstance(item, Field)
    typed = "" if cell.raw is None else f"{cell.raw:g}" if is_number(cell.raw) else str(cell.raw).strip()
    default = default_for(item, shape, cell.form.number)
    made = "" if default is None else f"{default:g}" if isinstance(default, float) else str(default)
    return typed in ("", made)


def clean(text: object) -> str:
    """A text as every store and workbook takes it: no control characters or half characters, no longer than a cell."""
    kept = (c if c >= " " or c in "\n\t" else " " for c in str(text))
    whole_text = "".join(c for c in kept if not 0xD800 <= ord(c) <= 0xDFFF and ord(c) not in (0xFFFE, 0xFFFF))
    return whole_text[:LONGEST_TEXT].strip()


def proof_of(repairs: tuple[RepairFacts, ...]) -> str:
    """How a job's repairs stand together: the worst that can be told of any."""
    said = {each.proof for each in repairs}
    return next((each for each in (NOT_PROVEN, NOT_RETAKEN, PROVEN, NOT_PROVABLE) if each in said), NO_REPAIR)


class _Entries:
    """The entries of a form and its recomputed results by name; what can't be trusted is not there."""

    def __init__(self, form: FilledForm, diagnosis: Diagnosis) -> None:
        self.form = form
        self.results = {each.name: each.recomputed for each in diagnosis.computed}
        self.distrusted = {each.field for each in diagnosis.discrepancies if each.kind in NOT_TO_BE_TRUSTED}

    def entry(self, name: str) -> Entry | None:
        return self.form.entries.get(name)

    def text(self, name: str) -> str:
        entry = self.entry(name)
        return clean(entry.value) if entry is not None and isinstance(entry.value, str) else ""

    def date(self, name: str) -> dt.date | None:
        entry = self.entry(name)
        value = entry.value if entry is not None else None
        if isinstance(value, dt.datetime):
            return value.date()
        return value if isinstance(value, dt.date) else None

    def number(self, name: str) -> float | None:
        """A usable reading or result."""
        if name in self.distrusted or any(each in self.distrusted for each in _rests_on(name)):
            return None
        entry = self.entry(name)
        value = entry.value if entry is not None else self.results.get(name)
        if isinstance(value, bool) or not isinstance(value, (int, float, Decimal)):
            return None
        return float(value) if math.isfinite(value) else None

    def whole(self, name: str) -> int | None:
        value = self.number(name)
        return None if value is None else int(value)

    def cents(self, name: str) -> int:
        value = self.number(name)
        return 0 if value is None else int(to_cents(value) * 100)

    def column(self, name: str) -> list[str]:
        """The texts of a repeated field."""
        return [text for text in (self.text(each) for each in self._names(name)) if text]

    def numbers(self, name: str) -> list[float]:
        """The numbers of a repeated field."""
        return [value for value in (self.number(each) for each in self._names(name)) if value is not None]

    def _names(self, name: str) -> list[str]:
        return [cell_name(name, number) for number in self.form.shape.numbers(the_form.repeats()[name])]


def _findings(diagnosis: Diagnosis, answers: Mapping[str, str]) -> tuple[FindingFacts, ...]:
    keys = finding_keys(diagnosis.findings)
    return tuple(
        FindingFacts(
            cause=each.cause,
            system=each.system,
            cylinders=", ".join(str(n) for n in each.cylinders),
            strength=each.strength,
            provisional=each.provisional,
            statement=clean(each.statement),
            next_step=clean(each.next_step),
            caution=clean(each.caution),
            rule=clean(each.rule),
            source=clean(each.source),
            answer=clean(answers.get(key, "")),
        )
        for each, key in zip(diagnosis.findings, keys, strict=True)
    )


def _discrepancies(diagnosis: Diagnosis, answers: Mapping[str, str]) -> tuple[DiscrepancyFacts, ...]:
    keys = discrepancy_keys(diagnosis.discrepancies)
    return tuple(
        DiscrepancyFacts(
            each.kind, clean(each.field), clean(each.cell), clean(each.message), clean(answers.get(key, ""))
        )
        for each, key in zip(diagnosis.discrepancies, keys, strict=True)
    )


def _repairs(diagnosis: Diagnosis) -> tuple[RepairFacts, ...]:
    words = {"proven": PROVEN, "not proven": NOT_PROVEN, "not retaken": NOT_RETAKEN}
    found = []
    for each in diagnosis.repairs:
        provable = bool(CAUSES[each.cause].recheck)
        proof = words[each.verdict] if provable or each.verdict != "not retaken" else NOT_PROVABLE
        found.append(RepairFacts(each.cause, clean(each.work) or CAUSES[each.cause].shown_as, proof))
    return tuple(found)


def _readings(entries: _Entries) -> Iterator[ReadingFacts]:
    shape = entries.form.shape
    for name in HISTORY:
        item, _ = the_form.items()[name]
        for number in shape.numbers(item.per):
            found = entries.number(cell_name(name, number))
            after = entries.number(cell_name(_taken_again()[name], number))
            if found is not None or after is not None:
                left_as = found if after is None else after
                yield ReadingFacts(name, number or 0, item.measure.unit(shape.units), found, left_as)


def _lines(entries: _Entries) -> Iterator[LineFacts]:
    """The lines of the bill on which anything stands."""
    for number in range(1, BILL_LINES + 1):
        line = LineFacts(
            cause=entries.text(cell_name("work_cause", number)),
            work=entries.text(cell_name("work", number)),
            part=entries.text(cell_name("part", number)),
            hours=round(entries.number(cell_name("hours", number)) or 0.0, 2),
            parts_cents=entries.cents(cell_name("line_parts", number)),
            labour_cents=entries.cents(cell_name("line_labour", number)),
        )
        if line.work or line.part or line.hours or line.parts_cents or line.labour_cents:
            yield line


# --- what belongs together, from the form ------------------------------------------------------------------------------


@cache
def _taken_again() -> Mapping[str, str]:
    """Readings of the history, each with the one that takes its place after a repair."""
    return {before_of(name): name for name in the_form.repeats() if is_taken_again(name)}


@cache
def _rests_on(name: str) -> tuple[str, ...]:
    """The readings that a result comes from: a doubt about those is a doubt about the result."""
    if name not in HISTORY and not is_taken_again(name):
        return ()
    item, _ = the_form.items().get(name, (None, None))
    return the_form.items_read(item) if isinstance(item, Result) else ()
