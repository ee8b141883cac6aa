"""Making the register: the folder's new files into the store, the store's jobs into the workbook.

make_register(folder, out)      returns what was done; nothing is written where `out` can't be replaced
"""

from __future__ import annotations

import datetime as dt
import glob
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from workbook_tools.checking.job_files import Folder, files_below
from workbook_tools.errors import BadRequest, ChangedMeanwhile, UnusableFile
from workbook_tools.package.intake import read_file
from workbook_tools.package.safe_write import check_replaceable, digest_of, replace_file
from workbook_tools.register.bills import bills_of
from workbook_tools.register.book import RegisterBook, job_keys, register_book
from workbook_tools.register.by_year import MOST_JOBS, book_of_year, by_year
from workbook_tools.register.contents import Contents, contents_of
from workbook_tools.register.export import write_csv
from workbook_tools.register.kept import read_kept
from workbook_tools.register.missing import Whereabouts, forget_numbers, settle, whereabouts
from workbook_tools.register.records import judged_by
from workbook_tools.register.same_folder import refuse_another_folder
from workbook_tools.register.scan import ReadFile, read_job
from workbook_tools.register.schema import BLANK, JOB, OTHER, UNUSABLE
from workbook_tools.register.store import FileFacts, Kept, Store

STORE_SUFFIX = ".store.sqlite"
#: Files in one transaction: what an interrupted run has stored is not read again.
BATCH = 32
#: Bytes of files that are held at one time, if there is more than one of them.
MOST_HELD = 64_000_000
#: Fewer files than this are read sooner than a second process has started.
WORTH_PROCESSES = 8
#: So often the register is written anew where it was saved meanwhile.
TRIES = 3
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class RegisterMade:
    """What came of a run: counts of files by what they are, jobs and open points, and the workbook written."""

    out: Path
    store: str
    jobs: int
    engines: int
    open_points: int
    read: int
    copies: int
    blank: int
    others: int
    locks: int
    gone: tuple[str, ...]
    moved: tuple[tuple[str, str], ...]
    written_over: tuple[str, ...]
    forgotten: tuple[str, ...]
    missing: int
    notes_kept: int
    unusable: tuple[str, ...]
    concerns: tuple[str, ...]
    books: tuple[Path, ...] = ()


def make_register(
    folder: str | Path,
    out: str | Path,
    *,
    store: str | Path | None = None,
    csv_dir: str | Path | None = None,
    shop: str = "",
    every_shop: bool = False,
    forget_missing: bool = False,
    forget: Sequence[str] = (),
    keep_missing: bool = False,
    jobs: int = 1,
    progress: Progress | None = None,
    today: dt.date | None = None,
) -> RegisterMade:
    """Read what is new below `folder` into the store and write the register to `out`, `jobs` files at a time.

    `store` is an SQLite file or SQLAlchemy URL (default: beside the register). `shop` tells the jobs of several shops
    apart in one store; with `every_shop` the register lists them all. Jobs whose files are gone stay; `forget` drops those
    with these numbers, `forget_missing` all of them. A folder without any job of the last run is refused unless
    `forget_missing` or `keep_missing`. Raises BadRequest and UnusableFile, with the old register as it was.
    """
    target = Path(out)
    if target.suffix.lower() != ".xlsx":
        raise BadRequest(f"{out}: the register is written as .xlsx; give a name that ends so.")
    check_replaceable(target)
    read_kept(target)  # a file that must not be written over is said before the work
    place = (
        target.with_name(target.name.removesuffix(target.suffix) + STORE_SUFFIX) if store is None else store
    )
    if "://" in str(place) and not str(place).startswith("sqlite") and not shop:
        raise BadRequest("A store on a server is shared by shops; say whose jobs these are: --shop NAME.")
    if not shop.isprintable():
        raise BadRequest("The name of the shop has signs that no text has; write it anew: --shop NAME.")
    years = tuple(target.parent.glob(f"{glob.escape(target.stem)}-[0-9u]*{target.suffix}"))
    found = files_below(Path(folder), leave_out=(target, *years))
    with Store.open(place, shop) as opened:
        if not (forget_missing or keep_missing):
            refuse_another_folder(opened, found, target)
        opened.note_folder(found.label)
        before = opened.known_files()
        read = bring_up_to_date(opened, found, jobs, progress)
        there = [found.name_of(path) for path in found.workbooks]
        became = whereabouts(before, opened.known_files(), there, opened.numbers())
        settle(opened, became, today or dt.date.today())
        forgotten = forget_numbers(opened, forget)
        if forget_missing:
            forgotten += [path for path, file in opened.known_files().items() if file.missing_since]
            opened.forget(forgotten)
        contents = contents_of(opened, every_shop)
        label = opened.label
    book, written = _write_registers(contents, found.root, target, today)
    if csv_dir is not None:
        write_csv(contents, book, Path(csv_dir))
    return replace(
        _told(contents, book, target, label, read, became, forgotten, found.locks), books=tuple(written)
    )


