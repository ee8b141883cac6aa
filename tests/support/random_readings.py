"""Random entries for a form: mostly what a shop would write, with the blanks, slips and edges that break
formulas.

Every call with the same seed gives the same entries. A reading is drawn near its own limits where it has
any, often exactly on one, since there a formula and its Python twin differ first.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from typing import Any

from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHOWN
from workbook_tools.form.ranges import default_for, is_numeric_choice, plausible_range
from workbook_tools.language.model import Field, Result, Shape, UnitSystem, cell_name
from workbook_tools.language.values import Values
from workbook_tools.science.engine_geometry import default_banks

Entry = float | str

CYLINDERS = (1, 2, 3, 4, 4, 4, 5, 6, 6, 8, 8, 12, 16)
ODD_TEXTS = ("not read", "~140", "12", "145 psi", "?", "1/2", "TRUE", "-", "=1+1")
ODD_NUMBERS = (0.0, -1.0, 1e6, 1e-7, -273.15, 0.1 + 0.2)
#: Engine figures of a usual engine in US units; drawn around, so that readings and limits meet.
USUAL = {
    "spec_compression_min": 130.0,
    "spec_compression_max": 160.0,
    "spec_idle_speed_min": 600.0,
    "spec_idle_speed_max": 800.0,
    "spec_operating_temp_min": 170.0,
    "spec_operating_temp_max": 205.0,
    "spec_oil_pressure_min": 15.0,
    "spec_cranking_speed_min": 150.0,
    "spec_timing": 8.0,
    "spec_timing_speed": 700.0,
    "spec_point_gap_min": 0.016,
    "spec_point_gap_max": 0.02,
    "spec_dwell_min": 28.0,
    "spec_dwell_max": 32.0,
    "spec_plug_gap_min": 0.033,
    "spec_plug_gap_max": 0.037,
    "spec_fuel_delivery_min": 1.0,
    "compression_ratio": 8.5,
    "stroke": 3.5,
    "rod_length": 6.0,
    "intake_closing": 50.0,
}
#: What a sound engine shows, for the share of forms that are mostly healthy.
SOUND_CHOICES = {
    "throttle_held_open": "yes",
    "all_plugs_out": "yes",
    "needle": "steady",
    "needle_with_speed": "steadies",
    "air_cleaner": "clean",
    "plug_look": "normal",
    "contacts": "good",
    "advance_unit_moves": "yes",
    "rotor_springs_back": "yes",
    "spark": "strong",
    "cranking_vacuum_rise": "fast",
    "valve_clearance": "in limits",
    "heat_riser": "free",
    "leak_heard_at": "nowhere",
}
#: Half-cent traps and other amounts.
PRICES = (1.005, 2.675, 0.125, 19.995, 33.333, 4.35, 120.0, 0.0, 1e6)
QUANTITIES = (1.0, 2.0, 0.5, 3.0, 1.5, -1.0, 0.333, 10.0)
#: CO, CO2, HC, O2: right, rich, lean, thinned, point shifted, misfire, hopeless, and the edges of the rules.
GASES = ("gas_co", "gas_co2", "gas_hc", "gas_o2")
SAMPLES = (
    (0.5, 14.8, 120.0, 0.8),
    (6.0, 11.0, 400.0, 0.3),
    (0.1, 12.5, 100.0, 3.6),
    (0.2, 6.5, 60.0, 12.0),
    (0.1, 1.53, 20.0, 0.1),
    (0.6, 12.2, 2500.0, 4.5),
    (0.0, 0.0, 0.0, 20.9),
    (0.5, 7.5, 60.0, 11.0),
    (5.0, 15.0, 60.0, 0.0),
    (3.5, 0.0, 60.0, 10.0),
)


def random_shape(rng: random.Random) -> Shape:
    """An engine of 1 to 16 cylinders with the usual banks, in either unit system."""
    cylinders = rng.choice(CYLINDERS)
    units: UnitSystem = rng.choice(("us", "us", "metric"))
    return Shape(cylinders, default_banks(cylinders), units)


class WorkedOutWhenAsked(dict[str, Any]):
    """Cells of which a result is worked out when it is asked for: of some thousand a few dozen are."""

    def __init__(self, shape: Shape, entries: Mapping[str, object]) -> None:
        super().__init__(entries)
        self.cells, self.seen = the_form.cells(shape), Values(shape, the_form.repeats(), self)

    def get(self, name: str, default: Any = None) -> Any:
        """What the cell holds."""
        if name not in self:
            cell = self.cells.get(name)
            is_result = cell is not None and isinstance(cell.item, Result)
            self[name] = the_form.result_if_any(cell.item, self.seen, cell.number) if is_result else default
        return self[name]


def random_entries(shape: Shape, rng: random.Random) -> dict[str, Entry | None]:
    """Entries by cell name for every input cell of a form of that shape; None for a cell left blank."""
    careless = rng.choice((0.0, 0.02, 0.1))
    blanks = rng.choice((0.0, 0.02, 0.15, 0.5))
    soundness = {sheet.name: rng.choice((0.3, 0.9, 1.0, 1.0)) for sheet in SHOWN}
    entries: dict[str, Entry | None] = {}
    later = []
    for name, cell in the_form.cells(shape).items():
        if not isinstance(cell.item, Field):
            continue
        if cell.item.locked or cell.item.kind in ("text", "date"):
            entries[name] = _default(cell.item, shape, cell.number)
        elif cell.sheet.name in ("Job", "Engine"):
            entries[name] = _slip(
                cell.item, _figure(cell.item, shape, cell.number, rng), careless, blanks, rng
            )
        else:
            later.append(cell)
    limits = WorkedOutWhenAsked(shape, entries).seen
    wholly_out: set[str] = {sheet.name for sheet in SHOWN if rng.random() < 0.15}
    for cell in later:
        field = cell.item
        assert isinstance(field, Field)
        if cell.sheet.name in wholly_out:
            entries[cell.name] = _default(field, shape, cell.number)
            continue
        sound = rng.random() < soundness[cell.sheet.name]
        drawn = (
            _choice(field, rng, sound) if field.choices else _reading(field, cell.number, limits, rng, sound)
        )
        entries[cell.name] = _slip(field, drawn, careless, blanks, rng)
    _make_coherent(shape, entries, rng)
    if rng.random() < 0.5:
        entries |= _story(limits, rng)
    return entries


def _story(limits: the_form.Values, rng: random.Random) -> dict[str, Entry | None]:
    """Readings that only together say something, which chance alone would hardly bring about."""
    us = limits.shape.units == "us"
    vacuum = limits.number("site_idle_vacuum_min") or 18.0
    cranking = limits.number("site_cranking_vacuum_min") or 15.0
    even = (limits.number("site_compression_min") or 130.0) + 10
    good: dict[str, Entry | None] = {
        f"{name}_{number}": value
        for number in range(1, limits.shape.cylinders + 1)
        for name, value in (
            ("compression_dry", even),
            ("leakdown", None),
            ("plug_look", "normal"),
            ("plug_gap", None),
            ("speed_drop", None),
        )
    }
    good |= {"throttle_held_open": "yes", "all_plugs_out": "yes", "compression_strokes": 6.0}
    good |= {
        "battery_cranking": None,
        "cranking_speed": None,
        "contacts": None,
        "point_gap": None,
        "dwell": None,
    }
    good |= {"air_cleaner": "clean", "heat_riser": "free", "fuel_pressure": None, "fuel_delivery_time": None}
    good |= {"cranking_vacuum": cranking + 1, "cranking_vacuum_rise": "fast", "cranking_vacuum_retest": None}
    good |= {"backpressure": None, "raised_vacuum_held": None, "running_vacuum": None, "spark": None}
    good |= {"advance_unit_moves": "yes", "rotor_springs_back": "yes"}
    good |= {f"advance_reading_{point}": None for point in range(1, 7)}
    low = vacuum * rng.choice((0.5, 0.59, 0.61, 0.9))
    low_steady = {"idle_vacuum_low": low, "idle_vacuum_high": low, "needle": "steady"}
    right, rich = dict(zip(GASES, SAMPLES[0], strict=True)), dict(zip(GASES, SAMPLES[1], strict=True))
    misfire = dict(zip(GASES, SAMPLES[5], strict=True))
    idle, raised = ({f"{gas}_1": x for gas, x in rich.items()}, {f"{gas}_2": x for gas, x in right.items()})
    wander = {
        "needle": "slow wander",
        **idle,
        **raised,
        "mixture_best_vacuum": rng.choice((None, vacuum + 1)),
    }
    standard_air: dict[str, Entry | None] = {
        "pull_mass": 3000.0,
        "pull_from_speed": 30.0,
        "pull_to_speed": 50.0,
    }
    for day in ("before", "after"):
        standard_air[f"pull_barometer_{day}"] = rng.uniform(28.8, 30.2) * (1 if us else 3.386)
        standard_air[f"pull_temperature_{day}"] = rng.uniform(60, 90) if us else rng.uniform(15, 32)
    stories: tuple[dict[str, Entry | None], ...] = (
        {**good, **low_steady, "timing": None},
        {**good, **low_steady, "timing": limits.number("spec_timing")},
        {**good, **wander, "timing": limits.number("spec_timing")},
        {
            **good,
            **{name: "dry soot" for name in good if name.startswith("plug_look")},
            **raised,
            **{f"{gas}_1": x for gas, x in misfire.items()},
        },
        standard_air,
    )
    return rng.choice(stories)


def _default(field: Field, shape: Shape, number: int | None = None) -> Entry | None:
    value = default_for(field, shape, number)
    return float(value) if isinstance(value, str) and is_numeric_choice(field) else value


def _choice(field: Field, rng: random.Random, sound: bool = False) -> Entry:
    choice = SOUND_CHOICES.get(field.name) if sound else None
    choice = choice or rng.choice(field.choices)
    if is_numeric_choice(field):
        return float(choice)
    return choice.upper() if rng.random() < 0.02 else choice


def _figure(field: Field, shape: Shape, number: int | None, rng: random.Random) -> Entry | None:
    """A specification or something about the shop: the default, a usual figure, or anything plausible."""
    if field.choices:
        return _choice(field, rng)
    default = _default(field, shape)
    if default is not None:
        return (
            default
            if rng.random() < 0.8 or not isinstance(default, float)
            else default * rng.uniform(0.8, 1.2)
        )
    low, high = plausible_range(field, shape.units)
    if low is None or high is None:
        return None
    if field.name.startswith("spec_advance"):
        return _curve_point(field.name, number or 1, rng)
    if field.name in USUAL:
        us_low, us_high = plausible_range(field, "us")
        assert us_low is not None and us_high is not None
        share = (USUAL[field.name] * rng.uniform(0.97, 1.03) - us_low) / (us_high - us_low)
        return _typed(field, shape.units, low + share * (high - low))
    if field.name.endswith("_tolerance"):
        return rng.choice((None, 0.0, _typed(field, shape.units, rng.uniform(0, high / 4))))
    if field.name in ("barometer", "site_elevation", "air_temperature"):
        return None if rng.random() < 0.4 else _typed(field, shape.units, rng.uniform(low, high))
    return _typed(field, shape.units, rng.uniform(low, high))


def _curve_point(name: str, number: int, rng: random.Random) -> float:
    """Points of a rising curve, now and then out of order or twice at one speed."""
    if name == "spec_advance_speed":
        return 500.0 * (number if rng.random() < 0.85 else rng.randint(1, 6)) + 300
    return round(6.0 * number + (4 if name.endswith("max") else 0) + rng.uniform(-1, 1), 1)


def _typed(field: Field, units: UnitSystem, value: float) -> float:
    """The number with the decimals that the form shows."""
    return round(
        value, field.measure.decimals(units) if field.measure.unit(units) or field.measure.us_decimals else 1
    )


def _reading(
    field: Field, number: int | None, limits: the_form.Values, rng: random.Random, sound: bool
) -> Entry | None:
    """Inside its own limits where the engine is sound, else near them or on one, else anywhere plausible."""
    units = limits.shape.units
    low, high = plausible_range(field, units)
    if field.name in ("quantity", "unit_price", "labour_rate"):
        return rng.choice(QUANTITIES if field.name == "quantity" else PRICES)
    if field.limits:
        own = field.limits.at(number)
        bounds = [x for x in (limits.number(own.low), limits.number(own.high)) if x is not None]
        if bounds and rng.random() < 0.9:
            edge = rng.choice(bounds)
            width = max(bounds) - min(bounds) or abs(edge) or 1.0
            step = limits.number(own.tolerance) or width / 10
            way = rng.random()
            if sound and len(bounds) == 2:
                middle = min(bounds) + rng.uniform(0.4, 0.6) * width
                return _typed(field, units, middle) if width > 1 else middle
            if sound:
                return round(edge * (1.15 if own.low else 0.8), 2)
            if way < 0.15:
                return edge
            if way < 0.3:
                return edge + rng.choice((-1, 1)) * step
            return _typed(field, units, edge + rng.uniform(-0.6, 0.6) * width)
    if low is None or high is None:
        return _typed(field, units, rng.uniform(0, 100))
    if field.name == "advance_speed":
        return rng.choice((800.0, 1000.0, 1234.5, 1800.0, 3300.0, 4200.0))
    if field.name == "advance_reading":
        return round(rng.uniform(0, 45), 1)
    if field.name == "compression_strokes" and sound:
        return 6.0
    if field.name == "speed_drop" and sound:
        return round(rng.uniform(60, 75), 0)
    return _typed(field, units, rng.uniform(low, high))


def _slip(
    field: Field, value: Entry | None, careless: float, blanks: float, rng: random.Random
) -> Entry | None:
    if rng.random() < blanks:
        return None
    if rng.random() < careless:
        return rng.choice(ODD_TEXTS) if field.choices or rng.random() < 0.5 else rng.choice(ODD_NUMBERS)
    return value


def _make_coherent(shape: Shape, entries: dict[str, Entry | None], rng: random.Random) -> None:
    """Readings that go together: strokes and oil with their cylinder, both vacua of a pair, gases, runs."""
    scale = 1.0 if shape.units == "us" else 6.9
    for number in range(1, shape.cylinders + 1):
        _follow(
            entries,
            f"compression_dry_{number}",
            f"compression_wet_{number}",
            rng,
            lambda x: x + scale * rng.randint(-5, 60),
        )
        _follow(
            entries,
            f"compression_dry_{number}",
            f"compression_first_{number}",
            rng,
            lambda x: round(x * rng.uniform(0.3, 0.9)),
        )
        _follow(
            entries,
            f"compression_dry_{number}",
            f"after_compression_{number}",
            rng,
            lambda x: x + scale * rng.randint(0, 30),
        )
    vacuum = 1.0 if shape.units == "us" else 3.4
    _follow(
        entries,
        "idle_vacuum_low",
        "idle_vacuum_high",
        rng,
        lambda x: x + vacuum * rng.choice((0, 0.5, 0.5, 1, 1.5, 5)),
    )
    _follow(
        entries,
        "raised_vacuum_start",
        "raised_vacuum_held",
        rng,
        lambda x: x - vacuum * rng.choice((0, 0.5, 1, 4)),
    )
    _follow(
        entries,
        "running_vacuum",
        "running_vacuum_choked",
        rng,
        lambda x: x + vacuum * rng.choice((0, 1, 1.1, 3)),
    )
    _follow(
        entries,
        "manifold_vacuum_then",
        "advance_line_vacuum",
        rng,
        lambda x: x - vacuum * rng.choice((0, 1, 1.1, 9)),
    )
    _follow(entries, "pull_from_speed", "pull_to_speed", rng, lambda x: x + rng.choice((0, 20, 30)))
    for point in range(1, 7):
        speed, reading = entries[f"advance_speed_{point}"], entries[f"advance_reading_{point}"]
        if isinstance(speed, float) and isinstance(reading, float) and rng.random() < 0.85:
            entries[f"advance_reading_{point}"] = round(
                6 * (speed - 300) / 500 + 2 + rng.choice((-3, -2, 0, 0, 1, 2, 3)), 1
            )
    for point in (1, 2):
        for gas, value in zip(GASES, rng.choice(SAMPLES), strict=True):
            if isinstance(entries[f"{gas}_{point}"], float) and rng.random() < 0.97:
                entries[f"{gas}_{point}"] = round(value * rng.choice((1, 1, 0.9, 1.1)), 3)
    base = rng.uniform(6, 20)
    for name in [cell_name(f"pull_seconds_{day}", run) for day in ("before", "after") for run in (1, 2, 3)]:
        if isinstance(entries[name], float) and rng.random() < 0.95:
            entries[name] = round(base * rng.uniform(0.95, 1.02), 1)


def _follow(
    entries: dict[str, Entry | None], of: str, name: str, rng: random.Random, change: Callable[[float], float]
) -> None:
    """Most times make one reading follow from another, where both hold numbers."""
    base = entries[of]
    if isinstance(base, float) and isinstance(entries[name], float) and rng.random() < 0.85:
        entries[name] = round(change(base), 2)
