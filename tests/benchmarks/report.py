"""What the benchmarks share: rows of a Markdown table, and the machine they were measured on."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

MEASURED_WITH = ("openpyxl", "XlsxWriter", "lxml")


@dataclass(frozen=True)
class Row:
    """One measured ratio: the two figures it is made of, their unit, and the aim in words ('' for none)."""

    what: str
    ratio: float
    ours: float
    other: float
    unit: str = "s"
    aim: str = ""


def table(rows: Iterable[Row], ours: str, other: str) -> str:
    """The rows as a Markdown table; `ours` and `other` head the two columns of figures."""
    lines = [
        (row.what, f"{row.ratio:.2f}", row.aim, _figure(row.ours, row.unit), _figure(row.other, row.unit))
        for row in rows
    ]
    return markdown(("measured", "ratio", "aim", ours, other), lines)


def markdown(head: Sequence[str], lines: Iterable[Sequence[str]]) -> str:
    """A Markdown table, figures (all columns but the first) to the right."""
    marks = ["---", *("---:" for _ in head[1:])]
    return "\n".join(f"| {' | '.join(line)} |" for line in (head, marks, *lines))


def _figure(value: float, unit: str) -> str:
    decimals = 3 if value < 1 else 2 if value < 100 else 0
    return f"{value:.{decimals}f} {unit}"


def machine() -> str:
    """One sentence on where a table was measured, and how busy the machine was when it began."""
    libraries = ", ".join(f"{name} {version(name)}" for name in MEASURED_WITH)
    return (
        f"Measured on {os.cpu_count()} cores ({platform.system()}, {platform.machine()}), Python "
        f"{platform.python_version()}, {libraries}; load before the run {os.getloadavg()[0]:.1f}."
    )


def compiled(cache: Path) -> dict[str, str]:
    """The environment of a process that keeps its compiled modules in `cache`, as an installed program has them.

    Without it, a checkout that may not write beside its sources would be compiled anew in every process, and the
    libraries it is compared with would not.
    """
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": str(cache)}
