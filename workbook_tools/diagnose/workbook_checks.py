"""Is the workbook still what was made: its cells found by name, its formulas in place, its stored results right?

A stored result is held against two recomputations: one from the raw entries all through, and one from the stored results
it is computed from. It differs only where both say so, so that one stale or replaced cell is reported once and not with
everything that follows from it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.entries import shown
from workbook_tools.diagnose.model import Computed, Discrepancy
from workbook_tools.form import known_formulas, the_form
from workbook_tools.form.guide_sheet import GUIDE
from workbook_tools.language.model import Field, Result, Shape, Value
from workbook_tools.language.values import Values
from workbook_tools.read.filled_form import FilledForm, FoundCell, as_seen_by_formulas

#: Two results agree within this, relative: spreadsheet programs keep 15 digits.
AGREEMENT = 1e-9
#: More cells than this without a stored result are reported as one discrepancy.
LISTED_AT_MOST = 5
#: More replaced formulas or wrong results than a person brings about are reported as one discrepancy.
REPLACED_AT_MOST = 20


def agree(one: Value, other: Value) -> bool:
    """Whether two results are the same: numbers within AGREEMENT, texts to the letter, blank with empty text."""
    if isinstance(one, (int, float)) and isinstance(other, (int, float)):
        return abs(one - other) <= AGREEMENT * max(1.0, abs(one), abs(other))
    return (one or None) == (other or None)


def check_workbook_cells(form: FilledForm, values: Values) -> list[Discrepancy]:
    """Formulas replaced, results that differ or are missing, cells that moved out of sight."""
    computed = form.computed.values()
    as_made = known_formulas.are_known(form.shape, (cell.formula for cell in computed))
    replaced = [] if as_made else [cell for cell in computed if is_replaced(cell, form.shape)]
    found = formulas_replaced(replaced, form)
    found += wrong_results(form, values, {cell.form.name for cell in replaced})
    return found + changed_layout(form)


def is_replaced(cell: FoundCell, shape: Shape) -> bool:
    """Whether a computed cell no longer holds its formula, however a program writes it."""
    if cell.formula is None:
        return True
    result = cell.form.item
    assert isinstance(result, Result)
    expected = the_form.formula_of(result, shape, cell.form.number)
    if cell.formula.lstrip("=") == expected.lstrip("="):  # as it was written: most cells of most workbooks
        return False
    return plain_formula(cell.formula) != plain_formula(expected)


def plain_formula(formula: str) -> str:
    """A formula without what programs change on saving: spaces, case, `TRUE()` for TRUE, the way numbers are written."""
    parts = re.split(r'("(?:[^"]|"")*")', formula.lstrip("="))
    for place in range(0, len(parts), 2):
        text = re.sub(r"\s", "", parts[place]).upper().replace("_XLFN.", "")
        text = text.replace("TRUE()", "TRUE").replace("FALSE()", "FALSE")
        parts[place] = re.sub(
            r"(?<![A-Z0-9_.])\d+\.?\d*(?:E[+-]?\d+)?", lambda m: f"{float(m.group(0)):.12g}", text
        )
    return "".join(parts)


def formulas_replaced(cells: list[FoundCell], form: FilledForm) -> list[Discrepancy]:
    """One discrepancy a cell; where a program or an old form changed a great many, one for all."""
    if form.form_version < the_form.FORM_VERSION:
        then = [cell for cell in cells if cell.formula]
        cells = [cell for cell in cells if not cell.formula]
        return of_earlier_version(then, form) + [formula_replaced(cell, form) for cell in cells]
    if len(cells) <= REPLACED_AT_MOST:
        return [formula_replaced(cell, form) for cell in cells]
    first = cells[0]
    message = (
        f"{len(cells)} computed cells, {first.where} the first, no longer hold their formulas. What they show was not used; all was "
        "recomputed here. Copy the readings into a new form."
    )
    return [
        Discrepancy(
            "formula_replaced", first.form.name, first.where, f"{len(cells)} cells", listed(cells), message
        )
    ]


def of_earlier_version(cells: list[FoundCell], form: FilledForm) -> list[Discrepancy]:
    """One discrepancy for all results that today's form calculates otherwise than an older one, or that came after it."""
    names = [*(cell.form.name for cell in cells), *results_lost(form)]
    if not names:
        return []
    message = (
        f"This form is of version {form.form_version}, today's is {the_form.FORM_VERSION}, and calculates some results otherwise "
        f"({listed(names)}). All was recomputed here; make a new form for the next job."
    )
    where = cells[0].where if cells else ""
    return [Discrepancy("formula_replaced", names[0], where, f"{len(names)} cells", listed(names), message)]


