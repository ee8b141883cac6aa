"""Compression: rings, valves, gasket, by cylinder and in the whole engine.

What the readings of a cylinder point to is worked out in `sheets/cylinder_verdicts.py`; here it becomes a cause. The
leak-down test outweighs the gauge; the wet test tells rings from valves; neighbours that are equally low share a
gasket land.
"""

from __future__ import annotations

from workbook_tools.faults.model import Bench, Cause, Sign, Words
from workbook_tools.faults.words import at_the_head, cylinders_in_words, readings_of
from workbook_tools.language.expressions import (
    CYLINDERS,
    FALSE,
    TRUE,
    YES,
    Cond,
    column,
    number,
    word,
)
from workbook_tools.language.model import CONFIRMED, INDICATED, POSSIBLE, Strength
from workbook_tools.sheets import cylinder_verdicts as cylinder
from workbook_tools.sheets.compression_results import (
    LITTLE_GAIN,
    LOW,
    RECOVERS,
    REPEAT,
    SOUND,
    all_low,
    dry,
    dry_column,
    how_many_low,
    is_low,
    most,
    wet_verdicts,
)
from workbook_tools.sheets.compression_results import counts as test_counts
from workbook_tools.sheets.readings import is_out

#: What to do once the leak was heard: the causes' own next step is the leak-down test.
AFTER_LEAKDOWN = {
    "worn_rings": "Lift the head or pull the piston, and measure cylinder and rings",
    "leaking_valve": "Check the clearance of this valve first; if it is right, lift the head",
    "head_gasket": "Watch the coolant for bubbles, then lift the head: gasket, head and block",
}
#: Faults of the gauge test alone: the leak-down test is made on an engine that stands still.
LEAKDOWN_STANDS_DESPITE = ("slow_cranking", "compression_test_invalid")
LISTEN_AGAIN = "Listen again at intake, exhaust, oil filler, coolant and the next cylinder"
REPEAT_BOTH = "Repeat the gauge reading and the leak-down test of this cylinder"
WET_OR_LEAKDOWN = "Wet test of this cylinder and of one sound one, or the leak-down test"
PART = {"worn_rings": "rings", "leaking_valve": "a valve", "head_gasket": "the head gasket"}
LEAK_PART = {cylinder.RINGS: "the rings", cylinder.GASKET: "the head gasket"}

wet = cylinder.wet_points_to
#: Further signs of each cause, worth showing beside what decided.
LOW_BUILDS_UP, LOW_STAYS_LOW = (is_low == LOW) & cylinder.builds_up, (is_low == LOW) & cylinder.stays_low
WEAK_DROP = word("drop_is_weak") == "weak"
SUPPORT = {
    "worn_rings": (LOW_BUILDS_UP, cylinder.look == "oily", word("snap_supports_rings") == YES, WEAK_DROP),
    "leaking_valve": (LOW_STAYS_LOW, word("needle_judged") == "evenly spaced drops", WEAK_DROP),
    "head_gasket": (
        cylinder.look == "coolant traces",
        word("needle_judged") == "wide regular swing",
        WEAK_DROP,
    ),
}
unheard = (cylinder.leak_means == cylinder.PLACE_UNKNOWN) & (
    wet.missing | wet.is_in(REPEAT, cylinder.ALL_LOW, cylinder.WET_NEXT)
)
small = cylinder.small == YES
#: What is low only beside a reference that may be raised by carbon itself.
beside_carbon = (word("reference_doubted") == YES) & ~(dry < number("site_compression_min"))
unsure = small | beside_carbon


# --- one cylinder: words ---------------------------------------------------------------------------------------------


def _own(n: int | None) -> int:
    assert n is not None
    return n


def _leak_heard(bench: Bench, n: int | None) -> str:
    means = bench.text("leak_means", n)
    return (
        f"Cylinder {n} leaks {bench.reading('leakdown', n)}, {bench.reading('spec_leakdown_max')} allowed, heard at the "
        f"{bench.text('leak_heard_at', n)}: {LEAK_PART.get(means, f'the {means}')}."
    )


