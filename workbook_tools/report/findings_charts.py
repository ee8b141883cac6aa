"""Compression by cylinder as read, beside its limits and the readings after the repair: table and chart."""

from __future__ import annotations

from typing import Any

from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.generate.charts import (
    FILLS,
    FRAME,
    FRAMES,
    GAPS,
    TEXT,
    USUAL_GAP,
    level_look,
    line_chart,
)
from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.styles import GREY, LINE
from workbook_tools.language.model import OUT_OF_LIMITS, Item, cell_name
from workbook_tools.layout import grid
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.report.findings_page import COLUMN_WIDTH, FIRST, LABEL, LAST, Box, FindingsPage

CHART_ROWS, CHART_ROW_HEIGHT = 11, 18.0
#: XlsxWriter's own reckoning, by which it finds the cell that a size ends in.
PIXELS_PER_CHARACTER, PIXELS_PER_POINT = 7, 4 / 3
READINGS = (
    ("compression_dry", "dry"),
    ("compression_wet", "wet"),
    ("after_compression", "dry, after the repair"),
)
LIMITS = (("compression_low_line", "low below this"), ("site_compression_max", "highest allowed"))

Column = tuple[str, list[float | None]]


def room_for_chart(page: FindingsPage, diagnosis: Diagnosis, form: FilledForm) -> int | None:
    """Leave room for the chart here, above its table; its first row, None where no cylinder was gauged dry."""
    if not _is_gauged(_readings(diagnosis, form)):
        return None
    with page.together():
        page.gap(grid.GROUP_HEIGHT)
        row = page.row
        for _ in range(CHART_ROWS):
            page.gap(CHART_ROW_HEIGHT)
    return row


def _is_gauged(readings: list[Column]) -> bool:
    return bool(readings) and readings[0][0] == READINGS[0][1]


def write_compression(
    page: FindingsPage, diagnosis: Diagnosis, form: FilledForm, chart_row: int | None = None
) -> None:
    """Table of the readings, and their chart at its row or above the table; nothing where no cylinder was gauged dry."""
    readings = _readings(diagnosis, form)
    if not _is_gauged(readings):
        return
    limits = _limits(diagnosis, form)
    unit = _dry(form).measure.unit(form.shape.units)
    page.heading("Compression by cylinder", f"As read, in {unit}.")
    if chart_row is None:
        chart_row = room_for_chart(page, diagnosis, form)
    assert chart_row is not None
    with page.together():
        first = _table(page, form.shape.cylinders, readings + limits)
    out = frozenset(
        number
        for number in range(1, form.shape.cylinders + 1)
        for mark in diagnosis.marks
        if mark.field == cell_name(READINGS[0][0], number) and mark.mark == OUT_OF_LIMITS
    )
    _chart(page, chart_row, first, form.shape.cylinders, readings, limits, unit, out)


def reading(name: str, diagnosis: Diagnosis, form: FilledForm) -> float | None:
    """A reading as it was judged; where it has no limits, as it was typed."""
    for mark in diagnosis.marks:
        if mark.field == name:
            return mark.value
    value = form.entries[name].value if name in form.entries else None
    return float(value) if isinstance(value, (int, float)) else None


def _dry(form: FilledForm) -> Item:
    return form.cells[cell_name(READINGS[0][0], 1)].form.item


def _readings(diagnosis: Diagnosis, form: FilledForm) -> list[Column]:
    cylinders = range(1, form.shape.cylinders + 1)
    columns = [
        (title, [reading(cell_name(name, cylinder), diagnosis, form) for cylinder in cylinders])
        for name, title in READINGS
    ]
    return [column for column in columns if any(value is not None for value in column[1])]


def _limits(diagnosis: Diagnosis, form: FilledForm) -> list[Column]:
    computed = {each.name: each.recomputed for each in diagnosis.computed}
    # One decimal more than the form shows: a level is read off the table, not calculated with.
    decimals = _dry(form).measure.decimals(form.shape.units) + 1
    levels = [(title, computed.get(name)) for name, title in LIMITS]
    return [
        (title, [round(level, decimals)] * form.shape.cylinders)
        for title, level in levels
        if isinstance(level, (int, float))
    ]


