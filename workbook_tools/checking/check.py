"""Checking one filled workbook: read, diagnose, write the findings sheet, place it.

check_workbook(path, out_dir=None)   the result, with pandas frames on request
unchanged_since_check(path, target)  whether a check would see what the last one saw
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from workbook_tools import __version__
from workbook_tools.checking.job_files import CHECKABLE
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.errors import BadRequest, UnusableFile
from workbook_tools.package.intake import read_file
from workbook_tools.package.parts import Package
from workbook_tools.package.safe_write import Digest, check_replaceable, digest_of, our_turn
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.read.workbook import read_workbook, reading
from workbook_tools.report.judged import JudgedMark, fingerprint, kept_mark
from workbook_tools.specs.book import SpecsBook, read_specs

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Checked:
    """One checked workbook: the diagnosis, the file that got the findings sheet, its digest then, and that sheet's name.

    `against`: what the workbook asked for and was not done, a sentence each.
    """

    diagnosis: Diagnosis
    written_to: Path | None
    sheet: str
    digest: Digest = None
    against: tuple[str, ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether any finding or discrepancy is there."""
        return bool(self.diagnosis.findings or self.diagnosis.discrepancies)

    def findings(self) -> pd.DataFrame:
        """Findings, one a row, evidence as text `cell = value unit`."""
        frame = _frame(self.diagnosis.findings, "cause", "system", "strength")
        frame["evidence"] = [
            "; ".join(f"{e.cell} = {e.value} {e.unit}".strip() for e in each.evidence)
            for each in self.diagnosis.findings
        ]
        return frame

    def discrepancies(self) -> pd.DataFrame:
        """Discrepancies, one a row."""
        return _frame(self.diagnosis.discrepancies, "kind", "field", "message")

    def missing(self) -> pd.DataFrame:
        """Tests still to do, one a row."""
        return _frame(self.diagnosis.missing, "test", "fields", "why")

    def next(self) -> pd.DataFrame:
        """What to do now, most useful first, one step a row."""
        return _frame(self.diagnosis.next, "test", "fields", "minutes", "why", "cell")

    def suspects(self) -> pd.DataFrame:
        """The causes that fit best, one a row."""
        return _frame(self.diagnosis.suspects, "cause", "cylinders", "share")

    def computed(self) -> pd.DataFrame:
        """Computed cells, workbook against Python, one a row."""
        return _frame(self.diagnosis.computed, "name", "workbook", "recomputed", "agrees")

    def marks(self) -> pd.DataFrame:
        """Marks, one reading a row."""
        return _frame(self.diagnosis.marks, "field", "mark", "value")

    def in_json(self) -> str:
        """What `engine-check check --json` prints, in a line."""
        import json  # most checks print words

        return json.dumps(self.as_json(), ensure_ascii=False)

    def as_json(self) -> dict[str, object]:
        """The object that `in_json` writes."""
        found = self.diagnosis
        return {
            "workbook": found.workbook,
            "job_number": found.job_number,
            "form_version": found.form_version,
            "findings": [_plain(each) for each in found.findings],
            "discrepancies": [_plain(each) for each in found.discrepancies],
            "missing": [_plain(each) for each in found.missing],
            "next": [_plain(each) for each in found.next],
            "suspects": [_plain(each) for each in found.suspects],
            "computed": [_plain(each) for each in found.computed],
            "marks": [_plain(each) for each in found.marks],
            "headline": found.headline,
            "states": dict(found.states),
            "repairs": [_plain(each) for each in found.repairs],
        }


