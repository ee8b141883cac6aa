"""How the commands explain themselves: help that fits a screen, an example for each command, completion for shells."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path
from typing import Any, NoReturn

from workbook_tools.commands.speech import UNUSABLE, say
from workbook_tools.errors import BadRequest

EXAMPLES = """examples:
  engine-check sample out                    look at invented jobs first
  engine-check new job-117.xlsx --job 117    a form for a four-cylinder engine
  engine-check check job-117.xlsx            once it is filled in
"""
WIDTH, HELP_FROM_COLUMN = 80, 26


class CommandParser(argparse.ArgumentParser):
    """A parser whose help fits a screen and ends with examples, and whose errors are one sentence."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        examples = options.pop("examples", ())
        super().__init__(*arguments, **options, formatter_class=HelpOfAScreen)
        if examples:
            lines = "".join(f"  engine-check {each}\n" for each in examples)
            self.epilog = f"{'examples' if len(examples) > 1 else 'example'}:\n{lines}"

    def error(self, message: str) -> NoReturn:
        """Say what is wrong with the command and end with the exit status of what can't be used."""
        say(f"{self.prog}: {message}; {self.prog} --help shows what can be asked for.")
        raise SystemExit(UNUSABLE)


class HelpOfAScreen(argparse.RawDescriptionHelpFormatter):
    """Help no wider than a screen of 80 characters, each command on a line of its own."""

    def __init__(self, prog: str) -> None:
        width = min(shutil.get_terminal_size().columns, WIDTH) - 2
        super().__init__(prog, max_help_position=HELP_FROM_COLUMN, width=width)

    def add_argument(self, action: argparse.Action) -> None:
        """Commands are indented once more than options, which the library leaves out of its account."""
        super().add_argument(action)
        if action.nargs == argparse.PARSER:
            self._action_max_length += self._indent_increment


class PrintCompletion(argparse.Action):
    """Print what a shell (bash, zsh or tcsh) needs to complete commands, options and file names, and end."""

    def __init__(self, option_strings: list[str], dest: str, **options: Any) -> None:
        super().__init__(option_strings, dest, **options, choices=("bash", "zsh", "tcsh"))

    def __call__(self, parser: argparse.ArgumentParser, _: object, shell: Any, option: object = None) -> None:
        """Raises BadRequest where the library that knows the shells is not installed."""
        try:
            import shtab
        except ImportError as problem:
            raise BadRequest(
                "Completion needs a library that is not there; pip install 'workbook-tools[completion]' installs it."
            ) from problem
        for each in _actions_of(parser):
            if each.type is Path:
                each.complete = shtab.FILE  # type: ignore[attr-defined]
        print(shtab.complete(parser, shell=shell))
        parser.exit()


def _actions_of(parser: argparse.ArgumentParser) -> list[argparse.Action]:
    """Options and arguments of a parser and of its commands."""
    found = list(parser._actions)
    for each in list(found):
        if isinstance(each, argparse._SubParsersAction):
            found += [action for command in each.choices.values() for action in _actions_of(command)]
    return found
