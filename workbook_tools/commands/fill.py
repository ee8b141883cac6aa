"""The command `fill`: filling a form from a list."""

from __future__ import annotations

import argparse
from pathlib import Path

from workbook_tools.commands.command import Command
from workbook_tools.commands.speech import DONE, say


def options(parser: argparse.ArgumentParser) -> None:
    """Arguments of `fill`."""
    parser.add_argument("form", type=Path, metavar="FORM.xlsx", help="stays as it is")
    parser.add_argument(
        "readings", type=Path, metavar="READINGS.csv", help="names are those of docs/fields.md"
    )
    parser.add_argument("-o", "--out", type=Path, required=True, metavar="OUT.xlsx", help="the filled copy")


def run(asked: argparse.Namespace) -> int:
    """engine-check fill"""
    from workbook_tools.generate.fill import fill_workbook

    count = fill_workbook(asked.form, asked.readings, asked.out)
    say(f"{asked.out}: {count} cells filled.")
    return DONE


FILL = Command(
    name="fill",
    help="fill a form from a list",
    description="Fill a form from a CSV of field,value rows.",
    examples=("fill job-117.xlsx readings.csv -o job-117-filled.xlsx",),
    options=options,
    run=run,
)
