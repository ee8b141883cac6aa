"""Charts: columns or points over the repeats of an item, limits as dashed lines, readable in grey print."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from xlsxwriter.chart import Chart as BookChart
from xlsxwriter.workbook import Workbook

from workbook_tools.form import the_form
from workbook_tools.generate.styles import BLACK, BLUE, FONT, GREY, LINE, VERMILLION
from workbook_tools.language.model import Line, Shape
from workbook_tools.layout.plan import ChartPlace, Layout, SheetPlan

#: The first series of columns is filled, the second a frame that stands around it: apart when printed in grey too.
FILLS, FRAME = ("#56B4E9", VERMILLION), {"none": True}
FRAMES = (BLUE, "#8C3D00")
LIMIT_LOOKS = ((VERMILLION, "dash"), (BLACK, "round_dot"))
TEXT = {"name": FONT, "size": 9, "color": GREY, "bold": False}
#: Space between columns in percent of their width, by how many categories there are, so that one is no wall.
GAPS = {1: 400, 2: 250, 3: 150}
USUAL_GAP = 60
#: With fewer categories than this a line is too short to be seen, and the level is a dash at each category.
FEWEST_FOR_A_LINE = 3
#: Of fewer rows than this a chart has no room for words below it.
LOW_CHART = 15


def build_chart(book: Workbook, plan: Layout, sheet: SheetPlan, place: ChartPlace, shape: Shape) -> BookChart:
    """The chart of one place: columns with limit lines, or joined points where the chart has an x item."""
    chart = place.chart
    made = book.add_chart(
        {"type": "column"} if chart.x is None else {"type": "scatter", "subtype": "straight_with_markers"}
    )
    limits = made if chart.x is not None else line_chart(book)
    for number, line in enumerate(chart.bars):
        for series in _bars(plan, sheet, place, line, shape, is_frame=number > 0):
            made.add_series(series)
    for number, line in enumerate(chart.limits):
        limits.add_series(_limit(plan, sheet, place, line, shape, number % len(LIMIT_LOOKS)))
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
    made.show_hidden_data()
    return made


def _bars(
    plan: Layout, sheet: SheetPlan, place: ChartPlace, line: Line, shape: Shape, is_frame: bool
) -> Iterator[dict[str, Any]]:
    """The series of one item: joined points; or columns, those out of limits in a colour of their own."""
    series = _series(plan, sheet, place, line, shape)
    if place.chart.x is not None:
        marker = {"type": "circle", "size": 7, "fill": {"color": FILLS[0]}, "border": {"color": BLUE}}
        yield series | {"line": {"color": BLUE, "width": 2}, "marker": marker}
        return
    columns = {"gap": GAPS.get(place.repeats, USUAL_GAP), "overlap": 100}
    drawn: list[dict[str, Any]] = [series]
    if line.source in place.split_columns:
        first, last = place.row + 1, place.row + place.repeats
        drawn = [
            series | {"name": name, "values": [sheet.name, first, column, last, column]}
            for name, column in zip(
                (line.title, f"{line.title}, out of limits"), place.split_columns[line.source], strict=True
            )
        ]
    for each, fill, frame in zip(drawn, FILLS, FRAMES, strict=False):
        look = FRAME if is_frame else {"color": fill}
        yield each | columns | {"fill": look, "border": {"color": frame, "width": 2.25 if is_frame else 1}}


def _limit(
    plan: Layout, sheet: SheetPlan, place: ChartPlace, line: Line, shape: Shape, number: int
) -> dict[str, Any]:
    """A limit: joined points, or over columns a level from edge to edge of the chart."""
    series = _series(plan, sheet, place, line, shape)
    if place.chart.x is None:
        return series | level_look(line.title, number, place.repeats)
    colour, dash = LIMIT_LOOKS[number]
    look = {"color": colour, "width": 2, "dash_type": dash}
    return series | {"line": look, "marker": {"type": "none"}}


def level_look(title: str, number: int, categories: int) -> dict[str, Any]:
    """Name and look of a level over columns."""
    colour, dash = LIMIT_LOOKS[number % len(LIMIT_LOOKS)]
    look = {"color": colour, "width": 2, "dash_type": dash}
    if categories < FEWEST_FOR_A_LINE:
        marker = {"type": "long_dash", "size": 20, "fill": {"color": colour}, "border": {"color": colour}}
        return {"name": title, "line": look, "marker": marker}
    # A line over categories ends in the middle of the first and the last; one laid through it goes on to the edges. That one
    # has the name: programs do not agree on how an entry is left out of the legend.
    trend = {"type": "linear", "name": title, "forward": 0.5, "backward": 0.5, "line": look}
    return {"name": " ", "line": {"none": True}, "marker": {"type": "none"}, "trendline": trend}


def line_chart(book: Workbook) -> BookChart:
    """A chart for levels over columns. What is laid through a level shows no equation: some programs write it where a file does
    not say no, and XlsxWriter can say yes alone."""
    made = book.add_chart({"type": "line"})
    write_backward = made._write_backward

    def backward_and_no_words(value: float | None) -> None:
        write_backward(value)
        for tag in ("c:dispRSqr", "c:dispEq"):
            made._xml_empty_tag(tag, [("val", 0)])

    made._write_backward = backward_and_no_words
    return made


def _series(plan: Layout, sheet: SheetPlan, place: ChartPlace, line: Line, shape: Shape) -> dict[str, Any]:
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
        values = _range(plan, line.source, shape)
    series = {"name": line.title, "categories": categories, "values": values}
    if place.chart.x is not None:
        # A blank form holds empty texts there: without this the x values would be declared as texts.
        series["categories_data"] = [None] * place.repeats
    return series


def _range(plan: Layout, name: str, shape: Shape) -> list[Any]:
    """Sheet and corners of a repeated item's column."""
    rows = shape.rows(the_form.repeats()[name])
    first, last = plan.cells[f"{name}_{rows[0]}"], plan.cells[f"{name}_{rows[-1]}"]
    return [first.sheet, first.row, first.column, last.row, last.column]
