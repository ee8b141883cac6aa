"""Placing the parts of one sheet from top to bottom: heads, cautions, items, tables, charts, notes."""

from __future__ import annotations

from collections.abc import Sequence

from workbook_tools.form import the_form
from workbook_tools.form.marks import results_for
from workbook_tools.language.model import (
    Banks,
    Block,
    Board,
    Boxes,
    Chart,
    Dials,
    Field,
    Item,
    Link,
    Notes,
    Result,
    Shape,
    Sheet,
    Table,
    cell_name,
)
from workbook_tools.language.prose import help_of, in_units
from workbook_tools.layout import grid
from workbook_tools.layout.paging import paging, paper_for
from workbook_tools.layout.plan import (
    Caption,
    CaptionStyle,
    ChartPlace,
    DialPlace,
    LevelCell,
    LinkPlace,
    MetaCell,
    Place,
    PointCell,
    SheetPlan,
    SplitCell,
)
from workbook_tools.sheets.cautions import CAUTIONS

TITLE_ROW, PURPOSE_ROW, COST_ROW, FIRST_ROW = 0, 1, 2, 4
#: Rows that stay on the screen, and with the gap below them on every page.
HEAD_ROWS = 3
#: Links to the first sheet and the sheets beside stand in the last of those rows, which is always in sight.
LINKS_ROW, FIRST_LINK = COST_ROW, grid.LAST_COLUMN - 2
COLUMN_OF_LIMIT = {"low_limit": grid.LOWEST, "high_limit": grid.HIGHEST, "mark": grid.MARK}


