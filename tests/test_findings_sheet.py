"""The findings sheet: what stands on it, what it looks like, and that answers typed there are never lost.

python -m tests.test_findings_sheet     rewrite tests/golden/findings_*.txt after a wanted change
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils import range_boundaries

from tests.findings_samples import (
    DRY,
    answer_cell,
    bare,
    burned_valve,
    discrepancy,
    dump,
    finding,
    form_of,
    many,
    sheet_bytes,
    sheet_of,
    texts,
)
from tests.support.office import Office
from workbook_tools import check_workbook
from workbook_tools.diagnose.model import Computed, Discrepancy, RepairProof
from workbook_tools.language.model import Value
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.report import place_sheet
from workbook_tools.report.answers import discrepancy_keys, finding_keys, read_answers
from workbook_tools.sheets.cautions import CAUTIONS, DEFER

GOLDEN = Path(__file__).with_name("golden") / "findings_burned_valve.txt"
VALVE, UNIT = "finding:leaking_valve:3", "discrepancy:unit_doubt:compression_first_2"
LONG = "The pump runs rough when it rains & pulls badly; =1+1 <b>bold</b> {nothing} &amp; more. " * 9


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> FilledForm:
    return form_of(tmp_path_factory.mktemp("form") / "job.xlsx")


@pytest.fixture
def placed(form: FilledForm, tmp_path: Path) -> Path:
    """A copy of the workbook with the findings of the burned valve placed in it."""
    path = tmp_path / "checked.xlsx"
    place_sheet(form.path, sheet_bytes(burned_valve(form), form), path)
    return path


# --- what stands on it ---------------------------------------------------------------------------------


def test_golden_text_of_a_burned_valve(form: FilledForm) -> None:
    """The sheet of an engine with a burned valve says, cell by cell, what the golden text says."""
    assert dump(sheet_of(sheet_bytes(burned_valve(form), form)), form) == GOLDEN.read_text(encoding="utf-8")


@pytest.mark.parametrize(("cause", "is_said"), [("contact_points", True), ("late_timing", False)])
def test_repair_that_no_reading_proves_says_so(form: FilledForm, cause: str, is_said: bool) -> None:
    """Worn contacts are looked at again; the timing is read again."""
    done = replace(burned_valve(form), repairs=(RepairProof(cause, "Renewed", "not retaken", ()),))
    said = texts(sheet_of(sheet_bytes(done, form)))
    assert any("can't be proven on the form" in text for text in said) == is_said


def test_sections_stand_in_the_order_of_use(form: FilledForm) -> None:
    """What to know first stands first, the record of how it was judged last."""
    said = texts(sheet_of(sheet_bytes(burned_valve(form), form, {"finding:worn_rings:1": "seen"})))
    order = ["Findings", burned_valve(form).headline, "Compression", "Next",
             "Compression by cylinder", "Discrepancies",
             "Tests still to do", "Before and after the repair", "Earlier answers", "Cautions",
             "Computed values", "How it was judged"]  # fmt: skip
    places = [said.index(text) for text in order]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("findings", "discrepancies", "line"),
    [
        (0, 0, "No findings; no discrepancies; 2 tests still to do."),
        (1, 1, "1 finding (1 confirmed); 1 discrepancy; 2 tests still to do."),
        (
            2,
            2,
            "2 findings (1 confirmed, 1 possible, 1 of them provisional); "
            "2 discrepancies; 2 tests still to do.",
        ),
    ],
)
def test_counts_are_right(form: FilledForm, findings: int, discrepancies: int, line: str) -> None:
    """The second line counts findings by strength, discrepancies and owed tests."""
    whole = burned_valve(form)
    part = replace(
        whole, findings=whole.findings[:findings], discrepancies=whole.discrepancies[:discrepancies]
    )
    assert line in texts(sheet_of(sheet_bytes(part, form)))


def test_each_finding_and_discrepancy_has_one_answer_cell(form: FilledForm) -> None:
    """As many unlocked boxes as findings and discrepancies, whatever their number."""
    diagnosis = many(form, "words")
    sheet = sheet_of(sheet_bytes(diagnosis, form))
    keys = finding_keys(diagnosis.findings) + discrepancy_keys(diagnosis.discrepancies)
    assert len(set(keys)) == len(diagnosis.findings) + len(diagnosis.discrepancies)
    unlocked = {
        cell.coordinate for row in sheet.iter_rows(max_col=2) for cell in row if not cell.protection.locked
    }
    assert unlocked == {answer_cell(sheet, key) for key in keys}
    assert sheet.protection.sheet and not sheet.protection.password


def test_links_lead_to_the_cells_they_name(placed: Path, form: FilledForm) -> None:
    """Each piece of evidence links to the cell that holds its value, on the sheet where it is."""
    book = openpyxl.load_workbook(placed)
    links = {
        cell.value: cell.hyperlink.location
        for row in book["Findings"].iter_rows()
        for cell in row
        if cell.hyperlink is not None
    }
    assert links["Dry, at the end, cylinder 3 = 96 psi"] == quoted_place(form, "compression_dry_3")
    sheet, address = links["Wet, cylinder 3 = 99 psi"].replace("'", "").split("!")
    assert book[sheet][address].value == 99
    assert links[form.where("compression_first_2")] == quoted_place(form, "compression_first_2")
    assert links[form.where("timing")] == quoted_place(form, "timing")
    assert {place.rpartition("!")[0].strip("'") for place in links.values()} <= set(book.sheetnames)


def quoted_place(form: FilledForm, name: str) -> str:
    cell = form.cells[name]
    return f"'{cell.sheet}'!{cell.address}"


def test_a_sheet_name_with_a_quote_is_linked_to(form: FilledForm) -> None:
    """A renamed sheet with an apostrophe and an exclamation mark in its name is reached all the same."""
    odd = replace(discrepancy(form, "unit_doubt", "compression_dry_1"), cell="Joe's! page!B7")
    sheet = sheet_of(sheet_bytes(bare(form, discrepancies=(odd,)), form))
    locations = [cell.hyperlink.location for row in sheet.iter_rows() for cell in row if cell.hyperlink]
    assert locations == ["'Joe''s! page'!B7"]


def test_nothing_links_to_a_hidden_sheet(form: FilledForm) -> None:
    """A cell on a hidden sheet is named, and not linked to: programs refuse to go there."""
    hidden = replace(form, hidden_sheets=frozenset({form.cells["compression_dry_3"].sheet}))
    sheet = sheet_of(sheet_bytes(bare(form, findings=(finding(form),)), hidden))
    assert not [cell for row in sheet.iter_rows() for cell in row if cell.hyperlink]
    assert "Dry, at the end, cylinder 3 = 96 psi" in texts(sheet)


@pytest.mark.parametrize(
    "words",
    [
        "=1+1",
        "<b>bold</b>",
        "+A1",
        "@x",
        '=HYPERLINK("http://x")',
        "{=1}",
        "http://example.org",
        "a\x0bb",
    ],
)
def test_what_people_type_stays_text(form: FilledForm, words: str, tmp_path: Path) -> None:
    """Text that looks like a formula, a link or markup arrives as that text, everywhere on the sheet."""
    path = tmp_path / "checked.xlsx"
    place_sheet(form.path, sheet_bytes(many(form, words), form, {VALVE: words, "finding:gone": words}), path)
    sheet = sheet_of(path)
    shown = words.replace("\x0b", " ")
    assert texts(sheet).count(shown) > 40
    assert not [cell for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    assert not [cell for row in sheet.iter_rows() for cell in row if cell.hyperlink and cell.hyperlink.target]


def test_cautions_stand_at_their_step(form: FilledForm) -> None:
    """Each caution of a next step stands there, and nowhere else; the manual is put first."""
    said = texts(sheet_of(sheet_bytes(burned_valve(form), form)))
    for caution in {each.caution for each in burned_valve(form).findings if each.caution}:
        assert caution in CAUTIONS.values()
        assert said.count(caution) == 1
    assert said.count(DEFER) == 1


def test_an_unremarkable_engine_says_so(form: FilledForm) -> None:
    """Without findings, discrepancies or readings there is no empty table and no chart."""
    sheet = sheet_of(sheet_bytes(bare(replace(form, cells={})), replace(form, cells={})))
    assert "No fault was found in what was read." in texts(sheet)
    assert "Before and after the repair" not in texts(sheet)
    assert "Compression by cylinder" not in texts(sheet)


# --- chart ---------------------------------------------------------------------------------------------


def test_chart_shows_the_readings_as_read(form: FilledForm) -> None:
    """The chart is drawn from a table on the sheet: readings, and the limit that was worked out."""
    sheet = sheet_of(sheet_bytes(burned_valve(form), form))
    (chart,) = sheet._charts  # noqa: SLF001 - openpyxl shows charts nowhere else
    series = [*chart.series, *(each for other in chart._charts[1:] for each in other.series)]  # noqa: SLF001
    drawn = {title_of(sheet, each): numbers_of(sheet, each) for each in series}
    assert drawn == {"dry": list(DRY), "wet": [None, 155, 99, None], "low below this": [140.0] * 4}


def title_of(sheet: object, series: object) -> str:
    """The name of a series: a cell's text; of a level what is laid through it has the name."""
    if series.trendline is not None:  # type: ignore[attr-defined]
        return series.trendline.name  # type: ignore[attr-defined,no-any-return]
    return cells_at(sheet, series.tx.strRef.f)[0]  # type: ignore[attr-defined,return-value]


