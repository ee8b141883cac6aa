"""How long the commands take now and took at an earlier commit: `python -m tests.benchmarks.old_and_new OLD_CHECKOUT`.

Both sides are timed in turn on one machine, each against openpyxl with the forms of its own time: a form that has grown
meanwhile costs both. OLD_CHECKOUT is a folder with that commit (`git worktree add FOLDER COMMIT`).
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.report import compiled, machine, markdown

ROUNDS = 2
HERE = Path(__file__).resolve().parents[2]
#: What was aimed at, as a ratio of this side's own.
AIMS = {
    "check, usual form": "at most 0.25",
    "check, fullest sample": "at most 0.35",
    "process, start to result": "at most 1.3",
}


def side(checkout: Path, cache: Path) -> dict[str, tuple[float, float]]:
    """What one checkout measures."""
    environment = compiled(cache / checkout.name) | {"PYTHONPATH": str(checkout)}
    script = Path(__file__).with_name("one_side.py")
    with tempfile.TemporaryDirectory() as folder:
        run = subprocess.run(
            [sys.executable, str(script), str(checkout), folder],
            env=environment,
            cwd=folder,
            capture_output=True,
            text=True,
        )
    if run.returncode:
        sys.exit(f"{checkout}: {run.stderr}")
    return {name: (ratio, took) for name, (ratio, took) in json.loads(run.stdout).items()}


def main() -> None:
    """Print the table."""
    old = Path(sys.argv[1]).resolve()
    told = machine()
    with tempfile.TemporaryDirectory() as cache:
        rounds = [(side(old, Path(cache)), side(HERE, Path(cache))) for _ in range(ROUNDS)]
    lines = []
    for name in rounds[0][0]:
        before, now = (
            [statistics.median(each[at][name][part] for each in rounds) for part in (0, 1)] for at in (0, 1)
        )
        lines.append(
            (
                name,
                f"{before[0]:.2f}",
                f"{now[0]:.2f}",
                AIMS.get(name, ""),
                f"{before[1]:.3g} s",
                f"{now[1]:.3g} s",
                f"{now[1] / before[1]:.2f}",
            )
        )
    print(told)
    print()
    print(markdown(("measured", "ratio then", "ratio now", "aim", "then", "now", "now of then"), lines))


if __name__ == "__main__":
    main()
