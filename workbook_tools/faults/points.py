"""Contact points and condenser: all of it is seen or measured, so each finding is a fact once made."""

from __future__ import annotations

from workbook_tools.faults.model import Bench, Cause, Sign
from workbook_tools.faults.words import allowed
from workbook_tools.language.expressions import (
    number,
    word,
)
from workbook_tools.language.model import CONFIRMED
from workbook_tools.sheets.ignition_results import contacts
from workbook_tools.sheets.readings import is_beyond, is_inside

WORN_CONTACTS = ("worn", "out of line", "burned")


POINT_LIMITS = {
    "point_gap": ("spec_point_gap_min", "spec_point_gap_max", "point gap"),
    "dwell": ("spec_dwell_min", "spec_dwell_max", "dwell"),
}


has_points = word("ignition_type") != "electronic"


points_out = is_beyond("point_gap") | is_beyond("dwell")


electronic = word("ignition_type") == "electronic"


def _points_out(bench: Bench, _: int | None) -> str:
    parts = [
        f"{words} {bench.reading(name)} ({allowed(bench, low, high)})"
        for name, (low, high, words) in POINT_LIMITS.items()
        if bench.holds(is_beyond(name))
    ]
    return f"The points are out of limits: {' and '.join(parts)}."


POINTS_SHOWN = tuple(number(name).known for name, limits in POINT_LIMITS.items())

CAUSES = (
    Cause(
        id="contact_gap",
        common=4,
        deciding=("contacts and dwell",),
        shows={
            "contacts and dwell": {"gap or dwell out": 0.93},
            "timing by the light": {"late": 0.45, "early": 0.3},
            "exhaust gas": {"unburned charges": 0.3},
            "idle vacuum": {"steady, low": 0.2, "occasional drops": 0.1},
        },
        complaints=("hard starting", "misfires", "lacks power", "rough idle", "stalls", "does not start"),
        system="ignition",
        shown_as="Contact gap or dwell out of limits",
        customer_words="The ignition contacts were out of adjustment",
        decided_by="point_gap or dwell outside spec",
        next_step="Set gap with the rubbing block on the top of a cam lobe, then recheck timing",
        caution="running engine",
        signs=(
            Sign(
                points_out,
                CONFIRMED,
                _points_out,
                "gap and dwell",
                support=POINTS_SHOWN,
            ),
        ),
        cleared=electronic
        | (~is_beyond("point_gap") & ~is_beyond("dwell") & (is_inside("point_gap") | is_inside("dwell"))),
        recheck=("after_point_gap", "after_dwell"),
        in_short="Set or renew the points, then read the timing",
        turn=1,
    ),
    Cause(
        id="contact_points",
        common=3.5,
        deciding=("contacts and dwell",),
        shows={
            "contacts and dwell": {"worn, burned or out of line": 0.93},
            "exhaust gas": {"unburned charges": 0.25},
            "idle vacuum": {"occasional drops": 0.15},
        },
        complaints=("hard starting", "misfires", "lacks power", "rough idle", "stalls", "does not start"),
        system="ignition",
        shown_as="Contact points worn",
        customer_words="The ignition contacts were worn",
        decided_by="contacts worn, out of line or burned",
        next_step="Replace the points",
        signs=(
            Sign(
                has_points & contacts.is_in(*WORN_CONTACTS),
                CONFIRMED,
                lambda bench, _: f"The contact points are {bench.text('contacts')}.",
                "contacts seen",
            ),
        ),
        cleared=electronic | (contacts == "good"),
        hinted=contacts.known & ~electronic,
        in_short="Set or renew the points, then read the timing",
        turn=1,
    ),
    Cause(
        id="condenser",
        common=1.9,
        deciding=("contacts and dwell",),
        shows={
            "contacts and dwell": {"pitted": 0.92},
            "spark at a lead": {"weak or none": 0.5},
            "exhaust gas": {"unburned charges": 0.5},
            "idle vacuum": {"occasional drops": 0.15},
        },
        complaints=("misfires", "hard starting", "stalls", "does not start"),
        system="ignition",
        shown_as="Condenser faulty",
        customer_words="The condenser of the ignition was faulty",
        decided_by="contacts pitted",
        next_step="Replace points and condenser together",
        signs=(
            Sign(
                has_points & (contacts == "pitted"),
                CONFIRMED,
                lambda bench, _: (
                    "The contact points are pitted, metal carried from one to the other: the condenser."
                ),
                "contacts pitted",
            ),
        ),
        cleared=electronic | (contacts.known & (contacts != "pitted")),
        hinted=contacts == "pitted",
        in_short="Set or renew the points, then read the timing",
        turn=1,
    ),
)
