"""The judging rules by name: what each says, and its source. Findings name their rule; docs print this table.

Figures stand in `form/constants.py`; how a rule is applied stands in the module of its system.
"""

from __future__ import annotations

from dataclasses import dataclass

from workbook_tools.language.constants import PRACTICE
from workbook_tools.language.model import UnitSystem
from workbook_tools.language.prose import in_units


@dataclass(frozen=True)
class Rule:
    """One rule in a sentence, and where it comes from."""

    sentence: str
    source: str = PRACTICE

    def said(self, units: UnitSystem | None = None) -> str:
        """The sentence with its figures, in both unit systems where none is named."""
        return in_units(self.sentence, units)

    def source_in(self, units: UnitSystem | None = None) -> str:
        """The source with its figures."""
        return in_units(self.source, units)


RULES: dict[str, Rule] = {
    # readiness
    "warm and idling": Rule("Readings count on an engine at working temperature and idle speed."),
    "not above working temperature": Rule("An engine hotter than its working range is not run further."),
    "oil pressure first": Rule("An engine with low oil pressure is stopped before any further running test."),
    "starter fast enough": Rule(
        "Compression and cranking tests need the specified cranking speed, and a battery that holds {cranking_voltage_share} of"
        " its nominal voltage.",
        "common practice; 9.6 V of 12 from memory",
    ),
    "test conditions": Rule(
        "Compression is gauged with the throttle open, all plugs out and at least {least_strokes} strokes a cylinder.",
        "TM 5-4210-230-14&P-1 Addendum 2; TM 1-1500-204-23-1",
    ),
    # compression
    "wet test recovers": Rule(
        "A low cylinder that regains at least {rings_share} of its shortfall with oil leaks past its rings.",
        "TM 5-4210-230-14&P-1 Addendum 2 (wet test); shares: common practice",
    ),
    "wet test gains little": Rule(
        "A low cylinder that regains less than {valve_share} of its shortfall with oil, beside no equally low"
        " neighbour, leaks at a valve.",
        "TM 5-4210-230-14&P-1 Addendum 2 (wet test); shares: common practice",
    ),
    "equal neighbours": Rule(
        "Two neighbours on a bank, equally low and both with little wet gain, leak into each other past the"
        " gasket.",
        "TM 10-3930-647-14&P para 4-40; within {equal_neighbours}: common practice",
    ),
    "wet test open": Rule(
        "A wet gain between {valve_share} and {rings_share} of the shortfall tells neither rings nor valve."
    ),
    "low, not yet told": Rule(
        "A low cylinder without wet test or leak-down can be rings or valve, or a gasket beside an equal"
        " neighbour."
    ),
    "leak-down place": Rule(
        "A leak over the limit is at the part where the air is heard.",
        "FAA AC 43.13-1B para 8-14 (25 %); places: TM 5-3805-260-24 in part, else from memory",
    ),
    "leak that stands out": Rule(
        "A leak in limits, but {large_leak} times the median of the others, at least {half_of_limit} of the limit, and heard at a"
        " place is a sign of what leaks there."
    ),
    "wet test against leak-down": Rule(
        "Where wet test and leak-down differ the place that was heard stands, and the other stays possible: oil on a worn"
        " piston hides a valve."
    ),
    "leak-down at all rings": Rule(
        "A leak at the oil filler over the limit in all cylinders (all but one from {least_strokes} up) is wear in all of them.",
        "FAA AC 43.13-1B para 8-14 (25 %); places: TM 5-3805-260-24 in part, else from memory",
    ),
    "coolant on a plug": Rule("Traces of coolant on a plug: the head gasket of that cylinder, or a crack."),
    "leak-down unheard": Rule(
        "A leak over the limit that is heard nowhere leaves rings, valve and gasket possible."
    ),
    "leak-down tight": Rule(
        "A leak-down reading in limits outweighs a low gauge reading: both are repeated."
    ),
    "all low, oil helps": Rule(
        "All cylinders low and each regaining at least {rings_share} with oil: wear in all cylinders."
    ),
    "all low, oil does not help": Rule(
        "All cylinders low and even, with little wet gain: valve timing.",
        "US Army OD1001, vacuum lesson, p. 89; wet test: common practice",
    ),
    "all low, not yet told": Rule(
        "All cylinders low and not told apart by the wet test: wear or valve timing."
    ),
    "compression above range": Rule(
        "Compression above the range speaks for carbon deposits.", "TM 10-3930-647-14&P para 4-40"
    ),
    # needle
    "needle drops evenly": Rule(
        "Evenly spaced drops of the needle: a valve that leaks; the compression test decides.",
        "US Army OD1001, vacuum lesson, p. 89",
    ),
    "needle drops at times": Rule(
        "Occasional drops of the needle: a valve that sticks at times, or the ignition; a needle that is steady after the"
        " valve was freed proves it.",
        "US Army OD1001, vacuum lesson, p. 89",
    ),
    "needle swing widens": Rule(
        "A swing that widens as speed rises: weak valve springs, or an ignition that fails at speed."
    ),
    "needle flutter steadies": Rule(
        "A fast flutter at idle that steadies with speed, clearance being set: worn valve guides."
    ),
    "valve clearance": Rule("Valve clearance too small, or a flutter that is gone after adjustment."),
    "needle swings wide": Rule(
        "A wide regular swing of the needle: head gasket between cylinders; the compression test decides.",
        "US Army OD1001, vacuum lesson, p. 89",
    ),
    "steady and low": Rule(
        "A steady needle below the range with normal compression: timing late; it is measured before it is"
        " believed.",
        "US Army OD1001, vacuum lesson, p. 89",
    ),
    "steady and very low": Rule(
        "Steady under {very_low_share} of the site's minimum speaks for an intake leak rather than for timing."
    ),
    "vacuum above range": Rule("A vacuum above the site's range is at most a sign of early timing."),
    "low vacuum unexplained": Rule(
        "Low and steady with compression, timing and intake in limits: valve timing and exhaust come next."
    ),
    "falls while held": Rule(
        "A vacuum that falls slowly while a raised speed is held: exhaust restricted.",
        "US Army OD1001, vacuum lesson, p. 89; TM 10-3930-618-20 para 2-13",
    ),
    # ignition
    "gap and dwell": Rule(
        "Points are set before the timing; dwell or gap out of limits is a fault of its own.",
        "US Navy Construction Mechanic Basic Vol 2, Ch. 2 (gap and dwell figures); order: geometry of cam and"
        " crank",
    ),
    "contacts seen": Rule("Contacts worn, out of line or burned are replaced."),
    "contacts pitted": Rule("Contacts pitted, metal carried from one to the other: the condenser."),
    "timing by the light": Rule(
        "Timing beyond its tolerance is late or early; with the points out it is measured again once they are"
        " set, since a degree of dwell makes the spark a crank degree later.",
        "the engine's specification; shift: geometry of cam and crank",
    ),
    "line against manifold": Rule(
        "An advance unit that does not move is at fault where its line carries the manifold's vacuum (within"
        " {same_vacuum}); else its line is."
    ),
    "rotor springs back": Rule(
        "A rotor that does not spring back, or sluggishly: the weights stick. A wandering timing mark is a"
        " sign of it."
    ),
    "advance curve": Rule(
        "Advance outside the band between the specified points, the initial timing error taken off first.",
        "the engine's specification; linear between points",
    ),
    "spark seen": Rule("A spark weak or none where the lead is held to the block."),
    "sooty plugs": Rule("Sooty plugs with the mixture in order are a sign of weak spark."),
    "misfire, not mixture": Rule(
        "Much HC and O2 with lambda near one is a misfire and no mixture fault: unburned charge leaves lambda"
        " as it is.",
        "Brettschneider balance, confirmed by chemical equilibrium; {misfire_hc} and {misfire_o2}: common practice",
    ),
    "plug look and gap": Rule(
        "A plug cracked, worn or out of its gap is unfit.",
        "look: common practice; gap: the engine's specification",
    ),
    "small fall in speed": Rule(
        "A cylinder that slows the engine little, compression being normal, points to its plug, lead or"
        " mixture."
    ),
    # fuel and air
    "cranking vacuum": Rule(
        "Cranking vacuum below the site's limit, or slow to rise with the throttle closed: air leaks in at"
        " the intake."
    ),
    "tightening restores the cranking vacuum": Rule(
        "A cranking vacuum that tightening the fastenings brings back proves that they leaked."
    ),
    "still low after tightening": Rule(
        "A cranking vacuum still low with the fastenings tight: hoses, carburettor base and throttle shaft are tested before a"
        " manifold is removed."
    ),
    "air found at a place": Rule(
        "A hose that brings the vacuum up when it is pinched off, or a base that changes the engine when it is tested, is where"
        " the air comes in."
    ),
    "only looks lean": Rule(
        "Much HC with O2 over {misfire_o2}, or CO over {air_co} with O2 over {air_o2}: unfired charges, or air in the exhaust,"
        " look lean and blame nobody."
    ),
    "heat riser seen": Rule("A heat riser is free or it is not; burned through it leaks into the intake."),
    "air cleaner seen": Rule("A dirty or blocked air cleaner is cleaned or renewed."),
    "needle wanders slowly": Rule(
        "A slow wander that the mixture screw steadies inside the normal range: idle mixture.",
        "US Army OD1001, vacuum lesson, p. 89",
    ),
    "off at idle only": Rule(
        "Exhaust gas rich or lean at idle only, in order at the raised speed, is a sign of the idle"
        " adjustment."
    ),
    "choke restores the vacuum": Rule(
        "A vacuum below normal at a set throttle that the choke brings up: lean."
    ),
    "lambda lean": Rule(
        "Lambda over {lambda_lean} at the raised speed, in a sample that balances: lean.",
        "Brettschneider 1979 (lambda); limit: common practice",
    ),
    "lambda rich": Rule(
        "Lambda under {lambda_rich} at the raised speed, in a sample that balances: rich.",
        "Brettschneider 1979 (lambda); limit: common practice",
    ),
    "plugs blistered": Rule("Most plugs blistered white are a sign of a lean mixture."),
    "sooty plugs, gas not read": Rule(
        "Most plugs with dry soot are a sign of a rich mixture or a weak spark."
    ),
    "fuel pressure": Rule(
        "Pump pressure at the carburettor is held against its specification.",
        "the engine's specification; 1.5 to 6 psi for mechanical pumps: TM 9-8000 para 4-3c(7); 2.5 to 3.5"
        " psi: common practice",
    ),
    "fuel delivery": Rule(
        "The pump's free flow is held against its specification.", "the engine's specification"
    ),
    "carburettor last": Rule(
        "A carburettor is blamed only where it is lean with the intake tight and the fuel coming as it"
        " should."
    ),
    "back-pressure": Rule(
        "Exhaust back-pressure over its limit: restricted.",
        "the engine's specification; 3 psi: common practice, no published limit found",
    ),
}
