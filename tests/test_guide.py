"""The guide: what comes next and why, by its figures and by what a mechanic would say."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest
from scipy.stats import entropy

from tests.support.filled import defaults, diagnosis_of, filled, form_with, healthy, shape_of, spread
from tests.support.guide_play import case_of, in_order, minutes_of, play
from tests.support.known_engines import BRINGS, COMPLAINT_OF, TESTS_OF_A_MASTER, engine, faults_on, sound
from tests.support.random_readings import random_entries, random_shape
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.form.guide_sheet import GUIDE
from workbook_tools.generate.short_form import sheets_for
from workbook_tools.guide.choosing import LEAST_WORTH
from workbook_tools.guide.fits import (
    NO_COMPLAINT,
    NONE_OF_THESE,
    ROW,
    SUSPECTS,
    Experience,
    chances,
    common,
    explains,
    fitting,
    likeliest,
    ratios,
    unknown_names,
)
from workbook_tools.guide.suspects import NO_FAULT_OF_ITS_OWN
from workbook_tools.guide.tests import BY_NAME, PLACE, TESTS
from workbook_tools.language.model import cell_name
from workbook_tools.read.filled_form import as_seen_by_formulas

FOUR = shape_of(4)


# --- the table ---------------------------------------------------------------------------------------------------


def test_causes_name_tests_and_outcomes_that_are_there() -> None:
    """A slip in a cause's row would silently make it show nothing."""
    assert list(unknown_names()) == []


@pytest.mark.parametrize("suspect", SUSPECTS)
def test_chances_are_chances(suspect: str) -> None:
    """They add up to 1, and none is 0: a reading rules nothing out entirely."""
    for test in TESTS:
        found = chances(suspect, test)
        assert sum(found) == pytest.approx(1) and min(found) > 0, (suspect, test.name)
        assert min(ratios(suspect, test)) > 0
    assert sum(each.sound for test in TESTS for each in test.outcomes) == pytest.approx(len(TESTS))


@pytest.mark.parametrize(
    "cause", [c for c in CAUSES.values() if c.common > NO_FAULT_OF_ITS_OWN], ids=lambda c: c.id
)
def test_every_fault_shows_somewhere(cause) -> None:  # type: ignore[no-untyped-def]
    """What decides it is a test that it shows on, and that test most often comes out so."""
    assert cause.shows
    assert set(cause.deciding) <= {
        *cause.shows,
        "cranking vacuum",
        "fuel pressure",
        "fuel delivery",
        "retest after tightening",
    } | {
        "carburettor base tested",
        "hoses pinched off",
    }
    assert any(likeliest(cause.id, BY_NAME[name]) != 1 for name in cause.shows)


# --- the figures, against an independent computation -------------------------------------------------------------


def test_what_a_test_tells_is_the_expected_fall_of_entropy() -> None:
    """On random forms, against scipy's Shannon entropy: entropy of the shares, less that expected after each outcome."""
    rng = random.Random(48)
    for _ in range(40):
        shape = random_shape(rng)
        values = the_form.compute(
            shape, {n: as_seen_by_formulas(e) for n, e in random_entries(shape, rng).items()}
        )
        shares = [values.number("suspect_share", row) or 0.0 for row in range(1, len(SUSPECTS) + 1)]
        assert sum(shares) == pytest.approx(1)
        for place, test in enumerate(TESTS, 1):
            table = [chances(suspect, test) for suspect in SUSPECTS]
            expected = 0.0
            for outcome in range(len(test.outcomes)):
                joint = [share * row[outcome] for share, row in zip(shares, table, strict=True)]
                expected += sum(joint) * entropy(joint)
            assert values.number("test_tells", place) == pytest.approx(entropy(shares) - expected, abs=2e-5)


def test_shares_are_weights_times_what_was_seen() -> None:
    """Bayes by hand on one form: how common, for the complaint, times the chance of each outcome against a sound engine's."""
    found = case_of(FOUR, {**defaults(FOUR), **_known(late_timing="lacks power")})
    outcomes = {test.name: int(found.number("test_heard", place) or 0) for place, test in enumerate(TESTS, 1)}
    weights = {}
    for suspect in SUSPECTS:
        weight = common(suspect) * fitting(suspect, "lacks power")
        for test in TESTS:
            if outcomes[test.name]:
                weight *= ratios(suspect, test)[outcomes[test.name] - 1]
        if suspect == NONE_OF_THESE:
            alone = common(suspect) * fitting(suspect, "lacks power")
            weight = 0.5 * alone + 0.5 * weight
        weights[suspect] = weight
    total = sum(weights.values())
    for suspect, weight in weights.items():
        assert found.number("suspect_share", ROW[suspect]) == pytest.approx(
            weight / total, rel=1e-3, abs=1e-6
        )


