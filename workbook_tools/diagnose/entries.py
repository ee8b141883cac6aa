"""From cells to usable readings: what can't be read, is past belief or looks like a slip is said, and kept apart."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from decimal import Decimal

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.form import the_form
from workbook_tools.form.guide_sheet import GUIDE
from workbook_tools.form.ranges import default_for, plausible_range
from workbook_tools.guide.choosing import TEST_ASKED, sheet_of
from workbook_tools.guide.tests import TESTS
from workbook_tools.language.expressions import NO
from workbook_tools.language.model import OUT_OF_LIMITS, Field, Value
from workbook_tools.language.values import Values
from workbook_tools.read.doubts import Doubt, battery_range, doubt_about, doubt_about_temperature
from workbook_tools.read.entries import Entry
from workbook_tools.read.filled_form import FilledForm, FoundCell, as_seen_by_formulas
from workbook_tools.science.engine_geometry import largest_dwell

#: Sheets whose entries come from no gauge, and what to look at there.
LOOK_AGAIN = {
    "Job": "look at the entry again",
    "Engine": "look it up again",
    "Repairs": "look at the entry again",
}


def open_case(form: FilledForm) -> tuple[Case, list[Discrepancy]]:
    """The case of a filled form, and a discrepancy for each entry that is not what it should be."""
    found: list[Discrepancy] = []
    readings: dict[str, Value] = {}
    texts: dict[str, str] = {}
    dates: dict[str, object] = {}
    dropped: dict[str, str] = {}
    for name, cell in form.inputs.items():
        entry = form.entries[name]
        if entry.problem:
            dropped[name] = entry.problem
            found.append(unreadable(name, cell, entry))
            continue
        if entry.held_as_text and field_of(cell).kind in ("number", "whole", "money", "choice"):
            found.append(held_as_text(name, cell, entry))
        keep(entry.value, name, readings, texts, dates)
        if name in dates and not isinstance(cell.raw, str):
            # A formula sees a day as its number; a day that is a text in the cell it does not see.
            readings[name] = as_seen_by_formulas(cell.raw)
    readings |= _of_an_older_form(form)
    doubted, values = look_for_slips(form, readings, dropped, found)
    return Case(form, values, texts, dates, doubted, dropped), found


def _of_an_older_form(form: FilledForm) -> dict[str, Value]:
    """What the guide needs of the form's own figures, where the form was made before it had them."""
    found: dict[str, Value] = {}
    for name, cell in the_form.cells(form.shape).items():
        if isinstance(cell.item, Field) and cell.sheet is GUIDE and name not in form.cells:
            found[name] = default_for(cell.item, form.shape, cell.number)
            if cell.item.name == TEST_ASKED and sheet_of(TESTS[(cell.number or 1) - 1]) in form.left_out:
                found[name] = NO
    return found


def field_of(cell: FoundCell) -> Field:
    """The field of an input cell."""
    assert isinstance(cell.form.item, Field)
    return cell.form.item


def keep(
    value: object, name: str, readings: dict[str, Value], texts: dict[str, str], dates: dict[str, object]
) -> None:
    """Put an entry where it belongs: numbers and words for the results, texts and dates beside them."""
    if isinstance(value, dt.date):
        dates[name] = value
    elif isinstance(value, Decimal):
        readings[name] = float(value)
    elif isinstance(value, str):
        readings[name] = value
        texts[name] = value
    elif isinstance(value, (int, float)):
        readings[name] = float(value)


def look_for_slips(
    form: FilledForm, readings: dict[str, Value], dropped: dict[str, str], found: list[Discrepancy]
) -> tuple[dict[str, str], Values]:
    """Doubted readings with the reason, and all values; those past belief go from `readings` into `dropped`.

    Entries past belief go first, since the limits that the others are held against are computed from what is left.
    """
    doubts = {name: doubt for name, doubt in _doubts(form, readings, None) if not doubt.usable}
    for name, doubt in doubts.items():
        del readings[name]
        dropped[name] = doubt.reason
    values = the_form.compute(form.shape, readings)
    usable = {name: doubt for name, doubt in _doubts(form, readings, values) if doubt.usable}
    for name, doubt in (doubts | usable).items():
        found.append(slip(name, form.cells[name], doubt, form))
    return {name: doubt.reason for name, doubt in usable.items()}, values


def _doubts(
    form: FilledForm, readings: dict[str, Value], values: Values | None
) -> Iterator[tuple[str, Doubt]]:
    for name, cell in form.inputs.items():
        reading = readings.get(name)
        if not isinstance(reading, float):
            continue
        field = field_of(cell)
        if field.kind not in ("number", "whole", "money"):
            continue
        low, high = plausible_range(field, form.shape.units)
        unit = field.measure.unit(form.shape.units)
        quantity = quantity_of(field)
        if quantity == "dwell" and reading > largest_dwell(form.shape.cylinders):
            if values is None:
                yield name, impossible_dwell(reading, form, readings)
            continue
        spec_low, spec_high = specified(cell, values) if values else (None, None)
        doubt = doubt_about(
            reading,
            unit,
            low,
            high,
            spec_low=spec_low,
            spec_high=spec_high,
            quantity=None if field.name.startswith("spec_") else quantity or None,
            agrees_with_leakdown=bool(values) and leaks_beside(values, cell),  # type: ignore[arg-type]
        )
        if doubt is None and values is not None and quantity == "temperature":
            doubt = doubt_about_temperature(
                reading, unit, spec_low, spec_high, values.number("air_temperature")
            )
        if doubt is not None:
            yield name, doubt


