"""What four exhaust gases give at idle (point 1) and at the raised speed (point 2): carbon, balance,
lambda, mixture.

The same equations as `exhaust_gas.py`, which gives their sources; a sample that can't be believed gives no
mixture.
"""

from __future__ import annotations

from workbook_tools.language.measures import ATOMS, NONE, RATIO, VOLUME_SHARE
from workbook_tools.language.model import Limits, Result, Shape, Value
from workbook_tools.language.values import Values
from workbook_tools.science import exhaust_gas
from workbook_tools.science.exhaust_gas import CARBON_ATOMS, Sample
from workbook_tools.science.sheet_math import sheet_round

GAS_POINTS = 2
RAISED = 2
GASES = ("gas_co", "gas_co2", "gas_hc", "gas_o2")
USABLE = Sample.USABLE.value
INCOMPLETE = "read all four gases"
LEAN, RICH, IN_ORDER, MISFIRE = "lean", "rich", "in order", "in order, but a cylinder misfires"


# --- the analyser and the fuel -------------------------------------------------------------------------


def carbon_atoms(v: Values, _: int | None) -> Value:
    """Carbon atoms of the gas that hydrocarbons are read as; hexane where nothing is chosen."""
    atoms = CARBON_ATOMS.get(v.text("gas_hc_read_as") or "hexane")
    return None if atoms is None else float(atoms)


def fuel_constant(field: str, standard: str) -> Result:
    """Atoms to one carbon atom of the fuel: as given, else gasoline's."""

    def compute(v: Values, _: int | None) -> Value:
        given = v.number(field)
        return given if given is not None else v.constant(standard)

    return Result(
        f"{field}_used",
        f"{field[5].upper()}/C used",
        f"=IF(COUNT({field})=1,{field},{{{standard}}})",
        compute,
        ATOMS,
        working=True,
    )


FUEL_CONSTANTS = (
    Result(
        "carbon_atoms",
        "Carbon atoms of the gas read",
        f'=IF(gas_hc_read_as="propane",{CARBON_ATOMS["propane"]},IF(gas_hc_read_as="methane",{CARBON_ATOMS["methane"]},'
        f'IF(OR(gas_hc_read_as="hexane",gas_hc_read_as=""),{CARBON_ATOMS["hexane"]},"")))',
        carbon_atoms,
        working=True,
    ),
    fuel_constant("fuel_h_per_c", "h_per_c"),
    fuel_constant("fuel_o_per_c", "o_per_c"),
)


# --- a sample ------------------------------------------------------------------------------------------


def taken(v: Values, n: int | None) -> list[float]:
    """The gases that were read at one point."""
    return [x for x in (v.number(gas, n) for gas in GASES) if x is not None]


def carbon_sum(v: Values, n: int | None) -> Value:
    """CO + CO2."""
    co, co2 = v.number("gas_co", n), v.number("gas_co2", n)
    return None if co is None or co2 is None else sheet_round(exhaust_gas.carbon_sum(co, co2), 6)


def lambda_balance(v: Values, n: int | None) -> Value:
    """Carbon oxides and oxygen as shares of all they can be: near 1 for any exhaust."""
    co, co2, o2 = v.number("gas_co", n), v.number("gas_co2", n), v.number("gas_o2", n)
    return (
        None
        if co is None or co2 is None or o2 is None
        else sheet_round(exhaust_gas.gas_balance(co, co2, o2), 6)
    )


def shifted_balance(v: Values, n: int | None) -> Value:
    """The balance that ten times the CO2 would give."""
    co, co2, o2 = v.number("gas_co", n), v.number("gas_co2", n), v.number("gas_o2", n)
    return (
        None
        if co is None or co2 is None or o2 is None
        else sheet_round(exhaust_gas.gas_balance(co, 10 * co2, o2), 6)
    )


