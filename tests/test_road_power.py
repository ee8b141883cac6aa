"""Power of a timed pull, its correction to standard air, and what the runs' scatter allows to be said."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import t as student_t
from scipy.stats import ttest_ind

from workbook_tools.science.road_power import (
    T_95_PERCENT,
    accelerating_power_hp,
    accelerating_power_kw,
    accelerating_power_w,
    factor_in_range,
    gain_percent,
    gain_uncertainty_percent,
    iso1585_factor,
    j607_factor,
    j1349_factor,
    within_scatter,
)
from workbook_tools.science.units import convert

# Station pressure hPa, temperature in degrees C, vapour pressure hPa; SAE J1349 (0.85), ISO 1585 and SAE J607
# factors, computed from the standards' formulas elsewhere.
FACTORS = [
    (990, 25, 0, 1.0000, 1.0000, 1.0401),
    (1013.25, 15, 0, 0.9536, 0.9528, 0.9990),
    (950, 35, 0, 1.0699, 1.0718, 1.1019),
    (1000, 30, 25.402, 1.0286, 1.0292, 1.0653),
    (843.0726, 25, 0, 1.2050, 1.2126, 1.2213),
]

# University of Nebraska Tractor Test No. 520 (1954), as quoted in the vignette of the R package `pwrcorr`:
# observed hp, degrees F, inHg, corrected hp as published, and how far the published rounding may be off.
TRACTOR_TESTS = [(48.38, 65, 28.868, 50.38, 0.005), (42.90, 76, 28.690, 45.43, 0.01)]

seconds = st.floats(2, 60)


@pytest.mark.parametrize(("pressure", "temperature", "vapour", "j1349", "iso1585", "j607"), FACTORS)
def test_factors_are_those_of_the_standards(
    pressure: float, temperature: float, vapour: float, j1349: float, iso1585: float, j607: float
) -> None:
    """Each standard's factor at its reference air and away from it."""
    dry_kpa = (pressure - vapour) / 10
    assert j1349_factor(dry_kpa, temperature) == pytest.approx(j1349, abs=6e-5)
    assert iso1585_factor(dry_kpa, temperature) == pytest.approx(iso1585, abs=6e-5)
    inhg, fahrenheit = convert(dry_kpa, "kPa", "inHg"), convert(temperature, "°C", "°F")
    assert j607_factor(inhg, fahrenheit) == pytest.approx(j607, abs=2e-4)


@pytest.mark.parametrize(("pressure", "temperature", "vapour", "j1349", "iso1585", "j607"), FACTORS)
def test_the_factor_is_near_that_of_the_older_form(
    pressure: float, temperature: float, vapour: float, j1349: float, iso1585: float, j607: float
) -> None:
    """SAE J1349 as of June 1990, 1.180 and 0.18 with 990 hPa and 298 K, differs by less than a thousandth."""
    older = 1.180 * (990 / (pressure - vapour)) * ((temperature + 273) / 298) ** 0.5 - 0.18
    assert j1349_factor((pressure - vapour) / 10, temperature) == pytest.approx(older, abs=1e-3)


@pytest.mark.parametrize(("observed", "fahrenheit", "inhg", "published", "rounding"), TRACTOR_TESTS)
def test_published_tractor_tests_are_reproduced(
    observed: float, fahrenheit: float, inhg: float, published: float, rounding: float
) -> None:
    """The older factor turns the observed into the published corrected power of two public tests."""
    assert observed * j607_factor(inhg, fahrenheit) == pytest.approx(published, abs=rounding)


def test_a_factor_outside_its_range_is_told() -> None:
    """A factor beyond 0.93 to 1.07 (ISO 1585, limits from memory) extrapolates; the ends are inside."""
    assert factor_in_range(j1349_factor(99, 25))
    assert factor_in_range(0.93) and factor_in_range(1.07)
    assert not factor_in_range(j1349_factor(84.30726, 25))
    assert not factor_in_range(0.92)


def test_air_that_cannot_be_is_refused() -> None:
    """A vacuum, or air below absolute zero, has no factor."""
    cases = ((j1349_factor, 0, 20), (j607_factor, 29.9, -500), (iso1585_factor, -1, 20))
    for factor, pressure, temperature in cases:
        with pytest.raises(ValueError, match="must be above zero"):
            factor(pressure, temperature)


def test_power_is_kinetic_energy_over_time() -> None:
    """1000 kg from rest to 10 m/s in 5 s took 50 kJ in 5 s: 10 kW (mechanics)."""
    assert accelerating_power_w(1000, 0, 10, 5) == pytest.approx(10000)
    assert accelerating_power_kw(1000, 0, 36, 5) == pytest.approx(10)


