"""What a timed pull gives: mean accelerating power of both days, brought to the same air, and whether it
changed.

The same equations as `road_power.py`, which gives their sources. Drag and rolling resistance are not
measured and not in the power; humidity is not asked for, so that station pressure stands for the dry
pressure of SAE J1349; and the factor, made for full engine power, is applied to the accelerating power.
"""

from __future__ import annotations

from typing import Literal

from workbook_tools.language.measures import NONE, PERCENT, POWER, RATIO, SECONDS
from workbook_tools.language.model import Result, Value
from workbook_tools.language.values import Values
from workbook_tools.science import road_power
from workbook_tools.science.sheet_math import sheet_round

PULL_RUNS = 3
Day = Literal["before", "after"]
DAYS: tuple[Day, ...] = ("before", "after")

NO_SPEEDS = "fill in mass and both speeds"
NO_RUNS = "time the runs of both days"
NO_AIR = "fill in barometer and temperature of both days"
ONE_RUN = "one run each: scatter not known"
WITHIN = "within the scatter: no change shown"
GAIN, LOSS = "a gain beyond the scatter", "a loss beyond the scatter"
FAR_AIR = "; the air is outside the factor's range"


# --- one day -------------------------------------------------------------------------------------------


def mean_seconds(v: Values, day: Day) -> float | None:
    """Mean time of a day's runs; None without runs, or where a time is not above zero."""
    runs = v.column(f"pull_seconds_{day}")
    return sum(runs) / len(runs) if runs and min(runs) > 0 else None


def speeds(v: Values) -> tuple[float, float] | None:
    """From and to speed, None where missing or not rising."""
    start, end = v.number("pull_from_speed"), v.number("pull_to_speed")
    return (start, end) if start is not None and end is not None and 0 <= start < end else None


def air_factor(v: Values, day: Day) -> float | None:
    """J1349 factor of a day's air."""
    pressure, temperature = v.number(f"pull_barometer_{day}"), v.number(f"pull_temperature_{day}")
    if pressure is None or temperature is None or pressure <= 0:
        return None
    kelvin = temperature * v.constant("kelvin_per_degree") + v.constant("kelvin_at_zero")
    if kelvin <= 0:
        return None
    kpa = pressure * v.constant("kpa_per_pressure")
    return road_power.j1349_factor(kpa, kelvin - road_power.ZERO_CELSIUS_K)


def corrected_power(v: Values, day: Day) -> float | None:
    """A day's mean accelerating power in hp or kW, brought to the reference air."""
    mass, speed = v.number("pull_mass"), speeds(v)
    seconds, factor = v.number(f"pull_mean_{day}"), v.number(f"pull_factor_{day}")
    if mass is None or speed is None or seconds is None or factor is None or mass <= 0:
        return None
    power = road_power.accelerating_power_hp if v.shape.units == "us" else road_power.accelerating_power_kw
    return power(mass, *speed, seconds) * factor


def run_square(v: Values, n: int | None, day: Day) -> float | None:
    """Square of a run's difference from its day's mean, as a share of the mean."""
    seconds, mean = v.number(f"pull_seconds_{day}", n), v.number(f"pull_mean_{day}")
    return None if seconds is None or mean is None else (seconds / mean - 1) ** 2


def run_results(day: Day) -> Result:
    """Helper column of one day's runs."""
    return Result(
        f"pull_square_{day}",
        f"Scatter {day}",
        f'=IF(COUNT(pull_seconds_{day}_#,pull_mean_{day})<2,"",(pull_seconds_{day}_#/pull_mean_{day}-1)^2)',
        lambda v, n: run_square(v, n, day),
        NONE,
        per=PULL_RUNS,
        working=True,
    )


def day_results(day: Day) -> tuple[Result, ...]:
    """Mean, factor and power of one day."""
    runs = f"all_pull_seconds_{day}"
    air = (
        f"((({{reference_pressure}}/(pull_barometer_{day}*{{kpa_per_pressure}}))"
        f"*SQRT((pull_temperature_{day}*{{kelvin_per_degree}}+{{kelvin_at_zero}})/{{reference_temperature}})"
        "-(1-{mechanical_efficiency}))/{mechanical_efficiency})"
    )
    return (
        Result(
            f"pull_mean_{day}",
            f"Mean time, {day}",
            f'=IF(COUNT({runs})=0,"",IF(MIN({runs})<=0,"",SUM({runs})/COUNT({runs})))',
            lambda v, _: mean_seconds(v, day),
            SECONDS,
        ),
        Result(
            f"pull_factor_{day}",
            f"Air factor, {day}",
            f'=IF(COUNT(pull_barometer_{day},pull_temperature_{day})<2,"",IF(OR(pull_barometer_{day}<=0,'
            f'pull_temperature_{day}*{{kelvin_per_degree}}+{{kelvin_at_zero}}<=0),"",{air}))',
            lambda v, _: air_factor(v, day),
            RATIO,
            help="SAE J1349, station pressure taken as dry",
        ),
        Result(
            f"pull_power_{day}",
            f"Power, {day}",
            f'=IF(COUNT(pull_mass,pull_from_speed,pull_to_speed,pull_mean_{day},pull_factor_{day})<5,"",'
            'IF(OR(pull_mass<=0,pull_from_speed<0,pull_to_speed<=pull_from_speed),"",'
            f"{{pull_power}}*pull_mass*(pull_to_speed^2-pull_from_speed^2)/pull_mean_{day}*pull_factor_{day}))",
            lambda v, _: corrected_power(v, day),
            POWER,
            help="mean net accelerating power, in the reference air",
        ),
    )