def _known(**fault: str) -> dict[str, object]:
    """The form of an engine with a fault, on which readiness and the vacuum gauge were read."""
    ((name, complaint),) = fault.items()
    readings = engine(name, FOUR, random.Random(1))
    given = {n: each for n, each in readings.items() if n.startswith("spec_") or n == "ignition_type"}
    for test in ("readiness", "idle vacuum"):
        for field in BY_NAME[test].fields:
            given[field] = readings[field]
    return {**given, "complaint": complaint}


# --- what a mechanic would say -----------------------------------------------------------------------------------


def _next(**readings: object) -> list[str]:
    return [each.test for each in diagnosis_of(**readings).next]


def test_an_empty_form_begins_with_what_is_cheap_and_tells_much() -> None:
    """Not with the twenty minutes of the compression test, which is the first in the order of proof."""
    steps = _next()
    assert steps[:2] == ["readiness", "idle vacuum"]
    assert steps.index("idle vacuum") < steps.index("dry compression")


def test_a_low_steady_needle_leads_to_timing_and_intake() -> None:
    """Low and steady: the gap that moves the timing, then the timing, before compression is gauged."""
    found = diagnose(form_with(FOUR, {**defaults(FOUR), **_known(late_timing="lacks power")}))
    steps = [each.test for each in found.next]
    assert (
        steps.index("contacts and dwell")
        < steps.index("timing by the light")
        < steps.index("dry compression")
    )
    assert found.suspects[0].cause == "late_timing"
    assert "best fits show here" in found.next[0].why and found.next[0].why[0].isdigit()


def test_very_low_and_steady_leads_to_the_intake() -> None:
    """A needle at half of its range: air leaks in."""
    found = diagnose(form_with(FOUR, {**defaults(FOUR), **_known(intake_leak="rough idle")}))
    assert found.suspects[0].cause in ("intake_leak", "manifold_or_heat_riser")
    assert found.next[0].test == "cranking vacuum"


def test_low_oil_pressure_stops_everything_else() -> None:
    """Nothing is run further: the only step is its repair."""
    steps = _next(healthy_engine=True, oil_pressure=2.0, timing=None, complaint="lacks power")
    assert steps == ["repair"]


def test_an_engine_that_does_not_start_gets_tests_that_need_no_running() -> None:
    """No vacuum at idle is asked of an engine that does not run."""
    steps = _next(complaint="does not start")
    assert steps and all(not BY_NAME[each].running for each in steps)


def test_what_is_not_fitted_is_not_asked() -> None:
    """No contacts on an electronic ignition, no pump where fuel runs by its own weight, no vacuum advance where there is none."""
    steps = _next(
        ignition_type="electronic",
        fuel_feed="gravity",
        advance_unit_moves="not fitted",
        heat_riser="not fitted",
    )
    assert not {"contacts and dwell", "fuel pressure", "advance unit", "heat riser"} & set(steps)
    assert {"timing by the light", "fuel delivery"} <= set(steps)


def test_wet_test_in_the_low_cylinders_and_one_sound_one() -> None:
    """Not in all eight of a V8."""
    found = diagnosis_of(
        cylinders=8, healthy_engine=True, compression_dry={3: 70}, leakdown=None, leak_heard_at=None
    )
    wet = next(each for each in found.next if each.test == "wet compression")
    assert wet.fields == ("compression_wet_3", "compression_wet_1")
    leak = next(each for each in found.next if each.test == "leak-down")
    assert leak.fields == ("leakdown_3", "leak_heard_at_3")


def test_set_up_is_counted_once() -> None:
    """With the gauge on the manifold the snap test costs half a minute; without, two more."""
    warm = {"coolant_temperature": 188.0, "oil_pressure": 42.0, "idle_speed": 650.0, "complaint": "uses oil"}
    needle = {"idle_vacuum_low": 19.2, "idle_vacuum_high": 19.6, "needle": "steady"}
    minutes = [
        next(each.minutes for each in diagnosis_of(**entries).next if each.test == "throttle snapped")
        for entries in (warm, {**warm, **needle})
    ]
    assert minutes == [2.5, 0.5]


def test_a_sound_engine_without_complaint_has_nothing_left() -> None:
    """All proven, nothing seen, nobody complains."""
    assert _next(healthy_engine=True) == []
    assert diagnosis_of(healthy_engine=True).suspects[0].cause == NONE_OF_THESE


def test_a_complaint_goes_on_when_all_is_proven() -> None:
    """All four systems are proven, and the customer's engine still misfires: the tests that bear on it come."""
    steps = _next(
        healthy_engine=True,
        complaint="misfires",
        spark=None,
        plug_look=None,
        plug_gap=None,
        valve_clearance=None,
    )
    assert {"spark at a lead", "plugs"} <= set(steps)


