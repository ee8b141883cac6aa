"""Whole jobs from `tests/cases`: readings in, findings and discrepancies out, nothing else found.

Two discrepancy kinds have no case here: `limit_changed` needs a specs book beside the job, `duplicate_job` a register
of several jobs.
"""

from __future__ import annotations

import re
import zipfile
from collections import Counter
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.support.cases import Case, cases, differences, judged, typed
from tests.support.forms import blank_form, cell_of
from workbook_tools import check_workbook, fill_workbook
from workbook_tools.diagnose.model import DISCREPANCY_KINDS, Diagnosis
from workbook_tools.faults.causes import CAUSES

#: By shape, since a form's formulas are made ready once for all jobs of a shape.
CASES = sorted(cases(), key=lambda case: str(case.shape))
ELSEWHERE = {"limit_changed", "duplicate_job"}


def named(chosen: list[Case]) -> Any:
    """Parameters of a test, each under the name of its case."""
    return pytest.mark.parametrize("case", chosen, ids=[case.name for case in chosen])


def through_file(case: Case, folder: Path) -> Diagnosis:
    """The diagnosis of a case by the whole way: a new workbook, filled, altered as the case says, checked."""
    form, filled = folder / "form.xlsx", folder / "filled.xlsx"
    blank_form(form, case.shape)
    fill_workbook(form, typed(case), filled)
    alter(filled, case.alter)
    return check_workbook(filled, out_dir=folder / "checked").diagnosis


def alter(path: Path, how: Any) -> None:
    """Do to a filled workbook what its case says somebody did."""
    for kind in ("typed_over", "formula", "stored"):
        for name, value in how.get(kind, {}).items():
            rewrite_cell(path, name, kind, value)
    if "forget_name" in how:
        name = how["forget_name"]
        rewrite_part(path, "xl/workbook.xml", rf'<definedName name="{name}">[^<]*</definedName>', "")
    if how.get("no_results"):
        openpyxl.load_workbook(path).save(path)  # openpyxl keeps formulas and drops what they gave


def rewrite_cell(path: Path, name: str, kind: str, value: Any) -> None:
    """Change one computed cell inside the package, and nothing else."""
    book = openpyxl.load_workbook(path)
    cell = cell_of(book, name)
    part = f"xl/worksheets/sheet{book.worksheets.index(cell.parent) + 1}.xml"
    pattern = rf'<c r="{cell.coordinate}"( s="\d+")?(?: t="\w+")?>(<f>.*?</f>)(?:<v>.*?</v>|<v/>)?</c>'
    formula = {"typed_over": "", "formula": f"<f>{str(value).lstrip('=')}</f>", "stored": r"\2"}[kind]
    held = "<v>180</v>" if kind == "formula" else f"<v>{value}</v>"
    rewrite_part(path, part, pattern, rf'<c r="{cell.coordinate}"\1>{formula}{held}</c>')


def rewrite_part(path: Path, part: str, pattern: str, replacement: str) -> None:
    """Replace the one place in a part of the package that the pattern finds."""
    with zipfile.ZipFile(path) as package:
        parts = {each: package.read(each) for each in package.namelist()}
    text, count = re.subn(pattern, replacement, parts[part].decode("utf-8"), flags=re.DOTALL)
    assert count == 1, f"{pattern} was found {count} times in {part}"
    parts[part] = text.encode("utf-8")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for each, content in parts.items():
            package.writestr(each, content)


@named([case for case in CASES if not case.alter])
def test_case(case: Case) -> None:
    """A whole job gives the findings and discrepancies that its case names, and no others."""
    assert differences(case, judged(case)) == [], case.why


@named([case for case in CASES if case.file and not case.alter])
def test_case_through_a_real_file(case: Case, tmp_path: Path) -> None:
    """The same comes out when the job goes through a workbook that was made, filled and checked."""
    assert differences(case, through_file(case, tmp_path)) == [], case.why


@named([case for case in CASES if case.alter])
def test_altered_file(case: Case, tmp_path: Path) -> None:
    """What somebody changed in the saved file is said, and the readings are judged all the same."""
    assert differences(case, through_file(case, tmp_path)) == [], case.why


def counts_by_cause() -> Counter[str]:
    """How many findings of each cause the cases expect."""
    return Counter(line.split()[0] for case in CASES for line in case.findings)


def counts_by_kind() -> Counter[str]:
    """How many discrepancies of each kind the cases expect."""
    return Counter(line.split()[0] for case in CASES for line in case.discrepancies)


def test_every_cause_has_a_case() -> None:
    """Each cause of the vocabulary is found by at least one case, and no case names another."""
    assert set(counts_by_cause()) == set(CAUSES)


def test_every_discrepancy_kind_has_a_case() -> None:
    """Each kind of discrepancy that one workbook can show is reported by at least one case."""
    assert set(counts_by_kind()) == set(DISCREPANCY_KINDS) - ELSEWHERE


def test_names_of_cases_are_unique() -> None:
    """A failing case is known by its name alone."""
    assert [name for name, count in Counter(case.name for case in CASES).items() if count > 1] == []


def test_what_must_not_be_found_is_a_cause() -> None:
    """A slip of spelling in `not_found` does not make a case pass."""
    assert {name for case in CASES for name in case.not_found} <= set(CAUSES)


if __name__ == "__main__":
    print(
        f"{len(CASES)} cases, {sum(case.file or bool(case.alter) for case in CASES)} of them through real files"
    )
    for name, count in [*counts_by_cause().most_common(), *counts_by_kind().most_common()]:
        print(f"{count:4} {name}")
