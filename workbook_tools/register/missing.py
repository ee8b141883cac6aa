"""What became of the files that the register knew: the archive keeps what it has seen.

    whereabouts(before, now, there, told)      which files moved, which are missing since today, which are back

A file that moved or was renamed is the same job, not two; a job whose file is gone, or was written over with another job,
stays with its money, findings and history until it is forgotten on purpose.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from workbook_tools.errors import BadRequest
from workbook_tools.register.schema import JOB
from workbook_tools.register.store import FileFacts, Kept, Store

#: Job number, digest of what was typed, and day in of each content, by its digest.
Told = Mapping[str, tuple[str, str, dt.date | None]]


@dataclass(frozen=True)
class Whereabouts:
    """Paths of files: `moved` from one to another, `missing` that were there the last time, `back` again, and `dropped`.

    `written_over`: files that hold another job now, each with the facts under which the job before is kept.
    """

    moved: tuple[tuple[str, str], ...] = ()
    missing: tuple[str, ...] = ()
    back: tuple[str, ...] = ()
    dropped: tuple[str, ...] = ()
    written_over: tuple[tuple[str, FileFacts], ...] = ()


def whereabouts(
    before: Mapping[str, FileFacts], now: Mapping[str, FileFacts], there: Collection[str], told: Told
) -> Whereabouts:
    """Compare what the last run knew (`before`) with what is known after reading (`now`), `there` being the files of today.

    A file is the same job under a new name where a file that was not there the last time holds the same bytes, the same
    entries, or the same job number.
    """
    here = set(there)
    new_files = [now[path] for path in here if path in now and path not in before and now[path].status == JOB]
    by_content = {file.sha256: path for path, file in now.items() if path in here and file.status == JOB}
    by_entries = {
        told[file.sha256][1]: path for path in here if (file := now.get(path)) and file.sha256 in told
    }
    by_number: dict[str, list[str]] = {}
    for file in new_files:
        number = _folded(told[file.sha256][0]) if file.sha256 in told else ""
        if number:
            by_number.setdefault(number, []).append(file.path)
    moved, missing, dropped = [], [], []
    for path, file in sorted(now.items()):
        if path in here:
            continue
        number, entries, _ = told.get(file.sha256, ("", "", None))
        if file.status != JOB or file.sha256 not in told:
            dropped.append(path)
        elif (to := by_content.get(file.sha256) or by_entries.get(entries)) is not None:
            moved.append((path, to))
        elif len(candidates := by_number.get(_folded(number), [])) == 1 and number:
            moved.append((path, candidates[0]))
        elif file.missing_since is None:
            missing.append(path)
    back = sorted(path for path in here if path in now and now[path].missing_since is not None)
    return Whereabouts(
        tuple(moved),
        tuple(missing),
        tuple(back),
        tuple(dropped),
        tuple(_written_over(before, now, here, told)),
    )


def _written_over(
    before: Mapping[str, FileFacts], now: Mapping[str, FileFacts], here: Collection[str], told: Told
) -> list[tuple[str, FileFacts]]:
    """Files in which another job was saved: its number and its day in are others; one of both alone is a corrected slip."""
    held = {file.sha256 for file in now.values()}
    found = []
    for path in sorted(here):
        old, new = before.get(path), now.get(path)
        if old is None or new is None or old.sha256 == new.sha256 or old.sha256 in held:
            continue
        if old.status != JOB or old.sha256 not in told or new.status != JOB or new.sha256 not in told:
            continue
        (number, _, day), (other, _, other_day) = told[old.sha256], told[new.sha256]
        if number and other and _folded(number) != _folded(other) and day and other_day and day != other_day:
            found.append((path, replace(old, path=f"{path} (job {number}, written over)")))
    return found


def settle(store: Store, found: Whereabouts, today: dt.date) -> None:
    """Note it in the store; content that no file holds any more goes."""
    store.mark_missing(found.missing, today)
    store.mark_missing(found.back, None)
    if found.written_over:
        store.keep([Kept(replace(file, missing_since=today), None) for _, file in found.written_over])
    store.forget([*(path for path, _ in found.moved), *found.dropped])


def forget_numbers(store: Store, numbers: Collection[str]) -> list[str]:
    """Drop the missing jobs with those numbers; returns their files.

    Raises BadRequest for a number that no job has, or whose file is there and would be read again.
    """
    told, files = store.numbers(), store.known_files()
    dropped = []
    for number in numbers:
        held = [
            file
            for file in files.values()
            if file.sha256 in told and _folded(told[file.sha256][0]) == _folded(number)
        ]
        if not held:
            missing = sorted(
                {
                    told[file.sha256][0]
                    for file in files.values()
                    if file.missing_since and file.sha256 in told
                }
            )
            instead = f"missing are {', '.join(missing[:8])}" if missing else "no file is missing"
            raise BadRequest(f"No job of the register has the number {number}; check it ({instead}).")
        present = [file.path for file in held if file.missing_since is None]
        if present:
            raise BadRequest(
                f"Job {number} is in {present[0]} and would be read again; move that file out of the folder first."
            )
        dropped += [file.path for file in held]
    store.forget(dropped)
    return dropped


def _folded(number: str) -> str:
    return number.strip().casefold()
