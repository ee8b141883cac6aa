"""What people type where a number belongs, taken apart into a number and the words after it.

Two habits meet in one cell: a comma or a point may part the decimals or the thousands. Where both habits give
a number and the numbers differ, neither is taken: the text is refused, and the doubt is said. One exception:
a point with three digits behind it is a decimal point (`1.450`), but for units that run into thousands.
"""

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal

LONGEST_NUMBER_TEXT = 80
SHOWN_LENGTH = 40

BLANK_WORDS = frozenset({"", "-", "--", "---", "\u2014", "\u2014\u2014", "n/a", "n.a.", "n.a", "na", "none"})
"""Written for "no reading". A lone dash is one: forms are filled that way, and no number is lost by it."""

MONEY = "money"
"""Stands where a unit is asked for, when the number is an amount of money."""

UNITS_OF_THOUSANDS = frozenset(
    {"rpm", "mi", "km", "ppm", "ft", "m", "lb", "kg", "cm³", "in³", "hPa", "Pa", "mV", MONEY}
)
"""Units whose readings run into thousands and are not taken to a thousandth: `1.450` is doubtful there."""

UNITS_OF_LONG_NUMBERS = frozenset({"mi", "km", MONEY})
"""Units whose readings have six digits: `140 150` is one number there, and two elsewhere."""

UNITS_OF_FRACTIONS = frozenset({"", "in", "US pt", "US pt/min", "h"})
"""Units measured in halves, quarters and eighths: `3/4` is a fraction there, and "3 to 4" elsewhere."""

_SPREADSHEET_ERROR_NAMES = frozenset(
    "#null! #div/0! #value! #ref! #name? #num! #n/a #getting_data #spill! #calc! #field! #blocked! #connect! "
    "#busy! #unknown! #external! #python!".split()
)

_HYPHENS = "\u2010\u2011\u2012\u2013\u2212\ufe63"
_SAME_SIGN = str.maketrans(
    {
        **dict.fromkeys(_HYPHENS, "-"),
        **dict.fromkeys("\u2018\u2019\u02bc\u2032\u066c", "'"),
        **dict.fromkeys("\u201c\u201d\u2033", '"'),
        **dict.fromkeys("\u02da\u00ba", "°"),
        "\u2103": "°C",
        "\u2109": "°F",
        "\u066b": ".",
        "\u066a": "%",
        "\u2044": "/",
        "\u2215": "/",
    }
)
_TURNING = "\u00ad\u202d\u202e"
"""A break that may be seen or not, and orders to show what follows backwards: 145 may be seen as 541."""
_LINE_BREAKS = "\n\r\v\f\x1c\x1d\x1e\x85\u2028\u2029"

