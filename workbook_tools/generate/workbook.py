"""The first stage's end: a form for one engine, written as a workbook.

new_workbook(out, cylinders=4, units="us")
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from io import BytesIO
from pathlib import Path

from xlsxwriter.image import Image
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from workbook_tools.errors import BadRequest
from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHEETS, SHOWN
from workbook_tools.form.customer import CUSTOMER_NAME
from workbook_tools.form.ranges import choice_in_words, default_for, is_numeric_choice
from workbook_tools.form.start import START
from workbook_tools.generate.sheet_writer import Entry, SheetWriter, checked
from workbook_tools.generate.styles import FONT, SIZE, Styles
from workbook_tools.guide.choosing import TEST_ASKED, sheet_of
from workbook_tools.guide.fits import Experience, learned
from workbook_tools.guide.suspects import pair
from workbook_tools.guide.telling import EXPERIENCE_JOBS
from workbook_tools.guide.tests import TESTS
from workbook_tools.language.expressions import NO
from workbook_tools.language.model import MOST_CYLINDERS, Field, Shape, UnitSystem, Value, cell_name
from workbook_tools.layout.grid import LAST_COLUMN
from workbook_tools.layout.layout import layout
from workbook_tools.layout.plan import Layout, ListPlace, MetaCell, Place, absolute
from workbook_tools.package.cells import written_out
from workbook_tools.package.safe_write import replace_file
from workbook_tools.science import engine_geometry

LONGEST_CURRENCY = 5
LONGEST_TEXT = 32_767
#: A footer holds 255 characters in all, and each & counts twice.
LONGEST_IN_FOOTER = 60
TITLE = "Engine check"
#: Pixels that a logo takes at most, in so many columns beside the lines of the shop.
LOGO_BESIDE, LOGO_HEIGHT, LOGO_WIDTH, LOGO_COLUMNS = "page_shop_name", 80, 200, 2
#: The same request gives the same bytes: the day in the file's properties is fixed.
CREATED = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
DAY_ZERO = dt.date(1899, 12, 30)


def new_workbook(
    out: Path,
    *,
    cylinders: int = 4,
    banks: str | None = None,
    firing_order: str | None = None,
    units: UnitSystem = "us",
    currency: str = "$",
    job_number: str | None = None,
    prefill: Mapping[str, object] | None = None,
    sheets: Collection[str] | None = None,
    experience: Experience | None = None,
    logo: bytes | None = None,
) -> Path:
    """Write an empty form for one engine to `out` and return its path.

    `banks` as `1-3-5-7 | 2-4-6-8`; `prefill` holds entries by cell name, in the workbook's units, None for a
    cell to be left blank; `sheets` names the sheets to show: the others are there, hidden, for the formulas
    that rest on them; `experience` puts the shop's own proven repairs into the guide's weights; `logo`, a picture, stands on the customer's page.

    Raises BadRequest where the form can't be made as asked, UnusableFile where `out` can't
    be written.
    """
    shape = shape_for(cylinders, banks, units, currency)
    shown = _sheets_to_show(sheets)
    asked = dict(prefill or {})
    if firing_order is not None:
        asked["firing_order"] = _firing_order(firing_order, cylinders)
    if job_number is not None:
        asked["job_number"] = job_number
    entries = {**entries_for(shape, asked), **_left_out_of_the_guide(shown), **_learned(experience)}
    replace_file(Path(out), workbook_bytes(shape, entries, shown, logo))
    return Path(out)


def shape_for(cylinders: int, banks: str | None, units: UnitSystem, currency: str = "$") -> Shape:
    """The shape of a workbook. Raises BadRequest for cylinders, banks, units or currency that no form has."""
    if not isinstance(cylinders, int) or not 1 <= cylinders <= MOST_CYLINDERS:
        raise BadRequest(
            f"A form is for 1 to {MOST_CYLINDERS} cylinders, not {cylinders}; give one of these numbers."
        )
    if units not in ("us", "metric"):
        raise BadRequest(f"Units are us or metric, not {units}; name one of these.")
    if (
        not currency.strip()
        or len(currency) > LONGEST_CURRENCY
        or '"' in currency
        or not currency.isprintable()
    ):
        raise BadRequest(
            f"The currency sign has 1 to {LONGEST_CURRENCY} characters and no quotation mark: $ or EUR."
        )
    if banks is None:
        return Shape(cylinders, engine_geometry.default_banks(cylinders), units, currency)
    try:
        return Shape(cylinders, engine_geometry.parse_banks(banks, cylinders), units, currency)
    except ValueError as problem:
        raise BadRequest(
            f"Banks: {problem}. Write each bank from front to rear: 1-3-5-7 | 2-4-6-8."
        ) from problem


def _firing_order(text: str, cylinders: int) -> str:
    try:
        return engine_geometry.firing_order_text(engine_geometry.parse_firing_order(text, cylinders))
    except ValueError as problem:
        example = engine_geometry.firing_order_text(engine_geometry.default_firing_order(cylinders))
        like = example or "-".join(map(str, range(1, cylinders + 1)))
        raise BadRequest(
            f"Firing order: {problem}. Write it as the engine fires, for example {like}."
        ) from problem


def _sheets_to_show(sheets: Collection[str] | None) -> tuple[str, ...]:
    known = {sheet.name.lower(): sheet.name for sheet in SHEETS}
    if sheets is None:
        return tuple(sheet.name for sheet in SHOWN)
    unknown = [name for name in sheets if name.strip().lower() not in known]
    if unknown:
        raise BadRequest(
            f"The form has no sheet {', '.join(unknown)}; name one of {', '.join(known.values())}."
        )
    asked = {name.strip().lower() for name in sheets}
    if not asked:
        raise BadRequest("Name at least one sheet to show.")
    return tuple(name for key, name in known.items() if key in asked)


def _left_out_of_the_guide(shown: Collection[str]) -> dict[str, Entry]:
    """The guide asks for no test whose sheet the form does not show."""
    return {
        cell_name(TEST_ASKED, place): NO for place, test in enumerate(TESTS, 1) if sheet_of(test) not in shown
    }


def _learned(experience: Experience | None) -> dict[str, Entry]:
    """The guide's weights with the shop's own proven repairs in them."""
    if experience is None or not experience.jobs:
        return {}
    found: dict[str, Entry] = {EXPERIENCE_JOBS: experience.jobs}
    for place, (complaint, cause, added) in enumerate(learned(experience), 1):
        found |= {
            cell_name("learned_for", place): pair(complaint, cause),
            cell_name("learned_weight", place): added,
        }
    return found


def entries_for(shape: Shape, asked: Mapping[str, object]) -> dict[str, Entry]:
    """What stands in the input cells of a new form: defaults, and over them what was asked for.

    Raises BadRequest for a name that is no input of such a form, or a value that its cell can't hold.
    """
    cells = the_form.cells(shape)
    entries: dict[str, Entry] = {}
    for name, cell in cells.items():
        if isinstance(cell.item, Field):
            default = default_for(cell.item, shape, cell.number)
            if default is not None:
                entries[name] = _entry(cell.item, name, default)
    for name, value in asked.items():
        cell = cells.get(name)
        if cell is None or not isinstance(cell.item, Field) or cell.item.locked:
            raise BadRequest(
                f"{name} is no entry of a form for {shape.cylinders} cylinders, so it can't be filled in; leave it out."
            )
        entries.pop(name, None)
        if value is not None and value != "":
            entries[name] = _entry(cell.item, name, value)
    return entries


def _entry(field: Field, name: str, value: object) -> Entry:
    """The value as its cell holds it: texts in text cells, numbers and dates as such."""
    if field.kind == "text":
        text = f"{value:.15g}" if isinstance(value, float) else str(value)
        if len(text) > LONGEST_TEXT:
            raise BadRequest(
                f"{name}: a cell holds {LONGEST_TEXT} characters, this text has {len(text)}; shorten it."
            )
        return written_out(text)
    if isinstance(value, dt.datetime):
        return value.date()
    if isinstance(value, str) and is_numeric_choice(field) and value in field.choices:
        return float(value)
    if isinstance(value, (int, float, str, dt.date)) and not isinstance(value, bool):
        return value
    raise BadRequest(f"{name} can't be filled with what was given; give a number, a text or a date.")


def workbook_bytes(
    shape: Shape, entries: Mapping[str, Entry], shown: Collection[str], logo: bytes | None = None
) -> bytes:
    """The workbook as a file's bytes, the same for the same request."""
    plan = layout(shape)
    values = the_form.compute(shape, {name: _as_computed(entry) for name, entry in entries.items()})
    memory = BytesIO()
    default_format = {"font_name": FONT, "font_size": SIZE}
    book = Workbook(memory, {"in_memory": True, "default_format_properties": default_format})
    styles = Styles(book, shape)
    job_number = str(entries.get("job_number", ""))
    for sheet in plan.sheets:
        is_shown = sheet.name in shown
        page = SheetWriter(book, plan, sheet, shape, styles, entries, values).write(
            _footer(job_number), shown, _links_on(sheet.name, shown)
        )
        if not is_shown:
            page.hide()
        if sheet.name == CUSTOMER_NAME and logo is not None:
            _place_logo(page, plan.cells[LOGO_BESIDE], logo)
    first = book.get_worksheet_by_name(next(sheet.name for sheet in plan.sheets if sheet.name in shown))
    first.activate()
    first.set_first_sheet()
    _say_what_it_is(book, plan, styles, _meta(shape, shown))
    _write_lists(book, plan.lists, styles)
    _define_names(book, plan)
    book.close()
    return memory.getvalue()


