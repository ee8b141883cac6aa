"""Files dropped on the command, and the workbook opened after its check."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest
from openpyxl import load_workbook

from workbook_tools import new_workbook
from workbook_tools.commands.program import main, with_command


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """What would be started, and is not."""
    started: list[list[str]] = []
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setattr("shutil.which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(subprocess, "Popen", lambda command, **_: started.append(command))
    return started


def test_files_alone_are_checked(tmp_path: Path) -> None:
    """A file, or a folder, given without a command is checked, as when it is dropped on the program."""
    (tmp_path / "jobs").mkdir()
    file = new_workbook(tmp_path / "jobs" / "a.xlsx", cylinders=1)
    assert main([str(file)]) == 0
    assert "Findings" in load_workbook(file, read_only=True).sheetnames
    other = new_workbook(tmp_path / "jobs" / "b.xlsx", cylinders=1)
    assert main([str(tmp_path / "jobs")]) == 0
    assert "Findings" in load_workbook(other, read_only=True).sheetnames


def test_commands_come_before_files_of_their_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that is called like a command does not take its place; what is no file goes to the parser as it is."""
    monkeypatch.chdir(tmp_path)
    Path("sample").touch()
    Path("job.xlsx").touch()
    assert with_command(["sample", "job.xlsx"]) == ["sample", "job.xlsx"]
    assert with_command(["job.xlsx", "sample"]) == ["check", "job.xlsx", "sample"]
    for other in (["job.xls"], ["job.xlsx", "--strict"], ["-h"], [], ["x" * 5000], ["a\0b"]):
        assert with_command(other) == other


def test_the_checked_workbook_is_opened(tmp_path: Path, opened: list[list[str]]) -> None:
    """With --open the file that has the findings is opened, by its whole path; the copy where one was asked for."""
    file = new_workbook(tmp_path / "a.xlsx", cylinders=1)
    assert main(["check", str(file), "--open"]) == 0
    assert main(["check", str(file), "--open", "--out-dir", str(tmp_path / "out")]) == 0
    assert opened == [
        ["/usr/bin/xdg-open", str(file.resolve())],
        ["/usr/bin/xdg-open", str((tmp_path / "out" / "a.xlsx").resolve())],
    ]
    assert all(os.path.isabs(command[1]) for command in opened)


def test_an_unusable_file_is_not_opened(tmp_path: Path, opened: list[list[str]]) -> None:
    """Nothing is opened where nothing was checked."""
    (tmp_path / "a.xlsx").write_bytes(b"no workbook")
    assert main(["check", str(tmp_path / "a.xlsx"), "--open"]) == 2
    assert opened == []
