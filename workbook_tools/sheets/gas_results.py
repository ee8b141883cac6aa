"""What four exhaust gases give at idle (point 1) and at the raised speed (point 2): carbon, balance,
lambda, mixture.

The equations of `science/exhaust_gas.py`, which gives their sources; a sample that can't be believed gives no
mixture.
"""

from __future__ import annotations

from dataclasses import dataclass

from workbook_tools.language.expressions import (
    BLANK,
    OWN_NUMBER,
    YES,
    Choose,
    Cond,
    Num,
    all_known,
    any_known,
    constant,
    number,
    smallest,
    table,
    word,
    yes_if,
    yes_or_no,
)
from workbook_tools.language.measures import ATOMS, NONE, RATIO, VOLUME_SHARE
from workbook_tools.language.model import Limits, Result
from workbook_tools.science.exhaust_gas import CARBON_ATOMS, Sample

GAS_POINTS = 2
RAISED = 2
GASES = ("gas_co", "gas_co2", "gas_hc", "gas_o2")
USABLE = Sample.USABLE.value
INCOMPLETE = "read all four gases"
LEAN, RICH, IN_ORDER, MISFIRE = "lean", "rich", "in order", "in order, but a cylinder misfires"


# --- the analyser and the fuel -------------------------------------------------------------------------


read_as = word("gas_hc_read_as")


def fuel_constant(field: str, standard: str) -> Result:
    """Atoms to one carbon atom of the fuel: as given, else gasoline's."""
    given = number(field)
    used = table((given.known, given), otherwise=constant(standard))
    return Result(f"{field}_used", f"{field[5].upper()}/C used", used, ATOMS, working=True)


FUEL_CONSTANTS = (
    Result(
        "carbon_atoms",
        "Carbon atoms of the gas read",
        table(
            *((read_as == gas, atoms) for gas, atoms in CARBON_ATOMS.items()),
            (read_as.missing, CARBON_ATOMS["hexane"]),
        ),
        help="hexane where nothing is chosen",
        working=True,
    ),
    fuel_constant("fuel_h_per_c", "h_per_c"),
    fuel_constant("fuel_o_per_c", "o_per_c"),
)


# --- a sample ------------------------------------------------------------------------------------------

co, co2, hc, o2 = (number(gas) for gas in GASES)
atoms, h, o = number("carbon_atoms"), number("fuel_h_per_c_used"), number("fuel_o_per_c_used")
carbon, balance, shifted = number("carbon_sum"), number("lambda_balance"), number("shifted_balance")
sample, ratio, misfire = word("sample_ok"), number("lambda"), word("gas_misfire")

needed = 1 + h / 4 - o / 2


