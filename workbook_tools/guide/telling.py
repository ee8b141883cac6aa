"""What the guide says on Start: the next test with its minutes and why, those after it, the causes that fit best."""

from __future__ import annotations

from collections.abc import Iterable

from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.model import Cause
from workbook_tools.guide.choosing import (
    A_LITTLE,
    TO_SETTLE,
    cautions_of,
    label_of,
    settle_cell,
    stopped,
    sum_of,
)
from workbook_tools.guide.fits import (
    HEARD,
    ROW,
    SUSPECTS,
    bears_on,
    likeliest,
)
from workbook_tools.guide.signs import any_sign, is_named
from workbook_tools.guide.suspects import (
    BY_CYLINDER,
    FOUND,
    IN_TURN,
    REPAIRED,
    WORKED_ON,
    deciding_of,
    how_many_found,
    in_words,
    is_fault,
    letter,
    needle_again,
    repair_of,
    shares,
    shown_shares,
    states,
    steps_once_shown,
    suspect_state,
    waits_for,
)
from workbook_tools.guide.tests import FIRST, PLACE, STOPPED, TESTS
from workbook_tools.language.expressions import (
    BLANK,
    CYLINDERS,
    NO,
    OWN_NUMBER,
    YES,
    Letter,
    Literal,
    Node,
    Num,
    Pick,
    Repeated,
    Same,
    column,
    either,
    every,
    joined,
    lift,
    number,
    table,
    word,
    yes_or_no,
)
from workbook_tools.language.model import (
    AS_FAR_AS_FIGURES,
    CONFIRMED,
    FAULT,
    INDICATED,
    OPEN,
    PROVEN,
    STATES,
    SYSTEMS,
    Field,
    Result,
    cell_name,
)
from workbook_tools.sheets.readings import is_above, is_below, is_inside
from workbook_tools.sheets.recheck import PER_AGAIN

#: The field that says from how many of the shop's own jobs the weights are.
EXPERIENCE_JOBS = "experience_jobs"
#: A suspect that has more than all others together stands out: its own deciding test comes next.
STANDS_OUT = 0.5
SHOWN_SUSPECTS, BEST_FITTING = 5, 4
BAR, BAR_LENGTH = "█", 20
#: Beside the words of a cause: in which cylinders it was found.
WHICH_CYLINDERS = "cylinders_of_"
NO_CAUTION = "none of its own"

complaint = word("complaint")
after_mean = number("after_idle_vacuum_mean")
pattern = word("needle_judged")

NOW = (
    Result("guide_stopped", "No further running test", yes_or_no(STOPPED), working=True),
    Result(
        "needle_now",
        "Needle, as read last",
        table((CYLINDERS < 3, "not judged"), (needle_again.known, needle_again), otherwise=pattern),
        working=True,
    ),
    Result(
        "vacuum_now",
        "Vacuum, as read last",
        table(
            (after_mean.known & is_below("after_idle_vacuum_mean"), "low"),
            (after_mean.known & is_above("after_idle_vacuum_mean"), "high"),
            (after_mean.known & is_inside("after_idle_vacuum_mean"), "in range"),
            (after_mean.known, BLANK),
            (word("vacuum_very_low") == YES, "very low"),
            (is_below("idle_vacuum_mean"), "low"),
            (is_above("idle_vacuum_mean"), "high"),
            (is_inside("idle_vacuum_mean"), "in range"),
        ),
        working=True,
    ),
    Result(
        "complaint_place",
        "Complaint, by its number",
        table(*((complaint == each, place) for place, each in enumerate(HEARD, 1) if place > 1), otherwise=1),
        working=True,
    ),
)


lead_place = shares.place_of(shares.max())
ranks = column("test_rank")
NAMES = tuple(in_words(each) for each in SUSPECTS)
OUTCOME_LETTERS = tuple("".join(letter(likeliest(each, test)) for test in TESTS) for each in SUSPECTS)
DECIDING_LETTERS = tuple(
    "".join(letter(1 + (test.name in deciding_of(each))) for test in TESTS) for each in SUSPECTS
)
LABELS = tuple(label_of(test) for test in TESTS)
REPAIRS = tuple(repair_of(each) or "-" for each in SUSPECTS)

complaint_is_explained = complaint.missing | either(
    *(
        (suspect_state(cause.id) == REPAIRED) & complaint.is_in(*cause.complaints, "other")
        for cause in CAUSES.values()
        if is_fault(cause)
    )
)
settled = every(*(word(name).is_in(PROVEN, AS_FAR_AS_FIGURES) for name in STATES.values()))
#: Each is proven, or had the fault that was repaired.
seen_to = states.any_is(REPAIRED) & every(
    *(word(name).is_in(PROVEN, AS_FAR_AS_FIGURES, FAULT) for name in STATES.values())
)
#: No outcome or sign is left that nothing explains, no cause that may still be there, and no system that was not seen to.
done = every(
    how_many_found == 0,
    word("cause_open") == NO,
    (word("sign_shown") == NO) | states.any_is(REPAIRED),
    ~(column("test_heard").max() > 1),
    complaint_is_explained,
    settled | seen_to,
)