def _write_registers(
    contents: Contents, root: Path, target: Path, today: dt.date | None
) -> tuple[RegisterBook, list[Path]]:
    """Write one register, or one a year where it would be slow to open; returns what it says in all, and the files."""
    if len(contents.jobs) <= MOST_JOBS:
        return _write_register(contents, root, target, today), [target]
    made, written = [], []
    for year, of_year in by_year(contents):
        book = book_of_year(target, year)
        check_replaceable(book)
        made.append(_write_register(of_year, root, book, today, typed_in=book if book.exists() else target))
        written.append(book)
    paid = {key: value for each in made for key, value in each.paid.items()}
    bills = bills_of(contents.jobs, contents.lines, paid, today or dt.date.today())
    points = pd.concat([each.points for each in made], ignore_index=True)
    return RegisterBook(b"", sum(each.notes_kept for each in made), bills, points, paid), written


def _write_register(
    contents: Contents, root: Path, target: Path, today: dt.date | None, typed_in: Path | None = None
) -> RegisterBook:
    """Write the register with what was typed into the last one; returns what was written.

    Somebody may save the register while it is being made: then it is read once more.
    """
    for tries_left in range(TRIES - 1, -1, -1):
        kept = read_kept(typed_in or target)
        if typed_in not in (None, target):
            # What belongs to other years stays in the book of all, which is not written any more.
            kept = replace(kept.for_jobs(job_keys(contents)), digest=None)
        book = register_book(contents, kept, root=root, target=target, today=today)
        try:
            replace_file(target, book.data, before=kept.digest)
            return book
        except ChangedMeanwhile:
            if not tries_left:
                raise
    raise AssertionError("the last try returns or raises")


def bring_up_to_date(store: Store, folder: Folder, jobs: int = 1, progress: Progress | None = None) -> int:
    """Read the files that are new or changed into the store; returns how many were read.

    A file with the size and time that it had is taken as unchanged; one with a new stamp and the old bytes too.
    """
    known, contents = store.known_files(), store.known_contents(judged_by())
    asked = [path for path in folder.workbooks if not _unchanged(folder, path, known, contents)]
    done = looked_into = 0
    for batch in _batches(asked, BATCH * max(jobs, 1)):
        facts: list[tuple[FileFacts, str]] = []
        # The same bytes in two places are judged once.
        to_judge: dict[str, tuple[Path, bytes]] = {}
        for path in batch:
            file, problem, data = _facts(folder, path)
            facts.append((file, problem))
            if not problem and _is_new(file, known, contents):
                to_judge[file.sha256] = path, data
        results = dict(zip(to_judge, _judge_all(list(to_judge.values()), jobs), strict=True))
        store.keep([_kept(each, problem, results, known) for each, problem in facts])
        contents |= {digest for digest, result in results.items() if result.record is not None}
        known |= {each.path: _kept(each, problem, results, known).file for each, problem in facts}
        done += len(results)
        looked_into += len(batch)
        if progress is not None:
            progress(looked_into, len(asked))
    return done


def _unchanged(folder: Folder, path: Path, known: dict[str, FileFacts], contents: set[str]) -> bool:
    before = known.get(folder.name_of(path))
    if before is None or before.judged_by != judged_by() or not before.sha256:
        return False
    if before.status == JOB and before.sha256 not in contents:
        return False
    try:
        stamp = path.stat()
    except OSError:
        return False
    return (before.size, before.modified_ns) == (stamp.st_size, stamp.st_mtime_ns)


