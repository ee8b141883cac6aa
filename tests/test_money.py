"""Money to the cent and the worksheet's rounding, against typed decimals and a real spreadsheet."""

from __future__ import annotations

import random
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from tests.support.office import Office
from workbook_tools.science.money import (
    Bill,
    BillLine,
    bill,
    exact,
    line_total,
    parts_amount,
    tax_total,
    to_cents,
)
from workbook_tools.science.sheet_math import median, sheet_decimal, sheet_round

# As typed, and to the cent. Binary numbers next to these halves lie on either side of them.
HALVES = [
    (1.005, "1.01"),
    (2.675, "2.68"),
    (0.125, "0.13"),
    (0.375, "0.38"),
    (8.345, "8.35"),
    (1.115, "1.12"),
    (0.615, "0.62"),
    (10.075, "10.08"),
    (1.255, "1.26"),
    (4.35, "4.35"),
    (4.345, "4.35"),
    (0.005, "0.01"),
    (0.015, "0.02"),
    (0.025, "0.03"),
    (0.045, "0.05"),
    (1234567.895, "1234567.90"),
    (-1.005, "-1.01"),
    (-2.675, "-2.68"),
    (0.0049, "0.00"),
    (0.004999, "0.00"),
    (99.994999, "99.99"),
    (99.995, "100.00"),
]

# Quantity, unit price, hours, rate, and the line to the cent. The binary product is a little under the half.
LINES = [
    (3, 0.335, 0, 0, "1.01"),
    (0.1, 0.35, 0, 0, "0.04"),
    (0.125, 0.2, 0, 0, "0.03"),
    (1.5, 12.35, 0.25, 64.9, "34.75"),
    (5, 379.558, 0.5, 67.85, "1931.72"),
    (4, 309.68, 2.05, 77.1, "1396.78"),
    (2, 4.25, 1.1, 85, "102.00"),
    (0, 19.99, 0.35, 72.3, "25.31"),
    (0, 0, 0, 85, "0.00"),
    (-1, 0.335, 0, 0, "-0.34"),
]

typed_money = st.decimals(min_value=-100000, max_value=100000, places=4, allow_nan=False)
typed_hours = st.decimals(min_value=0, max_value=200, places=2)
typed_price = st.decimals(min_value=0, max_value=5000, places=2)


@pytest.mark.parametrize(("typed", "cents"), HALVES)
def test_halves_go_up_as_they_are_typed(typed: float, cents: str) -> None:
    """A half cent that was typed rounds away from zero, though its binary number may lie below."""
    assert str(to_cents(typed)) == cents
    assert sheet_round(typed, 2) == float(cents)


@pytest.mark.parametrize(("quantity", "unit_price", "hours", "rate", "cents"), LINES)
def test_a_line_is_rounded_once(
    quantity: float, unit_price: float, hours: float, rate: float, cents: str
) -> None:
    """Quantity x price + hours x rate is worked out exactly and rounded to the cent at the end."""
    assert str(line_total(quantity, unit_price, hours, rate)) == cents


@given(amount=typed_money)
def test_cents_are_the_typed_decimal_half_up(amount: Decimal) -> None:
    """The binary number in a cell gives the cents that Python's decimal module gives for the decimal."""
    cents = amount.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
    assert to_cents(float(amount)) == to_cents(amount) == cents
    assert sheet_round(float(amount), 2) == float(cents)


@given(quantity=typed_hours, price=typed_price, hours=typed_hours, rate=typed_price)
def test_the_sheet_rounds_a_line_to_the_same_cents(
    quantity: Decimal, price: Decimal, hours: Decimal, rate: Decimal
) -> None:
    """The worksheet's way, binary products rounded once, comes to the exact line."""
    in_cells = float(quantity) * float(price) + float(hours) * float(rate)
    assert sheet_round(in_cells, 2) == float(line_total(quantity, price, hours, rate))


@given(value=st.floats(-1e9, 1e9), digits=st.integers(-3, 6))
def test_rounding_is_near_and_stays(value: float, digits: int) -> None:
    """A rounded number is within half a step, stays when rounded again, and mirrors its negative."""
    rounded = sheet_round(value, digits)
    shown_digits = 5e-15 * abs(value)
    assert abs(rounded - value) <= 0.5 * 10.0**-digits + shown_digits + 1e-15
    assert sheet_round(rounded, digits) == rounded
    assert sheet_round(-value, digits) == -rounded


