"""Cylinders in a technician's conclusion, as people write them, and what can't be used of them. Engines are invented."""

from __future__ import annotations

import pytest

from tests.support.filled import diagnosis_of
from workbook_tools.diagnose.conclusions import named_cylinders
from workbook_tools.diagnose.model import Diagnosis

RINGS_AT_3 = {"compression_dry": (148, 147, 95, 149), "compression_wet": {3: 140, 1: 152}, "leakdown": None}
GASKET_2_3 = {
    "compression_dry": (148, 92, 95, 149),
    "compression_wet": {2: 97, 3: 100, 1: 152},
    "leakdown": None,
}


def about_conclusions(diagnosis: Diagnosis) -> list[str]:
    """The kinds of discrepancy that speak of what was concluded."""
    kinds = ("conclusion_contradicted", "conclusion_unsupported", "finding_not_concluded")
    return [each.kind for each in diagnosis.discrepancies if each.kind in kinds]


@pytest.mark.parametrize(
    ("text", "cylinders"),
    [
        ("3, 4", (3, 4)),
        ("3,4", (3, 4)),
        ("3+4", (3, 4)),
        ("3 + 4", (3, 4)),
        ("#3", (3,)),
        ("#3 & #4", (3, 4)),
        ("3 and 4", (3, 4)),
        ("4 3", (3, 4)),
        ("3/4", (3, 4)),
        ("3-4", (3, 4)),
        ("1-3-5", (1, 3, 5)),
        ("1 to 3", (1, 2, 3)),
        ("cyl. 3", (3,)),
        ("Cylinders 3 and 4", (3, 4)),
        ("No. 3", (3,)),
        ("all", (1, 2, 3, 4, 5, 6)),
        ("ALL cylinders", (1, 2, 3, 4, 5, 6)),
        ("3, 3", (3,)),
    ],
)
def test_cylinders_are_read_as_people_write_them(text: str, cylinders: tuple[int, ...]) -> None:
    """Marks and words between numbers do not matter."""
    assert named_cylinders(text, 6) == cylinders


@pytest.mark.parametrize(
    ("text", "kind", "why"),
    [
        ("the front two", "unreadable_entry", "no numbers"),
        ("3, x", "unreadable_entry", "half of it is no number"),
        ("1-4", "unreadable_entry", "two cylinders, or all four?"),
        ("5", "implausible_entry", "a four-cylinder engine has no fifth"),
        ("0", "implausible_entry", "cylinders count from 1"),
        ("3, 7", "implausible_entry", "one of them is there, the other is not"),
    ],
)
def test_cylinders_that_can_not_be_used_are_said(text: str, kind: str, why: str) -> None:
    """The entry is reported at its cell, and the conclusion is judged as if no cylinder were named."""
    diagnosis = diagnosis_of(
        healthy_engine=True, **RINGS_AT_3, concluded_cause_1="worn_rings", concluded_cylinders_1=text
    )
    (found,) = (each for each in diagnosis.discrepancies if each.field == "concluded_cylinders_1")
    assert found.kind == kind, why
    assert about_conclusions(diagnosis) == []


def test_a_decimal_that_a_spreadsheet_made_of_two_cylinders() -> None:
    """`3,4` typed where the comma is the decimal point is kept as the number 3.4."""
    diagnosis = diagnosis_of(
        healthy_engine=True, **GASKET_2_3, concluded_cause_1="head_gasket", concluded_cylinders_1=2.3
    )
    assert about_conclusions(diagnosis) == []
