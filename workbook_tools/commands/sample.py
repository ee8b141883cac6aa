"""The command `sample`: writing the sample jobs and checking them."""

from __future__ import annotations

import argparse

from workbook_tools.commands.check import check_files
from workbook_tools.commands.command import Command, folder_argument
from workbook_tools.commands.speech import say


def options(parser: argparse.ArgumentParser) -> None:
    """Arguments of `sample`."""
    folder_argument(parser, "made where it is missing", "DIR")


def run(asked: argparse.Namespace) -> int:
    """engine-check sample"""
    from workbook_tools.commands.sample_jobs import write_sample

    files = write_sample(asked.folder)
    say(f"{len(files)} invented sample jobs written to {asked.folder}.")
    return check_files(files, out_dir=asked.folder / "checked")


SAMPLE = Command(
    name="sample",
    help="write the sample jobs and check them",
    description="Write the invented sample jobs and check them.",
    examples=("sample out",),
    options=options,
    run=run,
)