def results_lost(form: FilledForm) -> list[str]:
    """Computed cells that can't be found."""
    known = the_form.cells(form.shape)
    return [name for name in form.lost if isinstance(known[name].item, Result)]


def formula_replaced(cell: FoundCell, form: FilledForm) -> Discrepancy:
    """A computed cell that was typed over, or whose formula was changed."""
    result = cell.form.item
    assert isinstance(result, Result)
    expected = the_form.formula_of(result, form.shape, cell.form.number)
    holds = f"formula {cell.formula}" if cell.formula else "nothing" if cell.raw is None else shown(cell.raw)
    message = (
        f"{cell.where} ({result.label}) is a computed cell, but its formula was replaced by {shown(holds, 90)}. What it shows was not "
        "used; restore the formula, or copy the readings into a new form."
    )
    return Discrepancy("formula_replaced", cell.form.name, cell.where, holds, expected, message)


def wrong_results(form: FilledForm, values: Values, replaced: set[str]) -> list[Discrepancy]:
    """Stored results that are missing, or are not what the entries give."""
    raw = {name: as_seen_by_formulas(cell.raw) for name, cell in form.inputs.items()}
    stored = {name: as_seen_by_formulas(cell.raw) for name, cell in form.computed.items()}
    through = the_form.compute_again(values, raw, {name: stored[name] for name in replaced})
    # A program that did not calculate after a cell was typed over still shows what the readings give.
    by_readings = the_form.compute_again(values, raw) if replaced else through
    as_stored = Values(form.shape, the_form.repeats(), raw | stored)
    differing: dict[str, Discrepancy] = {}
    uncalculated: list[FoundCell] = []
    for name, cell in form.computed.items():
        if name in replaced or any(
            agree(stored[name], each.values.get(name)) for each in (through, by_readings)
        ):
            continue
        if stored[name] is None and cell.raw is None:
            uncalculated.append(cell)
            continue
        result = cell.form.item
        assert isinstance(result, Result)
        if not agree(stored[name], the_form.result_if_any(result, as_stored, cell.form.number)):
            differing[name] = result_differs(cell, through.values.get(name), form)
    stale = [form.cells[name] for name, each in differing.items() if each.kind == "result_differs"]
    if len(stale) > REPLACED_AT_MOST or (stale and len(uncalculated) > LISTED_AT_MOST):
        bill = [each for each in differing.values() if each.kind != "result_differs"]
        return [*bill, saved_without_calculating(uncalculated, stale)]
    return [*differing.values(), *not_calculated(uncalculated)]


def saved_without_calculating(missing: list[FoundCell], stale: list[FoundCell]) -> Discrepancy:
    """One discrepancy for a workbook whose results, some missing, are those of earlier readings."""
    first = stale[0]
    without = f"{len(missing)} computed cells have no stored result, and " if missing else ""
    cells = (
        f"{len(stale)} cells ({listed(stale)}) show"
        if len(stale) > 1
        else f"one cell ({first.form.name}) shows"
    )
    message = (
        f"{without}{cells} what other readings gave: the workbook was saved by a program that does not calculate. All was recomputed "
        "here; open it in a spreadsheet program and save it to see the results there."
    )
    return Discrepancy(
        "not_calculated",
        first.form.name,
        first.where,
        "earlier results",
        f"{len(missing) + len(stale)} results",
        message,
    )


def result_differs(cell: FoundCell, expected: Value, form: FilledForm) -> Discrepancy:
    """A stored result that its readings do not give."""
    unit = cell.form.item.measure.unit(form.shape.units)
    should = "blank" if expected is None else shown(expected)
    is_bill = isinstance(cell.form.item, Result) and cell.form.item.money
    remedy = "the bill does not add up" if is_bill else "open the workbook, let it calculate, and save it"
    message = f"{cell.where} ({cell.form.item.label}) shows {shown(cell.raw)} {unit}".rstrip()
    message += f", but its readings give {should}: {remedy}."
    kind = "bill_differs" if is_bill else "result_differs"
    return Discrepancy(kind, cell.form.name, cell.where, shown(cell.raw), should, message)


