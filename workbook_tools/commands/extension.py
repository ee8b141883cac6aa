"""The command `extension`: writing the extension for LibreOffice."""

from __future__ import annotations

import argparse
from pathlib import Path

from workbook_tools.commands.command import Command
from workbook_tools.commands.speech import DONE, say


def options(parser: argparse.ArgumentParser) -> None:
    """Arguments of `extension`."""
    parser.add_argument(
        "out", type=Path, metavar="OUT.oxt", help="the file to write, or a folder; open it with LibreOffice"
    )


def run(asked: argparse.Namespace) -> int:
    """engine-check extension"""
    from workbook_tools.office_extension.build import write_extension

    written = write_extension(asked.out)
    say(f"{written}: open it with LibreOffice and start that anew; then Engine check > Check this workbook.")
    return DONE


EXTENSION = Command(
    name="extension",
    help="write the extension for LibreOffice",
    description="Write an extension that checks the open workbook from inside LibreOffice.",
    examples=("extension engine-check.oxt",),
    options=options,
    run=run,
)
