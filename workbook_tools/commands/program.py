"""The command line: it reads what was asked, calls the library, and says in plain words what came of it.

Results for programs go to standard output, words for people to standard error. Exit 0 done, 1 with --strict when a
finding or discrepancy is open, 2 a file could not be used.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from workbook_tools import __version__
from workbook_tools.commands.check import DONE, INTERRUPTED, OPEN, UNUSABLE, check_files, say
from workbook_tools.commands.help import EXAMPLES, EXAMPLES_OF, CommandParser, PrintCompletion
from workbook_tools.errors import BadRequest, EngineCheckError, fault_of_ours

UNIT_NAMES = {"us": "US", "metric": "metric"}


def parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    top = CommandParser(
        prog="engine-check",
        description="Engine-check workbooks: write the form, find the fault, prove the repair.",
        epilog=EXAMPLES,
        add_help=False,
    )
    # These two stand in the line of usage; the screen is for the commands.
    top.add_argument("-h", "--help", action="help", help=argparse.SUPPRESS)
    version = f"engine-check {__version__}"
    top.add_argument("--version", action="version", version=version, help=argparse.SUPPRESS)
    top.add_argument("--print-completion", action=PrintCompletion, help=argparse.SUPPRESS)
    commands = top.add_subparsers(
        dest="command", required=True, title="commands (COMMAND --help tells more)", metavar="COMMAND"
    )

    new = commands.add_parser(
        "new", help="write an empty form", description="Write an empty form for one engine."
    )
    new.add_argument("out", type=Path, metavar="OUT.xlsx", help="the form to write")
    new.add_argument(
        "--engine",
        metavar="NAME",
        help="an engine of the specs book: its cylinders and figures are filled in",
    )
    new.add_argument("--specs", type=Path, metavar="BOOK.xlsx", help="the specs book")
    new.add_argument("--cylinders", type=int, metavar="N", help="1 to 16 (default 4)")
    new.add_argument("--banks", help='front to rear, one group a bank: "1-3-5-7 | 2-4-6-8"')
    new.add_argument("--firing-order", metavar="ORDER", help='as it fires: "1-3-4-2"')
    new.add_argument("--units", choices=("us", "metric"), help="default us, or those of the specs book")
    new.add_argument(
        "--currency", default="$", metavar="SIGN", help="sign before amounts of money (default $)"
    )
    new.add_argument(
        "--tests", metavar="NAMES", help="a short form with these sheets of tests only: vacuum,compression"
    )
    new.add_argument("--job", metavar="NUMBER", help="job number, filled in")
    new.set_defaults(run=run_new)

    specs = commands.add_parser(
        "specs",
        help="write a specs book, or check one",
        description="Write an empty specs book (one row an engine), or check the one that is\nthere.",
    )
    specs.add_argument("book", type=Path, metavar="BOOK.xlsx", help="the book to write or to check")
    specs.add_argument("--units", choices=("us", "metric"), help="of a new book (default us)")
    specs.add_argument("--strict", action="store_true", help="exit 1 when something in the book is wrong")
    specs.set_defaults(run=run_specs)

    fill = commands.add_parser(
        "fill", help="fill a form from a list", description="Fill a form from a CSV of field,value rows."
    )
    fill.add_argument("form", type=Path, metavar="FORM.xlsx", help="stays as it is")
    fill.add_argument("readings", type=Path, metavar="READINGS.csv", help="names are those of docs/fields.md")
    fill.add_argument("-o", "--out", type=Path, required=True, metavar="OUT.xlsx", help="the filled copy")
    fill.set_defaults(run=run_fill)

    check = commands.add_parser(
        "check",
        help="check filled workbooks",
        description="Check filled workbooks, and all below folders, and add a findings sheet to each.",
    )
    check.add_argument(
        "files", type=Path, nargs="+", metavar="FILE-OR-FOLDER", help="workbooks, or folders of them"
    )
    check.add_argument(
        "--out-dir", type=Path, metavar="DIR", help="write checked copies there, leave the files as they are"
    )
    check.add_argument(
        "--specs", type=Path, metavar="BOOK.xlsx", help="hold the engines against this specs book"
    )
    check.add_argument(
        "--again",
        action="store_true",
        help="in folders, check workbooks too that are unchanged since the last check",
    )
    check.add_argument(
        "--jobs",
        type=int,
        default=os.cpu_count() or 1,
        metavar="N",
        help="workbooks at a time (default: one a core)",
    )
    check.add_argument(
        "--json", action="store_true", help="one object a workbook, one a line, on standard output"
    )
    check.add_argument("--open", action="store_true", help="open the one workbook that was checked")
    check.add_argument("--strict", action="store_true", help="exit 1 when a finding or discrepancy is open")
    check.set_defaults(run=run_check)

    watch = commands.add_parser(
        "watch",
        help="check workbooks as they are saved",
        description="Check each workbook below a folder when it is saved. While a program has it\n"
        "open, its findings go into a copy in the folder `checked` beside it.",
    )
    watch.add_argument("folder", type=Path, metavar="FOLDER", help="where the job workbooks are")
    watch.add_argument(
        "--specs", type=Path, metavar="BOOK.xlsx", help="hold the engines against this specs book"
    )
    watch.set_defaults(run=run_watch)

    extension = commands.add_parser(
        "extension",
        help="write the extension for LibreOffice",
        description="Write an extension that checks the open workbook from inside LibreOffice.",
    )
    extension.add_argument(
        "out", type=Path, metavar="OUT.oxt", help="the file to write, or a folder; open it with LibreOffice"
    )
    extension.set_defaults(run=run_extension)

    register = commands.add_parser(
        "register",
        help="write the register of a folder of jobs",
        description="Write one workbook with all jobs below a folder: jobs, open points, findings,\nengines, months, causes.",
    )
    register.add_argument("folder", type=Path, metavar="FOLDER", help="where the jobs are")
    register.add_argument(
        "--out", type=Path, required=True, metavar="REGISTER.xlsx", help="your own columns in it are kept"
    )
    register.add_argument(
        "--store", metavar="FILE-OR-URL", help="where the jobs are kept (default: a file beside the register)"
    )
    register.add_argument(
        "--shop", default="", metavar="NAME", help="whose jobs these are, in a store that shops share"
    )
    register.add_argument("--all-shops", action="store_true", help="list the jobs of every shop in the store")
    register.add_argument(
        "--forget-missing", action="store_true", help="drop jobs whose files are gone, even when most of them are"
    )
    register.add_argument("--csv", type=Path, metavar="DIR", help="write the tables as CSV files too")
    register.add_argument(
        "--jobs", type=int, default=os.cpu_count() or 1, metavar="N", help="files read at a time"
    )
    register.set_defaults(run=run_register)

    sample = commands.add_parser(
        "sample",
        help="write the sample jobs and check them",
        description="Write the invented sample jobs and check them.",
    )
    sample.add_argument("folder", type=Path, metavar="DIR", help="made where it is missing")
    sample.set_defaults(run=run_sample)

    docs = commands.add_parser(
        "reference",
        help="write field and rule reference",
        description="Write the field and rule reference as Markdown.",
    )
    docs.add_argument("folder", type=Path, metavar="DIR", help="made where it is missing")
    docs.set_defaults(run=run_reference)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status says how it went."""
    try:
        asked = parser().parse_args(with_command(sys.argv[1:] if arguments is None else arguments))
        return asked.run(asked)
    except EngineCheckError as problem:
        say(f"engine-check: {problem}")
        return UNUSABLE
    except KeyboardInterrupt:
        say("engine-check: interrupted; every file is as it was, or whole and new.")
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has seen enough; what is still to be flushed goes nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as problem:
        if sys.flags.dev_mode:
            raise
        say(f"engine-check: it could not be done, {fault_of_ours(problem)}.")
        return UNUSABLE


