"""The customer's page: what was typed, in a customer's words, on one page, with the shop's logo."""

from __future__ import annotations

import datetime as dt
import io
import re
from pathlib import Path

import pytest
from openpyxl import load_workbook
from PIL import Image

from tests.support.office import Office
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.form.ranges import choice_in_words
from workbook_tools.language.model import Shape
from workbook_tools.layout.layout import layout
from workbook_tools.layout.plan import SheetPlan
from workbook_tools.package.parts import Package
from workbook_tools.science.engine_geometry import default_banks
from workbook_tools.specs.book import read_specs
from workbook_tools.specs.sheet import write_specs_book

FOUR = Shape(4, ((1, 2, 3, 4),))
TYPED: dict[str, object] = {
    "shop_name": "Invented Motor Works",
    "customer_name": "Invented customer",
    "complaint": "lacks power",
    "complaint_notes": "weak on the hill",
    "concluded_cause_1": "leaking_valve",
    "concluded_cylinders_1": "2",
    "concluded_cause_2": "late_timing",
    "work_1": "Ground the valve in",
    "hours_1": 2,
    "labour_rate": 60,
    "date_out": "2026-03-03",
    "advice": "Look at the valves again in a year.",
}
#: Words of the trade that a customer need not know.
JARGON = re.compile(
    r"\b(BTDC|dwell|leak-?down|vacuum advance|retard\w*|lean|rich|point gap|stoich\w*|blow-?by|manifold vacuum|lobes?)\b",
    re.I,
)


def page_of(**typed: object) -> dict[str, object]:
    """Results of the page as Python computes them."""
    values = the_form.compute(FOUR, typed).values  # type: ignore[arg-type]
    return {
        name: value for name, value in values.items() if name.startswith("page_") and value not in (None, "")
    }


def test_the_page_says_what_was_typed_in_a_customers_words() -> None:
    page = page_of(**{name: value for name, value in TYPED.items() if name != "date_out"})
    assert page["page_found_a"] == "A valve was burned or did not close tightly (cylinder 2)"
    assert page["page_found_b"] == "The ignition sparked too late"
    assert page["page_complaint"] == "lacks power: weak on the hill"
    assert (page["page_work_1"], page["page_line_1"], page["page_bill_total"]) == (
        "Ground the valve in",
        120,
        120,
    )
    assert page["page_advice"] == "Look at the valves again in a year."
    assert "page_found_c" not in page and "page_paid_on" not in page


def test_an_empty_form_has_an_empty_page() -> None:
    assert page_of() == {}


@pytest.mark.parametrize("cause", CAUSES)
def test_every_cause_has_words_for_a_customer(cause: str) -> None:
    """A sentence without terms of the trade, whether the cell holds the words of the list or the id."""
    words = CAUSES[cause].customer_words
    assert words[0].isupper() and not words.endswith(".") and len(words) <= 80
    assert not JARGON.search(words)
    for told in (cause, choice_in_words(cause)):
        assert page_of(concluded_cause_1=told)["page_found_a"] == words


def plan_of(shape: Shape) -> SheetPlan:
    return next(sheet for sheet in layout(shape).sheets if sheet.name == "Customer")


@pytest.mark.parametrize("cylinders", [1, 4, 8, 16])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_it_is_one_page(cylinders: int, units: str) -> None:
    plan = plan_of(Shape(cylinders, default_banks(cylinders), units))  # type: ignore[arg-type]
    assert plan.pages.breaks == () and plan.pages.scale is None and not plan.pages.landscape


def test_it_is_alive_in_a_spreadsheet_program(tmp_path: Path, office: Office) -> None:
    """LibreOffice works it out from what is typed; blank cells are empty and no zeros."""
    form = new_workbook(tmp_path / "form.xlsx", cylinders=4)
    fill_workbook(form, TYPED, tmp_path / "job.xlsx")
    office.resave(tmp_path / "job.xlsx", tmp_path / "saved.xlsx")
    book = load_workbook(tmp_path / "saved.xlsx", data_only=True)
    shown = {}
    for name, defined in book.defined_names.items():
        if name.startswith("page_"):
            title, address = defined.attr_text.replace("$", "").split("!")
            shown[name] = book[title.strip("'")][address].value
    held = {name: value for name, value in shown.items() if value not in (None, "")}
    assert held["page_found_a"] == "A valve was burned or did not close tightly (cylinder 2)"
    assert held["page_bill_total"] == 120 and held["page_invoice_date"] == dt.datetime(2026, 3, 3)
    typed = {name: value for name, value in TYPED.items() if name != "date_out"}
    assert held.keys() - {"page_invoice_date"} == page_of(**typed).keys()


def test_the_logo_stands_on_it_as_it_is(tmp_path: Path) -> None:
    """The picture placed on sheet Shop of the specs book is in every new form, byte for byte."""
    picture = io.BytesIO()
    Image.new("RGB", (300, 120), "navy").save(picture, "PNG")
    write_specs_book(tmp_path / "specs.xlsx")
    book = load_workbook(tmp_path / "specs.xlsx")
    from openpyxl.drawing.image import Image as Placed

    book["Shop"].add_image(Placed(picture), "B18")
    book.save(tmp_path / "specs.xlsx")
    logo = read_specs(tmp_path / "specs.xlsx").shop.logo
    assert logo is not None
    form = new_workbook(tmp_path / "form.xlsx", specs=tmp_path / "specs.xlsx", cylinders=2)
    package = Package(form.read_bytes(), "form")
    pictures = [package.bytes_of(name) for name in package.names() if name.startswith("xl/media/")]
    assert pictures.count(logo) == 1


@pytest.mark.parametrize(
    ("data", "words"), [(b"BM no picture of ours", "no PNG"), (b"\x89PNG\r\n\x1a\n" + b"0" * 1_100_000, "MB")]
)
def test_a_logo_that_can_not_be_used_is_said(tmp_path: Path, data: bytes, words: str) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (30, 12), "navy").save(picture, "PNG")
    write_specs_book(tmp_path / "specs.xlsx")
    book = load_workbook(tmp_path / "specs.xlsx")
    from openpyxl.drawing.image import Image as Placed

    book["Shop"].add_image(Placed(picture), "B18")
    book.save(tmp_path / "specs.xlsx")
    package = Package((tmp_path / "specs.xlsx").read_bytes(), "specs")
    name = next(each for each in package.names() if each.startswith("xl/media/"))
    package._parts[name] = data
    package.touch(name)
    (tmp_path / "specs.xlsx").write_bytes(package.to_bytes())
    shop = read_specs(tmp_path / "specs.xlsx").shop
    assert shop.logo is None and words in shop.logo_problem


def test_a_day_is_the_same_in_the_workbook_and_in_python(tmp_path: Path) -> None:
    """The day of the bill, whether it is typed or that on which the engine left; a day typed as a text is blank in both."""
    form = new_workbook(tmp_path / "form.xlsx", cylinders=4)
    for number, days in enumerate(
        (
            {"date_out": dt.date(2026, 3, 3)},
            {"invoice_date": dt.date(2026, 4, 4), "paid_on": dt.date(2026, 5, 5)},
        )
    ):
        path = tmp_path / f"job {number}.xlsx"
        fill_workbook(form, {"vehicle": "pump set", **days}, path)
        found = check_workbook(path, write=False).diagnosis
        assert found.discrepancies == () and all(each.agrees for each in found.computed)
        told = {each.name: each.recomputed for each in found.computed}
        assert told["page_invoice_date"] in (46084, 46116)