@dataclass(frozen=True, eq=False)
class GasSample:
    """What one sample of four gases gives."""

    co: Num
    co2: Num
    hc: Num
    o2: Num

    @property
    def carbon(self) -> Num:
        """CO + CO2."""
        return (self.co + self.co2).round(6)

    def _balance_with(self, carbon_dioxide: Num) -> Num:
        shares = (self.co + carbon_dioxide) / constant("whole_carbon") + self.o2 / constant("air_oxygen")
        return shares.round(6)

    @property
    def balance(self) -> Num:
        """Carbon oxides and oxygen as shares of all they can be: near 1 for any exhaust."""
        return self._balance_with(self.co2)

    @property
    def shifted(self) -> Num:
        """The balance that ten times the CO2 would give."""
        return self._balance_with(10 * self.co2)

    @property
    def air_ratio(self) -> Num:
        """Lambda by Brettschneider; blank where a gas is missing or negative, or the fuel can't be burned."""
        co, co2, hc, o2 = self.co, self.co2, self.hc, self.o2
        # Oxygen bound in the water of the exhaust, for each carbon atom.
        water = h / 4 * constant("water_gas") * co2 / (constant("water_gas") * co2 + co) - o / 2
        fuel = co + co2 + atoms * hc / constant("ppm_per_percent")
        can_be_burned = (smallest(co, co2, hc) >= 0) & (co + co2 > 0) & (needed > 0)
        return ((co2 + co / 2 + o2 + water * (co + co2)) / (needed * fuel)).where(can_be_burned)

    def verdict(self, carbon: Num, balance: Num, shifted: Num) -> Choose:
        """Whether a mixture finding may rest on the sample, and if not, why; carbon and balances are taken from cells."""
        gases = (self.co, self.co2, self.hc, self.o2)
        low = balance < constant("least_balance")
        believed = (shifted >= constant("least_balance")) & (shifted <= constant("most_shifted_balance"))
        return table(
            (~any_known(*gases), BLANK),
            (~all_known(*gases), INCOMPLETE),
            (low & believed, Sample.POINT_SHIFTED.value),
            (low, Sample.NOT_SETTLED.value),
            (carbon > constant("most_carbon"), Sample.TOO_MUCH_CARBON.value),
            (carbon < constant("least_carbon"), Sample.DILUTED.value),
            otherwise=USABLE,
        )

    @property
    def unfired(self) -> Cond:
        """Unburned fuel and air both pass: much HC, counted as hexane, and much O2."""
        as_hexane = self.hc * atoms / CARBON_ATOMS["hexane"]
        return (as_hexane > constant("misfire_hc")) & (self.o2 > constant("misfire_o2"))

    @property
    def air_in_exhaust(self) -> Cond:
        """CO and O2 do not leave a cylinder together: air came to it in the exhaust, or charges did not fire."""
        return (self.co > constant("air_co")) & (self.o2 > constant("air_o2"))


def gas_sample(co: Num, co2: Num, hc: Num, o2: Num) -> GasSample:
    """A sample of four gases, each a cell."""
    return GasSample(co, co2, hc, o2)


own = gas_sample(co, co2, hc, o2)


def lambda_limit(name: str) -> object:
    """A limit of lambda at the raised speed, where the sample can be believed; none at idle."""
    return table(((OWN_NUMBER == RAISED) & (sample == USABLE), constant(name)))


def per_point(name: str, label: str, expression: object, measure: object = NONE, **more: object) -> Result:
    """A result at idle and at the raised speed."""
    return Result(name, label, expression, measure, per=GAS_POINTS, **more)  # type: ignore[arg-type]


GAS = (
    per_point("carbon_sum", "CO + CO2", own.carbon, VOLUME_SHARE),
    per_point("lambda_balance", "Gas balance", own.balance, RATIO, help="near 1 in any exhaust"),
    per_point(
        "sample_ok",
        "Sample",
        own.verdict(carbon, balance, shifted),
        help="whether a mixture finding may rest on it, and if not, why",
        wide=True,
    ),
    per_point(
        "lambda",
        "Lambda",
        own.air_ratio,
        RATIO,
        help="Brettschneider",
        limits=Limits("lambda_low_#", "lambda_high_#"),
    ),
    per_point(
        "mixture_says",
        "Mixture",
        table(
            (ratio.missing | (sample != USABLE), BLANK),
            (ratio > constant("lambda_lean"), LEAN),
            (ratio < constant("lambda_rich"), RICH),
            (misfire == YES, MISFIRE),
            otherwise=IN_ORDER,
        ),
        wide=True,
    ),
    per_point("shifted_balance", "Balance with ten times the CO2", own.shifted, RATIO, working=True),
    per_point("lambda_low", "Rich below", lambda_limit("lambda_rich"), RATIO, working=True),
    per_point("lambda_high", "Lean above", lambda_limit("lambda_lean"), RATIO, working=True),
    per_point(
        "gas_misfire",
        "Unburned fuel and air",
        table(
            (~all_known(hc, o2, atoms), BLANK),
            otherwise=yes_or_no(own.unfired),
        ),
        help="much HC, counted as hexane, and much O2",
        working=True,
    ),
    per_point(
        "looks_lean",
        "Only looks lean",
        yes_if(own.unfired | own.air_in_exhaust),
        help="unfired charges, or air in the exhaust",
        working=True,
    ),
)
