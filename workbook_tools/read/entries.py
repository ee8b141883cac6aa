"""The raw value of one cell, turned into a typed value.

Nothing is guessed. What has one reading is read, however it was typed; what has none or several becomes an
entry without a value, whose `problem` says the doubt in words that fit behind the cell's name.
"""

import datetime
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache

from workbook_tools.form.ranges import cause_named, choice_in_words
from workbook_tools.read.entry_dates import date_of_datetime, date_of_number, date_of_text
from workbook_tools.read.entry_text import (
    MONEY,
    NumberText,
    is_blank,
    is_spreadsheet_error,
    shown,
    take_number,
    tidy,
)
from workbook_tools.science.units import Unit, convert, find_unit, same_quantity

LARGEST_NUMBER = 1e15
"""Above this a spreadsheet no longer keeps every digit, and no reading lies there."""

LONGEST_CHOICE_LIST = 12

_CURRENCY_WORDS = frozenset(
    "usd eur gbp jpy chf cad aud nzd sek nok dkk pln czk huf brl mxn inr zar cny kr zł kč ft fr sfr "
    "dollars dollar euro euros pounds us$ c$ a$ r$ rs".split()
)
_CURRENCY_FIRST = re.compile(r"(?P<currency>[^\d\s.,+-]+\.?)\s*(?P<amount>[-+.,\d].*)")
_CURRENCY_LAST = re.compile(r"(?P<amount>.*[\d.,-])\s*(?P<currency>[^\d\s.,-]+\.?)")
_WHOLE_AMOUNT = re.compile(r"(\d)[.,]-{1,2}(?!\d)")
_WHOLE_OR_THOUSANDS = re.compile(r"[-+]?[1-9]\d{0,2}\.\d{3}(?!\d)")
_RATIO_TO_ONE = re.compile(r"\s*(?::|to)\s*1(?:[.,]0+)?", re.IGNORECASE)
_COLUMNS = ("inHg", "mmHg", "cmHg")
_NAMES_MERCURY = re.compile("hg|mercury|torr", re.IGNORECASE)
_NAMES_US = re.compile(r"u\.?\s*s", re.IGNORECASE)
_IN_WORDS = {"in": "inches", "m": "metres", "h": "hours", "s": "seconds", "°": "degrees"}
"""Units whose symbols can't be told from other words or marks in a sentence."""
_PARTS_OF_CURRENCY = "¢\uffe0₥₰৻"
_TOP_DEAD_CENTRE = frozenset({"tdc", "attdc", "0tdc"})
_ERROR_PROBLEM = "the cell holds the spreadsheet error"


@dataclass(frozen=True)
class Entry:
    """What one cell says: a value, or None where it is blank or can't be read.

    `held_as_text`: a number or date that the cell holds as text, so that the sheet's formulas can't use it.
    `typed_unit`: the symbol of a unit typed with the number; the value is already in the unit of the cell.
    `problem`: why the cell can't be read, as part of a plain sentence.
    """

    value: float | int | str | datetime.date | Decimal | None
    held_as_text: bool = False
    typed_unit: str | None = None
    problem: str | None = None


BLANK = Entry(None)


def read_number(raw: object, unit: str) -> Entry:
    """The number in a cell as a float in `unit`, the cell's own ("" for none): `9,8 bar` in psi is 142.1.

    `raw` is the cell's stored value. Nothing, a lone dash, `n/a` and `none` count as blank. Doubtful marks
    (`1,450`), two numbers, limits (`>100`), dates, units of another quantity and unknown words are problems.
    """
    if not isinstance(raw, str):
        return _number_of_cell(raw)
    text = tidy(raw)
    early = _blank_or_error(text)
    if early:
        return early
    if unit == "° BTDC" and re.sub(r"[\s.°]", "", text).casefold() in _TOP_DEAD_CENTRE:
        return Entry(0.0, held_as_text=True, typed_unit=unit)
    taken = take_number(text, unit)
    if taken.value is None:
        return Entry(None, problem=taken.problem)
    return _with_unit(taken, unit, text)


def read_whole(raw: object, unit: str = "") -> Entry:
    """The whole number in a cell as an int, read as by `read_number`; one with a broken part is a problem."""
    entry = read_number(raw, unit)
    if not isinstance(entry.value, float):
        return entry
    if isinstance(raw, str) and _WHOLE_OR_THOUSANDS.match(tidy(raw)):
        return Entry(None, problem=f"{shown(raw)} has a point that could part thousands or decimals")
    nearest = round(entry.value)
    # A formula may leave 8.000000000000002 where 8 is meant; a person does not.
    if abs(entry.value - nearest) > 1e-9 * max(1, abs(nearest)):
        return Entry(None, problem=f"{_number_words(entry.value)} is not a whole number")
    return replace(entry, value=nearest)


