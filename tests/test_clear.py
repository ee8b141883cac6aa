"""An all-clear is only said over an engine without a sign of a fault, and a sound engine gets it."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Mapping

import pytest

from tests.support.filled import (
    STANDARD_SHARE,
    defaults,
    diagnosis_of,
    form_with,
    healthy,
    sound_again,
    spread,
)
from tests.support.random_readings import random_entries
from workbook_tools.diagnose import diagnosis
from workbook_tools.diagnose.diagnosis import diagnose, judge
from workbook_tools.diagnose.entries import open_case
from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.guide.suspects import found as found_on_sheet
from workbook_tools.guide.telling import LOOK_AGAIN
from workbook_tools.language.model import OUT_OF_LIMITS, Field, Result, Shape, UnitSystem
from workbook_tools.science.engine_geometry import default_banks
from workbook_tools.sheets.bill_results import BILL_LINES

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
#: What sheet Start says of an engine that may go, and how the check's answer then begins.
CLEAR_ON_START = "No fault found, and all systems proven. Run the check before it leaves."
REPAIRED_ON_START = "Repaired, and proven by the readings taken again. Run the check before it leaves."
BY_EYE_ON_START = (
    "Repaired, but readings don't prove all of it. Look again, then run the check before it leaves."
)
#: Engines with a few readings at random, worked on and read again at random, of each shape.
WORKED_ON = 40
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
        (start,) = [each.recomputed for each in found.computed if each.name == "answer_so_far"]
        assert start == CLEAR_ON_START


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


@pytest.mark.parametrize(("cylinders", "units"), [(1, "us"), (4, "metric"), (8, "us")])
def test_start_gives_no_all_clear_that_the_check_does_not_give(
    cylinders: int, units: UnitSystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Engines with odd readings, repaired and read again or not: what Start calls clear or proven the check does too."""
    monkeypatch.setattr(diagnosis, "check_workbook_cells", lambda form, values: [])
    shape, rng = Shape(cylinders, default_banks(cylinders), units), random.Random(cylinders + 77)
    seen: Counter[str] = Counter()
    for _ in range(WORKED_ON):
        entries = {**defaults(shape), **_in_cells(shape, healthy(shape))}
        drawn = {name: each for name, each in random_entries(shape, rng).items() if each is not None}
        odd = sorted(name for name in drawn if not name.startswith(("after_", "work_", "concluded_")))
        entries |= {name: drawn[name] for name in rng.sample(odd, rng.randint(1, 6))}
        case, _ = open_case(form_with(shape, entries, calculated=False))
        faults = [cause for cause in CAUSES.values() if case.holds(found_on_sheet(cause))]
        entries |= {f"work_cause_{row}": cause.id for row, cause in enumerate(faults[:BILL_LINES], 1)}
        entries |= {cell: each for cell, each in sound_again(shape).items() if rng.random() < 0.8}
        case, slips = open_case(form_with(shape, entries, calculated=False))
        start, answer = case.values.values["answer_so_far"], judge(case, slips).headline
        seen[str(start)] += 1
        if start == CLEAR_ON_START:
            assert answer.startswith((f"{CLEAR}: all four", f"{CLEAR} as far as")), answer
        if start == REPAIRED_ON_START:
            assert answer.startswith("Repaired and proven") and "only the eye" not in answer, answer
    assert seen[CLEAR_ON_START] > 5 and seen[REPAIRED_ON_START] + seen[BY_EYE_ON_START] > 0, seen


def test_a_repair_that_no_reading_shows_is_not_called_proven_by_readings() -> None:
    """Mechanical advance was freed: nothing on Recheck shows it, so Start sends for the eye."""
    found = diagnosis_of(
        healthy_engine=True, advance_reading={2: 30}, work_cause_1="mechanical_advance", work_1="freed"
    )
    said = {each.name: each.recomputed for each in found.computed}
    assert [each.cause for each in found.findings] == ["mechanical_advance"]
    assert said["answer_so_far"] == BY_EYE_ON_START
    assert said["next_test"] == LOOK_AGAIN


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
