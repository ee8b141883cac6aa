"""How well each cause fits what was read: how common it is for a complaint, and how often it gives an outcome.

    SUSPECTS                    every cause by id, and NONE_OF_THESE
    chances(suspect, test)      how often each outcome of a test is seen with it; sums to 1
    common(suspect)             how common it is; only ratios mean anything
    fitting(suspect, complaint) how many times as likely it is where that is complained of

What a cause shows is written in its own row (`faults/`); of a test that it is not written for it shows what a sound
engine shows. Figures: common practice, no source. They rank; they are not the chance on a real engine.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from workbook_tools.faults.causes import CAUSES
from workbook_tools.guide.tests import BY_NAME, TESTS, Test
from workbook_tools.sheets.job import COMPLAINTS

NONE_OF_THESE = "none_of_these"
SUSPECTS: tuple[str, ...] = (*CAUSES, NONE_OF_THESE)
#: The place of each suspect, the first being 1.
ROW = {suspect: row for row, suspect in enumerate(SUSPECTS, 1)}

NO_COMPLAINT = "none given"
#: Complaints that say where to begin; with any other, or none, only how common a cause is counts.
HEARD = (NO_COMPLAINT, *(each for each in COMPLAINTS if each != "other"))
#: A cause that explains the complaint is so many times as likely as without it; of the complaint that it brings first
#: (`Cause.complaints` begins with it), so many times.
FITTING, FITTING_FIRST = 4.0, 12.0
#: An engine that nothing of this form explains, beside the causes (whose weights add up to some 80).
WEIGHT_OF_NONE = 6.0
#: "None of these" is by half an engine that shows what a sound one shows, by half one that shows anything alike.
SOUND_SHARE_OF_NONE = 0.5
#: A cause whose own deciding test is in limits, where it hardly ever leaves that test so (its chance there is at most
#: RARELY), counts for so much of what that chance says: it is as good as ruled out.
RARELY, RULED_OUT = 0.1, 0.05
#: How much the table is worth beside the shop's own proven repairs, in jobs.
TABLE_IS_WORTH = 20.0
#: How many pairs of complaint and cause a form has room for; those of the fewest jobs are left out.
LEARNED_AT_MOST = 60


@dataclass(frozen=True)
class Experience:
    """A shop's proven repairs: from how many jobs, and by complaint (NO_COMPLAINT: all) how many of each cause."""

    jobs: int
    repaired: Mapping[str, Mapping[str, int]]


@cache
def chances(suspect: str, test: Test) -> tuple[float, ...]:
    """How often each outcome of a test is seen with a suspect, in the order of the outcomes; sums to 1."""
    sound = [each.sound for each in test.outcomes]
    if suspect == NONE_OF_THESE:
        even = (1 - SOUND_SHARE_OF_NONE) / len(sound)
        return tuple(SOUND_SHARE_OF_NONE * each + even for each in sound)
    shown = CAUSES[suspect].shows.get(test.name)
    if shown is None:
        return tuple(sound)
    left = 1 - sum(shown.values())
    others = sum(each.sound for each in test.outcomes if each.words not in shown)
    return tuple(shown.get(each.words, left * each.sound / (others or 1)) for each in test.outcomes)


@cache
def bears_on(test: Test) -> tuple[str, ...]:
    """The suspects on which a test says anything."""
    return tuple(
        suspect for suspect in SUSPECTS if suspect == NONE_OF_THESE or test.name in CAUSES[suspect].shows
    )


def ratios(suspect: str, test: Test) -> tuple[float, ...]:
    """How much each outcome speaks for a suspect, against a sound engine; of "none of these" for what is not sound in it."""
    likely = chances(suspect, test)
    if suspect == NONE_OF_THESE:
        likely = tuple(1 / len(test.outcomes) for _ in test.outcomes)
    found = [chance / outcome.sound for chance, outcome in zip(likely, test.outcomes, strict=True)]
    if (
        suspect != NONE_OF_THESE
        and test.name in CAUSES[suspect].deciding
        and chances(suspect, test)[0] <= RARELY
    ):
        found[0] *= RULED_OUT
    return tuple(_figures(each) for each in found)


def spread(suspect: str, test: Test) -> float:
    """The sum of f ln f over a test's outcomes."""
    return math.fsum(each * math.log(each) for each in chances(suspect, test) if each > 0)


def common(suspect: str) -> float:
    """How common a suspect is, whatever is complained of; only the ratios between suspects mean anything."""
    return WEIGHT_OF_NONE if suspect == NONE_OF_THESE else CAUSES[suspect].common


def fitting(suspect: str, complaint: str) -> float:
    """How many times as likely a suspect is where that is complained of."""
    complaints = () if suspect == NONE_OF_THESE else CAUSES[suspect].complaints
    if complaint in complaints[:1]:
        return FITTING_FIRST
    return FITTING if complaint in complaints else 1.0


def learned(experience: Experience) -> list[tuple[str, str, float]]:
    """What the shop's own proven repairs add to weights: complaint, cause, weight; those of the most jobs first.

    The table counts for TABLE_IS_WORTH jobs, each of the shop's for one (Dirichlet), so that none falls to nothing.
    """
    found = []
    for complaint in HEARD:
        total = sum(common(suspect) * fitting(suspect, complaint) for suspect in SUSPECTS)
        for cause, jobs in experience.repaired.get(complaint, {}).items():
            found.append((complaint, cause, _figures(jobs * total / TABLE_IS_WORTH)))
    return sorted(found, key=lambda each: -each[2])[:LEARNED_AT_MOST]


def likeliest(suspect: str, test: Test) -> int:
    """The number of the outcome that a test most often has with a suspect."""
    found = chances(suspect, test)
    return found.index(max(found)) + 1


def explains(suspect: str, test: Test) -> tuple[int, ...]:
    """The outcomes, a sound engine's left aside, that a suspect brings about more often than not by chance."""
    if suspect == NONE_OF_THESE or test.name not in CAUSES[suspect].shows:
        return ()
    shown = CAUSES[suspect].shows[test.name]
    return tuple(test.outcome(words) for words, chance in shown.items() if chance >= 0.2)


def unknown_names() -> Iterable[str]:
    """Tests and outcomes that the causes' rows name and that are none."""
    for cause in CAUSES.values():
        for name in (*cause.deciding, *cause.before_repair):
            if name not in BY_NAME:
                yield f"{cause.id}: {name}"
        for name, outcomes in cause.shows.items():
            for words in outcomes:
                if name not in BY_NAME or words not in [each.words for each in BY_NAME[name].outcomes]:
                    yield f"{cause.id}: {name}, {words}"


def _figures(number: float) -> float:
    """A figure as a person would write it: four digits."""
    return float(f"{number:.4g}")


#: Tests by how many outcomes there are before their own, the first outcome of the first test being number 1.
SLOTS: tuple[tuple[Test, int], ...] = tuple(
    (test, number) for test in TESTS for number in range(1, len(test.outcomes) + 1)
)
