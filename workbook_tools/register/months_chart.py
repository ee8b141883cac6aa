"""The chart on sheet Months: what was billed a month."""

from __future__ import annotations

import pandas as pd
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from workbook_tools.generate.charts import FILLS, TEXT
from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.styles import BLUE, GREY, LINE, WHITE
from workbook_tools.register.columns import MONTHS
from workbook_tools.register.tables import FIRST_ROW

#: Stacked on each other they make the total.
STACKED = ("Parts", "Labour", "Tax")
#: Apart when printed in grey too.
STACKED_FILLS = (FILLS[0], WHITE, BLUE)
WIDTH, HEIGHT = 720, 340


def add_months_chart(book: Workbook, page: Worksheet, months: pd.DataFrame) -> None:
    """Columns of parts, labour and tax beside the table; none where bills are in several currencies."""
    if months.empty or months["currency"].nunique() > 1:
        return
    chart = book.add_chart({"type": "column", "subtype": "stacked"})
    last = FIRST_ROW + len(months) - 1
    for heading, fill in zip(STACKED, STACKED_FILLS, strict=True):
        place = [column.heading for column in MONTHS].index(heading)
        chart.add_series(
            {
                "name": heading,
                "categories": [page.name, FIRST_ROW, 0, last, 0],
                "values": [page.name, FIRST_ROW, place, last, place],
                "fill": {"color": fill},
                "border": {"color": BLUE},
                "gap": 40,
            }
        )
    sign = str(months["currency"].iloc[0])
    chart.set_title({"name": f"Billed by month ({sign})", "name_font": {**TEXT, "size": 11, "bold": True}})
    chart.set_x_axis({"num_font": {**TEXT, "rotation": -90}, "line": {"color": GREY}})
    grid = {"visible": True, "line": {"color": LINE}}
    chart.set_y_axis({"num_font": TEXT, "num_format": "#,##0", "major_gridlines": grid})
    chart.set_legend({"position": "bottom", "font": TEXT})
    chart.set_chartarea({"border": {"color": LINE}})
    chart.set_size({"width": WIDTH, "height": HEIGHT})
    # Below the heads: what stands beside them is printed again with them on each page.
    checked(page.insert_chart(FIRST_ROW, len(MONTHS) + 1, chart, {"description": "Billed by month"}), "chart")
    checked(page.print_area(0, 0, last, len(MONTHS) + 13), "print area")
