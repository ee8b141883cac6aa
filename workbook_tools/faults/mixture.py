"""Mixture: idle by the needle, running by vacuum and choke, and both by four exhaust gases.

Lambda is blind to charges that did not fire: unburned fuel and oxygen leave together and balance. Much of both with
lambda near one is therefore a misfire and no mixture fault; `ignition` takes it up.
"""

from __future__ import annotations

from workbook_tools.faults.model import Bench, Cause, Sign
from workbook_tools.faults.spark import in_order
from workbook_tools.faults.words import at_the_head
from workbook_tools.language.expressions import YES, Cond, number, word
from workbook_tools.language.model import CONFIRMED, INDICATED, POSSIBLE, Strength, System
from workbook_tools.sheets.fuel_results import CHOKE_NEXT, NORMAL, NOT_LEAN, TIGHTENED, intake
from workbook_tools.sheets.fuel_results import LEAN as CHOKE_HELPS
from workbook_tools.sheets.gas_results import GASES, LEAN, RAISED, RICH
from workbook_tools.sheets.readings import is_above, is_below, is_beyond, is_inside, is_judged, near_by_gauge
from workbook_tools.sheets.spark_plugs import is_on_most, looks

IDLE_POINT = 1
BEFORE_MIXTURE: tuple[System, ...] = ("readiness", "compression", "ignition")
VALVES_FIRST = ("too tight", "too wide", "not checked")
BLOCKED_AIR = ("dirty", "blocked")

mixture, running = word("mixture_says"), word("running_says")
is_rich, lean_by_gas = mixture.of(RAISED) == RICH, mixture.of(RAISED) == LEAN
#: Unfired charges and air in the exhaust look lean, and blame nobody.
only_looks_lean = word("looks_lean").of(RAISED) == YES
#: A leak that was there when the mixture was read: what was read before it was cured is of another engine.
before_tightening = intake == TIGHTENED
lean_by_choke = running == CHOKE_HELPS
blocked_air = word("air_cleaner").is_in(*BLOCKED_AIR)
wanders = word("needle_judged") == "slow wander"
off_at_idle_only = mixture.of(IDLE_POINT).is_in(LEAN, RICH) & in_order
best_known, steadied = number("margin_mixture_best_vacuum").known, wanders & is_inside("mixture_best_vacuum")
valves_first = word("valve_clearance").is_in(*VALVES_FIRST)
blistered = looks.any_is("blistered white")


def gas_shown(point: int, where: Cond) -> tuple[Cond, ...]:
    """The four gases and lambda of one point, where a condition holds."""
    return tuple(where & number(name).of(point).known for name in (*GASES, "lambda"))


def _set_valves_first(bench: Bench, _: int | None) -> str:
    """Valve clearance comes before a mixture that is judged by the vacuum."""
    return "set valve clearance, then look at the needle again" if bench.holds(valves_first) else ""


def _with_misfire(bench: Bench, point: int) -> str:
    if bench.text("gas_misfire", point) != "yes":
        looks = bench.text("looks_lean", point) == "yes"
        return " CO and oxygen are high together: air in the exhaust looks lean too." if looks else ""
    return " Unburned fuel and oxygen are high too: some charges do not fire; lambda does not see that."


# --- idle ------------------------------------------------------------------------------------------------------------


def _idle(bench: Bench, _: int | None) -> str:
    by_needle, best = bench.holds(wanders), bench.reading("mixture_best_vacuum")
    parts = ["the needle wanders slowly"] if by_needle else []
    if bench.holds(steadied):
        parts.append(f"it goes steady at {best} by the mixture screw, inside the normal range")
    elif by_needle and bench.holds(best_known):
        parts.append(f"the screw brought no better than {best}, outside the normal range")
    if bench.holds(off_at_idle_only):
        parts.append(
            f"the exhaust gas is {bench.text('mixture_says', IDLE_POINT)} at idle (lambda "
            f"{bench.reading('lambda', IDLE_POINT)}) and in order at the raised speed"
        )
    joined = ", ".join(parts[:-1]) + (", and " if len(parts) > 1 else "") + parts[-1]
    return f"{at_the_head(joined)}: the idle mixture is out of adjustment."


