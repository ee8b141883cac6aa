"""The command `register`: writing the register of a folder of jobs."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from workbook_tools.commands.command import Command, folder_argument, jobs_option
from workbook_tools.commands.speech import DONE, UNUSABLE, say


def options(parser: argparse.ArgumentParser) -> None:
    """Arguments of `register`."""
    folder_argument(parser, "where the jobs are")
    parser.add_argument(
        "--out", type=Path, required=True, metavar="REGISTER.xlsx", help="your own columns in it are kept"
    )
    parser.add_argument(
        "--store", metavar="FILE-OR-URL", help="where the jobs are kept (default: a file beside the register)"
    )
    parser.add_argument(
        "--shop", default="", metavar="NAME", help="whose jobs these are, in a store that shops share"
    )
    parser.add_argument("--all-shops", action="store_true", help="list the jobs of every shop in the store")
    parser.add_argument(
        "--forget",
        action="append",
        default=[],
        metavar="NUMBER",
        help="drop this job, whose file is gone; may stand several times",
    )
    parser.add_argument(
        "--forget-missing", action="store_true", help="drop all jobs whose files are gone, even when most are"
    )
    parser.add_argument(
        "--keep-missing",
        action="store_true",
        help="go on with a folder in which none of the register's jobs is found, and keep them",
    )
    parser.add_argument("--csv", type=Path, metavar="DIR", help="write the tables as CSV files too")
    jobs_option(parser, "files read at a time")


def run(asked: argparse.Namespace) -> int:
    """engine-check register"""
    from workbook_tools.register.make import make_register
    from workbook_tools.register.words import progress_line, told_in_words

    on_terminal = sys.stderr.isatty()
    made = make_register(
        asked.folder,
        asked.out,
        store=asked.store,
        csv_dir=asked.csv,
        shop=asked.shop,
        every_shop=asked.all_shops,
        forget_missing=asked.forget_missing,
        forget=asked.forget,
        keep_missing=asked.keep_missing,
        jobs=asked.jobs,
        progress=progress_line if on_terminal else None,
    )
    say(told_in_words(made))
    return UNUSABLE if made.unusable else DONE


REGISTER = Command(
    name="register",
    help="write the register of a folder of jobs",
    description="Write one workbook with all jobs below a folder: jobs, open points, findings,\nengines, months, causes.",
    examples=("register jobs --out register.xlsx --csv tables",),
    options=options,
    run=run,
)