def sample_ok(v: Values, n: int | None) -> Value:
    """Whether a mixture finding may rest on the sample, and if not, why."""
    read = len(taken(v, n))
    balance, shifted, carbon = (
        v.number("lambda_balance", n),
        v.number("shifted_balance", n),
        v.number("carbon_sum", n),
    )
    if not read:
        return None
    if read < len(GASES) or balance is None or shifted is None or carbon is None:
        return INCOMPLETE
    if balance < v.constant("least_balance"):
        believed = v.constant("least_balance") <= shifted <= v.constant("most_shifted_balance")
        return (Sample.POINT_SHIFTED if believed else Sample.NOT_SETTLED).value
    if carbon > v.constant("most_carbon"):
        return Sample.TOO_MUCH_CARBON.value
    return Sample.DILUTED.value if carbon < v.constant("least_carbon") else USABLE


def air_ratio(v: Values, n: int | None) -> Value:
    """Lambda by Brettschneider; blank where a gas is missing or negative, or the fuel can't be burned."""
    co, co2, hc, o2 = (v.number(gas, n) for gas in GASES)
    atoms, h, o = v.number("carbon_atoms"), v.number("fuel_h_per_c_used"), v.number("fuel_o_per_c_used")
    if co is None or co2 is None or hc is None or o2 is None or atoms is None or h is None or o is None:
        return None
    if min(co, co2, hc) < 0 or 1 + h / 4 - o / 2 <= 0:
        return None
    read_as = v.text("gas_hc_read_as") or "hexane"
    return exhaust_gas.brettschneider_lambda(co, co2, hc, o2, read_as, h, o)


def lambda_limit(constant: str):  # noqa: ANN201 - a compute function, see Result.compute
    """A limit of lambda at the raised speed, where the sample can be believed."""

    def compute(v: Values, n: int | None) -> Value:
        return v.constant(constant) if n == RAISED and v.text("sample_ok", n) == USABLE else None

    return compute


def lambda_limit_formula(constant: str):  # noqa: ANN201 - a formula maker, see Result.formula
    """The same as a formula; an empty text at idle, where lambda has no limits."""

    def formula(_: Shape, n: int | None) -> str:
        return f'=IF(sample_ok_#="{USABLE}",{{{constant}}},"")' if n == RAISED else '=""'

    return formula


def misfires(v: Values, n: int | None) -> Value:
    """'yes' where unburned fuel and air both pass: much HC (counted as hexane) and much O2."""
    hc, o2, atoms = v.number("gas_hc", n), v.number("gas_o2", n), v.number("carbon_atoms")
    if hc is None or o2 is None or atoms is None:
        return None
    as_hexane = sheet_round(hc * atoms / CARBON_ATOMS["hexane"], 6)
    return "yes" if as_hexane > v.constant("misfire_hc") and o2 > v.constant("misfire_o2") else "no"


def mixture_says(v: Values, n: int | None) -> Value:
    """lean, rich or in order where the sample can be believed; a misfire told from mixture."""
    ratio = v.number("lambda", n)
    if ratio is None or v.text("sample_ok", n) != USABLE:
        return None
    if sheet_round(ratio, 6) > v.constant("lambda_lean"):
        return LEAN
    if sheet_round(ratio, 6) < v.constant("lambda_rich"):
        return RICH
    return MISFIRE if v.text("gas_misfire", n) == "yes" else IN_ORDER


def per_point(name: str, label: str, formula, compute, measure=NONE, **more) -> Result:  # noqa: ANN001, ANN003
    """A result at idle and at the raised speed."""
    return Result(name, label, formula, compute, measure, per=GAS_POINTS, **more)


def balance_formula(co2: str) -> str:
    """The gas balance as a formula, with the CO2 as read or shifted."""
    balance = f"(gas_co_#+{co2})/{{whole_carbon}}+gas_o2_#/{{air_oxygen}}"
    return f'=IF(COUNT(gas_co_#,gas_co2_#,gas_o2_#)<3,"",ROUND({balance},6))'


