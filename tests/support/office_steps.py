"""A day's work in a LibreOffice of its own: what a person does there one step after the other, taken in one run.

    take_steps([["open", "job.xlsx"], ["enter", "idle_speed", 600], ["save"]], folder)

The steps are the methods of `Steps` in `office_steps_session.py`, which runs in an interpreter that has `uno`.
"""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.support.office import PYTHON_VARIABLES, find_program, find_python

SESSION = Path(__file__).with_name("office_steps_session.py")
SECONDS = 240.0
#: No program of ours is on it, so that the search path of whoever runs the tests does not matter.
SEARCH_PATH = ("/usr/bin", "/bin")


def take_steps(
    steps: Sequence[Sequence[Any]], folder: Path, environment: Mapping[str, str] | None = None
) -> list[Any]:
    """What each step gave; the profile in `folder`, if there is one, is used, and is removed in the end."""
    kept = {name: value for name, value in os.environ.items() if name not in PYTHON_VARIABLES}
    ran = subprocess.run(
        [str(find_python()), str(SESSION), str(find_program()), str(folder)],
        input=json.dumps(steps).encode(),
        env={**kept, "LC_ALL": "C.UTF-8", "PATH": os.pathsep.join(SEARCH_PATH), **(environment or {})},
        capture_output=True,
        timeout=SECONDS,
    )
    assert ran.returncode == 0, ran.stderr.decode()
    return list(json.loads(ran.stdout))
