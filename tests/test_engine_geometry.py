"""Slider-crank volumes, cranking pressure, dwell, and how banks and firing orders are read."""

from __future__ import annotations

import math

import cantera
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from workbook_tools.science.engine_geometry import (
    CRANKING_EXPONENT,
    bank_neighbours,
    banks_text,
    cranking_pressure_gauge,
    default_banks,
    default_firing_order,
    displacement,
    dwell_timing_shift,
    effective_compression_ratio,
    firing_order_text,
    largest_dwell,
    parse_banks,
    parse_firing_order,
    rod_to_crank_radius,
    volume_ratio,
)

ATMOSPHERE_PSI = 14.695948775  # NIST SP 811, Appendix B.8: 101 325 Pa

# Volume over clearance volume by the slider-crank equation (Heywood 1988, eq. 2.6, from memory), computed.
SLIDER_CRANK = {
    (8, 3.5): (1, 1.594555, 3.130923, 5.010643, 6.630923, 7.656733, 8),
    (9, 3.3): (1, 1.688293, 3.462653, 5.620652, 7.462653, 8.616496, 9),
    (10, 4.0): (1, 1.744064, 3.676938, 6.071575, 8.176938, 9.538293, 10),
}


@pytest.mark.parametrize(("engine", "volumes"), SLIDER_CRANK.items())
def test_volume_follows_the_slider_crank(engine: tuple[float, float], volumes: tuple[float, ...]) -> None:
    """The volume at every 30 degrees is that of the slider-crank equation, going down and coming up."""
    for degrees, expected in zip(range(0, 181, 30), volumes, strict=True):
        assert volume_ratio(*engine, degrees) == pytest.approx(expected, abs=1e-6)
        assert volume_ratio(*engine, 360 - degrees) == pytest.approx(expected, abs=1e-6)


