"""The whole diagnosis of one filled form: a list of steps, each a pure function of what was read.

diagnose(form)      findings, discrepancies, tests still to do, computed values and marks
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from workbook_tools.diagnose import (
    bill,
    compression_checks,
    conclusions,
    dates,
    fuel_checks,
    guide,
    ignition_checks,
    readiness_checks,
    repairs,
    specifications,
    timed_pull,
    vacuum_checks,
)
from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.entries import open_case
from workbook_tools.diagnose.findings import drafts
from workbook_tools.diagnose.headline import headline
from workbook_tools.diagnose.limits import limits_changed
from workbook_tools.diagnose.marks import marks
from workbook_tools.diagnose.model import Diagnosis, Discrepancy, State
from workbook_tools.diagnose.order import findings, states_of
from workbook_tools.diagnose.workbook_checks import check_workbook_cells, computed_values
from workbook_tools.form import the_form
from workbook_tools.form.start import CORE_IN_LIMITS, CORE_MADE
from workbook_tools.language.model import SYSTEMS, System
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.specs.book import SpecsBook


@dataclass(frozen=True)
class Step:
    """What one part of the work contributes beside its findings: functions of the case, any of which may be absent."""

    conflicts: Callable[[Case], Iterable[Discrepancy]] = lambda case: ()
    missing: Callable[[Case], Iterable[Discrepancy]] = lambda case: ()


#: The work in the order of the sheets.
STEPS: tuple[Step, ...] = (
    Step(specifications.conflicts),
    Step(readiness_checks.conflicts),
    Step(compression_checks.conflicts, compression_checks.missing),
    Step(vacuum_checks.conflicts, vacuum_checks.missing),
    Step(ignition_checks.conflicts, ignition_checks.missing),
    Step(fuel_checks.conflicts, fuel_checks.missing),
    Step(bill.check, bill.missing),
    Step(timed_pull.conflicts, timed_pull.missing),
    Step(dates.conflicts),
)


def diagnose(form: FilledForm, specs: SpecsBook | None = None) -> Diagnosis:
    """Judge one filled form; with a specs book, hold the engine's figures against it too."""
    return judge(*open_case(form), specs)


def judge(case: Case, slips: Sequence[Discrepancy], specs: SpecsBook | None = None) -> Diagnosis:
    """Judge an opened case; `slips` are the discrepancies of its entries."""
    form, discrepancies = case.form, list(slips)
    discrepancies += check_workbook_cells(form, case.values)
    discrepancies += limits_changed(form, specs) if specs is not None else []
    found_by_verdict = list(drafts(case))
    core = {system: core_state(case, system) for system in SYSTEMS}
    states = states_of(found_by_verdict, core)
    found = findings(case, found_by_verdict, core)
    discrepancies += [each for step in STEPS for each in (*step.conflicts(case), *step.missing(case))]
    discrepancies += [*conclusions.check(case, found), *repairs.check(case, found)]
    proofs = repairs.proofs(case, found)
    return Diagnosis(
        workbook=str(form.path),
        job_number=case.texts.get("job_number", ""),
        form_version=form.form_version,
        headline=headline(case, found, states, proofs, discrepancies),
        states=states,
        findings=found,
        discrepancies=in_form_order(case, discrepancies),
        missing=guide.to_do(case),
        computed=computed_values(case),
        marks=tuple(marks(case)),
        digest=form.digest,
        retaken=tuple(repairs.retaken(case)),
        repairs=proofs,
        notes=timed_pull.notes(case),
        next=guide.next_steps(case, discrepancies, found),
        suspects=guide.suspects(case),
    )


def in_form_order(case: Case, discrepancies: list[Discrepancy]) -> tuple[Discrepancy, ...]:
    """Discrepancies in the order of the form's cells, each once."""
    places = {name: place for place, name in enumerate(the_form.cells(case.shape))}
    return tuple(sorted(dict.fromkeys(discrepancies), key=lambda each: places.get(each.field, len(places))))


def core_state(case: Case, system: System) -> State:
    """Where a system stands by its core readings alone, faults left aside."""
    if case.holds(CORE_IN_LIMITS[system]):
        return "proven"
    return "proven as far as the figures go" if case.holds(CORE_MADE[system]) else "not proven yet"