LEAD = (
    Field(
        EXPERIENCE_JOBS,
        "The shop's own jobs in the weights",
        "whole",
        low=0,
        high=1e6,
        default=0,
        locked=True,
        help="proven repairs; the table of this program counts for 20 beside them",
    ),
    *NOW,
    *(
        Result(
            settle_cell(system),
            f"{system.capitalize()} settles what was found",
            yes_or_no(
                (word(STATES[system]) == OPEN)
                & either(
                    *(
                        suspect_state(cause.id) == FOUND
                        for cause in CAUSES.values()
                        if system in waits_for(cause) and is_fault(cause)
                    )
                )
            ),
            working=True,
        )
        for system in SYSTEMS
    ),
    Result("sign_shown", "A sign of a fault is there", yes_or_no(any_sign), working=True, since=7),
    Result(
        "cause_open",
        "A cause may be there, not repaired",
        yes_or_no(either(*(is_named(each) & (suspect_state(each) != REPAIRED) for each in CAUSES))),
        working=True,
        since=7,
    ),
    Result("guide_done", "Nothing left to look for", yes_or_no(done), working=True),
    Result(
        "guide_lead_tests",
        "Deciding tests of the suspect that stands out",
        table((shares.max() >= STANDS_OUT, Pick(lead_place, DECIDING_LETTERS, within=True)), otherwise="-"),
        working=True,
    ),
    Result("guide_first", "First test", ranks.place_of(ranks.max()), working=True),
    Result("guide_second", "Second test", ranks.place_of(ranks.large(Literal(2))), working=True),
    Result("guide_third", "Third test", ranks.place_of(ranks.large(Literal(3))), working=True),
    Result(
        "guide_repair",
        "Fault that is repaired first",
        table(*((suspect_state(each).is_in(FOUND, WORKED_ON), ROW[each]) for each in IN_TURN)),
        working=True,
    ),
    *(
        result
        for place in range(1, BEST_FITTING + 1)
        for result in (
            Result(
                f"guide_fit_{place}",
                f"Suspect {place}",
                shown_shares.place_of(shown_shares.large(Literal(place))),
                working=True,
            ),
            Result(
                f"guide_name_{place}",
                f"Suspect {place}, by name",
                Pick(number(f"guide_fit_{place}"), NAMES, within=True),
                working=True,
            ),
            Result(
                f"guide_shows_{place}",
                f"Suspect {place}, likeliest outcome of each test",
                Pick(number(f"guide_fit_{place}"), OUTCOME_LETTERS, within=True),
                working=True,
            ),
        )
    ),
)
best_rank = ranks.max()
repair_place = number("guide_repair")
to_settle = either(*(word(settle_cell(system)) == YES for system in SYSTEMS)) & (best_rank >= TO_SETTLE)
repair_next = repair_place.known & ~to_settle
NOTHING_REPAIRED = "nothing: repaired and proven"
LOOK_AGAIN = "look again at what was repaired: readings don't prove all of it"
#: Of what was repaired something has no reading on Recheck.
by_eye = either(*(suspect_state(cause.id) == REPAIRED for cause in CAUSES.values() if not cause.recheck))
is_done = word("guide_done") == YES
NOTHING_CLEAR = "nothing: all systems proven"
NOTHING_BEARS = "nothing: no test of this form that is left bears on it"
RECHECK_NEXT = "take the readings on Recheck again: they prove the repair"


def _minutes_at(place: Num) -> Num:
    return column("test_minutes").at(place).round_up()


def test_at(place: Num) -> Node:
    """A test with its minutes."""
    return joined(Pick(place, LABELS, within=True), ", ", _minutes_at(place), " min")


def shown_by(fit: int, place: Num) -> Letter:
    """The outcome that a test most often has with one of the suspects that fit best, as a letter."""
    return Letter(word(f"guide_shows_{fit}"), place)


def would_show(place: Num) -> Num:
    """How many of the suspects that fit best would most often show on a test."""
    fits = range(1, BEST_FITTING + 1)
    return sum_of((shown_by(fit, place) != letter(1)).as_number for fit in fits)


#: How many causes a test says anything about.
OTHERS = tuple(float(len(bears_on(test)) - 1) for test in TESTS)


