"""Running the installed `engine-check` on a copy of the open workbook. Standard library only, Python 3.8 or later.

run_check(copy, findings, "job-117.xlsx")     the findings are there, or CheckFailed says why not
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
from pathlib import Path
from typing import Callable, Dict, Iterator, List, Mapping, Tuple

#: A check takes seconds; a program that hangs must not hang LibreOffice with it.
MOST_SECONDS = 120.0
#: Written by the build: how this installation of ours is started.
INSTALLED = Path(__file__).with_name("installed.json")
PROGRAM = "engine-check"
DONE, UNUSABLE = 0, 2
#: LibreOffice sets these for its own Python; ours would not start with them.
NOT_FOR_OURS = ("PYTHONHOME", "PYTHONPATH", "PYTHONSTARTUP")
LONGEST_SENTENCE = 700
NOT_INSTALLED = (
    "engine-check was not found, neither where it was when this extension was made ({place}) nor on the search path. "
    "Install it again, and make the extension anew with engine-check extension."
)


class CheckFailed(Exception):
    """What kept a check from being done, in a sentence for the user."""


def run_check(
    copy: str,
    findings: str,
    title: str,
    *,
    meanwhile: Callable[[], None] = lambda: None,
    seconds: float = MOST_SECONDS,
    installed: Path = INSTALLED,
    environment: Mapping[str, str] = os.environ,
) -> None:
    """Check a workbook by the first program of ours that can be started, and have its findings written apart.

    `meanwhile` writes the workbook: the program loads itself in that time, and gets the name when that is done. `title` stands
    for the copy's path in what is said. Raises CheckFailed where none can be started, where the workbook was refused, and
    where it took longer than `seconds`; and what `meanwhile` raises.
    """
    write = _Once(meanwhile)
    for command, more in ways_to_start(installed, environment):
        ours = {name: value for name, value in environment.items() if name not in NOT_FOR_OURS}
        status, told = _run(
            [*command, "check", "--jobs", "1", "--apart", findings, "-"],
            {**ours, **more},
            copy,
            seconds,
            write,
        )
        if status == DONE:
            return
        if status == UNUSABLE:
            raise CheckFailed(sentence_of(told, copy, title))
        if status is not None and "No module named" not in told:
            raise CheckFailed(
                f"engine-check ended without a result ({status}); try again, and report it if it stays so."
            )
    raise CheckFailed(NOT_INSTALLED.format(place=_read(installed).get("command", ["nowhere"])[0]))


class _Once:
    """Something that is done at the first call alone."""

    def __init__(self, act: Callable[[], None]) -> None:
        self.act, self.done = act, False

    def __call__(self) -> None:
        if not self.done:
            self.act()
            self.done = True


def ways_to_start(
    installed: Path, environment: Mapping[str, str]
) -> Iterator[Tuple[List[str], Dict[str, str]]]:
    """Commands to try in turn, each with what its environment needs: where the build found us, then the search path."""
    baked = _read(installed)
    spoken = {"PYTHONIOENCODING": "utf-8"}
    if baked:
        folder = {"PYTHONPATH": baked["python_path"]} if baked["python_path"] else {}
        yield list(baked["command"]), {**spoken, **folder}
    for place in environment.get("PATH", "").split(os.pathsep):
        for name in (PROGRAM, f"{PROGRAM}.exe"):
            # A relative folder of the search path would mean whatever folder LibreOffice happens to be in.
            if os.path.isabs(place) and os.path.isfile(os.path.join(place, name)):
                yield [os.path.join(place, name)], spoken


def sentence_of(told: str, copy: str, title: str) -> str:
    """What the program said of a workbook that it refused, with the workbook's own title."""
    lines = [line.strip() for line in told.splitlines() if line.strip()]
    refusals = [line[len(PROGRAM) + 2 :] for line in lines if line.startswith(f"{PROGRAM}: ")]
    said = " ".join(refusals or lines[-1:]).replace(copy, title)
    return (
        said[:LONGEST_SENTENCE]
        or "The workbook was refused without a word; check it with engine-check check."
    )


def _read(installed: Path) -> dict:
    try:
        return json.loads(installed.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}


def _run(
    command: List[str], environment: Dict[str, str], copy: str, seconds: float, write: Callable[[], None]
) -> Tuple[int | None, str]:
    """Exit status and what was said; None where there is no such program, or it may not be started."""
    windows = os.name == "nt"
    try:
        # A list of arguments and no shell: nothing of a path is ever read as a command.
        running = subprocess.Popen(
            command,
            env=environment,
            cwd=os.path.dirname(copy),
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            start_new_session=not windows,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    except OSError:
        return None, ""
    try:
        write()
        _, told = running.communicate(f"{copy}\n".encode("utf-8"), timeout=seconds)
    except BaseException as problem:
        if windows:
            running.kill()
        else:
            os.killpg(running.pid, signal.SIGKILL)  # and what it started
        running.communicate()
        if not isinstance(problem, subprocess.TimeoutExpired):
            raise
        raise CheckFailed(
            f"engine-check did not finish within {seconds:g} seconds and was stopped; try again."
        ) from None
    return running.returncode, told.decode("utf-8", "replace")
