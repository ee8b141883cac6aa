"""The command `reference`: writing the field and rule reference."""

from __future__ import annotations

import argparse

from workbook_tools.commands.command import Command, folder_argument
from workbook_tools.commands.speech import DONE, say


def options(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reference`."""
    folder_argument(parser, "made where it is missing", "DIR")


def run(asked: argparse.Namespace) -> int:
    """engine-check reference"""
    from workbook_tools.commands.reference_pages import write_reference

    for path in write_reference(asked.folder):
        say(f"{path} written.")
    return DONE


REFERENCE = Command(
    name="reference",
    help="write field and rule reference",
    description="Write the field and rule reference as Markdown.",
    examples=("reference docs",),
    options=options,
    run=run,
)
