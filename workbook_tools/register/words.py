"""What a run of the register says to a person."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from workbook_tools.register.by_year import MOST_JOBS
from workbook_tools.register.make import RegisterMade

#: Concerns printed; the sheet Open points holds them all.
SHOWN_AT_MOST = 8


def told_in_words(made: RegisterMade) -> str:
    """What was written and read, what was skipped and why, and what can't be right between jobs."""
    lines = [
        f"{made.out}: {_count(made.jobs, 'job')} of {_count(made.engines, 'engine')}; "
        f"{_count(made.open_points, 'open point')}. {_count(made.read, 'workbook')} read; the others were known."
        if made.read < made.jobs
        else f"{made.out}: {_count(made.jobs, 'job')} of {_count(made.engines, 'engine')}; "
        f"{_count(made.open_points, 'open point')}."
    ]
    if len(made.books) > 1:
        names = ", ".join(book.name for book in made.books)
        lines.append(f"  More than {MOST_JOBS:,} jobs: one book a year, {names}.")
    skipped = {
        "checked copy or second file of a job": made.copies,
        "blank form": made.blank,
        "workbook that is no job of ours": made.others,
        "lock file": made.locks,
    }
    plurals = {
        "checked copy or second file of a job": "checked copies or second files of a job",
        "workbook that is no job of ours": "workbooks that are no jobs of ours",
    }
    told = [
        f"{number} {word if number == 1 else plurals.get(word, word + 's')}"
        for word, number in skipped.items()
        if number
    ]
    if told:
        lines.append(f"  Left out: {', '.join(told)}.")
    if made.moved:
        lines.append(
            f"  {_count(len(made.moved), 'file')} moved: {_listed([f'{a} to {b}' for a, b in made.moved])}."
        )
    if made.written_over:
        lines.append(
            f"  Another job was saved over {_listed(made.written_over)}; the job that was there is kept, marked as missing."
        )
    if made.gone:
        kept = "its job is kept" if len(made.gone) == 1 else "their jobs are kept"
        lines.append(
            f"  {_count(len(made.gone), 'file')} no longer there, {kept}: {_listed(made.gone)}. "
            "--forget NUMBER or --forget-missing drops them."
        )
    if made.forgotten:
        lines.append(f"  Forgotten, as you asked: {_listed(made.forgotten)}.")
    if made.notes_kept:
        lines.append(
            f"  {_count(made.notes_kept, 'note')} of yours belong to no row any more; see sheet Kept notes."
        )
    for title, messages in (("!", made.concerns), ("can't be used:", made.unusable)):
        lines += [
            f"  {title} {message}"
            for message in messages[:SHOWN_AT_MOST]
            if title != "!" or message not in made.unusable
        ]
        if len(messages) > SHOWN_AT_MOST:
            lines.append(f"  {title} +{len(messages) - SHOWN_AT_MOST} more on sheet Open points")
    lines.append(f"  Kept in {made.store}.")
    return "\n".join(lines)


def _listed(names: Sequence[str]) -> str:
    more = f" +{len(names) - SHOWN_AT_MOST} more" if len(names) > SHOWN_AT_MOST else ""
    return f"{', '.join(names[:SHOWN_AT_MOST])}{more}"


def progress_line(done: int, of: int) -> None:
    """One line on the terminal that counts the files read."""
    end = "\n" if done >= of else ""
    print(f"\r  {done} of {of} workbooks read", end=end, file=sys.stderr, flush=True)


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"