def _links_on(name: str, shown: Collection[str]) -> list[tuple[str, str]]:
    """Links of a sheet: to where the next test stands, to the sheet before it and the one after; none on a page to be handed over."""
    names = list(shown)
    if name not in names or any(sheet.is_page for sheet in SHEETS if sheet.name == name):
        return []
    at = names.index(name)
    before, after = names[max(at - 1, 0)], names[min(at + 1, len(names) - 1)]
    start = START.name if START.name in names and START.name not in (name, before) else ""
    return [
        (start, start),
        (f"‹ {before}" if before != name else "", before),
        (f"{after} ›" if after != name else "", after),
    ]


def _place_logo(page: Worksheet, beside: Place, logo: bytes) -> None:
    """The picture as it is, shown as high as the shop's four lines at most, at the right of them."""
    picture = Image(BytesIO(logo))
    scale = min(1.0, LOGO_HEIGHT / picture.height, LOGO_WIDTH / picture.width)
    options = {
        "x_scale": scale,
        "y_scale": scale,
        "description": "The shop's logo",
        "image_data": BytesIO(logo),
    }
    written = page.insert_image(beside.row, LAST_COLUMN - LOGO_COLUMNS + 1, "logo", options)
    checked(written, "the logo")


def _as_computed(entry: Entry) -> Value:
    """An entry as the formulas see it: dates are days, whole numbers floats."""
    if isinstance(entry, dt.date):
        return float((entry - DAY_ZERO).days)
    return entry if isinstance(entry, str) else float(entry)


