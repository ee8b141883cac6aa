"""The bill: sums that were typed over, stale sums, and halves of an amount that count as nothing.

The amounts are worked out by hand beside each case.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.support.filled import diagnosis_of, filled
from workbook_tools.diagnose.bill import amounts_of
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.entries import open_case
from workbook_tools.read.filled_form import FilledForm

#: 2 x 14.95 = 29.90 parts; 1.5 h x 60 = 90.00 and 0.25 h x 60 = 15.00 labour; 8 % of 134.90 = 10.792, so 10.79.
BILL: dict[str, Any] = {
    "quantity": (2,),
    "unit_price": (14.95,),
    "hours": (1.5, 0.25),
    "labour_rate": 60,
    "tax_percent": 8,
    "tax_on": "parts and labour",
}
TOTALS = {
    "line_parts_1": "29.90",
    "line_labour_1": "90.00",
    "line_total_1": "119.90",
    "line_total_2": "15.00",
    "parts_total": "29.90",
    "labour_total": "105.00",
    "taxable_total": "134.90",
    "tax_total": "10.79",
    "bill_total": "145.69",
}


def stored(form: FilledForm, name: str, raw: object, typed_over: bool) -> FilledForm:
    """The form with another stored value in a computed cell, its formula kept or typed over."""
    cell = form.cells[name]
    changed = cell._replace(raw=raw, formula=None if typed_over else cell.formula)
    return replace(form, cells={**form.cells, name: changed})


def money_kinds(form: FilledForm) -> list[str]:
    """Kind and cell of what is wrong with the computed cells."""
    kinds = ("bill_differs", "formula_replaced", "result_differs")
    return [f"{each.kind} {each.field}" for each in diagnose(form).discrepancies if each.kind in kinds]


@pytest.mark.parametrize(("name", "amount"), TOTALS.items())
def test_every_amount_is_worked_out_from_the_entries(name: str, amount: str) -> None:
    """In decimals and on the sheet alike."""
    form = filled(**BILL)
    case, _ = open_case(form)
    assert amounts_of(case)[name] == Decimal(amount)
    assert form.cells[name].raw == float(amount)


@pytest.mark.parametrize(
    ("tax_on", "tax", "total"),
    [
        ("parts", "2.39", "137.29"),  # 8 % of 29.90 = 2.392
        ("parts and labour", "10.79", "145.69"),
        ("nothing", "0.00", "134.90"),
    ],
)
def test_the_tax_is_on_what_was_chosen(tax_on: str, tax: str, total: str) -> None:
    """Three ways to tax one bill."""
    case, _ = open_case(filled(**BILL | {"tax_on": tax_on}))
    amounts = amounts_of(case)
    assert (amounts["tax_total"], amounts["bill_total"]) == (Decimal(tax), Decimal(total))


def test_a_bill_that_adds_up_is_not_spoken_of() -> None:
    """Nor is a form without a bill."""
    assert money_kinds(filled(**BILL)) == []
    assert money_kinds(filled()) == []


@pytest.mark.parametrize(
    ("name", "raw", "typed_over", "expected", "why"),
    [
        (
            "bill_total",
            155.69,
            True,
            ["formula_replaced bill_total", "bill_differs bill_total"],
            "10.00 too much",
        ),
        ("bill_total", 145.69, True, ["formula_replaced bill_total"], "typed over, but with the right sum"),
        (
            "bill_total",
            "$ 140.00",
            True,
            ["formula_replaced bill_total", "bill_differs bill_total"],
            "as text",
        ),
        (
            "bill_total",
            "see invoice",
            True,
            ["formula_replaced bill_total"],
            "no amount to hold against the sum",
        ),
        ("bill_total", None, True, ["formula_replaced bill_total"], "cleared"),
        (
            "line_total_5",
            25,
            True,
            ["formula_replaced line_total_5", "bill_differs line_total_5"],
            "an empty line",
        ),
        (
            "bill_total",
            155.69,
            False,
            ["bill_differs bill_total"],
            "the formula stands, its stored result is stale",
        ),
        ("tax_total", 10.80, False, ["bill_differs tax_total"], "rounded up instead of half-up"),
    ],
)
def test_a_wrong_amount_is_told_once(
    name: str, raw: object, typed_over: bool, expected: list[str], why: str
) -> None:
    """Typed over it is a replaced formula, and a bill that differs only where the amount is wrong too."""
    assert money_kinds(stored(filled(**BILL), name, raw, typed_over)) == expected, why


def test_the_message_says_by_how_much() -> None:
    """The customer paid 10.00 too much."""
    form = stored(filled(**BILL), "bill_total", 155.69, typed_over=True)
    (found,) = (each for each in diagnose(form).discrepancies if each.kind == "bill_differs")
    assert "$155.69" in found.message and "$145.69" in found.message and "$10.00 too much" in found.message
    assert found.expected == "145.69"


def test_prices_held_as_text_do_not_make_the_bill_differ_too() -> None:
    """The sheet leaves the text out of its sum; that is said at the price, once."""
    diagnosis = diagnosis_of(**BILL | {"unit_price": ("14.95",)})
    kinds = [f"{each.kind} {each.field}" for each in diagnosis.discrepancies]
    assert "entry_is_text unit_price_1" in kinds
    assert not [kind for kind in kinds if kind.startswith(("bill_differs", "missing_reading"))]


@pytest.mark.parametrize(
    ("changes", "cells", "why"),
    [
        ({}, [], "all halves are there"),
        ({"labour_rate": None}, ["labour_rate"], "hours without a rate are given away"),
        ({"labour_rate": None, "hours": None}, [], "no hours, no rate needed"),
        ({"unit_price": None}, ["unit_price_1"], "two of something, at no price"),
        ({"quantity": None}, ["quantity_1"], "a price, but how many?"),
        ({"quantity": ("two",)}, [], "unreadable, and said so at its own cell"),
        ({"tax_on": None}, ["tax_on"], "8 % of what?"),
        ({"tax_on": None, "tax_percent": 0}, [], "no tax, nothing to choose"),
        ({"tax_percent": None}, ["tax_percent"], "tax on parts and labour, but how much?"),
        ({"tax_percent": None, "tax_on": "nothing"}, [], "no tax was chosen"),
        ({"unit_price": (0,)}, [], "given free of charge: a price of nothing is a price"),
    ],
)
def test_half_an_amount_is_missing_the_other(changes: Mapping[str, Any], cells: list[str], why: str) -> None:
    """What would be billed as nothing is asked for."""
    found = diagnosis_of(**BILL | changes).discrepancies
    assert [each.field for each in found if each.kind == "missing_reading"] == cells, why