@pytest.mark.parametrize(
    ("value", "digits", "expected"),
    [
        (2.5, 0, 3.0),
        (-2.5, 0, -3.0),
        (0.5, 0, 1.0),
        (1.4999999999999998, 0, 2.0),
        (1249.999, -2, 1200.0),
        (1250, -2, 1300.0),
        (0.1 + 0.2, 1, 0.3),
        (1e15 + 0.3, 0, 1e15),
        (1e300, 2, 1e300),
        (0.0, 2, 0.0),
    ],
)
def test_rounding_at_its_edges(value: float, digits: int, expected: float) -> None:
    """Halves go away from zero, digits may be negative, and what shows as a half counts as one."""
    assert sheet_round(value, digits) == expected


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Decimal("NaN"), Decimal("-Infinity")])
def test_what_is_no_number_is_refused(value: float | Decimal) -> None:
    """Neither infinity nor a missing number is an amount."""
    with pytest.raises(ValueError):
        to_cents(value)


def test_amounts_are_what_the_cell_shows() -> None:
    """A float stands for its 15 shown digits; whole numbers and decimals are taken as they are."""
    assert exact(0.1 + 0.2) == sheet_decimal(0.3) == Decimal("0.3")
    assert exact(7) == 7
    assert exact(Decimal("1.23456789012345678")) == Decimal("1.23456789012345678")


@pytest.mark.parametrize(
    ("tax_on", "tax"), [("parts", "8.25"), ("parts and labour", "19.91"), ("nothing", "0.00")]
)
def test_tax_on_what_was_chosen(tax_on: str, tax: str) -> None:
    """8.25 % of 100.00 parts, of parts and 141.30 labour, or of nothing, to the cent."""
    assert str(tax_total(Decimal("100.00"), Decimal("141.30"), 8.25, tax_on)) == tax


def test_an_unknown_tax_base_is_refused() -> None:
    """Only the three choices of the form are taken."""
    with pytest.raises(ValueError, match="not on 'labour'"):
        tax_total(1, 1, 8, "labour")


def test_a_whole_bill() -> None:
    """Two invented lines and a blank one: parts, labour and tax add up to the total."""
    lines = [BillLine(2, 4.25, 1.1), BillLine(quantity=3, unit_price=0.335), BillLine()]
    expected = Bill(Decimal("9.51"), Decimal("93.50"), Decimal("0.76"), Decimal("103.77"))
    assert bill(lines, labour_rate=85, tax_percent=8, tax_on="parts") == expected


@given(
    lines=st.lists(st.builds(BillLine, typed_hours, typed_price, typed_hours), max_size=20),
    rate=typed_price,
    tax_percent=st.decimals(min_value=0, max_value=40, places=3),
    tax_on=st.sampled_from(["parts", "parts and labour", "nothing"]),
)
def test_a_bill_adds_up_to_the_cent(
    lines: list[BillLine], rate: Decimal, tax_percent: Decimal, tax_on: str
) -> None:
    """Parts and labour are the sum of the lines, and with the tax the total, without a stray cent."""
    whole = bill(lines, rate, tax_percent, tax_on)
    of_lines = sum(line_total(each.quantity, each.unit_price, each.hours, rate) for each in lines)
    assert whole.parts + whole.labour == of_lines
    assert whole.total == of_lines + whole.tax
    assert whole.parts == sum(parts_amount(each.quantity, each.unit_price) for each in lines)
    assert all(part == part.quantize(Decimal("0.01")) for part in (whole.parts, whole.labour, whole.tax))


def test_median_is_the_worksheets() -> None:
    """The middle value, or the mean of the two middle ones; none without values."""
    assert median([3, 1, 2]) == 2
    assert median(value for value in (4.0, 1.0, 3.0, 2.0)) == 2.5
    with pytest.raises(ValueError, match="no values"):
        median([])


def test_libreoffice_rounds_and_takes_medians_alike(office: Office, tmp_path: Path) -> None:
    """ROUND of every half above and of invented lines, and MEDIAN, are the same in LibreOffice."""
    draw = random.Random(20)
    rows = [line[:4] for line in LINES] + [(1, typed, 0, 0) for typed, _ in HALVES]
    rows += [
        (
            draw.choice([1, 3, 0.5, 1.5, 0.125]),
            round(draw.uniform(0, 500), 3),
            round(draw.uniform(0, 20), 2),
            round(draw.uniform(20, 150), 1),
        )
        for _ in range(400)
    ]
    path = tmp_path / "rounding.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("S")
        for index, row in enumerate(rows):
            sheet.write_row(index, 0, row)
            place = index + 1
            sheet.write_formula(index, 4, f"=ROUND(A{place}*B{place}+C{place}*D{place},2)")
            sheet.write_formula(index, 5, f"=MEDIAN(A{place}:D{place})")
            book.define_name(f"line_{index}", f"=S!$E${place}")
            book.define_name(f"middle_{index}", f"=S!$F${place}")
    found = office.read_names(path)
    for index, row in enumerate(rows):
        in_cells = row[0] * row[1] + row[2] * row[3]
        assert found[f"line_{index}"] == float(line_total(*row)) == sheet_round(in_cells, 2), row
        assert found[f"middle_{index}"] == pytest.approx(median(row), abs=1e-12), row