def _facts(folder: Folder, path: Path) -> tuple[FileFacts, str, bytes]:
    """A file's facts, why it can't be read where it can't (then it is tried again in the next run), and its bytes."""
    name = folder.name_of(path)
    try:
        stamp = path.stat()
        data = read_file(path)
    except (OSError, UnusableFile) as problem:
        said = str(problem)
        if isinstance(problem, OSError):
            said = f"{path} could not be read ({problem.strerror or problem}); try again."
        return FileFacts(name, 0, 0, "", judged_by(), UNUSABLE, said), said, b""
    digest = digest_of(data).hex()
    return FileFacts(name, stamp.st_size, stamp.st_mtime_ns, digest, judged_by(), JOB), "", data


def _is_new(file: FileFacts, known: dict[str, FileFacts], contents: set[str]) -> bool:
    """Whether the content must be read: no job that is in the store, and no other file known by these bytes."""
    before = known.get(file.path)
    same = before is not None and before.sha256 == file.sha256 and before.judged_by == file.judged_by
    return file.sha256 not in contents and not (same and before is not None and before.status != JOB)


def _kept(file: FileFacts, problem: str, results: dict[str, ReadFile], known: dict[str, FileFacts]) -> Kept:
    result = results.get(file.sha256)
    before = known.get(file.path)
    message = problem or (result.message if result is not None and result.status == UNUSABLE else "")
    if message and before is not None and before.status == JOB:
        # The job as it was read last stays; without a stamp the file is tried again in the next run.
        return Kept(replace(before, size=0, modified_ns=0, message=message, missing_since=None), None)
    if problem:
        return Kept(file, None)
    if result is not None:
        return Kept(replace(file, status=result.status, message=result.message), result.record)
    if before is not None and before.sha256 == file.sha256 and before.status != JOB:
        return Kept(replace(file, status=before.status, message=before.message), None)
    return Kept(file, None)


def _judge_all(read: Sequence[tuple[Path, bytes]], jobs: int) -> Iterable[ReadFile]:
    if jobs < 2 or len(read) < WORTH_PROCESSES:
        return [read_job(path, data) for path, data in read]
    paths, contents = zip(*read, strict=True)
    with ProcessPoolExecutor(max_workers=jobs) as pool:
        return list(pool.map(read_job, paths, contents, chunksize=4))


def _batches(paths: Sequence[Path], at_once: int) -> Iterator[Sequence[Path]]:
    """The paths in their order, so many together, or fewer where their files are large."""
    batch: list[Path] = []
    held = 0
    for path in paths:
        try:
            size = path.stat().st_size
        except OSError:  # gone meanwhile, which reading it will say
            size = 0
        if batch and (len(batch) == at_once or held + size > MOST_HELD):
            yield batch
            batch, held = [], 0
        batch.append(path)
        held += size
    if batch:
        yield batch


def _told(
    contents: Contents,
    book: RegisterBook,
    target: Path,
    store: str,
    read: int,
    became: Whereabouts,
    forgotten: Sequence[str],
    locks: int,
) -> RegisterMade:
    status = contents.files["status"].value_counts()
    missing = contents.files[contents.files["missing_since"].notna()]
    points = book.points
    concerns = points[points["from_register"]]["what"] if len(points) else ()
    unusable = contents.files[contents.files["message"] != ""]["message"]
    return RegisterMade(
        out=target,
        store=store,
        jobs=len(contents.jobs),
        engines=len(contents.engines),
        open_points=len(points),
        read=read,
        copies=contents.copies,
        blank=int(status.get(BLANK, 0)),
        others=int(status.get(OTHER, 0)),
        locks=locks,
        gone=tuple(path for path in became.missing if path not in forgotten),
        moved=became.moved,
        written_over=tuple(path for path, _ in became.written_over),
        forgotten=tuple(forgotten),
        missing=len(missing),
        notes_kept=book.notes_kept,
        unusable=tuple(unusable),
        concerns=tuple(concerns),
    )
