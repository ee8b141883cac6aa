"""Sheet Histories: each engine's visits side by side, with the change between them and a chart.

A visit after which readings were taken again has two columns, as found and as left. The change is what was lost or
gained between leaving and coming back, so that a repair does not hide wear.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from workbook_tools.generate.charts import TEXT
from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.styles import BLACK, BLUE, GREY, LINE, PALE_YELLOW, SMALL, VERMILLION, Styles
from workbook_tools.layout.paging import A4, MARGINS
from workbook_tools.register.engines import COMPRESSION, TIMING, VACUUM, History, Slot, Visit
from workbook_tools.register.tables import shown, write_day
from workbook_tools.register.trend import Outlook, band, outlooks

HISTORIES = "Histories"
LABEL, UNIT, ALL_ALONG, LATELY, FIRST_VISIT = range(5)
NAMES = {COMPRESSION: "Compression, cylinder", VACUUM: "Vacuum at idle", TIMING: "Ignition timing"}
#: A sheet with thousands of charts opens slowly everywhere; those reported come first, then those seen last.
MOST_CHARTS = 250
CHART_ROWS, CHART_WIDTH, ROW_PIXELS = 13, 760, 20
#: A page at that scale holds so many rows of usual height.
PRINT_SCALE, ROWS_A_PAGE = 60, 56
#: Line colours of cylinders 1, 2, 3 ... (Okabe-Ito, yellow left out: too pale for a line), then the same dashed.
LINES = ("#0072B2", VERMILLION, "#009E73", "#CC79A7", "#56B4E9", "#E69F00", BLACK, GREY)
MARKERS = ("circle", "square", "diamond", "triangle")


@dataclass(frozen=True)
class Stand:
    """One column of a history: a visit, as found or as left."""

    visit: Visit
    as_left: bool

    def reading(self, slot: Slot) -> float | None:
        """The reading in that state, None where it was not taken."""
        reading = self.visit.readings.get(slot)
        if reading is None:
            return None
        return reading.left_as if self.as_left else reading.found


def stands(history: History) -> list[Stand]:
    """The columns of a history."""
    found = []
    for visit in history.visits:
        found.append(Stand(visit, False))
        if any(each.found != each.left_as for each in visit.readings.values()):
            found.append(Stand(visit, True))
    return found


class HistoryWriter:
    """Writes the histories below each other."""

    def __init__(self, book: Workbook, page: Worksheet, styles: Styles) -> None:
        self.book = book
        self.page = page
        self.row = 0
        self.breaks: list[int] = []
        line = {"bottom": 1, "bottom_color": LINE, "valign": "vcenter", "font_size": 10}
        self.heading = styles.caption("heading")
        self.small = styles.format(font_size=SMALL, font_color=GREY)
        self.head = styles.format(**line, bold=True, align="right")
        self.head_left = styles.format(**line, bold=True)
        self.head_wrapped = styles.format(**line, font_color=GREY, align="right", text_wrap=True)
        self.day = styles.format(**line, align="right", num_format="yyyy-mm-dd")
        self.label = styles.format(**line)
        self.unit = styles.format(**line, font_color=GREY)
        self.number = styles.format(**line, align="right", num_format="#,##0")
        self.tenth = styles.format(**line, align="right", num_format="0.0")
        self.change = styles.format(**line, align="right", num_format="+0.0;-0.0;0.0")
        self.warning = styles.format(bg_color=PALE_YELLOW, bold=True, font_size=10)
        self.title = styles.caption("title")
        self.purpose = styles.format(font_color=GREY)
        self.back = styles.format(font_size=SMALL, font_color=BLUE, underline=1)

    def write(self, histories: Sequence[History], reported: Collection[str]) -> dict[str, str]:
        """Write all histories; returns the link to each by the engine's key."""
        self._head_of_sheet()
        with_change = [each for each in histories if any(each.changes(slot) for slot in each.slots)]
        first = sorted(with_change, key=lambda each: each.key not in reported)[:MOST_CHARTS]
        charted = {each.key for each in first}
        links = {}
        page_from = 0
        for history in histories:
            start = self.row
            links[history.key] = f"internal:'{HISTORIES}'!A{self.row + 1}"
            self._history(history, history.key in reported, history.key in charted)
            if self.row - page_from > ROWS_A_PAGE and start > page_from:
                # A history is not torn across two pages where it fits on one.
                self.breaks.append(start)
                page_from = start
        self._set_up(histories)
        return links

    def _head_of_sheet(self) -> None:
        self._text(0, LABEL, "Histories", self.title)
        self.page.set_row(0, 30)
        purpose = (
            "Each engine's visits side by side, the oldest first. A change runs from how the engine was left to how it was "
            "found the next time, so that a repair does not hide wear."
        )
        self._text(1, LABEL, purpose, self.purpose)
        self.row = 3

    def _history(self, history: History, reported: bool, charted: bool) -> None:
        columns = stands(history)
        self._text(self.row, LABEL, history.named, self.heading)
        for place in range(UNIT, FIRST_VISIT + max(len(columns), 1)):
            self.page.write_blank(self.row, place, None, self.heading)
        self.page.set_row(self.row, 24)
        self.row += 1
        told = f"{history.customer or 'no customer given'}; {len(history.visits)} visit{'s' if len(history.visits) > 1 else ''}"
        told += (
            "; known only by its name and customer: check that it is one engine"
            if history.by_name_only
            else ""
        )
        self._text(self.row, LABEL, told, self.small)
        checked(
            self.page.write_url(self.row, LATELY, "internal:'Engines'!A1", self.back, "to Engines"), "link"
        )
        self.row += 1
        if reported:
            self._text(self.row, LABEL, "Look at this engine: see sheet Open points.", self.warning)
            self.row += 1
        self._heads(history, columns)
        odometer_row = self.row - 1
        rows = {slot: self._slot(history, slot, columns) for slot in history.slots}
        self._repairs(columns)
        outlook = next(iter(outlooks(history)), None)
        edges = {} if outlook is None else self._outlook(outlook, columns)
        if charted:
            self._chart(history, columns, odometer_row, rows, edges)
        self.row += 2

    def _heads(self, history: History, columns: Sequence[Stand]) -> None:
        per = history.per.removeprefix("per ")
        self._text(self.row, LABEL, "Job", self.head_left)
        self._text(self.row, UNIT, "", self.head)
        self._text(self.row, ALL_ALONG, "change all along", self.head_wrapped)
        self._text(self.row, LATELY, "change lately", self.head_wrapped)
        self._text(self.row + 1, LABEL, "Date in", self.label)
        self._text(self.row + 1, UNIT, "", self.unit)
        self._text(self.row + 1, ALL_ALONG, f"per {per}", self.head_wrapped)
        self._text(self.row + 1, LATELY, f"per {per}", self.head_wrapped)
        self._text(self.row + 2, LABEL, "Hours" if history.distance_unit == "h" else "Odometer", self.label)
        self._text(self.row + 2, UNIT, history.distance_unit, self.unit)
        for place in (ALL_ALONG, LATELY):
            self._text(self.row + 2, place, "", self.unit)
        for place, stand in enumerate(columns, start=FIRST_VISIT):
            number = stand.visit.job_number or "no number"
            self._text(self.row, place, number, self.head)
            if stand.as_left:
                self._text(self.row + 1, place, "after repair", self.head_wrapped)
            elif stand.visit.date_in is None:
                self._text(self.row + 1, place, "no date", self.head_wrapped)
            else:
                write_day(self.page, self.row + 1, place, stand.visit.date_in, self.day)
            self._number(self.row + 2, place, stand.visit.odometer, self.number)
        self.row += 3

    def _slot(self, history: History, slot: Slot, columns: Sequence[Stand]) -> int:
        """One reading over all visits; returns its row."""
        name, cylinder = slot
        row, style = self.row, self.number if name == COMPRESSION else self.tenth
        self._text(row, LABEL, f"{NAMES[name]} {cylinder or ''}".strip(), self.label)
        self._text(row, UNIT, history.units[name], self.unit)
        self._number(row, ALL_ALONG, history.rate(slot), self.change)
        self._number(row, LATELY, history.last_rate(slot), self.change)
        for place, stand in enumerate(columns, start=FIRST_VISIT):
            self._number(row, place, stand.reading(slot), style)
        self.row += 1
        return row

    def _repairs(self, columns: Sequence[Stand]) -> None:
        self._text(self.row, LABEL, "Repair", self.label)
        for place in (UNIT, ALL_ALONG, LATELY):
            self._text(self.row, place, "", self.unit)
        for place, stand in enumerate(columns, start=FIRST_VISIT):
            self._text(self.row, place, "" if stand.as_left else stand.visit.proof, self.head_wrapped)
        self.row += 1

    def _outlook(self, outlook: Outlook, columns: Sequence[Stand]) -> dict[str, int]:
        """The line of what reaches its limit first, and its band, at the visits it is made of; returns their rows."""
        place_of = {id(stand.visit): place for place, stand in enumerate(columns, start=FIRST_VISIT)}
        told, edges = list(band(outlook)), dict[str, int]()
        what = outlook.what.removeprefix("the ")
        names = (f"Line, {what}, at sea level", "band of 8 in 10, low", "band of 8 in 10, high")
        for number, name in enumerate(names, start=1):
            self._text(self.row, LABEL, name, self.label)
            for place in (UNIT, ALL_ALONG, LATELY):
                self._text(self.row, place, "", self.unit)
            for place in range(FIRST_VISIT, FIRST_VISIT + len(columns)):
                self._number(self.row, place, None, self.tenth)
            for row in told:
                self._number(self.row, place_of[id(row[0])], row[number], self.tenth)
            edges[name] = self.row
            self.row += 1
        self._text(self.row, LABEL, outlook.words, self.small)
        self.row += 1
        return edges if outlook.slot[0] == COMPRESSION else {}

    def _chart(
        self,
        history: History,
        columns: Sequence[Stand],
        odometer_row: int,
        rows: dict[Slot, int],
        edges: dict[str, int],
    ) -> None:
        """Compression of each cylinder over the odometer; over the visits where that was not always read."""
        cylinders = [slot for slot in history.slots if slot[0] == COMPRESSION]
        if not cylinders:
            return
        by_distance = len({stand.visit.odometer for stand in columns} - {None}) > 1 and all(
            stand.visit.odometer is not None for stand in columns
        )
        kind = {"type": "scatter", "subtype": "straight_with_markers"} if by_distance else {"type": "line"}
        chart = self.book.add_chart(kind)
        last = FIRST_VISIT + len(columns) - 1
        x_row = odometer_row if by_distance else odometer_row - 2
        for number, slot in enumerate(cylinders):
            colour = LINES[number % len(LINES)]
            dash = "solid" if number < len(LINES) else "dash"
            chart.add_series(
                {
                    "name": f"Cylinder {slot[1]}",
                    "categories": [HISTORIES, x_row, FIRST_VISIT, x_row, last],
                    "values": [HISTORIES, rows[slot], FIRST_VISIT, rows[slot], last],
                    "line": {"color": colour, "width": 1.75, "dash_type": dash},
                    "marker": {
                        "type": MARKERS[number % len(MARKERS)],
                        "size": 6,
                        "fill": {"color": colour},
                        "border": {"color": colour},
                    },
                }
            )
        for name, row in edges.items() if by_distance else ():
            chart.add_series(
                {
                    "name": name,
                    "categories": [HISTORIES, x_row, FIRST_VISIT, x_row, last],
                    "values": [HISTORIES, row, FIRST_VISIT, row, last],
                    "line": {"color": GREY, "width": 1, "dash_type": "long_dash"},
                    "marker": {"type": "none"},
                }
            )
        title = f"Compression, {history.units[COMPRESSION]}: {history.plate or history.engine_serial or history.engine_name}"
        chart.set_title({"name": title, "name_font": {**TEXT, "size": 10, "bold": True}, "overlay": False})
        x_axis: dict[str, Any] = {
            "name": history.distance_unit if by_distance else "job",
            "name_font": TEXT,
            "num_font": TEXT,
        }
        if by_distance:
            read = [stand.visit.odometer or 0.0 for stand in columns]
            margin = (max(read) - min(read)) * 0.05
            step = 1000.0 if max(read) - min(read) > 5000 else 100.0  # hours run to a few hundred
            low, high = (
                _rounded(min(read) - margin, down=True, step=step),
                _rounded(max(read) + margin, step=step),
            )
            x_axis |= {"min": max(0, low), "max": high, "num_format": "#,##0"}
        chart.set_x_axis(x_axis | {"line": {"color": GREY}})
        values = [
            value for slot in cylinders for stand in columns if (value := stand.reading(slot)) is not None
        ]
        floor = _rounded(
            min(values) * 0.9, down=True, step=10.0 if history.units[COMPRESSION] == "psi" else 50.0
        )
        grid = {"visible": True, "line": {"color": LINE}}
        chart.set_y_axis({"num_font": TEXT, "major_gridlines": grid, "min": max(0.0, floor)})
        chart.set_legend({"position": "right", "font": TEXT})
        chart.set_chartarea({"border": {"color": LINE}})
        chart.show_blanks_as("span")
        chart.set_size({"width": CHART_WIDTH, "height": CHART_ROWS * ROW_PIXELS - 10})
        placed = {"x_offset": 4, "y_offset": 6, "description": title}
        checked(self.page.insert_chart(self.row, LABEL, chart, placed), "chart")
        self.row += CHART_ROWS

    def _set_up(self, histories: Sequence[History]) -> None:
        page = self.page
        page.hide_gridlines(2)
        most = max((len(stands(each)) for each in histories), default=1)
        checked(page.set_column(LABEL, LABEL, 26), "width")
        checked(page.set_column(UNIT, UNIT, 8), "width")
        checked(page.set_column(ALL_ALONG, LATELY, 12), "width")
        checked(page.set_column(FIRST_VISIT, FIRST_VISIT + most, 12), "width")
        page.freeze_panes(2, FIRST_VISIT)
        page.set_landscape()
        page.set_paper(A4.number)
        page.set_margins(**MARGINS)
        page.set_print_scale(PRINT_SCALE)
        if self.breaks:
            checked(page.set_h_pagebreaks(self.breaks), "page breaks")
        checked(page.set_footer("&L&A&RPage &P of &N"), "footer")

    def _text(self, row: int, place: int, text: str, style: Format) -> None:
        if text:
            checked(self.page.write_string(row, place, shown(text), style), "a text")
        else:
            self.page.write_blank(row, place, None, style)

    def _number(self, row: int, place: int, value: float | None, style: Format) -> None:
        if value is None:
            self.page.write_blank(row, place, None, style)
        else:
            self.page.write_number(row, place, value, style)


def _rounded(value: float, down: bool = False, step: float = 1000.0) -> float:
    """A whole number of steps, for the ends of an axis."""
    steps = value // step
    return (steps if down else steps + 1) * step
