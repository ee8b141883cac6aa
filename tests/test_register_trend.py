"""The line through an engine's readings, and how far it is to the limit, against scipy and a worked solution of its band."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import optimize, stats

from tests.support.register_records import kept, record
from tests.test_register_book import contents, rows, write
from workbook_tools.register.engines import COMPRESSION, History
from workbook_tools.register.points import FALLING
from workbook_tools.register.records import NOT_RETAKEN, PROVEN, RepairFacts
from workbook_tools.register.trend import outlooks
from workbook_tools.science.line import T_90, T_90_BEYOND, line_through, reaches

XS = [50_000.0, 58_000.0, 67_500.0, 75_000.0]


def visits(values: list[list[float]], xs: list[float] = XS, **facts: object) -> list[object]:
    """Jobs of one engine at these odometer readings; cylinders by visit."""
    return [
        kept(
            record(
                str(number),
                compression,
                odometer=x,
                date_in=dt.date(2022 + number, 3, 1),
                date_out=dt.date(2022 + number, 3, 2),
                **{
                    name: value[number] if isinstance(value, list) else value for name, value in facts.items()
                },
            )
        )
        for number, (x, compression) in enumerate(zip(xs, values, strict=False))
    ]


def history(tmp_path: Path, jobs: list[object]) -> History:
    (found,) = contents(tmp_path, jobs).engines  # type: ignore[arg-type]
    return found


@pytest.mark.parametrize("freedom", range(1, 31))
def test_students_t(freedom: int) -> None:
    """The handbook's table against scipy."""
    assert T_90[freedom - 1] == pytest.approx(stats.t.ppf(0.9, freedom), abs=0.0006)


def test_students_t_beyond_the_table() -> None:
    assert pytest.approx(stats.norm.ppf(0.9), abs=0.0006) == T_90_BEYOND


@given(
    st.lists(st.tuples(st.floats(0, 2e5), st.floats(60, 200)), min_size=3, max_size=12),
    st.floats(40, 120),
)
def test_the_line_and_its_band(points: list[tuple[float, float]], limit: float) -> None:
    """scipy's line, and the edges of its band found by searching for the root instead of solving for it."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    assume(max(xs) - min(xs) > 100)
    line = line_through(xs, ys)
    assert line is not None
    theirs = stats.linregress(xs, ys)
    assert line.slope == pytest.approx(theirs.slope, rel=1e-6, abs=1e-9)
    assert line.at(0) == pytest.approx(theirs.intercept, rel=1e-6, abs=1e-4)
    reached = reaches(line, limit)
    if reached is None:
        return
    assert line.at(reached.x) == pytest.approx(limit, abs=1e-3)
    for end, sign in ((reached.low, -1), (reached.high, 1)):
        gap = abs(line.at(end) - limit)
        assert gap == pytest.approx(line.half_band(end), rel=1e-4, abs=1e-3)
        if line.spread > 0.5 and line.at(reached.x - 1e5) > limit:
            edge = lambda x, sign=sign: line.at(x) + sign * line.half_band(x) - limit  # noqa: E731
            lower, upper = reached.x - 1e7, reached.x + 1e7
            if edge(lower) * edge(upper) < 0:
                assert optimize.brentq(edge, lower, upper) == pytest.approx(end, rel=1e-3, abs=50)


def test_a_cylinder_that_comes_down_says_how_far_it_is(tmp_path: Path) -> None:
    """Worked by hand: 150 - 1 psi per 1,000 mi from 50,000 mi reaches 100 psi at 100,000, 25,000 past the last visit."""
    steady = [[150 - (x - 50_000) / 1000, 148.0] for x in XS]
    steady[1][0] += 0.4
    steady[2][0] -= 0.4
    (found,) = outlooks(history(tmp_path, visits(steady)))
    assert (found.slot, found.limit) == ((COMPRESSION, 1), pytest.approx(100, abs=0.01))
    assert found.distance == pytest.approx(25_000, rel=0.05)
    assert found.low < found.distance < found.high
    assert (
        found.words.startswith("About 2") and "mi until cylinder 1 reaches its limit, between " in found.words
    )
    path = write(tmp_path, visits(steady))  # type: ignore[arg-type]
    assert rows(path, "Engines")[0]["Outlook"] == found.words


def test_nothing_is_said_of_two_visits_or_of_a_wide_band(tmp_path: Path) -> None:
    falling = [[150.0], [142.0], [133.0]]
    assert outlooks(history(tmp_path, visits(falling[:2]))) == []
    assert len(outlooks(history(tmp_path, visits(falling)))) == 1
    scattered = [[150.0], [131.0], [145.0], [133.0]]
    assert outlooks(history(tmp_path, visits(scattered))) == []
    rising = [[130.0], [140.0], [150.0]]
    assert outlooks(history(tmp_path, visits(rising))) == []


def test_the_line_never_runs_across_a_repair(tmp_path: Path) -> None:
    """After the rings were renewed the engine begins anew; two visits later there is no line yet."""
    values = [[150.0], [142.0], [133.0], [125.0]]
    assert len(outlooks(history(tmp_path, visits(values)))) == 1
    repaired = ["no repair", "no repair", PROVEN, "no repair"]
    assert outlooks(history(tmp_path, visits(values, proof=repaired))) == []
    assert (
        outlooks(
            history(tmp_path, visits(values, proof=["no repair", NOT_RETAKEN, "no repair", "no repair"]))
        )
        == []
    )


def test_readings_are_brought_to_sea_level(tmp_path: Path) -> None:
    """One engine gauged in the mountains and by the sea: the same engine, so nothing falls."""
    pressures = [29.92, 27.0, 24.9]
    values = [[150 * pressure / 29.92] for pressure in pressures]
    limits = [100 * pressure / 29.92 for pressure in pressures]
    assert (
        outlooks(history(tmp_path, visits(values, station_pressure=pressures, compression_min=limits))) == []
    )
    worn = [[value[0] * factor] for value, factor in zip(values, (1.0, 0.95, 0.9), strict=True)]
    (found,) = outlooks(history(tmp_path, visits(worn, station_pressure=pressures, compression_min=limits)))
    assert found.limit == pytest.approx(100, abs=0.01) and math.isfinite(found.high)


def test_a_fall_that_a_proven_repair_explains_is_no_open_point(tmp_path: Path) -> None:
    """Carbon cleaned out, proven on cylinder 1 alone: the others were not gauged again, and read less at the next visit."""
    values = [[150.0, 150.0], [149.0, 149.0], [185.0, 184.0], [148.0, 147.0]]
    kinds = list(contents(tmp_path, visits(values)).points["kind"])  # type: ignore[arg-type]
    assert FALLING in kinds
    cleaned = [[], [], [RepairFacts("carbon_deposits", "cleaned", PROVEN)], []]
    explained = contents(
        tmp_path, visits(values, repairs=cleaned, proof=["no repair", "no repair", PROVEN, "no repair"]), "b"
    )  # type: ignore[arg-type]
    assert FALLING not in list(explained.points["kind"])
    timing = [[], [], [RepairFacts("late_timing", "set", PROVEN)], []]
    still = contents(tmp_path, visits(values, repairs=timing), "c")  # type: ignore[arg-type]
    assert FALLING in list(still.points["kind"])