_FOUR = ",".join(f"{gas}_#" for gas in GASES)
_WATER = "(fuel_h_per_c_used/4*{water_gas}*gas_co2_#/({water_gas}*gas_co2_#+gas_co_#)-fuel_o_per_c_used/2)"
_NEEDED = "(1+fuel_h_per_c_used/4-fuel_o_per_c_used/2)"

GAS = (
    per_point(
        "carbon_sum",
        "CO + CO2",
        '=IF(COUNT(gas_co_#,gas_co2_#)<2,"",ROUND(gas_co_#+gas_co2_#,6))',
        carbon_sum,
        VOLUME_SHARE,
    ),
    per_point(
        "lambda_balance",
        "Gas balance",
        balance_formula("gas_co2_#"),
        lambda_balance,
        RATIO,
        help="near 1 in any exhaust",
    ),
    per_point(
        "sample_ok",
        "Sample",
        f'=IF(COUNT({_FOUR})=0,"",IF(COUNT({_FOUR})<4,"{INCOMPLETE}",IF(lambda_balance_#<{{least_balance}},'
        "IF(AND(shifted_balance_#>={least_balance},shifted_balance_#<={most_shifted_balance}),"
        f'"{Sample.POINT_SHIFTED.value}","{Sample.NOT_SETTLED.value}"),IF(carbon_sum_#>{{most_carbon}},'
        f'"{Sample.TOO_MUCH_CARBON.value}",IF(carbon_sum_#<{{least_carbon}},"{Sample.DILUTED.value}","{USABLE}")))))',
        sample_ok,
        wide=True,
    ),
    per_point(
        "lambda",
        "Lambda",
        f'=IF(COUNT({_FOUR},carbon_atoms)<5,"",IF(OR(MIN(gas_co_#,gas_co2_#,gas_hc_#)<0,gas_co_#+gas_co2_#<=0,'
        f'{_NEEDED}<=0),"",(gas_co2_#+gas_co_#/2+gas_o2_#+{_WATER}*(gas_co_#+gas_co2_#))'
        f"/({_NEEDED}*(gas_co_#+gas_co2_#+carbon_atoms*gas_hc_#/{{ppm_per_percent}}))))",
        air_ratio,
        RATIO,
        limits=Limits("lambda_low_#", "lambda_high_#"),
    ),
    per_point(
        "mixture_says",
        "Mixture",
        f'=IF(OR(COUNT(lambda_#)=0,sample_ok_#<>"{USABLE}"),"",IF(ROUND(lambda_#,6)>{{lambda_lean}},"{LEAN}",'
        f'IF(ROUND(lambda_#,6)<{{lambda_rich}},"{RICH}",IF(gas_misfire_#="yes","{MISFIRE}","{IN_ORDER}"))))',
        mixture_says,
        wide=True,
    ),
    per_point(
        "shifted_balance",
        "Balance with ten times the CO2",
        balance_formula("10*gas_co2_#"),
        shifted_balance,
        RATIO,
        working=True,
    ),
    per_point(
        "lambda_low",
        "Rich below",
        lambda_limit_formula("lambda_rich"),
        lambda_limit("lambda_rich"),
        RATIO,
        working=True,
    ),
    per_point(
        "lambda_high",
        "Lean above",
        lambda_limit_formula("lambda_lean"),
        lambda_limit("lambda_lean"),
        RATIO,
        working=True,
    ),
    per_point(
        "gas_misfire",
        "Unburned fuel and air",
        '=IF(COUNT(gas_hc_#,gas_o2_#,carbon_atoms)<3,"",'
        f'IF(AND(ROUND(gas_hc_#*carbon_atoms/{CARBON_ATOMS["hexane"]},6)>{{misfire_hc}},gas_o2_#>{{misfire_o2}}),"yes","no"))',
        misfires,
        working=True,
    ),
)