TURN_THE_SCREW = "Turn the mixture screw for the highest steady reading and write it down"
NEEDLE_SHOWN = tuple(
    number(name).known for name in ("idle_vacuum_low", "idle_vacuum_high", "mixture_best_vacuum")
)
IDLE_GAS = (*gas_shown(IDLE_POINT, off_at_idle_only), off_at_idle_only & number("lambda").of(RAISED).known)


# --- running ---------------------------------------------------------------------------------------------------------


def _blistered(bench: Bench) -> str:
    count = sum(bench.text("plug_look", n) == "blistered white" for n in bench.cylinders)
    return f"; plugs are blistered white ({count} of {bench.shape.cylinders})" if count else ""


def _lean_gas(bench: Bench, _: int | None) -> str:
    return (
        f"The exhaust gas at the raised speed is lean: lambda {bench.reading('lambda', RAISED)}, at most "
        f"{bench.figure('lambda_lean')}{_blistered(bench)}.{_with_misfire(bench, RAISED)}"
    )


def _first_what_looks_lean(bench: Bench, _: int | None) -> str:
    return (
        "Plugs, leads and the joints of the exhaust first, then the gas again"
        if bench.holds(only_looks_lean)
        else ""
    )


def _read_again_tight(bench: Bench, _: int | None) -> str:
    return "read the mixture again with the fastenings tight" if bench.holds(before_tightening) else ""


def _stays_low(bench: Bench) -> str:
    return f"Vacuum at a set throttle stays at {bench.reading('running_vacuum')}, {bench.reading('site_idle_vacuum_min')} is normal here"


def _lean_choke(bench: Bench, _: int | None) -> str:
    return (
        f"{_stays_low(bench)}, and the choke brings it up to {bench.reading('running_vacuum_choked')}: the mixture is "
        f"lean{_blistered(bench)}."
    )


def _choke_untried(bench: Bench, _: int | None) -> str:
    return f"{_stays_low(bench)}{_blistered(bench)}; the choke was not tried: the mixture may be lean."


def _most_blistered(bench: Bench, _: int | None) -> str:
    count = sum(bench.text("plug_look", n) == "blistered white" for n in bench.cylinders)
    return f"Most plugs are blistered white ({count} of {bench.shape.cylinders}): the engine may run lean."


def after_lean(bench: Bench, _: int | None) -> str:
    """What is next once the mixture is lean, by what was measured of the pump; '' is the cause's own next step."""
    if bench.holds(number("cranking_vacuum").missing & number("cranking_vacuum_retest").missing):
        left = "cranking vacuum and carburettor are left"
    else:
        left = "the carburettor is left"
    if bench.holds(is_beyond("fuel_pressure") | is_beyond("fuel_delivery_rate")):
        return "Put the fuel supply right first, then read again"
    if not bench.holds(is_inside("fuel_pressure")):
        return ""
    if not bench.holds(is_inside("fuel_delivery_rate")):
        return "Fuel delivery next, before the carburettor is blamed"
    leaks = bench.holds(word("fault_intake_leak").is_in(CONFIRMED, INDICATED))
    return (
        f"Fuel pressure and delivery are in order: {'cure the air leak, then read again' if leaks else left}"
    )


RUNNING_SHOWN = tuple(
    running.known & number(name).known
    for name in ("running_vacuum", "running_speed", "running_vacuum_choked", "site_idle_vacuum_min")
)
LEAN_SHOWN = (
    *gas_shown(RAISED, lean_by_gas),
    *((running != NORMAL) & each for each in RUNNING_SHOWN),
    blistered,
)
GAS_RESTS_ON = ("gas_hc_read_as", "fuel_h_per_c", "fuel_o_per_c")


def _by_choke(when: Cond, strength: Strength) -> Sign:
    return Sign(
        when,
        strength,
        _lean_choke,
        "choke restores the vacuum",
        after_lean,
        waits_for=BEFORE_MIXTURE,
        unsettled=lambda bench, n: "; ".join(
            filter(None, (_set_valves_first(bench, n), _read_again_tight(bench, n)))
        ),
        support=LEAN_SHOWN,
    )


