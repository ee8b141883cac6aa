"""Lambda against exact combustion, equilibrium chemistry and real inspections; doubts about a sample."""

from __future__ import annotations

import cantera
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from workbook_tools.science.exhaust_gas import (
    H_PER_C,
    O_PER_C,
    Sample,
    brettschneider_lambda,
    carbon_sum,
    corrected_co,
    doubted_co2,
    gas_balance,
    judge_sample,
)

# Combustion of CH1.7261O0.0175 in dry air with a water-gas constant of 3.5, solved element by element
# elsewhere: lambda, CO2, CO, O2 in % vol of the dry exhaust. The equation must be exact here.
EXACT_COMBUSTION = [
    (0.75, 9.3329, 9.8002, 0),
    (0.80, 10.6394, 7.7288, 0),
    (0.85, 11.9406, 5.7024, 0),
    (0.90, 13.2241, 3.7330, 0),
    (0.95, 14.4796, 1.8299, 0),
    (0.975, 15.0942, 0.9055, 0),
    (1.00, 15.6991, 0, 0),
    (1.05, 14.9044, 0, 1.0603),
    (1.10, 14.1863, 0, 2.0184),
    (1.20, 12.9394, 0, 3.6820),
]

# CO2, CO, O2 in % vol, HC (hexane) and NO in ppm, lambda: the published equation worked out by hand.
HAND_COMPUTED = [
    (15, 0.5, 0.5, 100, 0, 1.00459),
    (14, 1, 1, 200, 0, 1.00929),
    (12, 4.5, 0.5, 300, 0, 0.88643),
    (10, 0.1, 6.5, 50, 0, 1.44370),
    (13.5, 1.2, 0.3, 45, 0, 0.97635),
    (14, 0.5, 1.5, 150, 1500, 1.05462),
]

# Roadworthiness tests 2018-2019, Estonian Road Administration (GitHub maanteeamet/opendata, MIT licence,
# LIIKLUSREGISTER/tüp_heitmed.csv): line of the source file, CO, HC, CO2, O2, lambda that the analyser
# recorded, and lambda by the equation.
INSPECTIONS = [
    (6289, 11.77, 1216, 7.51, 0.12, 0.662, 0.6707),
    (7081, 10.11, 334, 9.2, 0.3, 0.745, 0.7467),
    (964, 7.72, 481, 10.2, 0.59, 0.804, 0.8049),
    (21411, 4.62, 1092, 12.8, 0.1, 0.848, 0.8505),
    (22347, 3.124, 563, 13.07, 0.34, 0.902, 0.9086),
    (2931, 1.533, 206, 14.44, 0.1, 0.952, 0.9544),
    (12407, 1.82, 313, 12.11, 1.13, 0.981, 0.9853),
    (11048, 0.93, 1608, 12.7, 2.47, 1.024, 1.0246),
    (2911, 0.59, 242, 13.57, 1.78, 1.056, 1.0591),
    (7369, 0.582, 86, 13.45, 2.25, 1.089, 1.0904),
    (22339, 0.01, 16, 12.3, 3.58, 1.203, 1.2031),
    (23751, 0.48, 102, 9.6, 7.03, 1.46, 1.4603),
]

EXHAUST_SPECIES = ("CO2", "CO", "H2O", "H2", "O2", "N2")
FREEZE_TEMPERATURE_K = 1740

gas_share = st.floats(0, 15)


def equilibrium_exhaust(air_ratio: float, h_per_c: float, o_per_c: float) -> tuple[float, float, float]:
    """CO2, CO and O2 in % vol of dry exhaust that cantera finds for one carbon atom of fuel in dry air."""
    known = {each.name: each for each in cantera.Species.list_from_file("gri30.yaml")}
    gas = cantera.Solution(thermo="ideal-gas", species=[known[name] for name in EXHAUST_SPECIES])
    oxygen = air_ratio * (1 + h_per_c / 4 - o_per_c / 2)
    gas.TPX = (
        FREEZE_TEMPERATURE_K,
        cantera.one_atm,
        {"CO": 1, "H2": h_per_c / 2, "O2": oxygen + o_per_c / 2 - 0.5, "N2": oxygen * 79.054 / 20.946},
    )
    gas.equilibrate("TP")
    dry = 1 - gas["H2O"].X[0]
    co2, co, o2 = (100 * gas[name].X[0] / dry for name in ("CO2", "CO", "O2"))
    return co2, co, o2


@pytest.mark.parametrize(("air_ratio", "co2", "co", "o2"), EXACT_COMBUSTION)
def test_lambda_is_exact_in_exact_combustion(air_ratio: float, co2: float, co: float, o2: float) -> None:
    """Where its assumptions hold the equation returns the air ratio that was burned."""
    assert brettschneider_lambda(co, co2, 0, o2) == pytest.approx(air_ratio, abs=1e-4)