def _footer(job_number: str) -> str:
    """Sheet, job number where it is known when the form is made, page; a footer can't show a cell."""
    shown = job_number[:LONGEST_IN_FOOTER].replace("&", "&&")
    middle = f"&CJob {shown}" if shown else ""
    return f"&L&A{middle}&RPage &P of &N"


def _meta(shape: Shape, shown: Collection[str]) -> dict[str, str | int]:
    return {
        "form_version": the_form.FORM_VERSION,
        "unit_system": shape.units,
        "form_cylinders": shape.cylinders,
        "form_banks": engine_geometry.banks_text(shape.banks),
        "form_currency": shape.currency,
        "form_sheets": ", ".join(shown),
    }


def _say_what_it_is(book: Workbook, plan: Layout, styles: Styles, meta: Mapping[str, str | int]) -> None:
    """The same facts in visible cells and in the file's properties."""
    book.set_properties({"title": TITLE, "created": CREATED})
    for cell in plan.meta:
        _write_meta(book, cell, meta[cell.name], styles)
        checked(book.set_custom_property(cell.name, meta[cell.name]), f"property {cell.name}")


def _write_meta(book: Workbook, cell: MetaCell, value: str | int, styles: Styles) -> None:
    page = book.get_worksheet_by_name(cell.sheet)
    # In small letters the list of the sheets ends on the paper.
    style = styles.caption("small label")
    if isinstance(value, int):
        checked(page.write_number(cell.row, cell.column, value, style), cell.name)
    else:
        checked(page.write_string(cell.row, cell.column, value, style), cell.name)


def _write_lists(book: Workbook, lists: tuple[ListPlace, ...], styles: Styles) -> None:
    for each in lists:
        page = book.get_worksheet_by_name(each.sheet)
        for offset, choice in enumerate(each.choices):
            words = choice_in_words(choice)
            written = page.write_string(each.row + offset, each.column, words, styles.caption("small label"))
            checked(written, f"list {each.name}")
        reference = absolute(each.sheet, each.row, each.column, each.row + len(each.choices) - 1)
        checked(book.define_name(each.name, reference), f"name {each.name}")


def _define_names(book: Workbook, plan: Layout) -> None:
    """Names of the whole workbook: one a cell, one a column that formulas refer to."""
    for name, place in plan.cells.items():
        checked(book.define_name(name, absolute(place.sheet, place.row, place.column)), f"name {name}")
    for name, (first, last) in plan.ranges.items():
        reference = absolute(first.sheet, first.row, first.column, last.row)
        checked(book.define_name(name, reference), f"name {name}")
    for cell in plan.meta:
        checked(book.define_name(cell.name, absolute(cell.sheet, cell.row, cell.column)), f"name {cell.name}")