def not_calculated(cells: list[FoundCell]) -> list[Discrepancy]:
    """Computed cells without a stored result; many of them are one discrepancy."""
    if len(cells) > LISTED_AT_MOST:
        first = cells[0]
        message = (
            f"{len(cells)} computed cells, {first.where} the first, have no stored result: the workbook was saved by a program that "
            "does not calculate. All was recomputed here; open it in a spreadsheet program and save it to see the results there."
        )
        return [
            Discrepancy(
                "not_calculated", first.form.name, first.where, "nothing", f"{len(cells)} results", message
            )
        ]
    return [
        Discrepancy(
            "not_calculated",
            cell.form.name,
            cell.where,
            "nothing",
            "a result",
            f"{cell.where} ({cell.form.item.label}) has no stored result; open the workbook, let it calculate, and save it.",
        )
        for cell in cells
    ]


def changed_layout(form: FilledForm) -> list[Discrepancy]:
    """Names that were lost, and what the form says of itself where it was changed."""
    by_label = [cell for cell in form.cells.values() if not cell.by_name]
    found = []
    if len(by_label) > LISTED_AT_MOST:
        first = by_label[0]
        message = (
            f"{len(by_label)} cells, {first.where} the first, lost their names and were found by their labels; results that used "
            "the names may be wrong. Copy the readings into a new form."
        )
        found.append(
            Discrepancy("layout_changed", first.form.name, first.where, "no names", listed(by_label), message)
        )
    else:
        found += [name_lost(cell) for cell in by_label]
    # Nobody fills the hidden sheet in: its figures are taken from today's form.
    known = the_form.cells(form.shape)
    lost = tuple(name for name in form.lost if not _is_locked_figure(known[name]))
    remedy = "Copy the readings into a new form."
    if form.form_version < the_form.FORM_VERSION:
        # Results that came later are told with those that are calculated otherwise.
        later = results_lost(form)
        lost = tuple(name for name in lost if name not in later)
        remedy = (
            f"The form is of version {form.form_version}, before they came; make a new form for the next job."
        )
    if lost:
        names = listed(lost)
        count = "One cell" if len(lost) == 1 else f"{len(lost)} cells"
        message = f"{count} of the form can't be found ({names}) and will count as not taken. {remedy}"
        found.append(Discrepancy("layout_changed", lost[0], "", "not found", names, message))
    found += [
        aids_lost(sheets, what, form)
        for sheets, what in (
            (form.without_choices, "lists of choices and the checks while typing"),
            (form.without_highlights, "highlights of readings out of limits"),
        )
        if sheets
    ]
    for name, now, made_for in form.changed_identity:
        where = form.where(name)
        message = (
            f"{where or 'Sheet Cautions'} ({name}) says {now}, but the form was made for {made_for}, and was judged so; "
            "make a new form for another engine."
        )
        found.append(Discrepancy("layout_changed", name, where, now, made_for, message))
    return found


def _is_locked_figure(cell: the_form.Cell) -> bool:
    return cell.sheet is GUIDE and isinstance(cell.item, Field)


def aids_lost(sheets: Sequence[str], what: str, form: FilledForm) -> Discrepancy:
    """Help for the one who types that the program which saved the workbook did not keep."""
    first = next(cell for cell in form.cells.values() if cell.sheet == sheets[0])
    message = (
        f"The {what} are gone from {'sheet' if len(sheets) == 1 else 'sheets'} {listed(sheets)}: the workbook was saved by a program "
        "that does not keep them. What was typed was read all the same; go on in a new form, or in another program."
    )
    return Discrepancy("layout_changed", first.form.name, "", "gone", what, message)


def name_lost(cell: FoundCell) -> Discrepancy:
    """An input cell that was found by its label, because its name is gone."""
    message = (
        f"{cell.where} lost its name {cell.form.name} and was found by its label; results that used the name may be wrong. "
        "Copy the readings into a new form if the sheet shows errors."
    )
    return Discrepancy("layout_changed", cell.form.name, cell.where, "no name", cell.form.name, message)


def listed(cells: Sequence[FoundCell] | Sequence[str]) -> str:
    """The first few names, and how many more there are."""
    names = [cell if isinstance(cell, str) else cell.form.name for cell in cells]
    more = f", +{len(names) - LISTED_AT_MOST} more" if len(names) > LISTED_AT_MOST else ""
    return ", ".join(names[:LISTED_AT_MOST]) + more


def computed_values(case: Case) -> tuple[Computed, ...]:
    """Every computed cell that holds something in the workbook or in Python, workbook against Python."""
    found = []
    for name, cell in case.form.computed.items():
        stored = as_seen_by_formulas(cell.raw)
        again = case.values.values.get(name)
        if stored is None and again is None:
            continue
        unit = cell.form.item.measure.unit(case.shape.units)
        found.append(Computed(name, cell.where, unit, stored, again, agree(stored, again)))
    return tuple(found)