@pytest.mark.parametrize(("co2", "co", "o2", "hc", "no", "expected"), HAND_COMPUTED)
def test_lambda_with_all_gases(
    co2: float, co: float, o2: float, hc: float, no: float, expected: float
) -> None:
    """Hydrocarbons and nitric oxide enter as published; hydrocarbons by the carbon atoms they are read as."""
    assert brettschneider_lambda(co, co2, hc, o2, no_ppm=no) == pytest.approx(expected, abs=1e-5)
    as_propane = brettschneider_lambda(co, co2, 2 * hc, o2, "propane", no_ppm=no)
    as_methane = brettschneider_lambda(co, co2, 6 * hc, o2, "methane", no_ppm=no)
    assert as_propane == pytest.approx(expected, abs=1e-5)
    assert as_methane == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("air_ratio", [0.85, 0.90, 0.95, 1.00, 1.05, 1.10, 1.20])
@pytest.mark.parametrize(
    ("h_per_c", "o_per_c"),
    [(H_PER_C, O_PER_C), (18 / 8, 0.0), (8 / 7, 0.0)],
    ids=["gasoline", "octane", "toluene"],
)
def test_lambda_agrees_with_equilibrium(air_ratio: float, h_per_c: float, o_per_c: float) -> None:
    """Cantera's exhaust, frozen at 1740 K, gives back its air ratio within half a percent."""
    co2, co, o2 = equilibrium_exhaust(air_ratio, h_per_c, o_per_c)
    found = brettschneider_lambda(co, co2, 0, o2, h_per_c=h_per_c, o_per_c=o_per_c)
    assert found == pytest.approx(air_ratio, rel=0.005)


@pytest.mark.parametrize(("line", "co", "hc", "co2", "o2", "recorded", "computed"), INSPECTIONS)
def test_lambda_is_what_analysers_recorded(
    line: int, co: float, hc: float, co2: float, o2: float, recorded: float, computed: float
) -> None:
    """Real inspections, rich to lean: the equation's own value, within 0.01 of what the analyser printed."""
    found = brettschneider_lambda(co, co2, hc, o2)
    assert found == pytest.approx(computed, abs=1e-4), line
    assert found == pytest.approx(recorded, abs=0.01), line


@pytest.mark.parametrize(
    ("co", "expected"),
    # Rich exhaust without oxygen, computed. 3.5 and 4.5 % are older legal limits at idle (UK SI 2001/25).
    [
        (0.5, 0.9861),
        (1, 0.9724),
        (2, 0.9455),
        (3, 0.9190),
        (3.5, 0.9060),
        (4.5, 0.8803),
        (6, 0.8426),
        (8, 0.7934),
    ],
)
def test_lambda_of_legal_co(co: float, expected: float) -> None:
    """The CO2 that belongs to a CO reading of rich exhaust gives the lambda that belongs to it."""
    rows = sorted((row[2], row[1]) for row in EXACT_COMBUSTION if row[2] > 0 or row[0] == 1)
    (co_low, co2_low), (co_high, co2_high) = next(
        (low, high) for low, high in zip(rows, rows[1:], strict=False) if low[0] <= co <= high[0]
    )
    co2 = co2_low + (co2_high - co2_low) * (co - co_low) / (co_high - co_low)
    assert brettschneider_lambda(co, co2, 0, 0) == pytest.approx(expected, abs=5e-4)


@given(
    co=gas_share, co2=st.floats(0.1, 20), o2=st.floats(0, 20), hc=st.floats(0, 5000), factor=st.floats(0.1, 1)
)
def test_lambda_does_not_depend_on_water_in_the_sample(
    co: float, co2: float, o2: float, hc: float, factor: float
) -> None:
    """A sample thinned with anything but air and fuel (steam, nitrogen) has the same lambda."""
    thinned = brettschneider_lambda(co * factor, co2 * factor, hc * factor, o2 * factor)
    assert thinned == pytest.approx(brettschneider_lambda(co, co2, hc, o2), rel=1e-9)


@given(co=gas_share, co2=st.floats(0.1, 20), o2=st.floats(0, 20), more=st.floats(0.01, 5))
def test_more_oxygen_is_leaner(co: float, co2: float, o2: float, more: float) -> None:
    """Lambda rises with the oxygen left over."""
    assert brettschneider_lambda(co, co2, 0, o2 + more) > brettschneider_lambda(co, co2, 0, o2)