def with_command(arguments: Sequence[str]) -> list[str]:
    """The arguments, with `check` before files and folders alone: what is dropped on the program is checked."""
    only_paths = bool(arguments) and all(not each.startswith("-") and os.path.exists(each) for each in arguments)
    return ["check", *arguments] if only_paths and arguments[0] not in EXAMPLES_OF else list(arguments)


def run_new(asked: argparse.Namespace) -> int:
    """engine-check new"""
    from workbook_tools.generate.short_form import sheets_for
    from workbook_tools.generate.workbook import new_workbook

    if asked.out.suffix.lower() != ".xlsx":
        raise BadRequest(f"{asked.out}: a form is written as .xlsx; give a name that ends so.")
    if asked.out.exists():
        raise BadRequest(
            f"{asked.out} is there already, maybe with readings in it; give another name, or move that file."
        )
    if asked.engine is not None or asked.specs is not None:
        return new_for_engine(asked)
    cylinders, units = 4 if asked.cylinders is None else asked.cylinders, asked.units or "us"
    new_workbook(
        asked.out,
        cylinders=cylinders,
        banks=asked.banks,
        firing_order=asked.firing_order,
        units=units,
        currency=asked.currency,
        job_number=asked.job,
        sheets=asked.tests and sheets_for(asked.tests),
    )
    say_new(asked.out, f"{cylinders} cylinder{'s' if cylinders > 1 else ''}, {UNIT_NAMES[units]} units")
    return DONE


