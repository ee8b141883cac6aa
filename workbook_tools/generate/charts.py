"""Charts: columns or points over the repeats of an item, limits as dashed lines, readable in grey print."""

from __future__ import annotations

from typing import Any

from xlsxwriter.chart import Chart as BookChart
from xlsxwriter.workbook import Workbook

from workbook_tools.generate.styles import BLACK, BLUE, FONT, GREY, LINE, VERMILLION
from workbook_tools.language.model import Line, Shape
from workbook_tools.layout.plan import ChartPlace, Layout, SheetPlan

#: Fill and outline of the first, second, third series of columns: apart when printed in grey, and limit lines
#: show on them.
BAR_LOOKS = (("#56B4E9", BLUE), ("#FFFFFF", BLUE), (BLUE, BLUE))
LIMIT_LOOKS = ((VERMILLION, "dash"), (BLACK, "round_dot"), (VERMILLION, "long_dash_dot"), (BLACK, "solid"))
TEXT = {"name": FONT, "size": 9, "color": GREY, "bold": False}
#: Space between columns in percent of their width, by how many categories there are, so that one is no wall.
GAPS = {1: 400, 2: 250, 3: 150}
USUAL_GAP = 60
#: With fewer categories than this a line is too short to be seen, and the level is a dash at each category.
FEWEST_FOR_A_LINE = 3
#: Of fewer rows than this a chart has no room for words below it.
LOW_CHART = 12


def build_chart(book: Workbook, plan: Layout, sheet: SheetPlan, place: ChartPlace, shape: Shape) -> BookChart:
    """The chart of one place: columns with limit lines, or joined points where the chart has an x item."""
    chart = place.chart
    made = book.add_chart(
        {"type": "column"} if chart.x is None else {"type": "scatter", "subtype": "straight_with_markers"}
    )
    limits = made if chart.x is not None else book.add_chart({"type": "line"})
    for line, (fill, border) in zip(chart.bars, BAR_LOOKS * len(chart.bars), strict=False):
        made.add_series(_bar(plan, sheet, place, line, fill, border))
    for line, (colour, dash) in zip(chart.limits, LIMIT_LOOKS * len(chart.limits), strict=False):
        limits.add_series(_limit(plan, sheet, place, line, colour, dash))
    if chart.x is None and chart.limits:
        made.combine(limits)
    unit = chart.y_title.unit(shape.units)
    made.set_title({"name": chart.title, "name_font": {**TEXT, "size": 11, "bold": True}, "overlay": False})
    low = place.rows < LOW_CHART
    made.set_x_axis(
        {"name": "" if low else chart.x_title, "name_font": TEXT, "num_font": TEXT, "line": {"color": GREY}}
    )
    # Columns are read by their length, so they begin at zero; a blank limit then lies unseen on the axis.
    bounds = {"min": 0} if chart.x is None else {}
    made.set_y_axis(
        {
            "name": unit,
            "name_font": TEXT,
            "num_font": TEXT,
            "major_gridlines": {"visible": True, "line": {"color": LINE}},
            **bounds,
        }
    )
    made.set_legend({"position": "right" if low else "bottom", "font": TEXT})
    made.set_chartarea({"border": {"color": LINE}})
    made.show_blanks_as("gap")
    return made


def _bar(
    plan: Layout, sheet: SheetPlan, place: ChartPlace, line: Line, fill: str, border: str
) -> dict[str, Any]:
    series = _series(plan, sheet, place, line)
    if place.chart.x is not None:
        marker = {"type": "circle", "size": 7, "fill": {"color": fill}, "border": {"color": border}}
        return series | {"line": {"color": border, "width": 2}, "marker": marker}
    return series | {
        "fill": {"color": fill},
        "border": {"color": border},
        "gap": GAPS.get(place.repeats, USUAL_GAP),
        "overlap": 0,
    }


def _limit(
    plan: Layout, sheet: SheetPlan, place: ChartPlace, line: Line, colour: str, dash: str
) -> dict[str, Any]:
    marker: dict[str, Any] = {"type": "none"}
    if place.repeats < FEWEST_FOR_A_LINE:
        marker = {"type": "long_dash", "size": 20, "fill": {"color": colour}, "border": {"color": colour}}
    series = _series(plan, sheet, place, line)
    return series | {"line": {"color": colour, "width": 2, "dash_type": dash}, "marker": marker}


def _series(plan: Layout, sheet: SheetPlan, place: ChartPlace, line: Line) -> dict[str, Any]:
    """Name, categories and values of a series, as ranges of cells."""
    first, last = place.row + 1, place.row + place.repeats
    categories: list[Any] = [sheet.name, first, place.categories_column, last, place.categories_column]
    if line.as_level:
        column = place.level_columns[line.source]
        values: list[Any] = [sheet.name, first, column, last, column]
    elif line.source in place.curve_columns:
        x, y = place.curve_columns[line.source]
        categories, values = [sheet.name, first, x, last, x], [sheet.name, first, y, last, y]
    else:
        values = _range(plan, line.source, place.repeats)
    series = {"name": line.title, "categories": categories, "values": values}
    if place.chart.x is not None:
        # A blank form holds empty texts there: without this the x values would be declared as texts.
        series["categories_data"] = [None] * place.repeats
    return series


def _range(plan: Layout, name: str, repeats: int) -> list[Any]:
    """Sheet and corners of a repeated item's column. Raises KeyError where it repeats less often."""
    first, last = plan.cells[f"{name}_1"], plan.cells[f"{name}_{repeats}"]
    return [first.sheet, first.row, first.column, last.row, last.column]