def test_unburned_charge_leaves_lambda_alone() -> None:
    """A misfire adds air and fuel together: lambda does not show it (carbon balance)."""
    exact = 1 + H_PER_C / 4 - O_PER_C / 2
    hc_ppm = 2000.0
    oxygen = 6 * hc_ppm / 10000 * exact
    assert brettschneider_lambda(0, 15.6991, hc_ppm, oxygen) == pytest.approx(1, abs=1e-4)


def test_a_sample_without_carbon_has_no_lambda() -> None:
    """Pure air divides by nothing: no lambda. CO alone, without CO2, still has one."""
    assert brettschneider_lambda(0, 0, 0, 20.9) is None
    assert brettschneider_lambda(0, 0, 500, 20.9) is None
    assert brettschneider_lambda(5, 0, 0, 0) is not None


def test_an_unknown_hydrocarbon_is_refused() -> None:
    """Only the gases that analysers read as are known, and the message lists them."""
    with pytest.raises(ValueError, match="hexane, propane, methane"):
        brettschneider_lambda(0.5, 15, 100, 0.5, "butane")


@pytest.mark.parametrize(
    ("co", "co2", "expected"),
    # ISO 3930 idle test (formula from memory): scaled up to 15 % where CO + CO2 are less, never down.
    [(1.0, 9.0, 1.5), (0.5, 14.5, 0.5), (3.0, 13.0, 3.0), (0.0, 0.0, 0.0), (2.0, 0.0, 15.0)],
)
def test_co_is_corrected_for_air_in_the_sample(co: float, co2: float, expected: float) -> None:
    """A thinned sample's CO is scaled up; an undiluted one's is left."""
    assert corrected_co(co, co2) == pytest.approx(expected)


@pytest.mark.parametrize(("air_ratio", "co2", "co", "o2"), EXACT_COMBUSTION)
def test_balance_is_near_one_for_any_exhaust(air_ratio: float, co2: float, co: float, o2: float) -> None:
    """Rich, right and lean exhaust all balance, also when half of the sample is air."""
    assert 0.98 < gas_balance(co, co2, o2) < 1.25, air_ratio
    assert 0.98 < gas_balance(co / 2, co2 / 2, o2 / 2 + 20.946 / 2) < 1.12
    assert carbon_sum(co, co2) == co + co2


@pytest.mark.parametrize(("line", "co", "hc", "co2", "o2", "recorded", "computed"), INSPECTIONS)
def test_a_shifted_point_is_found_in_real_inspections(
    line: int, co: float, hc: float, co2: float, o2: float, recorded: float, computed: float
) -> None:
    """CO2 typed a tenth of what it was is doubted, unless CO and O2 alone fill the balance."""
    assert doubted_co2(co, co2, o2) is None
    carried_by_the_others = gas_balance(co, co2 / 10, o2) >= 0.7
    found = doubted_co2(co, co2 / 10, o2)
    assert found is None if carried_by_the_others else found == pytest.approx(co2), line


@pytest.mark.parametrize(
    ("co", "co2", "o2", "sample"),
    [
        # Rows of the same public records: line 3 (CO2 typed 1,5) and line 22339 (lean, believable).
        (0.01, 1.5, 0.12, Sample.POINT_SHIFTED),
        (0.01, 12.3, 3.58, Sample.USABLE),
        # Made up around the rule's limits.
        (0.5, 14.5, 0.5, Sample.USABLE),
        (0.2, 6.0, 12.5, Sample.DILUTED),
        (0.0, 0.0, 20.9, Sample.DILUTED),
        (0.2, 4.0, 3.0, Sample.NOT_SETTLED),
        (0.2, 9.0, 1.5, Sample.NOT_SETTLED),
        (0.2, 10.0, 1.5, Sample.USABLE),
        (0.0, 0.0, 0.0, Sample.NOT_SETTLED),
        (9.0, 12.0, 0.1, Sample.TOO_MUCH_CARBON),
        (8.0, 12.0, 0.1, Sample.USABLE),
        (0.0, 8.0, 10.0, Sample.USABLE),
    ],
)
def test_a_sample_is_judged_before_its_mixture(co: float, co2: float, o2: float, sample: Sample) -> None:
    """Diluted, unsettled and mistyped samples are told apart from those that a finding may rest on."""
    assert judge_sample(co, co2, o2) is sample


@given(co=st.floats(0, 3), co2=st.floats(1, 1.6), o2=st.floats(-0.5, 3))
def test_a_suggestion_always_makes_a_believable_sample(co: float, co2: float, o2: float) -> None:
    """CO2 as suggested is never doubted itself, and is ten times what was typed."""
    suggested = doubted_co2(co, co2, o2)
    assume(suggested is not None)
    assert suggested == pytest.approx(10 * co2)
    assert judge_sample(co, suggested, o2) in (Sample.USABLE, Sample.DILUTED)
