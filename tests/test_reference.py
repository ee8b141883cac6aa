"""The reference pages say what the form and the rules say today."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbook_tools.commands import reference_pages as reference
from workbook_tools.commands.program import main
from workbook_tools.diagnose.model import DISCREPANCY_KINDS
from workbook_tools.errors import UnusableFile
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.rules import RULES
from workbook_tools.form import the_form
from workbook_tools.language.constants import CONSTANTS

DOCS = Path(__file__).parents[1] / "docs"
PAGES = {"fields.md": reference.fields_page, "rules.md": reference.rules_page}


@pytest.mark.parametrize("name", PAGES)
def test_pages_are_current(name: str) -> None:
    """The pages in docs are what the command writes now; `engine-check reference docs` renews them."""
    assert (DOCS / name).read_text(encoding="utf-8") == PAGES[name]()


def test_command_writes_both_pages(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`engine-check reference DIR` makes the folder and writes the pages as they stand in docs."""
    folder = tmp_path / "new" / "docs"
    assert main(["reference", str(folder)]) == 0
    assert {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()} == {
        name: page() for name, page in PAGES.items()
    }
    assert "fields.md written" in capsys.readouterr().err


def test_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    """A file in the place of the folder is said in a sentence and stays as it is."""
    (tmp_path / "docs").write_text("mine")
    with pytest.raises(UnusableFile, match="can't be made"):
        reference.write_reference(tmp_path / "docs")
    assert (tmp_path / "docs").read_text() == "mine"


def test_every_field_and_result_has_a_row() -> None:
    """Nothing that the form asks or computes is missing, but for what each reading with limits has."""
    lines = reference.fields_page().splitlines()
    rows = {line.split("`")[1] for line in lines if line.startswith("| `")}
    shared = ("low_limit_", "high_limit_", "margin_", "band_", "mark_")
    own = {name for name in the_form.items() if not name.startswith(shared)}
    assert own - rows == set()
    assert rows - set(the_form.items()) == set()


def test_every_rule_cause_kind_and_figure_has_a_row() -> None:
    """The rule page names each of them at the start of a row."""
    starts = {
        line.split(" | ")[0].removeprefix("| ").strip("`")
        for line in reference.rules_page().splitlines()
        if line.startswith("| ")
    }
    for names in (CONSTANTS, RULES, CAUSES, DISCREPANCY_KINDS):
        assert set(names) - starts == set()


def test_tables_are_well_formed() -> None:
    """Every row of every table has as many columns as its head: no typed bar splits a cell."""
    for page in PAGES.values():
        columns = 0
        for line in page().splitlines():
            if not line.startswith("|"):
                columns = 0
                continue
            found = line.replace("\\|", "").count("|")
            columns = columns or found
            assert found == columns, line
