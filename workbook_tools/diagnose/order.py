"""The order of checking: readiness, compression, ignition, fuel and air; and what is provisional until it is kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Draft, Finding, State
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.rules import RULES
from workbook_tools.language.model import SYSTEMS, System
from workbook_tools.sheets.cautions import CAUTIONS

#: What would settle a finding that waits for a system, in the words of a next step.
SETTLED_BY: dict[System, str] = {
    "readiness": "prove readiness (warm engine, idle speed) and read again",
    "compression": "prove compression (every cylinder dry, test conditions met)",
    "ignition": "prove ignition (timing, and points where there are points)",
    "fuel and air": "prove fuel and air (cranking vacuum, fuel pressure)",
}
MENDED_FIRST: dict[System, str] = {
    "readiness": "put readiness right and read again",
    "compression": "repair the compression fault and read again",
    "ignition": "repair the ignition fault and read again",
    "fuel and air": "repair the fuel or air fault and read again",
}
#: States that lift `provisional`.
SETTLED = ("proven", "proven as far as the figures go")
STRENGTH_ORDER = {"confirmed": 0, "indicated": 1, "possible": 2}


def states_of(drafts: Sequence[Draft], core: Mapping[System, State]) -> dict[System, State]:
    """Where the proof of each system stands: a confirmed or indicated finding is a fault, before anything is proven."""
    states: dict[System, State] = {}
    for system in SYSTEMS:
        sure = any(CAUSES[draft.cause].system == system and draft.strength != "possible" for draft in drafts)
        states[system] = "fault found" if sure else core[system]
    return states


def findings(case: Case, drafts: Sequence[Draft], core: Mapping[System, State]) -> tuple[Finding, ...]:
    """Findings in the order of the systems, surest first, each provisional where what comes before it is not proven."""
    found = [
        finding(case, draft, states_of([other for other in drafts if other.cause not in draft.despite], core))
        for draft in merged(drafts)
    ]
    found.sort(key=_place)
    return tuple(found)


def _place(finding: Finding) -> tuple[int, int, int, tuple[int, ...]]:
    """Where a finding stands: by system, surest first, what is put right first, then by cylinder."""
    turn = CAUSES[finding.cause].turn
    return SYSTEMS.index(finding.system), STRENGTH_ORDER[finding.strength], turn, finding.cylinders


def merged(drafts: Sequence[Draft]) -> list[Draft]:
    """One draft for each cause and set of cylinders: the surest, with the evidence of the others added."""
    kept: dict[tuple[str, tuple[int, ...]], Draft] = {}
    for draft in sorted(drafts, key=lambda each: STRENGTH_ORDER[each.strength]):
        key = draft.cause, draft.cylinders
        if key not in kept:
            kept[key] = draft
            continue
        first = kept[key]
        evidence = (*first.evidence, *draft.evidence)
        rests_on = (*first.rests_on, *draft.rests_on)
        kept[key] = Draft(**{**first.__dict__, "evidence": evidence, "rests_on": rests_on})
    return list(kept.values())


def finding(case: Case, draft: Draft, states: Mapping[System, State]) -> Finding:
    """A draft made whole: its system, evidence cells, rule with source, next step and caution."""
    cause, rule = CAUSES[draft.cause], RULES[draft.rule]
    unsettled = [system for system in draft.waits_for if states[system] not in SETTLED]
    doubtful = [name for name in (*draft.evidence, *draft.rests_on) if name in case.doubted]
    provisional = draft.provisional or bool(unsettled) or bool(doubtful)
    reasons = [draft.why_provisional] if draft.why_provisional else []
    reasons += [
        (MENDED_FIRST if states[system] == "fault found" else SETTLED_BY)[system] for system in unsettled[:1]
    ]
    reasons += [f"look again at {case.form.where(name)}" for name in dict.fromkeys(doubtful)]
    next_step = draft.next_step or cause.next_step
    if reasons:
        # What settles it comes first: nothing is taken apart for a finding that may still change.
        next_step = f"First {'; '.join(reasons)}. Then: {next_step}"
    return Finding(
        cause=draft.cause,
        system=cause.system,
        cylinders=draft.cylinders,
        strength=draft.strength,
        provisional=provisional,
        statement=draft.statement,
        evidence=case.evidence(draft.evidence),
        rule=rule.said(case.shape.units),
        source=rule.source_in(case.shape.units),
        next_step=next_step,
        caution=" ".join(CAUTIONS[name] for name in (draft.caution or cause.caution).split("+") if name),
    )
