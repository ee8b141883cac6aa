"""Fuel and air: contradicting readings, tests begun and not finished, proof, tests still to do."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.compression_checks import missing_reading
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.diagnose.vacuum_checks import conflict
from workbook_tools.faults.mixture import IDLE_POINT, is_rich, lean_by_choke
from workbook_tools.language.model import cell_name
from workbook_tools.science.exhaust_gas import Sample, doubted_co2, judge_sample
from workbook_tools.sheets.gas_results import GASES, RAISED

POINTS = {IDLE_POINT: "idle", RAISED: "the raised speed"}
PRESSURE_SPECIFIED = ("spec_fuel_pressure_min", "spec_fuel_pressure_max")


def conflicts(case: Case) -> Iterator[Discrepancy]:
    """Gases that can't be exhaust or contradict the choke, vacuum lost by tightening, a needle that falls
    though its figures rise.
    """
    for point in POINTS:
        yield from _sample(case, point)
    if case.holds(lean_by_choke & is_rich):
        rich = f"rich (lambda {case.reading('lambda', RAISED)})"
        reason = f"the choke test says lean, the exhaust says {rich}"
        yield conflict(
            case, "running_vacuum_choked", f"at most {case.reading('running_vacuum')}, as it is rich", reason
        )
    first, again = case.number("cranking_vacuum"), case.number("cranking_vacuum_retest")
    if first is not None and again is not None and first - again > case.values.constant("same_vacuum"):
        reason = (
            "the cranking vacuum is lower once the fastenings were tightened, and tightening can only"
            " raise it"
        )
        yield conflict(case, "cranking_vacuum_retest", f"at least {case.reading('cranking_vacuum')}", reason)
    fall = case.number("raised_vacuum_fall")
    if case.text("needle_with_speed") == "falls slowly while held" and fall is not None and fall <= 0:
        reason = (
            "the needle is said to fall while the speed is held, but it went from"
            f" {case.reading('raised_vacuum_start')} to "
        )
        reason += case.reading("raised_vacuum_held")
        yield conflict(case, "needle_with_speed", "a vacuum that is lower after a minute", reason)


def sample(case: Case, point: int) -> Sample | None:
    """What the carbon sum and the balance say of a sample, None without CO, CO2 and O2."""
    co, co2, o2 = (case.number(gas, point) for gas in ("gas_co", "gas_co2", "gas_o2"))
    return None if co is None or co2 is None or o2 is None else judge_sample(co, co2, o2)


def _sample(case: Case, point: int) -> Iterator[Discrepancy]:
    judged = sample(case, point)
    cell = cell_name("gas_co2", point)
    where, found = case.form.where(cell), case.reading("gas_co2", point)
    if judged is Sample.POINT_SHIFTED:
        co, co2, o2 = (case.number(gas, point) or 0.0 for gas in ("gas_co", "gas_co2", "gas_o2"))
        meant = doubted_co2(co, co2, o2)
        message = (
            f"{where} (CO2 at {POINTS[point]}) holds {found}: with the CO and O2 beside it that is no"
            f" exhaust, but with the decimal point one place to the right it would be {meant:g} % vol and is."
            " No mixture finding was made from it; look at the analyser again."
        )
        yield Discrepancy("decimal_doubt", cell, where, found, f"{meant:g} % vol", message)
    elif judged is Sample.NOT_SETTLED:
        reason = (
            f"the gases at {POINTS[point]} don't add up to exhaust, rich, lean or thinned: the analyser had"
            " not settled"
        )
        yield conflict(
            case,
            "gas_co2",
            "CO, CO2 and O2 that balance",
            f"{reason}, and no mixture finding was made",
            point,
        )
    elif judged is Sample.TOO_MUCH_CARBON:
        reason = (
            f"CO and CO2 at {POINTS[point]} make {case.reading('carbon_sum', point)}, more than any petrol"
            " exhaust holds"
        )
        yield conflict(
            case,
            "gas_co2",
            f"CO + CO2 of at most {case.figure('most_carbon', 'gas_co2')}",
            f"{reason}; no mixture finding was made",
            point,
        )


def missing(case: Case) -> Iterator[Discrepancy]:
    """Cranking vacuum low without retest, running vacuum without choke, half a delivery, gases left out."""
    if case.is_below("cranking_vacuum") and not case.typed("cranking_vacuum_retest"):
        why = "Cranking vacuum is low: read again with the fastenings tightened it tells whether they leaked."
        yield missing_reading(case, "cranking_vacuum_retest", why)
    if case.is_below("running_vacuum") and not case.typed("running_vacuum_choked"):
        why = (
            "The running vacuum is below normal: close the choke a little to see whether the mixture is lean."
        )
        yield missing_reading(case, "running_vacuum_choked", why)
    pair = ("fuel_delivery_volume", "fuel_delivery_time")
    for name, other in (pair, pair[::-1]):
        if case.typed(name) and not case.typed(other):
            yield missing_reading(case, other, "Fuel delivery needs both, how much and in what time.")
    for point, words in POINTS.items():
        left_out = [gas for gas in GASES if not case.typed(gas, point)]
        if 0 < len(left_out) < len(GASES):
            for gas in left_out:
                why = f"Lambda at {words} needs all four gases, read in the same moment."
                yield missing_reading(case, cell_name(gas, point), why)