@given(ratio=st.floats(3.5, 16), rod=st.floats(2.5, 6), degrees=st.floats(0, 360))
def test_volume_is_that_of_the_drawn_triangle(ratio: float, rod: float, degrees: float) -> None:
    """The piston stands where the rod of fixed length reaches from the crank pin to the bore's axis."""
    pin = complex(math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
    piston = brentq(lambda height: abs(complex(height, 0) - pin) - rod, pin.real, pin.real + rod + 1)
    travelled = rod + 1 - piston
    assert volume_ratio(ratio, rod, degrees) == pytest.approx(1 + (ratio - 1) * travelled / 2, abs=1e-6)


@pytest.mark.parametrize(
    ("ratio", "closing", "effective"),
    # The slider-crank table's engines, rod 3.5 crank radii; computed by the same equation elsewhere.
    [(8, 50, 7.0468), (8, 60, 6.6309), (8, 70, 6.1468), (9, 50, 7.9106), (9, 60, 7.4353), (9, 70, 6.8821)],
)
def test_effective_ratio_at_intake_closing(ratio: float, closing: float, effective: float) -> None:
    """A later intake closing leaves less of the stroke to compress."""
    assert effective_compression_ratio(ratio, 3.5, closing) == pytest.approx(effective, abs=1e-4)


def test_effective_ratio_without_late_closing_is_the_geometric_one() -> None:
    """An intake valve that closes at bottom dead centre loses nothing."""
    assert effective_compression_ratio(8.5, 3.2, 0) == pytest.approx(8.5)


def test_published_cranking_pressure() -> None:
    """A published example (encyclopedia, compression ratio: 7.5, exponent 1.3) gives 187.1 psi gauge."""
    assert cranking_pressure_gauge(14.7, 7.5, 1.3) == pytest.approx(187.1, abs=0.1)


@pytest.mark.parametrize(
    ("ratio", "exponent", "psi"),
    # Polytropic compression from 1 atm with intake closing at 60 degrees, rod 3.5 crank radii; computed.
    [
        (7, 1.20, 107.1),
        (8, 1.20, 127.6),
        (10, 1.20, 169.9),
        (7, 1.25, 118.3),
        (8, 1.25, 141.7),
        (10, 1.25, 190.5),
        (7, 1.30, 130.6),
        (8, 1.30, 157.2),
        (10, 1.30, 213.3),
    ],
)
def test_cranking_pressure_by_ratio_and_exponent(ratio: float, exponent: float, psi: float) -> None:
    """The expected gauge reading at sea level over the usual ratios and exponents."""
    effective = effective_compression_ratio(ratio, 3.5, 60)
    assert cranking_pressure_gauge(ATMOSPHERE_PSI, effective, exponent) == pytest.approx(psi, abs=0.05)


@pytest.mark.parametrize("ratio", [5, 7, 8, 9, 10])
def test_cranking_pressure_stays_under_the_adiabatic_bound(ratio: float) -> None:
    """Air that loses no heat (cantera, heat capacities by temperature) reaches more, but not half more."""
    air = cantera.Solution("air.yaml")
    air.TPX = 293.15, cantera.one_atm, "O2:0.21, N2:0.79"
    entropy, specific_volume = air.entropy_mass, 1 / air.density
    air.SV = entropy, specific_volume / ratio
    bound_psi = air.P / 6894.757293168 - ATMOSPHERE_PSI
    expected = cranking_pressure_gauge(ATMOSPHERE_PSI, ratio)
    assert 0.67 * bound_psi < expected < bound_psi


def test_the_adiabatic_bound_at_a_ratio_of_eight() -> None:
    """Cantera's bound from 20 °C is 249.3 psi, an exponent of 1.38 to 1.39; ours is below it."""
    exponent = math.log(249.3 / ATMOSPHERE_PSI + 1) / math.log(8)
    assert 1.38 < exponent < 1.39
    assert 1.2 <= CRANKING_EXPONENT <= 1.3 < exponent


def test_cranking_pressure_falls_with_the_air() -> None:
    """Proportional to station pressure: the gauge shows less at 5000 and 10 000 ft (computed elsewhere)."""
    readings = [cranking_pressure_gauge(ATMOSPHERE_PSI * share, 7, 1.3) for share in (1, 0.832048, 0.687704)]
    assert readings == pytest.approx([169.73, 141.22, 116.72], abs=0.01)


def test_displacement_from_bore_and_stroke() -> None:
    """Four cylinders of 100 mm by 100 mm sweep pi litres, whatever the unit."""
    assert displacement(10, 10, 4) == pytest.approx(1000 * math.pi)
    assert displacement(4, 4, 8) == pytest.approx(402.124, abs=1e-3)


@pytest.mark.parametrize(("cylinders", "spacing"), [(4, 90), (6, 60), (8, 45)])
def test_largest_dwell_is_the_spacing_of_the_lobes(cylinders: int, spacing: float) -> None:
    """Points can stay closed from one lobe to the next at most (geometry)."""
    assert largest_dwell(cylinders) == spacing


@pytest.mark.parametrize(
    ("cylinders", "low", "high"),
    # 8: US Navy NAVEDTRA 14273, chapter 2 (30 degrees); 4: TM 10-3930-653-14&P, 4-1-1; 6: from memory.
    [(8, 30, 30), (4, 49, 55), (6, 35, 38)],
)
def test_published_dwell_angles_are_possible(cylinders: int, low: float, high: float) -> None:
    """Published dwell figures are between half and three quarters of the largest."""
    assert 0.5 < low / largest_dwell(cylinders) <= high / largest_dwell(cylinders) < 0.75


def test_more_dwell_makes_the_spark_later() -> None:
    """One degree more dwell makes the spark one crank degree later, a smaller reading (geometry)."""
    assert dwell_timing_shift(1) == -1
    assert dwell_timing_shift(-4.5) == 4.5


@pytest.mark.parametrize(
    ("text", "banks"),
    [
        ("1-2-3-4", ((1, 2, 3, 4),)),
        (" 1 - 2 - 3 - 4 ", ((1, 2, 3, 4),)),
        ("1–2–3", ((1, 2, 3),)),
        ("1,2,3,4", ((1, 2, 3, 4),)),
        ("1, 2, 3, 4", ((1, 2, 3, 4),)),
        ("1 2 3 4", ((1, 2, 3, 4),)),
        ("1234", ((1, 2, 3, 4),)),
        ("1", ((1,),)),
        ("1-3-5-7 | 2-4-6-8", ((1, 3, 5, 7), (2, 4, 6, 8))),
        ("1-3-5-7|2-4-6-8", ((1, 3, 5, 7), (2, 4, 6, 8))),
        ("1-3-5-7; 2-4-6-8", ((1, 3, 5, 7), (2, 4, 6, 8))),
        ("1-3-5-7 / 2-4-6-8", ((1, 3, 5, 7), (2, 4, 6, 8))),
        ("1-3-5-7, 2-4-6-8", ((1, 3, 5, 7), (2, 4, 6, 8))),
        ("1-3-5-7 2-4-6-8", ((1, 3, 5, 7), (2, 4, 6, 8))),
        ("1,3,5,7 / 2,4,6,8", ((1, 3, 5, 7), (2, 4, 6, 8))),
        ("1 3 5 7 | 2 4 6 8", ((1, 3, 5, 7), (2, 4, 6, 8))),
        ("1 | 2", ((1,), (2,))),
        ("1-2-3 | 4-5-6", ((1, 2, 3), (4, 5, 6))),
        ("1-2-3-4-5-6-7-8-9-10-11-12", (tuple(range(1, 13)),)),
    ],
)
def test_banks_are_read_as_people_write_them(text: str, banks: tuple[tuple[int, ...], ...]) -> None:
    """What parts the banks is coarser than what joins the numbers of one."""
    assert parse_banks(text) == banks


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("1-3-4-2", (1, 3, 4, 2)),
        ("1, 3, 4, 2", (1, 3, 4, 2)),
        ("1 3 4 2", (1, 3, 4, 2)),
        ("1342", (1, 3, 4, 2)),
        ("18436572", (1, 8, 4, 3, 6, 5, 7, 2)),
        ("1", (1,)),
        ("1-10-9-4-3-6-5-8-7-2", (1, 10, 9, 4, 3, 6, 5, 8, 7, 2)),
    ],
)
def test_firing_orders_are_read_as_people_write_them(text: str, order: tuple[int, ...]) -> None:
    """Hyphens, commas, spaces or nothing between the numbers all give the same order."""
    assert parse_firing_order(text) == order


