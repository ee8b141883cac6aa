"""Compression of the whole engine: all cylinders low, the only cylinder low, compression above its range."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case, cylinders_in_words
from workbook_tools.diagnose.compression import gauge_evidence, leak_place_known, readings
from workbook_tools.diagnose.model import Draft
from workbook_tools.form import cylinder_verdicts as verdict
from workbook_tools.form.compression_results import LITTLE_GAIN, LOW, RECOVERS
from workbook_tools.language.model import cell_name


def find(case: Case) -> Iterator[Draft]:
    """Findings of the whole engine; cylinders whose leak was heard are explained by it and not found again."""
    yield from _all_low(case)
    yield from _only_cylinder_low(case)
    yield from _deposits(case)


def _all_low(case: Case) -> Iterator[Draft]:
    if case.text("compression_all_low") != "yes" or case.text("compression_counts") == "no":
        return
    cylinders = tuple(n for n in case.cylinders if case.text("compression_is_low", n) == LOW)
    if all(leak_place_known(case, n) for n in cylinders):
        return
    low = len(cylinders)
    evidence = (*case.each("compression_dry"), *case.each("compression_wet"), "site_compression_min")
    small = case.values.count_text("small_shortfall", "yes") > 0
    said = _said_of(case, cylinders)
    doubt = " A shortfall so small is decided by the gauge." if small else ""
    if case.values.count_text("wet_verdict", RECOVERS) == low:
        tight = any(case.text("points_to", n) == verdict.TIGHT for n in cylinders)
        yield Draft(
            "general_wear",
            "possible" if small or tight else "confirmed",
            f"{said} and oil brought each back by half or more of its shortfall: wear in all cylinders.{doubt}",
            (*evidence, *_oily(case)),
            "all low, oil helps",
            cylinders,
            waits_for=("readiness",),
        )
    elif case.values.count_text("wet_verdict", LITTLE_GAIN) == low:
        single = case.shape.cylinders == 1
        yield Draft(
            "valve_timing",
            "possible" if small or single else "confirmed",
            f"{said} and even, and oil changed little: valve timing out.{doubt}",
            (*evidence, *_very_low(case)),
            "all low, oil does not help",
            cylinders,
            waits_for=("readiness",),
        )
    else:
        yield from _all_low_untold(case, said, evidence, cylinders)


def _said_of(case: Case, low: tuple[int, ...]) -> str:
    """Which cylinders are low and from where to where; from four up one of them may be sound."""
    sound = tuple(n for n in case.cylinders if n not in low)
    which = f"All cylinders but {cylinders_in_words(sound)} are low" if sound else "All cylinders are low"
    highest = max(low, key=lambda n: case.values.number("compression_dry", n) or 0.0)
    return (
        f"{which} ({case.says('compression_lowest')} to {case.says('compression_dry', highest)}, "
        f"{case.says('site_compression_min')} needed here)"
    )


def _all_low_untold(
    case: Case, said: str, evidence: tuple[str, ...], cylinders: tuple[int, ...]
) -> Iterator[Draft]:
    wet_made = bool(case.each("wet_gain_share"))
    for cause, support, what in (
        ("general_wear", _oily(case), "wear in all cylinders"),
        ("valve_timing", _very_low(case), "valve timing"),
    ):
        yield Draft(
            cause,
            "indicated" if support and not wet_made else "possible",
            f"{said}, and the wet test does not tell why yet: it may be {what}.",
            (*evidence, *support),
            "all low, not yet told",
            cylinders,
            waits_for=("readiness",),
            next_step="Wet test of every cylinder; check that the gauge reads right and the starter turns fast enough",
        )


def _only_cylinder_low(case: Case) -> Iterator[Draft]:
    """A single has no second cylinder to be even with, so a valve stays as possible as the valve timing."""
    counts = case.text("compression_all_low") == "yes" and case.text("compression_counts") != "no"
    if case.shape.cylinders > 1 or not counts or case.text("leak_means", 1):
        return
    if case.text("wet_verdict", 1) == RECOVERS or verdict.leak_is_tight(case.values, 1):
        return
    yield Draft(
        "leaking_valve",
        "possible",
        f"The only cylinder is low ({case.says('compression_dry', 1)}, {case.says('site_compression_min')} needed here): it may be a valve.",
        (*gauge_evidence(case, (1,)), "site_compression_min"),
        "all low, not yet told",
        (1,),
        waits_for=("readiness",),
        next_step="Leak-down test, or the wet test and then the valve timing marks",
    )


def _oily(case: Case) -> tuple[str, ...]:
    """Plugs that support wear in all cylinders: oily in more than half of them."""
    oily = tuple(cell_name("plug_look", n) for n in case.cylinders if case.text("plug_look", n) == "oily")
    return oily if 2 * len(oily) > case.shape.cylinders else ()


def _very_low(case: Case) -> tuple[str, ...]:
    return ("idle_vacuum_low", "idle_vacuum_high") if case.text("vacuum_very_low") == "yes" else ()


def _deposits(case: Case) -> Iterator[Draft]:
    if case.text("compression_counts") == "no":
        return
    high = tuple(n for n in case.cylinders if case.is_above("compression_dry", n))
    if not high:
        return
    sure = any(case.has("compression_over_max", n) for n in high)
    yield Draft(
        "carbon_deposits",
        "confirmed" if sure else "possible",
        f"{cylinders_in_words(high).capitalize()} above the highest compression allowed here "
        f"({readings(case, high)}, at most {case.says('site_compression_max')}): carbon build-up.",
        (*(cell_name("compression_dry", n) for n in high), "site_compression_max"),
        "compression above range",
        high,
        waits_for=("readiness",),
    )
