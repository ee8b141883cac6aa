"""A share of the broken workbooks of `tests/attack/mutants.py`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.attack.mutants import attack


@pytest.mark.parametrize("seed", [10_000, 20_000])
def test_broken_workbooks_are_refused_or_checked(seed: int, tmp_path: Path) -> None:
    """Each broken workbook is refused in one sentence or checked, within limits of time, and never spoiled."""
    came_of, wrong = attack(20, seed, tmp_path)
    assert wrong == []
    assert came_of["refused"] > 3 and came_of["checked"] > 0
