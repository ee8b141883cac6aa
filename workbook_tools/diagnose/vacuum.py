"""The vacuum gauge: what the needle finds, each finding provisional until the systems before it are proven."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy, Draft
from workbook_tools.diagnose.slips import out_of_order
from workbook_tools.form.compression_results import LOW
from workbook_tools.form.fuel_results import TIGHTENED

IDLE = ("idle_vacuum_low", "idle_vacuum_high", "needle")
RANGE = ("site_idle_vacuum_min", "site_idle_vacuum_max")


def find(case: Case) -> Iterator[Draft]:
    """Findings from the needle: valve train and gasket first, then what a low or high steady needle speaks for."""
    yield from _valve_train(case)
    yield from _tight_valves(case)
    yield from _by_compression_next(case)
    yield from _steady(case)


# --- patterns of the needle ------------------------------------------------------------------------------------------


def _valve_train(case: Case) -> Iterator[Draft]:
    needle, with_speed = case.text("needle_judged"), case.text("needle_with_speed")
    if not needle and case.shape.cylinders < 3:
        return
    if needle == "occasional drops":
        even = case.text("compression_even") == "yes"
        told = "compression is even" if even else "compression is not proven even yet"
        statement = f"The needle drops at times, and {told}: a valve sticks."
        strength = "confirmed" if even else "possible"
        yield Draft(
            "sticking_valve",
            strength,
            statement,
            ("needle", *case.each("compression_dry")),
            "needle drops at times",
            waits_for=("readiness",),
        )
    if with_speed == "widens":
        statement = "The swing of the needle widens as speed rises: weak or broken valve springs."
        yield Draft(
            "weak_valve_springs",
            "confirmed",
            statement,
            ("needle", "needle_with_speed"),
            "needle swing widens",
            waits_for=("readiness",),
        )
    if (
        needle == "fast flutter"
        and with_speed == "steadies"
        and case.text("needle_after_valve_adjustment") != "steady"
    ):
        yield from _guides(case)


def _guides(case: Case) -> Iterator[Draft]:
    clearance, after = case.text("valve_clearance"), case.text("needle_after_valve_adjustment")
    if clearance == "too tight":
        return
    set_already = clearance == "in limits" or after in ("unchanged", "better")
    oily = tuple(f"plug_look_{n}" for n in case.cylinders if case.text("plug_look", n) == "oily")
    strength = "confirmed" if set_already else "indicated" if oily else "possible"
    told = "with valve clearance set" if set_already else "valve clearance not being set yet"
    yield Draft(
        "worn_valve_guides",
        strength,
        f"The needle flutters fast at idle and steadies with speed, {told}: worn intake valve guides.",
        ("needle", "needle_with_speed", "valve_clearance", "needle_after_valve_adjustment", *oily),
        "needle flutter steadies",
        waits_for=("readiness",),
    )


def _tight_valves(case: Case) -> Iterator[Draft]:
    gone = (
        case.text("needle_judged") == "fast flutter"
        and case.text("needle_after_valve_adjustment") == "steady"
    )
    if case.text("valve_clearance") == "too tight":
        statement = "Valve clearance was found too small: valves that don't close leak and burn."
    elif gone:
        statement = (
            "The flutter of the needle was gone once the valves were adjusted: clearance was too small."
        )
    else:
        return
    evidence = ("valve_clearance", "needle", "needle_after_valve_adjustment")
    yield Draft("tight_valves", "confirmed", statement, evidence, "valve clearance")


def _by_compression_next(case: Case) -> Iterator[Draft]:
    """Patterns that the compression test decides: a sign only while that test was not made."""
    if case.each("compression_dry"):
        return
    needle = case.text("needle_judged")
    causes = {
        "evenly spaced drops": (
            "leaking_valve",
            "The needle drops at even intervals: one cylinder fails, most often a valve.",
            "needle drops evenly",
        ),
        "wide regular swing": (
            "head_gasket",
            "The needle swings wide and regularly: two neighbours may leak into each other.",
            "needle swings wide",
        ),
    }
    if needle in causes:
        cause, statement, rule = causes[needle]
        yield Draft(
            cause,
            "possible",
            statement,
            IDLE,
            rule,
            waits_for=("readiness",),
            next_step="Compression test of every cylinder, dry, then wet where low",
        )


# --- a steady needle off its range -----------------------------------------------------------------------------------


def _steady(case: Case) -> Iterator[Draft]:
    if case.text("idle_is_steady") != "yes":
        return
    if case.is_above("idle_vacuum_mean"):
        yield from _above(case)
    if case.is_below("idle_vacuum_mean") and not _explained_by_compression(case):
        yield from _below(case)


def _above(case: Case) -> Iterator[Draft]:
    if case.has("timing") and (case.is_inside("timing") or case.is_beyond("timing")):
        return
    statement = f"Vacuum is high and steady: {case.says('idle_vacuum_mean')}, at most {case.says('site_idle_vacuum_max')} here; timing may be early."
    yield Draft(
        "early_timing",
        "possible",
        statement,
        (*IDLE, *RANGE),
        "vacuum above range",
        waits_for=("readiness", "compression"),
        next_step="Measure timing with the light",
    )


def _explained_by_compression(case: Case) -> bool:
    """Low cylinders or leaks explain a low vacuum; compression comes first where it was not gauged at all."""
    leaks = any(case.is_out("leakdown", n) for n in case.cylinders)
    return case.values.count_text("compression_is_low", LOW) > 0 or leaks


def intake_measured(case: Case) -> bool:
    """Whether the cranking vacuum was taken against a limit."""
    return any(
        case.mark(name) not in ("", "not taken") for name in ("cranking_vacuum", "cranking_vacuum_retest")
    )


def intake_tight(case: Case) -> bool:
    """Cranking vacuum in limits, or back in limits after the manifold was tightened, and not slow to rise."""
    if case.has("cranking_vacuum_retest"):
        return case.is_inside("cranking_vacuum_retest")
    return case.is_inside("cranking_vacuum") and case.text("cranking_vacuum_rise") != "slow"


def _below(case: Case) -> Iterator[Draft]:
    very_low = case.text("vacuum_very_low") == "yes"
    reading = f"Vacuum is low and steady: {case.says('idle_vacuum_mean')}, at least {case.says('site_idle_vacuum_min')} needed here"
    even = case.text("compression_even") == "yes" and case.text("compression_counts") != "no"
    timing_measured = case.mark("timing") not in ("", "not taken")
    evidence = (*IDLE, "site_idle_vacuum_min")
    if timing_measured and not case.is_inside("timing"):
        return
    if not timing_measured and not (very_low and not intake_measured(case)):
        if even:
            yield Draft(
                "timing_suspected",
                "possible" if case.near_by_gauge("idle_vacuum_mean") else "indicated",
                f"{reading}, and compression is even: ignition timing is to be checked first.",
                (*evidence, *case.each("compression_dry")),
                "steady and low",
                waits_for=("readiness", "compression"),
            )
    elif not intake_measured(case):
        why = (
            "so low that an air leak at the intake is more likely than timing"
            if very_low
            else "timing is in limits, and the intake was not tested"
        )
        yield Draft(
            "intake_leak",
            "possible",
            f"{reading}; {why}.",
            (*evidence, "timing"),
            "steady and very low",
            waits_for=("readiness", "compression", "ignition"),
            next_step="Cranking vacuum with the throttle closed",
        )
    elif timing_measured and intake_tight(case) and even and not case.is_out("backpressure"):
        yield _unexplained(case, reading, evidence)


def _unexplained(case: Case, reading: str, evidence: tuple[str, ...]) -> Draft:
    """A low vacuum without its reason; where the fastenings leaked it may have been read before they were tight."""
    leaked = case.text("intake_word") == TIGHTENED
    told = "intake, now tightened," if leaked else "intake"
    return Draft(
        "low_vacuum_unexplained",
        "possible" if leaked else "confirmed",
        f"{reading}, although compression, timing and {told} are all in limits.",
        (*evidence, "timing", "cranking_vacuum", "cranking_vacuum_retest", *case.each("compression_dry")),
        "low vacuum unexplained",
        waits_for=("readiness", "compression", "ignition"),
        provisional=leaked,
        why_provisional="read the idle vacuum again with the fastenings tight" if leaked else "",
    )


# --- conflicts -------------------------------------------------------------------------------------------------------


def conflicts(case: Case) -> Iterator[Discrepancy]:
    """Needle readings that contradict each other."""
    lowest = "the needle's lowest point is above its highest"
    yield from out_of_order(case, "idle_vacuum_low", "idle_vacuum_high", "idle_vacuum_low", lowest)
    swing = case.number("idle_vacuum_swing")
    if case.text("needle") == "steady" and swing is not None and swing > case.values.constant("steady_swing"):
        limit = f"{case.values.constant('steady_swing'):g} {case.unit('idle_vacuum_swing')}"
        yield conflict(
            case,
            "needle",
            f"a swing of at most {limit}",
            f"the needle is called steady, but it swings by {case.says('idle_vacuum_swing')}",
        )
    snapped = "the snapped throttle falls to more than it rises to"
    yield from out_of_order(case, "snap_vacuum_low", "snap_vacuum_high", "snap_vacuum_low", snapped)


def missing(case: Case) -> Iterator[Discrepancy]:
    """One end of the needle's swing without the other: low without high."""
    pair = ("idle_vacuum_low", "idle_vacuum_high")
    for name, other in (pair, pair[::-1]):
        if case.typed(name) and not case.typed(other):
            where = case.form.where(other)
            message = f"{where}: Lowest and highest point of the needle are judged together; one alone hides the swing."
            yield Discrepancy("missing_reading", other, where, "blank", "a reading", message)


def conflict(case: Case, name: str, expected: str, reason: str, number: int | None = None) -> Discrepancy:
    """A readings_conflict at one cell."""
    cell = name if number is None else f"{name}_{number}"
    where = case.form.where(cell)
    found = case.says(name, number)
    return Discrepancy(
        "readings_conflict",
        cell,
        where,
        found,
        expected,
        f"{where}: {reason}. Look again, and correct the one that is wrong.",
    )
