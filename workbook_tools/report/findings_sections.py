"""The upper part of the findings sheet: what was found, what can't be right, what is still to be done."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from workbook_tools.diagnose.model import (
    Diagnosis,
    Discrepancy,
    Evidence,
    Finding,
    RepairProof,
    Retaken,
    Suspect,
)
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.words import cylinders_in_words
from workbook_tools.guide.choosing import cautions_of
from workbook_tools.guide.suspects import in_words
from workbook_tools.guide.telling import BAR, BAR_LENGTH
from workbook_tools.guide.tests import BY_NAME
from workbook_tools.language.model import SYSTEMS
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.report.answers import discrepancy_keys, finding_keys
from workbook_tools.report.findings_page import BADGES, FIRST, LABEL, LAST, Box, FindingsPage
from workbook_tools.report.findings_words import (
    LONGEST_QUOTE,
    cause_in_words,
    counts,
    evidence_in_words,
    how_sure,
    label_of,
    name_of,
    place_of,
    shortened,
    source_in_words,
    value_of,
)
from workbook_tools.sheets.cautions import CAUTIONS

TITLE_HEIGHT = 30.0
HEAD_ROWS = 2
MIDDLE = 3
MOST_NAMED = 3
#: Some programs don't wrap a link, so evidence gets boxes of as many columns as it needs to stand in a line.
EVIDENCE_COLUMNS = (2, 3, 6)
LONGEST_WORK = 150
NEXT_SHOWN = 3
#: What speaks against the technician's own conclusion.
SPOKEN_AGAINST = ("conclusion_contradicted",)
#: Systems of which the compression readings are the picture.
DRAWN_FOR = ("compression",)
RANKS = "It ranks what is left; it is not the chance on this engine."
#: Readings named beside a repair: the table below the repairs lists every one that was taken again.
MOST_EVIDENCE = 12
NOTHING_TO_RETAKE = (
    "It can't be proven on the form, as no reading on sheet Recheck decides it: look at the part again."
)
HOW_SURE = (
    "Confirmed: the deciding test was made and agrees. Indicated: two or more independent signs. "
    "Possible: one sign. Provisional: it may change until what comes before it is settled. "
    "What is underlined leads to its cell (in LibreOffice with Ctrl held); what you write beside “Answer” is kept at the next check."
)


def write_head(
    page: FindingsPage, diagnosis: Diagnosis, form: FilledForm, title: str, checked_at: dt.datetime
) -> None:
    """Title, job number, engine and time of the check: the rows that every printed page repeats."""
    job = f"Job {diagnosis.job_number}" if diagnosis.job_number else ""
    page.line(
        Box(LABEL, MIDDLE, shortened(title, LONGEST_QUOTE), "title"),
        Box(MIDDLE + 1, LAST, shortened(job, LONGEST_QUOTE), "job"),
        least=TITLE_HEIGHT,
    )
    engine = form.cells.get("engine_name")
    named = str(engine.raw).strip() if engine is not None and engine.raw is not None else ""
    said = [shortened(named, LONGEST_QUOTE)] if named else []
    page.line(Box(LABEL, LAST, "; ".join([*said, f"checked {checked_at:%Y-%m-%d %H:%M}"]), "small"))


def write_summary(
    page: FindingsPage, diagnosis: Diagnosis, form: FilledForm, answers: Mapping[str, str]
) -> None:
    """One sentence on the engine, what speaks against the technician's own conclusion, the counts, and where the proof of each
    system stands."""
    page.gap()
    page.line(Box(LABEL, LAST, diagnosis.headline, "headline"), least=30.0)
    _cards(page, diagnosis, form, answers, first=True)
    page.line(Box(LABEL, LAST, counts(diagnosis)))
    page.gap()
    for system in SYSTEMS:
        state = diagnosis.states.get(system, "not proven yet")
        found = [each for each in diagnosis.findings if each.system == system]
        names = [f"{name_of(each)} ({how_sure(each)})" for each in found[:MOST_NAMED]]
        names += [f"+{len(found) - MOST_NAMED} more"] if len(found) > MOST_NAMED else []
        page.line(
            Box(LABEL, LABEL, system.capitalize(), "system"),
            Box(FIRST, FIRST, state, badge=True),
            Box(FIRST + 1, LAST, "; ".join(names), "middle"),
            least=20.0,
        )


def write_next(page: FindingsPage, diagnosis: Diagnosis, form: FilledForm) -> None:
    """What to do now and after that, and what fits best: as Start shows it, from the same figures."""
    page.heading("Next")
    with page.together():
        _next(page, diagnosis, form)


def _next(page: FindingsPage, diagnosis: Diagnosis, form: FilledForm) -> None:
    if not diagnosis.next:
        page.line(Box(LABEL, LAST, "Nothing is left to do on this form."))
    for each in diagnosis.next[:NEXT_SHOWN]:
        link = place_of(each.cell, form)
        page.line(
            Box(LABEL, FIRST, f"{each.test[0].upper()}{each.test[1:]}", "strong"),
            Box(FIRST + 1, LAST - 1, each.why),
            Box(LAST, LAST, each.cell, "small link" if link else "small", link).in_a_line(),
        )
    first = next((BY_NAME[each.test] for each in diagnosis.next[:1] if each.test in BY_NAME), None)
    said = [each.caution for each in diagnosis.findings if each.caution and is_next(each, diagnosis)]
    if first is not None:
        said += [CAUTIONS[name] for name in cautions_of(first)]
    for caution in dict.fromkeys(said):
        page.line(Box(LABEL, LABEL, "Caution", "label"), Box(FIRST, LAST, caution, "caution"))
    page.gap()
    page.line(Box(LABEL, 2, "What fits best", "head"), Box(3, LAST, RANKS, "head"))
    for suspect in diagnosis.suspects:
        page.line(
            Box(LABEL, 2, _suspect_name(suspect)),
            Box(3, 3, f"{100 * suspect.share:.0f} %"),
            Box(4, LAST, BAR * round(BAR_LENGTH * suspect.share), "small ink"),
        )


def _suspect_name(suspect: Suspect) -> str:
    name = in_words(suspect.cause)
    where = f" ({cylinders_in_words(suspect.cylinders)})" if suspect.cylinders else ""
    return f"{name[0].upper()}{name[1:]}{where}"


def write_findings(
    page: FindingsPage, diagnosis: Diagnosis, form: FilledForm, answers: Mapping[str, str]
) -> None:
    """A card for each finding, in the order of the systems."""
    page.heading("Findings", HOW_SURE if diagnosis.findings else "")
    if not diagnosis.findings:
        page.line(Box(LABEL, LAST, "No fault was found in what was read."))
    for each, key in zip(diagnosis.findings, finding_keys(diagnosis.findings), strict=True):
        with page.together():
            _finding(page, each, form, is_said=is_next(each, diagnosis))
            page.answer(key, answers.get(key, ""))
        page.gap()


def is_next(finding: Finding, diagnosis: Diagnosis) -> bool:
    """Whether a finding's next step is the one that stands under Next."""
    step = finding.next_step.rstrip(".")
    return any(step in each.why for each in diagnosis.next[:NEXT_SHOWN])


