"""What the diagnosis says: findings with their evidence, discrepancies, tests still to do, marks, computed values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from workbook_tools.language.model import System

Strength = Literal["confirmed", "indicated", "possible"]
State = Literal["proven", "proven as far as the figures go", "fault found", "not proven yet"]

#: Every kind of discrepancy, with what it means in plain words.
DISCREPANCY_KINDS: dict[str, str] = {
    "unreadable_entry": "what was typed can't be read",
    "implausible_entry": "a reading that can't be right, and no typing slip explains it",
    "unit_doubt": "a reading that looks as if taken in another unit",
    "decimal_doubt": "a reading that looks as if its decimal point were out of place",
    "entry_is_text": "a number that the cell holds as text, so that the sheet can't calculate with it",
    "missing_reading": "a test was begun, and a reading that it needs is missing",
    "formula_replaced": "a computed cell was typed over or changed",
    "result_differs": "a stored result is not what its readings give",
    "not_calculated": "a computed cell has no stored result",
    "limit_changed": "a specification differs from the shop's specs book",
    "readings_conflict": "two readings contradict each other",
    "conclusion_contradicted": "the readings contradict the technician's conclusion",
    "conclusion_unsupported": "nothing on the form speaks for or against the technician's conclusion",
    "finding_not_concluded": "a confirmed finding that the technician did not name",
    "repair_not_proven": "the reading that would prove the repair is out of limits, or was not taken again",
    "bill_differs": "the bill does not add up",
    "dates_conflict": "dates that can't all be right",
    "layout_changed": "a cell can no longer be found by its name, or the form was changed",
    "duplicate_job": "a job number that another job has too",
}


@dataclass(frozen=True)
class Evidence:
    """One cell that a finding rests on: field name, sheet and cell, value and unit."""

    field: str
    cell: str
    value: float | str | None
    unit: str


@dataclass(frozen=True)
class Finding:
    """One fault, how sure it is, on which evidence, by which rule, and what to do next."""

    cause: str
    system: System
    cylinders: tuple[int, ...]
    strength: Strength
    provisional: bool
    statement: str
    evidence: tuple[Evidence, ...]
    rule: str
    source: str
    next_step: str
    caution: str


@dataclass(frozen=True)
class Draft:
    """A finding as a system's module gives it, before the order of checking is applied.

    `waits_for`: systems that must be proven, or it is provisional. `provisional` with `why_provisional`: provisional
    for a reason of its own. `rests_on`: further cells (by name) it rests on that are not worth showing as evidence.
    `despite`: causes that do not touch it, though they are a fault in a system that it waits for.
    """

    cause: str
    strength: Strength
    statement: str
    evidence: tuple[str, ...]
    rule: str
    cylinders: tuple[int, ...] = ()
    waits_for: tuple[System, ...] = ()
    provisional: bool = False
    why_provisional: str = ""
    next_step: str = ""
    rests_on: tuple[str, ...] = ()
    caution: str = ""
    despite: tuple[str, ...] = ()


@dataclass(frozen=True)
class Discrepancy:
    """Something on the form that can't be as it stands: where, what it holds, what was expected, why it matters."""

    kind: str
    field: str
    cell: str
    found: str
    expected: str
    message: str

    def __post_init__(self) -> None:
        if self.kind not in DISCREPANCY_KINDS:
            raise ValueError(f"no such kind of discrepancy: {self.kind}")


@dataclass(frozen=True)
class OwedTest:
    """A test still to be made: its name, the cells it fills, and in one sentence why it matters."""

    test: str
    fields: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class NextStep:
    """What to do now: a test by name, or `repair`, `recheck`, `read again`; its blank cells, minutes with set-up, and why."""

    test: str
    fields: tuple[str, ...]
    minutes: float
    why: str
    cell: str


@dataclass(frozen=True)
class Suspect:
    """A cause that fits what was read, where it sits, and its share among all that may be (of 1)."""

    cause: str
    cylinders: tuple[int, ...]
    share: float


@dataclass(frozen=True)
class Computed:
    """A computed cell: what the workbook holds and what its readings give in Python."""

    name: str
    cell: str
    unit: str
    workbook: float | str | None
    recomputed: float | str | None
    agrees: bool


@dataclass(frozen=True)
class Mark:
    """A reading's mark against its limits, and where the limits come from."""

    field: str
    cell: str
    mark: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    limit_source: str


@dataclass(frozen=True)
class Retaken:
    """A reading before and after the repair, each with its mark."""

    field: str
    before: float | str | None
    mark_before: str
    after: float | str | None
    mark_after: str
    unit: str


@dataclass(frozen=True)
class RepairProof:
    """Whether the repair of one cause is proven, not proven or not retaken, and by which readings."""

    cause: str
    work: str
    verdict: Literal["proven", "not proven", "not retaken"]
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True)
class Diagnosis:
    """All that was found in one workbook."""

    workbook: str
    job_number: str
    form_version: int
    headline: str
    states: Mapping[System, State]
    findings: tuple[Finding, ...]
    discrepancies: tuple[Discrepancy, ...]
    missing: tuple[OwedTest, ...]
    computed: tuple[Computed, ...]
    marks: tuple[Mark, ...]
    digest: str
    retaken: tuple[Retaken, ...] = ()
    repairs: tuple[RepairProof, ...] = ()
    notes: tuple[str, ...] = field(default=())
    next: tuple[NextStep, ...] = ()
    suspects: tuple[Suspect, ...] = ()
