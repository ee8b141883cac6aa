"""Two digits swapped, told by a second reading of the same thing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.filled import diagnosis_of
from workbook_tools.diagnose.slips import swapped_digits


@pytest.mark.parametrize(
    ("value", "swaps"),
    [
        (113, (131,)),
        (127, (217, 172)),
        (18.5, (81.5,)),
        (55, ()),
        (120, (210, 102)),
        (5, ()),
        (0.018, (0.108, 0.081)),
    ],
)
def test_swapped_digits(value: float, swaps: tuple[float, ...]) -> None:
    """Each pair of neighbouring digits is exchanged once, and no number begins with a nought that had none."""
    assert swapped_digits(value) == swaps


@given(st.integers(min_value=0, max_value=9999))
def test_a_swap_undone_is_the_reading(value: int) -> None:
    """Swapping the same digits again gives the reading back."""
    for swap in swapped_digits(value):
        assert sorted(str(int(swap))) == sorted(str(value))
        assert value in swapped_digits(swap)


@pytest.mark.parametrize(
    ("readings", "field", "suggestion"),
    [
        ({"compression_dry": {2: 127}, "compression_wet": {2: 113}}, "compression_wet_2", "131 psi"),
        ({"compression_first": {1: 126}, "compression_dry": {1: 118}}, "compression_first_1", None),
        ({"idle_vacuum_low": 20.5, "idle_vacuum_high": 20.1}, "idle_vacuum_low", None),
        ({"idle_vacuum_low": 19.2, "idle_vacuum_high": 19.1}, "idle_vacuum_low", None),
        ({"idle_vacuum_low": 21, "idle_vacuum_high": 13}, "idle_vacuum_low", "12 inHg"),
    ],
)
def test_a_swap_is_suggested_where_it_explains_the_conflict(
    readings: dict[str, object], field: str, suggestion: str | None
) -> None:
    """A conflict names the swap that puts both readings in order and close together, and none where there is none."""
    found = diagnosis_of(healthy_engine=True, **readings).discrepancies
    (conflict,) = [each for each in found if each.kind == "readings_conflict" and each.field == field]
    assert ("digits swapped" in conflict.message) == (suggestion is not None)
    if suggestion:
        assert conflict.expected.startswith(suggestion)