def _bubbles(bench: Bench, n: int | None) -> str:
    return f"Air from cylinder {n} comes up in the coolant ({bench.reading('leakdown', n)} lost): the head gasket, or a crack."


def _stands_out(bench: Bench, n: int | None) -> str:
    means = bench.text("leak_hint", n)
    return (
        f"Cylinder {n} leaks {bench.reading('leakdown', n)}, in limits but three times what the others do, and it is heard at the "
        f"{bench.text('leak_heard_at', n)}: {LEAK_PART.get(means, f'the {means}')}."
    )


def _by_wet_alone(cause: str) -> Words:
    return lambda bench, n: (
        f"{_low(bench, (_own(n),))}; the wet test speaks for {PART[cause]}, but the leak is heard elsewhere: {PART[cause]} may be bad too."
    )


def _leak_unheard(cause: str) -> Words:
    return lambda bench, n: (
        f"Cylinder {n} leaks {bench.reading('leakdown', n)}, {bench.reading('spec_leakdown_max')} allowed, but the place was not "
        f"heard: it may be {PART[cause]}."
    )


def _tight(bench: Bench, n: int | None) -> str:
    return (
        f"Cylinder {n} gauged low ({bench.reading('compression_dry', n)}), but the leak-down test found "
        f"{bench.reading('leakdown', n)}, in limits: the two don't agree."
    )


def _low(bench: Bench, group: tuple[int, ...]) -> str:
    return (
        f"{at_the_head(cylinders_in_words(group))} {'are' if len(group) > 1 else 'is'} low "
        f"({readings_of(bench, 'compression_dry', group)}, {bench.reading('compression_low_line')} needed)"
    )


def _gauged(why: Words, grouped: bool = False) -> Words:
    """A statement on a low cylinder, or on it and its equally low neighbours."""

    def statement(bench: Bench, n: int | None) -> str:
        group = gasket_group(bench, n) if grouped else (_own(n),)
        doubt = ""
        if bench.holds(small, n):
            doubt = " The shortfall is so small that the gauge decides it."
        elif bench.holds(beside_carbon, n):
            doubt = " Most cylinders are above their range, so it may be they that read too high."
        return f"{_low(bench, group)} {why(bench, n)}.{doubt}"

    return statement


def _recovered(bench: Bench, n: int | None) -> str:
    all_of_it = (bench.number("wet_gain_share", n) or 0.0) >= 1
    share = "all" if all_of_it else bench.reading("wet_gain_share", n)
    return f"and oil brought back {share} of the shortfall: worn or broken rings, or a worn cylinder"


def _little(bench: Bench, n: int | None) -> str:
    share = bench.number("wet_gain_share", n)
    brought = "nothing" if share is None or share <= 0 else f"only {bench.reading('wet_gain_share', n)}"
    return f"and oil brought back {brought} of the shortfall: a burned or leaking valve"


def _equally(bench: Bench, n: int | None) -> str:
    return "equally so, and oil changed little in both: the head gasket leaks between them"


def _coolant_on_plug(bench: Bench, n: int | None) -> str:
    also = ", and the engine runs too hot" if bench.text("fault_engine_overheated") else ""
    return f"There are traces of coolant on the plug of cylinder {n}{also}: the head gasket, or a crack."


def _one_or_other(cause: str) -> Words:
    return lambda bench, n: (
        f"and a neighbour is equally low without a clear wet reading of its own: it may be {PART[cause]}"
    )


def _between(cause: str) -> Words:
    def statement(bench: Bench, n: int | None) -> str:
        least, most = bench.number("wet_gain_share_least", n), bench.number("wet_gain_share", n)
        share = bench.reading("wet_gain_share", n)
        between = share if least == most else f"between {100 * (least or 0):.0f} % and {share}"
        return (
            f"and oil brought back {between} of the shortfall, which does not tell: it may be {PART[cause]}"
        )

    return statement


