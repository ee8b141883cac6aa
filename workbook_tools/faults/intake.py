"""Air that leaks in at the intake, the heat riser, and a low vacuum that nothing explains.

The starter turns the engine without spark, so the cranking vacuum waits for readiness and compression only; a
cylinder that is low or leaks lowers it too, and then it proves nothing, unless tightening the fastenings brought it
back.
"""

from __future__ import annotations

from workbook_tools.faults import vacuum
from workbook_tools.faults.mixture import (
    BEFORE_MIXTURE,
    lean_by_choke,
    lean_by_gas,
)
from workbook_tools.faults.model import Bench, Cause, Sign, Words
from workbook_tools.language.expressions import (
    YES,
    Cond,
    number,
    word,
)
from workbook_tools.language.model import CONFIRMED, INDICATED, POSSIBLE, Strength
from workbook_tools.sheets.compression_results import dry_column
from workbook_tools.sheets.fuel_results import (
    AT_BASE,
    AT_HOSE,
    AT_NEITHER,
    NEAR,
    SLOW,
    STILL_LOW,
    TIGHT,
    TIGHTEN,
    TIGHTENED,
    intake,
    lowered,
)
from workbook_tools.sheets.fuel_results import slow as rises_slowly
from workbook_tools.sheets.gas_results import RAISED
from workbook_tools.sheets.readings import is_above, is_below, is_beyond, is_inside, is_out, near_by_gauge

riser = word("heat_riser")


cylinder_lowers = lowered == YES


is_tight = intake.is_in(TIGHT, TIGHTENED) & (riser != "burned through")


def shown(*names: str) -> tuple[Cond, ...]:
    """Readings worth showing beside what decided."""
    return tuple(number(name).known for name in names)


#: Signs that agree with an air leak: a very low steady needle, a lean mixture.
LEAK_SHOWN = (
    *shown("cranking_vacuum", "cranking_vacuum_retest", "site_cranking_vacuum_min"),
    word("cranking_vacuum_rise").known,
    vacuum.very_low & number("idle_vacuum_low").known,
    vacuum.very_low & number("idle_vacuum_high").known,
    lean_by_choke & number("running_vacuum").known,
    lean_by_choke & number("running_vacuum_choked").known,
    lean_by_gas & number("lambda").of(RAISED).known,
)


CRANKING_SHOWN = LEAK_SHOWN[:4]


leak_place = word("leak_found_at")


leak_found = leak_place.is_in(AT_HOSE, AT_BASE)


retest_low = (intake == STILL_LOW) | ((intake == NEAR) & is_beyond("cranking_vacuum_retest"))


first_low = intake.is_in(TIGHTEN, SLOW, NEAR) & ~retest_low


fell = number("cranking_vacuum_retest").known & is_inside("cranking_vacuum")


retest_unsure = fell | near_by_gauge("cranking_vacuum_retest")


def _needed(bench: Bench) -> str:
    return f"at least {bench.reading('site_cranking_vacuum_min')} needed here"


def _tightened(bench: Bench, _: int | None) -> str:
    was = "slow to rise" if bench.holds(is_inside("cranking_vacuum")) else bench.reading("cranking_vacuum")
    return (
        f"Cranking vacuum was {was} and came to {bench.reading('cranking_vacuum_retest')} once the manifold fastenings were "
        f"tightened ({_needed(bench)}): they leaked."
    )


def _leak_at(bench: Bench, _: int | None) -> str:
    by = (
        "the vacuum came up with it pinched off"
        if bench.text("hoses_pinched") == "vacuum came up"
        else "the engine changed when it was tested"
    )
    return f"Air leaks in at {bench.text('leak_found_at')}: {by}."


def _by_cranking(what: Words, unsure: Cond) -> Words:
    """A statement from the cranking vacuum, with what speaks against believing it."""

    def statement(bench: Bench, n: int | None) -> str:
        doubt = ""
        if bench.holds(cylinder_lowers):
            doubt = ". A low or leaking cylinder lowers this vacuum too"
        elif bench.holds(unsure):
            doubt = ". It lies nearer to the limit than the gauge can tell"
        return f"{what(bench, n)}{doubt}."

    return statement


def _air_leaks_in(bench: Bench, _: int | None) -> str:
    reads = "Cranking vacuum"
    slow = " is slow to rise" if bench.holds(rises_slowly) else ""
    if bench.holds(is_below("cranking_vacuum")):
        reads = f"Cranking vacuum is {bench.reading('cranking_vacuum')}, {_needed(bench)}"
        slow = ", and is slow to rise" if slow else ""
    return f"{reads}{slow}: air leaks in at the intake"


def _still_low(bench: Bench, _: int | None) -> str:
    return (
        f"Cranking vacuum is still low with the fastenings tightened: {bench.reading('cranking_vacuum_retest')}, "
        f"{_needed(bench)}; a cracked manifold or a burned heat riser lets air in"
    )