@pytest.mark.parametrize("complaint", ["other", None])
def test_no_complaint_and_another_one_work(complaint: str | None) -> None:
    """They rank by how common a cause is alone."""
    found = diagnosis_of(complaint=complaint)
    assert found.next and len(found.suspects) == 5


def test_readings_that_contradict_each_other_are_read_again() -> None:
    """More vacuum in the line than in the manifold that feeds it: both, before anything is concluded from them."""
    found = diagnosis_of(healthy_engine=True, advance_line_vacuum=18.0, manifold_vacuum_then=12.0)
    assert found.next[0].test == "read again" and found.next[0].fields == ("advance_line_vacuum",)


def test_a_fault_that_is_found_is_repaired_and_read_again() -> None:
    """Repair, then recheck, then nothing, as the readings come back in limits."""
    readings: dict[str, object] = {
        "timing": 0.0,
        "advance_reading": [6.0, 16.0],
        "idle_vacuum_low": 15.2,
        "idle_vacuum_high": 15.6,
    }
    steps = _next(healthy_engine=True, complaint="lacks power", **readings)
    assert steps[0] == "repair"
    work: dict[str, object] = {"work": ["timing set"], "work_cause": ["late_timing"]}
    found = diagnosis_of(healthy_engine=True, complaint="lacks power", **readings, **work)
    assert found.next[0].test == "recheck"
    assert {"after_timing", "after_idle_vacuum_low"} <= set(found.next[0].fields)
    after = {
        "after_timing": 8.0,
        "after_idle_vacuum_low": 19.2,
        "after_idle_vacuum_high": 19.6,
        "after_needle": "steady",
    }
    done = diagnosis_of(healthy_engine=True, complaint="lacks power", **readings, **work, **after)
    assert done.next == () and done.headline.startswith("Repaired and proven")


def test_a_repair_that_did_not_help_is_a_suspect_again() -> None:
    """The timing was set, and is out as before: the guide does not ask for the same recheck for ever."""
    work: dict[str, object] = {"work": ["timing set"], "work_cause": ["late_timing"], "after_timing": 0.0}
    found = diagnosis_of(healthy_engine=True, timing=0.0, advance_reading=[6.0, 16.0], **work)
    assert "recheck" not in [each.test for each in found.next]
    assert found.suspects[0].cause == "late_timing"


def test_a_found_fault_explains_its_signs_for_others() -> None:
    """Drops of the needle on an engine with a leaking valve no longer speak for a plug."""
    dropping = {"idle_vacuum_low": 14.0, "idle_vacuum_high": 19.0, "needle": "evenly spaced drops"}
    alone = case_of(FOUR, {**defaults(FOUR), **_readings(dropping)})
    valve = {**dropping, "compression_dry": {2: 70.0}, "leakdown": {2: 60.0}, "leak_heard_at": {2: "exhaust"}}
    found = case_of(FOUR, {**defaults(FOUR), **_readings(valve)})
    plug = ROW["plug_fault"]
    assert found.number("test_heard", PLACE["idle vacuum"]) == 0
    assert (alone.number("suspect_share", plug) or 0) > (found.number("suspect_share", plug) or 0)
    assert explains("leaking_valve", BY_NAME["idle vacuum"]) == (
        BY_NAME["idle vacuum"].outcome("evenly spaced drops"),
    )


def _readings(changes: dict[str, object]) -> dict[str, object]:
    base = {**healthy(FOUR), "plug_look": None, "plug_gap": None, "speed_drop": None, **changes}
    found: dict[str, object] = {}
    for name, each in [*healthy(FOUR).items(), *base.items()]:
        found |= spread(FOUR, name, each)
    return found


# --- files -----------------------------------------------------------------------------------------------------------


def test_a_short_form_asks_for_no_test_that_it_does_not_show(tmp_path: Path) -> None:
    """On the sheet and in the check alike."""
    form = new_workbook(tmp_path / "short.xlsx", sheets=sheets_for("vacuum, compression"))
    checked = check_workbook(form).diagnosis
    asked = [each for each in checked.next if each.test in BY_NAME]
    shown = {"Warm-up", "Vacuum", "Compression"}
    cells = the_form.cells(FOUR)
    assert asked and {cells[name].sheet.name for each in asked for name in each.fields} <= shown


