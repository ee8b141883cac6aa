"""The answer in one sentence: what was found, or what is not explained yet. Nothing unexplained is called clear.

headline(case, findings, states, repairs, discrepancies)
signs_left(case, findings)      readings, needle, plugs, noises and the complaint that no finding explains
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy, Finding, RepairProof, State
from workbook_tools.diagnose.order import SETTLED
from workbook_tools.diagnose.repairs import before_cell
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.words import cylinders_in_words
from workbook_tools.form import the_form
from workbook_tools.form.start import WANTED
from workbook_tools.form.the_form import Cell
from workbook_tools.guide.fits import NONE_OF_THESE, bears_on
from workbook_tools.guide.signs import NO_SIGN, OF_THE_NEEDLE, RESULT_SIGNS, unsound
from workbook_tools.guide.tests import TESTS
from workbook_tools.language.expressions import YES
from workbook_tools.language.model import (
    NO_LIMIT,
    OUT_OF_LIMITS,
    SYSTEMS,
    Field,
    Result,
    Shape,
    System,
)
from workbook_tools.sheets.recheck import is_taken_again

LISTED_AT_MOST = 4


def headline(
    case: Case,
    found: Sequence[Finding],
    states: Mapping[System, State],
    repairs: Sequence[RepairProof],
    discrepancies: Iterable[Discrepancy],
) -> str:
    """One sentence on the engine in plain words."""
    sure = [each for each in found if each.strength == "confirmed" and not each.provisional]
    likely = [each for each in found if each not in sure]
    left = signs_left(case, found)
    mended = {each.cause for each in repairs if each.verdict == "proven" or not CAUSES[each.cause].recheck}
    # A repair may be proven of a fault that no reading shows.
    proven = {each.cause for each in repairs if each.verdict == "proven"} & {each.cause for each in found}
    if sure and proven and all(each.cause in mended for each in found):
        still = f" Not explained yet: {listed(left)}." if left else ""
        by_reading = [each for each in found if each.cause in proven]
        seen = [each for each in found if each.cause not in proven]
        by_eye = f" Repaired, and only the eye can prove it: {causes_listed(seen)}." if seen else ""
        return f"Repaired and proven: {causes_listed(by_reading)}.{by_eye}{still}"
    deciding = sure or likely
    correction = first_correction(case, deciding, discrepancies)
    if sure:
        return f"{correction}Found: {causes_listed(sure)}."
    if likely:
        return f"{correction}Nothing is proven yet; the readings point to: {causes_listed(likely)}."
    unproven = [system for system in SYSTEMS if states[system] not in SETTLED]
    if unproven:
        still = f"Not explained yet: {listed(left)}; " if left else "No fault found so far; "
        return f"{still}{unproven[0]} is not proven yet."
    signs = [each for each in left if not each.startswith("the complaint")]
    if signs:
        return f"The core tests are in limits; not explained yet: {listed(left)}."
    complaint = open_complaint(case, found)
    if complaint:
        tests = tests_left(case, complaint)
        if tests:
            return f"The core tests are in limits; not explained yet: {listed(left)}; tests left that bear on it: {listed(tests)}."
        return f"No fault found by any test of this form; the complaint ({complaint}) is not explained."
    wanted = figures_wanted(case, states)
    if wanted:
        return f"No fault found as far as the figures go; wanted: {listed(wanted)}."
    return "No fault found: all four systems are proven, every reading is in limits."


def causes_listed(found: Sequence[Finding]) -> str:
    """Findings in a row; alike ones (cause and strength) are one."""
    groups: dict[tuple[str, str], set[int]] = {}
    for each in found:
        groups.setdefault((each.cause, each.strength), set()).update(each.cylinders)
    parts = []
    for (cause, _), cylinders in groups.items():
        where = f" ({cylinders_in_words(tuple(sorted(cylinders)))})" if cylinders else ""
        parts.append(CAUSES[cause].in_words + where)
    return listed(list(dict.fromkeys(parts)))


def listed(parts: Sequence[str]) -> str:
    """The first few, and how many more there are."""
    more = f"; +{len(parts) - LISTED_AT_MOST} more" if len(parts) > LISTED_AT_MOST else ""
    return "; ".join(parts[:LISTED_AT_MOST]) + more


def first_correction(case: Case, deciding: Sequence[Finding], discrepancies: Iterable[Discrepancy]) -> str:
    """What to read again before the findings are believed: their deciding reading looks like a slip."""
    rests_on = {evidence.field for each in deciding for evidence in each.evidence}
    for each in discrepancies:
        if (
            each.kind in ("unit_doubt", "decimal_doubt")
            and each.field in rests_on
            and each.field in case.doubted
        ):
            return f"Read {each.cell} again first: {each.found} is probably {each.expected}. As typed: "
    return ""


# --- what is not explained -------------------------------------------------------------------------------------------


def signs_left(case: Case, found: Sequence[Finding]) -> list[str]:
    """Every sign of a fault that no finding rests on, as the engine is now: a reading taken again counts in its place."""
    explained = {evidence.field for each in found for evidence in each.evidence}
    retaken = _retaken(case)
    signs: dict[str, None] = {}
    for name, cell in _possible_signs(case.shape).items():
        if name in explained or name in retaken:
            continue
        if _is_sign(case, cell):
            number = "" if cell.number is None else f" {cell.number}"
            signs[f"{cell.item.label.lower()}{number} {case.reading(cell.item.name, cell.number)}"] = None
    complaint = open_complaint(case, found)
    return [*signs, *([f"the complaint ({complaint})"] if complaint else [])]


def _retaken(case: Case) -> set[str]:
    """The readings before a repair that were taken again after it, and what was worked out from them alone."""
    found = {
        before_cell(cell.item.name, cell.number)
        for name, cell in the_form.cells(case.shape).items()
        if isinstance(cell.item, Field) and is_taken_again(cell.item.name) and case.has(name)
    }
    if {"idle_vacuum_low", "idle_vacuum_high"} & found:
        found |= {"idle_vacuum_mean", "idle_vacuum_swing", "needle_suggests"}
    if "gas_co_2" in found:
        found |= {"lambda_2", "gas_misfire_2", "looks_lean_2"}
    if case.has("after_fuel_delivery_rate"):
        found.add("fuel_delivery_rate")
    return found


@lru_cache(maxsize=16)
def _possible_signs(shape: Shape) -> Mapping[str, Cell]:
    """The cells that can hold a sign of a fault, in the order of the form."""
    return {
        name: cell
        for name, cell in the_form.cells(shape).items()
        if cell.item.limits is not None
        or cell.item.name in RESULT_SIGNS
        or (isinstance(cell.item, Field) and cell.item.sound)
    }


def _is_sign(case: Case, cell: Cell) -> bool:
    item, number = cell.item, cell.number
    if item.limits is not None and case.mark(item.name, number) == OUT_OF_LIMITS:
        return True
    if isinstance(item, Result):
        return RESULT_SIGNS.get(item.name) == case.text(item.name, number) != ""
    chosen = case.text(item.name, number)
    if not item.sound or (item.name in OF_THE_NEEDLE and case.shape.cylinders <= 2):
        return False
    return chosen in unsound(item) or (
        chosen in NO_SIGN.get(item.name, ()) and case.is_out("leakdown", number)
    )


def open_complaint(case: Case, found: Sequence[Finding]) -> str:
    """The complaint where no finding that is more than possible explains it, '' where one does or none was given."""
    complaint = case.text("complaint")
    sure = [each for each in found if each.strength != "possible"]
    explained = any(complaint in CAUSES[each.cause].complaints for each in sure) or (
        complaint == "other" and bool(sure)
    )
    return "" if explained else complaint


def tests_left(case: Case, complaint: str) -> list[str]:
    """The tests of this form that can still be made and could show a cause of the complaint."""
    return [
        test.name
        for place, test in enumerate(TESTS, 1)
        if case.text("test_open", place) == YES
        and any(
            complaint in (*CAUSES[suspect].complaints, "other")
            for suspect in bears_on(test)
            if suspect != NONE_OF_THESE
        )
    ]


def figures_wanted(case: Case, states: Mapping[System, State]) -> list[str]:
    """The figures without which a core reading could not be judged."""
    found = []
    for system, state in states.items():
        if state == "proven as far as the figures go":
            for reading, figure in WANTED[system]:
                marks = {case.mark(reading, n) for n in case.values.numbers_of(reading)}
                if NO_LIMIT in marks or (
                    reading == "compression_dry" and not case.has("site_compression_min")
                ):
                    found.append(the_form.items()[figure][0].label.lower())
    return found
