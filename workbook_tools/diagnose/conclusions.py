"""What the technician concluded, held against the readings and against what was found.

    check(case, findings)       conclusions contradicted or unsupported, and confirmed findings that were not named
    named_cylinders("3 and 4", 6)   (3, 4)

A finding of the named cause supports a conclusion, however sure it is. Else it is contradicted where another cause is
confirmed in its place or its own test speaks against it, and unsupported where nothing speaks.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.entries import shown
from workbook_tools.diagnose.findings import shown_below
from workbook_tools.diagnose.model import Discrepancy, Finding
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.words import cylinders_in_words
from workbook_tools.form import the_form
from workbook_tools.language.model import cell_name

#: The same wear, in one cylinder or in all: naming one names the other, as far as the cylinders go.
SAME_WEAR = ("worn_rings", "general_wear")

_EVERY = re.compile(r"(?:all|every|each)(?: of them)?")
_FILLER = re.compile(r"\b(?:cylinders?|cyls?|numbers?|nos?|and)\b\.?|[#&+,;/.()\s]")
_SPAN = re.compile(r"(\d+)\s*(?:to|through|thru)\s*(\d+)")
_DASHED = re.compile(r"\d+(?:\s*[-\u2013]\s*\d+)+")
LISTED_AT_MOST = 3
#: No cylinder, but a telephone or part number typed into the wrong cell.
_TOO_LONG = re.compile(r"\d{10}")

#: Letters of a statement that is said again with a contradiction.
LONGEST_STATEMENT = 400


@dataclass(frozen=True)
class Conclusion:
    """One row of what the technician concluded; `cylinders` is () where none were named or they can't be read."""

    row: int
    cause: str
    cylinders: tuple[int, ...]

    @property
    def in_words(self) -> str:
        """`worn or broken rings, worn cylinder (cylinder 3)`."""
        return named(self.cause, self.cylinders)


def check(case: Case, found: Sequence[Finding]) -> Iterator[Discrepancy]:
    """Every discrepancy of the technician's conclusions."""
    yield from _unusable_cylinders(case)
    concluded = conclusions(case)
    judged = [each for conclusion in concluded for each in _judge(case, conclusion, found)]
    yield from judged
    if concluded:
        yield from _not_concluded(case, concluded, found, " ".join(each.message for each in judged))


def conclusions(case: Case) -> tuple[Conclusion, ...]:
    """The conclusions that can be read, in the order of the sheet."""
    rows = case.values.numbers_of("concluded_cause")
    return tuple(
        Conclusion(row, case.text("concluded_cause", row), cylinders_of_row(case, row))
        for row in rows
        if row is not None and case.text("concluded_cause", row) in CAUSES
    )


# --- cylinders as people write them ----------------------------------------------------------------------------------


def cylinders_of_row(case: Case, row: int) -> tuple[int, ...]:
    """The engine's cylinders named in a row, () where none are or the entry can't be used."""
    named_here = named_cylinders(
        case.texts.get(cell_name("concluded_cylinders", row), ""), case.shape.cylinders
    )
    usable = isinstance(named_here, tuple) and all(1 <= n <= case.shape.cylinders for n in named_here)
    return named_here if usable and isinstance(named_here, tuple) else ()


def named_cylinders(text: str, cylinders: int) -> tuple[int, ...] | str:
    """Cylinder numbers in a text (`3, 4`, `3+4`, `#3`, `3 and 4`, `1 to 3`, `all`), or why they can't be told.

    The numbers are as written: whether the engine has them is for the caller to see.
    """
    plain = " ".join(_FILLER.sub(" ", text.lower()).split())
    if _EVERY.fullmatch(plain):
        return tuple(range(1, cylinders + 1))
    if _TOO_LONG.search(plain):
        return f"{shown(text)} names no cylinders"
    for dashed in _DASHED.findall(plain):
        first, *more = (int(number) for number in re.findall(r"\d+", dashed))
        if len(more) == 1 and more[0] > first + 1:
            return f"{shown(text)} could be two cylinders or all from {first} to {more[0]}"
    plain = _DASHED.sub(lambda match: re.sub(r"[-\u2013]", " ", match.group()), plain)
    plain = _SPAN.sub(_each_of_span, plain)
    numbers = plain.split()
    if not all(number.isdecimal() for number in numbers):
        return f"{shown(text)} names no cylinders"
    return tuple(sorted({int(number) for number in numbers}))


