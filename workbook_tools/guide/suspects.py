"""How well each suspect fits, live: its weight for the complaint and what was read, and its share of all.

    weight = how common for the complaint, times for each test how much its outcome speaks for the suspect
    share  = weight over the sum of weights

A cause that was found, or repaired and proven so, is no suspect any more.
"""

from __future__ import annotations

from functools import reduce
from operator import mul

from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.model import Cause
from workbook_tools.faults.proof import by_cylinder, is_concerned, proof_of, sure_of
from workbook_tools.guide.fits import (
    HEARD,
    LEARNED_AT_MOST,
    NONE_OF_THESE,
    ROW,
    SOUND_SHARE_OF_NONE,
    SUSPECTS,
    bears_on,
    common,
    fitting,
    ratios,
)
from workbook_tools.guide.tests import PLACE, TESTS, Test
from workbook_tools.language.expressions import (
    BLANK,
    FALSE,
    NO,
    OWN_NUMBER,
    ByNumber,
    Cond,
    Literal,
    Node,
    Num,
    Pick,
    TextCell,
    column,
    either,
    every,
    number,
    table,
    word,
)
from workbook_tools.language.measures import NONE
from workbook_tools.language.model import (
    CONFIRMED,
    PROVEN,
    SYSTEMS,
    Field,
    Measure,
    Result,
    System,
)
from workbook_tools.sheets.recheck import AFTER, before_of

FOUND, WORKED_ON, REPAIRED = "found", "worked on", "repaired"
#: A cause as rare as this is no fault of its own: it says that something is still to be looked for.
NO_FAULT_OF_ITS_OWN = 0.001
#: Of the shares shown, so much is divided among the causes that are found.
SHARE_OF_FOUND = 0.9
#: Keeps equal figures in the order of the table.
OWN = OWN_NUMBER * 1e-9
#: Complaint and cause in one number: so many times the complaint's, and the cause's row.
PAIR = 100
SHARE = Measure(us_decimals=2, metric_decimals=2)

needle_again = word("after_needle")
#: What the readings taken again say of a cylinder.
OUT_AGAIN, NOT_TAKEN_AGAIN = "out", "not taken"


def waits_for(cause: Cause) -> set[System]:
    """The systems without which a cause, though confirmed, is provisional."""
    signs = (*cause.signs, *cause.cylinder_signs)
    return {system for sign in signs if sign.strength == CONFIRMED for system in sign.waits_for}


def is_fault(cause: Cause) -> bool:
    """Whether it is a fault by itself, and no word that something is still to be looked for."""
    return cause.common > NO_FAULT_OF_ITS_OWN


def found(cause: Cause) -> Cond:
    """Confirmed, or as sure as it can get; what it may only come from was looked at."""
    if not is_fault(cause):
        return FALSE
    here: list[Cond] = [word(cause.engine_cell).is_in(*sure_of(cause))] if cause.signs else []
    if cause.cylinder_signs:
        here += [column(cause.cylinder_cell).any_is(each) for each in sure_of(cause)]
    return every(either(*here), *(is_open(name) == NO for name in cause.before_repair))


def worked_on(cause: Cause) -> Cond:
    """Whether work is written down for it, under its id or in words."""
    written = column("work_cause")
    return either(*(written.any_is(name) for name in cause.names))


def repaired(cause: Cause) -> Cond:
    """Whether the readings taken again prove its repair, in every cylinder that has it; by the eye alone where none does."""
    if not cause.recheck:
        return worked_on(cause)
    if by_cylinder(cause):
        again = column(again_cell(cause))
        return again.any_is(PROVEN) & ~again.any_is(NOT_TAKEN_AGAIN) & ~again.any_is(OUT_AGAIN)
    # What stands in for a reading may have been read before the repair: it proves one only where there was work.
    proof = proof_of(cause)
    proven = proof.proven_else & ~proof.disproven
    return proven & (worked_on(cause) | number(cause.recheck[0]).known) if cause.instead else proven


def still_out(cause: Cause) -> Cond:
    """Whether a reading that decides it was taken again and is out: it is a suspect like any other then."""
    return column(again_cell(cause)).any_is(OUT_AGAIN) if by_cylinder(cause) else proof_of(cause).disproven


def again_cell(cause: Cause) -> str:
    """The result that says of each cylinder whether its readings taken again prove the repair."""
    return f"again_{cause.id}"


def shown_again(recheck: tuple[str, ...]) -> str:
    """The result that says of each cylinder what those readings, taken again, show."""
    return "again_" + "_and_".join(name.removeprefix(AFTER) for name in recheck)


def is_open(test: str) -> TextCell:
    return word("test_open").of(PLACE[test])


def _state(suspect: str) -> Node:
    if suspect == NONE_OF_THESE:
        return BLANK
    cause = CAUSES[suspect]
    here = found(cause)
    if here is FALSE:
        return BLANK
    if not cause.recheck:
        return table((here & repaired(cause), REPAIRED), (here, FOUND))
    return table(
        (here & repaired(cause), REPAIRED),
        (here & still_out(cause), BLANK),
        (here & worked_on(cause), WORKED_ON),
        (here, FOUND),
    )