def _table(page: FindingsPage, cylinders: int, columns: list[Column]) -> int:
    """The table that the chart is drawn from; returns its first row of numbers."""
    page.line(
        Box(LABEL, LABEL, "Cylinder", "head"),
        *(
            Box(FIRST + place, FIRST + place, title, "number head")
            for place, (title, _) in enumerate(columns)
        ),
    )
    first = page.row
    for cylinder in range(cylinders):
        values = [values[cylinder] for _, values in columns]
        page.line(
            Box(LABEL, LABEL, float(cylinder + 1), "row number"),
            *(
                Box(FIRST + place, FIRST + place, "" if value is None else value, "number")
                for place, value in enumerate(values)
            ),
        )
    return first


def _chart(
    page: FindingsPage,
    row: int,
    first: int,
    cylinders: int,
    readings: list[Column],
    limits: list[Column],
    unit: str,
    out: frozenset[int],
) -> None:
    chart = page.book.add_chart({"type": "column"})
    lines = line_chart(page.book)
    gap = GAPS.get(cylinders, USUAL_GAP)
    for place, (_, values) in enumerate(readings):
        look: dict[str, Any] = {"fill": {"color": FILLS[0]}, "border": {"color": FRAMES[0]}}
        if place:
            width = 2.25 if place == 1 else 1.25
            look = {"fill": FRAME, "border": {"color": FRAMES[0], "width": width}}
        else:
            look["points"] = [_point(value, number, out) for number, value in enumerate(values, 1)]
        chart.add_series(_series(page, first, cylinders, FIRST + place) | look | {"gap": gap, "overlap": 100})
    for place, (title, _) in enumerate(limits):
        series = _series(page, first, cylinders, FIRST + len(readings) + place)
        look = level_look(title, place, cylinders)
        # A name that is no cell's gets lost where LibreOffice brings the sheet into another workbook.
        if not look.pop("name").strip():
            series["name"] = [page.page.get_name(), first - 1, LAST]
            checked(page.page.write_string(first - 1, LAST, " ", page.look("head")), "no name")
        lines.add_series(series | look)
    if limits:
        chart.combine(lines)
    chart.set_x_axis({"name": "Cylinder", "name_font": TEXT, "num_font": TEXT, "line": {"color": GREY}})
    grid_lines = {"visible": True, "line": {"color": LINE}}
    # Columns are read by their length, so they begin at zero.
    chart.set_y_axis(
        {"name": unit, "name_font": TEXT, "num_font": TEXT, "major_gridlines": grid_lines, "min": 0}
    )
    chart.set_legend({"position": "right", "font": TEXT})
    chart.set_chartarea({"border": {"color": LINE}})
    chart.show_blanks_as("gap")
    width = (LAST - LABEL + 1) * (COLUMN_WIDTH * PIXELS_PER_CHARACTER + 5)
    height = CHART_ROWS * CHART_ROW_HEIGHT * PIXELS_PER_POINT
    chart.set_size({"width": width - 8, "height": height - 12})
    options = {
        "x_offset": 4,
        "y_offset": 4,
        "object_position": 1,
        "description": "Chart: compression by cylinder",
    }
    checked(page.page.insert_chart(row, LABEL, chart, options), "chart of compression")


def _point(value: float | None, number: int, out: frozenset[int]) -> dict[str, Any] | None:
    """The look of a cylinder that is out of limits; None for that of its series."""
    if value is None or number not in out:
        return None
    return {"fill": {"color": FILLS[1]}, "border": {"color": FRAMES[1]}}


def _series(page: FindingsPage, first: int, cylinders: int, column: int) -> dict[str, Any]:
    """Name, categories and values of a column of the table, as cells of the sheet."""
    sheet, last = page.page.get_name(), first + cylinders - 1
    return {
        "name": [sheet, first - 1, column],
        "categories": [sheet, first, LABEL, last, LABEL],
        "values": [sheet, first, column, last, column],
    }