def _each_of_span(span: re.Match[str]) -> str:
    first, last = int(span.group(1)), int(span.group(2))
    # A span past any engine is left as its two ends, which are then seen to be no cylinders of this one.
    return " ".join(str(n) for n in range(first, last + 1)) if first < last < 100 else f"{first} {last}"


def _unusable_cylinders(case: Case) -> Iterator[Discrepancy]:
    expected = f"cylinders from 1 to {case.shape.cylinders}, for example 3, 4"
    for row in case.values.numbers_of("concluded_cylinders"):
        cell = cell_name("concluded_cylinders", row)
        text = case.texts.get(cell)
        if text is None:
            continue
        numbers, where = named_cylinders(text, case.shape.cylinders), case.form.where(cell)
        if isinstance(numbers, str):
            message = (
                f"{where}: {numbers}. It was not used; write the numbers with commas between them, or all."
            )
            yield Discrepancy("unreadable_entry", cell, where, shown(text), expected, message)
        elif strange := [n for n in numbers if not 1 <= n <= case.shape.cylinders]:
            message = (
                f"{where} names cylinder {strange[0]}, but the engine has {case.shape.cylinders}. The cylinders of this "
                "conclusion were not used; look at the readings again."
            )
            yield Discrepancy("implausible_entry", cell, where, shown(text), expected, message)


# --- one conclusion --------------------------------------------------------------------------------------------------


def _judge(case: Case, conclusion: Conclusion, found: Sequence[Finding]) -> Iterator[Discrepancy]:
    """Contradicted and unsupported parts of one conclusion, its cylinders taken one by one."""
    parts = [(n,) for n in conclusion.cylinders] or [()]
    open_parts = [part for part in parts if not _supported(case, conclusion.cause, part, found)]
    contradicted: list[tuple[int, ...]] = []
    unsupported: list[tuple[int, ...]] = []
    reasons: list[str] = []
    for part in open_parts:
        reason = _contradiction(case, conclusion.cause, part, found)
        if reason is None:
            continue
        (contradicted if reason else unsupported).append(part)
        reasons += [reason] if reason else []
    if contradicted:
        yield _contradicted(case, conclusion, _joined(contradicted), reasons)
    if unsupported:
        yield _unsupported(case, conclusion, _joined(unsupported))


def _supported(case: Case, cause: str, cylinders: tuple[int, ...], found: Sequence[Finding]) -> bool:
    """Whether a finding of the cause, however sure, covers one of these cylinders."""
    own = [each for each in found if each.cause == cause]
    if cause == "worn_rings":
        own += [each for each in found if each.cause == "general_wear"]
    if cause == "general_wear":
        rings = [each for each in found if each.cause == "worn_rings"]
        worn = {n for each in rings for n in each.cylinders}
        own += rings if worn == set(case.cylinders) else []
    return any(_meet(cylinders, each.cylinders) for each in own)


def _contradiction(
    case: Case, cause: str, cylinders: tuple[int, ...], found: Sequence[Finding]
) -> str | None:
    """Why a named cause can't be, '' where nothing speaks of it, None where something speaks for it."""
    for other in found:
        sure = other.strength == "confirmed" and not other.provisional
        if sure and other.cause in CAUSES[cause].replaced_by and _meet(cylinders, other.cylinders):
            return f"{named(other.cause, other.cylinders)} is confirmed in its place"
    judged = CAUSES[cause]
    numbers: Sequence[int | None] = (cylinders or case.cylinders) if judged.of_cylinders else (None,)
    # In one cylinder: any that hints at it is enough, all of them must speak against it.
    against = [number for number in numbers if case.holds(judged.cleared, number)]
    if any(number not in against and case.holds(judged.hinted, number) for number in numbers):
        return None
    if len(against) < len(numbers):
        return ""
    reasons = (the_form.reasons_of(judged.cleared, case.values, number) for number in numbers)
    cells = dict.fromkeys(cell for found in reasons for cell in shown_below(case, found))
    return None if any(cell in case.doubted for cell in cells) else named_readings(case, tuple(cells))


def _meet(named_ones: tuple[int, ...], found_ones: tuple[int, ...]) -> bool:
    return not named_ones or not found_ones or bool(set(named_ones) & set(found_ones))


def _joined(parts: list[tuple[int, ...]]) -> tuple[int, ...]:
    return tuple(n for part in parts for n in part)


def _contradicted(
    case: Case, conclusion: Conclusion, cylinders: tuple[int, ...], reasons: list[str]
) -> Discrepancy:
    cell = cell_name("concluded_cause", conclusion.row)
    where, why = case.form.where(cell), "; ".join(dict.fromkeys(reasons))
    message = (
        f"{where} concludes {named(conclusion.cause, cylinders)}, but the readings contradict it: {why}."
    )
    return Discrepancy("conclusion_contradicted", cell, where, conclusion.in_words, why, message)


