"""What the commands say of themselves: help that fits a screen, examples that can be typed, errors in one sentence."""

from __future__ import annotations

import argparse
import shlex
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

import pytest

from workbook_tools.commands.program import main, parser
from workbook_tools.errors import EngineCheckError
from workbook_tools.generate.fill import fill_workbook
from workbook_tools.generate.workbook import new_workbook

#: A terminal as wide and high as it was on the first screens (common practice, no source), and two pages of it.
COLUMNS, LINES_OF_A_SCREEN, LINES_OF_A_COMMAND = 80, 24, 40


def commands() -> dict[str, argparse.ArgumentParser]:
    """The commands by name, and the program itself as ''."""
    top = parser()
    (choices,) = [each.choices for each in top._actions if isinstance(each.choices, dict)]
    return {"": top, **choices}


def help_of(name: str, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The lines of a command's help on a terminal of 80 characters."""
    monkeypatch.setenv("COLUMNS", str(COLUMNS))
    return commands()[name].format_help().splitlines()


def examples_in(lines: list[str]) -> list[str]:
    """The commands below `example:`, without the words beside them."""
    first = next(number for number, line in enumerate(lines) if line.startswith("example"))
    return [line.strip().partition("    ")[0] for line in lines[first + 1 :] if line.strip()]


@pytest.mark.parametrize("name", sorted(commands()))
def test_help_fits_a_screen(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """No line is wider than a screen; the program's help fits one, a command's fits forty lines."""
    lines = help_of(name, monkeypatch)
    assert max(map(len, lines)) <= COLUMNS
    assert len(lines) <= (LINES_OF_A_COMMAND if name else LINES_OF_A_SCREEN)


@pytest.mark.parametrize("name", sorted(commands()))
def test_help_gives_examples_that_can_be_typed(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each example is a command that the program understands; a command's own examples are of that command."""
    for example in examples_in(help_of(name, monkeypatch)):
        program, *arguments = shlex.split(example)
        assert program == "engine-check"
        assert parser().parse_args(arguments).command == (name or arguments[0])


@pytest.mark.parametrize("name", sorted(commands()))
def test_every_option_is_explained(name: str) -> None:
    """Each option and argument says what it is for."""
    for action in commands()[name]._actions:
        assert action.help or isinstance(action.choices, dict), action.option_strings or action.dest


@pytest.mark.parametrize(
    "arguments",
    [[], ["chek"], ["new"], ["new", "a.xlsx", "--cylinders", "four"], ["check", "--nothing", "a.xlsx"]],
)
def test_a_command_in_error_is_one_sentence(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """It names the command, says what is wrong and where help is, and ends with the status of what can't be used."""
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    told = capsys.readouterr().err
    assert ended.value.code == 2
    assert told.startswith("engine-check") and told.count("\n") == 1 and "--help shows" in told


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_completion_names_every_command(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The script for a shell knows the commands, and bash can read it."""
    pytest.importorskip("shtab")
    with pytest.raises(SystemExit) as ended:
        main(["--print-completion", shell])
    script = capsys.readouterr().out
    assert ended.value.code == 0
    assert all(name in script for name in commands())
    if shell == "bash" and Path("/bin/bash").exists():
        assert subprocess.run(["/bin/bash", "-n"], input=script.encode(), check=False).returncode == 0


def test_completion_without_its_library_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the library is not installed, the command says how to have it."""
    monkeypatch.setitem(sys.modules, "shtab", None)
    assert main(["--print-completion", "bash"]) == 2
    assert "pip install" in capsys.readouterr().err
    with pytest.raises(EngineCheckError):
        parser().parse_args(["--print-completion", "bash"])


def faulty(*_: object, **__: object) -> NoReturn:
    """A fault of the program itself, with words that mean nothing to a person."""
    raise KeyError("compression_dry_3")


@pytest.mark.parametrize("command", ["fill", "check", "check folder", "register"])
def test_a_fault_of_the_program_is_told_without_its_innards(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the program itself is wrong it says so in a sentence, with the place to report, and leaves the file alone."""
    (tmp_path / "jobs").mkdir()
    job = new_workbook(tmp_path / "jobs" / "job.xlsx", cylinders=1)
    fill_workbook(job, {"vehicle": "tractor"}, job)
    before = job.read_bytes()
    monkeypatch.setattr("workbook_tools.form.the_form.compute", faulty)
    asked = {
        "fill": ["fill", str(job), str(tmp_path / "r.csv"), "-o", str(job)],
        "check": ["check", str(job)],
        "check folder": ["check", str(job.parent), "--jobs", "1"],
        "register": ["register", str(job.parent), "--out", str(tmp_path / "r.xlsx")],
    }[command]
    (tmp_path / "r.csv").write_text("vehicle,truck\n", encoding="utf-8")
    assert main(asked) == 2
    told = capsys.readouterr().err
    assert "by a fault of this program (" in told and "please report it" in told
    assert "KeyError" not in told and "Traceback" not in told and "compression_dry_3" not in told
    assert job.read_bytes() == before


def test_output_that_nobody_reads_on_is_no_fault(tmp_path: Path) -> None:
    """A program that reads the first line of the output and goes away leaves no complaint."""
    folder = Path(__file__).parents[1] / "sample_workbooks" / "filled"
    checking = f'"{sys.executable}" -m workbook_tools check "{folder}" --json --out-dir "{tmp_path / "out"}"'
    done = subprocess.run(["/bin/sh", "-c", f"{checking} | head -c 1"], capture_output=True, check=False)
    assert b"fault" not in done.stderr and b"Traceback" not in done.stderr and b"Broken" not in done.stderr
