"""The findings sheet: a book of one sheet, to be placed last into the user's workbook.

findings_book(diagnosis, form, answers={}, program_version="0.1.0", checked_at=datetime.now())
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from io import BytesIO

from xlsxwriter.workbook import Workbook

from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.generate.sheet_writer import PROTECTION, checked, print_in_pages
from workbook_tools.generate.styles import FONT, SIZE, Styles
from workbook_tools.generate.workbook import CREATED
from workbook_tools.layout import grid
from workbook_tools.layout.letters import PIXELS_PER_POINT
from workbook_tools.layout.paging import MARGINS, breaks, paper_for, room_on, scale_to
from workbook_tools.package.index import MARK
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.report import findings_record, findings_sections
from workbook_tools.report.answers import SHEET_NAME
from workbook_tools.report.findings_charts import room_for_chart, write_compression
from workbook_tools.report.findings_page import COLUMN_WIDTH, KEYS, LABEL, LAST, FindingsPage, fitting
from workbook_tools.report.findings_sections import HEAD_ROWS
from workbook_tools.report.judged import NAME as JUDGED

#: A footer holds 255 characters in all.
LONGEST_IN_FOOTER = 60


def findings_book(
    diagnosis: Diagnosis,
    form: FilledForm,
    *,
    answers: Mapping[str, str],
    program_version: str,
    checked_at: dt.datetime,
    title: str = SHEET_NAME,
    judged: str = "",
    apart: bool = False,
) -> bytes:
    """The findings as a one-sheet book; `answers` by key, as `read_answers` gives them, in their places.

    `judged` is the mark of what was judged, kept as a name of the sheet. A book that stays `apart` has the
    mark as well that a sheet gets when it is placed.
    """
    memory = BytesIO()
    default_format = {"font_name": FONT, "font_size": SIZE}
    book = Workbook(memory, {"in_memory": True, "default_format_properties": default_format})
    book.set_properties({"title": SHEET_NAME, "created": CREATED})
    page = FindingsPage(book, book.add_worksheet(SHEET_NAME), Styles(book, form.shape))
    _set_up(page)
    findings_sections.write_head(page, diagnosis, form, title, checked_at)
    findings_sections.write_summary(page, diagnosis, form, answers)
    drawn_above = (
        room_for_chart(page, diagnosis, form) if findings_sections.is_drawn_first(diagnosis) else None
    )
    findings_sections.write_next(page, diagnosis, form)
    findings_sections.write_findings(page, diagnosis, form, answers)
    write_compression(page, diagnosis, form, drawn_above)
    findings_sections.write_discrepancies(page, diagnosis, form, answers)
    findings_sections.write_tests_to_do(page, diagnosis, form)
    findings_sections.write_repairs(page, diagnosis, form)
    findings_record.write_earlier(page, diagnosis, form, answers)
    findings_record.write_cautions(page)
    findings_record.write_computed(page, diagnosis, form)
    findings_record.write_judging(page, diagnosis, form, program_version, checked_at)
    _protect_and_print(page, diagnosis.job_number)
    names = {JUDGED: f'="{judged}"'} if judged else {}
    if apart:
        names[MARK] = f"={SHEET_NAME}!$A$1"
    for name, content in names.items():
        checked(book.define_name(f"{SHEET_NAME}!{name}", content), f"name {name}")
    book.close()
    return memory.getvalue()


def _set_up(page: FindingsPage) -> None:
    sheet = page.page
    sheet.hide_gridlines(2)
    checked(sheet.set_column(LABEL, LAST, COLUMN_WIDTH), "width of the columns")
    checked(sheet.set_column(KEYS, KEYS, COLUMN_WIDTH, None, {"hidden": True}), "the column of keys")
    sheet.freeze_panes(HEAD_ROWS, 0)


def _protect_and_print(page: FindingsPage, job_number: str) -> None:
    sheet = page.page
    sheet.protect("", PROTECTION)
    paper = paper_for(page.styles.shape.units)
    sheet.set_paper(paper.number)
    sheet.set_margins(**MARGINS)
    sheet.center_horizontally()
    across, down = room_on(paper, landscape=False)
    width = (LAST - LABEL + 1) * grid.pixels_of(COLUMN_WIDTH) / PIXELS_PER_POINT
    scale = scale_to(across, width)
    sheet.set_print_scale(scale)
    print_in_pages(sheet, _page_breaks(page, 100 * down / scale), (0, LABEL, page.row - 1, LAST))
    checked(sheet.repeat_rows(0, HEAD_ROWS), "repeated rows")
    shown = fitting(job_number)[:LONGEST_IN_FOOTER].replace("&", "&&")
    middle = f"&CJob {shown}" if shown else ""
    checked(sheet.set_footer(f"&L&A{middle}&RPage &P of &N"), "footer")
    if page.answer_cells:
        checked(
            sheet.ignore_errors({"number_stored_as_text": " ".join(page.answer_cells)}),
            "what to leave unmarked",
        )
    sheet.set_selection(0, LABEL, 0, LABEL)


def _page_breaks(page: FindingsPage, room: float) -> tuple[int, ...]:
    """The rows that begin a page, so that no card, chart or table row is torn; the head and a gap are on each."""
    starts = [row for row in page.starts if row > HEAD_ROWS]
    return breaks(page.heights, starts, HEAD_ROWS + 1, room)
