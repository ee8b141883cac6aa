"""The command `check`: what it prints of one workbook and of many, its progress bar, its exit status."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from workbook_tools.commands.command import Command, jobs_option, specs_option, strict_option
from workbook_tools.commands.speech import DONE, INTERRUPTED, OPEN, UNUSABLE, as_plain_json, say
from workbook_tools.errors import BadRequest

if TYPE_CHECKING:
    from workbook_tools.checking.check import Checked
    from workbook_tools.checking.folder import Outcome, Plan

#: Discrepancies printed for one workbook; the sheet holds them all.
SHOWN_AT_MOST = 12
#: Workbooks listed in the table of a folder, and characters of a path and of what was found.
LISTED_AT_MOST, PATH_WIDTH, FOUND_WIDTH = 60, 40, 70


def check_files(
    paths: Sequence[Path],
    *,
    out_dir: Path | None = None,
    as_json: bool = False,
    strict: bool = False,
    again: bool = False,
    jobs: int = 1,
    specs: Path | None = None,
) -> int:
    """Check files and the workbooks below folders; one that can't be used is said and the others are still done."""
    from workbook_tools.checking.folder import check_all, plan

    planned = plan(paths, out_dir)
    has_folder = any(path.is_dir() for path in paths)
    told = None if has_folder else in_words
    outcomes: list[Outcome] = []
    running = check_all(planned, jobs=jobs, again=again, as_json=as_json, specs=specs, in_words=told)
    try:
        with progress(len(planned.files), has_folder and not (as_json and sys.stdout.isatty())) as step:
            for outcome in running:
                if outcome.json:
                    print(as_plain_json(outcome.json))
                if not has_folder:
                    say(f"engine-check: {outcome.words}" if outcome.status == "unusable" else outcome.words)
                outcomes.append(_without_json(outcome))
                step()
    except KeyboardInterrupt:
        say(
            f"engine-check: interrupted after {len(outcomes)} of {_counted(len(planned.files), 'workbook')}; every file is whole. "
            "Run the same command again to go on."
        )
        return INTERRUPTED
    if has_folder:
        say(summary(planned, outcomes))
    if any(outcome.status == "unusable" for outcome in outcomes):
        return UNUSABLE
    return OPEN if strict and any(outcome.is_open for outcome in outcomes) else DONE


def _without_json(outcome: Outcome) -> Outcome:
    """What the summary needs: with thousands of files the rest is not kept."""
    from dataclasses import replace

    return replace(outcome, json="", words=outcome.words if outcome.status == "unusable" else "")


@contextmanager
def progress(total: int, wanted: bool) -> Iterator[object]:
    """A bar on standard error where that is a terminal; yields the function that moves it on by one."""
    if not (wanted and sys.stderr.isatty()):
        yield lambda: None
        return
    from tqdm import tqdm

    tqdm.monitor_interval = 0  # no thread beside the processes
    with tqdm(total=total, unit=" workbooks", file=sys.stderr, leave=False) as bar:
        yield bar.update


# --- many workbooks in words -----------------------------------------------------------------------------------------


def summary(planned: Plan, outcomes: Sequence[Outcome]) -> str:
    """A table of the workbooks checked, a sentence for each that can't be used, and the counts of all."""
    checked = [outcome for outcome in outcomes if outcome.status == "checked"]
    lines = table(checked[:LISTED_AT_MOST]) if checked else []
    if len(checked) > LISTED_AT_MOST:
        lines.append(f"  +{len(checked) - LISTED_AT_MOST} more; what was found stands in each workbook.")
    lines += [f"engine-check: {outcome.words}" for outcome in outcomes if outcome.status == "unusable"]
    lines += [f"{outcome.path}: {said}" for outcome in checked for said in outcome.against]
    counts = Counter(outcome.status for outcome in outcomes)
    told = [f"{_counted(counts['checked'], 'workbook')} checked"]
    told += (
        [f"{counts['unchanged']} unchanged since the last check (--again checks them too)"]
        if counts["unchanged"]
        else []
    )
    told += [f"{counts['unusable']} could not be used"] if counts["unusable"] else []
    told += [f"{_counted(counts['copy'], 'checked copy')} left alone"] if counts["copy"] else []
    told += [f"{_counted(counts['not ours'], 'other workbook')} left alone"] if counts["not ours"] else []
    told += [f"{_counted(planned.locks, 'lock file')} left alone"] if planned.locks else []
    lines.append(f"{', '.join(told)}.")
    still_open = [outcome for outcome in outcomes if outcome.is_open]
    findings, discrepancies = sum(o.findings for o in outcomes), sum(o.discrepancies for o in outcomes)
    owed = sum(outcome.owed for outcome in outcomes)
    if still_open or owed:
        lines.append(
            f"{_counted(findings, 'finding')} and {_counted(discrepancies, 'discrepancy')} in "
            f"{_counted(len(still_open), 'workbook')}; {_counted(owed, 'test')} still to do."
        )
    return "\n".join(lines)


