"""The whole diagnosis of one filled form: a list of steps, each a pure function of what was read.

diagnose(form)      findings, discrepancies, tests still owed, computed values and marks
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from workbook_tools.diagnose import (
    bill,
    compression_checks,
    conclusions,
    dates,
    fuel_checks,
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
from workbook_tools.diagnose.limits import limits_changed
from workbook_tools.diagnose.marks import marks
from workbook_tools.diagnose.model import Diagnosis, Discrepancy, Finding, OwedTest, State
from workbook_tools.diagnose.order import findings, states_of
from workbook_tools.diagnose.workbook_checks import check_workbook_cells, computed_values
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.words import cylinders_in_words
from workbook_tools.form import the_form
from workbook_tools.form.summary import CORE_IN_LIMITS
from workbook_tools.language.model import SYSTEMS, System
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.specs.book import SpecsBook


@dataclass(frozen=True)
class Step:
    """What one part of the work contributes beside its findings: functions of the case, any of which may be absent."""

    conflicts: Callable[[Case], Iterable[Discrepancy]] = lambda case: ()
    missing: Callable[[Case], Iterable[Discrepancy]] = lambda case: ()
    owed: Callable[[Case], Iterable[OwedTest]] = lambda case: ()


#: The work in the order of the sheets.
STEPS: tuple[Step, ...] = (
    Step(specifications.conflicts),
    Step(readiness_checks.conflicts, owed=readiness_checks.owed),
    Step(compression_checks.conflicts, compression_checks.missing, compression_checks.owed),
    Step(vacuum_checks.conflicts, vacuum_checks.missing),
    Step(ignition_checks.conflicts, ignition_checks.missing, ignition_checks.owed),
    Step(fuel_checks.conflicts, fuel_checks.missing, fuel_checks.owed),
    Step(bill.check, bill.missing),
    Step(timed_pull.conflicts, timed_pull.missing),
    Step(dates.conflicts),
)


def diagnose(form: FilledForm, specs: SpecsBook | None = None) -> Diagnosis:
    """Judge one filled form; with a specs book, hold the engine's figures against it too."""
    case, discrepancies = open_case(form)
    discrepancies += check_workbook_cells(form)
    discrepancies += limits_changed(form, specs) if specs is not None else []
    found_by_verdict = list(drafts(case))
    proven = {system: case.holds(CORE_IN_LIMITS[system]) for system in SYSTEMS}
    states = states_of(found_by_verdict, proven)
    found = findings(case, found_by_verdict, proven)
    discrepancies += [each for step in STEPS for each in (*step.conflicts(case), *step.missing(case))]
    discrepancies += [*conclusions.check(case, found), *repairs.check(case, found)]
    owed = tuple(each for step in STEPS for each in step.owed(case) if not left_out_by_choice(form, each))
    proofs = repairs.proofs(case, found)
    return Diagnosis(
        workbook=str(form.path),
        job_number=case.texts.get("job_number", ""),
        form_version=form.form_version,
        headline=headline(found, states, {each.cause for each in proofs if each.verdict == "proven"}),
        states=states,
        findings=found,
        discrepancies=in_form_order(case, discrepancies),
        missing=owed,
        computed=computed_values(case),
        marks=tuple(marks(case)),
        digest=form.digest,
        retaken=tuple(repairs.retaken(case)),
        repairs=proofs,
        notes=timed_pull.notes(case),
    )


def left_out_by_choice(form: FilledForm, test: OwedTest) -> bool:
    """Whether a test belongs wholly on sheets that this form was made without."""
    cells = the_form.cells(form.shape)
    sheets = {cells[name].sheet.name for name in test.fields if name in cells}
    return bool(sheets) and sheets <= form.left_out


def in_form_order(case: Case, discrepancies: list[Discrepancy]) -> tuple[Discrepancy, ...]:
    """Discrepancies in the order of the form's cells, each once."""
    places = {name: place for place, name in enumerate(the_form.cells(case.shape))}
    return tuple(sorted(dict.fromkeys(discrepancies), key=lambda each: places.get(each.field, len(places))))


def headline(
    found: tuple[Finding, ...], states: Mapping[System, State], repaired: Collection[str] = ()
) -> str:
    """One sentence on the engine in plain words; `repaired` are the causes whose repair is proven."""
    sure = [each for each in found if each.strength == "confirmed" and not each.provisional]
    likely = [each for each in found if each not in sure]
    if sure and all(each.cause in repaired for each in found):
        return f"Found, repaired and proven: {_listed(list(found))}."
    if sure:
        return f"Found: {_listed(sure)}."
    if likely:
        return f"Nothing is proven yet; the readings point to: {_listed(likely)}."
    if all(state == "proven" for state in states.values()):
        return "No fault found: all four systems are proven, every core reading is in limits."
    first = next(system for system in SYSTEMS if states[system] != "proven")
    return f"No fault found so far; {first} is not proven yet."


def _listed(found: list[Finding]) -> str:
    named = []
    for each in found[:4]:
        where = f" ({cylinders_in_words(each.cylinders)})" if each.cylinders else ""
        words = CAUSES[each.cause].shown_as
        named.append(words[0].lower() + words[1:] + where)
    more = f"; +{len(found) - 4} more" if len(found) > 4 else ""
    return "; ".join(dict.fromkeys(named)) + more
