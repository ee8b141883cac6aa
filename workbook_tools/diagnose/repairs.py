"""After the repair: every reading that was taken again beside the one before, and which repairs they prove.

    retaken(case)               readings before and after, each with its mark
    proofs(case, findings)      each repaired cause: proven, not proven, not retaken
    check(case, findings)       a discrepancy for each repair that is not proven

What proves a repair is said in `faults.proof`, for the sheet and for the check alike.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.conclusions import conclusions, named, named_readings
from workbook_tools.diagnose.model import Discrepancy, Finding, RepairProof, Retaken
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.proof import READS_BADLY, by_cylinder, is_concerned, is_wrong, proof_of
from workbook_tools.form import the_form
from workbook_tools.language.model import Field, cell_name
from workbook_tools.sheets.gas_results import GAS_POINTS, RAISED
from workbook_tools.sheets.recheck import SOUND_WORDS, before_of, is_taken_again

#: Where a result is missing, the cell to be filled for it.
TYPED_AS = {"after_lambda": "after_gas_co", "after_idle_vacuum_mean": "after_idle_vacuum_low"}


@dataclass(frozen=True)
class Proof:
    """A repair's proof with the cells that decide it: those out of limits, and those still to be taken."""

    repair: RepairProof
    out: tuple[str, ...]
    missing: tuple[str, ...]


def retaken(case: Case) -> Iterator[Retaken]:
    """Every reading taken again, in the order of the form, beside the one before."""
    for name, cell in the_form.cells(case.shape).items():
        item, number = cell.item, cell.number
        if not isinstance(item, Field) or not is_taken_again(item.name) or not case.has(name):
            continue
        before = before_of(item.name)
        yield Retaken(
            field=before_cell(item.name, number),
            before=case.values.values.get(before_cell(item.name, number)),
            mark_before=case.mark(before, before_number(item.name, number)),
            after=case.values.values.get(name),
            mark_after=case.mark(item.name, number),
            unit=case.unit(item.name),
        )


def before_cell(name: str, number: int | None) -> str:
    """The cell of the reading before the repair; the gas taken again is that of the raised speed."""
    before = before_of(name)
    per = the_form.repeats().get(before, "job")
    return cell_name(before, RAISED if number is None and per == GAS_POINTS else number)


def before_number(name: str, number: int | None) -> int | None:
    """The repeat number of the reading before the repair."""
    return (
        RAISED if number is None and the_form.repeats().get(before_of(name), "job") == GAS_POINTS else number
    )


def proofs(case: Case, found: Sequence[Finding]) -> tuple[RepairProof, ...]:
    """Every cause that work was done for, and whether its repair is proven."""
    return tuple(each.repair for each in _proofs(case, found))


def check(case: Case, found: Sequence[Finding]) -> Iterator[Discrepancy]:
    """Repairs that readings disprove; those not taken again too, once a recheck was begun or the job released."""
    due = recheck_begun(case) or is_released(case)
    for each in _proofs(case, found):
        if each.repair.verdict == "not proven":
            yield _out_again(case, each)
        elif each.repair.verdict == "not retaken" and each.missing and due:
            yield _not_taken_again(case, each)


def recheck_begun(case: Case) -> bool:
    """Whether any reading was taken again."""
    return any(is_taken_again(name) and case.typed(name) for name in case.form.inputs)


def is_released(case: Case) -> bool:
    """Whether the job was released."""
    return case.typed("released_by") or case.typed("released_on")


# --- the proof of one repair -----------------------------------------------------------------------------------------


def _proofs(case: Case, found: Sequence[Finding]) -> Iterator[Proof]:
    work: dict[str, list[str]] = {}
    for row in case.values.numbers_of("work_cause"):
        cause = case.text("work_cause", row)
        if cause in CAUSES:
            words = case.texts.get(cell_name("work", row))
            work.setdefault(cause, []).extend([words] if words else [])
    for cause, words in work.items():
        yield _proof(case, cause, "; ".join(dict.fromkeys(words)), found)


