"""Data validation of input cells: choices as lists, plausible ranges as warnings, help as input message."""

from __future__ import annotations

import datetime as dt
from typing import Any

from workbook_tools.form.ranges import is_cause_list, is_numeric_choice, plausible_range
from workbook_tools.language.model import Field, Shape
from workbook_tools.language.prose import help_of

EARLIEST_DATE = dt.date(1990, 1, 1)
#: What spreadsheet programs allow in the title and in the text of a message.
TITLE_LENGTH, TEXT_LENGTH = 32, 255


def validation_of(
    field: Field, shape: Shape, list_names: dict[tuple[str, ...], str]
) -> dict[str, Any] | None:
    """The options of a field's validation, None where there is nothing to check and nothing to say.

    Only a wrong choice is refused, but of a cause, which has a longer name in the findings. Numbers and dates outside what is
    plausible warn and may stand: an odd reading can be a true one.
    """
    options = _criteria(field, shape, list_names)
    message = _message(field, shape)
    if options is None and not message:
        return None
    options = options or {"validate": "any"}
    if message:
        options |= {
            "input_title": _cut(field.label, TITLE_LENGTH),
            "input_message": _cut(message, TEXT_LENGTH),
        }
    return options


def _criteria(field: Field, shape: Shape, list_names: dict[tuple[str, ...], str]) -> dict[str, Any] | None:
    if field.choices:
        source: Any = "=" + list_names[field.choices] if field.choices in list_names else list(field.choices)
        if is_numeric_choice(field):
            source = [float(choice) if "." in choice else int(choice) for choice in field.choices]
        found: dict[str, Any] = {
            "validate": "list",
            "source": source,
            "error_title": "Not in the list",
            "error_message": "Choose one of the words in the list, or leave the cell empty.",
        }
        if is_cause_list(field):
            found |= {
                "error_type": "information",
                "error_message": "Choose a cause from the list, or keep what you typed if it is a cause as the findings name it.",
            }
        return found
    if field.kind == "date":
        return {
            "validate": "date",
            "criteria": ">=",
            "value": EARLIEST_DATE,
            "error_type": "warning",
            "error_title": "No date of this job",
            "error_message": "Write the date as year-month-day, for example 2024-05-31.",
        }
    if field.kind == "text":
        return None
    low, high = plausible_range(field, shape.units)
    validate = "integer" if field.kind == "whole" else "decimal"
    if low is not None and high is not None:
        return {
            "validate": validate,
            "criteria": "between",
            "minimum": low,
            "maximum": high,
            "error_type": "warning",
            "error_title": "Outside what is plausible",
            "error_message": _cut(
                f"Usual entries are {_range(field, shape)}. Keep yours if you are sure of it.", TEXT_LENGTH
            ),
        }
    return {
        "validate": validate,
        "criteria": ">=",
        "value": low or 0,
        "error_type": "warning",
        "error_title": "Not a plain number",
        "error_message": "Write a plain number, not below zero. Keep yours if you are sure of it.",
    }


def _message(field: Field, shape: Shape) -> str:
    """Help and plausible range in one text for the message beside the cell."""
    range_text = _range(field, shape)
    parts = [help_of(field, shape.units), f"Plausible: {range_text}." if range_text else ""]
    return "\n".join(part for part in parts if part)


def _range(field: Field, shape: Shape) -> str:
    low, high = plausible_range(field, shape.units)
    if low is None or high is None:
        return ""
    unit = field.measure.unit(shape.units)
    return f"{low:.15g} to {high:.15g} {unit}".strip()


def _cut(text: str, length: int) -> str:
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"
