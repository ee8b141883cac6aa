"""Writing one planned sheet into a worksheet: captions, cells, highlights, charts, protection, print."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence

from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from workbook_tools.form import the_form
from workbook_tools.generate.chart_helpers import (
    level_formula,
    level_value,
    point_formula,
    point_value,
    split_formula,
    split_value,
)
from workbook_tools.generate.charts import build_chart
from workbook_tools.generate.pictures import options_for
from workbook_tools.generate.styles import FILLED, Styles, is_typed
from workbook_tools.generate.validation import validation_of
from workbook_tools.language.model import (
    NEAR_LIMIT,
    NO_LIMIT,
    NOT_TAKEN,
    OUT_OF_LIMITS,
    Field,
    Result,
    Shape,
    cell_name,
)
from workbook_tools.language.values import Values
from workbook_tools.layout.layout import list_names
from workbook_tools.layout.paging import MARGINS, paper_for
from workbook_tools.layout.placing import FIRST_LINK, FIRST_ROW, HEAD_ROWS, LINKS_ROW
from workbook_tools.layout.plan import (
    JOB_FORMULA,
    NEXT_FORMULA,
    NEXT_WORD,
    Caption,
    ChartPlace,
    Layout,
    LinkPlace,
    Place,
    SheetPlan,
    address,
    column_letters,
    link_formula,
    pages_of,
)

Entry = float | int | str | dt.date
PROTECTION = {"select_locked_cells": True, "format_columns": True, "format_rows": True}
CAUTION_WORD = "Caution: "
#: What is read again there doesn't change the next step, which is worked out from the readings before; and a customer has none.
WITHOUT_NEXT_STEP = ("Recheck", "Customer")


def checked(code: int | None, what: str) -> None:
    """XlsxWriter says by a return code what it did not write: a silent gap in a form is found too late."""
    if code:
        raise RuntimeError(f"could not write {what} (code {code})")


class FormSheet(Worksheet):
    """A worksheet that takes formulas as they are.

    XlsxWriter looks through each formula for some sixty functions newer than the file format, to put a prefix before
    them: half the time of writing a form, which uses no such function.
    """

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")


class SheetWriter:
    """Writes one sheet of a workbook from its plan."""

    def __init__(
        self,
        book: Workbook,
        plan: Layout,
        sheet: SheetPlan,
        shape: Shape,
        styles: Styles,
        entries: Mapping[str, Entry],
        values: Values,
    ) -> None:
        self.book = book
        self.plan = plan
        self.sheet = sheet
        self.shape = shape
        self.styles = styles
        self.entries = entries
        self.values = values
        self.page: Worksheet = book.add_worksheet(sheet.name, worksheet_class=FormSheet)

    def write(self, footer: str, shown: Collection[str], links: Sequence[tuple[str, str]] = ()) -> Worksheet:
        """Write everything on the sheet and return it; one that is not `shown` is no part of a print of the book.

        `links` are words and the names of the sheets that they lead to.
        """
        printed = self.sheet.name in shown
        self._size()
        for caption in self.sheet.captions:
            self._caption(caption)
        self._head_cells()
        self._links(links)
        for link in self.sheet.links:
            self._link(link, shown)
        for place in self.sheet.places:
            self._cell(place)
        self._chart_helpers()
        for places in self._columns().values():
            self._validate(places)
            self._highlight(places)
            self._step_back(places)
        self._leave_texts_alone()
        for chart in self.sheet.charts:
            self._chart(chart)
        for dial in self.sheet.dials:
            written = self.page.insert_image(dial.row, dial.column, "dial", options_for(dial.choice))
            checked(written, f"the dial of {dial.choice}")
        self._protect_and_print(footer, printed)
        return self.page

    # --- cells ---------------------------------------------------------------------------------------------

    def _size(self) -> None:
        self.page.hide_gridlines(2)
        # A program that knows but one area a sheet prints all that is in sight: there the workings are not.
        seen = self.sheet.last_column if self.sheet.pages.breaks else len(self.sheet.column_widths)
        for column, width in enumerate(self.sheet.column_widths):
            options = {"hidden": True} if column > seen else None
            checked(self.page.set_column(column, column, width, None, options), f"width of column {column}")
        for row in range(self.sheet.last_row + 1):
            checked(
                self.page.set_row(row, self.sheet.row_heights[row]),
                f"height of row {row}",
            )

    def _caption(self, caption: Caption) -> None:
        where = f"{self.sheet.name}!{address(caption.row, caption.column)}"
        if caption.number is not None:
            shown = f'"{caption.text} "0' if caption.text else "General"
            shown += f'"{caption.behind}"' if caption.behind else ""
            style = self.styles.caption(caption.style, num_format=shown)
            checked(self.page.write_number(caption.row, caption.column, caption.number, style), where)
            return
        style = self.styles.caption(caption.style)
        if caption.last_column > caption.column:
            box = (caption.row, caption.column, caption.row, caption.last_column)
            checked(self.page.merge_range(*box, "", style), where)
        if caption.style == "caution":
            pieces = (
                self.styles.caption("caution word"),
                CAUTION_WORD,
                self.styles.caption("caution text"),
                caption.text,
            )
            checked(self.page.write_rich_string(caption.row, caption.column, *pieces, style), where)
        elif caption.text:
            checked(self.page.write_string(caption.row, caption.column, caption.text, style), where)
        else:
            checked(self.page.write_blank(caption.row, caption.column, None, style), where)

    def _head_cells(self) -> None:
        """The job number and the next step, which every page and the frozen rows show."""
        number, step = self.entries.get("job_number", ""), self.values.values.get("next_test") or ""
        style = self.styles.format(bold=True, valign="vcenter")
        cells = [(self.sheet.job_number, JOB_FORMULA, number)]
        if self.sheet.name not in WITHOUT_NEXT_STEP:
            cells.append((self.sheet.next_step, NEXT_FORMULA, f"{NEXT_WORD}{step}"))
        for (row, column), formula, shown in cells:
            checked(self.page.write_formula(row, column, formula, style, shown), "the head")

    def _links(self, links: Sequence[tuple[str, str]]) -> None:
        """Links to other sheets, in the rows that stay in sight; they need no name and are read by nobody."""
        style = self.styles.caption("link")
        for column, (words, sheet) in enumerate(links, start=FIRST_LINK):
            if words:
                target = f"internal:'{sheet}'!A1"
                checked(self.page.write_url(LINKS_ROW, column, target, style, words), f"link to {sheet}")

    def _link(self, place: LinkPlace, shown: Collection[str]) -> None:
        """A link to a sheet, plain words where the form does not show it; or to the cell that a result names."""
        link, style = place.link, self.styles.caption("link")
        where = f"link at {self.sheet.name}!{address(place.row, place.column)}"
        if link.cell:
            formula = link_formula(link)
            words = link.words if self.values.values.get(link.cell) else ""
            checked(self.page.write_formula(place.row, place.column, formula, style, words), where)
        elif link.sheet in shown:
            target = f"internal:'{link.sheet}'!A1"
            checked(self.page.write_url(place.row, place.column, target, style, link.words), where)
        else:
            plain = self.styles.caption("help")
            checked(
                self.page.write_string(place.row, place.column, link.words.removesuffix(" ›"), plain), where
            )

    def _cell(self, place: Place) -> None:
        where = f"{place.name} at {self.sheet.name}!{address(place.row, place.column)}"
        last = place.column + place.span - 1
        style = self.styles.cell(place.item, last=place.span == 1, working=place.working)
        wrapped = place.wraps
        if wrapped:
            style = self.styles.wrapped(place.item, place.number)
            if last > place.column:
                checked(self.page.merge_range(place.row, place.column, place.row, last, "", style), where)
        if isinstance(place.item, Result):
            formula = the_form.formula_of(place.item, self.shape, place.number)
            value = self.values.values[place.name]
            shown = "" if value is None else value
            checked(self.page.write_formula(place.row, place.column, formula, style, shown), where)
        else:
            checked(self._entry(place, style), where)
        for column in range(place.column + 1, last + 1) if not wrapped else ():
            rest = self.styles.cell(place.item, first=False, last=column == last)
            checked(self.page.write_blank(place.row, column, None, rest), where)

    def _entry(self, place: Place, style: object) -> int:
        entry = self.entries.get(place.name)
        if entry is None:
            return self.page.write_blank(place.row, place.column, None, style)
        if isinstance(entry, str):
            return self.page.write_string(place.row, place.column, entry, style)
        if isinstance(entry, dt.date):
            return self.page.write_datetime(place.row, place.column, entry, style)
        return self.page.write_number(place.row, place.column, entry, style)

    def _chart_helpers(self) -> None:
        style = self.styles.caption("small label")
        helpers = [(each, level_formula(each), level_value(each, self.values)) for each in self.sheet.levels]
        helpers += [(each, split_formula(each), split_value(each, self.values)) for each in self.sheet.splits]
        helpers += [
            (each, point_formula(each, self.plan), point_value(each, self.values))
            for each in self.sheet.points
        ]
        for cell, formula, value in helpers:
            shown = "" if value is None else value
            checked(
                self.page.write_formula(cell.row, cell.column, formula, style, shown), "a cell of a chart"
            )

    # --- rules on cells ------------------------------------------------------------------------------------

    def _columns(self) -> dict[str, list[Place]]:
        """The cells of each item, which stand below each other."""
        columns: dict[str, list[Place]] = {}
        for place in self.sheet.places:
            columns.setdefault(place.item.name, []).append(place)
        return columns

    def _validate(self, places: list[Place]) -> None:
        item = places[0].item
        if not isinstance(item, Field) or item.locked:
            return
        options = validation_of(item, self.shape, list_names(self.plan))
        if options:
            checked(self.page.data_validation(*_box(places), options), f"validation of {item.name}")

    def _highlight(self, places: list[Place]) -> None:
        """Fill a mark, and the reading beside it, by the mark's words; a system's state by its own."""
        item, words_in = places[0].item, places[0]
        if isinstance(item, Result) and item.is_mark:
            shown: tuple[str, ...] = (OUT_OF_LIMITS, NEAR_LIMIT, NOT_TAKEN, NO_LIMIT)
        elif item.limits:
            words_in = self.plan.cells[cell_name(f"mark_{item.name}", places[0].number)]
            shown = (OUT_OF_LIMITS, NEAR_LIMIT)
        elif isinstance(item, Result) and item.looks:
            for place in places:
                self._look_like(place, item.looks)
            return
        else:
            return
        for words in shown:
            criteria = f'=${column_letters(words_in.column)}{words_in.row + 1}="{words}"'
            self._fill_where(places, criteria, words)

    def _look_like(self, place: Place, looks: tuple[tuple[str, str], ...]) -> None:
        """Fill one cell by its own words."""
        cell = f"${column_letters(place.column)}${place.row + 1}"
        for words, look in looks:
            criteria = f'={cell}="{words}"' if words else f'={cell}<>""'
            self._fill_where([place], criteria, look, stops=True)

    def _step_back(self, places: list[Place]) -> None:
        """What is typed already steps back behind what is still to be typed."""
        if is_typed(places[0].item):
            first = f"${column_letters(places[0].column)}{places[0].row + 1}"
            self._fill_where(places, f"=LEN({first})>0", FILLED)

    def _fill_where(self, places: list[Place], criteria: str, look: str, stops: bool = False) -> None:
        """Fill cells where a condition holds; no later rule is asked where that `stops`."""
        rule = {
            "type": "formula",
            "criteria": criteria,
            "format": self.styles.highlight(look),
            "stop_if_true": stops,
        }
        top, left, bottom, _ = _box(places)
        right = left + places[0].span - 1
        checked(self.page.conditional_format(top, left, bottom, right, rule), f"look of {places[0].name}")

    def _leave_texts_alone(self) -> None:
        """Numbers in text cells (a job number, a plate) are meant as text: no green corner on them."""
        texts = [
            f"{address(places[0].row, places[0].column)}:{address(places[-1].row, places[-1].column)}"
            for places in self._columns().values()
            if isinstance(places[0].item, Field) and places[0].item.kind == "text"
        ]
        if texts:
            checked(
                self.page.ignore_errors({"number_stored_as_text": " ".join(texts)}), "what to leave unmarked"
            )

    # --- charts, protection, print -------------------------------------------------------------------------

    def _chart(self, place: ChartPlace) -> None:
        widths = self.sheet.column_widths[: place.columns]
        rows = range(place.row, place.row + place.rows)
        heights = (self.sheet.row_heights[row] for row in rows)
        chart = build_chart(self.book, self.plan, self.sheet, place, self.shape)
        chart.set_size(
            {"width": sum(map(_width_px, widths)) - 2, "height": sum(map(_height_px, heights)) - 2}
        )
        options = {
            "x_offset": 2,
            "y_offset": 2,
            "object_position": 1,
            "description": f"Chart: {place.chart.title}",
        }
        checked(self.page.insert_chart(place.row, 0, chart, options), f"chart {place.chart.title}")

    def _protect_and_print(self, footer: str, printed: bool) -> None:
        page, last_row, last_column = self.page, self.sheet.last_row, self.sheet.last_column
        page.protect("", PROTECTION)
        page.freeze_panes(HEAD_ROWS, 0)
        page.set_paper(paper_for(self.shape.units).number)
        if self.sheet.pages.landscape:
            page.set_landscape()
        page.set_margins(**MARGINS)
        page.center_horizontally()
        if self.sheet.pages.scale is None:
            page.fit_to_pages(1, 1)
        else:
            page.set_print_scale(self.sheet.pages.scale)
        if printed:  # hidden sheets that have an area are printed by some programs
            print_in_pages(page, self.sheet.pages.breaks, (0, 0, last_row, last_column))
            checked(page.repeat_rows(0, FIRST_ROW - 1), "repeated rows")
        checked(page.set_footer(footer), "footer")
        inputs = [
            place for place in self.sheet.places if isinstance(place.item, Field) and not place.item.locked
        ]
        if inputs:
            checked(
                page.set_selection(inputs[0].row, inputs[0].column, inputs[0].row, inputs[0].column),
                "first cell",
            )


def print_in_pages(page: Worksheet, breaks: Sequence[int], corners: tuple[int, int, int, int]) -> None:
    """What a sheet prints, a page for each part between two breaks; corners as `print_area` takes them."""
    checked(page.print_area(*corners), "print area")
    if breaks:
        page.print_area_range = pages_of(page.name, breaks, corners)


def _box(places: list[Place]) -> tuple[int, int, int, int]:
    return places[0].row, places[0].column, places[-1].row, places[-1].column


def _width_px(characters: float) -> int:
    """Pixels of a column's width, as XlsxWriter reckons when it places a chart."""
    return int(characters * 7 + 0.5) + 5


def _height_px(points: float) -> int:
    """Pixels of a row's height, as XlsxWriter reckons when it places a chart."""
    return int(4 / 3 * points)