def _untold(cause: str) -> Words:
    return lambda bench, n: f"and neither wet test nor leak-down says why: it may be {PART[cause]}"


def _settle_undecided(bench: Bench, n: int | None) -> str:
    if not bench.filled("sound_gain"):
        return "Wet reading of a sound cylinder, or the leak-down test"
    return "Leak-down test of this cylinder, and of its neighbour"


def _neighbours_not_gauged(bench: Bench, n: int | None) -> str:
    """A neighbour whose reading is missing might be equally low."""
    blank = tuple(
        other for other in bench.shape.neighbours[_own(n)] if not bench.has("compression_dry", other)
    )
    return f"gauge {cylinders_in_words(blank)} beside it, which may be equally low (gasket)" if blank else ""


# --- one cylinder: which cylinders -----------------------------------------------------------------------------------


def gasket_group(bench: Bench, n: int | None) -> tuple[int, ...]:
    """The cylinder and its neighbours along the bank that are equally low, as the sheet says, with the same verdict."""
    own = _own(n)
    verdict = bench.text("wet_points_to", own)
    shared = verdict in (cylinder.GASKET, cylinder.VALVE_OR_GASKET, cylinder.WET_NEXT)
    if not shared or bench.holds(cylinder.place_is_known, own):
        return (own,)
    group = {own}
    for step, cell in ((-1, "equal_before"), (1, "equal_after")):
        at = own
        while bench.text(cell, at):
            beside = _beside(bench, at, step)
            other_verdict = bench.text("wet_points_to", beside)
            if verdict == cylinder.GASKET and (
                other_verdict != verdict or bench.holds(cylinder.leak_is_tight, beside)
            ):
                break
            group.add(beside)
            at = beside
    return tuple(sorted(group))


def _beside(bench: Bench, n: int, step: int) -> int:
    bank = next(each for each in bench.shape.banks if n in each)
    return bank[bank.index(n) + step]


def _leaking_pair(bench: Bench, n: int | None) -> tuple[int, ...]:
    """A leak heard at the next cylinder is found in both, where one neighbour alone leaks too."""
    own = _own(n)
    if bench.text("leak_heard_at", own) != "next cylinder":
        return (own,)
    beside = [
        other
        for other in bench.shape.neighbours[own]
        if bench.text("mark_leakdown", other) == "out of limits"
    ]
    return tuple(sorted([own, *(beside if len(beside) == 1 else [])]))


# --- one cylinder: signs ---------------------------------------------------------------------------------------------