def check_workbook(
    path: str | Path,
    *,
    out_dir: str | Path | None = None,
    apart: str | Path | None = None,
    write: bool = True,
    now: dt.datetime | None = None,
    specs: SpecsBook | str | Path | None = None,
) -> Checked:
    """Check one filled workbook and place its findings sheet, into the file itself or into a copy in `out_dir`.

    `apart` puts the findings into a workbook of their own instead, and the one checked stays as it is. `write=False` only
    judges. `specs`, a specs book, is what the engine's figures are held against. Answers typed on an earlier findings sheet
    are kept. Raises BadRequest for findings apart that would be no .xlsx or the workbook itself, and UnusableFile, with
    nothing changed, for a file that is missing, open elsewhere, read-only, encrypted, of another format or no form of ours,
    and for a copy or findings in whose place another file is.
    """
    host = Path(path)
    target = host if out_dir is None else Path(out_dir) / host.name
    refuse_other_formats(host)
    book = read_specs(specs) if isinstance(specs, (str, Path)) else specs
    if not write:
        return _check(host, None, book, now)
    if apart is not None:
        return _check_apart(host, Path(apart), book, now)
    if out_dir is not None:
        make_folder(Path(out_dir))
    with our_turn(host):
        check_replaceable(target)
        return _check(host, target, book, now)


def _check(host: Path, target: Path | None, book: SpecsBook | None, now: dt.datetime | None) -> Checked:
    """Check a workbook and write its findings to `target`, if any."""
    from workbook_tools.package.place import place
    from workbook_tools.package.wishes import overridden
    from workbook_tools.report.answers import read_answers
    from workbook_tools.report.findings_sheet import findings_book

    package, seen, form, diagnosis = _judged(host, book)
    if target is None:
        return Checked(diagnosis, None, "")
    answers, before = read_answers(host, package), digest_of(package.data)
    if same_file(host, target):
        is_copy = bool(seen.before and seen.before.is_copy)
    else:
        is_copy = True
        in_copy, before = answers_of_copy(target)
        answers |= in_copy
    against = overridden(package, not same_file(host, target))
    donor = findings_book(
        dataclasses.replace(diagnosis, notes=(*diagnosis.notes, *against)),
        form,
        answers=answers,
        program_version=__version__,
        checked_at=now or dt.datetime.now().replace(microsecond=0),
        judged=mark_for(diagnosis, seen.fingerprint, is_copy).text,
    )
    placed = place(package, donor, target, before)
    return Checked(diagnosis, target, placed.name, placed.digest, against)


def _judged(host: Path, book: SpecsBook | None) -> tuple[Package, SeenFile, FilledForm, Diagnosis]:
    """A workbook's parts, what was seen of it, its form, and the judgement."""
    package = Package(read_file(host), str(host))
    seen = _seen(host, package, book)
    form = read_workbook(host, package)
    return package, seen, form, diagnose(form, book)


def _check_apart(host: Path, out: Path, book: SpecsBook | None, now: dt.datetime | None) -> Checked:
    """Check a workbook and write its findings to `out`, with the marks that their sheet would have in it."""
    from workbook_tools.package.safe_write import replace_file
    from workbook_tools.report.answers import SHEET_NAME, read_answers
    from workbook_tools.report.findings_sheet import findings_book

    if out.suffix.lower() != ".xlsx":
        raise BadRequest(f"{out}: findings are written as .xlsx; give a name that ends so.")
    if same_file(host, out):
        raise BadRequest(f"{out} is the workbook that is checked; name another file for its findings.")
    before = _digest_of_findings(out)
    package, seen, form, diagnosis = _judged(host, book)
    data = findings_book(
        diagnosis,
        form,
        answers=read_answers(host, package),
        program_version=__version__,
        checked_at=now or dt.datetime.now().replace(microsecond=0),
        judged=mark_for(diagnosis, seen.fingerprint, bool(seen.before and seen.before.is_copy)).text,
        apart=True,
    )
    replace_file(out, data, before=before, private_as=host)
    return Checked(diagnosis, out, SHEET_NAME, digest_of(data))


