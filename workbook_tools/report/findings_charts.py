"""Compression by cylinder as read, beside its limits and the readings after the repair: table and chart."""

from __future__ import annotations

from typing import Any

from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.generate.charts import (
    BAR_LOOKS,
    FEWEST_FOR_A_LINE,
    GAPS,
    LIMIT_LOOKS,
    TEXT,
    USUAL_GAP,
)
from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.styles import GREY, LINE
from workbook_tools.language.model import Item, cell_name
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.report.findings_page import COLUMN_WIDTH, FIRST, LABEL, LAST, Box, FindingsPage

CHART_ROWS, CHART_ROW_HEIGHT = 13, 18.0
#: XlsxWriter's own reckoning, by which it finds the cell that a size ends in.
PIXELS_PER_CHARACTER, PIXELS_PER_POINT = 7, 4 / 3
READINGS = (
    ("compression_dry", "dry"),
    ("compression_wet", "wet"),
    ("after_compression", "dry, after the repair"),
)
LIMITS = (("compression_low_line", "low below this"), ("site_compression_max", "highest allowed"))

Column = tuple[str, list[float | None]]


def write_compression(page: FindingsPage, diagnosis: Diagnosis, form: FilledForm) -> None:
    """Chart and table of the readings; nothing where no cylinder was gauged dry."""
    readings = _readings(diagnosis, form)
    if not readings or readings[0][0] != READINGS[0][1]:
        return
    limits = _limits(diagnosis, form)
    unit = _dry(form).measure.unit(form.shape.units)
    page.heading("Compression by cylinder", f"As read, in {unit}.")
    with page.together():
        chart_row = page.row
        for _ in range(CHART_ROWS):
            page.gap(CHART_ROW_HEIGHT)
        first = _table(page, form.shape.cylinders, readings + limits)
    _chart(page, chart_row, first, form.shape.cylinders, readings, limits, unit)


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
) -> None:
    chart = page.book.add_chart({"type": "column"})
    lines = page.book.add_chart({"type": "line"})
    for place, (fill, border) in zip(range(len(readings)), BAR_LOOKS, strict=False):
        look: dict[str, Any] = {"fill": {"color": fill}, "border": {"color": border}, "overlap": 0}
        gap = GAPS.get(cylinders, USUAL_GAP)
        chart.add_series(_series(page, first, cylinders, FIRST + place) | look | {"gap": gap})
    for place, (colour, dash) in zip(range(len(limits)), LIMIT_LOOKS, strict=False):
        marker: dict[str, Any] = {"type": "none"}
        if cylinders < FEWEST_FOR_A_LINE:
            marker = {"type": "long_dash", "size": 20, "fill": {"color": colour}, "border": {"color": colour}}
        line = {"line": {"color": colour, "width": 2, "dash_type": dash}, "marker": marker}
        lines.add_series(_series(page, first, cylinders, FIRST + len(readings) + place) | line)
    if limits:
        chart.combine(lines)
    chart.set_x_axis({"name": "Cylinder", "name_font": TEXT, "num_font": TEXT, "line": {"color": GREY}})
    grid_lines = {"visible": True, "line": {"color": LINE}}
    # Columns are read by their length, so they begin at zero.
    chart.set_y_axis(
        {"name": unit, "name_font": TEXT, "num_font": TEXT, "major_gridlines": grid_lines, "min": 0}
    )
    chart.set_legend({"position": "bottom", "font": TEXT})
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


def _series(page: FindingsPage, first: int, cylinders: int, column: int) -> dict[str, Any]:
    """Name, categories and values of a column of the table, as cells of the sheet."""
    sheet, last = page.page.get_name(), first + cylinders - 1
    return {
        "name": [sheet, first - 1, column],
        "categories": [sheet, first, LABEL, last, LABEL],
        "values": [sheet, first, column, last, column],
    }
