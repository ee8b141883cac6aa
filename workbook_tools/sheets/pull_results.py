"""What a timed pull gives: mean accelerating power of both days, brought to the same air, and whether it
changed.

The equations of `science/road_power.py`, which gives their sources. Drag and rolling resistance are not
measured and not in the power; humidity is not asked for, so that station pressure stands for the dry
pressure of SAE J1349; and the factor, made for full engine power, is applied to the accelerating power.
"""

from __future__ import annotations

from typing import Literal

from workbook_tools.language.expressions import (
    BLANK,
    NO,
    Pick,
    all_known,
    column,
    constant,
    joined,
    number,
    table,
    word,
    yes_or_no,
)
from workbook_tools.language.measures import NONE, PERCENT, POWER, RATIO, SECONDS
from workbook_tools.language.model import Result
from workbook_tools.science import road_power

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


mass, start, end = number("pull_mass"), number("pull_from_speed"), number("pull_to_speed")
speeds_rise = (mass > 0) & (start >= 0) & (end > start)
gain, scatter = number("pull_gain_percent"), number("pull_scatter_percent")


def seconds(day: Day) -> column:
    """The runs of a day."""
    return column(f"pull_seconds_{day}")


# --- one day -------------------------------------------------------------------------------------------


def run_results(day: Day) -> Result:
    """Square of a run's difference from its day's mean, as a share of the mean."""
    share = number(f"pull_seconds_{day}") / number(f"pull_mean_{day}") - 1
    return Result(f"pull_square_{day}", f"Scatter {day}", share**2, NONE, per=PULL_RUNS, working=True)


def day_results(day: Day) -> tuple[Result, ...]:
    """Mean, air factor and mean accelerating power of one day, brought to the reference air."""
    pressure, temperature = number(f"pull_barometer_{day}"), number(f"pull_temperature_{day}")
    kelvin = temperature * constant("kelvin_per_degree") + constant("kelvin_at_zero")
    efficiency = constant("mechanical_efficiency")
    air = constant("reference_pressure") / (pressure * constant("kpa_per_pressure"))
    air *= (kelvin / constant("reference_temperature")).sqrt()
    runs, mean, factor = seconds(day), number(f"pull_mean_{day}"), number(f"pull_factor_{day}")
    power = constant("pull_power") * mass * (end**2 - start**2) / mean * factor
    return (
        Result(
            f"pull_mean_{day}",
            f"Mean time, {day}",
            (runs.sum() / runs.count()).where(runs.min() > 0),
            SECONDS,
        ),
        Result(
            f"pull_factor_{day}",
            f"Air factor, {day}",
            ((air - (1 - efficiency)) / efficiency).where((pressure > 0) & (kelvin > 0)),
            RATIO,
            help="SAE J1349, station pressure taken as dry",
        ),
        Result(
            f"pull_power_{day}",
            f"Power, {day}",
            power.where(speeds_rise),
            POWER,
            help="mean net accelerating power, in the reference air",
        ),
    )


# --- both days -----------------------------------------------------------------------------------------

before, after = number("pull_power_before"), number("pull_power_after")
runs_before, runs_after = seconds("before"), seconds("after")
freedom = runs_before.count() + runs_after.count() - 2
student = Pick(freedom, tuple(road_power.T_95_PERCENT.values()))
squares = column("pull_square_before").sum() + column("pull_square_after").sum()
spread = (squares / freedom * (1 / runs_before.count() + 1 / runs_after.count())).sqrt()


def in_range(day: Day) -> object:
    """Whether a day's factor lies in the range that its standard states."""
    factor = number(f"pull_factor_{day}")
    return (factor >= constant("least_factor")) & (factor <= constant("most_factor"))


RUNS = tuple(run_results(day) for day in DAYS)

PULL = (
    *day_results("before"),
    *day_results("after"),
    Result("pull_gain_percent", "Gain", (100 * (after / before - 1)).round(6).where(before > 0), PERCENT),
    Result(
        "pull_scatter_percent",
        "Scatter of the runs",
        (100 * student * spread * (1 + gain / 100)).round(6).where(freedom > 0),
        PERCENT,
        help="half the 95 % interval (JCGM 100); a smaller gain shows nothing",
    ),
    Result(
        "pull_factor_in_range",
        "Factors in their range",
        table(
            (~all_known(number("pull_factor_before"), number("pull_factor_after")), BLANK),
            otherwise=yes_or_no(in_range("before") & in_range("after")),
        ),
        help="0.93 to 1.07",
    ),
    Result(
        "pull_says",
        "The pulls show",
        table(
            (runs_before.missing & runs_after.missing, BLANK),
            (~all_known(number("pull_mean_before"), number("pull_mean_after")), NO_RUNS),
            (~speeds_rise, NO_SPEEDS),
            (gain.missing, NO_AIR),
            otherwise=joined(
                table(
                    (scatter.missing, ONE_RUN),
                    (abs(gain) <= scatter, WITHIN),
                    (gain > 0, GAIN),
                    otherwise=LOSS,
                ),
                table((word("pull_factor_in_range") == NO, FAR_AIR)),
            ),
        ),
        wide=True,
    ),
)