def _heard(cause: str, *means: str) -> tuple[Sign, ...]:
    """A leak over the limit decides by the place where it is heard, whatever the gauge says.

    Heard in the coolant it is seen as bubbles, at any percentage. In limits, but standing out, it agrees with a gauge that
    points there; alone it is a sign of two (larger than the others, and heard). Where all cylinders leak at the rings it is
    one wear, not one of each. Oil on a worn piston hides a valve: what the wet test says stays possible beside the leak.
    """
    supports = (word("leak_heard_at").known, dry.known, cylinder.wet.known, number("spec_leakdown_max").known)
    stands = {
        "waits_for": ("readiness",),
        "despite": LEAKDOWN_STANDS_DESPITE,
        "support": (*supports, *SUPPORT[cause]),
    }
    everywhere = word("rings_everywhere") == YES
    in_coolant = (cylinder.leak_place == "coolant") & number("leakdown").known & ~cylinder.leaks
    heard = cylinder.leak_means.is_in(*means)
    signs: list[Sign] = []
    if cause == "worn_rings":
        signs.append(Sign(heard & everywhere, None))
    if cause == "head_gasket":
        signs.append(
            Sign(in_coolant, INDICATED, _bubbles, "leak-down place", AFTER_LEAKDOWN[cause], **stands)
        )  # type: ignore[arg-type]
    signs.append(
        Sign(
            heard,
            CONFIRMED,
            _leak_heard,
            "leak-down place",
            AFTER_LEAKDOWN[cause],
            cylinders=_leaking_pair,
            **stands,  # type: ignore[arg-type]
        )
    )
    if cause != "head_gasket":
        signs.append(
            Sign(
                cylinder.place_is_known
                & (wet == (cylinder.RINGS if cause == "worn_rings" else cylinder.VALVE)),
                POSSIBLE,
                _by_wet_alone(cause),
                "wet test against leak-down",
                "Gauge compression again after the first repair",
                waits_for=("readiness",),
                support=(is_low == LOW, cylinder.leaks),
            )
        )
    signs.append(Sign(cylinder.place_is_known, None))
    if cause != "worn_rings":
        signs.append(
            Sign(
                cylinder.leak_hint.is_in(*means) & ~cylinder.hint_agrees,
                INDICATED,
                _stands_out,
                "leak that stands out",
                "Leak-down again, and the gauge dry and wet",
                **stands,  # type: ignore[arg-type]
            )
        )
    return (
        *signs,
        Sign(unheard, POSSIBLE, _leak_unheard(cause), "leak-down unheard", LISTEN_AGAIN, **stands),  # type: ignore[arg-type]
    )


def _by_gauge(
    cause: str,
    when: Cond,
    strength: Strength,
    statement: Words,
    rule: str,
    next_step: str | Words = "",
    *,
    grouped: bool = False,
    unsettled: Words = lambda bench, n: "",
) -> Sign:
    return Sign(
        when,
        strength,
        statement,
        rule,
        next_step,
        waits_for=("readiness",),
        unsettled=unsettled,
        caution="cranking" if next_step == WET_OR_LEAKDOWN else "",
        cylinders=gasket_group if grouped else None,
        support=(is_low == LOW, cylinder.wet.known, number("leakdown").known, *SUPPORT[cause]),
        rests_on=("compression_dry", "compression_wet"),
    )


def _gauge_signs(
    cause: str, own: str, undecided: str, why: Words, rule: str, supports: Cond, near: Cond
) -> tuple[Sign, ...]:
    """What the gauge says of one cause: decided, between two, or not yet told; small shortfalls stay possible."""
    grouped = own == cylinder.GASKET
    beside = _neighbours_not_gauged if own == cylinder.VALVE else lambda bench, n: ""
    both = wet.is_in(
        *dict.fromkeys((undecided, cylinder.VALVE_OR_GASKET) if own == cylinder.VALVE else (undecided,))
    )
    mine = (wet == own) | both | ((wet == cylinder.WET_NEXT) & near)
    untold = (wet == cylinder.WET_NEXT) & near
    told = {
        "rule": "low, not yet told",
        "next_step": WET_OR_LEAKDOWN,
        "unsettled": beside,
        "grouped": grouped,
    }
    signs = [
        _by_gauge(cause, mine & cylinder.leak_is_tight, POSSIBLE, _tight, "leak-down tight", REPEAT_BOTH),
        _by_gauge(
            cause, untold & supports & ~beside_carbon, INDICATED, _gauged(_untold(cause), grouped), **told
        ),  # type: ignore[arg-type]
        _by_gauge(cause, untold, POSSIBLE, _gauged(_untold(cause), grouped), **told),  # type: ignore[arg-type]
    ]
    if own != cylinder.GASKET:
        signs.append(
            _by_gauge(
                cause,
                wet == cylinder.RINGS_OR_VALVE,
                POSSIBLE,
                _gauged(_between(cause)),
                "wet test open",
                _settle_undecided,
                unsettled=beside,
            )
        )
    if own != cylinder.RINGS:
        signs.append(
            _by_gauge(
                cause,
                wet == cylinder.VALVE_OR_GASKET,
                POSSIBLE,
                _gauged(_one_or_other(cause), grouped),
                "equal neighbours",
                _settle_undecided,
                grouped=grouped,
                unsettled=beside,
            )
        )
    decided = _gauged(why, grouped)
    return (
        *signs,
        _by_gauge(cause, (wet == own) & unsure, POSSIBLE, decided, rule, grouped=grouped, unsettled=beside),
        _by_gauge(cause, wet == own, CONFIRMED, decided, rule, grouped=grouped, unsettled=beside),
    )