def _proof(case: Case, cause: str, work: str, found: Sequence[Finding]) -> Proof:
    # One or two cylinders give no needle to go by.
    names = tuple(
        name for name in CAUSES[cause].recheck if name != "after_needle" or case.shape.cylinders > 2
    )
    proof = proof_of(CAUSES[cause])
    units: Sequence[int | None] = cylinders_of(case, cause, found) if by_cylinder(CAUSES[cause]) else (None,)
    verdicts: list[str] = []
    out: list[str] = []
    missing: list[str] = []
    for unit in units:
        out += [cell_name(name, unit) for name in names if case.holds(is_wrong(name), unit)]
        if case.holds(proof.disproven, unit):
            verdicts.append("not proven")
        elif case.holds(proof.proven_else, unit):
            verdicts.append("proven")
        else:
            verdicts.append("not retaken")
            deciding = [name for name in names if case.holds(proof.deciding[name], unit)]
            missing += [cell_name(TYPED_AS.get(name, name), unit) for name in deciding[:1]]
    verdict = next(
        (each for each in ("not proven", "not retaken") if each in verdicts),
        "proven" if verdicts else "not retaken",
    )
    cells = [
        cell
        for unit in units
        for after in names
        for cell in (before_cell(after, unit), cell_name(after, unit))
    ]
    evidence = case.evidence(tuple(name for name in cells if name in the_form.cells(case.shape)))
    return Proof(RepairProof(cause, work, verdict, evidence), tuple(out), tuple(missing))  # type: ignore[arg-type]


def cylinders_of(case: Case, cause: str, found: Sequence[Finding]) -> tuple[int, ...]:
    """The cylinders that a repair was made in: as on the sheet where it was found, else as concluded, else those that were low."""
    by_sheet = {n for n in case.cylinders if case.holds(is_concerned(CAUSES[cause]), n)}
    by_finding = {n for each in found if each.cause == cause for n in each.cylinders}
    if by_finding:
        return tuple(sorted(by_sheet or by_finding))
    concluded = {n for each in conclusions(case) if each.cause == cause for n in each.cylinders}
    low = {n for n in case.cylinders if case.holds(READS_BADLY, n)}
    again = {n for n in case.cylinders if case.has("after_compression", n) or case.has("after_leakdown", n)}
    return tuple(sorted(concluded or low or again or case.cylinders))


# --- in words --------------------------------------------------------------------------------------------------------


def _out_again(case: Case, proof: Proof) -> Discrepancy:
    cell = proof.out[0]
    cause = proof.repair.cause
    message = (
        f"The repair of {named(cause, ())} is not proven: not in limits after it is {named_readings(case, proof.out)}. "
        "Look for the cause again before the engine leaves."
    )
    return Discrepancy(
        "repair_not_proven", cell, case.form.where(cell), _says(case, cell), _expected(case, cell), message
    )


def _not_taken_again(case: Case, proof: Proof) -> Discrepancy:
    cell, more = proof.missing[0], len(proof.missing) - 1
    where = case.form.where(cell)
    holds = "blank" if not case.typed(cell) else "an entry that can't be judged"
    others = f" (and {more} more)" if more else ""
    why = "was not taken again" if holds == "blank" else "is there, but can't be judged"
    message = (
        f"{where}{others}: the reading that would prove the repair of {named(proof.repair.cause, ())} {why}; "
        "without it the repair is not proven."
    )
    return Discrepancy("repair_not_proven", cell, where, holds, _expected(case, cell), message)


def _says(case: Case, cell: str) -> str:
    form_cell = the_form.cells(case.shape)[cell]
    return case.reading(form_cell.item.name, form_cell.number)


def _expected(case: Case, cell: str) -> str:
    """The limits of a reading in words."""
    form_cell = the_form.cells(case.shape)[cell]
    name, number = form_cell.item.name, form_cell.number
    if name in SOUND_WORDS:
        return SOUND_WORDS[name]
    low, high = (f"{side}_limit_{name}" for side in ("low", "high"))
    if case.has(low, number) and case.has(high, number):
        return f"{case.reading(low, number)} to {case.reading(high, number)}"
    if case.has(low, number):
        return f"at least {case.reading(low, number)}"
    return f"at most {case.reading(high, number)}" if case.has(high, number) else "a reading in limits"
