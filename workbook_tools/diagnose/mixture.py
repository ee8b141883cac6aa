"""Mixture: idle by the needle, running by vacuum and choke, and both by four exhaust gases.

Lambda is blind to charges that did not fire: unburned fuel and oxygen leave together and balance. Much of
both with lambda near one is therefore a misfire and no mixture finding; `ignition` and `plugs` take it up.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Draft
from workbook_tools.form.fuel_results import CHOKE_NEXT
from workbook_tools.form.fuel_results import LEAN as CHOKE_HELPS
from workbook_tools.form.gas_results import GASES, IN_ORDER, LEAN, MISFIRE, RAISED, RICH
from workbook_tools.language.model import cell_name

IDLE_POINT = 1
RUNNING = ("running_vacuum", "running_speed", "running_vacuum_choked", "site_idle_vacuum_min")
BEFORE_MIXTURE = ("readiness", "compression", "ignition")
VALVES_FIRST = ("too tight", "too wide", "not checked")
BLOCKED_AIR = ("dirty", "blocked")


def find(case: Case) -> Iterator[Draft]:
    """Mixture findings: idle, then lean and rich."""
    yield from _idle(case)
    yield from _lean(case)
    yield from _rich(case)


# --- what the gases say -------------------------------------------------------------------------------------


def gas_cells(point: int) -> tuple[str, ...]:
    """The four gases and lambda of one point."""
    return (*(cell_name(gas, point) for gas in GASES), cell_name("lambda", point))


def in_order(case: Case) -> bool:
    """Whether lambda at the raised speed is in limits in a sample that can be believed."""
    return case.text("mixture_says", RAISED) in (IN_ORDER, MISFIRE)


def misfire(case: Case) -> tuple[str, ...]:
    """Gas cells that tell of charges that did not fire; () without any, or with the mixture itself off."""
    points = (n for n in (RAISED, IDLE_POINT) if case.text("mixture_says", n) == MISFIRE)
    return next((gas_cells(n) for n in points), ())


def is_rich(case: Case) -> bool:
    """Whether the gas at the raised speed is rich."""
    return case.text("mixture_says", RAISED) == RICH


def lean_by_choke(case: Case) -> bool:
    """Whether the vacuum at a set throttle is below normal and the choke brings it up."""
    return case.text("running_says") == CHOKE_HELPS


def lean_by_gas(case: Case) -> bool:
    """Whether the gas at the raised speed is lean."""
    return case.text("mixture_says", RAISED) == LEAN


def plugs_that_look(case: Case, look: str) -> tuple[str, ...]:
    """Cells of the plugs with that look."""
    return tuple(cell_name("plug_look", n) for n in case.cylinders if case.text("plug_look", n) == look)


def on_most_plugs(case: Case, look: str) -> tuple[str, ...]:
    """The same where they are more than half of all, else ()."""
    cells = plugs_that_look(case, look)
    return cells if 2 * len(cells) > case.shape.cylinders else ()


def _with_misfire(case: Case, point: int) -> str:
    if case.text("gas_misfire", point) != "yes":
        return ""
    return " Unburned fuel and oxygen are high too: some charges do not fire; lambda does not see that."


# --- idle ---------------------------------------------------------------------------------------------------


def _idle(case: Case) -> Iterator[Draft]:
    wanders = case.text("needle_judged") == "slow wander"
    idle = case.text("mixture_says", IDLE_POINT)
    off_at_idle_only = idle in (LEAN, RICH) and in_order(case)
    best_known = case.has("margin_mixture_best_vacuum")
    if not wanders and not off_at_idle_only:
        return
    steadied = wanders and case.is_inside("mixture_best_vacuum")
    if wanders and best_known and not steadied and not off_at_idle_only:
        return
    parts = ["The needle wanders slowly"] if wanders else []
    if steadied:
        parts.append(
            f"it goes steady at {case.says('mixture_best_vacuum')} by the mixture screw, inside the normal"
            " range"
        )
    elif wanders and best_known:
        parts.append(
            f"the screw brought no better than {case.says('mixture_best_vacuum')}, outside the normal range"
        )
    if off_at_idle_only:
        gas = (
            f"the exhaust gas is {idle} at idle (lambda {case.says('lambda', IDLE_POINT)}) and in order at"
            " the raised speed"
        )
        parts.append(gas if parts else gas[0].upper() + gas[1:])
    told = ", ".join(parts[:-1]) + (", and " if len(parts) > 1 else "") + parts[-1]
    both = wanders and off_at_idle_only and not best_known
    strength = "confirmed" if steadied else "indicated" if both else "possible"
    gases = (*gas_cells(IDLE_POINT), cell_name("lambda", RAISED)) if off_at_idle_only else ()
    needle = ("needle", "idle_vacuum_low", "idle_vacuum_high", "mixture_best_vacuum") if wanders else ()
    yield Draft(
        "idle_mixture",
        strength,
        f"{told}: the idle mixture is out of adjustment.",
        (*needle, *gases),
        "needle wanders slowly" if wanders else "off at idle only",
        waits_for=BEFORE_MIXTURE if wanders else (),
        **_valves_first(case, wanders),
        next_step=(
            "" if steadied else "Turn the mixture screw for the highest steady reading and write it down"
        ),
    )


def _valves_first(case: Case, by_needle: bool) -> dict[str, object]:
    """Valve clearance comes before a mixture that is judged by the vacuum."""
    if not by_needle or case.text("valve_clearance") not in VALVES_FIRST:
        return {}
    return {"provisional": True, "why_provisional": "set valve clearance, then look at the needle again"}


# --- running ------------------------------------------------------------------------------------------------


def _lean(case: Case) -> Iterator[Draft]:
    blistered = plugs_that_look(case, "blistered white")
    support = f"; plugs are blistered white ({len(blistered)} of {case.shape.cylinders})" if blistered else ""
    if lean_by_gas(case):
        yield Draft(
            "lean_mixture",
            "confirmed",
            f"The exhaust gas at the raised speed is lean: lambda {case.says('lambda', RAISED)}, at most "
            f"{case.values.constant('lambda_lean'):g}{support}.{_with_misfire(case, RAISED)}",
            (*gas_cells(RAISED), *blistered),
            "lambda lean",
            rests_on=("gas_hc_read_as", "fuel_h_per_c", "fuel_o_per_c"),
            next_step=after_lean(case),
        )
    says = case.text("running_says")
    low = (
        f"Vacuum at a set throttle stays at {case.says('running_vacuum')},"
        f" {case.says('site_idle_vacuum_min')} is normal here"
    )
    if says == CHOKE_HELPS:
        yield Draft(
            "lean_mixture",
            "possible" if case.near_by_gauge("running_vacuum") else "confirmed",
            f"{low}, and the choke brings it up to {case.says('running_vacuum_choked')}: the mixture is"
            f" lean{support}.",
            (*RUNNING, *blistered),
            "choke restores the vacuum",
            waits_for=BEFORE_MIXTURE,
            **_valves_first(case, True),
            next_step=after_lean(case),
        )
    elif says == CHOKE_NEXT:
        sure = blistered and not case.near_by_gauge("running_vacuum")
        yield Draft(
            "lean_mixture",
            "indicated" if sure else "possible",
            f"{low}{support}; the choke was not tried: the mixture may be lean.",
            (*RUNNING, *blistered),
            "choke restores the vacuum",
            waits_for=BEFORE_MIXTURE,
            **_valves_first(case, True),
            next_step="Draw the choke slowly at the same throttle and read the vacuum",
        )
    elif on_most_plugs(case, "blistered white") and not in_order(case) and not is_rich(case) and not says:
        yield Draft(
            "lean_mixture",
            "possible",
            f"Most plugs are blistered white ({len(blistered)} of {case.shape.cylinders}): the engine may run"
            " lean.",
            blistered,
            "plugs blistered",
            next_step=(
                "Read the vacuum at a set throttle, then with the choke drawn; or lambda at the raised speed"
            ),
        )


def after_lean(case: Case) -> str:
    """What is next once the mixture is lean, by what was measured of the pump; "" is the cause's own next step."""
    if case.is_beyond("fuel_pressure") or case.is_beyond("fuel_delivery_rate"):
        return "Put the fuel supply right first, then read again"
    if not case.is_inside("fuel_pressure"):
        return ""
    if not case.is_inside("fuel_delivery_rate"):
        return "Fuel delivery next, before the carburettor is blamed"
    return "Fuel pressure and delivery are in order: cranking vacuum and carburettor are left"