def numbers_of(sheet: object, series: object) -> list[Value]:
    return cells_at(sheet, series.val.numRef.f)  # type: ignore[attr-defined]


def cells_at(sheet: object, reference: str) -> list[Value]:
    left, top, _, bottom = range_boundaries(reference.split("!")[1].replace("$", ""))
    return [sheet.cell(row, left).value for row in range(top, bottom + 1)]  # type: ignore[attr-defined]


def test_readings_after_the_repair_stand_beside(tmp_path: Path) -> None:
    """Readings taken again after the repair are a column of their own."""
    again = {f"after_compression_{n}": 147 + n for n in range(1, 5)}
    retaken = form_of(tmp_path / "job.xlsx", **again)
    sheet = sheet_of(sheet_bytes(burned_valve(retaken), retaken))
    (chart,) = sheet._charts  # noqa: SLF001
    assert numbers_of(sheet, chart.series[2]) == [148, 149, 150, 151]


# --- answers -------------------------------------------------------------------------------------------

SAVES = {
    "openpyxl": lambda path, office: openpyxl.load_workbook(path).save(path),
    "LibreOffice": lambda path, office: office.resave(path, path),
}


@pytest.mark.parametrize(
    "answer",
    ["seat cracked", "=1+1", "<b>x</b>", "007", "one line\nanother", "Answer", "é ✓ 好 _x0041_", LONG * 30],
    ids=range(8),
)
def test_answers_survive_a_check(form: FilledForm, placed: Path, answer: str) -> None:
    """What stands in an answer cell stands there again after the next check, letter by letter."""
    typed = {VALVE: answer, UNIT: "x" + answer}
    place_sheet(placed, sheet_bytes(burned_valve(form), form, typed), placed)
    assert read_answers(placed) == typed
    sheet = sheet_of(placed)
    # openpyxl shows the file format's escape of `_x0041_` as it stands in the file.
    assert sheet[answer_cell(sheet, VALVE)].value.replace("_x005F", "") == answer


