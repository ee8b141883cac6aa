"""All cylinders together: valve timing, wear in all of them, carbon."""

from __future__ import annotations

from workbook_tools.faults.model import Bench, Cause, Sign, Words
from workbook_tools.faults.one_cylinder import LEAKDOWN_STANDS_DESPITE, wet_counts
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
    all_low,
    dry,
    dry_column,
    how_many_low,
    most,
    wet_verdicts,
)
from workbook_tools.sheets.compression_results import counts as test_counts

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


CAUSES = (
    Cause(
        id="valve_timing",
        common=1.6,
        deciding=(
            "dry compression",
            "wet compression",
        ),
        shows={
            "idle vacuum": {"steady, very low": 0.6, "steady, low": 0.3},
            "dry compression": {"all low and even": 0.9},
            "wet compression": {"little gain": 0.9},
            "running mixture and choke": {"below normal, not by mixture": 0.75},
            "cranking vacuum": {"low or slow to rise": 0.75},
            "retest after tightening": {"still low": 0.95},
            "throttle snapped": {"falls to nothing, rises short": 0.2},
        },
        complaints=("lacks power", "hard starting", "rough idle", "does not start", "overheats", "knocks"),
        system="compression",
        shown_as="Valve timing out",
        customer_words="The valves opened and closed at the wrong time",
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
        common=2.5,
        deciding=(
            "dry compression",
            "wet compression",
            "leak-down",
        ),
        shows={
            "idle vacuum": {"steady, low": 0.75},
            "throttle snapped": {"falls to nothing, rises short": 0.8},
            "dry compression": {"all low and even": 0.85, "low in one or some": 0.1},
            "wet compression": {"oil brings it up": 0.92},
            "leak-down": {"at the oil filler": 0.9},
            "plugs": {"oily": 0.8},
            "running mixture and choke": {"below normal, not by mixture": 0.5},
            "cranking vacuum": {"low or slow to rise": 0.6},
            "retest after tightening": {"still low": 0.95},
        },
        complaints=("lacks power", "uses oil", "hard starting", "high fuel use", "does not start"),
        system="compression",
        shown_as="Wear in all cylinders",
        customer_words="The engine is worn in all cylinders",
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
        common=3.2,
        deciding=("dry compression",),
        shows={
            "dry compression": {"above its range": 0.92},
        },
        complaints=("knocks", "overheats"),
        system="compression",
        shown_as="Carbon build-up",
        customer_words="Carbon had built up in the combustion chambers",
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