def test_an_older_form_gets_its_next_test_from_the_check_alone() -> None:
    """A form of version 2 has none of the guide's cells, and no figure of it is told as lost."""
    form = filled(complaint="lacks power", coolant_temperature=188.0, oil_pressure=42.0, idle_speed=650.0)
    kept = {name: cell for name, cell in form.cells.items() if cell.form.sheet is not GUIDE}
    lost = tuple(name for name in form.cells if name not in kept)
    older = diagnose(replace(form, form_version=2, cells=kept, lost=lost))
    today = diagnose(form)
    assert [each.test for each in older.next] == [each.test for each in today.next] != []
    assert older.suspects == today.suspects
    assert not [each for each in older.discrepancies if "not taken" in each.message]


def test_next_and_suspects_in_json_and_frames(tmp_path: Path) -> None:
    """What the check prints, and the frames; the first step is what Start says."""
    form = new_workbook(tmp_path / "job.xlsx")
    fill_workbook(form, {"complaint": "lacks power"}, tmp_path / "filled.xlsx")
    checked = check_workbook(tmp_path / "filled.xlsx")
    told = checked.as_json()
    first = told["next"][0]  # type: ignore[index]
    assert set(first) == {"test", "fields", "minutes", "why", "cell"}
    assert list(checked.next()["test"]) == [each["test"] for each in told["next"]]  # type: ignore[union-attr]
    assert set(told["suspects"][0]) == {"cause", "cylinders", "share"}  # type: ignore[index]
    assert len(checked.suspects()) == 5
    shown = {each.name: each.recomputed for each in checked.diagnosis.computed}
    assert str(shown["next_test"]).lower().startswith(first["test"])


def test_the_shops_own_jobs_change_the_ranking(tmp_path: Path) -> None:
    """Thirty proven repairs of worn points for misfires put them in front, and nothing falls to nothing."""
    repaired = {NO_COMPLAINT: {"contact_points": 30}, "misfires": {"contact_points": 30}}
    form = new_workbook(tmp_path / "own.xlsx", experience=Experience(30, repaired))
    fill_workbook(form, {"complaint": "misfires"}, tmp_path / "filled.xlsx")
    checked = check_workbook(tmp_path / "filled.xlsx").diagnosis
    values = {each.name: each.recomputed for each in checked.computed}
    assert checked.suspects[0].cause == "contact_points"
    assert "30 jobs of this shop" in str(values["weights_from"])
    table = {suspect: common(suspect) * fitting(suspect, "misfires") for suspect in SUSPECTS}
    total = sum(table.values())
    for suspect in SUSPECTS:
        jobs = 30 if suspect == "contact_points" else 0
        wanted = (20 * table[suspect] / total + jobs) / 50
        assert values[cell_name("suspect_share", ROW[suspect])] == pytest.approx(wanted, rel=2e-3)
    assert [each for each in checked.discrepancies] == []


# --- played ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fault", faults_on(FOUR))
def test_a_known_fault_is_reached_by_next_alone(fault: str) -> None:
    """From an empty form with the fitting complaint; the whole benchmark is `tests/benchmarks/guide_play.py`."""
    readings = engine(fault, FOUR, random.Random(7))
    played = play(FOUR, readings, COMPLAINT_OF[fault], [fault], brings=BRINGS.get(fault, ()))
    assert fault in played.confirmed, played
    assert not played.wrong and not played.false_clear, played


def test_the_guide_is_quicker_than_the_order_of_the_sheets() -> None:
    """Every fourth fault: by the guide in less than half of the time, and a master who knows is quicker still."""
    faults = faults_on(FOUR)[::4]  # type: ignore[index]
    by_guide = by_sheets = master = 0.0
    for fault in faults:
        readings = engine(fault, FOUR, random.Random(7))
        for steps in (None, in_order([test.name for test in TESTS])):
            played = play(FOUR, readings, COMPLAINT_OF[fault], [fault], steps_of=steps)
            if steps is None:
                by_guide += played.confirmed[fault]
            else:
                by_sheets += played.confirmed.get(fault, played.minutes)
        master += minutes_of(TESTS_OF_A_MASTER[fault])
    assert master < by_guide < by_sheets / 2


def test_a_sound_engine_is_not_called_sound_too_soon() -> None:
    """With a complaint and nothing wrong the guide ends, having said that the complaint is not explained."""
    played = play(FOUR, sound(FOUR), "misfires", ["plug_fault"])
    assert played.ended == "nothing left" and not played.false_clear and not played.confirmed


def test_least_worth_is_less_than_any_deciding_test_tells() -> None:
    """A test that decides the last suspect is never left out for telling too little."""
    found = filled(
        healthy_engine=True, complaint="knocks", compression_dry=None, leakdown=None, compression_first=None
    )
    steps = diagnose(found).next
    assert "dry compression" in [each.test for each in steps] and LEAST_WORTH < 0.01