def _digest_of_findings(out: Path) -> Digest:
    """The digest of the findings that are replaced, None where there are none. Raises UnusableFile for any other file."""
    from workbook_tools.package.index import marked_tab, tabs
    from workbook_tools.report.answers import SHEET_NAME

    check_replaceable(out)
    if not out.exists():
        return None
    package = Package(read_file(out), str(out))
    with reading(out):
        if len(tabs(package)) != 1 or marked_tab(package, SHEET_NAME) is None:
            raise UnusableFile(
                f"{out} is there already and holds other things than findings; choose another name, or move that file."
            )
    return digest_of(package.data)


@dataclass(frozen=True)
class SeenFile:
    """A workbook's fingerprint as it is now, and the mark that the last check left in it."""

    fingerprint: str
    before: JudgedMark | None


def mark_of_file(path: Path, specs: SpecsBook | None = None) -> SeenFile:
    """What a check would see in a workbook, without reading its cells. Raises UnusableFile as reading it does."""
    return _seen(path, Package(read_file(path), str(path)), specs)


def _seen(path: Path, package: Package, specs: SpecsBook | None = None) -> SeenFile:
    with reading(path):
        return SeenFile(fingerprint(package, specs.digest if specs else ""), kept_mark(package))


def mark_for(diagnosis: Diagnosis, seen: str, is_copy: bool) -> JudgedMark:
    """The mark to be left on the findings sheet."""
    counts = (len(diagnosis.findings), len(diagnosis.discrepancies), len(diagnosis.missing))
    return JudgedMark(seen, *counts, is_copy)


def unchanged_since_check(path: Path, target: Path, specs: SpecsBook | None = None) -> JudgedMark | None:
    """The mark of the last check where it saw all that is in the workbook now; `target` is where its findings went."""
    seen = mark_of_file(path, specs)
    if same_file(path, target):
        before = seen.before
    else:
        before = mark_of_file(target).before if target.exists() and is_checked_copy(target) else None
    return before if before is not None and before.fingerprint == seen.fingerprint else None


def same_file(one: Path, other: Path) -> bool:
    """Whether two names lead to one file."""
    return one == other or (one.exists() and other.exists() and one.samefile(other))


def answers_of_copy(target: Path) -> tuple[dict[str, str], Digest]:
    """Answers typed in a checked copy about to be replaced, none where nothing is there, and the digest of that copy.

    Raises UnusableFile for any other file: nothing but a checked copy may be replaced by a checked copy.
    """
    from workbook_tools.report.answers import read_answers

    if not target.exists():
        return {}, None
    package = Package(read_file(target), str(target), some=True)
    if not _is_copy(target, package):
        raise UnusableFile(
            f"{target} is there already and is no checked copy; choose another folder for the copies, or move that file."
        )
    return read_answers(target, package), digest_of(package.data)


def is_checked_copy(path: Path) -> bool:
    """Whether a workbook is a copy that a check wrote beside an original. Raises UnusableFile where it can't be read."""
    return _is_copy(path, Package(read_file(path), str(path), some=True))


def _is_copy(path: Path, package: Package) -> bool:
    with reading(path):
        before = kept_mark(package)
    return before is not None and before.is_copy


def make_folder(folder: Path) -> None:
    """Make the folder for results. Raises UnusableFile where it can't be made."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise UnusableFile(
            f"The folder {folder} can't be made ({problem.strerror}); choose another."
        ) from problem


def refuse_other_formats(path: Path) -> None:
    """One clear sentence for what is no .xlsx or .xlsm file."""
    if not path.exists():
        raise UnusableFile(f"{path} does not exist; check the name.")
    if path.is_dir():
        raise UnusableFile(f"{path} is a folder; give the workbooks in it by name.")
    if path.suffix.lower() not in CHECKABLE:
        raise UnusableFile(f"{path} is no .xlsx workbook; open it in its program and save it as .xlsx.")


def _plain(item: object) -> dict[str, object]:
    return dataclasses.asdict(item)  # type: ignore[call-overload]


def _frame(items: Sequence[object], *columns: str) -> pd.DataFrame:
    import pandas as pd

    rows = [_plain(item) for item in items]
    return pd.DataFrame(rows) if rows else pd.DataFrame(columns=list(columns))