def read_choice(raw: object, choices: Sequence[str]) -> Entry:
    """The choice that a cell names, spelled as in `choices`.

    Case, spaces, hyphens and closing dots are forgiven. A ticked box counts as yes, `y` and
    `n` as yes and no, a unit's name as its symbol, and `12 V` as 12.
    """
    if raw is None:
        return BLANK
    if isinstance(raw, bool):
        raw = "yes" if raw else "no"
    elif isinstance(raw, int | float):
        raw = _number_words(raw)
    if not isinstance(raw, str):
        return Entry(None, problem=f"{_date_words(raw)} is not in the list ({_listed(choices)})")
    if raw in choices:
        return Entry(raw)
    text = tidy(raw)
    chosen = _by_key(tuple(choices)).get(_choice_key(text)) or _choice_by_other_name(text, choices)
    if chosen is not None:
        return Entry(chosen)
    early = _blank_or_error(text)
    return early or Entry(None, problem=f"{shown(text)} is not in the list ({_listed(choices, text)})")


def read_text(raw: object) -> Entry:
    """The text in a cell without spaces around it; a number is read as it is shown, 4711.0 as `4711`.

    A date is a problem: a spreadsheet makes one of `3-4`, and what was typed can't be told any more.
    """
    if raw is None:
        return BLANK
    if isinstance(raw, bool):
        return Entry(None, problem=f"the cell holds {_truth_words(raw)}, not text")
    if isinstance(raw, int | float):
        number = _number_of_cell(raw)
        return Entry(None, problem=number.problem) if number.problem else Entry(_number_words(raw))
    if not isinstance(raw, str):
        held = _date_words(raw)
        return Entry(None, problem=f"the cell holds {held}, which a spreadsheet makes of text such as 3-4")
    text = raw.strip()
    if is_spreadsheet_error(text):
        return Entry(None, problem=f"{_ERROR_PROBLEM} {text}")
    return Entry(text or None)


def read_date(raw: object, epoch: datetime.datetime) -> Entry:
    """The day in a cell as a date; `epoch` is day 0 of the workbook's calendar, for days kept as numbers.

    Written days must have one reading only: `31/03/2026` is read, `03/04/2026` is a problem that names both.
    """
    if raw is None:
        return BLANK
    if isinstance(raw, bool):
        return Entry(None, problem=f"the cell holds {_truth_words(raw)}, not a date")
    if isinstance(raw, datetime.date):
        return _date_entry(date_of_datetime(raw))
    if isinstance(raw, int | float):
        number = _number_of_cell(raw)
        return number if number.problem else _date_entry(date_of_number(raw, epoch))
    if not isinstance(raw, str):
        return Entry(None, problem=f"the cell holds {_date_words(raw)}, not a date")
    text = tidy(raw)
    return _blank_or_error(text) or _date_entry(date_of_text(text), held_as_text=True)


def read_money(raw: object) -> Entry:
    """The amount in a cell as an exact Decimal, without its currency: `$ 12.50`, `12,50 €`, `12.-`.

    A float is taken as a spreadsheet shows it, to 15 significant digits. Three digits behind a single mark
    (`1.450`) are a problem, whichever mark it is.
    """
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        number = _number_of_cell(raw)
        return number if number.problem else Entry(Decimal(_number_words(raw)))
    if not isinstance(raw, str):
        return _number_of_cell(raw)
    text = tidy(raw)
    early = _blank_or_error(text)
    if early:
        return early
    bare = _without_currency(text)
    if bare.startswith("-,"):
        return Entry(None, problem=f"{shown(text)} could be less than nothing, or a price of no whole units")
    taken = take_number(_WHOLE_AMOUNT.sub(r"\1", bare), MONEY)
    if taken.value is None or taken.rest or "/" in bare or abs(taken.value) > LARGEST_NUMBER:
        return Entry(None, problem=taken.problem or f"{shown(text)} is not an amount of money")
    return Entry(taken.value, held_as_text=True)


def _number_of_cell(raw: object) -> Entry:
    """A cell's own number; anything else than a number or nothing is a problem."""
    if raw is None:
        return BLANK
    if isinstance(raw, bool):
        return Entry(None, problem=f"the cell holds {_truth_words(raw)}, not a number")
    if isinstance(raw, datetime.date):
        problem = (
            f"the cell holds {_date_words(raw)}, which a spreadsheet makes of entries such as 1/2 or 1-3"
        )
        return Entry(None, problem=problem)
    if isinstance(raw, int | float):
        if not abs(raw) <= LARGEST_NUMBER:
            return Entry(None, problem="the cell holds a number too large to be a reading")
        return Entry(float(raw) + 0.0)
    return Entry(None, problem=f"the cell holds {_date_words(raw)}, not a number")


def _blank_or_error(text: str) -> Entry | None:
    if is_spreadsheet_error(text):
        return Entry(None, problem=f"{_ERROR_PROBLEM} {text}")
    return BLANK if is_blank(text) else None