class SheetBuilder:
    """Collects what stands on one sheet; `row` is the next free row."""

    def __init__(self, sheet: Sheet, shape: Shape) -> None:
        self.sheet = sheet
        self.shape = shape
        self.last_column = grid.last_printed_column(sheet)
        self.first_working = self.last_column + 2
        self.row = FIRST_ROW
        self.places: list[Place] = []
        self.captions: list[Caption] = []
        self.links: list[LinkPlace] = []
        self.levels: list[LevelCell] = []
        self.splits: list[SplitCell] = []
        self.points: list[PointCell] = []
        self.charts: list[ChartPlace] = []
        self.dials: list[DialPlace] = []
        self.starts: list[int] = []
        self.heights: dict[int, float] = {}
        self.widths: dict[int, float] = {}

    def build(self) -> SheetPlan:
        """Place everything and return the plan of the sheet."""
        self._title()
        self._cautions()
        for part in self.sheet.parts:
            match part:
                case Block() if part.is_flat:
                    self._flat_block(part)
                case Block():
                    self._block(part)
                case Table():
                    self._table(part)
                case Board():
                    self._board(part)
                case Chart():
                    self._chart(part)
                case Dials():
                    self._dials(part)
                case Notes():
                    self._notes(part)
        return self.plan()

    def plan(self) -> SheetPlan:
        """The plan of what was placed up to now."""
        last_row = max(self.row - 2, COST_ROW)
        heights = {row: self.heights.get(row, grid.ROW_HEIGHT) for row in range(last_row + 1)}
        width = grid.points_between(0, self.last_column)
        pages = paging(heights, width, self._starts(last_row), FIRST_ROW, paper_for(self.shape.units))
        return SheetPlan(
            self.sheet.name,
            tuple(self.places),
            tuple(self.captions),
            tuple(self.links),
            tuple(self.levels),
            tuple(self.splits),
            tuple(self.points),
            tuple(self.charts),
            tuple(self.dials),
            (TITLE_ROW, grid.LAST_COLUMN),
            (TITLE_ROW, grid.VALUE),
            heights,
            self._column_widths(),
            last_row,
            self.last_column,
            pages,
        )

    def _starts(self, last_row: int) -> list[int]:
        """The rows where a page may begin: the first row of each part but of a chart, which stays with what it shows."""
        return [row for row in self.starts if row <= last_row]

    def meta(self, title: str, labels: dict[str, str]) -> tuple[MetaCell, ...]:
        """A block of locked cells below everything else: name to label."""
        self._heading(title)
        cells = []
        for name, label in labels.items():
            self._caption(self.row, 0, label, "label")
            cells.append(MetaCell(name, self.sheet.name, self.row, grid.VALUE))
            self.row += 1
        self._space()
        return tuple(cells)

    # --- heads ---------------------------------------------------------------------------------------------

    def _title(self) -> None:
        last = grid.LAST_COLUMN
        self._caption(TITLE_ROW, 0, self.sheet.name, "title")
        self._caption(TITLE_ROW, last - 1, "Job", "job")
        self._caption(PURPOSE_ROW, 0, self.sheet.purpose, "purpose", last)
        cost_to = last if self.sheet.is_page else FIRST_LINK - 1
        self._caption(COST_ROW, 0, self.sheet.cost, "cost", cost_to)
        self.heights[TITLE_ROW] = grid.TITLE_HEIGHT
        width = grid.pixels_between(0, last)
        self.heights[PURPOSE_ROW] = grid.height_of(self.sheet.purpose, width, least=20.0)
        beside = grid.pixels_between(0, cost_to)
        self.heights[COST_ROW] = grid.height_of(self.sheet.cost, beside, "small", least=18.0)
        self.heights[COST_ROW + 1] = grid.SPACE_HEIGHT

    def _cautions(self) -> None:
        """Every caution of the sheet in full, once, before the first step: nobody reads a caution after it."""
        keys = dict.fromkeys(
            key for part in self.sheet.parts if isinstance(part, (Block, Table)) for key in part.cautions
        )
        if keys:
            self.starts.append(self.row)
        for key in keys:
            self._paragraph(CAUTIONS[key], "caution")
        if keys:
            self._space(grid.GAP_HEIGHT)

    def _heading(self, title: str, last_column: int | None = None) -> None:
        self.starts.append(self.row)
        self._caption(self.row, 0, title, "heading", self.last_column if last_column is None else last_column)
        self.heights[self.row] = grid.HEADING_HEIGHT
        self.row += 1

    def _head_of(self, part: Block | Table, limited: bool = False) -> int:
        """Title of a part and what to be careful of in short, in one row where both have room; the row's number."""
        caution = f"Caution: {', '.join(part.cautions)}" if part.cautions else ""
        first = grid.HELP if limited else grid.VALUE
        title_fits = limited or grid.pixels_of_text(part.title, "heading") <= grid.pixels_between(0, 0)
        beside = (
            title_fits
            and grid.lines_of(caution, grid.pixels_between(first, grid.LAST_COLUMN), "small bold") == 1
        )
        title_to = grid.UNIT if limited else 0 if caution and beside else None
        self._heading(part.title, title_to)
        heading = self.row - 1
        if limited:
            for column, text in ((grid.LOWEST, "Lowest"), (grid.HIGHEST, "Highest"), (grid.MARK, "Mark")):
                self._caption(heading, column, text, "head")
        if title_to is not None:
            self._caption(heading, first, caution if beside else "", "heading caution", self.last_column)
        if caution and not beside:
            self._paragraph(caution, "short caution")
        if part.what_to_do:
            self._paragraph(in_units(part.what_to_do, self.shape.units), "note")
        return heading

    def _paragraph(self, text: str, style: CaptionStyle) -> None:
        shown = f"Caution: {text}" if style == "caution" else text
        kind = "small" if style == "caution" else "small bold" if style == "short caution" else "normal"
        self._caption(self.row, 0, text, style, grid.LAST_COLUMN)
        width = grid.pixels_between(0, grid.LAST_COLUMN)
        self.heights[self.row] = grid.height_of(shown, width, kind)
        self.row += 1

    # --- parts ---------------------------------------------------------------------------------------------

    def _block(self, block: Block) -> None:
        printed = [item for item in block.items if not grid.is_working(item)]
        heading = self._head_of(block, limited=any(item.limits for item in printed))
        self._space(grid.GAP_HEIGHT)
        first = self.row
        help_column = grid.help_column(block)
        for item, then in zip(printed, [*printed[1:], None], strict=True):
            if isinstance(item, Field) and item.is_unit:
                # In a column of its own: programs complete what is typed to a text that stands above it.
                row_label = self.places[-1].row_label
                self._place(item, None, self.row - 1, grid.UNIT, 1, row_label)
            else:
                with_choice = isinstance(then, Field) and then.is_unit
                self._block_row(item, help_column, unit_shown=not with_choice)
        workings = [item for item in block.items if grid.is_working(item)]
        workings += [
            result
            for item in block.items
            if item.limits
            for result in results_for(item)
            if result.name.startswith(("margin_", "band_"))
        ]
        self._workings(workings, heading, first)
        self._space()

    def _flat_block(self, block: Block) -> None:
        """Items side by side, their labels above them, their help at the right."""
        self.starts.append(self.row)
        heads, first = self.row, self.row + 1
        printed = [item for item in block.items if not grid.is_working(item)]
        for column, item in enumerate(printed, grid.VALUE):
            self._caption(heads, column, item.label, "column head")
            self._place(item, None, first, column, 1, block.title)
        self._caption(first, 0, block.title, "row head")
        beside = grid.VALUE + len(printed)
        helps = "; ".join(filter(None, (help_of(item, self.shape.units) for item in printed)))
        self._caption(heads, beside, helps, "help", grid.LAST_COLUMN)
        heights = [grid.height_of(item.label, grid.pixels_between(1, 1), "bold") for item in printed]
        heights.append(grid.height_of(helps, grid.pixels_between(beside, grid.LAST_COLUMN), "small"))
        self.heights[heads] = max(heights)
        self.row += 2
        self._workings([item for item in block.items if grid.is_working(item)], heads, first)
        self._space()

    def _block_row(self, item: Item, help_column: int, unit_shown: bool = True) -> None:
        row = self.row
        self._caption(row, 0, item.label, "label")
        wraps = item.lines > 1
        span = grid.LAST_COLUMN if wraps else grid.span_in_block(item)
        self._place(item, None, row, grid.VALUE, span, item.label, wraps=wraps)
        unit = item.measure.unit(self.shape.units)
        if unit and unit_shown:
            self._caption(row, grid.UNIT, unit, "unit")
        for result in results_for(item) if item.limits else ():
            kind = result.name.removesuffix(f"_{item.name}")
            if kind in COLUMN_OF_LIMIT:
                self._place(result, None, row, COLUMN_OF_LIMIT[kind], 1, item.label)
        help_line = help_of(item, self.shape.units)
        if help_line:
            self._caption(row, help_column, help_line, "help", grid.LAST_COLUMN)
        help_height = grid.height_of(help_line, grid.pixels_between(help_column, grid.LAST_COLUMN), "small")
        own_height = grid.lines_height(item.lines) if wraps else 0.0
        self.heights[row] = max(
            help_height, own_height, grid.height_of(item.label, grid.pixels_between(0, 0))
        )
        self.row += 1

    def _workings(self, workings: Sequence[Item], heading: int, first: int) -> None:
        """Helper results beside the rows from `first` on, in as many columns as they need."""
        if not workings:
            return
        self._caption(heading, self.first_working, "Workings", "small head")
        rows = max(self.row - first, 1)
        for place, item in enumerate(workings):
            row, column = first + place % rows, self.first_working + 2 * (place // rows)
            own = grid.characters_for(item.label, "small")
            self.widths[column] = max(self.widths.get(column, 0.0), grid.WORKING_LABEL_WIDTH, own)
            self._caption(row, column, item.label, "small label")
            self._place(item, None, row, column + 1, 1, item.label)

    def _board(self, board: Board) -> None:
        self.starts.append(self.row)
        first = self.row
        for group in board.groups:
            for row in group:
                if isinstance(row, Banks):
                    self._banks(row)
                else:
                    self._boxes(row)
            self._space(grid.GROUP_HEIGHT)
        self._workings(board.workings, first - 1, first)
        self._space()

    def _boxes(self, row: Boxes) -> None:
        self._board_label(row.label, row.lines)
        column = grid.VALUE
        for box, span in row.boxes:
            if isinstance(box, Link):
                self.links.append(LinkPlace(box, self.row, column))
            else:
                self._place(box, row.number, self.row, column, span, row.label, wraps=row.lines > 1)
            column += span
        self.row += 1

    def _banks(self, banks: Banks) -> None:
        """Each bank from front to rear in a row of its own, a long one in several."""
        most = grid.LAST_COLUMN
        rows = [bank[at : at + most] for bank in self.shape.banks for at in range(0, len(bank), most)]
        for place, cylinders in enumerate(rows):
            self._board_label(banks.label if place == 0 else "", banks.lines)
            for column, number in enumerate(cylinders, grid.VALUE):
                self._place(banks.item, number, self.row, column, 1, str(number), wraps=True)
            self.row += 1

    def _board_label(self, label: str, lines: int) -> None:
        self._caption(self.row, 0, label, "board label")
        if lines > 1:
            self.heights[self.row] = grid.lines_height(lines)

    def _table(self, table: Table) -> None:
        heading = self._head_of(table)
        printed, working = grid.table_columns(table)
        numbers = self.shape.rows(table.per)
        heads, units = self.row, self.row + 1
        self.row += 2
        self._caption(heads, 0, table.row_label, "row head")
        self._caption(units, 0, "", "column unit")
        for offset, number in enumerate(numbers):
            behind = self._bank_of(number) if table.per == "cylinder" else ""
            self._caption(self.row + offset, 0, table.row_label, "row number", number=number, behind=behind)
            self.heights[self.row + offset] = grid.row_height(printed, self.shape, number)
        column = grid.VALUE
        for item in printed:
            span = grid.span_in_table(item)
            self._column(item, column, span, heads)
            column += span
        if working:
            self._caption(heading, self.first_working, "Workings", "small head")
        for column, item in enumerate(working, self.first_working):
            self._column(item, column, 1, heads)
        heads_heights = [
            grid.height_of(item.label, grid.pixels_between(1, grid.span_in_table(item)), "bold")
            for item in printed
        ]
        beside = grid.pixels_of(grid.WORKING_WIDTH)
        heads_heights += [grid.height_of(item.label, beside, "small bold") for item in working]
        self.heights[heads] = max(heads_heights)
        has_units = any(item.measure.unit(self.shape.units) for item in (*printed, *working))
        self.heights[units] = grid.UNITS_HEIGHT if has_units else grid.NO_UNITS_HEIGHT
        self.row += len(numbers)
        self._space()

    def _bank_of(self, cylinder: int | None) -> str:
        """What stands behind a cylinder's number where the engine has several banks."""
        if len(self.shape.banks) < 2:
            return ""
        bank = next(place for place, bank in enumerate(self.shape.banks, 1) if cylinder in bank)
        return f", bank {bank}"

    def _column(self, item: Item, column: int, span: int, heads: int) -> None:
        working = column >= self.first_working
        last = column + span - 1
        self._caption(heads, column, item.label, "small head" if working else "column head", last)
        unit = item.measure.unit(self.shape.units)
        self._caption(heads + 1, column, unit, "small label" if working else "column unit", last)
        for offset, number in enumerate(self.shape.rows(item.per)):
            wraps = isinstance(item, Result) and span > 1 and not working
            self._place(item, number, heads + 2 + offset, column, span, str(number), wraps=wraps)

    def _chart(self, chart: Chart) -> None:
        numbers = self.shape.rows(chart.per)
        # Nothing else stands beside what follows on a page, so the list of a chart may run on there.
        rows = chart.rows if self.sheet.is_page else max(chart.rows, len(numbers) + 2)
        categories = self.first_working
        self._caption(self.row, categories, "For the chart", "small head")
        level_columns = {}
        for column, line in enumerate((line for line in chart.limits if line.as_level), categories + 1):
            self._caption(self.row, column, line.title, "small head")
            level_columns[line.source] = column
        for offset, number in enumerate(numbers, 1):
            self._caption(self.row + offset, categories, "", "small label", number=number)
            for source, column in level_columns.items():
                self.levels.append(LevelCell(self.row + offset, column, source))
        curves = self._curves(chart, numbers, categories + 1 + len(level_columns)) if chart.x else {}
        split = self._split(chart, numbers, categories + 1 + len(level_columns)) if not chart.x else {}
        place = ChartPlace(
            chart,
            self.row,
            rows,
            grid.LAST_COLUMN + 1,
            len(numbers),
            categories,
            level_columns,
            curves,
            split,
        )
        self.charts.append(place)
        self.row += rows
        self._space()

    def _split(
        self, chart: Chart, numbers: tuple[int | None, ...], column: int
    ) -> dict[str, tuple[int, int]]:
        """Two helper columns for each reading that is marked, where the chart shows its limits."""
        columns = {}
        for line in chart.bars if chart.limits else ():
            item, _ = the_form.items()[line.source]
            if not item.limits:
                continue
            for offset, words in enumerate((line.title, f"{line.title}, out of limits")):
                self._caption(self.row, column + offset, words, "small head")
                for at, number in enumerate(numbers, 1):
                    self.splits.append(
                        SplitCell(
                            self.row + at,
                            column + offset,
                            cell_name(line.source, number),
                            cell_name(f"mark_{line.source}", number),
                            is_out=offset == 1,
                        )
                    )
            columns[line.source] = column, column + 1
            column += 2
        return columns

    def _curves(
        self, chart: Chart, numbers: tuple[int | None, ...], column: int
    ) -> dict[str, tuple[int, int]]:
        """Three helper columns a curve: the point's number, x and y."""
        columns = {}
        for line in (line for line in chart.bars + chart.limits if not line.as_level):
            for offset, part in enumerate(("number", "x", "y")):
                self._caption(self.row, column + offset, f"{line.title}: {part}", "small head")
                for number in (number for number in numbers if number is not None):
                    self.points.append(
                        PointCell(
                            self.row + number,
                            column + offset,
                            part,
                            number,
                            len(numbers),
                            chart.x or "",
                            line.source,
                            column,
                        )
                    )
            columns[line.source] = column + 1, column + 2
            column += 3
        return columns

    def _dials(self, dials: Dials) -> None:
        """Pictures side by side, each above its choice; they stay with what stands above them."""
        self._caption(self.row, 0, dials.title, "help")
        self.heights[self.row] = grid.DIAL_HEIGHT
        for column, choice in enumerate(dials.choices, grid.VALUE):
            self.dials.append(DialPlace(choice, self.row, column))
            self._caption(self.row + 1, column, choice, "below dial")
        self.heights[self.row + 1] = max(
            grid.height_of(choice, grid.pixels_between(1, 1), "small") for choice in dials.choices
        )
        self.row += 2
        self._space()

    def _notes(self, notes: Notes) -> None:
        self._heading(notes.title)
        for text in notes.paragraphs:
            self._paragraph(text, "paragraph")
        self._space()

    # --- small steps ---------------------------------------------------------------------------------------

    def _place(
        self,
        item: Item,
        number: int | None,
        row: int,
        column: int,
        span: int,
        row_label: str,
        wraps: bool = False,
    ) -> None:
        name = cell_name(item.name, number)
        working = column >= self.first_working
        self.places.append(
            Place(
                name, item, number, self.sheet.name, row, column, span, item.label, row_label, working, wraps
            )
        )

    def _caption(
        self,
        row: int,
        column: int,
        text: str,
        style: CaptionStyle,
        last: int | None = None,
        number: int | None = None,
        behind: str = "",
    ) -> None:
        self.captions.append(
            Caption(row, column, column if last is None else last, text, style, number, behind)
        )

    def _space(self, height: float = grid.SPACE_HEIGHT) -> None:
        self.heights[self.row] = height
        self.row += 1

    def _column_widths(self) -> tuple[float, ...]:
        used = [place.column for place in self.places] + [level.column for level in self.levels]
        used += [point.column for point in self.points] + [split.column for split in self.splits]
        used += [chart.categories_column for chart in self.charts]
        last = max([self.last_column, *used])
        widths = [grid.LABEL_WIDTH] + [grid.COLUMN_WIDTH] * self.last_column + [grid.GAP_WIDTH]
        for column in range(self.last_column + 2, last + 1):
            widths.append(self.widths.get(column, grid.WORKING_WIDTH))
        return tuple(widths)
