"""Each result is claimed twice, as a formula and as Python: a real spreadsheet program must find both the
same.

Seeded random entries, with blanks, slips and readings exactly on their limits, are written into generated
forms; then every computed cell, text and number, is compared. LibreOffice decides; a second engine, in pure
Python, gives a second opinion on some, and on machines without LibreOffice the only one.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

import pytest

from tests.support.array_values import results_of
from tests.support.cases import cases, typed
from tests.support.formula_names import names_in
from tests.support.office import Office
from tests.support.random_readings import Entry, random_entries
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.generate.workbook import new_workbook
from workbook_tools.language.model import STRENGTHS, Field, Result, Shape, UnitSystem
from workbook_tools.language.values import Values
from workbook_tools.science.engine_geometry import banks_text, default_banks

#: Forms for these engines, and how many sets of entries each is filled with: 200 filled workbooks in all.
SETS = 20
ENGINES: tuple[tuple[int, UnitSystem], ...] = (
    (1, "us"),
    (2, "metric"),
    (3, "us"),
    (4, "us"),
    (4, "metric"),
    (6, "us"),
    (8, "us"),
    (10, "us"),
    (12, "metric"),
    (16, "us"),
)
NUMBERS_AGREE = 1e-9


def form_of(cylinders: int, units: UnitSystem, folder: Path) -> tuple[Shape, Path]:
    """An empty generated form, and its shape."""
    shape = Shape(cylinders, default_banks(cylinders), units)
    return shape, new_workbook(
        folder / "form.xlsx", cylinders=cylinders, banks=banks_text(shape.banks), units=units
    )


def computed_names(shape: Shape) -> list[str]:
    """Names of all computed cells of a form of that shape."""
    return [name for name, cell in the_form.cells(shape).items() if isinstance(cell.item, Result)]


def fillable(shape: Shape, entries: Mapping[str, Entry | None]) -> dict[str, Entry | None]:
    """The entries without those that are fixed when the form is made."""
    locked = {
        name
        for name, cell in the_form.cells(shape).items()
        if isinstance(cell.item, Field) and cell.item.locked
    }
    return {name: value for name, value in entries.items() if name not in locked}


def same(python: object, workbook: object) -> bool:
    """Whether both show the same: an empty text is a blank, and text is compared as a formula does."""
    blank = (None, "")
    if python in blank or workbook in blank:
        return python in blank and workbook in blank
    if isinstance(python, str) or isinstance(workbook, str):
        return (
            isinstance(python, str) and isinstance(workbook, str) and python.casefold() == workbook.casefold()
        )
    if isinstance(python, (int, float)) and isinstance(workbook, (int, float)):
        return math.isclose(python, workbook, rel_tol=NUMBERS_AGREE, abs_tol=NUMBERS_AGREE)
    return False


def differences(shape: Shape, computed: Values, workbook: Mapping[str, object]) -> list[str]:
    """What differs, each with both values, the formula and what it looked at."""
    found = []
    for name in computed_names(shape):
        if same(computed.values[name], workbook[name]):
            continue
        cell = the_form.cells(shape)[name]
        assert isinstance(cell.item, Result)
        formula = the_form.formula_of(cell.item, shape, cell.number)
        seen = {each: computed.values.get(each) for each in sorted(names_in(formula))}
        found.append(
            f"{name}: Python {computed.values[name]!r}, workbook {workbook[name]!r}\n  {formula}\n  {seen}"
        )
    return found


@pytest.mark.parametrize(("cylinders", "units"), ENGINES, ids=[f"{n}-{units}" for n, units in ENGINES])
def test_libreoffice_calculates_what_python_computes(
    cylinders: int, units: UnitSystem, office: Office, tmp_path: Path
) -> None:
    """Every computed cell of every filled form is in LibreOffice what Python says it is."""
    shape, form = form_of(cylinders, units, tmp_path)
    rng = random.Random(1000 * cylinders + len(units))
    entries = [random_entries(shape, rng) for _ in range(SETS)]
    rows = office.evaluate_many(form, [fillable(shape, each) for each in entries], computed_names(shape))
    found = [
        text
        for each, row in zip(entries, rows, strict=True)
        for text in differences(shape, the_form.compute(shape, each), row)
    ]
    assert not found, "\n".join(found[:20])


@pytest.mark.parametrize(("cylinders", "units"), [(2, "metric"), (4, "us")])
def test_a_second_engine_calculates_what_python_computes(
    cylinders: int, units: UnitSystem, tmp_path: Path
) -> None:
    """The same, twice for each engine, in a formula engine that shares nothing with LibreOffice."""
    from tests.support.pure_formulas import Model

    shape, form = form_of(cylinders, units, tmp_path)
    model, rng = Model(form), random.Random(cylinders)
    for _ in range(2):
        entries = random_entries(shape, rng)
        row = model.evaluate(fillable(shape, entries), computed_names(shape))
        assert differences(shape, the_form.compute(shape, entries), row) == []


#: Of each engine.
RANDOM_FORMS = 180


@lru_cache(maxsize=8)
def item_names(shape: Shape) -> dict[str, str]:
    """The name of the item of each computed cell."""
    return {name: the_form.cells(shape)[name].item.name for name in computed_names(shape)}


def test_random_entries_reach_every_verdict() -> None:
    """The entries of these tests bring out every word that Start and the systems' results can say."""
    rng = random.Random(11)
    said: dict[str, set[str]] = {}
    for cylinders in (4, 6, 8):
        shape = Shape(cylinders, default_banks(cylinders))
        # Judged by arrays, all at once: that they give what single forms give is tested in test_many_engines.
        cells, texts = results_of(shape, [random_entries(shape, rng) for _ in range(RANDOM_FORMS)])
        for name, item in item_names(shape).items():
            said.setdefault(item, set()).update(texts.texts[code] for code in set(cells[name].codes) if code)
    for case in cases():
        entries = {name: value for name, value in typed(case).items() if isinstance(value, (int, float, str))}
        for name, value in the_form.compute(case.shape, entries, as_typed=True).values.items():
            if isinstance(value, str) and name in the_form.cells(case.shape):
                said.setdefault(the_form.cells(case.shape)[name].item.name, set()).add(value)
    for state in ("state_readiness", "state_compression", "state_ignition", "state_fuel_and_air"):
        assert said[state] == {
            "proven",
            "proven as far as the figures go",
            "fault found",
            "not proven yet",
        }, state
    for cause in CAUSES.values():
        for verdict in cause.verdicts:
            signs = cause.signs if verdict.per == "job" else cause.cylinder_signs
            strengths = {sign.strength for sign in signs if sign.strength}
            assert said.get(verdict.name, set()) <= strengths, verdict.name
            assert min(strengths, key=STRENGTHS.index) in said[verdict.name], verdict.name
