"""The judging rules by name: what each says, and its source. Findings name their rule; docs print this table.

Figures stand in `form/constants.py`; how a rule is applied stands in the module of its system.
"""

from __future__ import annotations

from dataclasses import dataclass

from workbook_tools.form.constants import PRACTICE


@dataclass(frozen=True)
class Rule:
    """One rule in a sentence, and where it comes from."""

    says: str
    source: str = PRACTICE


RULES: dict[str, Rule] = {
    # readiness
    "warm and idling": Rule("Readings count on an engine at working temperature and idle speed."),
    "not above working temperature": Rule("An engine hotter than its working range is not run further."),
    "oil pressure first": Rule("An engine with low oil pressure is stopped before any further running test."),
    "starter fast enough": Rule(
        "Compression and cranking tests need the specified cranking speed, and a battery that holds 0.8 of its nominal voltage.",
        "common practice; 9.6 V of 12 from memory",
    ),
    "test conditions": Rule(
        "Compression is gauged with the throttle open, all plugs out and at least four strokes a cylinder.",
        "TM 5-4210-230-14&P-1 Addendum 2; TM 1-1500-204-23-1",
    ),
    # compression
    "wet test recovers": Rule(
        "A low cylinder that regains at least half of its shortfall with oil leaks past its rings.",
        "TM 5-4210-230-14&P-1 Addendum 2 (wet test); shares: common practice",
    ),
    "wet test gains little": Rule(
        "A low cylinder that regains less than a fifth of its shortfall with oil, beside no equally low neighbour, leaks at a valve.",
        "TM 5-4210-230-14&P-1 Addendum 2 (wet test); shares: common practice",
    ),
    "equal neighbours": Rule(
        "Two neighbours on a bank, equally low and both with little wet gain, leak into each other past the gasket.",
        "TM 10-3930-647-14&P para 4-40; within 10 psi: common practice",
    ),
    "wet test open": Rule("A wet gain between a fifth and a half of the shortfall tells neither rings nor valve."),
    "low, not yet told": Rule("A low cylinder without wet test or leak-down can be rings or valve, or a gasket beside an equal neighbour."),
    "leak-down place": Rule(
        "A leak over the limit is at the part where the air is heard.",
        "FAA AC 43.13-1B para 8-14 (25 %); places: TM 5-3805-260-24 in part, else from memory",
    ),
    "leak-down unheard": Rule("A leak over the limit that is heard nowhere leaves rings, valve and gasket possible."),
    "leak-down tight": Rule("A leak-down reading in limits outweighs a low gauge reading: both are repeated."),
    "all low, oil helps": Rule("All cylinders low and each regaining at least half with oil: wear in all cylinders."),
    "all low, oil does not help": Rule(
        "All cylinders low and even, with little wet gain: valve timing.", "US Army OD1001, vacuum lesson, p. 89; wet test: common practice"
    ),
    "all low, not yet told": Rule("All cylinders low and not told apart by the wet test: wear or valve timing."),
    "compression above range": Rule(
        "Compression above the range speaks for carbon deposits.", "TM 10-3930-647-14&P para 4-40"
    ),
    # needle
    "needle drops evenly": Rule(
        "Evenly spaced drops of the needle: a valve that leaks; the compression test decides.", "US Army OD1001, vacuum lesson, p. 89"
    ),
    "needle drops at times": Rule(
        "Occasional drops of the needle with even compression: a valve sticks at times.", "US Army OD1001, vacuum lesson, p. 89"
    ),
    "needle swing widens": Rule("A swing that widens as speed rises: weak valve springs."),
    "needle flutter steadies": Rule("A fast flutter at idle that steadies with speed, clearance being set: worn valve guides."),
    "valve clearance": Rule("Valve clearance too small, or a flutter that is gone after adjustment."),
    "needle swings wide": Rule(
        "A wide regular swing of the needle: head gasket between cylinders; the compression test decides.",
        "US Army OD1001, vacuum lesson, p. 89",
    ),
    "steady and low": Rule(
        "A steady needle below the range with normal compression: timing late; it is measured before it is believed.",
        "US Army OD1001, vacuum lesson, p. 89",
    ),
    "steady and very low": Rule("Steady under six tenths of the site's minimum speaks for an intake leak rather than for timing."),
    "vacuum above range": Rule("A vacuum above the site's range is at most a sign of early timing."),
    "low vacuum unexplained": Rule("Low and steady with compression, timing and intake in limits: valve timing and exhaust come next."),
    "falls while held": Rule(
        "A vacuum that falls slowly while a raised speed is held: exhaust restricted.",
        "US Army OD1001, vacuum lesson, p. 89; TM 10-3930-618-20 para 2-13",
    ),
}