def _untried(when: Cond, strength: Strength) -> Sign:
    return Sign(
        when,
        strength,
        _choke_untried,
        "choke restores the vacuum",
        "Draw the choke slowly at the same throttle and read the vacuum",
        waits_for=BEFORE_MIXTURE,
        unsettled=_set_valves_first,
        support=(*RUNNING_SHOWN, blistered),
    )


def _rich_signs(bench: Bench) -> list[str]:
    found = ["most plugs have dry soot"] if bench.holds(is_on_most("dry soot")) else []
    return found + ([f"the air cleaner is {bench.text('air_cleaner')}"] if bench.holds(blocked_air) else [])


def _rich(bench: Bench, _: int | None) -> str:
    signs = _rich_signs(bench)
    support = f"; {' and '.join(signs)}" if signs else ""
    return (
        f"The exhaust gas at the raised speed is rich: lambda {bench.reading('lambda', RAISED)}, at least "
        f"{bench.figure('lambda_rich')}{support}.{_with_misfire(bench, RAISED)}"
    )


def _soot(bench: Bench, _: int | None) -> str:
    also = f", and the air cleaner is {bench.text('air_cleaner')}" if bench.holds(blocked_air) else ""
    return f"Most plugs have dry soot{also}: the mixture may be rich, or the spark weak."


sooty_untold = is_on_most("dry soot") & ~in_order & ~lean_by_gas & ~lean_by_choke
SOOT_NEXT = "Read the four gases at the raised speed, and look at the spark"
RICH_SHOWN = (is_on_most("dry soot") & looks.any_is("dry soot"), blocked_air)