# --- all cylinders together ------------------------------------------------------------------------------------------

together = (all_low == YES) & (test_counts != "no") & (column("low_and_heard").count_of(YES) < how_many_low)
all_recover = together & (wet_verdicts.count_of(RECOVERS) == how_many_low)
none_recovers = together & (wet_verdicts.count_of(LITTLE_GAIN) == how_many_low)
gauge_doubted = word("gauge_doubted") == YES
any_small, any_tight = (
    column("small_shortfall").any_is(YES),
    column("points_to").any_is(cylinder.LOW_BUT_TIGHT),
)
no_wet_test = column("wet_gain_share").missing
most_oily = 2 * column("plug_look").count_of("oily") > CYLINDERS
very_low = (
    (word("vacuum_very_low") == YES) & number("idle_vacuum_low").known & number("idle_vacuum_high").known
)
needle, with_speed = word("needle_judged"), word("needle_with_speed")
not_gauged = dry_column.missing
WET_OF_ALL = "Wet test of every cylinder; check that the gauge reads right and the starter turns fast enough"


def low_ones(bench: Bench, _: int | None) -> tuple[int, ...]:
    """The cylinders that are low."""
    return tuple(n for n in bench.cylinders if bench.text("compression_is_low", n) == LOW)


def _all_low(told: str, decided: bool) -> Words:
    """Which cylinders are low and from where to where; from four up one of them may be sound."""

    def statement(bench: Bench, n: int | None) -> str:
        low = low_ones(bench, n)
        sound = tuple(each for each in bench.cylinders if each not in low)
        which = f"All cylinders but {cylinders_in_words(sound)} are low" if sound else "All cylinders are low"
        highest = max(low, key=lambda each: bench.number("compression_dry", each) or 0.0)
        doubt = " A shortfall so small is decided by the gauge." if decided and bench.holds(any_small) else ""
        return (
            f"{which} ({bench.reading('compression_lowest')} to {bench.reading('compression_dry', highest)}, "
            f"{bench.reading('site_compression_min')} needed here){told}.{doubt}"
        )

    return statement


def _engine_sign(
    when: Cond,
    strength: Strength | None,
    told: str = "",
    rule: str = "",
    next_step: str = "",
    support: Cond = FALSE,
) -> Sign:
    return Sign(
        when,
        strength,
        _all_low(told, decided=not next_step),
        rule,
        next_step,
        caution="cranking" if next_step else "",
        waits_for=("readiness",),
        cylinders=low_ones,
        support=(
            dry_column.known,
            column("compression_wet").known,
            number("site_compression_min").known,
            support,
        ),
    )


def _untold_signs(what: str, supports: Cond) -> tuple[Sign, ...]:
    told = f", and the wet test does not tell why yet: it may be {what}"
    return (
        _engine_sign(
            together & no_wet_test & supports & ~gauge_doubted,
            INDICATED,
            told,
            "all low, not yet told",
            WET_OF_ALL,
            supports,
        ),
        _engine_sign(together, POSSIBLE, told, "all low, not yet told", WET_OF_ALL, supports),
    )


def _leaky_at_rings(bench: Bench, _: int | None) -> tuple[int, ...]:
    return tuple(n for n in bench.cylinders if bench.text("leak_means", n) == cylinder.RINGS)