@pytest.mark.parametrize("program", SAVES)
def test_answers_survive_other_programs(
    form: FilledForm, placed: Path, program: str, request: pytest.FixtureRequest
) -> None:
    """Typed in one program, saved by another, checked again: the answers are found."""
    office = request.getfixturevalue("office") if program == "LibreOffice" else None
    typed = {VALVE: "valve ground, =1+1", UNIT: "read in bar"}
    place_sheet(placed, sheet_bytes(burned_valve(form), form, typed), placed)
    SAVES[program](placed, office)
    assert read_answers(placed) == typed
    name = place_sheet(placed, sheet_bytes(burned_valve(form), form, read_answers(placed)), placed)
    assert name == "Findings"
    assert read_answers(placed) == typed


def test_answers_typed_in_libreoffice_are_read(
    form: FilledForm, placed: Path, tmp_path: Path, office: Office
) -> None:
    """Typed in LibreOffice, after the user renamed the sheet and inserted a row and a column of his own."""
    sheet = sheet_of(placed)
    steps = [
        ("write", "Findings", answer_cell(sheet, VALVE), "ground in"),
        ("write", "Findings", answer_cell(sheet, UNIT), "12.50"),
        ("unprotect", "Findings"),
        ("insert_rows", "Findings", 3, 2),
        ("insert_columns", "Findings", 0, 1),
        ("rename_sheet", "Findings", "What we found"),
    ]
    out = tmp_path / "typed.xlsx"
    office.rearrange(placed, steps, out)
    assert read_answers(out) == {VALVE: "ground in", UNIT: "12.50"}
    assert place_sheet(out, sheet_bytes(burned_valve(form), form, read_answers(out)), out) == "What we found"
    assert read_answers(out) == {VALVE: "ground in", UNIT: "12.50"}


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        (5, "5"),
        (0.1, "0.1"),
        (17.25, "17.25"),
        (True, "TRUE"),
        ("=A1*2", "=A1*2"),
        ("  ", None),
        (None, None),
    ],
)
def test_answers_of_other_kinds_are_text(placed: Path, typed: object, read: str | None) -> None:
    """A number, a truth value or a formula in an answer cell is kept as its text; blanks are no answer."""
    book = openpyxl.load_workbook(placed)
    sheet = book["Findings"]
    sheet[answer_cell(sheet, VALVE)].value = typed
    book.save(placed)
    assert read_answers(placed) == ({} if read is None else {VALVE: read})