_HEDGE = re.compile(
    r"(?:[~≈≅]|(?:approximately|approx|circa|ca|about|abt|around|roughly)(?![a-z])\.?)\s*(?=[-+.,\d])",
    re.IGNORECASE,
)
_HEDGE_BEHIND = re.compile(r"(?<=[\d\s])(?:approximately|approx|circa|ca|about)\.?$", re.IGNORECASE)
_LIMIT = re.compile(r"(?:[<>≤≥±]|(?:over|under|above|below|max|min|more than|less than)\b)", re.IGNORECASE)
_SIGN = re.compile(r"([-+]) *(?=[.,\d])")
_FRACTION = re.compile(r"(?:(?P<whole>\d+)(?: ?- ?| {1,2}))?(?P<top>\d+)/(?P<bottom>\d+)(?![\d/]|[.,]\d)")
_NUMBER = re.compile(
    r"(?P<whole>\d{1,3}(?P<groups>(?P<mark>[ ',.])\d{3}(?:(?P=mark)\d{3})*)(?!\d|[eE][-+\d])|\d+|(?=[.,]\d))"
    r"(?:(?P<point>[.,])(?P<decimals>\d+)(?P<power>[eE][-+]?\d{1,2}(?![\w]))?)?"
)
_DATE_LIKE = re.compile(
    r"\d{1,4}(?P<mark>[-/.])\d{1,2}(?P=mark)\d{1,4}|"
    r"\d{1,2}[-/. ](?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class NumberText:
    """A typed number and the words after it; `problem` says why there is none, and then `value` is None."""

    value: Decimal | None = None
    rest: str = ""
    problem: str | None = None


def tidy(raw: str) -> str:
    """The text with the many forms of digits, spaces, hyphens and quotes brought to one; line breaks stay."""
    text = "".join(_plain_character(character) for character in raw).strip()
    if text.startswith("'"):
        text = text[1:].strip()
    return text.replace("''", '"')


def is_blank(text: str) -> bool:
    """Whether tidied text stands for "nothing entered"."""
    return text.casefold() in BLANK_WORDS


def is_spreadsheet_error(text: str) -> bool:
    """Whether the text is what a spreadsheet shows for a failed formula: `#VALUE!`, `Err:502`."""
    folded = text.strip().casefold()
    return folded in _SPREADSHEET_ERROR_NAMES or re.fullmatch(r"err:\d{3}", folded) is not None


def shown(text: str) -> str:
    """The text in quotes for a message, on one line and shortened where it is long."""
    flat = " ".join(text.split())
    return f"'{flat}'" if len(flat) <= SHOWN_LENGTH else f"'{flat[:SHOWN_LENGTH]}…'"


def take_number(text: str, unit: str) -> NumberText:
    """Split tidied text into its leading number and the rest; the cell's `unit` tells what is usual in it."""
    if len(text) > LONGEST_NUMBER_TEXT:
        return NumberText(problem=f"{shown(text)} is too long for a number")
    if _LIMIT.match(text):
        return NumberText(problem=f"{shown(text)} is a limit or a range, not a reading")
    if _DATE_LIKE.match(text):
        return NumberText(problem=f"{shown(text)} looks like a date, not a number")
    hedge = _HEDGE.match(text)
    body = _HEDGE_BEHIND.sub("", text[hedge.end() :] if hedge else text)
    sign = _SIGN.match(body)
    unsigned = body[sign.end() :] if sign else body
    taken = _take_fraction(unsigned, unit) or _take_decimal(unsigned, unit)
    if taken is None:
        return NumberText(problem=f"{shown(text)} is not a number")
    if taken.problem:
        return NumberText(problem=f"{shown(text)} {taken.problem}")
    assert taken.value is not None
    return NumberText(-taken.value if sign and sign.group(1) == "-" else taken.value, taken.rest.strip())


def _plain_character(character: str) -> str:
    category = unicodedata.category(character)
    if category == "Nd":
        return str(unicodedata.decimal(character))
    if "\uff01" <= character <= "\uff5e":
        return chr(ord(character) - 0xFEE0)
    if category.startswith("No") and unicodedata.name(character, "").startswith("VULGAR FRACTION"):
        # The space keeps 1½ from becoming 11/2.
        return " " + unicodedata.normalize("NFKC", character).replace("\u2044", "/") + " "
    if character in _LINE_BREAKS:
        return "\n"
    if character.isspace():
        return " "
    if category == "Cf" and character not in _TURNING:
        return ""
    return character.translate(_SAME_SIGN)


def _take_fraction(text: str, unit: str) -> NumberText | None:
    match = _FRACTION.match(text)
    if match is None:
        return None
    top, bottom = int(match["top"]), int(match["bottom"])
    if not _is_shop_fraction(top, bottom):
        return NumberText(problem="holds two numbers, and one is wanted")
    if match["whole"] is None and not _is_usual_alone(top, bottom, unit):
        return NumberText(problem=f"could be a fraction, or {top} to {bottom}")
    value = Decimal(match["whole"] or 0) + Decimal(top) / Decimal(bottom)
    return NumberText(value, text[match.end() :])


def _is_shop_fraction(top: int, bottom: int) -> bool:
    """Whether it is a third, or a ruler's half to sixty-fourth in lowest terms: `6/8` is rather "6 to 8"."""
    return 0 < top < bottom and (bottom == 3 or (bottom in (2, 4, 8, 16, 32, 64) and top % 2 == 1))


def _is_usual_alone(top: int, bottom: int, unit: str) -> bool:
    return unit in UNITS_OF_FRACTIONS or (top == 1 and bottom != 3)


def _take_decimal(text: str, unit: str) -> NumberText | None:
    match = _NUMBER.match(text)
    if match is None:
        return None
    rest = text[match.end() :]
    if rest.startswith(".") and not rest[1:2].isdigit():
        rest = rest[1:]
    problem = _doubt_of_marks(match, unit)
    if problem is None and re.match(r"[.,'][.,'\d]|,", rest):
        problem = "is not a number written in a way that is known here"
    if problem:
        return NumberText(problem=problem)
    whole, decimals, mark = match["whole"], match["decimals"], match["mark"]
    if mark in (",", ".") and decimals is None and _one_group(match):
        whole, decimals = whole.split(mark)
    digits = re.sub(r"\D", "", whole)
    point = f".{decimals}" if decimals else ""
    return NumberText(Decimal(f"{digits or '0'}{point}{match['power'] or ''}"), rest)


def _one_group(match: re.Match[str]) -> bool:
    """Whether a single mark with three digits behind it was read as the only group of thousands."""
    return match["groups"] is not None and len(match["groups"]) == 4


def _doubt_of_marks(match: re.Match[str], unit: str) -> str | None:
    """Why the marks between the digits leave the number open, or None where one reading is left."""
    mark = match["mark"]
    if mark is None:
        return None
    first, *others = match["whole"].split(mark)
    if mark == match["point"]:
        return "has the same mark for thousands and for decimals"
    single = _one_group(match) and match["point"] is None
    if first.strip("0") == "":
        # `0,015` and `0.015`: nothing is counted in thousands of nothing.
        return (
            None
            if single and first == "0" and mark in ",."
            else "begins with a zero and is grouped like thousands"
        )
    if first.startswith("0"):
        return "begins with a zero and is grouped like thousands"
    if single and (mark == "," or (mark == "." and _runs_into_thousands(unit, first))):
        return f"could be {first}{others[0]} or {first}.{others[0]}"
    if mark == " " and not _is_grouped_by_spaces(unit, first):
        return "could be one number or two"
    return None


def _is_grouped_by_spaces(unit: str, thousands: str) -> bool:
    """Whether a space before three digits parts thousands there, and not two readings: `85 180` may be °F twice."""
    if unit in UNITS_OF_LONG_NUMBERS:
        return True
    return len(thousands) < 3 and _runs_into_thousands(unit, thousands)


def _runs_into_thousands(unit: str, thousands: str) -> bool:
    """Whether that many thousands are an everyday reading: in kPa only compression is, 1000 to 2999."""
    return unit in UNITS_OF_THOUSANDS or (unit == "kPa" and thousands in ("1", "2"))