def why(place: Num, shows: Num) -> Node:
    """What a test settles: which of the suspects that fit best it tells apart, and how many of them would show on it."""
    first = word("guide_name_1")
    said = f" of the {BEST_FITTING} best fits show here"
    apart = [
        (
            ~Same(shown_by(1, place), shown_by(fit, place)),
            joined("tells ", first, " from ", word(f"guide_name_{fit}"), "; ", shows, said),
        )
        for fit in range(2, BEST_FITTING + 1)
    ]
    # Its own wish is smaller than its rank where it goes before another test.
    goes_before = column("test_rank").at(place) - column("test_wish").at(place) > A_LITTLE / 2
    return table(
        (goes_before, joined("needed before the tests that tell more; ", shows, said)),
        *apart,
        (shows == 0, joined(shows, said, "; it looks for ", Pick(place, OTHERS, within=True), " others")),
        otherwise=joined("proves or clears ", first, "; ", shows, said),
    )


def _which(cause: Cause) -> Result:
    """The cylinders in which a cause was found, as they stand behind its name."""
    verdicts = column(cause.cylinder_cell)
    how_many = verdicts.count_of(CONFIRMED) + verdicts.count_of(INDICATED)
    which = table((how_many > 1, ", cylinders "), (how_many == 1, ", cylinder "))
    return Result(
        WHICH_CYLINDERS + cause.id,
        f"Cylinders, {cause.id.replace('_', ' ')}",
        joined(which, verdicts.numbers_with(CONFIRMED, INDICATED)),
        working=True,
        since=5,
    )


OF_CYLINDERS = tuple(cause for cause in CAUSES.values() if cause.of_cylinders)
CYLINDERS_OF = tuple(_which(cause) for cause in OF_CYLINDERS)


def with_cylinders(cause: Cause) -> Node:
    """A cause's name, with the cylinders in which it was found behind it."""
    return (
        joined(cause.in_words, word(WHICH_CYLINDERS + cause.id))
        if cause.of_cylinders
        else lift(cause.in_words)
    )


repaired_where = table(
    *(
        (repair_place == ROW[cause.id], word(WHICH_CYLINDERS + cause.id))
        for cause in OF_CYLINDERS
        if is_fault(cause)
    )
)
#: What puts it right: once a test has shown the fault, not that test again.
repair_step = table(
    *(
        ((repair_place == ROW[cause.id]) & shown, step)
        for cause in CAUSES.values()
        for shown, step in steps_once_shown(cause)
    ),
    otherwise=Pick(repair_place, REPAIRS, within=True),
)
repair_name = joined(Pick(repair_place, NAMES, within=True), word("repair_where"))
is_worked_on = states.text_at(repair_place) == WORKED_ON


def _again_in(suspect: str) -> str:
    """The cell in which the first reading that proves a repair is taken again."""
    cause = CAUSES.get(suspect)
    name = cause.recheck[0] if cause and cause.recheck else ""
    return cell_name(name, 1 if PER_AGAIN.get(name) == "cylinder" else None)


def cautions_before(suspect: str) -> str:
    """What a repair's next step is cautioned of, in short."""
    cause = CAUSES.get(suspect)
    return in_a_word(cause.caution.split("+")) if cause and cause.caution else ""


def in_a_word(keys: Iterable[str]) -> str:
    """Cautions by their keys, as they are said at the step: the full sentences stand at the top of the sheet."""
    return ", ".join(keys)


