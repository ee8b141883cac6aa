"""The lowest versions that pyproject.toml allows, as pip is told of them: `python -m tests.support.lowest_versions`."""

from __future__ import annotations

import tomllib
from pathlib import Path

PROJECT = Path(__file__).parents[2] / "pyproject.toml"


def lowest_versions() -> list[str]:
    """Each library of the core at the lowest version that it may have; fails for one that names none."""
    needed = tomllib.loads(PROJECT.read_text("utf-8"))["project"]["dependencies"]
    split = [each.split(">=") for each in needed]
    assert all(len(parts) == 2 for parts in split), "each library is to be given as name>=version"
    return [f"{name}=={version}" for name, version in split]


if __name__ == "__main__":
    print(*lowest_versions(), sep="\n")
