"""What each test would tell, live, and where it stands among those that can be made now.

    what a test tells = the expected fall of uncertainty (Shannon entropy of the shares) over its outcomes
    score             = what it tells a minute, the set-up counted where it does not stand, and what comes before it

What a found fault explains speaks for nothing else. The expected fall of entropy is the sum over suspects of share times the
sum of f ln f, less the sum over outcomes of P ln P (mutual information, Shannon 1948): no logarithm a suspect is needed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from functools import reduce
from operator import add

from workbook_tools.faults.causes import CAUSES
from workbook_tools.guide.fits import (
    SLOTS,
    bears_on,
    chances,
    explains,
    spread,
)
from workbook_tools.guide.suspects import (
    OWN,
    SHARE,
    is_fault,
    is_open,
    letter,
    share_of,
    suspect_state,
)
from workbook_tools.guide.tests import FIRST, GAP, PLACE, TESTS, Test
from workbook_tools.language.expressions import (
    CYLINDERS,
    NO,
    TRUE,
    YES,
    ByNumber,
    Cond,
    Letter,
    Literal,
    Node,
    Num,
    column,
    either,
    largest,
    number,
    table,
    word,
    yes_or_no,
)
from workbook_tools.language.model import (
    MOST_CYLINDERS,
    OPEN,
    STATES,
    SYSTEMS,
    Field,
    Item,
    Measure,
    Result,
    System,
    cell_name,
)
from workbook_tools.sheets.compression import COMPRESSION_SHEET
from workbook_tools.sheets.compression_results import LOW
from workbook_tools.sheets.fuel_and_air import FUEL_AND_AIR
from workbook_tools.sheets.ignition import IGNITION
from workbook_tools.sheets.spark_plugs import SPARK_PLUGS
from workbook_tools.sheets.vacuum import VACUUM_SHEET
from workbook_tools.sheets.warm_up import WARM_UP

#: The field that says whether the form was made with a test's sheet.
TEST_ASKED = "test_asked"
#: A test that tells less than this a minute (natural units of entropy) is not worth asking for.
LEAST_WORTH = 0.0008
#: Without a figure to hold it against a test tells little: it comes after all that can be judged.
UNJUDGED = 0.01
#: What is put on top of a score: for the suspect that stands out, and for what settles a fault that was found.
FOR_THE_LEAD, TO_SETTLE = 10.0, 20.0
#: Keeps a test just behind the one that comes before it.
A_LITTLE = 1e-6
MINUTES = Measure("min", "min")

runs = word("complaint") != "does not start"

SHEETS_OF_TESTS = (WARM_UP, VACUUM_SHEET, COMPRESSION_SHEET, SPARK_PLUGS, IGNITION, FUEL_AND_AIR)
_WITH_SHEETS = [
    (item, sheet.name)
    for sheet in SHEETS_OF_TESTS
    for part in sheet.parts
    for item in getattr(part, "items", ())
]
SHEET_OF = {item.name: sheet for item, sheet in _WITH_SHEETS}
ITEM_OF: dict[str, Item] = {item.name: item for item, _ in _WITH_SHEETS}
#: Made in the cylinders that are low first.
IN_SUSPECTED = ("compression_wet_*", "leakdown_*", "leak_heard_at_*")
#: So many conditions one in another every spreadsheet program takes (the file format's limit is 64).
MOST_NESTED = 60


def sheet_of(test: Test) -> str:
    """The sheet on which a test is written down."""
    return SHEET_OF[test.fields[-1].removesuffix("_*")]


def cautions_of(test: Test) -> tuple[str, ...]:
    """What the form cautions of where a test is written down, by their keys."""
    names = {field.removesuffix("_*") for field in test.fields}
    found: dict[str, None] = {}
    for sheet in SHEETS_OF_TESTS:
        for part in sheet.parts:
            if names & {item.name for item in getattr(part, "items", ())}:
                found |= dict.fromkeys(getattr(part, "cautions", ()))
    return tuple(found)


def label_of(test: Test) -> str:
    """A test as the sheet names it, with the sheet that it is written down on."""
    return f"{test.name[0].upper()}{test.name[1:]} (sheet {sheet_of(test)})"


made, stopped = word("test_made"), word("guide_stopped") == YES
gauged_low = column("compression_is_low").count_of(LOW)
#: The tests that prove a system where no fault is found in it.
CORE: dict[System, tuple[str, ...]] = {
    "readiness": (FIRST,),
    "compression": ("dry compression",),
    "ignition": (GAP, "timing by the light"),
    "fuel and air": ("cranking vacuum", "fuel pressure", "fuel delivery"),
}


def _outcome(test: Test) -> Node:
    return table(*((each.when, place) for place, each in enumerate(test.outcomes, 1)), otherwise=0)


def _outcome_heard(test: Test) -> Node:
    """The outcome, 0 where a fault that was found explains it, unless it was read again after the repair."""
    own = number("test_outcome")
    explained = [
        suspect_state(suspect).known & either(*(own == place for place in explains(suspect, test)))
        for suspect in bears_on(test)
        if explains(suspect, test) and is_fault(CAUSES[suspect])
    ]
    if not explained:
        return own
    return table((either(*explained) & ~test.again, 0), otherwise=own)


def _is_open(test: Test) -> Node:
    # A sheet that was left out, and is used all the same, is a sheet like the others.
    used = either(
        *(made.of(PLACE[other.name]) == YES for other in TESTS if sheet_of(other) == sheet_of(test))
    )
    closed = [(word("test_asked") == NO) & ~used, made == YES, stopped, ~test.allowed]
    closed += [~runs] if test.running else []
    return table((either(*closed), NO), otherwise=YES)


def comes_before(test: Test) -> tuple[str, ...]:
    """The tests that come before one, as far as they are open: the warm engine, the gap before the timing."""
    return (*((FIRST,) if test.warm else ()), *test.after)


def _minutes(test: Test) -> Node:
    own: Num = Literal(test.minutes)
    if test.each_cylinder:
        cylinders = table((gauged_low > 0, gauged_low), otherwise=CYLINDERS)
        own = test.minutes * cylinders
    minutes = own + sum_of(
        table((is_open(name) == YES, _minutes_of(name)), otherwise=0) for name in comes_before(test)
    )
    if not test.set_up:
        return minutes
    same = [other for other in TESTS if other.set_up == test.set_up]
    stands = either(*(made.of(PLACE[other.name]) == YES for other in same))
    return minutes + table((stands, 0), otherwise=test.set_up_minutes)


def _minutes_of(name: str) -> float:
    return TESTS[PLACE[name] - 1].minutes


def sum_of(parts: Iterable[Num]) -> Num:
    """The sum of some numbers, 0 without any."""
    return reduce(add, parts, Literal(0))


def _tells(test: Test) -> Node:
    sound = spread_of_sound(test)
    known = sum_of(share_of(suspect) * _rounded(spread(suspect, test) - sound) for suspect in bears_on(test))
    first = next(place for place, (each, _) in enumerate(SLOTS, 1) if each is test)
    places = range(first, first + len(test.outcomes))
    entropy = sum_of(_chance(place) * _chance(place).ln() for place in places)
    return (_rounded(sound) + known - entropy).round(9)


def spread_of_sound(test: Test) -> float:
    """The sum of f ln f of a sound engine."""
    return math.fsum(each.sound * math.log(each.sound) for each in test.outcomes)


def _chance(place: int) -> Num:
    return number("outcome_chance").of(place).or_zero


def _chance_of(test: Test, outcome: int) -> Node:
    """How often an outcome is to be expected, all suspects taken together."""
    sound = test.outcomes[outcome - 1].sound
    return sum_of(
        (
            Literal(sound),
            *(
                share_of(suspect) * _rounded(chances(suspect, test)[outcome - 1] - sound)
                for suspect in bears_on(test)
            ),
        )
    )


def _rounded(figure: float) -> float:
    return float(f"{figure:.6g}")


def _score(test: Test) -> Num:
    worth = number("test_tells") / number("test_minutes")
    return table((~test.judged, worth * UNJUDGED), otherwise=worth) if test.judged is not TRUE else worth


lead = word("guide_lead_tests")


def _wish(test: Test) -> Node:
    """The score, and what is put on top of it; 0 where it is not worth asking for."""
    score, place = _score(test), PLACE[test.name]
    of_systems = [system for system in SYSTEMS if test.name in CORE[system]]
    rows: list[tuple[Cond, Num]] = [((word("test_open") != YES) | (word("guide_done") == YES), Literal(0))]
    if of_systems:
        rows += [(either(*(word(settle_cell(each)) == YES for each in of_systems)), score + TO_SETTLE)]
    rows += [(Letter(lead, Literal(place)) == letter(2), score + FOR_THE_LEAD)]
    worth_it = [score >= LEAST_WORTH, *(word(STATES[each]) == OPEN for each in of_systems)]
    return table(*rows, (either(*worth_it), score + A_LITTLE), otherwise=0).round(9)


def _rank(test: Test) -> Node:
    """The wish, or that of a test which this one comes before, just above it; less a hair a row, so that none are equal."""
    after = [other for other in TESTS if test.name in comes_before(other)]
    own = number("test_wish")
    wishes = (
        largest(own, *(number("test_wish").of(PLACE[other.name]) + A_LITTLE for other in after))
        if after
        else own
    )
    return table((word("test_open") != YES, 0 - OWN), otherwise=wishes.round(7) - OWN)


def settle_cell(system: System) -> str:
    return "settle_" + STATES[system].removeprefix("state_")


def _of_tests(name: str, label: str, part: Callable[[Test], Node], **more: object) -> Result:
    return Result(name, label, ByNumber(tuple(part(test) for test in TESTS)), per=len(TESTS), **more)  # type: ignore[arg-type]


def _first_blank(test: Test) -> Node:
    """The name of the cell in which the test goes on: the first that is blank, in a cylinder that is low where one is."""
    rows: list[tuple[Cond, str]] = []
    for field in test.fields:
        name = field.removesuffix("_*")
        if name == field:
            limits = getattr(ITEM_OF.get(name), "limits", None)
            fitted = ~(word(limits.asked) == NO) if limits and limits.asked else TRUE
            rows.append((word(name).missing & number(name).missing & fitted, name))
            continue
        per = ITEM_OF[name].per
        here = [
            (
                (CYLINDERS >= n if per == "cylinder" else TRUE)
                & word(name).of(n).missing
                & number(name).of(n).missing,
                n,
            )
            for n in range(1, (MOST_CYLINDERS if isinstance(per, str) else per) + 1)
        ]
        if field in IN_SUSPECTED:
            is_low = word("compression_is_low")
            rows += [(blank & (is_low.of(n) == LOW), cell_name(name, n)) for blank, n in here]
        rows += [(blank, cell_name(name, n)) for blank, n in here]
    return table(*rows[:MOST_NESTED])


TEST_COLUMNS = (
    Field(
        TEST_ASKED,
        "On this form",
        "choice",
        per=len(TESTS),
        choices=(YES, NO),
        default=YES,
        locked=True,
        help="no where the form was made without its sheet",
    ),
    _of_tests("test_made", "Made", lambda test: yes_or_no(test.made)),
    _of_tests("test_outcome", "Came out", _outcome),
    _of_tests("test_heard", "Speaks for a suspect", _outcome_heard),
    _of_tests("test_open", "Can be made now", _is_open),
    _of_tests("test_minutes", "Minutes, with set-up", _minutes, measure=MINUTES),
    _of_tests("test_tells", "Tells", _tells),
    _of_tests("test_wish", "Wish", _wish),
    _of_tests("test_rank", "Rank", _rank),
    _of_tests("test_cell", "Is typed first", _first_blank, since=5),
)
OUTCOME_COLUMNS = (
    Result(
        "outcome_chance",
        "To be expected",
        ByNumber(tuple(_chance_of(test, place) for test, place in SLOTS)),
        SHARE,
        per=len(SLOTS),
    ),
)
