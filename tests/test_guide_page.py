"""docs/guide.md: every number of its worked example is what the guide makes of that engine today."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from tests.support.filled import defaults, shape_of
from tests.support.guide_play import case_of
from tests.support.known_engines import engine
from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.guide import next_steps
from workbook_tools.guide.fits import (
    FITTING,
    FITTING_FIRST,
    ROW,
    SUSPECTS,
    TABLE_IS_WORTH,
    chances,
    common,
    fitting,
    ratios,
)
from workbook_tools.guide.tests import BY_NAME, PLACE

PAGE = (Path(__file__).parents[1] / "docs" / "guide.md").read_text(encoding="utf-8")
EXAMPLE = PAGE[PAGE.index("## A worked example") :]
LIGHT = BY_NAME["timing by the light"]


@pytest.fixture(scope="module")
def case() -> Case:
    """The engine of the example: readiness and the vacuum gauge read."""
    shape = shape_of(4)
    readings = engine("late_timing", shape, random.Random(1))
    typed = {
        name: each for name, each in readings.items() if name.startswith("spec_") or name == "ignition_type"
    }
    for test in ("readiness", "idle vacuum"):
        typed |= {name: readings[name] for name in BY_NAME[test].fields}
    return case_of(shape, {**defaults(shape), **typed, "complaint": "lacks power"})


def rows(columns: int) -> list[list[str]]:
    """The rows of the example's table with so many columns, without the code marks."""
    found = [line.strip("|").split("|") for line in EXAMPLE.splitlines() if line.startswith("| `")]
    return [[cell.strip().strip("`") for cell in row] for row in found if len(row) == columns]


def test_the_suspects_of_the_table(case: Case) -> None:
    """The six that fit best, with how their weights come about."""
    printed = rows(6)
    assert len(printed) == 6
    best = sorted(SUSPECTS, key=lambda each: -(case.number("suspect_share", ROW[each]) or 0))[:6]
    assert [row[0] for row in printed] == best
    for cause, made_of, ready, steady, weight, share in printed:
        assert made_of == f"{common(cause):g} × {fitting(cause, 'lacks power'):g}"
        idle = BY_NAME["idle vacuum"]
        assert (ready, steady) == tuple(
            f"{each:g}"
            for each in (
                ratios(cause, BY_NAME["readiness"])[0],
                ratios(cause, idle)[idle.outcome("steady, low") - 1],
            )
        )
        row = ROW[cause]
        assert (weight, share) == (
            f"{case.number('suspect_weight', row):.1f}",
            f"{case.number('suspect_share', row):.4f}",
        )


def test_the_tests_of_the_table(case: Case) -> None:
    """What each tells, what it costs, and that the first of them comes next."""
    printed = rows(4)
    assert len(printed) == 5
    for name, tells, minutes, worth in printed:
        place = PLACE[name]
        told, cost = case.number("test_tells", place) or 0.0, case.number("test_minutes", place) or 1.0
        assert (tells, minutes, worth) == (f"{told:.4f}", f"{cost:g}", f"{told / cost:.4f}")
    assert next_steps(case, ())[0].test == printed[0][0]


def test_the_figures_in_the_text(case: Case) -> None:
    """Chances, weights and what the page says of the factors."""
    expected = [
        sum(
            (case.number("suspect_share", ROW[each]) or 0.0) * chances(each, LIGHT)[outcome]
            for each in SUSPECTS
        )
        for outcome in range(len(LIGHT.outcomes))
    ]
    total = sum(case.number("suspect_weight", ROW[each]) or 0.0 for each in SUSPECTS)
    told = {f"{each:.4f}" for each in expected} | {f"{total:.1f}"}
    words = " ".join(PAGE.split())
    assert told <= set(re.findall(r"\d+\.\d+", words))
    assert f"times {FITTING_FIRST:g} where" in words and f"times {FITTING:g} where" in words
    assert f"counts for {TABLE_IS_WORTH:g} jobs" in words
    for factor in re.findall(r"\d[\d.]*(?: [×÷] \d[\d.]*)+ = \d[\d.]*", words):
        made, result = factor.split(" = ")
        value = eval(made.replace("×", "*").replace("÷", "/"))  # noqa: S307
        assert value == pytest.approx(float(result.rstrip(".")), rel=1e-3), factor
