"""The command line: it reads what was asked, calls the library, and says in plain words what came of it.

Results for programs go to standard output, words for people to standard error. Exit 0 done, 1 with --strict when a
finding or discrepancy is open, 2 a file could not be used.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from workbook_tools import __version__
from workbook_tools.commands.check import CHECK
from workbook_tools.commands.command import Command
from workbook_tools.commands.extension import EXTENSION
from workbook_tools.commands.fill import FILL
from workbook_tools.commands.help import EXAMPLES, CommandParser, PrintCompletion
from workbook_tools.commands.new import NEW
from workbook_tools.commands.reference import REFERENCE
from workbook_tools.commands.register import REGISTER
from workbook_tools.commands.sample import SAMPLE
from workbook_tools.commands.specs import SPECS
from workbook_tools.commands.speech import DONE, INTERRUPTED, UNUSABLE, say
from workbook_tools.commands.watch import WATCH
from workbook_tools.errors import EngineCheckError, fault_of_ours

COMMANDS: tuple[Command, ...] = (NEW, SPECS, FILL, CHECK, WATCH, EXTENSION, REGISTER, SAMPLE, REFERENCE)


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

    for command in COMMANDS:
        own = commands.add_parser(
            command.name, help=command.help, description=command.description, examples=command.examples
        )
        command.options(own)
        own.set_defaults(run=command.run)
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
    only_paths = bool(arguments) and all(
        not each.startswith("-") and os.path.exists(each) for each in arguments
    )
    return (
        ["check", *arguments]
        if only_paths and arguments[0] not in [command.name for command in COMMANDS]
        else list(arguments)
    )
