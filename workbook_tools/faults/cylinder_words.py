"""What is said of one cylinder, and of which cylinders it is said: a gasket leaks between two."""

from __future__ import annotations

from workbook_tools.faults.model import Bench, Words
from workbook_tools.faults.words import at_the_head, cylinders_in_words, readings_of
from workbook_tools.language.expressions import (
    YES,
    number,
    word,
)
from workbook_tools.sheets import cylinder_verdicts as cylinder
from workbook_tools.sheets.compression_results import (
    dry,
)

PART = {"worn_rings": "rings", "leaking_valve": "a valve", "head_gasket": "the head gasket"}


LEAK_PART = {cylinder.RINGS: "the rings", cylinder.GASKET: "the head gasket"}


small = cylinder.small == YES


#: What is low only beside a reference that may be raised by carbon itself.
beside_carbon = (word("reference_doubted") == YES) & ~(dry < number("site_compression_min"))


def _own(n: int | None) -> int:
    assert n is not None
    return n


def leak_heard(bench: Bench, n: int | None) -> str:
    means = bench.text("leak_means", n)
    return (
        f"Cylinder {n} leaks {bench.reading('leakdown', n)}, {bench.reading('spec_leakdown_max')} allowed, heard at the "
        f"{bench.text('leak_heard_at', n)}: {LEAK_PART.get(means, f'the {means}')}."
    )


def bubbles(bench: Bench, n: int | None) -> str:
    return f"Air from cylinder {n} comes up in the coolant ({bench.reading('leakdown', n)} lost): the head gasket, or a crack."


def stands_out(bench: Bench, n: int | None) -> str:
    means = bench.text("leak_hint", n)
    return (
        f"Cylinder {n} leaks {bench.reading('leakdown', n)}, in limits but three times what the others do, and it is heard at the "
        f"{bench.text('leak_heard_at', n)}: {LEAK_PART.get(means, f'the {means}')}."
    )


def by_wet_alone(cause: str) -> Words:
    return lambda bench, n: (
        f"{_low(bench, (_own(n),))}; the wet test speaks for {PART[cause]}, but the leak is heard elsewhere: {PART[cause]} may be bad too."
    )


def leak_unheard(cause: str) -> Words:
    return lambda bench, n: (
        f"Cylinder {n} leaks {bench.reading('leakdown', n)}, {bench.reading('spec_leakdown_max')} allowed, but the place was not "
        f"heard: it may be {PART[cause]}."
    )


def gauged_low_but_tight(bench: Bench, n: int | None) -> str:
    return (
        f"Cylinder {n} gauged low ({bench.reading('compression_dry', n)}), but the leak-down test found "
        f"{bench.reading('leakdown', n)}, in limits: the two don't agree."
    )


def _low(bench: Bench, group: tuple[int, ...]) -> str:
    return (
        f"{at_the_head(cylinders_in_words(group))} {'are' if len(group) > 1 else 'is'} low "
        f"({readings_of(bench, 'compression_dry', group)}, {bench.reading('compression_low_line')} needed)"
    )


def gauged_low(why: Words, grouped: bool = False) -> Words:
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


def recovered(bench: Bench, n: int | None) -> str:
    all_of_it = (bench.number("wet_gain_share", n) or 0.0) >= 1
    share = "all" if all_of_it else bench.reading("wet_gain_share", n)
    return f"and oil brought back {share} of the shortfall: worn or broken rings, or a worn cylinder"


def brought_little(bench: Bench, n: int | None) -> str:
    share = bench.number("wet_gain_share", n)
    brought = "nothing" if share is None or share <= 0 else f"only {bench.reading('wet_gain_share', n)}"
    return f"and oil brought back {brought} of the shortfall: a burned or leaking valve"


def equally(bench: Bench, n: int | None) -> str:
    return "equally so, and oil changed little in both: the head gasket leaks between them"


def coolant_on_plug(bench: Bench, n: int | None) -> str:
    also = ", and the engine runs too hot" if bench.text("fault_engine_overheated") else ""
    return f"There are traces of coolant on the plug of cylinder {n}{also}: the head gasket, or a crack."


def one_or_other(cause: str) -> Words:
    return lambda bench, n: (
        f"and a neighbour is equally low without a clear wet reading of its own: it may be {PART[cause]}"
    )


def between(cause: str) -> Words:
    def statement(bench: Bench, n: int | None) -> str:
        least, most = bench.number("wet_gain_share_least", n), bench.number("wet_gain_share", n)
        share = bench.reading("wet_gain_share", n)
        between = share if least == most else f"between {100 * (least or 0):.0f} % and {share}"
        return (
            f"and oil brought back {between} of the shortfall, which does not tell: it may be {PART[cause]}"
        )

    return statement


def untold_yet(cause: str) -> Words:
    return lambda bench, n: f"and neither wet test nor leak-down says why: it may be {PART[cause]}"


def settle_undecided(bench: Bench, n: int | None) -> str:
    if not bench.filled("sound_gain"):
        return "Wet reading of a sound cylinder, or the leak-down test"
    return "Leak-down test of this cylinder, and of its neighbour"


def neighbours_not_gauged(bench: Bench, n: int | None) -> str:
    """A neighbour whose reading is missing might be equally low."""
    blank = tuple(
        other for other in bench.shape.neighbours[_own(n)] if not bench.has("compression_dry", other)
    )
    return f"gauge {cylinders_in_words(blank)} beside it, which may be equally low (gasket)" if blank else ""


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


def leaking_pair(bench: Bench, n: int | None) -> tuple[int, ...]:
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
