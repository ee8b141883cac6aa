"""The command `watch`: checking workbooks as they are saved."""

from __future__ import annotations

import argparse

from workbook_tools.commands.command import Command, folder_argument, specs_option
from workbook_tools.commands.speech import DONE, say


def options(parser: argparse.ArgumentParser) -> None:
    """Arguments of `watch`."""
    folder_argument(parser, "where the job workbooks are")
    specs_option(parser)


def run(asked: argparse.Namespace) -> int:
    """engine-check watch"""
    from workbook_tools.checking.watch import watch
    from workbook_tools.specs.book import read_specs

    try:
        watch(asked.folder, say, specs=read_specs(asked.specs) if asked.specs else None)
    except KeyboardInterrupt:
        say("Stopped watching.")
    return DONE


WATCH = Command(
    name="watch",
    help="check workbooks as they are saved",
    description="Check each workbook below a folder when it is saved. While a program has it\n"
    "open, its findings go into a copy in the folder `checked` beside it.",
    examples=("watch jobs",),
    options=options,
    run=run,
)
