"""The fault vocabulary: every cause that a check can find, in the order of the systems.

One row a cause, written in the module of its part of the engine; the ids are the choices of `concluded_cause` and `work_cause` on
sheet Repairs and the `cause` of a finding.
"""

from __future__ import annotations

from workbook_tools.faults import (
    advance,
    all_cylinders,
    intake,
    mixture,
    one_cylinder,
    points,
    readiness,
    spark,
    supply,
    timing,
    valve_train,
)
from workbook_tools.faults.model import Cause
from workbook_tools.language.model import Result, System

CAUSES: dict[str, Cause] = {
    cause.id: cause
    for causes in (
        readiness.CAUSES,
        one_cylinder.CAUSES,
        valve_train.CAUSES,
        all_cylinders.CAUSES,
        timing.CAUSES,
        advance.CAUSES,
        points.CAUSES,
        spark.CAUSES,
        intake.CAUSES,
        mixture.CAUSES,
        supply.CAUSES,
    )
    for cause in causes
}


def of_system(system: System) -> tuple[Cause, ...]:
    """The causes of one system, in their order."""
    return tuple(cause for cause in CAUSES.values() if cause.system == system)


def verdicts(system: System, per: str) -> tuple[Result, ...]:
    """The verdict cells of a system's causes: per 'job' or per 'cylinder'."""
    return tuple(verdict for cause in of_system(system) for verdict in cause.verdicts if verdict.per == per)