CAUSES = (
    Cause(
        id="idle_mixture",
        common=3.5,
        deciding=(
            "idle vacuum",
            "idle mixture",
        ),
        shows={
            "idle vacuum": {"slow wander": 0.85},
            "idle mixture": {"steadies the needle in its range": 0.93},
            "exhaust gas": {"off at idle only": 0.6},
        },
        complaints=("rough idle", "stalls"),
        system="fuel and air",
        shown_as="Idle mixture out of adjustment",
        customer_words="The idle mixture of fuel and air was out of adjustment",
        decided_by="slow wander, which goes steady at mixture_best_vacuum inside the normal range",
        supported_by="gas analysis off at idle only",
        next_step="Set for the highest steady reading",
        caution="running engine",
        signs=(
            Sign(
                steadied,
                CONFIRMED,
                _idle,
                "needle wanders slowly",
                waits_for=BEFORE_MIXTURE,
                unsettled=_set_valves_first,
                support=(*NEEDLE_SHOWN, *IDLE_GAS),
            ),
            Sign(
                wanders & off_at_idle_only & ~best_known,
                INDICATED,
                _idle,
                "needle wanders slowly",
                TURN_THE_SCREW,
                waits_for=BEFORE_MIXTURE,
                unsettled=_set_valves_first,
                support=(*NEEDLE_SHOWN, *IDLE_GAS),
            ),
            Sign(
                wanders & (off_at_idle_only | ~best_known),
                POSSIBLE,
                _idle,
                "needle wanders slowly",
                TURN_THE_SCREW,
                waits_for=BEFORE_MIXTURE,
                unsettled=_set_valves_first,
                support=(*NEEDLE_SHOWN, *IDLE_GAS),
            ),
            Sign(
                ~wanders & off_at_idle_only,
                POSSIBLE,
                _idle,
                "off at idle only",
                TURN_THE_SCREW,
                support=IDLE_GAS,
            ),
        ),
        cleared=~mixture.of(IDLE_POINT).is_in(LEAN, RICH) & word("needle_judged").known & ~wanders,
        hinted=mixture.of(IDLE_POINT).is_in(LEAN, RICH) | wanders,
        recheck=("after_needle",),
        turn=8,
    ),
    Cause(
        id="lean_mixture",
        before_repair=("cranking vacuum", "fuel pressure", "fuel delivery"),
        common=1.6,
        deciding=(
            "running mixture and choke",
            "exhaust gas",
        ),
        shows={
            "running mixture and choke": {"below normal, the choke brings it up": 0.9},
            "exhaust gas": {"lean": 0.9},
            "plugs": {"mostly blistered white": 0.6},
        },
        complaints=("lacks power", "misfires", "overheats", "hard starting", "knocks", "stalls"),
        system="fuel and air",
        shown_as="Running mixture lean",
        customer_words="The engine got too little fuel for its air",
        decided_by=(
            "running_vacuum falls and stays below normal at set throttle, and the choke brings it up; or measured lambda "
            "above {lambda_lean} at the raised speed"
        ),
        supported_by="blistered white plugs",
        next_step="Fuel pressure and delivery next, before the carburettor is blamed",
        caution="fuel",
        signs=(
            Sign(
                lean_by_gas & (only_looks_lean | before_tightening),
                POSSIBLE,
                _lean_gas,
                "only looks lean",
                _first_what_looks_lean,
                unsettled=_read_again_tight,
                support=LEAN_SHOWN,
                rests_on=GAS_RESTS_ON,
            ),
            Sign(
                lean_by_gas,
                CONFIRMED,
                _lean_gas,
                "lambda lean",
                after_lean,
                support=LEAN_SHOWN,
                rests_on=GAS_RESTS_ON,
            ),
            _by_choke(lean_by_choke & (near_by_gauge("running_vacuum") | before_tightening), POSSIBLE),
            _by_choke(lean_by_choke, CONFIRMED),
            _untried((running == CHOKE_NEXT) & blistered & ~near_by_gauge("running_vacuum"), INDICATED),
            _untried(running == CHOKE_NEXT, POSSIBLE),
            Sign(
                is_on_most("blistered white") & ~in_order & ~is_rich & running.missing,
                POSSIBLE,
                _most_blistered,
                "plugs blistered",
                "Read the vacuum at a set throttle, then with the choke drawn; or lambda at the raised speed",
                support=(blistered,),
            ),
        ),
        cleared=~is_above("lambda", RAISED)
        & ~lean_by_choke
        & (is_judged("lambda", RAISED) | running.is_in(NORMAL, NOT_LEAN)),
        hinted=is_above("lambda", RAISED) | lean_by_choke | is_on_most("blistered white"),
        replaced_by=("rich_mixture",),
        recheck=("after_running_vacuum", "after_lambda"),
        in_short="Fuel pressure and delivery first, then the carburettor",
        turn=7,
    ),
    Cause(
        id="rich_mixture",
        before_repair=("air cleaner", "fuel pressure"),
        common=3,
        deciding=("exhaust gas",),
        shows={
            "exhaust gas": {"rich": 0.93},
            "plugs": {"mostly dry soot": 0.75},
        },
        complaints=("high fuel use", "rough idle", "stalls", "lacks power", "misfires", "hard starting"),
        system="fuel and air",
        shown_as="Mixture rich",
        customer_words="The engine got too much fuel for its air",
        decided_by="measured lambda below {lambda_rich} at the raised speed",
        supported_by="dry soot on most plugs; air cleaner blocked",
        next_step="Check choke, float level and air cleaner",
        caution="fuel",
        signs=(
            Sign(
                is_rich,
                CONFIRMED,
                _rich,
                "lambda rich",
                lambda bench, _: (
                    "Renew the air cleaner and read lambda again; then choke and float level"
                    if bench.holds(blocked_air)
                    else ""
                ),
                support=(*gas_shown(RAISED, is_rich), *RICH_SHOWN),
                rests_on=GAS_RESTS_ON,
            ),
            Sign(
                sooty_untold & blocked_air,
                INDICATED,
                _soot,
                "sooty plugs, gas not read",
                SOOT_NEXT,
                support=RICH_SHOWN,
            ),
            Sign(sooty_untold, POSSIBLE, _soot, "sooty plugs, gas not read", SOOT_NEXT, support=RICH_SHOWN),
        ),
        cleared=~is_below("lambda", RAISED)
        & (is_inside("lambda", RAISED) | is_above("lambda", RAISED) | lean_by_choke),
        hinted=is_below("lambda", RAISED) | is_on_most("dry soot") | (word("air_cleaner") == "blocked"),
        replaced_by=("lean_mixture",),
        recheck=("after_lambda",),
        in_short="Fuel pressure and delivery first, then the carburettor",
        turn=7,
    ),
)