def table(outcomes: Sequence[Outcome]) -> list[str]:
    """The workbooks as lines of a table under its heads."""
    rows = [
        (
            _cut_left(str(each.path), PATH_WIDTH),
            each.job_number[:16],
            str(each.findings),
            str(each.discrepancies),
            str(each.owed),
            _cut_right(each.headline, FOUND_WIDTH),
        )
        for each in outcomes
    ]
    heads = ("Workbook", "Job", "Findings", "Discrepancies", "To do", "What was found")
    widths = [max(len(row[column]) for row in (heads, *rows)) for column in range(len(heads))]
    figures = (2, 3, 4)
    return [
        "  ".join(
            text.rjust(width) if column in figures else text.ljust(width)
            for column, (text, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in (heads, *rows)
    ]


def _cut_left(text: str, width: int) -> str:
    return text if len(text) <= width else "…" + text[len(text) - width + 1 :]


def _cut_right(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


# --- one workbook in words -------------------------------------------------------------------------------------------


def in_words(checked: Checked) -> str:
    """What a check found, as a few lines for a person."""
    found = checked.diagnosis
    job = f" (job {found.job_number})" if found.job_number else ""
    lines = [f"{found.workbook}{job}", f"  {found.headline}"]
    for each in found.findings:
        sure = f"{each.strength}, provisional" if each.provisional else each.strength
        lines.append(f"  - [{sure}] {each.statement}")
    lines += [f"  ! {each.message}" for each in found.discrepancies[:SHOWN_AT_MOST]]
    if len(found.discrepancies) > SHOWN_AT_MOST:
        lines.append(f"  ! +{len(found.discrepancies) - SHOWN_AT_MOST} more on the sheet")
    counts = {"discrepancy": len(found.discrepancies), "test still to do": len(found.missing)}
    told = [_counted(count, word) for word, count in counts.items() if count]
    if told:
        lines.append(f"  {', '.join(told)}.")
    if checked.written_to is not None:
        lines.append(f"  Sheet {checked.sheet} written to {checked.written_to}.")
    lines += [f"  {said}" for said in checked.against]
    return "\n".join(lines)


def _counted(count: int, word: str) -> str:
    plurals = {
        "checked copy": "checked copies",
        "discrepancy": "discrepancies",
        "test still to do": "tests still to do",
    }
    return f"{count:,} {word if count == 1 else plurals.get(word, word + 's')}"


# --- the command -----------------------------------------------------------------------------------------------------


def options(parser: argparse.ArgumentParser) -> None:
    """Arguments of `check`."""
    parser.add_argument(
        "files",
        type=Path,
        nargs="+",
        metavar="FILE-OR-FOLDER",
        help="workbooks, or folders of them; - for names on standard input, one a line",
    )
    parser.add_argument(
        "--out-dir", type=Path, metavar="DIR", help="write checked copies there, leave the files as they are"
    )
    parser.add_argument(
        "--apart",
        type=Path,
        metavar="OUT",
        help="write the findings of one workbook to a workbook of their own",
    )
    specs_option(parser)
    parser.add_argument(
        "--again",
        action="store_true",
        help="in folders, check workbooks too that are unchanged since the last check",
    )
    jobs_option(parser, "workbooks at a time (default: one a core)")
    parser.add_argument(
        "--json", action="store_true", help="one object a workbook, one a line, on standard output"
    )
    parser.add_argument("--open", action="store_true", help="open the one workbook that was checked")
    strict_option(parser, "exit 1 when a finding or discrepancy is open")


def names_given() -> list[Path]:
    """The names on standard input; all that a check needs is loaded before they are waited for."""
    from workbook_tools.checking import folder  # noqa: F401
    from workbook_tools.report import findings_sheet  # noqa: F401

    names = [Path(line.rstrip("\r\n")) for line in sys.stdin if line.strip()]
    if not names:
        raise BadRequest(
            "No name came on standard input; give one a line, or name the workbooks in place of -."
        )
    return names


def check_apart(file: Path, out: Path, as_json: bool, strict: bool, specs: Path | None) -> int:
    """Check one workbook and write its findings to a workbook of their own."""
    from workbook_tools.checking.check import check_workbook

    if file.is_dir():
        raise BadRequest(f"{file} is a folder, and --apart takes one workbook; give its name.")
    checked = check_workbook(file, apart=out, specs=specs)
    if as_json:
        print(as_plain_json(checked.in_json()))
    say(in_words(checked))
    return OPEN if strict and checked.is_open else DONE


def run(asked: argparse.Namespace) -> int:
    """engine-check check"""
    if asked.files == [Path("-")]:
        asked.files = names_given()
    if asked.open and (len(asked.files) > 1 or asked.files[0].is_dir()):
        raise BadRequest(
            "Only one workbook can be opened after the check; name it alone, or leave --open out."
        )
    if asked.apart is not None:
        if len(asked.files) > 1 or asked.out_dir is not None:
            raise BadRequest(
                "--apart takes one workbook and makes no copy; name one alone, and leave --out-dir out."
            )
        status = check_apart(asked.files[0], asked.apart, asked.json, asked.strict, asked.specs)
        if asked.open:
            _open(asked.apart)
        return status
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
        _open(asked.out_dir / file.name if asked.out_dir else file)
    return status


def _open(file: Path) -> None:
    from workbook_tools.commands.desktop import open_file

    open_file(file)


CHECK = Command(
    name="check",
    help="check filled workbooks",
    description="Check filled workbooks, and all below folders, and add a findings sheet to each.",
    examples=(
        "check job-117.xlsx",
        "check jobs --specs engines.xlsx",
        "check jobs --out-dir checked",
        "check job-117.xlsx --apart findings-117.xlsx",
    ),
    options=options,
    run=run,
)
