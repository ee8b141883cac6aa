"""The lower part of the findings sheet: answers from before, cautions, how it was judged, computed values."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from functools import cache

from workbook_tools.diagnose.model import Computed, Diagnosis, Mark
from workbook_tools.diagnose.workbook_checks import LISTED_AT_MOST
from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHOWN
from workbook_tools.language.model import Field, Result, Sheet, Value
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.report.answers import discrepancy_keys, finding_keys
from workbook_tools.report.findings_page import FIRST, LABEL, LAST, Box, FindingsPage
from workbook_tools.report.findings_words import (
    LONGEST_QUOTE,
    count_of,
    key_in_words,
    label_of,
    label_of_item,
    measured,
    place_of,
    sheets_in_order,
    shortened,
    source_in_words,
    value_of,
)
from workbook_tools.sheets.cautions import DEFER

UNIT_NAMES = {"us": "US", "metric": "metric"}
NO_BREAK_SPACE = "\u00a0"
#: So many results that differ are shown each; more come from a program that does not calculate, and are counted.
DIFFERING_AT_MOST = 40
GAUGES = ("vacuum_gauge", "compression_gauge", "fuel_gauge")


# --- computed values -----------------------------------------------------------------------------------


def write_computed(page: FindingsPage, diagnosis: Diagnosis, form: FilledForm) -> None:
    """Results that differ, each with both values; the others counted, and the printed ones listed compactly.

    A program that does not calculate leaves hundreds of cells empty: what they should hold is listed as if they agreed.
    """
    empty = {each.name for each in diagnosis.computed if each.workbook is None and not each.agrees}
    if len(empty) <= LISTED_AT_MOST:
        empty = set()
    differing = [each for each in diagnosis.computed if not each.agrees and each.name not in empty]
    others = [each for each in diagnosis.computed if each.agrees or each.name in empty]
    page.heading(
        "Computed values", "Each computed cell of the workbook was calculated again from its readings."
    )
    page.line(Box(LABEL, LAST, _agreement(len(others) - len(empty), len(differing), len(empty))))
    if differing:
        page.gap()
        page.line(
            Box(LABEL, 2, "Differs", "head"),
            Box(3, 4, "The workbook holds", "head"),
            Box(5, 6, "Its readings give", "head"),
        )
    for each in differing[:DIFFERING_AT_MOST]:
        _differing(page, each, form)
    if len(differing) > DIFFERING_AT_MOST:
        more = len(differing) - DIFFERING_AT_MOST
        page.line(Box(LABEL, LAST, f"{more} more: save the workbook in a program that calculates.", "note"))
    printed = [each for each in others if _is_printed(each, form) and each.recomputed not in (None, "")]
    _agreeing(page, printed, form)


def _agreement(agreeing: int, differing: int, empty: int) -> str:
    if empty:
        told = f"{count_of(empty, 'computed cell')} of {agreeing + differing + empty} held no result and were calculated here"
        told += f"; {differing} {'differs' if differing == 1 else 'differ'}" if differing else ""
        return f"{told}; {agreeing} {'agrees' if agreeing == 1 else 'agree'}."
    if not differing:
        return (
            f"All {agreeing} computed cells agree." if agreeing else "The workbook holds no computed cells."
        )
    agree = "agrees" if agreeing == 1 else "agree"
    verb = "differs" if differing == 1 else "differ"
    differ = f"{count_of(differing, 'computed cell')} of {agreeing + differing} {verb}"
    return f"{differ}; {agreeing} {agree}."


def _differing(page: FindingsPage, computed: Computed, form: FilledForm) -> None:
    link = place_of(computed.cell, form)
    words = f"{label_of(computed.name, form.shape)} ({computed.cell})" if computed.cell else computed.name
    page.line(
        Box(LABEL, 2, words, "small link" if link else "small ink", link),
        Box(3, 4, value_of(computed.name, computed.workbook, form.shape, LONGEST_QUOTE)),
        Box(5, 6, value_of(computed.name, computed.recomputed, form.shape, LONGEST_QUOTE)),
    )


def _is_printed(computed: Computed, form: FilledForm) -> bool:
    """Whether a result is printed on its sheet and says more than a reading or other results.

    Marks and limits stand beside readings; what a sheet shows that asks for nothing (Start, Customer) stands elsewhere too.
    """
    cell = the_form.cells(form.shape).get(computed.name)
    if cell is None or not isinstance(cell.item, Result):
        return False
    if cell.sheet not in _asking():
        return False
    beside = cell.item.is_mark or cell.item.name.startswith(("low_limit_", "high_limit_"))
    return not cell.item.working and not beside


@cache
def _asking() -> tuple[Sheet, ...]:
    """The sheets on which something is typed."""
    return tuple(
        sheet
        for sheet in SHOWN
        if any(isinstance(item, Field) and not item.locked for item in the_form.items_of(sheet))
    )


def _agreeing(page: FindingsPage, computed: Sequence[Computed], form: FilledForm) -> None:
    """A line an item, sheet by sheet; an item that repeats has the values of all its numbers in one line."""
    by_name = {each.name: each for each in computed}
    cells = the_form.cells(form.shape)
    for sheet, names in sheets_in_order(by_name, form.shape).items():
        page.gap()
        page.line(Box(LABEL, LAST, sheet, "head"))
        items: dict[str, list[str]] = {}
        for name in names:
            items.setdefault(cells[name].item.name, []).append(name)
        for group in items.values():
            first = by_name[group[0]]
            link = place_of(first.cell, form)
            values = [
                (cells[name].number, value_of(name, by_name[name].recomputed, form.shape, LONGEST_QUOTE))
                for name in group
            ]
            words = ",  ".join(text if number is None else _numbered(number, text) for number, text in values)
            page.line(
                Box(LABEL, 2, label_of_item(cells[group[0]].item), "small link" if link else "small", link),
                Box(3, LAST, words, "small ink"),
            )


def _numbered(number: int, text: str) -> str:
    """`3: 96 psi`, never broken at the end of a line."""
    return f"{number}: {text}".replace(" ", NO_BREAK_SPACE)


# --- how it was judged ---------------------------------------------------------------------------------


def write_judging(
    page: FindingsPage, diagnosis: Diagnosis, form: FilledForm, program_version: str, checked_at: dt.datetime
) -> None:
    """Program, form, time, digest, gauges, and every limit that was used with where it came from."""
    page.heading("How it was judged")
    facts = [
        ("Program", f"engine-check {program_version}"),
        ("Form", f"version {diagnosis.form_version}, {UNIT_NAMES[form.shape.units]} units"),
        ("Checked", f"{checked_at:%Y-%m-%d %H:%M}"),
        ("Digest", f"{diagnosis.digest} (SHA-256 of all that was read)"),
        *_gauges(form),
    ]
    for label, text in facts:
        page.line(Box(LABEL, LABEL, label, "label"), Box(FIRST, LAST, text, "small ink"))
    for note in diagnosis.notes:
        page.line(Box(LABEL, LABEL, "Note", "label"), Box(FIRST, LAST, note, "small ink"))
    limits = list(_limits(diagnosis.marks, form))
    if not limits:
        return
    page.gap()
    page.line(
        Box(LABEL, 2, "Reading", "head"),
        Box(3, 3, "Lowest", "head"),
        Box(4, 4, "Highest", "head"),
        Box(5, LAST, "Limits from", "head"),
    )
    for label, low, high, source in limits:
        page.line(
            Box(LABEL, 2, label, "small ink"),
            Box(3, 3, low, "small ink"),
            Box(4, 4, high, "small ink"),
            Box(5, LAST, source, "small ink"),
        )


def _gauges(form: FilledForm) -> Iterator[tuple[str, str]]:
    """The gauges, as far as the form says anything of them."""
    for gauge in GAUGES:
        number, error = _typed(form, f"{gauge}_id"), _typed(form, f"{gauge}_tolerance")
        pieces = [f"number {number}"] if number is not None else []
        if error is not None:
            pieces.append(f"limit of error {value_of(f'{gauge}_tolerance', error, form.shape)}")
        if pieces:
            yield gauge.replace("_", " ").capitalize(), ", ".join(pieces)
    day = _typed(form, "gauges_checked_on")
    if day is not None:
        yield "Gauges checked", str(day)


def _typed(form: FilledForm, name: str) -> Value | dt.date:
    entry = form.entries[name].value if name in form.entries else None
    return shortened(entry, LONGEST_QUOTE) if isinstance(entry, str) else entry


def _limits(marks: Sequence[Mark], form: FilledForm) -> Iterator[tuple[str, str, str, str]]:
    """Label, lowest, highest, source for each reading taken; cylinders with the same limits once."""
    seen: set[tuple[str, str, str, str]] = set()
    cells = the_form.cells(form.shape)
    for mark in marks:
        if mark.value is None or (mark.low is None and mark.high is None):
            continue
        cell = cells.get(mark.field)
        label = label_of(mark.field, form.shape) if cell is None else label_of_item(cell.item)
        low, high = (_limit(limit, mark, form) for limit in (mark.low, mark.high))
        line = (label, low, high, shortened(source_in_words(mark.limit_source), LONGEST_QUOTE))
        if line not in seen:
            seen.add(line)
            yield line


def _limit(limit: float | None, mark: Mark, form: FilledForm) -> str:
    cell = the_form.cells(form.shape).get(mark.field)
    if limit is None:
        return ""
    return f"{limit:.6g} {mark.unit}".strip() if cell is None else measured(limit, cell.item, form.shape)


# --- cautions and earlier answers ----------------------------------------------------------------------


def write_cautions(page: FindingsPage) -> None:
    """What comes before this form; each step has its own cautions beside it, and sheet Cautions has them all."""
    page.heading("Cautions")
    page.line(Box(LABEL, LAST, DEFER))


def write_earlier(
    page: FindingsPage, diagnosis: Diagnosis, form: FilledForm, answers: Mapping[str, str]
) -> None:
    """Answers to what is no longer found: nothing that somebody typed is lost."""
    current = {*finding_keys(diagnosis.findings), *discrepancy_keys(diagnosis.discrepancies)}
    earlier = {key: text for key, text in answers.items() if key not in current and text.strip()}
    if not earlier:
        return
    page.heading(
        "Earlier answers",
        "To what was found at an earlier check and is not found now. Clear a cell to drop it.",
    )
    for key, text in earlier.items():
        with page.together():
            page.line(Box(LABEL, LAST, key_in_words(key, form.shape)))
            page.answer(key, text)
        page.gap(4.0)