def quantity_of(field: Field) -> str:
    """What a field measures, '' where no slip of it can be told."""
    return field.measure.quantity if field.quantity is None else field.quantity


def impossible_dwell(reading: float, form: FilledForm, readings: Mapping[str, Value]) -> Doubt:
    """More dwell than one set of points can have; its point shifted where the specification says so, else past belief."""
    most = largest_dwell(form.shape.cylinders)
    reason = f"{reading:g}° is more than the {most:g}° that {form.shape.cylinders} cylinders leave for one set of points"
    low, high = readings.get("spec_dwell_min"), readings.get("spec_dwell_max")
    if isinstance(low, float) and isinstance(high, float) and low <= reading / 10 <= high:
        shifted = f"{reason}; with the decimal point one place to the left it would be {reading / 10:g}°"
        return Doubt("decimal_doubt", reading / 10, None, False, shifted)
    return Doubt("implausible_entry", None, None, False, reason)


def specified(cell: FoundCell, values: Values) -> tuple[float | None, float | None]:
    """Lowest and highest specified value of a reading at this site, None where the shop gives none."""
    field = field_of(cell)
    if field.name == "battery_rest":
        nominal = values.number("system_voltage")
        return battery_range(nominal) if nominal else (None, None)
    if field.doubted_beyond:
        low, high = field.doubted_beyond
        return values.number(low), values.number(high)
    if field.limits is None:
        return None, None
    limits = field.limits.at(cell.form.number)
    return values.number(limits.low), values.number(limits.high)


def leaks_beside(values: Values, cell: FoundCell) -> bool:
    """Whether leak-down over its limit agrees with a low compression of the same cylinder."""
    name, number = field_of(cell).name, cell.form.number
    leak = {
        "compression_dry": "leakdown",
        "compression_wet": "leakdown",
        "after_compression": "after_leakdown",
    }.get(name)
    return leak is not None and values.text(f"mark_{leak}", number) == OUT_OF_LIMITS


# --- in words --------------------------------------------------------------------------------------------------------


def label_of(cell: FoundCell) -> str:
    """The field's label, with the cylinder or line number where it repeats."""
    field = field_of(cell)
    if cell.form.number is None:
        return field.label
    what = "cylinder" if field.per == "cylinder" else "line"
    return f"{field.label}, {what} {cell.form.number}"


def unreadable(name: str, cell: FoundCell, entry: Entry) -> Discrepancy:
    """An entry that can't be read."""
    field = field_of(cell)
    expected = {"choice": "one of the choices", "date": "a date", "text": "text"}.get(field.kind, "a number")
    message = (
        f"{cell.where} ({label_of(cell)}): {entry.problem}. It was not used; type {expected} there, "
        "or clear the cell if it was not taken."
    )
    return Discrepancy("unreadable_entry", name, cell.where, shown(cell.raw), expected, message)


def held_as_text(name: str, cell: FoundCell, entry: Entry) -> Discrepancy:
    """A number that the cell holds as text."""
    number = in_figures(entry.value) if isinstance(entry.value, (int, float)) else str(entry.value)
    message = (
        f"{cell.where} ({label_of(cell)}) holds '{shown(cell.raw)}' as text. It was read as {number}, but the sheet's own "
        f"formulas can't calculate with it: type {number} alone."
    )
    return Discrepancy("entry_is_text", name, cell.where, shown(cell.raw), number, message)


def slip(name: str, cell: FoundCell, doubt: Doubt, form: FilledForm) -> Discrepancy:
    """An entry that looks like a slip, or is past belief."""
    unit = field_of(cell).measure.unit(form.shape.units)
    if doubt.suggestion is None:
        low, high = plausible_range(field_of(cell), form.shape.units)
        if quantity_of(field_of(cell)) == "dwell" and high is not None:
            high = min(high, largest_dwell(form.shape.cylinders))
        expected = " to ".join(f"{limit:g}" for limit in (low, high) if limit is not None) + f" {unit}"
    else:
        expected = f"{doubt.suggestion:.4g} {unit}"
    used = (
        "It was used as typed, and what rests on it stays provisional" if doubt.usable else "It was not used"
    )
    source = LOOK_AGAIN.get(cell.form.sheet.name, "look at the gauge again")
    message = f"{cell.where} ({label_of(cell)}): {doubt.reason}. {used}; {source}."
    return Discrepancy(
        doubt.kind, name, cell.where, f"{shown(cell.raw)} {unit}".strip(), expected.strip(), message
    )


def in_figures(number: float) -> str:
    """A number as a person types it: six digits, or all before the point where there are more."""
    return f"{number:.6g}" if abs(number) < 1e5 else f"{number:.15g}"


def shown(raw: object, longest: int = 60) -> str:
    """What a cell holds, on one line and short enough for a message."""
    text = f"{raw:.10g}" if isinstance(raw, float) else " ".join(str(raw).split())
    return text if len(text) <= longest else text[: longest - 1] + "…"