def _still_low_all_tested(bench: Bench, _: int | None) -> str:
    return (
        f"Cranking vacuum is still low with the fastenings tightened: {bench.reading('cranking_vacuum_retest')}, {_needed(bench)}; no hose "
        "and not the carburettor base made it better: a cracked manifold or a burned heat riser"
    )


def _cylinder_first(bench: Bench, _: int | None) -> str:
    lowers = bench.holds(cylinder_lowers)
    return "repair the low or leaking cylinder, then read the cranking vacuum again" if lowers else ""


def _cranking_sign(
    when: Cond, strength: Strength, what: Words, unsure: Cond, rule: str, next_step: str = ""
) -> Sign:
    return Sign(
        when,
        strength,
        _by_cranking(what, unsure),
        rule,
        next_step,
        waits_for=("readiness", "compression"),
        unsettled=_cylinder_first,
        support=LEAK_SHOWN,
    )


low_untested = (
    vacuum.low_and_steady
    & ~vacuum.intake_measured
    & ((vacuum.timing_measured & vacuum.timing_in_limits) | (~vacuum.timing_measured & vacuum.very_low))
)


def _low_untested(bench: Bench, _: int | None) -> str:
    why = (
        "so low that an air leak at the intake is more likely than timing"
        if bench.holds(vacuum.very_low)
        else "timing is in limits, and the intake was not tested"
    )
    return f"{vacuum.low_vacuum(bench)}; {why}."


unexplained = (
    vacuum.low_and_steady
    & vacuum.timing_measured
    & vacuum.timing_in_limits
    & vacuum.intake_measured
    & ~(rises_slowly & number("cranking_vacuum_retest").missing)
    & (
        is_inside("cranking_vacuum_retest")
        | (number("cranking_vacuum_retest").missing & is_inside("cranking_vacuum"))
    )
    & vacuum.even
    & ~is_out("backpressure")
    & ~vacuum.explained_by_a_cause
)


def _unexplained(bench: Bench, _: int | None) -> str:
    return f"{vacuum.low_vacuum(bench)}, although compression, timing and intake are all in limits."


UNEXPLAINED_SHOWN = (
    *vacuum.needle_shown,
    *shown("timing", "cranking_vacuum", "cranking_vacuum_retest"),
    dry_column.known,
)


leak_shown = is_below("cranking_vacuum") | rises_slowly


no_leak = ~leak_shown & is_inside("cranking_vacuum")


retest_inside = is_inside("cranking_vacuum_retest")