def _rich(case: Case) -> Iterator[Draft]:
    soot = on_most_plugs(case, "dry soot")
    air = ("air_cleaner",) if case.text("air_cleaner") in BLOCKED_AIR else ()
    signs = ["most plugs have dry soot"] if soot else []
    signs += [f"the air cleaner is {case.text('air_cleaner')}"] if air else []
    support = f"; {' and '.join(signs)}" if signs else ""
    if is_rich(case):
        yield Draft(
            "rich_mixture",
            "confirmed",
            f"The exhaust gas at the raised speed is rich: lambda {case.says('lambda', RAISED)}, at least "
            f"{case.values.constant('lambda_rich'):g}{support}.{_with_misfire(case, RAISED)}",
            (*gas_cells(RAISED), *soot, *air),
            "lambda rich",
            rests_on=("gas_hc_read_as", "fuel_h_per_c", "fuel_o_per_c"),
            next_step=(
                "Renew the air cleaner and read lambda again; then choke and float level" if air else ""
            ),
        )
    elif soot and not in_order(case) and not lean_by_gas(case) and not lean_by_choke(case):
        yield Draft(
            "rich_mixture",
            "indicated" if air else "possible",
            f"Most plugs have dry soot{f', and {signs[1]}' if air else ''}: the mixture may be rich, or the"
            " spark weak.",
            (*soot, *air),
            "sooty plugs, gas not read",
            next_step="Read the four gases at the raised speed, and look at the spark",
        )