def _weight(suspect: str) -> Node:
    own, row = number("suspect_common").of(ROW[suspect]).or_zero, ROW[suspect]
    fits = Pick(number("complaint_place"), tuple(fitting(suspect, each) for each in HEARD), within=True)
    shop = column("learned_weight").sum_at("learned_for", number("complaint_place") * PAIR + row)
    speaks = reduce(
        mul,
        (
            Pick(heard(test) + 1, (1.0, *ratios(suspect, test)), within=True)
            for test in TESTS
            if suspect in bears_on(test)
        ),
        Literal(1),
    )
    if suspect == NONE_OF_THESE:
        # As sound as can be, or anything at all.
        speaks = SOUND_SHARE_OF_NONE + (1 - SOUND_SHARE_OF_NONE) * speaks
    return table((suspect_state(suspect).known, 0), otherwise=(own * fits + shop) * speaks)


def heard(test: Test) -> Num:
    return number("test_heard").of(PLACE[test.name]).or_zero


def suspect_state(suspect: str) -> TextCell:
    return word("suspect_state").of(ROW[suspect])


def share_of(suspect: str) -> Num:
    return number("suspect_share").of(ROW[suspect]).or_zero


def pair(complaint_words: str, suspect: str) -> int:
    """The number that stands for a complaint and a cause together."""
    return (HEARD.index(complaint_words) + 1) * PAIR + ROW[suspect]


def in_words(suspect: str) -> str:
    """A suspect's name in a sentence."""
    return "none of these" if suspect == NONE_OF_THESE else CAUSES[suspect].in_words


def repair_of(suspect: str) -> str:
    """What puts it right, in the words of its next step."""
    return "" if suspect == NONE_OF_THESE else CAUSES[suspect].in_short or CAUSES[suspect].next_step


def steps_once_shown(cause: Cause) -> tuple[tuple[Cond, str], ...]:
    """What puts it right once a test has shown it, each with what shows it: that test is not asked for again."""
    of_engine = [
        (sign.when, sign.next_step if isinstance(sign.next_step, str) else "")
        for sign in cause.signs
        if sign.strength == CONFIRMED
    ]
    while of_engine and not of_engine[-1][1]:
        of_engine.pop()
    return (*cause.after_test, *((when, step or repair_of(cause.id)) for when, step in of_engine))


#: The causes in the order in which they are repaired: by system, then by their turn in it.
IN_TURN = tuple(
    cause.id
    for cause in sorted(CAUSES.values(), key=lambda each: (SYSTEMS.index(each.system), each.turn))
    if is_fault(cause)
)


def letter(outcome: int) -> str:
    return chr(96 + outcome)


def deciding_of(suspect: str) -> tuple[str, ...]:
    return () if suspect == NONE_OF_THESE else CAUSES[suspect].deciding


def _of_suspects(name: str, label: str, parts: list[Node], **more: object) -> Result:
    return Result(name, label, ByNumber(tuple(parts)), per=len(SUSPECTS), **more)  # type: ignore[arg-type]


shares, shown_shares, states = column("suspect_share"), column("suspect_shown"), column("suspect_state")
how_many_found = states.count_of(FOUND) + states.count_of(WORKED_ON)
SUSPECT_COLUMNS = (
    Field(
        "suspect_common",
        "How common",
        measure=NONE,
        per=len(SUSPECTS),
        low=0,
        high=1e6,
        locked=True,
        defaults=tuple(common(each) for each in SUSPECTS),
    ),
    _of_suspects("suspect_state", "Found, or repaired", [_state(each) for each in SUSPECTS]),
    _of_suspects("suspect_weight", "Weight now", [_weight(each) for each in SUSPECTS]),
    Result(
        "suspect_share",
        "Share among those not found",
        (number("suspect_weight") / column("suspect_weight").sum()).or_zero,
        SHARE,
        per=len(SUSPECTS),
    ),
    Result(
        "suspect_shown",
        "Share shown, less a hair a row so that none are equal",
        table(
            (how_many_found == 0, number("suspect_share")),
            (word("suspect_state").is_in(FOUND, WORKED_ON), SHARE_OF_FOUND / how_many_found),
            otherwise=number("suspect_share") * (1 - SHARE_OF_FOUND),
        ).round(6)
        - OWN,
        SHARE,
        per=len(SUSPECTS),
    ),
)
BY_CYLINDER = tuple(cause for cause in CAUSES.values() if cause.recheck and by_cylinder(cause))
AGAIN_COLUMNS = (
    *(
        Result(
            shown_again(recheck),
            "Read again: " + " and ".join(before_of(name).replace("_", " ") for name in recheck),
            table(
                (proof.disproven, OUT_AGAIN),
                (proof.proven_else, PROVEN),
                otherwise=NOT_TAKEN_AGAIN,
            ),
            per="cylinder",
            since=7,
        )
        for recheck, proof in {cause.recheck: proof_of(cause) for cause in BY_CYLINDER}.items()
    ),
    *(
        Result(
            again_cell(cause),
            f"Repaired: {cause.in_words}",
            table((is_concerned(cause), word(shown_again(cause.recheck)))),
            per="cylinder",
            since=7,
        )
        for cause in BY_CYLINDER
    ),
    Result(
        "again_due",
        "To be read again",
        OWN_NUMBER.where(either(*(word(again_cell(cause)) == NOT_TAKEN_AGAIN for cause in BY_CYLINDER))),
        per="cylinder",
        since=7,
    ),
)
LEARNED_COLUMNS = (
    Field(
        "learned_for",
        "Complaint and cause, by number",
        "whole",
        per=LEARNED_AT_MOST,
        low=0,
        high=1e6,
        locked=True,
        help=f"{PAIR} times the complaint's number, and the cause's row",
    ),
    Field("learned_weight", "Weight added", measure=NONE, per=LEARNED_AT_MOST, low=0, high=1e6, locked=True),
)
