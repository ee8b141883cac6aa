"""Reading each workbook of a folder into a record.

read_job(path)      what one file is, and its record where it is a job of ours
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.errors import EngineCheckError, NotOurWorkbook, fault_of_ours
from workbook_tools.package.index import marked_tab
from workbook_tools.package.intake import read_file
from workbook_tools.package.parts import Package
from workbook_tools.read.workbook import read_workbook
from workbook_tools.register.records import JobRecord, clean, is_blank, record_of
from workbook_tools.register.schema import BLANK, JOB, OTHER, UNUSABLE
from workbook_tools.report.answers import SHEET_NAME, read_answers


@dataclass(frozen=True)
class ReadFile:
    """What one file is (a status of `schema`), why where it can't be used, and its record where it is a job."""

    status: str
    message: str = ""
    record: JobRecord | None = None


def read_job(path: Path, data: bytes | None = None) -> ReadFile:
    """Read and judge one workbook; whatever is wrong with it is said and never raised, for the others go on.

    `data` is what was read from it before, if it was.
    """
    try:
        package = Package(read_file(path) if data is None else data, str(path))
        form = read_workbook(path, package)
        if is_blank(form):
            return ReadFile(BLANK)
        is_checked = marked_tab(package, SHEET_NAME) is not None
        record = record_of(form, diagnose(form), read_answers(path, package), is_checked)
        return ReadFile(JOB, record=record)
    except NotOurWorkbook:
        return ReadFile(OTHER)
    except EngineCheckError as problem:
        return ReadFile(UNUSABLE, clean(problem))
    except Exception as problem:  # one odd file must not keep a bookkeeper from all the others
        return ReadFile(UNUSABLE, clean(f"{path} could not be judged, {fault_of_ours(problem)}."))
