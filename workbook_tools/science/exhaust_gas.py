"""What four exhaust gases say: lambda, and whether the sample itself can be believed.

CO, CO2 and O2 are in % vol and hydrocarbons in ppm, as an analyser shows them.

Source of lambda: J. Brettschneider, Technische Berichte 6 (1979), no. 4, pp. 177-186; the same form stands
in UN Regulation 83 and ISO 3930 (places from memory). It weighs the oxygen in the exhaust against the oxygen
that its carbon and hydrogen need; the water, which is not measured, follows from CO and CO2 by the water-gas
equilibrium. The constants for gasoline are those of the regulations (from memory).
"""

from __future__ import annotations

from enum import Enum

H_PER_C = 1.7261
O_PER_C = 0.0175
WATER_GAS_CONSTANT = 3.5
PPM_PER_PERCENT = 10000

# Carbon atoms of the gas that the analyser's hydrocarbon reading is expressed in.
CARBON_ATOMS: dict[str, int] = {"hexane": 6, "propane": 3, "methane": 1}

# CO + CO2 of complete combustion at lambda 1, and oxygen in dry air, both in % vol: carbon balance.
STOICHIOMETRIC_CARBON_SUM = 15.7
OXYGEN_IN_AIR = 20.95

# Exhaust of a petrol engine, rich, lean or diluted, keeps the balance between 0.70 and 1.18 (found in 5490
# roadworthiness records); a shifted point is believed up to a little more.
LEAST_BALANCE = 0.70
MOST_SHIFTED_BALANCE = 1.25
# Common practice, no source: less carbon than this is exhaust thinned with air.
LEAST_CARBON_SUM = 8.0
# Carbon balance: gasoline gives 15.7 % at lambda 1 and 19 % at 0.75.
MOST_CARBON_SUM = 20.0

CORRECTED_CARBON_SUM = 15.0


class Sample(Enum):
    """Whether a mixture finding may rest on a gas sample, and if not, why."""

    USABLE = "usable"
    POINT_SHIFTED = "the decimal point of CO2 is in the wrong place"
    NOT_SETTLED = "the analyser had not settled"
    DILUTED = "the sample was diluted with air"
    TOO_MUCH_CARBON = "more carbon than any petrol exhaust holds"


def carbon_sum(co: float, co2: float) -> float:
    """CO + CO2 in % vol: near 15 in undiluted exhaust."""
    return co + co2


def brettschneider_lambda(
    co: float,
    co2: float,
    hc_ppm: float,
    o2: float,
    hc_read_as: str = "hexane",
    h_per_c: float = H_PER_C,
    o_per_c: float = O_PER_C,
    no_ppm: float = 0.0,
) -> float | None:
    """Air ratio lambda (1 = exactly the air the fuel needs) of an exhaust sample; None without CO and CO2.

    `hc_read_as` names the gas that the analyser shows hydrocarbons as; `h_per_c` and `o_per_c` are hydrogen
    and oxygen atoms per carbon atom of the fuel. Worked out as

        water = h_per_c / 4 * 3.5 * co2 / (3.5 * co2 + co) - o_per_c / 2
        (co2 + co / 2 + o2 + no / 2 + water * (co2 + co))
            / ((1 + h_per_c / 4 - o_per_c / 2) * (co2 + co + carbon_atoms * hc))

    with every gas in % vol. The published `3.5 / (3.5 + co / co2)` is multiplied out, so that a sample
    without CO2 does not divide by zero; where CO + CO2 is zero or less there is no exhaust in the sample, and
    the result is None (in the sheet: empty). Raises ValueError for another `hc_read_as`.
    """
    if hc_read_as not in CARBON_ATOMS:
        raise ValueError(f"hydrocarbons are read as {', '.join(CARBON_ATOMS)}, not as {hc_read_as!r}")
    oxides = carbon_sum(co, co2)
    if oxides <= 0:
        return None
    water = h_per_c / 4 * WATER_GAS_CONSTANT * co2 / (WATER_GAS_CONSTANT * co2 + co) - o_per_c / 2
    oxygen_found = co2 + co / 2 + o2 + no_ppm / PPM_PER_PERCENT / 2 + water * oxides
    carbon = oxides + CARBON_ATOMS[hc_read_as] * hc_ppm / PPM_PER_PERCENT
    oxygen_needed = (1 + h_per_c / 4 - o_per_c / 2) * carbon
    return oxygen_found / oxygen_needed


def corrected_co(co: float, co2: float) -> float:
    """CO in % vol as it would be without air in the sample: scaled to CO + CO2 = 15 % where they are less.

    A sample without carbon is returned as it is. Source: the idle test of ISO 3930 (formula from memory).
    """
    total = carbon_sum(co, co2)
    if 0 < total < CORRECTED_CARBON_SUM:
        return co * CORRECTED_CARBON_SUM / total
    return co


def gas_balance(co: float, co2: float, o2: float) -> float:
    """Carbon oxides and oxygen as shares of all they can be: near 1 for exhaust rich, lean or diluted.

    Burned carbon and unused air make up for one another: diluting with air lowers the first as far as it
    raises the second.
    """
    return carbon_sum(co, co2) / STOICHIOMETRIC_CARBON_SUM + o2 / OXYGEN_IN_AIR


def doubted_co2(co: float, co2: float, o2: float) -> float | None:
    """The CO2 in % vol that was probably meant, its point one place to the right, or None without such doubt.

    Doubted is a sample whose balance is too small for any exhaust, and would be right with ten times the CO2
    (1.53 typed for 15.3). The other way cannot be: a tenth of the CO2 makes the balance smaller still.
    """
    if gas_balance(co, co2, o2) >= LEAST_BALANCE:
        return None
    suggested = co2 * 10
    if LEAST_BALANCE <= gas_balance(co, suggested, o2) <= MOST_SHIFTED_BALANCE:
        return suggested
    return None


def judge_sample(co: float, co2: float, o2: float) -> Sample:
    """Whether the sample may be used for a mixture finding, by its carbon sum and its balance."""
    if doubted_co2(co, co2, o2) is not None:
        return Sample.POINT_SHIFTED
    if gas_balance(co, co2, o2) < LEAST_BALANCE:
        return Sample.NOT_SETTLED
    if carbon_sum(co, co2) > MOST_CARBON_SUM:
        return Sample.TOO_MUCH_CARBON
    if carbon_sum(co, co2) < LEAST_CARBON_SUM:
        return Sample.DILUTED
    return Sample.USABLE
