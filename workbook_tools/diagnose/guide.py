"""What the guide says of one form: the next tests with the cells they fill, and the suspects that fit best.

Everything is ranked by the form's own results (`guide.results`); here it gets cells, cylinders and words.

    next_steps(case, discrepancies)     most useful first; empty where nothing is left that bears on the job
    suspects(case)                      those that fit best, with their share
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy, Finding, NextStep, OwedTest, Suspect
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.guide.choosing import CORE, FOR_THE_LEAD, IN_SUSPECTED
from workbook_tools.guide.fits import NONE_OF_THESE, SUSPECTS
from workbook_tools.guide.suspects import WORKED_ON
from workbook_tools.guide.telling import SHOWN_SUSPECTS, repair_next, why, would_show
from workbook_tools.guide.tests import BY_NAME, PLACE, TESTS, Test
from workbook_tools.language.expressions import OWN_NUMBER
from workbook_tools.language.model import CONFIRMED, FAULT, NO_LIMIT, OPEN, STATES, Field, cell_name
from workbook_tools.sheets.compression_results import LOW
from workbook_tools.sheets.recheck import AFTER, BEFORE

REPAIR, RECHECK, READ_AGAIN = "repair", "recheck", "read again"
#: What a reading that is only looked at again takes, where it belongs to no test.
MINUTES_TO_LOOK = 2.0
#: The figures that a reading is held against, which the form may lack.
FIGURES: dict[str, tuple[str, ...]] = {
    "idle_speed": ("spec_idle_speed_min", "spec_idle_speed_max"),
    "compression_dry": ("spec_compression_min",),
    "point_gap": ("spec_point_gap_min", "spec_point_gap_max"),
    "dwell": ("spec_dwell_min", "spec_dwell_max"),
    "timing": ("spec_timing", "spec_timing_speed"),
    "cranking_vacuum": ("spec_cranking_vacuum_min",),
    "fuel_pressure": ("spec_fuel_pressure_min", "spec_fuel_pressure_max"),
    "fuel_delivery_rate": ("spec_fuel_delivery_min",),
    "backpressure": ("spec_backpressure_max",),
}
#: A curve needs at least two of its points.
FEWEST_POINTS = {"advance_speed_*": 2, "advance_reading_*": 2}


#: What a test settles, asked by its place.
WHY = why(OWN_NUMBER, would_show(OWN_NUMBER))


def next_steps(
    case: Case, discrepancies: Iterable[Discrepancy], found: Sequence[Finding] = ()
) -> tuple[NextStep, ...]:
    """What to do now, most useful first: a repair that is due, readings that contradict each other, then the tests."""
    return (*_repair(case, found), *_read_again(case, discrepancies), *_tests(case))


def _repair(case: Case, found: Sequence[Finding]) -> Iterator[NextStep]:
    row = case.number("guide_repair")
    if row is None or not case.holds(repair_next):
        return
    cause = CAUSES[SUSPECTS[int(row) - 1]]
    own = next((each for each in found if each.cause == cause.id and each.strength == CONFIRMED), None)
    how = own.next_step if own else cause.in_short or cause.next_step
    if case.text("suspect_state", int(row)) == WORKED_ON:
        # Taken again and still not judged: typed as text, or without a limit.
        fields = tuple(_to_be_retaken(case, cause.recheck)) or tuple(_cells_of(case, cause.recheck))
        yield _step(
            case,
            RECHECK,
            fields,
            MINUTES_TO_LOOK,
            f"The repair is proven by these readings: {cause.in_words}.",
        )
        return
    rows = [n for n in case.values.numbers_of("work_cause") if not case.has("work_cause", n)]
    fields = tuple(cell_name(each, rows[0]) for each in ("work", "work_cause")) if rows else ()
    yield _step(case, REPAIR, fields, 0.0, f"Found: {cause.in_words}. {how}.")


def _cells_of(case: Case, names: Iterable[str]) -> Iterator[str]:
    return (cell_name(name, n) for name in names for n in case.values.numbers_of(name))


def _to_be_retaken(case: Case, recheck: Sequence[str]) -> Iterator[str]:
    """The readings that prove a repair, and every other that was out before it and has its field on Recheck."""
    cells = the_form.cells(case.shape)
    wanted = dict.fromkeys(recheck)
    for name in the_form.fields():
        if name.startswith(AFTER):
            before = BEFORE.get(name, name.removeprefix(AFTER))
            if any(case.is_out(before, n) for n in case.values.numbers_of(before)):
                wanted[name] = None
    typed_for = {"after_idle_vacuum_mean": ("after_idle_vacuum_low", "after_idle_vacuum_high")}
    typed_for["after_lambda"] = ("after_gas_co", "after_gas_co2", "after_gas_hc", "after_gas_o2")
    for name in wanted:
        for field in typed_for.get(name, (name,)):
            for n in case.values.numbers_of(field):
                before = BEFORE.get(field, field.removeprefix(AFTER))
                of_cylinder = the_form.repeats()[field] == "cylinder"
                if of_cylinder and not (case.text("compression_is_low", n) == LOW or case.is_out(before, n)):
                    continue
                cell = cell_name(field, n)
                if cell in cells and not case.has(field, n):
                    yield cell


def _read_again(case: Case, discrepancies: Iterable[Discrepancy]) -> Iterator[NextStep]:
    """Readings that contradict each other: no suspect can be right while both stand."""
    doubted = [each for each in discrepancies if each.kind == "readings_conflict"]
    fields = tuple(dict.fromkeys(each.field for each in doubted))
    if fields:
        count = f"{len(fields)} reading{'s' if len(fields) > 1 else ''}"
        why_again = f"{count} contradict{'' if len(fields) > 1 else 's'} another, so neither is used to judge what fits."
        yield _step(case, READ_AGAIN, fields, MINUTES_TO_LOOK * len(fields), why_again)


def _tests(case: Case) -> Iterator[NextStep]:
    ranked = [
        (rank, place)
        for place in range(1, len(TESTS) + 1)
        if (rank := case.number("test_rank", place)) is not None and rank > 1e-7
    ]
    for _, place in sorted(ranked, reverse=True):
        test = TESTS[place - 1]
        minutes = case.number("test_minutes", place) or test.minutes
        said = the_form.value_of(WHY, case.values, place)
        yield _step(case, test.name, tuple(blank_cells(case, test)), minutes, f"{minutes:g} min; {said}.")


def to_do(case: Case) -> tuple[OwedTest, ...]:
    """Tests that are left and tell something, most useful first; tests that do not count as made; figures that are wanted."""
    return (*_left(case), *_made_again(case), *_figures(case))


def _left(case: Case) -> Iterator[OwedTest]:
    """What proves a system, decides the suspect that stands out, or is called for by a reading; once there is none of it
    and nothing is found, whatever still tells something.
    """
    left = [each for each in _tests(case) if each.fields]
    core = {
        name for system, tests in CORE.items() if case.text(STATES[system]) in (OPEN, FAULT) for name in tests
    }
    due = [
        each
        for each in left
        if each.test in core
        or BY_NAME[each.test].called_for
        or (case.number("test_wish", PLACE[each.test]) or 0.0) >= FOR_THE_LEAD
    ]
    found = case.number("guide_repair") is not None
    for each in due if due or found else left:
        yield OwedTest(each.test, each.fields, each.why)


def _made_again(case: Case) -> Iterator[OwedTest]:
    for place, test in enumerate(TESTS, 1):
        if case.text("test_asked", place) == "no" or case.text("test_made", place) != "yes":
            continue
        for condition, reason in test.repeat:
            if case.holds(condition):
                fields = tuple(blank_cells(case, test)) or tuple(_own_cells(case, test))
                yield OwedTest(f"{test.name}, again", fields, reason)
                break


def _own_cells(case: Case, test: Test) -> Iterator[str]:
    for field in test.fields:
        name = field.removesuffix("_*")
        for n in case.values.numbers_of(name):
            if case.has(name, n):
                yield cell_name(name, n)


def _figures(case: Case) -> Iterator[OwedTest]:
    """A reading that was taken, and that nothing holds against anything."""
    cells = the_form.cells(case.shape)
    for reading, figures in FIGURES.items():
        numbers = case.values.numbers_of(reading)
        made = [n for n in numbers if case.has(reading, n)]
        unjudged = [n for n in made if case.mark(reading, n) == NO_LIMIT]
        if reading == "compression_dry":
            unjudged = made if not case.has("site_compression_min") else []
        if reading in ("point_gap", "dwell") and (case.has("margin_point_gap") or case.has("margin_dwell")):
            continue
        if not unjudged or cells[cell_name(reading, unjudged[0])].sheet.name in case.form.left_out:
            continue
        label = the_form.items()[reading][0].label.lower()
        blank = tuple(name for name in figures if not case.has(name))
        yield OwedTest(
            f"{label}, specified",
            blank or figures,
            "It was read, but the form has no figure to judge it by: find it in the manual.",
        )


def blank_cells(case: Case, test: Test) -> Iterator[str]:
    """The cells that a test still fills, in the suspected cylinders where it is made in those alone."""
    for field in test.fields:
        name = field.removesuffix("_*")
        item, _ = the_form.items()[name]
        assert isinstance(item, Field)
        if item.limits and item.limits.asked and case.text(item.limits.asked) == "no":
            continue
        numbers = case.values.numbers_of(name)
        if field in IN_SUSPECTED:
            numbers = suspected_cylinders(case, with_a_sound_one=name == "compression_wet") or numbers
        most = FEWEST_POINTS.get(field, len(numbers))
        for n in tuple(numbers)[:most]:
            if not case.has(name, n):
                yield cell_name(name, n)


def suspected_cylinders(case: Case, with_a_sound_one: bool = False) -> tuple[int, ...]:
    """The cylinders that are low, or that a verdict names; for the wet test a sound one beside them."""
    cells = [
        cause.cylinder_cell
        for cause in CAUSES.values()
        if cause.of_cylinders and cause.system == "compression"
    ]
    low = [
        n
        for n in case.cylinders
        if case.text("compression_is_low", n) == LOW or any(case.text(cell, n) for cell in cells)
    ]
    sound = [n for n in case.cylinders if n not in low]
    return (*low, *(sound[:1] if with_a_sound_one and low else ()))


def suspects(case: Case) -> tuple[Suspect, ...]:
    """Those that fit best, with their share of 1; cylinders as the verdict cells name them."""
    order = sorted(range(1, len(SUSPECTS) + 1), key=lambda row: -(case.number("suspect_shown", row) or 0.0))
    found = []
    for row in order[:SHOWN_SUSPECTS]:
        cause = SUSPECTS[row - 1]
        share = round(case.number("suspect_shown", row) or 0.0, 6)
        found.append(Suspect(cause, () if cause == NONE_OF_THESE else _cylinders(case, cause), share))
    return tuple(found)


def _cylinders(case: Case, cause: str) -> tuple[int, ...]:
    if not CAUSES[cause].of_cylinders:
        return ()
    return tuple(n for n in case.cylinders if case.text(CAUSES[cause].cylinder_cell, n))


def _step(case: Case, test: str, fields: tuple[str, ...], minutes: float, reason: str) -> NextStep:
    where = next((case.form.where(name) for name in fields if case.form.where(name)), "")
    return NextStep(test, fields, minutes, reason[0].upper() + reason[1:], where)