def new_for_engine(asked: argparse.Namespace) -> int:
    """engine-check new --engine --specs"""
    from workbook_tools.generate.short_form import sheets_for
    from workbook_tools.specs.book import read_specs
    from workbook_tools.specs.checks import new_from_specs

    if asked.engine is None or asked.specs is None:
        raise BadRequest(
            "A form for an engine of the specs book needs both: --engine NAME --specs BOOK.xlsx."
        )
    book = read_specs(asked.specs)
    engine = new_from_specs(
        asked.out,
        book,
        asked.engine,
        cylinders=asked.cylinders,
        banks=asked.banks,
        firing_order=asked.firing_order,
        units=asked.units,
        currency=asked.currency,
        job_number=asked.job,
        sheets=asked.tests and sheets_for(asked.tests),
    )
    say_new(asked.out, f"{engine.name}, {UNIT_NAMES[asked.units or book.units]} units")
    return DONE


def say_new(out: Path, what: str) -> None:
    """What form was written, and where to begin."""
    say(f"{out}: a form for {what}. Start on sheet Job.")


def run_specs(asked: argparse.Namespace) -> int:
    """engine-check specs"""
    from workbook_tools.specs.book import read_specs
    from workbook_tools.specs.checks import specs_problems
    from workbook_tools.specs.sheet import write_specs_book

    if asked.book.suffix.lower() != ".xlsx":
        raise BadRequest(f"{asked.book}: a specs book is an .xlsx file; give a name that ends so.")
    if not asked.book.exists():
        units = asked.units or "us"
        write_specs_book(asked.book, units=units)
        say(f"{asked.book}: an empty specs book in {UNIT_NAMES[units]} units. One row an engine, on sheet Engines.")
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
    say(f"{asked.book}: {count} engine{'' if count == 1 else 's'} in {UNIT_NAMES[book.units]} units, {wrong}.")
    return OPEN if asked.strict and problems else DONE


def run_fill(asked: argparse.Namespace) -> int:
    """engine-check fill"""
    from workbook_tools.generate.fill import fill_workbook

    count = fill_workbook(asked.form, asked.readings, asked.out)
    say(f"{asked.out}: {count} cells filled.")
    return DONE


def run_check(asked: argparse.Namespace) -> int:
    """engine-check check"""
    from workbook_tools.commands.desktop import open_file

    if asked.open and (len(asked.files) > 1 or asked.files[0].is_dir()):
        raise BadRequest("Only one workbook can be opened after the check; name it alone, or leave --open out.")
    status = check_files(
        asked.files,
        out_dir=asked.out_dir,
        as_json=asked.json,
        strict=asked.strict,
        again=asked.again,
        jobs=asked.jobs,
        specs=asked.specs,
    )
    if asked.open and status != UNUSABLE:
        (file,) = asked.files
        open_file(asked.out_dir / file.name if asked.out_dir else file)
    return status


def run_watch(asked: argparse.Namespace) -> int:
    """engine-check watch"""
    from workbook_tools.checking.watch import watch
    from workbook_tools.specs.book import read_specs

    try:
        watch(asked.folder, say, specs=read_specs(asked.specs) if asked.specs else None)
    except KeyboardInterrupt:
        say("Stopped watching.")
    return DONE


def run_extension(asked: argparse.Namespace) -> int:
    """engine-check extension"""
    from workbook_tools.office_extension.build import write_extension

    written = write_extension(asked.out)
    say(f"{written}: open it with LibreOffice and start that anew; then Engine check > Check this workbook.")
    return DONE


def run_register(asked: argparse.Namespace) -> int:
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
        jobs=asked.jobs,
        progress=progress_line if on_terminal else None,
    )
    say(told_in_words(made))
    return UNUSABLE if made.unusable else DONE


def run_sample(asked: argparse.Namespace) -> int:
    """engine-check sample"""
    from workbook_tools.commands.sample_jobs import write_sample

    files = write_sample(asked.folder)
    say(f"{len(files)} invented sample jobs written to {asked.folder}.")
    return check_files(files, out_dir=asked.folder / "checked")


def run_reference(asked: argparse.Namespace) -> int:
    """engine-check reference"""
    from workbook_tools.commands.reference_pages import write_reference

    for path in write_reference(asked.folder):
        say(f"{path} written.")
    return DONE
