"""What the commands print for people on the way of a job: every line a sentence, a row of a table, or what was found."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.test_messages import NOT_FOR_PEOPLE
from workbook_tools.commands.program import main

SAMPLES = Path(__file__).parents[1] / "sample_workbooks" / "filled"
#: The head of one workbook's report, rows of the table of a folder, its title.
NO_SENTENCE = re.compile(
    r"^\S+\.xlsx( \(job .+\))?$|^…?\S+\.xlsx +\S+ +\d+ +\d+ +\d+  |^Workbook +Job +Findings"
)


def said(capsys: pytest.CaptureFixture[str], *arguments: object) -> list[str]:
    """The lines that a command prints for people; it must have done what was asked."""
    assert main([str(each) for each in arguments]) == 0, capsys.readouterr().err
    return capsys.readouterr().err.splitlines()


def test_what_is_printed_on_the_way_is_plain(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From the sample to the register, once and again, no line breaks off or has a word of a programmer's."""
    readings = tmp_path / "readings.csv"
    readings.write_text(
        "field,value\nvehicle,tractor\ntiming,8 psi\ncompression_dry_1,9;5\n", encoding="utf-8"
    )
    form, out, register = tmp_path / "form.xlsx", tmp_path / "out", tmp_path / "register.xlsx"
    way = (
        ("sample", out),
        ("new", form, "--cylinders", 1),
        ("fill", form, readings, "-o", tmp_path / "job.xlsx"),
        ("check", tmp_path / "job.xlsx"),
        ("check", out),
        ("check", out),
        ("register", out, "--out", register, "--csv", tmp_path / "csv"),
        ("register", out, "--out", register),
        ("specs", tmp_path / "engines.xlsx"),
        ("specs", tmp_path / "engines.xlsx"),
        ("reference", tmp_path / "docs"),
    )
    lines = [line for command in way for line in said(capsys, *command)]
    assert len(lines) > 40
    assert [line for line in lines if not line.endswith(".") and not NO_SENTENCE.search(line)] == []
    assert [line for line in lines if NOT_FOR_PEOPLE.search(re.sub("^ +| {2,}", " ", line).strip())] == []
