"""An all-clear is only said over an engine without a sign of a fault, and a sound engine gets it."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping

import pytest

from tests.support.filled import STANDARD_SHARE, defaults, diagnosis_of, form_with, healthy, spread
from tests.support.random_readings import random_entries
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.form import the_form
from workbook_tools.language.model import OUT_OF_LIMITS, Field, Result, Shape, UnitSystem
from workbook_tools.science.engine_geometry import default_banks

CLEAR = "No fault found"
SHAPES: tuple[tuple[int, UnitSystem], ...] = (
    (1, "us"),
    (2, "metric"),
    (3, "us"),
    (4, "us"),
    (4, "metric"),
    (5, "metric"),
    (6, "us"),
    (8, "us"),
    (12, "metric"),
    (16, "us"),
)
#: Sound engines judged, 30 of each shape.
SOUND = 300
#: Sound engines on which a few cells were changed at random.
CHANGED = 200
COMPLAINTS = the_form.fields()["complaint"].choices


@pytest.mark.parametrize(("cylinders", "units"), SHAPES)
def test_a_sound_engine_is_clear(cylinders: int, units: UnitSystem) -> None:
    """Readings scattered as a sound engine's are, at any height: no finding, no doubt, all clear."""
    shape, rng = Shape(cylinders, default_banks(cylinders), units), random.Random(cylinders)
    for _ in range(SOUND // len(SHAPES)):
        elevation = rng.choice(list(STANDARD_SHARE))
        found = diagnose(form_with(shape, _scattered(shape, elevation, rng)))
        assert not found.findings, found.findings
        assert not found.discrepancies, found.discrepancies
        assert found.headline.startswith(f"{CLEAR}: all four systems are proven"), found.headline


def test_no_all_clear_over_a_sign() -> None:
    """No mark out of limits, no needle that swings, no plug, sound or complaint that nothing explains."""
    rng, clear = random.Random(1927), 0
    # One shape after the other: a form's formulas are made ready once for all jobs of a shape that follow each other.
    for cylinders, units in sorted(rng.choices(SHAPES, k=CHANGED)):
        shape = Shape(cylinders, default_banks(cylinders), units)
        entries = {**defaults(shape), **_in_cells(shape, healthy(shape))}
        drawn = random_entries(shape, rng)
        for name in rng.sample(sorted(drawn), rng.randint(0, 6)):
            entries[name] = drawn[name]
        if rng.random() < 0.2:
            entries["complaint"] = rng.choice(COMPLAINTS)
        found = diagnose(form_with(shape, entries))
        if not found.headline.startswith(CLEAR) or found.headline.startswith(f"{CLEAR} so far"):
            continue
        clear += 1
        assert not found.findings
        signs = [sign for sign in _signs(shape, found, entries) if sign != "complaint"]
        assert not signs, (found.headline, signs)
        if entries["complaint"] in COMPLAINTS:
            assert "is not explained" in found.headline, found.headline
    assert clear > CHANGED / 10, "too few of the engines are clear for this to mean anything"


@pytest.mark.parametrize(
    ("entries", "named"),
    [
        ({"idle_vacuum_low": 12.0, "idle_vacuum_high": 19.5}, "needle"),
        ({"needle": "wide regular swing"}, "needle"),
        ({"plug_look": {2: "oily"}}, "oily"),
        ({"leak_heard_at": {3: "exhaust"}}, "exhaust"),
        ({"running_vacuum": 12.0, "running_vacuum_choked": 12.0}, "vacuum"),
        ({"complaint": "overheats"}, "overheats"),
    ],
)
def test_each_sign_is_named(entries: Mapping[str, object], named: str) -> None:
    """One sign on an engine that is sound otherwise, and the answer says which."""
    headline = diagnosis_of(healthy_engine=True, **entries).headline
    assert "not explained" in headline, headline
    assert named in headline.lower(), headline


def _in_cells(shape: Shape, readings: Mapping[str, object]) -> dict[str, object]:
    found: dict[str, object] = {}
    for name, reading in readings.items():
        found |= spread(shape, name, reading)
    return found


def _scattered(shape: Shape, elevation_ft: int, rng: random.Random) -> dict[str, object]:
    """A sound engine's readings, each a little off the usual as no two engines are alike."""
    entries = _in_cells(shape, healthy(shape, elevation_ft))
    for name, entry in entries.items():
        loose = name.startswith(("compression_", "leakdown", "speed_drop", "coolant", "oil_", "spark_plug"))
        if loose and isinstance(entry, float) and name != "compression_strokes":
            entries[name] = round(entry * rng.uniform(0.985, 1.015), 1)
    height = float(elevation_ft) if shape.units == "us" else round(elevation_ft * 0.3048, 1)
    return {**defaults(shape), **entries, "site_elevation": height}


def _signs(shape: Shape, found: Diagnosis, entries: Mapping[str, object]) -> Iterator[str]:
    """Signs of a fault read off the marks and the cells, apart from how the answer looks for them."""
    values = {each.name: each.recomputed for each in found.computed}
    for name, cell in the_form.cells(shape).items():
        if isinstance(cell.item, Result) and cell.item.is_mark and values.get(name) == OUT_OF_LIMITS:
            yield name
        # What is no choice of the list is told as a slip, not taken for a sign.
        if not isinstance(cell.item, Field) or entries.get(name) not in cell.item.choices:
            continue
        entry = entries.get(name)
        if cell.item.name == "plug_look" and entry != "normal":
            yield f"{name}: {entry}"
        if cell.item.name == "needle" and shape.cylinders > 2 and entry != "steady":
            yield f"{name}: {entry}"
        if cell.item.name == "leak_heard_at" and entry not in ("nowhere", "oil filler"):
            yield f"{name}: {entry}"
