"""Where each cell of the form goes: one function from the form and a shape to plain data.

    layout(shape, sheets)   every named cell, caption, chart, width and height of a workbook of that shape

The generator writes what is said here; the reader finds a cell by its sheet and labels when its name is lost.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHEETS
from workbook_tools.language.model import Field, Shape, Sheet
from workbook_tools.layout.placing import SheetBuilder
from workbook_tools.layout.plan import Layout, ListPlace, Place, SheetPlan

#: Choices whose joined text is longer do not fit into a validation and are taken from a range.
LONGEST_LIST = 255
LIST_PREFIX = "list_"
META_SHEET = "Cautions"
META_TITLE = "This form"
META_LABELS = {
    "form_version": "Form version",
    "unit_system": "Units",
    "form_cylinders": "Cylinders",
    "form_banks": "Banks, front to rear",
    "form_currency": "Currency",
    "form_sheets": "Sheets",
}


@lru_cache(maxsize=the_form.SHAPES)
def layout(shape: Shape, sheets: tuple[Sheet, ...] = SHEETS) -> Layout:
    """Where everything stands in a workbook of that shape; `sheets` in order, all of the form by default."""
    builders = {sheet.name: SheetBuilder(sheet, shape) for sheet in sheets}
    for builder in builders.values():
        builder.build()
    last = builders.get(META_SHEET) or list(builders.values())[-1]
    meta = last.meta(META_TITLE, META_LABELS)
    plans = tuple(builder.plan() for builder in builders.values())
    cells = {place.name: place for plan in plans for place in plan.places}
    return Layout(plans, cells, _ranges(shape, cells), meta, _lists(cells.values(), last))


def _ranges(shape: Shape, cells: dict[str, Place]) -> dict[str, tuple[Place, Place]]:
    """First and last cell of each repeated item that a formula refers to as a whole, by range name."""
    found = {}
    for base in sorted(the_form.columns_of(shape)):
        rows = shape.rows(the_form.repeats()[base])
        found[f"all_{base}"] = cells[f"{base}_{rows[0]}"], cells[f"{base}_{rows[-1]}"]
    return found


def _lists(places: Iterable[Place], builder: SheetBuilder) -> tuple[ListPlace, ...]:
    """Long lists of choices, each once, side by side at the right of the sheet that says what the form is."""
    long: dict[tuple[str, ...], str] = {}
    for place in places:
        if isinstance(place.item, Field) and len(",".join(place.item.choices)) > LONGEST_LIST:
            long.setdefault(place.item.choices, LIST_PREFIX + place.item.name)
    return tuple(
        ListPlace(name, builder.sheet.name, 0, builder.first_working + offset, choices)
        for offset, (choices, name) in enumerate(long.items())
    )


def list_names(plan: Layout) -> dict[tuple[str, ...], str]:
    """The range name of each long list, by its choices."""
    return {each.choices: each.name for each in plan.lists}


def sheet_of(plan: Layout, name: str) -> SheetPlan:
    """The plan of one sheet by name. Raises KeyError for a sheet that the layout has not."""
    for sheet in plan.sheets:
        if sheet.name == name:
            return sheet
    raise KeyError(name)
