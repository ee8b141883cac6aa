"""The proof of each system as the report says it is what the form's own sheet Start shows."""

from __future__ import annotations

import random

import pytest

from tests.support.filled import causes_of, filled, kinds_of
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.form import the_form
from workbook_tools.language.model import SYSTEMS, Field
from workbook_tools.read.filled_form import FilledForm

SEEDS = range(8)
FORMS_A_SEED = 15

#: Readings of an engine with nothing wrong, and some that are wrong, near a limit, or signs only; None is not
#: taken.
CHOICES: dict[str, tuple[object, ...]] = {
    "ignition_type": ("contact points", "electronic", "magneto", None),
    "point_gap": (0.020, 0.018, 0.030, 0.012, None),
    "spec_point_gap_min": (0.018, None),
    "spec_point_gap_max": (0.022, None),
    "timing": (8.0, 6.0, 3.0, 12.5, None),
    "spec_timing": (8.0, 8.0, None),
    "timing_speed": (650.0, 1200.0, None),
    "timing_mark": ("steady", "wanders", None),
    "advance_unit_moves": ("yes", "yes", "no", None),
    "advance_line_vacuum": (None, 0.0, 12.0, 15.0, 18.0),
    "manifold_vacuum_then": (None, 0.5, 15.0),
    "rotor_springs_back": ("yes", "yes", "sluggish", "no", None),
    "advance_reading_2": (24.0, 24.0, 17.0, None),
    "contacts": ("good", "worn", "pitted", None),
    "spark": ("strong", "weak", None, None),
    "idle_vacuum_low": (19.0, 16.0, 9.0, 17.8),
    "idle_vacuum_high": (19.4, 16.4, 9.4, 18.0, 23.0),
    "vacuum_gauge_tolerance": (None, 0.5),
    "fuel_gauge_tolerance": (None, 0.2),
    "needle": ("steady", "slow wander", "occasional drops", "fast flutter", None),
    "needle_with_speed": ("no change", "falls slowly while held", "steadies", "widens", None),
    "raised_vacuum_held": (20.4, 16.0, None),
    "backpressure": (1.0, 4.0, None, None),
    "cranking_vacuum": (17.5, 12.0, 14.8, None),
    "cranking_vacuum_rise": ("fast", "fast", "slow", None),
    "cranking_vacuum_retest": (None, None, 17.0, 12.0, 14.8),
    "spec_cranking_vacuum_min": (15.0, 15.0, None),
    "valve_clearance": ("in limits", "not checked", None),
    "needle_after_valve_adjustment": (None, "steady", "unchanged"),
    "heat_riser": ("free", "free", "stuck", "burned through", None),
    "mixture_best_vacuum": (19.5, 15.0, 17.8, None),
    "running_vacuum": (20.0, 14.0, 17.7, None),
    "running_vacuum_choked": (None, 14.5, 19.0),
    "fuel_pressure": (3.0, 3.0, 2.0, 2.4, 4.5, None),
    "fuel_delivery_volume": (1.0, 0.5, None),
    "air_cleaner": ("clean", "clean", "dirty", None),
    "gas_co_2": (0.8, 4.62, 0.93, None),
    "gas_hc_2": (120.0, 1608.0),
    "gas_o2_2": (0.6, 2.5, 4.5),
    "gas_co2_2": (14.3, 12.7),
    "gas_co_1": (1.2, 4.62),
    "compression_dry_3": (146.0, 146.0, 146.0, 95.0),
    "compression_wet_3": (None, 100.0),
    "leakdown_2": (7.0, 7.0, 40.0),
    "throttle_held_open": ("yes", "yes", "no", None),
    "speed_drop_2": (61.0, 61.0, 8.0),
    "plug_look_2": (
        "normal",
        "normal",
        "wet with fuel",
        "dry soot",
        "blistered white",
        "cracked or worn",
        "oily",
        None,
    ),
    "plug_look_1": ("normal", "dry soot", None),
    "plug_look_3": ("normal", "dry soot"),
    "plug_look_4": ("normal", "dry soot"),
    "plug_gap_4": (0.035, 0.035, 0.050),
    "idle_speed": (650.0, 650.0, 900.0, None),
    "coolant_temperature": (188.0, 188.0, 120.0, None),
    "cranking_speed": (205.0, 205.0, 100.0),
}


def drawn(chance: random.Random) -> dict[str, object]:
    """Between none and most of the readings changed at random."""
    share = chance.choice((0.05, 0.1, 0.2, 0.6))
    return {name: chance.choice(readings) for name, readings in CHOICES.items() if chance.random() < share}


def live_states(form: FilledForm) -> dict[str, object]:
    """The states that the form's own formulas show."""
    return {system: form.cells[f"state_{system.replace(' ', '_')}"].raw for system in SYSTEMS}


def clean(form: FilledForm, doubted: list[str]) -> bool:
    """Whether no entry was dropped or doubted: the form's formulas calculate with those as typed."""
    fields = {name for name, cell in form.cells.items() if isinstance(cell.form.item, Field)}
    return not any(
        line.split()[0] in ("unit_doubt", "decimal_doubt", "implausible_entry") and line.split()[1] in fields
        for line in doubted
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_report_and_summary_agree(seed: int) -> None:
    """For random readings the report's state of each system is the one on sheet Start."""
    chance = random.Random(seed)
    compared = 0
    for _ in range(FORMS_A_SEED):
        cylinders = chance.choice((4, 4, 4, 6, 8))
        readings = drawn(chance)
        form = filled(cylinders, healthy_engine=True, **readings)
        found = diagnose(form)
        if not clean(form, kinds_of(found)):
            continue
        compared += 1
        assert dict(found.states) == live_states(form), (cylinders, readings, causes_of(found))
    assert compared > FORMS_A_SEED / 2


@pytest.mark.parametrize("cylinders", [1, 2])
def test_few_cylinders_agree(cylinders: int) -> None:
    """Below three cylinders too, where no needle is judged."""
    chance = random.Random(cylinders)
    within = the_form.cells(filled(cylinders).shape)
    for _ in range(FORMS_A_SEED):
        readings = {name: reading for name, reading in drawn(chance).items() if name in within}
        form = filled(cylinders, healthy_engine=True, **readings)
        found = diagnose(form)
        if clean(form, kinds_of(found)):
            assert dict(found.states) == live_states(form), (readings, causes_of(found))
