"""A pipe, a device or a link to itself with the name of a workbook: named in a sentence, waited for by no command."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from workbook_tools import new_workbook

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
    new_workbook(tmp_path / "good.xlsx")
    (tmp_path / "jobs").mkdir()
    (tmp_path / "readings.csv").write_text("field,value\n")
    it = tmp_path / "odd.xlsx"
    if kind == "pipe":
        os.mkfifo(it)
    else:
        it.symlink_to("/dev/zero" if kind == "device" else it.name)
    asked = [each.format(it=it.name) for each in command]
    ended = subprocess.run(
        [sys.executable, "-m", "workbook_tools", *asked],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ended.returncode == 2, ended
    assert "fault of this program" not in ended.stderr and "Traceback" not in ended.stderr, ended.stderr
    if "." in command:
        assert "odd.xlsx" in ended.stderr and "Errno" not in ended.stderr
        assert "1 workbook checked" in ended.stderr or "1 blank form" in ended.stderr