CAUSES = (
    Cause(
        id="intake_leak",
        before_repair=("retest after tightening", "carburettor base tested", "hoses pinched off"),
        common=4,
        deciding=(
            "cranking vacuum",
            "retest after tightening",
            "carburettor base tested",
            "hoses pinched off",
        ),
        shows={
            "idle vacuum": {"steady, very low": 0.6, "steady, low": 0.25},
            "cranking vacuum": {"low or slow to rise": 0.94},
            "retest after tightening": {"back in limits": 0.55},
            "hoses pinched off": {"the vacuum comes up": 0.25},
            "carburettor base tested": {"the engine changes": 0.25},
            "running mixture and choke": {"below normal, the choke brings it up": 0.7},
            "exhaust gas": {"lean": 0.6},
            "plugs": {"mostly blistered white": 0.5},
        },
        complaints=("rough idle", "stalls", "lacks power", "hard starting", "misfires", "overheats"),
        system="fuel and air",
        shown_as="Air leak into the intake (manifold, hose, carburettor base)",
        customer_words="The engine drew in air where it should not",
        decided_by=(
            "cranking_vacuum below the site limit or slow to rise; or a hose pinched off, or the base tested, with a change"
        ),
        supported_by="very low steady vacuum; lean signs",
        next_step="Tighten the manifold fastenings and repeat the test",
        caution="hot parts",
        signs=(
            Sign(
                leak_found,
                CONFIRMED,
                _leak_at,
                "air found at a place",
                "Renew what leaks, then read the vacuum again",
            ),
            Sign(
                intake == TIGHTENED,
                CONFIRMED,
                _tightened,
                "tightening restores the cranking vacuum",
                "Read the idle vacuum again with the fastenings tight",
                support=CRANKING_SHOWN,
            ),
            _cranking_sign(
                first_low & ((intake == NEAR) | cylinder_lowers),
                POSSIBLE,
                _air_leaks_in,
                intake == NEAR,
                "cranking vacuum",
            ),
            _cranking_sign(first_low, CONFIRMED, _air_leaks_in, intake == NEAR, "cranking vacuum"),
            Sign(
                low_untested & ~retest_low,
                POSSIBLE,
                _low_untested,
                "steady and very low",
                "Cranking vacuum with the throttle closed",
                waits_for=BEFORE_MIXTURE,
                support=(*vacuum.needle_shown, number("timing").known),
            ),
        ),
        cleared=no_leak,
        hinted=leak_shown | vacuum.very_low,
        replaced_by=("manifold_or_heat_riser",),
        recheck=("after_cranking_vacuum",),
        # The retest is made with the fastenings tightened, which is the repair of a leak at them.
        instead={"after_cranking_vacuum": is_inside("cranking_vacuum_retest")},
        in_short="Tighten the manifold fastenings, then read the cranking vacuum again",
        turn=2,
    ),
    Cause(
        id="manifold_or_heat_riser",
        common=1.6,
        deciding=(
            "cranking vacuum",
            "retest after tightening",
            "carburettor base tested",
            "hoses pinched off",
        ),
        shows={
            "idle vacuum": {"steady, very low": 0.6, "steady, low": 0.25},
            "cranking vacuum": {"low or slow to rise": 0.94},
            "retest after tightening": {"still low": 0.97},
            "heat riser": {"burned through": 0.4},
            "running mixture and choke": {"below normal, the choke brings it up": 0.7},
            "exhaust gas": {"lean": 0.6},
            "plugs": {"mostly blistered white": 0.5},
        },
        complaints=("rough idle", "stalls", "lacks power", "misfires"),
        system="fuel and air",
        shown_as="Cracked manifold or burned heat riser",
        customer_words="The manifold was cracked, or the heat passage in it burned through",
        decided_by=(
            "heat riser burned through; or every hose pinched off and the carburettor base tested without change"
        ),
        supported_by="cranking vacuum still low after the fastenings were tightened",
        next_step=(
            "Pinch off the hoses one at a time, test carburettor base and throttle shaft; then pressure-test or remove the manifold"
        ),
        in_short="Pinch off the hoses, test carburettor base and shaft; then the manifold",
        caution="hot parts+pinched servo hose+spray",
        signs=(
            Sign(
                riser == "burned through",
                CONFIRMED,
                lambda bench, _: (
                    "The heat riser is burned through: exhaust gas and air leak into the intake."
                ),
                "heat riser seen",
                support=(retest_low & number("cranking_vacuum_retest").known,),
            ),
            Sign(leak_found, None),
            _cranking_sign(
                retest_low & (retest_unsure | cylinder_lowers),
                POSSIBLE,
                _still_low,
                retest_unsure,
                "still low after tightening",
            ),
            _cranking_sign(
                retest_low & (leak_place == AT_NEITHER),
                CONFIRMED,
                _still_low_all_tested,
                retest_unsure,
                "still low after tightening",
                "Pressure-test or remove the manifold",
            ),
            _cranking_sign(retest_low, INDICATED, _still_low, retest_unsure, "still low after tightening"),
        ),
        cleared=(riser != "burned through") & ~is_below("cranking_vacuum_retest") & (retest_inside | no_leak),
        hinted=(riser == "burned through") | is_below("cranking_vacuum_retest"),
        replaced_by=("intake_leak",),
        recheck=("after_cranking_vacuum",),
        turn=3,
    ),
    Cause(
        id="heat_riser_stuck",
        common=1,
        deciding=("heat riser",),
        shows={
            "heat riser": {"stuck": 0.95},
        },
        complaints=("lacks power", "stalls", "rough idle", "overheats", "hard starting"),
        system="fuel and air",
        shown_as="Heat riser stuck",
        customer_words="The flap that warms the intake was stuck",
        decided_by="heat_riser stuck",
        next_step="Free the valve; check it moves with heat",
        caution="hot parts",
        signs=(
            Sign(
                riser == "stuck",
                CONFIRMED,
                lambda bench, _: (
                    "The heat riser valve is stuck: the manifold gets too much heat or too little."
                ),
                "heat riser seen",
            ),
        ),
        cleared=riser.known & (riser != "stuck"),
        turn=4,
    ),
    Cause(
        id="low_vacuum_unexplained",
        common=0.001,
        shows={
            "idle vacuum": {"steady, low": 0.5},
        },
        complaints=("lacks power", "rough idle"),
        system="fuel and air",
        shown_as="Low vacuum not explained yet",
        customer_words="The engine draws too weakly at idle; the reason is still to be found",
        decided_by="low steady vacuum with compression, timing and intake all in limits",
        next_step="Check valve timing and exhaust restriction",
        caution="exhaust gas",
        signs=(
            Sign(
                unexplained,
                CONFIRMED,
                _unexplained,
                "low vacuum unexplained",
                waits_for=BEFORE_MIXTURE,
                support=UNEXPLAINED_SHOWN,
            ),
        ),
        cleared=is_inside("idle_vacuum_mean")
        | (is_below("idle_vacuum_mean") & (is_beyond("timing") | is_beyond("cranking_vacuum"))),
        hinted=is_below("idle_vacuum_mean") | is_above("idle_vacuum_mean"),
        replaced_by=("late_timing", "intake_leak", "manifold_or_heat_riser", "exhaust_restriction"),
        recheck=("after_idle_vacuum_mean",),
        turn=9,
    ),
)
