"""How readings, cells and findings are said on the findings sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from workbook_tools.diagnose.model import DISCREPANCY_KINDS, Diagnosis, Evidence, Finding
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.words import cylinders_in_words
from workbook_tools.form import the_form
from workbook_tools.language.constants import PRACTICE
from workbook_tools.language.model import Field, Item, Shape
from workbook_tools.read.filled_form import DAY_ZERO, FilledForm
from workbook_tools.sheets.recheck import is_taken_again

#: Longer texts are shown by their beginning: the cell itself is one click away.
LONGEST_VALUE = 60
LONGEST_QUOTE = 400
STRENGTHS = ("confirmed", "indicated", "possible")


def shortened(text: str, longest: int) -> str:
    """A text, or its beginning where it is longer than that."""
    return text if len(text) <= longest else f"{text[: longest - 1].rstrip()}…"


def label_of(name: str, shape: Shape) -> str:
    """What a cell is called on the form, with its cylinder or line; its name where the form has none such."""
    cell = the_form.cells(shape).get(name)
    if cell is None:
        return name.replace("_", " ")
    if cell.number is None:
        return label_of_item(cell.item)
    return (
        f"{label_of_item(cell.item)}, {'cylinder' if cell.item.per == 'cylinder' else 'line'} {cell.number}"
    )


def label_of_item(item: Item) -> str:
    """An item's label; marks and limits are called after what they belong to."""
    for prefix, words in (("mark_", "mark"), ("low_limit_", "lowest"), ("high_limit_", "highest")):
        base = the_form.items().get(item.name.removeprefix(prefix)) if item.name.startswith(prefix) else None
        if base is not None:
            return f"{label_of_item(base[0])}: {words}"
    return f"{item.label} after the repair" if is_taken_again(item.name) else item.label


def value_in_words(
    value: float | str | None, item: Item | None, shape: Shape, longest: int = LONGEST_VALUE
) -> str:
    """A value as the form shows it, one decimal more for results, with its unit."""
    if value is None or value == "":
        return "blank"
    if isinstance(value, str):
        return shortened(value, longest)
    if item is None:
        return f"{value:.6g}"
    if isinstance(item, Field):
        if item.kind == "date":
            return (DAY_ZERO + dt.timedelta(days=value)).date().isoformat()
        if item.kind == "money":
            return f"{shape.currency}{value:,.2f}"
        return f"{value:.10g} {item.measure.unit(shape.units)}".strip()
    if item.money:
        return f"{shape.currency}{value:,.2f}"
    if item.percent:
        return f"{100 * value:.0f} %"
    return measured(value, item, shape)


def measured(value: float, item: Item, shape: Shape) -> str:
    """A worked-out value with its unit, one decimal more than the form shows."""
    shown = f"{value:.{item.measure.decimals(shape.units) + 1}f}"
    shown = shown.rstrip("0").rstrip(".")
    return f"{'0' if shown == '-0' else shown} {item.measure.unit(shape.units)}".strip()


def value_of(name: str, value: float | str | None, shape: Shape, longest: int = LONGEST_VALUE) -> str:
    """A cell's value in words; texts longer than `longest` are shown by their beginning."""
    cell = the_form.cells(shape).get(name)
    return value_in_words(value, None if cell is None else cell.item, shape, longest)


def evidence_in_words(evidence: Evidence, shape: Shape) -> str:
    """`Dry, at the end, cylinder 3 = 112 psi`."""
    return f"{label_of(evidence.field, shape)} = {value_of(evidence.field, evidence.value, shape)}"


def place_of(where: str, form: FilledForm) -> tuple[str, str] | None:
    """Sheet and cell that a link can lead to, None for no cell or a hidden sheet."""
    sheet, mark, cell = where.rpartition("!")
    return (sheet, cell) if mark and sheet not in form.hidden_sheets else None


def how_sure(finding: Finding) -> str:
    """`confirmed`, or `indicated, provisional`."""
    return finding.strength + (", provisional" if finding.provisional else "")


def name_of(finding: Finding) -> str:
    """The cause as it is called, and the cylinders it is in."""
    return f"{cause_in_words(finding.cause)}{_in_cylinders(finding.cylinders)}"


def cause_in_words(cause: str) -> str:
    """What a cause is called; the id itself where the vocabulary has none such."""
    return CAUSES[cause].shown_as if cause in CAUSES else cause.replace("_", " ")


def _in_cylinders(cylinders: tuple[int, ...]) -> str:
    return f" – {cylinders_in_words(cylinders)}" if cylinders else ""


def count_of(number: int, one: str, many: str = "") -> str:
    """`no findings`, `1 finding`, `3 findings`."""
    return f"{number or 'no'} {one if number == 1 else many or one + 's'}"


def counts(diagnosis: Diagnosis) -> str:
    """How many findings of which strength, discrepancies and tests owed, in a line."""
    found = diagnosis.findings
    by_strength = [(sum(each.strength == strength for each in found), strength) for strength in STRENGTHS]
    parts = [f"{number} {strength}" for number, strength in by_strength if number]
    provisional = sum(each.provisional for each in found)
    parts += [f"{provisional} of them provisional"] if provisional else []
    told = f" ({', '.join(parts)})" if parts else ""
    line = (
        f"{count_of(len(found), 'finding')}{told}; "
        f"{count_of(len(diagnosis.discrepancies), 'discrepancy', 'discrepancies')}; "
        f"{count_of(len(diagnosis.missing), 'test')} still to do."
    )
    return line[0].upper() + line[1:]


def key_in_words(key: str, shape: Shape) -> str:
    """What an answer's key stood for: `Valve burned – cylinder 3`, `a reading ... (Dry, cylinder 2)`."""
    what, _, rest = key.partition("#")[0].partition(":")
    first, _, second = rest.partition(":")
    if what == "finding":
        numbers = tuple(int(number) for number in second.split("-") if number.isdigit())
        return f"{cause_in_words(first)}{_in_cylinders(numbers)}"
    words = DISCREPANCY_KINDS.get(first, first.replace("_", " "))
    return words + (f" ({label_of(second, shape)})" if second else "")


def source_in_words(source: str) -> str:
    """Where a rule or limit comes from, with what it means that there is no source said once and short."""
    return source if source != PRACTICE else "common practice"


def sheets_in_order(names: Iterable[str], shape: Shape) -> dict[str, list[str]]:
    """Cell names by the form's sheets, in the order of the form."""
    wanted = set(names)
    found: dict[str, list[str]] = {}
    for name, cell in the_form.cells(shape).items():
        if name in wanted:
            found.setdefault(cell.sheet.name, []).append(name)
    return found