def _finding(page: FindingsPage, finding: Finding, form: FilledForm, is_said: bool) -> None:
    page.line(
        Box(LABEL, LABEL, how_sure(finding), badge=True),
        Box(FIRST, LAST, name_of(finding), "name"),
        least=24.0,
    )
    page.gap(4.0)
    page.line(Box(LABEL, LABEL, "What was found", "label"), Box(FIRST, LAST, finding.statement))
    write_evidence(page, "Rests on", finding.evidence, form)
    rule = f"{finding.rule} Source: {source_in_words(finding.source)}."
    page.line(Box(LABEL, LABEL, "Rule", "label"), Box(FIRST, LAST, rule, "small"))
    if is_said:
        return
    page.line(Box(LABEL, LABEL, "Next step", "label"), Box(FIRST, LAST, finding.next_step, "strong"))
    if finding.caution:
        page.line(Box(LABEL, LABEL, "Caution", "label"), Box(FIRST, LAST, finding.caution, "caution"))


def is_drawn_first(diagnosis: Diagnosis) -> bool:
    """Whether the picture of the compression shows the first of what was found, and stands before it."""
    return bool(diagnosis.findings) and diagnosis.findings[0].system in DRAWN_FOR


def write_evidence(page: FindingsPage, label: str, evidence: Sequence[Evidence], form: FilledForm) -> None:
    """The cells that something rests on, as many in a row as fit, each leading to its cell."""
    boxes = [_evidence(each, form) for each in evidence]
    columns = next(
        (each for each in EVIDENCE_COLUMNS if all(_widened(box, 0, each).fits_a_line for box in boxes)), 6
    )
    in_a_row = (LAST - FIRST + 1) // columns
    for start in range(0, len(boxes), in_a_row):
        row = enumerate(boxes[start : start + in_a_row])
        shown = "" if start else label
        page.line(Box(LABEL, LABEL, shown, "label"), *(_widened(box, place, columns) for place, box in row))


def _evidence(evidence: Evidence, form: FilledForm) -> Box:
    link = place_of(evidence.cell, form)
    return Box(FIRST, FIRST, evidence_in_words(evidence, form.shape), "link" if link else "text", link)


def _widened(box: Box, place: int, columns: int) -> Box:
    """The box over that many columns, as the first, second or third of its row."""
    first = FIRST + place * columns
    return replace(box, first=first, last=first + columns - 1)


def write_discrepancies(
    page: FindingsPage, diagnosis: Diagnosis, form: FilledForm, answers: Mapping[str, str]
) -> None:
    """What can't be as it stands on the form: where, what it holds, what was expected."""
    others = [each for each in diagnosis.discrepancies if each.kind not in SPOKEN_AGAINST]
    if diagnosis.discrepancies and not others:
        return
    page.heading("Discrepancies")
    if not others:
        page.line(Box(LABEL, LAST, "Nothing on the form contradicts itself."))
    _cards(page, diagnosis, form, answers, first=False)