def test_an_answer_outlives_its_finding(form: FilledForm, placed: Path) -> None:
    """An answer whose finding is gone stands under earlier answers, and returns with the finding."""
    typed = {VALVE: "ground in", "finding:worn_rings:1-2": "no"}
    place_sheet(placed, sheet_bytes(bare(form), form, typed), placed)
    said = texts(sheet_of(placed))
    assert said[said.index("Earlier answers") :].count("ground in") == 1
    assert "Worn or broken rings, worn cylinder – cylinders 1 and 2" in said
    assert read_answers(placed) == typed
    place_sheet(placed, sheet_bytes(burned_valve(form), form, read_answers(placed)), placed)
    sheet = sheet_of(placed)
    assert sheet[answer_cell(sheet, VALVE)].value == "ground in"


def test_discrepancies_of_one_kind_and_cell_keep_their_answers_apart(form: FilledForm) -> None:
    """Two discrepancies of the same kind at the same cell have two keys."""
    twice = [discrepancy(form, "readings_conflict", "compression_dry_1")] * 2
    assert discrepancy_keys(twice) == [
        f"discrepancy:readings_conflict:compression_dry_1{end}" for end in ("", "#2")
    ]


def test_a_discrepancy_of_no_field_has_a_key(form: FilledForm, placed: Path) -> None:
    """A discrepancy of the whole workbook names no field and no cell; its answer is kept all the same."""
    of_all = Discrepancy("duplicate_job", "", "", "P-1041", "", "Another job has this number.")
    (key,) = discrepancy_keys([of_all])
    place_sheet(placed, sheet_bytes(bare(form, discrepancies=(of_all,)), form, {key: "known"}), placed)
    assert read_answers(placed) == {key: "known"}


def test_a_workbook_without_our_sheet_has_no_answers(form: FilledForm) -> None:
    """A form that was never checked has none, and neither has a sheet of the user's own by that name."""
    assert read_answers(form.path) == {}


def test_results_that_a_program_left_out_are_counted(tmp_path: Path) -> None:
    """Saved by a program that does not calculate: hundreds of cells without results are no list of differences."""
    job = next((Path(__file__).parents[1] / "sample_workbooks" / "filled").glob("S-101*"))
    copy = tmp_path / job.name
    openpyxl.load_workbook(job).save(copy)
    checked = check_workbook(copy)
    empty = [each for each in checked.diagnosis.computed if each.workbook is None and not each.agrees]
    page = openpyxl.load_workbook(copy)["Findings"]
    texts = [str(cell.value) for row in page for cell in row if cell.value is not None]
    told = next(text for text in texts if "held no result" in text)
    assert (
        told.startswith(f"{len(empty)} computed cells of {len(checked.diagnosis.computed)} ")
        and len(empty) > 500
    )
    assert "Differs" not in texts
    values = [text.replace("\u00a0", " ") for text in texts]
    assert any(text.startswith("1: sound") for text in values)  # what they should hold is there


@pytest.mark.parametrize(("differ", "shown", "more"), [(1, 1, []), (40, 40, []), (300, 40, ["260"])])
def test_many_differing_results_are_shown_in_part(
    form: FilledForm, differ: int, shown: int, more: list[str]
) -> None:
    """Results of earlier readings, left by a program that does not calculate: some are shown, and how many more there are."""
    names = list(form.computed)[:differ]
    computed = tuple(Computed(name, form.where(name), "", "held", "given", False) for name in names)
    said = texts(sheet_of(sheet_bytes(bare(form, computed=computed), form)))
    assert said.count("held") == said.count("given") == shown
    assert [text.partition(" more: ")[0] for text in said if " more: save the workbook" in text] == more


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        made = form_of(Path(folder, "job.xlsx"))
        GOLDEN.write_text(dump(sheet_of(sheet_bytes(burned_valve(made), made)), made), encoding="utf-8")