def _rings_everywhere(bench: Bench, n: int | None) -> str:
    leaky = _leaky_at_rings(bench, n)
    return (
        f"{at_the_head(cylinders_in_words(leaky))} leak past the rings ({readings_of(bench, 'leakdown', leaky)}, "
        f"{bench.reading('spec_leakdown_max')} allowed), heard at the oil filler: wear in all cylinders."
    )


WEAR = " and oil brought each back by half or more of its shortfall: wear in all cylinders"
TIMED = " and even, and oil changed little: valve timing out"
above_max = column("compression_above_max")


def _high_ones(bench: Bench, _: int | None) -> tuple[int, ...]:
    return tuple(n for n in bench.cylinders if bench.has("compression_above_max", n))


def _deposits(bench: Bench, n: int | None) -> str:
    high = _high_ones(bench, n)
    return (
        f"{at_the_head(cylinders_in_words(high))} above the highest compression allowed here "
        f"({readings_of(bench, 'compression_dry', high)}, at most {bench.reading('site_compression_max')}): carbon build-up."
    )


def _needle_alone(told: str) -> Words:
    return lambda bench, _: told


GAUGE_ALL = "Compression test of every cylinder, dry, then wet where low"

# --- what speaks against a cause that somebody named -------------------------------------------------------------------

gauged = (
    (test_counts != "no") & number("compression_low_line").known & (is_low == SOUND) & ~is_out("leakdown")
)
compared = (dry_column.count() > 1) | number("site_compression_min").known
sound = (cylinder.leak_is_tight & (is_low != LOW)) | (gauged & compared)
wet_counts = test_counts != "no"


def heard_elsewhere(*own: str) -> Cond:
    """The leak is heard, and at another part."""
    return cylinder.place_is_known & ~cylinder.leak_means.is_in(*own)


def wet_says(verdict: str) -> Cond:
    """The wet test says so, and no leak was heard."""
    return (
        ~cylinder.place_is_known
        & wet_counts
        & (cylinder.wet_verdict == verdict)
        & number("compression_wet").known
    )


