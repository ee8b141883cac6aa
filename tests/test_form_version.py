"""A form's formulas and names belong to its version: filled forms are held against today's, so a change is a new version.

python -m tests.test_form_version     note the formulas of a new version in tests/golden/form_versions.txt, and write
                                      those that a check knows by their digest
"""

from __future__ import annotations

import hashlib
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.support.filled import filled
from tests.test_layout import SHAPES
from workbook_tools import new_workbook
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.form import known_formulas, the_form
from workbook_tools.language.model import Result, Shape, UnitSystem
from workbook_tools.package.parts import Package, q
from workbook_tools.read.workbook import read_workbook
from workbook_tools.science.engine_geometry import default_banks

GOLDEN = Path(__file__).with_name("golden") / "form_versions.txt"
KNOWN = Path(known_formulas.__file__).with_name(known_formulas.FILE)
UNITS: tuple[UnitSystem, ...] = ("us", "metric")
#: Engines that a shop meets, with their usual banks.
USUAL = [Shape(n, default_banks(n), units) for n in (1, 2, 3, 4, 5, 6, 8, 10, 12) for units in UNITS]


def digest() -> str:
    """Digest of every named cell of the form, and of its formula where it is computed."""
    summed = hashlib.sha256()
    for shape in SHAPES:
        for name, cell in sorted(the_form.cells(shape).items()):
            formula = ""
            if isinstance(cell.item, Result):
                formula = the_form.formula_of(cell.item, shape, cell.number)
            summed.update(f"{name}\t{formula}\n".encode())
    return summed.hexdigest()


def noted() -> dict[int, str]:
    """The digest that each version was noted with."""
    lines = (line.split() for line in GOLDEN.read_text(encoding="ascii").splitlines())
    return {int(version): each for version, each in lines}


def note() -> None:
    """Add today's version to the golden file. Ends the program where that version was noted with other formulas."""
    before = noted() if GOLDEN.exists() else {}
    if before.setdefault(the_form.FORM_VERSION, digest()) != digest():
        sys.exit(
            f"Version {the_form.FORM_VERSION} was noted with other formulas or names: raise FORM_VERSION in form/the_form.py."
        )
    GOLDEN.write_text(
        "".join(f"{version} {each}\n" for version, each in sorted(before.items())), encoding="ascii"
    )
    KNOWN.write_text("".join(f"{engine} {each}\n" for engine, each in known().items()), encoding="ascii")


def known() -> dict[str, str]:
    """The digest of the formulas of each usual engine."""
    return {
        known_formulas.key(each): known_formulas.digest(the_form.formulas(each).values()) for each in USUAL
    }


def test_known_formulas_are_those_of_the_form() -> None:
    """Each digest that stands for all formulas of a usual engine is of today's formulas."""
    lines = (line.rsplit(" ", 1) for line in KNOWN.read_text(encoding="ascii").splitlines())
    assert {engine: each for engine, each in lines} == known(), "run python -m tests.test_form_version"


def test_a_change_of_one_formula_is_seen_by_the_digest() -> None:
    """Typed over, blank, or another in its place; written otherwise by a program it is the same."""
    shape = USUAL[0]
    formulas = list(the_form.formulas(shape).values())
    assert known_formulas.are_known(shape, formulas)
    for other in (None, "", "=1", formulas[5] + " "):
        assert not known_formulas.are_known(shape, [*formulas[:5], other, *formulas[6:]])
    assert not known_formulas.are_known(shape, formulas[1:])
    by_programs = [
        each.replace("FALSE", "FALSE()").replace("9E+99", "9E+099").replace("1e-07", "0.0000001")
        for each in formulas
    ]
    assert by_programs != formulas and known_formulas.are_known(shape, by_programs)
    assert not known_formulas.are_known(Shape(5, ((1, 3, 5), (2, 4))), formulas)


def test_changed_formulas_or_names_are_a_new_version() -> None:
    """The form's names and formulas are those that its version was noted with."""
    assert noted().get(the_form.FORM_VERSION) == digest(), (
        "Formulas or names changed: raise FORM_VERSION in form/the_form.py, then run python -m tests.test_form_version."
    )