def _with_unit(taken: NumberText, unit: str, text: str) -> Entry:
    """The number in the cell's unit, or why the words behind it do not fit the cell."""
    value, rest = float(taken.value or 0), taken.rest
    if abs(value) > LARGEST_NUMBER:
        return Entry(None, problem=f"{shown(text)} is too large to be a reading")
    if not rest or (unit == "" and _RATIO_TO_ONE.fullmatch(rest)):
        return Entry(value + 0.0, held_as_text=True)
    typed = find_unit(rest, unit)
    problem = _unit_problem(typed, rest, unit, text, value)
    if problem or typed is None:
        return Entry(None, problem=problem)
    return Entry(convert(value, typed.symbol, unit) + 0.0, held_as_text=True, typed_unit=typed.symbol)


def _unit_problem(typed: Unit | None, rest: str, unit: str, text: str, value: float) -> str | None:
    if typed is None and re.search(r"\d", rest):
        return f"{shown(text)} holds more than one number, and one is wanted"
    if typed is None:
        return f"{shown(text)} has {shown(rest)} after the number, which is no unit known here"
    if unit == "":
        return f"{shown(text)} has a unit, and the cell takes a plain number"
    if not same_quantity(typed.symbol, unit):
        return f"{shown(text)} is in {_unit_words(typed.symbol)}, and the cell asks for {_unit_words(unit)}"
    if unit == "psi" and typed.symbol in _COLUMNS and not _NAMES_MERCURY.search(rest):
        return f"{shown(text)} does not say whether mercury or water stood so high"
    if typed.symbol.startswith("US ") and not unit.startswith("US ") and not _NAMES_US.match(rest):
        return f"{shown(text)} does not say whether the measure is US or imperial"
    if typed.symbol == "° ATDC" and value < 0:
        return f"{shown(text)} is negative and after top dead centre, which leaves the side open"
    # What is doubtful in the typed unit (`1.150 kPa`) may be plain in the cell's.
    return take_number(text, typed.symbol).problem


def _unit_words(symbol: str) -> str:
    return _IN_WORDS.get(symbol, symbol)


def _date_entry(found: datetime.date | str, *, held_as_text: bool = False) -> Entry:
    if isinstance(found, str):
        return Entry(None, problem=found)
    return Entry(found, held_as_text=held_as_text)


@lru_cache(maxsize=256)
def _by_key(choices: tuple[str, ...]) -> Mapping[str, str]:
    return {_choice_key(choice): choice for choice in choices}


def _choice_key(text: str) -> str:
    return re.sub(r"[\s_-]+", " ", text).strip(" .").casefold()


def _choice_by_other_name(text: str, choices: Sequence[str]) -> str | None:
    cause = cause_named(text)
    if cause in choices:
        return cause
    short = {"y": "yes", "n": "no"}.get(text.casefold().rstrip("."))
    if short in choices:
        return short
    volts = re.fullmatch(r"(\d+)\s*v(?:olts?)?\.?", text, re.IGNORECASE)
    if volts and volts[1] in choices:
        return volts[1]
    unit = find_unit(text)
    return unit.symbol if unit and unit.symbol in choices else None


def _listed(choices: Sequence[str], text: str = "") -> str:
    """The choices in words; of a long list those that look like `text` first, and how many more there are."""
    if len(choices) <= LONGEST_CHOICE_LIST:
        return ", ".join(choices)
    words = [choice_in_words(choice) for choice in choices]
    import difflib

    first = difflib.get_close_matches(_choice_key(text), words, n=3) or words[:LONGEST_CHOICE_LIST]
    return f"{', '.join(first)} and {len(choices) - len(first)} more"


def _without_currency(text: str) -> str:
    """The amount without one currency sign or code before or after it; a minus may come first."""
    sign, body = ("-", text[1:].strip()) if text.startswith("-") else ("", text)
    for pattern in (_CURRENCY_FIRST, _CURRENCY_LAST):
        match = pattern.fullmatch(body)
        if match and _is_currency(match["currency"]):
            return sign + match["amount"].strip()
    return text


def _is_currency(text: str) -> bool:
    sign = len(text) == 1 and unicodedata.category(text) == "Sc" and text not in _PARTS_OF_CURRENCY
    return sign or text.casefold().rstrip(".") in _CURRENCY_WORDS


def _number_words(number: float) -> str:
    """A number as a spreadsheet shows it, whole numbers without a point."""
    if isinstance(number, int):
        return str(number)
    return str(int(number)) if number == int(number) else format(number, ".15g")


def _truth_words(value: bool) -> str:
    return "TRUE" if value else "FALSE"


def _date_words(value: object) -> str:
    if isinstance(value, datetime.datetime):
        return f"the date {value:%Y-%m-%d}"
    if isinstance(value, datetime.date):
        return f"the date {value.isoformat()}"
    if isinstance(value, datetime.time | datetime.timedelta):
        return f"the time {value}"
    return f"a value of an unknown kind ({type(value).__name__})"
