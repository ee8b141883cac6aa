"""Fuel and air: contradicting readings, tests begun and not finished, proof, tests still owed."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.compression_checks import missing_reading
from workbook_tools.diagnose.model import Discrepancy, OwedTest
from workbook_tools.diagnose.vacuum_checks import conflict
from workbook_tools.faults import intake, supply
from workbook_tools.faults.mixture import IDLE_POINT, VALVES_FIRST, is_rich, lean_by_choke, lean_by_gas
from workbook_tools.language.model import cell_name
from workbook_tools.science.exhaust_gas import Sample, doubted_co2, judge_sample
from workbook_tools.sheets.gas_results import GASES, LEAN, RAISED, RICH

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
        reason = f"the choke says that it runs lean, the exhaust that it runs {rich}"
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
        why = "The running vacuum is below normal, and the choke tells whether the mixture is lean."
        yield missing_reading(case, "running_vacuum_choked", why)
    pair = ("fuel_delivery_volume", "fuel_delivery_time")
    for name, other in (pair, pair[::-1]):
        if case.typed(name) and not case.typed(other):
            yield missing_reading(
                case, other, "Fuel delivery is a volume in a time: one without the other says nothing."
            )
    for point, words in POINTS.items():
        left_out = [gas for gas in GASES if not case.typed(gas, point)]
        if 0 < len(left_out) < len(GASES):
            for gas in left_out:
                why = f"Lambda at {words} needs all four gases, read in the same moment."
                yield missing_reading(case, cell_name(gas, point), why)


def owed(case: Case) -> Iterator[OwedTest]:
    """Fuel and air tests still to be made: intake, pump, then what would settle an open finding."""
    yield from _intake_and_pump(case)
    yield from _exhaust(case)
    yield from _gases(case)
    if (
        case.holds(lean_by_choke | lean_by_gas)
        and case.holds(intake.is_tight)
        and case.is_inside("fuel_pressure")
    ):
        if not case.has("fuel_delivery_rate"):
            fields = ("fuel_delivery_volume", "fuel_delivery_time")
            why = (
                "Pressure is right and the mixture lean: a pump that delivers too little does that as well as"
                " a carburettor."
            )
            yield OwedTest("fuel delivery", fields, why)
    needle = case.text("needle_judged")
    if needle in ("slow wander", "fast flutter") and case.text("valve_clearance") in ("", VALVES_FIRST[-1]):
        yield OwedTest(
            "valve clearance",
            ("valve_clearance",),
            "A valve out of clearance moves the needle as mixture or guides do.",
        )
    if needle == "slow wander" and not case.has("mixture_best_vacuum"):
        why = (
            "A needle that goes steady in its range by the mixture screw proves the idle mixture, and nothing"
            " else does."
        )
        yield OwedTest("idle mixture", ("mixture_best_vacuum",), why)


def _intake_and_pump(case: Case) -> Iterator[OwedTest]:
    if not case.has("cranking_vacuum") and not case.has("cranking_vacuum_retest"):
        why = (
            "An air leak at the intake upsets vacuum and mixture alike: no carburettor is blamed before it is"
            " ruled out."
        )
        yield OwedTest("cranking vacuum", ("cranking_vacuum", "cranking_vacuum_rise"), why)
    elif not case.has("site_cranking_vacuum_min"):
        why = "Cranking vacuum was read, but the form has no figure to judge it by."
        yield OwedTest("cranking vacuum, specified", ("spec_cranking_vacuum_min",), why)
    if case.text("pressure_asked") == "no":
        if not case.has("fuel_delivery_rate"):
            why = "Fuel runs to this carburettor by its own weight: what comes in a minute says whether line and tap are free."
            yield OwedTest("fuel delivery", ("fuel_delivery_volume", "fuel_delivery_time"), why)
    elif not case.has("fuel_pressure"):
        why = "Lean or rich running may come from the pump: it is measured before the carburettor is opened."
        yield OwedTest("fuel pressure", ("fuel_pressure",), why)
    elif not any(case.has(name) for name in PRESSURE_SPECIFIED):
        why = "Fuel pressure was read, but the form has no figure to judge it by."
        yield OwedTest("fuel pressure, specified", PRESSURE_SPECIFIED, why)


def _exhaust(case: Case) -> Iterator[OwedTest]:
    if case.has("backpressure"):
        if not case.has("spec_backpressure_max"):
            why = "Back-pressure was read, but the form has no figure to judge it by."
            yield OwedTest("back-pressure, specified", ("spec_backpressure_max",), why)
    elif case.holds(supply.falls):
        why = "The vacuum falls while a raised speed is held: back-pressure says whether the exhaust is why."
        yield OwedTest("back-pressure", ("backpressure",), why)
    elif case.holds(intake.unexplained):
        why = (
            "Vacuum is low with compression, timing and intake in order: the exhaust and the valve timing are"
            " left."
        )
        yield OwedTest("back-pressure", ("backpressure",), why)


def _gases(case: Case) -> Iterator[OwedTest]:
    for point, words in POINTS.items():
        judged = sample(case, point)
        if judged is not None and judged is not Sample.USABLE:
            why = f"The sample at {words} says nothing of the mixture: {judged.value}."
            if judged is Sample.DILUTED:
                why = (
                    f"At {words} {judged.value}: push the probe in deeper and look for leaks in the exhaust."
                )
            yield OwedTest(
                f"exhaust gas at {words}, repeated", tuple(cell_name(gas, point) for gas in GASES), why
            )
    idle_off = case.text("mixture_says", IDLE_POINT) in (LEAN, RICH)
    if idle_off and not any(case.has(gas, RAISED) for gas in GASES):
        fields = tuple(cell_name(gas, RAISED) for gas in GASES)
        yield OwedTest(
            "exhaust gas at the raised speed",
            fields,
            "It tells an idle adjustment from a mixture that is wrong throughout.",
        )
