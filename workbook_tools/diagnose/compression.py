"""Compression: from what each cylinder points to, the findings, the conflicts, and what is missing.

What a cylinder points to is worked out in `form/cylinder_verdicts.py`, in the workbook and in Python alike; here it
becomes findings with their evidence.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case, cylinders_in_words
from workbook_tools.diagnose.model import Draft
from workbook_tools.form import cylinder_verdicts as verdict
from workbook_tools.form.compression_results import LOW
from workbook_tools.language.model import cell_name

CAUSE_OF = {
    verdict.RINGS: "worn_rings",
    verdict.VALVE: "leaking_valve",
    verdict.EXHAUST_VALVE: "leaking_valve",
    verdict.INTAKE_VALVE: "leaking_valve",
    verdict.GASKET: "head_gasket",
}
RULE_OF_WET = {
    verdict.RINGS: "wet test recovers",
    verdict.VALVE: "wet test gains little",
    verdict.GASKET: "equal neighbours",
    verdict.VALVE_OR_GASKET: "equal neighbours",
    verdict.RINGS_OR_VALVE: "wet test open",
    verdict.WET_NEXT: "low, not yet told",
}
#: What to do once the leak was heard: the causes' own next step is the leak-down test.
AFTER_LEAKDOWN = {
    "worn_rings": "Lift the head or pull the piston, and measure cylinder and rings",
    "leaking_valve": "Check the clearance of this valve first; if it is right, lift the head",
    "head_gasket": "Watch the coolant for bubbles, then lift the head: gasket, head and block",
}
#: Faults of the gauge test alone: the leak-down test is made on an engine that stands still.
LEAKDOWN_STANDS_DESPITE = ("slow_cranking", "compression_test_invalid")


def find(case: Case) -> Iterator[Draft]:
    """Compression findings, cylinder by cylinder; what concerns the whole engine is in `compression_engine`."""
    gaskets: dict[tuple[int, ...], None] = {}
    for cylinder in case.cylinders:
        group = gasket_group(case, cylinder)
        if group and group in gaskets:
            continue
        if group:
            gaskets[group] = None
        yield from _cylinder(case, cylinder, group or (cylinder,))


def gasket_group(case: Case, cylinder: int) -> tuple[int, ...]:
    """The equally low neighbours that a confirmed or possible gasket finding covers, () where it is not the gasket."""
    if case.text("wet_points_to", cylinder) != verdict.GASKET or leak_place_known(case, cylinder):
        return ()
    group = {cylinder}
    grown = True
    while grown:
        beside = {
            other
            for member in group
            for other in case.shape.neighbours[member]
            if case.text("wet_points_to", other) == verdict.GASKET and _equally_low(case, member, other)
        }
        grown = not beside <= group
        group |= beside
    return tuple(sorted(group))


def _equally_low(case: Case, one: int, other: int) -> bool:
    mine, theirs = case.number("compression_dry", one), case.number("compression_dry", other)
    return (
        mine is not None
        and theirs is not None
        and abs(mine - theirs) <= case.values.constant("equal_neighbours")
    )


def leak_place_known(case: Case, cylinder: int) -> bool:
    return case.text("leak_means", cylinder) not in ("", verdict.PLACE_UNKNOWN)


def _cylinder(case: Case, cylinder: int, group: tuple[int, ...]) -> Iterator[Draft]:
    leak, wet = case.text("leak_means", cylinder), case.text("wet_points_to", cylinder)
    if leak_place_known(case, cylinder):
        yield _by_leakdown(case, cylinder, leak)
        return
    usable = wet not in ("", verdict.REPEAT, verdict.ALL_LOW)
    if leak and (not usable or wet == verdict.WET_NEXT):
        yield from _leak_unheard(case, cylinder)
    elif usable and verdict.leak_is_tight(case.values, cylinder):
        yield from _low_but_tight(case, group, wet)
    elif usable:
        yield from _by_gauge(case, cylinder, group, wet)


# --- one cylinder ----------------------------------------------------------------------------------------------------


def _by_leakdown(case: Case, cylinder: int, means: str) -> Draft:
    place = case.text("leak_heard_at", cylinder)
    part = {"rings": "the rings", "head gasket": "the head gasket"}.get(means, f"the {means}")
    statement = (
        f"Cylinder {cylinder} leaks {case.says('leakdown', cylinder)}, {case.says('spec_leakdown_max')} allowed, heard at the "
        f"{place}: {part}."
    )
    cause = CAUSE_OF[means]
    cylinders = [cylinder]
    if place == "next cylinder":
        beside = [other for other in case.shape.neighbours[cylinder] if case.is_out("leakdown", other)]
        cylinders += beside if len(beside) == 1 else []
    evidence = tuple(
        cell_name(name, n)
        for n in sorted(cylinders)
        for name in ("leakdown", "leak_heard_at", "compression_dry", "compression_wet")
    )
    return Draft(
        cause,
        "confirmed",
        statement,
        (*evidence, "spec_leakdown_max", *_support(case, cylinder, cause), *_weak(case, cylinder)),
        "leak-down place",
        tuple(sorted(cylinders)),
        waits_for=("readiness",),
        despite=LEAKDOWN_STANDS_DESPITE,
        next_step=AFTER_LEAKDOWN[cause],
    )


def _leak_unheard(case: Case, cylinder: int) -> Iterator[Draft]:
    evidence = tuple(cell_name(name, cylinder) for name in ("leakdown", "leak_heard_at", "compression_dry"))
    for cause, part in (
        ("worn_rings", "rings"),
        ("leaking_valve", "a valve"),
        ("head_gasket", "the head gasket"),
    ):
        yield Draft(
            cause,
            "possible",
            f"Cylinder {cylinder} leaks {case.says('leakdown', cylinder)}, {case.says('spec_leakdown_max')} allowed, but the place was not "
            f"heard: it may be {part}.",
            (*evidence, "spec_leakdown_max"),
            "leak-down unheard",
            (cylinder,),
            waits_for=("readiness",),
            despite=LEAKDOWN_STANDS_DESPITE,
            next_step="Listen again at intake, exhaust, oil filler, coolant and the next cylinder",
        )


def _low_but_tight(case: Case, group: tuple[int, ...], wet: str) -> Iterator[Draft]:
    cylinder = group[0]
    causes = {
        verdict.RINGS_OR_VALVE: (verdict.RINGS, verdict.VALVE),
        verdict.WET_NEXT: (verdict.RINGS, verdict.VALVE),
    }
    causes[verdict.VALVE_OR_GASKET] = (verdict.VALVE, verdict.GASKET)
    for part in causes.get(wet, (wet,)):
        yield Draft(
            CAUSE_OF[part],
            "possible",
            f"{cylinders_in_words(group).capitalize()} gauged low ({readings(case, group)}), but the leak-down test found "
            f"{case.says('leakdown', cylinder)}, in limits: the two don't agree.",
            gauge_evidence(case, group),
            "leak-down tight",
            group,
            waits_for=("readiness",),
            next_step="Repeat the gauge reading and the leak-down test of this cylinder",
        )


def _by_gauge(case: Case, cylinder: int, group: tuple[int, ...], wet: str) -> Iterator[Draft]:
    parts = {
        verdict.RINGS_OR_VALVE: (verdict.RINGS, verdict.VALVE),
        verdict.VALVE_OR_GASKET: (verdict.VALVE, verdict.GASKET),
    }.get(wet, (wet,))
    if wet == verdict.WET_NEXT:
        near = case.text("equal_before", cylinder) or case.text("equal_after", cylinder)
        parts = (verdict.RINGS, verdict.VALVE, verdict.GASKET) if near else (verdict.RINGS, verdict.VALVE)
    for part in parts:
        cause = CAUSE_OF[part]
        members = group if part == verdict.GASKET or len(parts) == 1 else (cylinder,)
        if part == verdict.GASKET and len(parts) > 1:
            members = _with_equal_neighbour(case, cylinder)
            if members[0] != cylinder and case.text("wet_points_to", members[0]) == wet:
                continue
        support = _support(case, cylinder, cause)
        beside = _neighbours_not_gauged(case, cylinder) if part == verdict.VALVE else ""
        yield Draft(
            cause,
            _gauge_strength(case, cylinder, wet, support),
            _gauge_statement(case, cylinder, members, wet, part),
            (*gauge_evidence(case, members), *support),
            RULE_OF_WET[wet],
            members,
            waits_for=("readiness",),
            rests_on=case.each("compression_dry") + case.each("compression_wet"),
            provisional=bool(beside),
            why_provisional=beside,
            next_step=_gauge_next_step(case, cylinder, wet),
        )


def _with_equal_neighbour(case: Case, cylinder: int) -> tuple[int, ...]:
    beside = [
        other
        for other in case.shape.neighbours[cylinder]
        if case.text("compression_is_low", other) == LOW and _equally_low(case, cylinder, other)
    ]
    return tuple(sorted([cylinder, *beside]))


def _gauge_strength(case: Case, cylinder: int, wet: str, support: tuple[str, ...]):  # noqa: ANN202 - Strength
    if wet == verdict.WET_NEXT:
        return "indicated" if support else "possible"
    undecided = wet in (verdict.RINGS_OR_VALVE, verdict.VALVE_OR_GASKET)
    return "possible" if undecided or case.text("small_shortfall", cylinder) == "yes" else "confirmed"


def _gauge_statement(case: Case, cylinder: int, group: tuple[int, ...], wet: str, part: str) -> str:
    who = cylinders_in_words(group).capitalize()
    plural = len(group) > 1
    low = f"{who} {'are' if plural else 'is'} low ({readings(case, group)}, {case.says('compression_low_line')} needed)"
    share = case.says("wet_gain_share", cylinder)
    if wet == verdict.RINGS:
        told = f"and oil brought back {share} of the shortfall: worn or broken rings, or a worn cylinder"
    elif wet == verdict.VALVE:
        told = f"and oil brought back {_little(case, cylinder)} of the shortfall: a burned or leaking valve"
    elif wet == verdict.GASKET:
        told = "equally so, and oil changed little in both: the head gasket leaks between them"
    elif wet == verdict.VALVE_OR_GASKET:
        what = "the head gasket" if part == verdict.GASKET else "a valve"
        told = f"and a neighbour is equally low without a clear wet reading of its own: it may be {what}"
    elif wet == verdict.RINGS_OR_VALVE:
        least, most = case.number("wet_gain_share_least", cylinder), case.number("wet_gain_share", cylinder)
        between = share if least == most else f"between {100 * (least or 0):.0f} % and {share}"
        what = "rings" if part == verdict.RINGS else "a valve"
        told = f"and oil brought back {between} of the shortfall, which does not tell: it may be {what}"
    else:
        what = {verdict.RINGS: "rings", verdict.VALVE: "a valve", verdict.GASKET: "the head gasket"}[part]
        told = f"and neither wet test nor leak-down says why: it may be {what}"
    small = (
        " The shortfall is so small that the gauge decides it."
        if case.text("small_shortfall", cylinder) == "yes"
        else ""
    )
    return f"{low} {told}.{small}"


def _little(case: Case, cylinder: int) -> str:
    share = case.number("wet_gain_share", cylinder)
    return "nothing" if share is None or share <= 0 else f"only {case.says('wet_gain_share', cylinder)}"


def _neighbours_not_gauged(case: Case, cylinder: int) -> str:
    """Why a valve finding is provisional: a neighbour whose reading is missing might be equally low."""
    blank = tuple(n for n in case.shape.neighbours[cylinder] if not case.has("compression_dry", n))
    return f"gauge {cylinders_in_words(blank)} beside it, which may be equally low (gasket)" if blank else ""


def _gauge_next_step(case: Case, cylinder: int, wet: str) -> str:
    if wet == verdict.WET_NEXT:
        return "Wet test of this cylinder and of one sound one, or the leak-down test"
    if wet in (verdict.RINGS_OR_VALVE, verdict.VALVE_OR_GASKET):
        if not case.each("sound_gain"):
            return "Wet reading of a sound cylinder, or the leak-down test"
        return "Leak-down test of this cylinder, and of its neighbour"
    return ""


def readings(case: Case, group: tuple[int, ...]) -> str:
    return ", ".join(case.says("compression_dry", n) for n in group)


def gauge_evidence(case: Case, group: tuple[int, ...]) -> tuple[str, ...]:
    each = ("compression_dry", "compression_wet", "wet_gain_share", "leakdown")
    cells = (*(cell_name(name, n) for n in group for name in each), "compression_low_line")
    return (*cells, *(cell for n in group for cell in _weak(case, n)))


def _weak(case: Case, cylinder: int) -> tuple[str, ...]:
    """The speed drop of a weak cylinder: it agrees with a low one, whatever makes it low."""
    return (cell_name("speed_drop", cylinder),) if case.text("drop_is_weak", cylinder) == "weak" else ()


def _support(case: Case, cylinder: int, cause: str) -> tuple[str, ...]:
    """Cells that support a cause beside the low reading itself."""
    first, look, needle = (
        case.number("first_stroke_share", cylinder),
        case.text("plug_look", cylinder),
        case.text("needle_judged"),
    )
    low = case.text("compression_is_low", cylinder) == LOW
    builds_up = first is not None and low and first < case.values.constant("builds_up_share")
    stays_low = first is not None and low and not builds_up
    signs = {
        "worn_rings": (
            (builds_up, cell_name("compression_first", cylinder)),
            (look == "oily", cell_name("plug_look", cylinder)),
            (case.text("snap_supports_rings") == "yes", "snap_vacuum_high"),
        ),
        "leaking_valve": (
            (stays_low, cell_name("compression_first", cylinder)),
            (needle == "evenly spaced drops", "needle"),
        ),
        "head_gasket": (
            (look == "coolant traces", cell_name("plug_look", cylinder)),
            (needle == "wide regular swing", "needle"),
        ),
    }[cause]
    return tuple(cell for holds, cell in signs if holds)
