"""From verdict cells to findings: strength and row from the sheet's own judgement, words and evidence beside it.

    drafts(case)        one draft for each verdict that names a fault
    typed_below(...)    the readings that a result rests on

No cause is judged here: what a verdict cell says is found, and nothing else. Evidence is what the deciding row read.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Draft
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.model import Cause, Sign
from workbook_tools.form import the_form
from workbook_tools.language.model import Field, Result

#: Results on these sheets are limits: shown as they stand, not traced back to the figures they were worked out from.
OF_LIMITS = ("Engine", "Job")


def drafts(case: Case) -> Iterator[Draft]:
    """Every fault that a verdict cell names, as a draft of a finding."""
    for cause in CAUSES.values():
        if cause.signs:
            yield from _by_verdict(case, cause, cause.engine_cell, cause.signs, None)
        if cause.cylinder_signs:
            for cylinder in case.cylinders:
                yield from _by_verdict(case, cause, cause.cylinder_cell, cause.cylinder_signs, cylinder)


def _by_verdict(
    case: Case, cause: Cause, cell: str, signs: tuple[Sign, ...], number: int | None
) -> Iterator[Draft]:
    if not case.text(cell, number):
        return
    result, _ = the_form.items()[cell]
    assert isinstance(result, Result)
    decided = the_form.decision_of(result, case.values, number)
    assert decided.row is not None
    sign = signs[decided.row]
    assert sign.strength is not None
    cylinders = sign.cylinders(case, number) if sign.cylinders else () if number is None else (number,)
    evidence = list(shown_below(case, decided.cells))
    for other in cylinders:
        if other != number and number is not None:
            evidence += shown_below(case, the_form.decision_of(result, case.values, other).cells)
    for condition in sign.support:
        if case.holds(condition, number):
            evidence += shown_below(case, the_form.reasons_of(condition, case.values, number))
    unsettled = sign.unsettled(case, number)
    yield Draft(
        cause=cause.id,
        strength=sign.strength,
        statement=sign.statement(case, number),
        evidence=tuple(dict.fromkeys(evidence)),
        rule=sign.rule,
        cylinders=cylinders,
        waits_for=sign.waits_for,
        provisional=bool(unsettled),
        why_provisional=unsettled,
        next_step=sign.step(case, number),
        rests_on=tuple(name for item in sign.rests_on for name in case.filled(item)),
        despite=sign.despite,
        caution=sign.caution or cause.caution,
    )


# --- evidence --------------------------------------------------------------------------------------------------------


def shown_below(case: Case, cells: tuple[str, ...]) -> tuple[str, ...]:
    """The cells worth showing among those that a decision rests on: readings, and figures worked out from them.

    Marks, helper results and words are followed down to the readings they come from; a figure is shown and followed
    as far as its own cylinder goes; a limit is shown as it stands.
    """
    found: dict[str, None] = {}
    for name in cells:
        _follow(case, name, found, set())
    # What was read comes first, what it was held against after it.
    return tuple(sorted(found, key=lambda name: _is_limit(case, name)))


def _is_limit(case: Case, name: str) -> bool:
    item = the_form.cells(case.shape)[name].item
    return item.name.startswith("spec_") or item.name in limits()


def _follow(case: Case, name: str, found: dict[str, None], seen: set[str]) -> None:
    if name in seen:
        return
    seen.add(name)
    cell = the_form.cells(case.shape)[name]
    if isinstance(cell.item, Field):
        found[name] = None
        return
    value = case.values.values.get(name)
    is_figure = isinstance(value, (int, float))
    if is_figure and (cell.item.name in limits() or cell.sheet.name in OF_LIMITS):
        found[name] = None
        if cell.number is not None:
            # A limit that goes with the speed of a reading is told with that speed.
            decided = the_form.decision_of(cell.item, case.values, cell.number)
            read = (
                other for other in decided.cells if isinstance(the_form.cells(case.shape)[other].item, Field)
            )
            found.update(dict.fromkeys(read))
        return
    if is_figure and not cell.item.working and not cell.item.name.startswith(("low_limit_", "high_limit_")):
        found[name] = None
    decided = the_form.decision_of(cell.item, case.values, cell.number)
    for other in decided.cells:
        beside = the_form.cells(case.shape)[other]
        # A figure of all cylinders (the highest, the good level) is told by itself, not by every cylinder again.
        if cell.number is not None and beside.number is None and not isinstance(beside.item, Field):
            if _is_shown_figure(case, other):
                found[other] = None
            continue
        if is_figure and cell.number is None and beside.number is not None:
            continue
        _follow(case, other, found, seen)


@lru_cache(maxsize=1)
def limits() -> frozenset[str]:
    """The results that some reading is held against: shown as they stand."""
    names = (
        name
        for item, _ in the_form.items().values()
        if item.limits
        for name in (item.limits.low, item.limits.high, item.limits.floor)
    )
    return frozenset(name.removesuffix("_#") for name in names if name)


def _is_shown_figure(case: Case, name: str) -> bool:
    item = the_form.cells(case.shape)[name].item
    return (
        isinstance(item, Result)
        and not item.working
        and isinstance(case.values.values.get(name), (int, float))
    )