@given(mass=st.floats(500, 80000), low=st.floats(5, 60), rise=st.floats(5, 60), time=seconds)
def test_power_is_the_same_in_every_unit(mass: float, low: float, rise: float, time: float) -> None:
    """Pounds and miles an hour give the horsepower of the same pull in kilograms and kilometres an hour."""
    hp = accelerating_power_hp(mass, low, low + rise, time)
    mass_kg = convert(mass, "lb", "kg")
    kmh = [convert(speed, "mph", "km/h") for speed in (low, low + rise)]
    kw = accelerating_power_kw(mass_kg, *kmh, time)
    watts = accelerating_power_w(mass_kg, *(convert(speed, "km/h", "m/s") for speed in kmh), time)
    assert convert(kw, "kW", "hp") == pytest.approx(hp, rel=1e-9)
    assert watts == pytest.approx(1000 * kw, rel=1e-9)


@pytest.mark.parametrize(
    ("low", "high", "time"), [(30, 30, 5), (50, 30, 5), (-1, 30, 5), (30, 50, 0), (30, 50, -2)]
)
def test_a_pull_that_cannot_be_is_refused(low: float, high: float, time: float) -> None:
    """A pull without time or without a rise of speed has no power."""
    for power in (accelerating_power_w, accelerating_power_hp, accelerating_power_kw):
        with pytest.raises(ValueError, match="a pull"):
            power(3000, low, high, time)


def test_gain_compares_days_in_the_same_air() -> None:
    """Ten percent more power on a day whose air is worth ten percent more is no gain."""
    assert gain_percent(100, 1.0, 110, 1.0) == pytest.approx(10)
    assert gain_percent(100, 1.1, 110, 1.0) == pytest.approx(0)
    with pytest.raises(ValueError, match="must be above zero"):
        gain_percent(0, 1, 100, 1)


def test_factors_of_student_are_those_of_the_table() -> None:
    """The 95 % factors agree with scipy's distribution."""
    for freedom, factor in T_95_PERCENT.items():
        assert factor == pytest.approx(student_t.ppf(0.975, freedom), abs=5e-4)


@given(before=st.lists(seconds, min_size=2, max_size=3), after=st.lists(seconds, min_size=2, max_size=3))
def test_scatter_decides_as_the_t_test_does(before: list[float], after: list[float]) -> None:
    """A shift of the times beyond the uncertainty is one that scipy's two-sample test calls real at 5 %."""
    # Scipy warns where the runs of a day are the same.
    assume(min(statistics.stdev(before), statistics.stdev(after)) > 0.01)
    before = [time / statistics.mean(before) for time in before]
    after = [time / statistics.mean(after) for time in after]
    half_width = gain_uncertainty_percent(before, after)
    assert half_width is not None
    for share in (0.99, 1.01):
        shifted = [time + share * half_width / 100 for time in after]
        assert (ttest_ind(before, shifted).pvalue < 0.05) == (share > 1)


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ([12.0], [11.0], None),
        ([], [11.0, 11.2], None),
        ([12.0, 12.2], [], None),
        ([12, 12, 12, 12], [11, 11, 11], None),
        ([12.0, 12.0, 12.0], [11.0, 11.0, 11.0], 0.0),
        # By hand: each day's deviations are 1 % each way, so the pooled deviation is 1 %.
        ([99.0, 100.0, 101.0], [100.0], 100 * 4.303 * 0.01 * (1 / 3 + 1) ** 0.5),
        ([99.0, 100.0, 101.0], [49.5, 50.0, 50.5], 100 * 2.776 * 0.01 * (2 / 3) ** 0.5),
    ],
)
def test_uncertainty_of_a_gain(before: list[float], after: list[float], expected: float | None) -> None:
    """Single runs tell nothing of the scatter; runs that agree leave none; others as computed by hand."""
    assert gain_uncertainty_percent(before, after) == (None if expected is None else pytest.approx(expected))


def test_uncertainty_grows_with_the_gain() -> None:
    """The uncertainty is a share of the power after: a doubled power has twice that of an unchanged one."""
    runs = [9.9, 10.0, 10.1]
    alone = gain_uncertainty_percent(runs, runs)
    assert alone is not None
    assert gain_uncertainty_percent(runs, runs, gain=100.0) == pytest.approx(2 * alone)


@pytest.mark.parametrize(
    ("gain", "uncertainty", "within"),
    [
        (2.0, 3.0, True),
        (-2.0, 3.0, True),
        (3.0, 3.0, True),
        (8.0, 3.0, False),
        (-8.0, 3.0, False),
        (1.0, None, False),
    ],
)
def test_a_gain_within_the_scatter_is_told(gain: float, uncertainty: float | None, within: bool) -> None:
    """A gain or loss no larger than the uncertainty is within the scatter; an unknown one is not."""
    assert within_scatter(gain, uncertainty) is within