#: The test that decides the fault that is repaired first: until it is made, it is made before anything is taken apart.
first_deciding = Pick(
    repair_place,
    tuple(float(PLACE[name]) for each in SUSPECTS for name in (*deciding_of(each), FIRST)[:1]),
    within=True,
)
has_deciding = (
    Pick(repair_place, tuple(float(bool(deciding_of(each))) for each in SUSPECTS), within=True) == 1
)
#: Of a fault in cylinders the first one is read again that was not.
GAUGED_AGAIN = "after_compression"
in_cylinders = either(*(repair_place == ROW[cause.id] for cause in BY_CYLINDER))
first_due = column("again_due").min()
NOW_TYPED = Result(
    "next_cell",
    "Cell in which it goes on",
    table(
        (stopped, BLANK),
        (
            repair_next & is_worked_on & in_cylinders & first_due.known,
            joined(f"{GAUGED_AGAIN}_", first_due),
        ),
        (
            repair_next & is_worked_on,
            Pick(repair_place, tuple(_again_in(each) or "-" for each in SUSPECTS), within=True),
        ),
        (
            repair_next & has_deciding & (column("test_made").text_at(first_deciding) == NO),
            column("test_cell").text_at(first_deciding),
        ),
        (repair_next & word("concluded_cause").of(1).missing, cell_name("concluded_cause", 1)),
        (repair_next, cell_name("work", 1)),
        (best_rank > A_LITTLE / 10, column("test_cell").text_at(number("guide_first"))),
    ),
    working=True,
    since=5,
)
CAUTION_NOW = Result(
    "next_caution",
    "Caution",
    table(
        (stopped, BLANK),
        (
            repair_next & is_worked_on,
            BLANK,
        ),
        (
            repair_next,
            Pick(repair_place, tuple(cautions_before(each) or NO_CAUTION for each in SUSPECTS), within=True),
        ),
        (
            best_rank > A_LITTLE / 10,
            Pick(
                number("guide_first"),
                tuple(in_a_word(cautions_of(test)) or NO_CAUTION for test in TESTS),
                within=True,
            ),
        ),
    ),
    wide=True,
    since=5,
)
ANSWER = Result(
    "answer_so_far",
    "So far",
    table(
        (stopped, "Stop the engine: oil pressure or temperature is out of limits."),
        (
            repair_place.known & is_worked_on,
            joined("Worked on: ", repair_name, ". Not proven yet."),
        ),
        (
            repair_place.known & (how_many_found > 1),
            joined("Found: ", repair_name, ", and ", how_many_found - 1, " more below."),
        ),
        (repair_place.known, joined("Found: ", repair_name, ".")),
        (column("test_made").count_of(YES) == 0, "Nothing read yet."),
        (
            is_done & by_eye,
            "Repaired, but readings don't prove all of it. Look again, then run the check before it leaves.",
        ),
        (
            is_done & states.any_is(REPAIRED),
            "Repaired, and proven by the readings taken again. Run the check before it leaves.",
        ),
        (
            is_done,
            "No fault found, and all systems proven. Run the check before it leaves.",
        ),
        (
            states.any_is(REPAIRED),
            joined(
                "Repaired, and read again: ",
                states.count_of(REPAIRED),
                ". Not everything is proven yet; fits best: ",
                word("guide_name_1"),
                ".",
            ),
        ),
        otherwise=joined(
            "No fault found yet. Fits best: ",
            word("guide_name_1"),
            ", ",
            (shown_shares.max() * 100).round(0),
            " %.",
        ),
    ),
    wide=True,
    strong=True,
    since=5,
)

NEXT = (
    Result(
        "next_test",
        "Next",
        table(
            (
                stopped & ~repair_place.known,
                "stop the engine; nothing more is tested until the reason is known",
            ),
            (repair_next & is_worked_on, RECHECK_NEXT),
            (repair_next, repair_step),
            (best_rank > A_LITTLE / 10, test_at(number("guide_first"))),
            (is_done & by_eye, LOOK_AGAIN),
            (is_done & states.any_is(REPAIRED), NOTHING_REPAIRED),
            (is_done, NOTHING_CLEAR),
            otherwise=NOTHING_BEARS,
        ),
        wide=True,
    ),
    Result(
        "next_why",
        "Why",
        table(
            (stopped, BLANK),
            (repair_next, joined("found: ", repair_name)),
            (best_rank > A_LITTLE / 10, why(number("guide_first"), number("guide_would_show"))),
        ),
        wide=True,
    ),
    *(
        Result(
            f"next_after_{place}",
            "After that" if place == 1 else "And then",
            table(
                (stopped, BLANK),
                (
                    repair_next & (ranks.large(Literal(place)) > A_LITTLE / 10),
                    test_at(number(("guide_first", "guide_second")[place - 1])),
                ),
                (repair_next, BLANK),
                (
                    ranks.large(Literal(place + 1)) > A_LITTLE / 10,
                    test_at(number(("guide_second", "guide_third")[place - 1])),
                ),
            ),
            wide=True,
        )
        for place in (1, 2)
    ),
    Result(
        "weights_from",
        "Ranked by",
        table(
            (
                number(EXPERIENCE_JOBS) > 0,
                joined(
                    "common practice, and ",
                    number(EXPERIENCE_JOBS),
                    " jobs of this shop with a proven repair",
                ),
            ),
            otherwise="common practice",
        ),
        wide=True,
    ),
    Result("guide_would_show", "Would show", would_show(number("guide_first")), working=True),
    Result("repair_where", "In which cylinders", repaired_where, working=True, since=5),
    *CYLINDERS_OF,
    NOW_TYPED,
)
FITS = (
    Result(
        "fits_best",
        "Fits best",
        Pick(shown_shares.place_of(shown_shares.large(OWN_NUMBER)), NAMES, within=True),
        per=SHOWN_SUSPECTS,
        wide=True,
    ),
    Result("fits_share", "Share", shown_shares.large(OWN_NUMBER).round(6), per=SHOWN_SUSPECTS, percent=True),
    Result(
        "fits_bar",
        "Share drawn",
        Repeated(BAR, (number("fits_share") * BAR_LENGTH).round(0)),
        per=SHOWN_SUSPECTS,
        wide=True,
        is_bar=True,
    ),
)
