"""Defaults and plausible ranges of the form, in both unit systems."""

from __future__ import annotations

import pint
import pytest

from workbook_tools.form import the_form
from workbook_tools.form.ranges import default_for, is_numeric_choice, plausible_range
from workbook_tools.language.model import Field, Measure, Shape, UnitSystem
from workbook_tools.science.engine_geometry import default_banks

#: The form's units as the pint library names them.
PINT_NAMES = {
    "inHg": "inHg",
    "kPa": "kPa",
    "psi": "psi",
    "°F": "degF",
    "°C": "degC",
    "in": "inch",
    "mm": "mm",
    "in³": "inch**3",
    "cm³": "cm**3",
    "ft": "foot",
    "m": "m",
    "mi": "mile",
    "km": "km",
    "lb": "lb",
    "kg": "kg",
    "mph": "mph",
    "km/h": "km/hour",
    "US pt": "pint",
    "L": "liter",
    "US pt/min": "pint/min",
    "L/min": "liter/min",
}
#: A range is widened to two figures: its ends move by no more than a tenth of themselves.
WIDEST = 0.1


def shape(cylinders: int, units: UnitSystem = "us") -> Shape:
    """A shape with the usual banks."""
    return Shape(cylinders, default_banks(cylinders), units)


REGISTRY = pint.UnitRegistry()
CONVERTED = [
    field
    for field in the_form.fields().values()
    if field.measure.us != field.measure.metric and field.low is not None and field.high is not None
]


@pytest.mark.parametrize("field", CONVERTED, ids=lambda field: field.name)
def test_metric_range_holds_the_us_range(field: Field) -> None:
    """Converted by the pint library, the US range lies inside the metric one, which is little wider."""
    low, high = plausible_range(field, "metric")
    assert low is not None and high is not None and field.low is not None and field.high is not None
    us, metric = PINT_NAMES[field.measure.us], PINT_NAMES[field.measure.metric]
    true_low = REGISTRY.Quantity(field.low, us).to(metric).magnitude
    true_high = REGISTRY.Quantity(field.high, us).to(metric).magnitude
    assert true_low - WIDEST * abs(true_low) - 1e-6 <= low <= true_low + 1e-6
    assert true_high - 1e-6 <= high <= true_high + WIDEST * abs(true_high) + 1e-6


PSI = Measure("psi", "kPa")


@pytest.mark.parametrize(
    ("field", "units", "wanted"),
    [
        (Field("a", "a", measure=PSI, low=0, high=300), "us", (0, 300)),
        (Field("a", "a", measure=PSI, low=0, high=300), "metric", (0, 2100)),
        (Field("a", "a", measure=Measure("ft", "m"), low=-1500, high=16_000), "metric", (-460, 4900)),
        (Field("a", "a", measure=Measure("in", "mm"), low=0.004, high=0.05), "metric", (0.1, 1.3)),
        (Field("a", "a", measure=Measure("rpm", "rpm"), low=150, high=3001), "metric", (150, 3001)),
        (Field("a", "a", measure=PSI), "metric", (None, None)),
    ],
)
def test_plausible_range(field: Field, units: UnitSystem, wanted: tuple[float | None, float | None]) -> None:
    """Ranges stay as written in US units and are widened outward to two figures in metric ones."""
    assert plausible_range(field, units) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("name", "each", "wanted"),
    [
        ("cylinder_count", shape(6), 6.0),
        ("cylinder_banks", shape(8), "1-3-5-7 | 2-4-6-8"),
        ("firing_order", shape(4), "1-3-4-2"),
        ("firing_order", shape(16), None),
        ("spec_idle_vacuum_min", shape(3), 18),
        ("spec_idle_vacuum_min", shape(2), None),
        ("spec_idle_vacuum_max", shape(1), None),
        ("spec_cranking_vacuum_min", shape(2, "metric"), None),
        ("spec_cranking_vacuum_min", shape(4, "metric"), 51),
        ("spec_compression_spread", shape(1, "metric"), 70),
        ("spec_lowest_percent", shape(4, "metric"), 75),
        ("system_voltage", shape(4), "12"),
        ("customer_name", shape(4), None),
    ],
)
def test_default_for(name: str, each: Shape, wanted: float | str | None) -> None:
    """Defaults follow from the shape; below three cylinders vacuum is blank (common practice)."""
    assert default_for(the_form.fields()[name], each) == wanted


def test_defaults_are_plausible() -> None:
    """Every numeric default lies inside its own plausible range, in both unit systems."""
    for each in (shape(4), shape(4, "metric")):
        for field in the_form.fields().values():
            default = default_for(field, each)
            low, high = plausible_range(field, each.units)
            if isinstance(default, (int, float)) and low is not None and high is not None:
                assert low <= default <= high, field.name


@pytest.mark.parametrize(
    ("choices", "wanted"),
    [(("6", "12", "24"), True), (("yes", "no"), False), ((), False), (("1.5", "2"), True)],
)
def test_is_numeric_choice(choices: tuple[str, ...], wanted: bool) -> None:
    """Choices are numbers only where all of them are."""
    assert is_numeric_choice(Field("a", "a", "choice", choices=choices)) is wanted
