"""The command line: it reads what was asked, calls the library, and says in plain words what came of it.

Results for programs go to standard output, words for people to standard error. Exit 0 done, 1 with --strict when a
finding or discrepancy is open, 2 a file could not be used.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from workbook_tools import __version__
from workbook_tools.errors import BadRequest, EngineCheckError

if TYPE_CHECKING:
    from workbook_tools.check import Checked

DONE, OPEN, UNUSABLE = 0, 1, 2

#: Discrepancies printed for one workbook; the sheet holds them all.
SHOWN_AT_MOST = 12

EXAMPLES = """examples:
  engine-check new job-117.xlsx --cylinders 8 --banks "1-3-5-7 | 2-4-6-8" --job 117
  engine-check check job-117.xlsx
  engine-check sample out
"""


def parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    top = argparse.ArgumentParser(
        prog="engine-check",
        description="Engine-check workbooks: write the form, read it back filled, find the fault and prove it.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="version", version=f"engine-check {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    new = commands.add_parser("new", help="write an empty form", description="Write an empty form for one engine.")
    new.add_argument("out", type=Path, metavar="OUT.xlsx")
    new.add_argument("--cylinders", type=int, default=4, metavar="N", help="1 to 16 (default 4)")
    new.add_argument("--banks", help='front to rear, one group a bank: "1-3-5-7 | 2-4-6-8"')
    new.add_argument("--firing-order", metavar="ORDER", help='"1-3-4-2"')
    new.add_argument("--units", choices=("us", "metric"), default="us", help="default us")
    new.add_argument("--currency", default="$", metavar="SIGN", help="sign before amounts of money (default $)")
    new.add_argument("--job", metavar="NUMBER", help="job number, filled in")
    new.set_defaults(run=run_new)

    fill = commands.add_parser(
        "fill", help="fill a form from a list", description="Fill a form from a CSV of field,value rows."
    )
    fill.add_argument("form", type=Path, metavar="FORM.xlsx")
    fill.add_argument("readings", type=Path, metavar="READINGS.csv")
    fill.add_argument("-o", "--out", type=Path, required=True, metavar="OUT.xlsx")
    fill.set_defaults(run=run_fill)

    check = commands.add_parser(
        "check", help="check filled workbooks", description="Check filled workbooks and add a findings sheet to each."
    )
    check.add_argument("files", type=Path, nargs="+", metavar="FILE.xlsx")
    check.add_argument("--out-dir", type=Path, metavar="DIR", help="write checked copies there, leave the files as they are")
    check.add_argument("--json", action="store_true", help="one object a workbook, one a line, on standard output")
    check.add_argument("--strict", action="store_true", help="exit 1 when a finding or discrepancy is open")
    check.set_defaults(run=run_check)

    sample = commands.add_parser(
        "sample", help="write the sample jobs and check them", description="Write the invented sample jobs and check them."
    )
    sample.add_argument("folder", type=Path, metavar="DIR")
    sample.set_defaults(run=run_sample)

    docs = commands.add_parser(
        "reference", help="write field and rule reference", description="Write the field and rule reference as Markdown."
    )
    docs.add_argument("folder", type=Path, metavar="DIR")
    docs.set_defaults(run=run_reference)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status says how it went."""
    asked = parser().parse_args(arguments)
    try:
        return asked.run(asked)
    except EngineCheckError as problem:
        say(f"engine-check: {problem}")
        return UNUSABLE


def say(text: str) -> None:
    """Words for people go to standard error."""
    print(text, file=sys.stderr)


def run_new(asked: argparse.Namespace) -> int:
    """engine-check new"""
    from workbook_tools.generate.workbook import new_workbook

    if asked.out.suffix.lower() != ".xlsx":
        raise BadRequest(f"{asked.out}: a form is written as .xlsx; give a name that ends so.")
    new_workbook(
        asked.out,
        cylinders=asked.cylinders,
        banks=asked.banks,
        firing_order=asked.firing_order,
        units=asked.units,
        currency=asked.currency,
        job_number=asked.job,
    )
    say(f"{asked.out}: a form for {asked.cylinders} cylinder{'s' if asked.cylinders > 1 else ''}, {asked.units} units. Start on sheet Job.")
    return DONE


def run_fill(asked: argparse.Namespace) -> int:
    """engine-check fill"""
    from workbook_tools.generate.fill import fill_workbook

    count = fill_workbook(asked.form, asked.readings, asked.out)
    say(f"{asked.out}: {count} cells filled.")
    return DONE


def run_check(asked: argparse.Namespace) -> int:
    """engine-check check"""
    return check_files(asked.files, out_dir=asked.out_dir, as_json=asked.json, strict=asked.strict)


def check_files(files: Sequence[Path], *, out_dir: Path | None, as_json: bool = False, strict: bool = False) -> int:
    """Check each file; one that can't be used is said and the others are still done."""
    from workbook_tools.check import check_workbook

    unusable = still_open = False
    for file in files:
        try:
            checked = check_workbook(file, out_dir=out_dir)
        except EngineCheckError as problem:
            say(f"engine-check: {problem}")
            unusable = True
            continue
        still_open = still_open or checked.is_open
        if as_json:
            print(json.dumps(checked.as_json(), ensure_ascii=False))
        say(in_words(checked))
    if unusable:
        return UNUSABLE
    return OPEN if strict and still_open else DONE


def in_words(checked: Checked) -> str:
    """What a check found, as a few lines for a person."""
    found = checked.diagnosis
    job = f" (job {found.job_number})" if found.job_number else ""
    lines = [f"{found.workbook}{job}", f"  {found.headline}"]
    for each in found.findings:
        sure = f"{each.strength}, provisional" if each.provisional else each.strength
        lines.append(f"  - [{sure}] {each.statement}")
    counts = {
        "discrepancy": len(found.discrepancies),
        "test still owed": len(found.missing),
    }
    lines += [f"  ! {each.message}" for each in found.discrepancies[:SHOWN_AT_MOST]]
    if len(found.discrepancies) > SHOWN_AT_MOST:
        lines.append(f"  ! +{len(found.discrepancies) - SHOWN_AT_MOST} more on the sheet")
    told = [_counted(count, word) for word, count in counts.items() if count]
    if told:
        lines.append(f"  {', '.join(told)}.")
    lines.append(f"  Sheet {checked.sheet} written to {checked.written_to}.")
    return "\n".join(lines)


def _counted(count: int, word: str) -> str:
    plurals = {"discrepancy": "discrepancies", "test still owed": "tests still owed"}
    return f"{count} {word if count == 1 else plurals[word]}"


def run_sample(asked: argparse.Namespace) -> int:
    """engine-check sample"""
    from workbook_tools.sample import write_sample

    files = write_sample(asked.folder)
    say(f"{len(files)} invented sample jobs written to {asked.folder}.")
    return check_files(files, out_dir=asked.folder / "checked")


def run_reference(asked: argparse.Namespace) -> int:
    """engine-check reference"""
    from workbook_tools.reference import write_reference

    for path in write_reference(asked.folder):
        say(f"{path} written.")
    return DONE