CAUSES = (
    Cause(
        id="worn_rings",
        complaints=("lacks power", "uses oil", "hard starting", "rough idle"),
        system="compression",
        shown_as="Worn or broken rings, worn cylinder",
        decided_by=(
            "a low cylinder recovers at least {rings_share} of its shortfall in the wet test; or leakage over limit heard at the "
            "oil filler"
        ),
        supported_by=(
            "first stroke low and building up; oily plug; snap test low: falls to about zero and rises short of normal"
        ),
        spoken_against_by="wet test brings little gain",
        next_step="Leak-down test shows how much; then lift the head or pull the piston",
        caution="compressed air",
        cylinder_signs=(
            *_heard("worn_rings", cylinder.RINGS),
            *_gauge_signs(
                "worn_rings",
                cylinder.RINGS,
                cylinder.RINGS_OR_VALVE,
                _recovered,
                "wet test recovers",
                cylinder.supports_rings > 0,
                TRUE,
            ),
        ),
        cleared=heard_elsewhere(cylinder.RINGS) | wet_says(LITTLE_GAIN) | (~wet_says(RECOVERS) & sound),
        hinted=wet_says(RECOVERS) | (cylinder.look == "oily") | (word("snap_supports_rings") == YES),
        replaced_by=("leaking_valve", "head_gasket", "valve_timing"),
        recheck=("after_compression", "after_leakdown"),
    ),
    Cause(
        id="leaking_valve",
        complaints=("lacks power", "rough idle", "misfires", "hard starting", "high fuel use"),
        system="compression",
        shown_as="Burned or leaking valve",
        decided_by=(
            "a low cylinder recovers less than {valve_share} of its shortfall in the wet test and no neighbour is equally low; or "
            "leakage over limit heard at intake or exhaust (name which valve)"
        ),
        supported_by="evenly spaced drops of the needle; first stroke low and staying low",
        spoken_against_by="wet test recovers the shortfall",
        next_step="Check valve clearance first; leak-down test tells intake from exhaust",
        caution="compressed air",
        signs=(
            Sign(
                (CYLINDERS == 1)
                & (all_low == YES)
                & (test_counts != "no")
                & cylinder.leak_means.of(1).missing
                & (cylinder.wet_verdict.of(1) != RECOVERS)
                & (cylinder.points_to.of(1) != cylinder.LOW_BUT_TIGHT)
                & ~(number("leakdown").of(1).known & word("mark_leakdown").of(1).known),
                POSSIBLE,
                lambda bench, _: (
                    f"The only cylinder is low ({bench.reading('compression_dry', 1)}, "
                    f"{bench.reading('site_compression_min')} needed here): it may be a valve."
                ),
                "all low, not yet told",
                "Leak-down test, or the wet test and then the valve timing marks",
                waits_for=("readiness",),
                cylinders=lambda bench, _: (1,),
                support=(dry_column.known, number("site_compression_min").known),
            ),
            Sign(
                not_gauged & (needle == "evenly spaced drops"),
                POSSIBLE,
                _needle_alone("The needle drops at even intervals: one cylinder fails, most often a valve."),
                "needle drops evenly",
                GAUGE_ALL,
                caution="cranking",
                waits_for=("readiness",),
                support=(number("idle_vacuum_low").known, number("idle_vacuum_high").known),
            ),
        ),
        cylinder_signs=(
            *_heard("leaking_valve", cylinder.EXHAUST_VALVE, cylinder.INTAKE_VALVE),
            *_gauge_signs(
                "leaking_valve",
                cylinder.VALVE,
                cylinder.RINGS_OR_VALVE,
                _little,
                "wet test gains little",
                cylinder.supports_valve > 0,
                TRUE,
            ),
        ),
        cleared=heard_elsewhere(cylinder.EXHAUST_VALVE, cylinder.INTAKE_VALVE)
        | wet_says(RECOVERS)
        | (~wet_says(LITTLE_GAIN) & sound),
        hinted=wet_says(LITTLE_GAIN) | (needle == "evenly spaced drops"),
        replaced_by=("worn_rings", "head_gasket", "general_wear", "valve_timing"),
        recheck=("after_compression", "after_leakdown"),
    ),
    Cause(
        id="head_gasket",
        complaints=("overheats", "rough idle", "misfires", "lacks power", "hard starting", "does not start"),
        system="compression",
        shown_as="Head gasket leaking between cylinders",
        decided_by=(
            "two neighbours on one bank equally low (within {equal_neighbours} of each other) with little wet gain; or leakage heard at "
            "the next cylinder or in the coolant"
        ),
        supported_by="wide regular swing of the needle; coolant traces on the plug",
        spoken_against_by="neighbours differ widely",
        next_step="Leak-down on both cylinders, listen at the neighbour and watch the coolant",
        caution="compressed air",
        signs=(
            Sign(
                not_gauged & (needle == "wide regular swing"),
                POSSIBLE,
                _needle_alone(
                    "The needle swings wide and regularly: two neighbours may leak into each other."
                ),
                "needle swings wide",
                GAUGE_ALL,
                caution="cranking",
                waits_for=("readiness",),
                support=(number("idle_vacuum_low").known, number("idle_vacuum_high").known),
            ),
        ),
        cylinder_signs=(
            *_heard("head_gasket", cylinder.GASKET),
            *_gauge_signs(
                "head_gasket",
                cylinder.GASKET,
                cylinder.VALVE_OR_GASKET,
                _equally,
                "equal neighbours",
                cylinder.supports_gasket > 0,
                cylinder.has_equal_neighbour,
            ),
            Sign(
                (cylinder.look == "coolant traces") & (word("fault_engine_overheated") == CONFIRMED),
                INDICATED,
                _coolant_on_plug,
                "coolant on a plug",
            ),
            Sign(cylinder.look == "coolant traces", POSSIBLE, _coolant_on_plug, "coolant on a plug"),
        ),
        cleared=heard_elsewhere(cylinder.GASKET)
        | wet_says(RECOVERS)
        | (
            (cylinder.look != "coolant traces")
            & ~cylinder.place_is_known
            & (sound | (wet_counts & cylinder.neighbours_differ))
        ),
        hinted=(cylinder.look == "coolant traces") | (needle == "wide regular swing"),
        replaced_by=("worn_rings", "leaking_valve", "general_wear", "valve_timing"),
        recheck=("after_compression", "after_leakdown"),
    ),
)