def _cards(
    page: FindingsPage, diagnosis: Diagnosis, form: FilledForm, answers: Mapping[str, str], first: bool
) -> None:
    """A card with room for an answer for each discrepancy: those under the headline (`first`), or all others."""
    for each, key in zip(diagnosis.discrepancies, discrepancy_keys(diagnosis.discrepancies), strict=True):
        if (each.kind in SPOKEN_AGAINST) is not first:
            continue
        with page.together():
            _discrepancy(page, each, form)
            page.answer(key, answers.get(key, ""))
        page.gap()


def _discrepancy(page: FindingsPage, discrepancy: Discrepancy, form: FilledForm) -> None:
    link = place_of(discrepancy.cell, form)
    page.line(
        Box(
            LABEL, LABEL, discrepancy.cell or "Workbook", "card link" if link else "card label", link
        ).in_a_line(),
        Box(FIRST, LAST, shortened(discrepancy.message, 2 * LONGEST_QUOTE), "card"),
    )
    found, expected = discrepancy.found or "blank", discrepancy.expected
    pieces = [f"Found: {shortened(found, LONGEST_QUOTE)}"]
    pieces += [f"Expected: {shortened(expected, LONGEST_QUOTE)}"] if expected else []
    boxes = [
        Box(FIRST + 3 * place, FIRST + 3 * place + 2, text, "small") for place, text in enumerate(pieces)
    ]
    page.line(Box(LABEL, LABEL, "", "label"), *boxes)


def write_tests_to_do(page: FindingsPage, diagnosis: Diagnosis, form: FilledForm) -> None:
    """The tests still to be made, most useful first, each with the place where its readings go."""
    page.heading("Tests still to do")
    if not diagnosis.missing:
        page.line(Box(LABEL, LAST, "None."))
        return
    page.line(
        Box(LABEL, FIRST, "Test", "head"),
        Box(FIRST + 1, LAST - 1, "Why", "head"),
        Box(LAST, LAST, "Where", "head"),
    )
    for each in diagnosis.missing:
        where = next((form.where(name) for name in each.fields if form.where(name)), "")
        link = place_of(where, form)
        page.line(
            Box(LABEL, FIRST, each.test),
            Box(FIRST + 1, LAST - 1, each.why),
            Box(LAST, LAST, where, "small link" if link else "small", link).in_a_line(),
        )


def write_repairs(page: FindingsPage, diagnosis: Diagnosis, form: FilledForm) -> None:
    """What was repaired and whether it is proven, and every reading taken again beside the one before."""
    if not diagnosis.repairs and not diagnosis.retaken:
        return
    page.heading("Before and after the repair")
    for repair in diagnosis.repairs:
        with page.together():
            _repair(page, repair, form)
    if not diagnosis.retaken:
        return
    if diagnosis.repairs:
        page.gap()
    page.line(*_heads(("Reading", LABEL, FIRST), ("Before", 2, 3), ("After", 4, 5), ("Change", LAST, LAST)))
    for each in diagnosis.retaken:
        page.line(Box(LABEL, FIRST, label_of(each.field, form.shape)), *_before_and_after(each, form))


def _heads(*heads: tuple[str, int, int]) -> Iterator[Box]:
    return (Box(first, last, text, "head") for text, first, last in heads)


def _repair(page: FindingsPage, repair: RepairProof, form: FilledForm) -> None:
    work = f"{cause_in_words(repair.cause)}: {repair.work}" if repair.work else cause_in_words(repair.cause)
    page.line(
        Box(LABEL, LABEL, repair.verdict, badge=True),
        Box(FIRST, LAST, shortened(work, LONGEST_WORK), "middle"),
        least=20.0,
    )
    if not CAUSES[repair.cause].recheck:
        page.line(Box(LABEL, LABEL, "", "label"), Box(FIRST, LAST, NOTHING_TO_RETAKE, "small"))
    write_evidence(page, "Rests on", repair.evidence[:MOST_EVIDENCE], form)
    more = len(repair.evidence) - MOST_EVIDENCE
    if more > 0:
        page.line(
            Box(LABEL, LABEL, "", "label"), Box(FIRST, LAST, f"+{more} more, in the table below", "small")
        )


def _before_and_after(retaken: Retaken, form: FilledForm) -> Iterator[Box]:
    values = (retaken.before, retaken.mark_before), (retaken.after, retaken.mark_after)
    for place, (value, mark) in enumerate(values):
        first = 2 + 2 * place
        words = "not taken" if value is None else value_of(retaken.field, value, form.shape)
        yield Box(first, first, words)
        yield Box(first + 1, first + 1, mark, badge=mark in BADGES)
    before, after = retaken.before, retaken.after
    if isinstance(before, (int, float)) and isinstance(after, (int, float)):
        change = f"{after - before:+.4g} {retaken.unit}".strip() if after != before else "no change"
        yield Box(LAST, LAST, change)
