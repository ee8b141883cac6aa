"""What a command is: its name, what it says of itself, its options, and what it does."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

UNIT_NAMES = {"us": "US", "metric": "metric"}


@dataclass(frozen=True)
class Command:
    """One command: `options` adds its arguments to a parser, `run` does what was asked and returns the exit status."""

    name: str
    help: str
    description: str
    examples: tuple[str, ...]
    options: Callable[[argparse.ArgumentParser], object]
    run: Callable[[argparse.Namespace], int]


# --- options that several commands have ------------------------------------------------------------------------------


def specs_option(
    parser: argparse.ArgumentParser, help: str = "hold the engines against this specs book"
) -> None:
    """--specs BOOK.xlsx"""
    parser.add_argument("--specs", type=Path, metavar="BOOK.xlsx", help=help)


def units_option(parser: argparse.ArgumentParser, help: str) -> None:
    """--units us|metric"""
    parser.add_argument("--units", choices=("us", "metric"), help=help)


def jobs_option(parser: argparse.ArgumentParser, help: str) -> None:
    """--jobs N"""
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, metavar="N", help=help)


def strict_option(parser: argparse.ArgumentParser, help: str) -> None:
    """--strict"""
    parser.add_argument("--strict", action="store_true", help=help)


def folder_argument(parser: argparse.ArgumentParser, help: str, metavar: str = "FOLDER") -> None:
    """FOLDER"""
    parser.add_argument("folder", type=Path, metavar=metavar, help=help)
