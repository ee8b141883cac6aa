"""A share of the workbooks at every limit of `tests/attack/limits.py`, and the figures that they are refused by."""

from __future__ import annotations

import json
import random
import zipfile
from pathlib import Path

import pytest

from tests.attack.hard_files import CASES, SAMPLE
from tests.attack.limits import attempt, judged
from workbook_tools.checking.check import check_workbook
from workbook_tools.errors import UnusableFile
from workbook_tools.generate.fill import fill_workbook
from workbook_tools.package.cells import split_reference
from workbook_tools.package.intake import count_elements, has_endless_tag
from workbook_tools.read.limits import MOST_ELEMENTS, MOST_IN_SHEETS


@pytest.fixture(scope="module")
def usual() -> object:
    """What is found in the sample that the others are made from."""
    return _outcome(SAMPLE)


def _outcome(path: Path) -> object:
    return judged(json.dumps(check_workbook(path, write=False).as_json()))


#: Checked as the command does, in a process of their own, with its time and memory.
MEASURED = ("1,048,576 rows, the empty ones styled", "a directory that says of 20 MB that they are 100 bytes")


@pytest.mark.parametrize("name", MEASURED)
def test_large_files_keep_to_the_limits(name: str, tmp_path: Path, usual: object) -> None:
    """A file that is far too much is refused in one sentence or checked right, in bounded time and memory."""
    wrong, _, _ = attempt(name, tmp_path, usual)
    assert wrong == []


QUICK = [name for name, case in CASES.items() if case.quick]


@pytest.mark.parametrize("name", QUICK)
def test_hard_files_are_refused_or_checked(name: str, tmp_path: Path, usual: object) -> None:
    """Each is refused in one sentence for its reason, or has the sample's own findings."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(CASES[name].make())
    try:
        found = _outcome(path)
    except UnusableFile as refusal:
        assert "\n" not in str(refusal) and str(refusal).endswith(".")
        assert CASES[name].refusal != "" and (CASES[name].refusal or "") in str(refusal)
    else:
        assert not CASES[name].refusal and found == usual


@pytest.mark.parametrize(
    ("reference", "place"),
    [
        ("Compression!$XFD$1048576", ("Compression", "XFD1048576")),
        ("'Fuel and air'!B07", ("Fuel and air", "B7")),
        ("Compression!$XFE$1", None),
        ("Compression!$A$1048577", None),
        ("Compression!$A$0", None),
    ],
)
def test_references_end_with_the_sheet(reference: str, place: tuple[str, str] | None) -> None:
    """A cell beyond the last row and column that a sheet can have is none."""
    assert split_reference(reference) == place


@pytest.mark.parametrize(
    ("attributes", "between", "endless"),
    [(999, " ", False), (1000, " ", True), (1000, "\n ", True), (5000, "", False)],
)
def test_endless_tags(attributes: int, between: str, endless: bool) -> None:
    """A thousand attributes of one element are found, whatever stands in them; a long text of equals signs is none."""
    inside = "".join(f"{between}attribute{number}='>'" for number in range(attributes))
    content = f"<a>text = 1</a><b{inside}/>" if between else f"<f>{inside}</f>"
    assert has_endless_tag(content.encode()) is endless
    assert has_endless_tag(content.encode("utf-16")) is endless


def test_forms_are_far_from_the_limits() -> None:
    """A whole form has a fifth at most of what may be read."""
    with zipfile.ZipFile(SAMPLE) as archive:
        sheets = sum(
            count_elements(archive.read(name)) for name in archive.namelist() if "worksheets/sheet" in name
        )
        lists = sum(
            count_elements(archive.read(name))
            for name in ("xl/workbook.xml", "xl/styles.xml", "xl/sharedStrings.xml")
        )
    assert 5000 < sheets < MOST_IN_SHEETS / 5 and 1000 < lists < MOST_ELEMENTS / 5


def test_made_files_are_the_same_every_time() -> None:
    """What went wrong once can be made again."""
    name = random.Random(1).choice([name for name in QUICK if "bits" in name])
    assert CASES[name].make() == CASES[name].make()


@pytest.mark.parametrize("name", [name for name in QUICK if "bits" not in name and "% of" not in name])
def test_hard_files_are_filled_or_refused(name: str, tmp_path: Path) -> None:
    """Filling one, too, is done or refused in one sentence."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(CASES[name].make())
    try:
        fill_workbook(path, {"vehicle": "tractor"}, tmp_path / "out.xlsx")
    except UnusableFile as refusal:
        assert "\n" not in str(refusal) and str(refusal).endswith(".")
    else:
        assert (tmp_path / "out.xlsx").stat().st_size > 10_000