# --- both days -----------------------------------------------------------------------------------------


def gain_percent(v: Values, _: int | None) -> Value:
    """Gain of power in the same air."""
    before, after = v.number("pull_power_before"), v.number("pull_power_after")
    if before is None or after is None or before <= 0:
        return None
    return sheet_round(road_power.gain_percent(before, 1.0, after, 1.0), 6)


def scatter_percent(v: Values, _: int | None) -> Value:
    """Half the 95 % interval of the gain from how far the runs differ; blank for single runs."""
    gain = v.number("pull_gain_percent")
    if gain is None:
        return None
    before, after = v.column("pull_seconds_before"), v.column("pull_seconds_after")
    found = road_power.gain_uncertainty_percent(before, after, gain)
    return None if found is None else sheet_round(found, 6)


def factors_in_range(v: Values, _: int | None) -> Value:
    """Whether both factors lie in the range that their standard states."""
    factors = [v.number(f"pull_factor_{day}") for day in DAYS]
    known = [factor for factor in factors if factor is not None]
    if len(known) < len(DAYS):
        return None
    return "yes" if all(road_power.factor_in_range(factor) for factor in known) else "no"


def pull_says(v: Values, _: int | None) -> Value:
    """What the pulls show, or what is missing to tell."""
    gain, scatter = v.number("pull_gain_percent"), v.number("pull_scatter_percent")
    if not v.column("pull_seconds_before") and not v.column("pull_seconds_after"):
        return None
    if v.number("pull_mean_before") is None or v.number("pull_mean_after") is None:
        return NO_RUNS
    mass = v.number("pull_mass")
    if mass is None or mass <= 0 or speeds(v) is None:
        return NO_SPEEDS
    if gain is None:
        return NO_AIR
    if scatter is None:
        word = ONE_RUN
    elif road_power.within_scatter(gain, scatter):
        word = WITHIN
    else:
        word = GAIN if gain > 0 else LOSS
    return word + (FAR_AIR if v.text("pull_factor_in_range") == "no" else "")


_RUNS = "COUNT(all_pull_seconds_before)+COUNT(all_pull_seconds_after)"
_T = ",".join(f"{t:g}" for t in road_power.T_95_PERCENT.values())
_BETWEEN = "AND(pull_factor_{day}>={{least_factor}},pull_factor_{day}<={{most_factor}})"

RUNS = tuple(run_results(day) for day in DAYS)

PULL = (
    *day_results("before"),
    *day_results("after"),
    Result(
        "pull_gain_percent",
        "Gain",
        '=IF(COUNT(pull_power_before,pull_power_after)<2,"",IF(pull_power_before<=0,"",'
        "ROUND(100*(pull_power_after/pull_power_before-1),6)))",
        gain_percent,
        PERCENT,
    ),
    Result(
        "pull_scatter_percent",
        "Scatter of the runs",
        f'=IF(OR(COUNT(pull_gain_percent)=0,{_RUNS}<3),"",'
        f"ROUND(100*CHOOSE({_RUNS}-2,{_T})*SQRT((SUM(all_pull_square_before)+SUM(all_pull_square_after))/({_RUNS}-2)"
        "*(1/COUNT(all_pull_seconds_before)+1/COUNT(all_pull_seconds_after)))*(1+pull_gain_percent/100),6))",
        scatter_percent,
        PERCENT,
        help="half the 95 % interval (JCGM 100); a smaller gain shows nothing",
    ),
    Result(
        "pull_factor_in_range",
        "Factors in their range",
        f'=IF(COUNT(pull_factor_before,pull_factor_after)<2,"",IF(AND({_BETWEEN.format(day="before")},'
        f'{_BETWEEN.format(day="after")}),"yes","no"))',
        factors_in_range,
        help="0.93 to 1.07",
    ),
    Result(
        "pull_says",
        "The pulls show",
        f'=IF({_RUNS}=0,"",IF(COUNT(pull_mean_before,pull_mean_after)<2,"{NO_RUNS}",'
        "IF(IF(COUNT(pull_mass,pull_from_speed,pull_to_speed)<3,TRUE,"
        f'OR(pull_mass<=0,pull_from_speed<0,pull_to_speed<=pull_from_speed)),"{NO_SPEEDS}",'
        f'IF(COUNT(pull_gain_percent)=0,"{NO_AIR}",IF(COUNT(pull_scatter_percent)=0,"{ONE_RUN}",'
        f'IF(ABS(pull_gain_percent)<=pull_scatter_percent,"{WITHIN}",IF(pull_gain_percent>0,"{GAIN}","{LOSS}")))'
        f'&IF(pull_factor_in_range="no","{FAR_AIR}","")))))',
        pull_says,
        wide=True,
    ),
)