def _unsupported(case: Case, conclusion: Conclusion, cylinders: tuple[int, ...]) -> Discrepancy:
    cell = cell_name("concluded_cause", conclusion.row)
    where, decided_by = (
        case.form.where(cell),
        in_plain_words(CAUSES[conclusion.cause].in_units("decided_by", case.shape.units)),
    )
    message = (
        f"{where} concludes {named(conclusion.cause, cylinders)}, but nothing on the form speaks for it or against it. "
        f"It is decided by: {decided_by}."
    )
    return Discrepancy("conclusion_unsupported", cell, where, conclusion.in_words, decided_by, message)


# --- findings that were not named ------------------------------------------------------------------------------------


def _not_concluded(
    case: Case, concluded: tuple[Conclusion, ...], found: Sequence[Finding], said: str
) -> Iterator[Discrepancy]:
    rows = [
        row for row in case.values.numbers_of("concluded_cause") if not case.typed("concluded_cause", row)
    ]
    cell = cell_name("concluded_cause", rows[0] if rows else concluded[-1].row)
    where, holds = case.form.where(cell), "; ".join(each.in_words for each in concluded)
    for finding in found:
        if finding.strength != "confirmed" or finding.provisional or _is_named(case, finding, concluded):
            continue
        what = named(finding.cause, finding.cylinders)
        if f"{what} is confirmed in its place" in said:
            continue
        # A long statement stands with the finding itself.
        told = f"{finding.statement} " if len(finding.statement) <= LONGEST_STATEMENT else ""
        message = (
            f"{what[0].upper()}{what[1:]} is confirmed, but it is not among the conclusions ({where}). {told}"
            "Add it, or take its readings again."
        )
        yield Discrepancy("finding_not_concluded", cell, where, holds, what, message)


def _clearance_cured(case: Case, finding: Finding, concluded: tuple[Conclusion, ...]) -> bool:
    """A valve that leaked for want of clearance is named by that, where its cylinder is back in limits."""
    if finding.cause != "leaking_valve" or not any(each.cause == "tight_valves" for each in concluded):
        return False
    return all(
        case.is_inside("after_compression", n) or case.is_inside("after_leakdown", n)
        for n in finding.cylinders
    )


def _is_named(case: Case, finding: Finding, concluded: tuple[Conclusion, ...]) -> bool:
    causes = SAME_WEAR if finding.cause in SAME_WEAR else (finding.cause,)
    mine = [each for each in concluded if each.cause in causes]
    if not mine:
        return _clearance_cured(case, finding, concluded)
    if any(not each.cylinders or not finding.cylinders for each in mine):
        return True
    covered = {n for each in mine for n in each.cylinders} & set(finding.cylinders)
    enough = 1 if finding.cause == "head_gasket" else len(finding.cylinders)
    return len(covered) >= enough


# --- in words --------------------------------------------------------------------------------------------------------


def named(cause: str, cylinders: tuple[int, ...]) -> str:
    """A cause in the middle of a sentence, with its cylinders: `head gasket leaking ... (cylinders 3 and 4)`."""
    words = CAUSES[cause].shown_as
    words = words[0].lower() + words[1:]
    return f"{words} ({cylinders_in_words(cylinders)})" if cylinders else words


def named_readings(case: Case, cells: Sequence[str]) -> str:
    """Readings in words with their cells: `Timing 8 ° BTDC (Ignition!B12)`."""
    parts = []
    for name in cells:
        cell = the_form.cells(case.shape)[name]
        if case.values.values.get(name) is None or name.startswith(("spec_", "site_")):
            continue
        which = "" if cell.number is None else f" {cell.number}"
        parts.append(
            f"{cell.item.label}{which}: {case.reading(cell.item.name, cell.number)} ({case.form.where(name)})"
        )
    more = f", +{len(parts) - LISTED_AT_MOST} more" if len(parts) > LISTED_AT_MOST else ""
    return ", ".join(parts[:LISTED_AT_MOST]) + more


def in_plain_words(text: str) -> str:
    """A text with the names of cells replaced by their labels."""

    def label(name: re.Match[str]) -> str:
        known = the_form.items().get(name.group())
        return known[0].label.lower() if known else name.group().replace("_", " ")

    return re.sub(r"[a-z]+(?:_[a-z]+)+", label, text)
