"""The command `specs`: writing a specs book, or checking one."""

from __future__ import annotations

import argparse
from pathlib import Path

from workbook_tools.commands.command import UNIT_NAMES, Command, strict_option, units_option
from workbook_tools.commands.speech import DONE, OPEN, say
from workbook_tools.errors import BadRequest


def options(parser: argparse.ArgumentParser) -> None:
    """Arguments of `specs`."""
    parser.add_argument("book", type=Path, metavar="BOOK.xlsx", help="the book to write or to check")
    units_option(parser, "of a new book (default us)")
    strict_option(parser, "exit 1 when something in the book is wrong")


def run(asked: argparse.Namespace) -> int:
    """engine-check specs"""
    from workbook_tools.specs.book import read_specs
    from workbook_tools.specs.checks import specs_problems
    from workbook_tools.specs.sheet import write_specs_book

    if asked.book.suffix.lower() != ".xlsx":
        raise BadRequest(f"{asked.book}: a specs book is an .xlsx file; give a name that ends so.")
    if not asked.book.exists():
        units = asked.units or "us"
        write_specs_book(asked.book, units=units)
        say(
            f"{asked.book}: an empty specs book in {UNIT_NAMES[units]} units. One row an engine, on sheet Engines."
        )
        return DONE
    book = read_specs(asked.book)
    if asked.units is not None and asked.units != book.units:
        raise BadRequest(
            f"{asked.book} is there and is in {UNIT_NAMES[book.units]} units; leave --units out, or write a new book."
        )
    problems = specs_problems(book)
    for problem in problems:
        say(f"  {'?' if problem.is_doubt else '!'} {problem.message}")
    wrong = (
        f"{len(problems)} thing{'' if len(problems) == 1 else 's'} to look at"
        if problems
        else "nothing wrong found"
    )
    count = len(book.engines)
    say(
        f"{asked.book}: {count} engine{'' if count == 1 else 's'} in {UNIT_NAMES[book.units]} units, {wrong}."
    )
    return OPEN if asked.strict and problems else DONE


SPECS = Command(
    name="specs",
    help="write a specs book, or check one",
    description="Write an empty specs book (one row an engine), or check the one that is\nthere.",
    examples=("specs engines.xlsx",),
    options=options,
    run=run,
)