@pytest.mark.parametrize(
    ("text", "cylinders", "message"),
    [
        ("1-3-3-2", None, "names cylinder 3 twice"),
        ("1-3-5-2", None, "does not name cylinder 4"),
        ("0-1-2", None, "does not name cylinder 3"),
        ("1-2-3", 4, "names 3 cylinders, but the engine has 4"),
        ("", None, "not a row of cylinder numbers"),
        ("front", None, "not a row of cylinder numbers"),
        ("1-2-x", None, "not a row of cylinder numbers"),
        ("1.5-2", None, "not a row of cylinder numbers"),
        ("=1-2", None, "not a row of cylinder numbers"),
    ],
)
def test_text_that_is_no_cylinder_row_is_refused(text: str, cylinders: int | None, message: str) -> None:
    """Each cylinder must be named once; the message says which is not."""
    with pytest.raises(ValueError, match=message):
        parse_firing_order(text, cylinders)
    with pytest.raises(ValueError):
        parse_banks(text, cylinders)


@given(order=st.integers(1, 16).flatmap(lambda count: st.permutations(range(1, count + 1))))
def test_written_orders_are_read_back(order: list[int]) -> None:
    """What the form writes for an order or for two banks is read back as the same."""
    assert parse_firing_order(firing_order_text(tuple(order)), len(order)) == tuple(order)
    banks = (tuple(order[::2]), tuple(order[1::2])) if len(order) > 1 else (tuple(order),)
    assert parse_banks(banks_text(banks), len(order)) == banks


def test_neighbours_share_a_bank() -> None:
    """Neighbours are next to each other on one bank; the facing bank is none."""
    eight = bank_neighbours(((1, 3, 5, 7), (2, 4, 6, 8)))
    assert eight[1] == (3,) and eight[3] == (1, 5) and eight[8] == (6,)
    assert bank_neighbours(((1,), (2,))) == {1: (), 2: ()}
    assert bank_neighbours(((1, 2, 3, 4),))[2] == (1, 3)


@pytest.mark.parametrize("cylinders", range(1, 17))
def test_defaults_name_every_cylinder_once(cylinders: int) -> None:
    """Proposed banks and firing orders are whole; an uncommon engine gets no firing order."""
    assert parse_banks(banks_text(default_banks(cylinders)), cylinders) == default_banks(cylinders)
    order = default_firing_order(cylinders)
    assert (order == ()) == (cylinders in (7, 9, 11, 13, 14, 15, 16))
    assert sorted(order) in ([], list(range(1, cylinders + 1)))


@pytest.mark.parametrize("cylinders", [8, 10, 12])
def test_common_orders_of_two_banks_share_the_work(cylinders: int) -> None:
    """Between two sparks on one bank never lie more than two on the other (common practice, no source)."""
    order = default_firing_order(cylinders)
    left = set(default_banks(cylinders)[0])
    sides = "".join("L" if number in left else "R" for number in order) * 2
    assert "LLL" not in sides and "RRR" not in sides


def test_impossible_geometry_is_refused() -> None:
    """Ratios, rods and counts that no engine has are refused in words."""
    with pytest.raises(ValueError, match="compression ratio is above 1"):
        volume_ratio(1, 3.5, 0)
    with pytest.raises(ValueError, match="longer than half the stroke"):
        volume_ratio(8, 1, 0)
    with pytest.raises(ValueError, match="0 to 180 crank degrees"):
        effective_compression_ratio(8, 3.5, 180)
    with pytest.raises(ValueError, match="stroke is above zero"):
        rod_to_crank_radius(6, 0)
    with pytest.raises(ValueError, match="at least one cylinder"):
        largest_dwell(0)
    with pytest.raises(ValueError, match="at least one cylinder"):
        default_banks(0)
    assert rod_to_crank_radius(6, 4) == 3