ENGINE_CAUSES = (
    Cause(
        id="valve_timing",
        complaints=("lacks power", "hard starting", "rough idle", "does not start", "overheats", "knocks"),
        system="compression",
        shown_as="Valve timing out",
        decided_by="all cylinders low and even, wet test brings little gain, test conditions met",
        supported_by="steady vacuum well below normal, very low",
        spoken_against_by="idle vacuum and cranking vacuum in limits",
        next_step="Check timing chain or gear marks",
        signs=(
            Sign(all_recover, None),
            _engine_sign(
                none_recovers & (any_small | gauge_doubted | (CYLINDERS == 1)),
                POSSIBLE,
                TIMED,
                "all low, oil does not help",
                support=very_low,
            ),
            _engine_sign(none_recovers, CONFIRMED, TIMED, "all low, oil does not help", support=very_low),
            *_untold_signs("valve timing", very_low),
        ),
        cleared=((all_low == "no") | (wet_verdicts.count_of(RECOVERS) == how_many_low) & (all_low == YES))
        & wet_counts
        & dry_column.known,
        hinted=(all_low == YES) & wet_counts,
        replaced_by=("general_wear",),
        recheck=("after_compression",),
    ),
    Cause(
        id="general_wear",
        complaints=("lacks power", "uses oil", "hard starting", "high fuel use", "does not start"),
        system="compression",
        shown_as="Wear in all cylinders",
        decided_by="all cylinders low and each recovers at least {rings_share} in the wet test",
        supported_by="high odometer, oily plugs",
        next_step="Overhaul estimate",
        signs=(
            Sign(
                word("rings_everywhere") == YES,
                CONFIRMED,
                _rings_everywhere,
                "leak-down at all rings",
                waits_for=("readiness",),
                despite=LEAKDOWN_STANDS_DESPITE,
                cylinders=_leaky_at_rings,
            ),
            _engine_sign(
                all_recover & (any_small | any_tight), POSSIBLE, WEAR, "all low, oil helps", support=most_oily
            ),
            _engine_sign(all_recover, CONFIRMED, WEAR, "all low, oil helps", support=most_oily),
            Sign(none_recovers, None),
            *_untold_signs("wear in all cylinders", most_oily),
        ),
        cleared=((all_low == "no") | (wet_verdicts.count_of(LITTLE_GAIN) == how_many_low) & (all_low == YES))
        & wet_counts
        & dry_column.known,
        hinted=(all_low == YES) & wet_counts,
        replaced_by=("valve_timing",),
        recheck=("after_compression", "after_leakdown"),
    ),
    Cause(
        id="carbon_deposits",
        complaints=("knocks", "overheats"),
        system="compression",
        shown_as="Carbon build-up",
        decided_by="compression above spec_compression_max at site",
        next_step="Decarbonise; check for knock",
        cylinder_signs=tuple(
            Sign(
                wet_counts & (dry > most) & when,
                strength,
                _deposits,
                "compression above range",
                waits_for=("readiness",),
                cylinders=_high_ones,
                support=(above_max.known, most.known),
            )
            for when, strength in ((column("compression_over_max").known, CONFIRMED), (TRUE, POSSIBLE))
        ),
        cleared=wet_counts & (dry <= most),
        recheck=("after_compression",),
    ),
)
