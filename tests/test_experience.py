"""The shop's own proven repairs, from the register's store into the guide of new forms."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from tests.support.one_sheet import sheet_in
from workbook_tools.commands.program import main
from workbook_tools.errors import UnusableFile
from workbook_tools.generate.fill import fill_workbook
from workbook_tools.generate.workbook import new_workbook
from workbook_tools.guide.fits import NO_COMPLAINT
from workbook_tools.register.experience import experience_of
from workbook_tools.register.make import make_register

LATE = {
    "spec_timing": 8,
    "spec_timing_speed": 650,
    "timing": 0,
    "timing_speed": 650,
    "work_1": "timing set",
    "work_cause_1": "late_timing",
    "after_timing": 8,
}


@pytest.fixture(scope="module")
def register(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four jobs: late timing three times, put right and proven twice, once as a second file; once not taken again."""
    folder = tmp_path_factory.mktemp("jobs")
    form = new_workbook(folder.parent / "form.xlsx")
    jobs = {
        "one": {"job_number": "1", "complaint": "lacks power", **LATE},
        "two": {"job_number": "2", "complaint": "overheats", **LATE},
        "copy": {"job_number": "2", "complaint": "overheats", **LATE},
        "three": {"job_number": "3", "complaint": "lacks power", **{**LATE, "after_timing": None}},
    }
    for name, entries in jobs.items():
        typed = {field: each for field, each in entries.items() if each is not None}
        fill_workbook(form, typed, folder / f"{name}.xlsx")
    out = folder.parent / "register.xlsx"
    make_register(folder, out)
    return out


def test_proven_repairs_count_once_a_job(register: Path) -> None:
    """By complaint and for all; a copy counts once, a repair that no reading proves not at all."""
    found = experience_of(str(register))
    assert found.jobs == 2
    assert found.repaired == {
        NO_COMPLAINT: {"late_timing": 2},
        "lacks power": {"late_timing": 1},
        "overheats": {"late_timing": 1},
    }
    assert experience_of(str(register.with_name("register.store.sqlite"))) == found


def test_the_register_shows_them(register: Path) -> None:
    """Sheet Causes names the complaints beside each cause's proven repairs."""
    rows = sheet_in(register, "Causes").iter_rows(values_only=True)
    (late,) = [row for row in rows if row[0] == "Ignition timing late"]
    assert late[-1] == "lacks power 1, overheats 1"


def test_a_new_form_learns_from_them(
    register: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command puts them into the form, and says from how many jobs."""
    assert main(["new", str(tmp_path / "job.xlsx"), "--experience", str(register)]) == 0
    assert "2 jobs with a proven repair" in capsys.readouterr().err
    book = openpyxl.load_workbook(tmp_path / "job.xlsx", data_only=True)
    sheet, cell = book.defined_names["weights_from"].attr_text.replace("$", "").split("!")
    assert "2 jobs of this shop" in str(book[sheet.strip("'")][cell].value)


def test_no_store_is_said_in_a_sentence(tmp_path: Path) -> None:
    """A register that was never made has taught nothing."""
    with pytest.raises(UnusableFile, match="does not exist"):
        experience_of(str(tmp_path / "register.xlsx"))
