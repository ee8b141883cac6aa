"""Figures on sheet Engine that can't both be right."""

from __future__ import annotations

import pytest

from tests.support.filled import diagnosis_of


@pytest.mark.parametrize(
    ("readings", "field"),
    [
        ({"spec_compression_min": 160, "spec_compression_max": 120}, "spec_compression_max"),
        ({"spec_dwell_min": 55, "spec_dwell_max": 49}, "spec_dwell_max"),
        ({"spec_advance_min": {2: 20}, "spec_advance_max": {2: 14}}, "spec_advance_max_2"),
        ({"firing_order": "1-3-4-4"}, "firing_order"),
        ({"firing_order": "1-3-4-2-5"}, "firing_order"),
        ({"firing_order": "as marked"}, "firing_order"),
    ],
)
def test_figures_that_contradict_each_other_are_said(readings: dict[str, object], field: str) -> None:
    """A highest below its lowest, and a firing order that is none of this engine, are conflicts at their cells."""
    found = [each for each in diagnosis_of(**readings).discrepancies if each.kind == "readings_conflict"]
    assert [each.field for each in found] == [field]
    assert found[0].cell in found[0].message


@pytest.mark.parametrize(
    "readings", [{}, {"spec_dwell_min": 49, "spec_dwell_max": 49}, {"firing_order": "1, 2, 4, 3"}]
)
def test_figures_that_agree_are_left_alone(readings: dict[str, object]) -> None:
    """Equal limits and a firing order written another way are no conflict."""
    assert not [each for each in diagnosis_of(**readings).discrepancies if each.kind == "readings_conflict"]