def test_digest_sees_a_changed_formula(monkeypatch: pytest.MonkeyPatch) -> None:
    """A formula that differs in one character gives another digest."""
    before, real = digest(), the_form.formula_of
    monkeypatch.setattr(
        the_form,
        "formula_of",
        lambda item, shape, number: real(item, shape, number) + (" " if item.name == "labour_total" else ""),
    )
    assert digest() != before


def of_version(version: int, **readings: object) -> list[tuple[str, str]]:
    """Kind and message of what is said of the workbook itself, for a form whose highest compression is calculated otherwise."""
    form = filled(compression_dry=[140, 142, 139, 141], **readings)
    cells = dict(form.cells)
    name = "compression_highest"
    cells[name] = cells[name]._replace(formula="=LARGE(all_compression_dry,1)")
    cells["compression_lowest"] = cells["compression_lowest"]._replace(formula=None, raw=120)
    found = diagnose(replace(form, form_version=version, cells=cells)).discrepancies
    return [(each.field, each.message) for each in found if each.kind == "formula_replaced"]


def test_formulas_of_an_earlier_version_are_said_once_and_not_as_tampering(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A form of an earlier version is told so in one sentence; a cell typed over is still told for itself."""
    monkeypatch.setattr(the_form, "FORM_VERSION", 12)
    (first, said), (second, typed_over) = of_version(11)
    assert (first, second) == ("compression_highest", "compression_lowest")
    assert said.startswith("This form is of version 11, today's is 12") and "replaced" not in said
    assert "its formula was replaced by 120" in typed_over


def test_results_that_came_after_a_form_are_no_lost_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    """A computed cell that an older form had not yet counts as calculated otherwise; a lost input is still told as lost."""
    monkeypatch.setattr(the_form, "FORM_VERSION", 12)
    form = filled(compression_dry=[140, 142, 139, 141])
    cells = {name: cell for name, cell in form.cells.items() if name not in ("compression_last_1", "timing")}
    older = replace(form, form_version=11, cells=cells, lost=("timing", "compression_last_1"))
    found = {
        each.kind: each
        for each in diagnose(older).discrepancies
        if each.kind in ("formula_replaced", "layout_changed")
    }
    assert found["formula_replaced"].field == "compression_last_1"
    assert (
        found["layout_changed"].field == "timing"
        and "compression_last" not in found["layout_changed"].message
    )


def test_formulas_changed_in_a_form_of_today_are_told_one_by_one() -> None:
    """In a form of today's version each changed formula is reported as replaced."""
    found = of_version(the_form.FORM_VERSION)
    assert [field for field, _ in found] == ["compression_highest", "compression_lowest"]
    assert all("its formula was replaced by" in said for _, said in found)


if __name__ == "__main__":
    note()


def test_what_came_later_is_not_lost_in_an_earlier_form(tmp_path: Path) -> None:
    """A form of version 3 has none of the shop's data and no page for the customer, and its word `bill_note` for something else."""
    package = Package(new_workbook(tmp_path / "form.xlsx", cylinders=2).read_bytes(), "form.xlsx")
    book, shape = package.xml(package.workbook), Shape(2, ((1, 2),))
    later = {name for name, cell in the_form.cells(shape).items() if cell.since > 3}
    assert {"shop_name", "page_found_a", "page_cause_1", "advice"} <= later
    for defined in list(book.iter(q("definedName"))):
        if defined.get("name") in later:
            defined.getparent().remove(defined)
        elif defined.get("name") == "bill_missing":
            defined.set("name", "bill_note")
    package.touch(package.workbook)
    properties = package.xml("docProps/custom.xml")
    for held in properties.iter("{*}property"):
        if held.get("name") == "form_version":
            held[0].text = "3"
    package.touch("docProps/custom.xml")
    path = tmp_path / "old.xlsx"
    path.write_bytes(package.to_bytes())
    form = read_workbook(path)
    assert (form.form_version, form.lost) == (3, ())
    told = " ".join(each.message for each in diagnose(form).discrepancies)
    assert "can't be found" not in told and "calculates some results otherwise" not in told
