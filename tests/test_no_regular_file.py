"""A pipe, a device or a link to itself with the name of a workbook: named in a sentence, waited for by no command."""

from __future__ import annotations

import os
import resource
import signal
import sys
from pathlib import Path

import pytest

from tests.support.filled import shape_of
from tests.support.forms import blank_form
from workbook_tools.commands.program import main
from workbook_tools.package.intake import MOST_BYTES

COMMANDS = (
    ("check", "{it}"),
    ("check", "{it}", "--out-dir", "out"),
    ("check", "."),
    ("register", ".", "--out", "register.xlsx"),
    ("register", "jobs", "--out", "{it}"),
    ("fill", "{it}", "readings.csv", "-o", "out.xlsx"),
    ("specs", "{it}"),
    ("new", "new.xlsx", "--specs", "{it}", "--engine", "Four"),
    ("new", "new.xlsx", "--experience", "{it}"),
)


@pytest.mark.parametrize("kind", ["pipe", "device", "link to itself"])
@pytest.mark.parametrize("command", COMMANDS, ids=lambda each: " ".join(each))
def test_what_is_no_file_is_named(command: tuple[str, ...], kind: str, tmp_path: Path) -> None:
    """Each command ends at once, with a sentence, and does the other workbooks of the folder."""
    blank_form(tmp_path / "good.xlsx", shape_of(4))
    (tmp_path / "jobs").mkdir()
    (tmp_path / "readings.csv").write_text("field,value\n")
    it = tmp_path / "odd.xlsx"
    if kind == "pipe":
        os.mkfifo(it)
    else:
        it.symlink_to("/dev/zero" if kind == "device" else it.name)
    asked = [each.format(it=it.name) for each in command]
    status, said = in_a_process_of_its_own(asked, tmp_path)
    assert status == 2, said
    assert "fault of this program" not in said and "Traceback" not in said, said
    if "." in command:
        assert "odd.xlsx" in said and "Errno" not in said
        assert "1 workbook checked" in said or "1 blank form" in said


def in_a_process_of_its_own(command: list[str], folder: Path) -> tuple[int, str]:
    """Exit status of a command and what it said; one that waits, or takes memory without end, is ended by the system."""
    said = folder / "said.txt"
    child = os.fork()
    if child == 0:
        status = 99
        try:
            os.chdir(folder)
            signal.alarm(60)
            resource.setrlimit(resource.RLIMIT_AS, (2 * MOST_BYTES + _in_use(), resource.RLIM_INFINITY))
            sys.stderr = said.open("w", encoding="utf-8")
            status = main(command)
            sys.stderr.flush()
        finally:
            os._exit(status)
    _, ended = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(ended), said.read_text("utf-8")


def _in_use() -> int:
    """The bytes of address space that this process has."""
    return int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
