"""Dates as people write them, and as spreadsheets keep them.

A date is only taken when every usual way of reading it gives the same day; `03/04/2026` is refused, with both
days said.
"""

import datetime
import re

from workbook_tools.read.entry_text import shown

FIRST_YEAR, LAST_YEAR = 1950, 2099
"""Years that a job's dates can lie in. A spreadsheet shows a plain 12 in a date cell as a day of 1900."""

_CENTURY_PIVOT = 70

_MONTHS = {
    name: number
    for number, names in enumerate(
        "jan january|feb february|mar march|apr april|may|jun june|jul july|aug august|sep sept september|"
        "oct october|nov november|dec december".split("|"),
        start=1,
    )
    for name in names.split()
}
_WEEKDAY = re.compile(
    r"(?:mon(?:day)?|tue(?:s(?:day)?)?|wed(?:nesday)?|thu(?:rs?(?:day)?)?|fri(?:day)?|sat(?:urday)?|sun(?:day)?)\b[.,]?\s*",
    re.IGNORECASE,
)
_TIME = re.compile(
    r"(?:T|,?\s+)\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:\s*[ap]\.?m\.?|Z|[+-]\d{2}:?\d{2})?$", re.IGNORECASE
)
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_NUMERIC = re.compile(r"(\d{1,4})\s*([-/.])\s*(\d{1,2})\s*\2\s*(\d{1,4})\.?")
_NAMED = (
    re.compile(
        r"(?P<day>\d{1,2})(?:st|nd|rd|th)?[-/., ]+(?:of )?(?P<month>[a-z]+)[-/., ]+(?P<year>\d{4}|\d{2})",
        re.I,
    ),
    re.compile(r"(?P<month>[a-z]+)[-/., ]+(?P<day>\d{1,2})(?:st|nd|rd|th)?[-/., ]+(?P<year>\d{4})", re.I),
    re.compile(r"(?P<year>\d{4})[-/., ]+(?P<month>[a-z]+)[-/., ]+(?P<day>\d{1,2})", re.I),
)


def date_of_text(text: str) -> datetime.date | str:
    """The day that tidied text names, or the reason why it can't be told."""
    weekday = _WEEKDAY.search(text)
    body = _TIME.sub("", _WEEKDAY.sub("", text, count=1).strip()).strip()
    days = _named_days(body) or _numeric_days(body)
    if not days:
        return f"{shown(text)} is not a date; write it as 2026-03-31"
    if len(days) > 1:
        spelled = " or ".join(_spelled(day) for day in sorted(days))
        return f"{shown(text)} could be {spelled}; write it as 2026-03-31"
    day = days.pop()
    if weekday and f"{day:%A}"[:3].casefold() != weekday[0][:3].casefold():
        return f"{shown(text)} names another weekday than {_spelled(day)} was; write it as 2026-03-31"
    return _of_our_time(day)


def date_of_number(number: float, epoch: datetime.datetime) -> datetime.date | str:
    """The day of a bare number: a spreadsheet's day count from `epoch`, or digits such as 20260331."""
    if number == int(number) and (days := _days_of_compact(str(int(number)))):
        return _of_our_time(days.pop())
    first, last = datetime.datetime(FIRST_YEAR, 1, 1), datetime.datetime(LAST_YEAR, 12, 31)
    if not (first - epoch).days <= number <= (last - epoch).days:
        return f"the number {number:g} is not a date; write it as 2026-03-31"
    day = (epoch + datetime.timedelta(days=int(number))).date()
    digits = f"{int(number):06d}"
    written = _days_of_parts(digits[:2], digits[2:4], digits[4:])
    if written:
        return f"the number {number:g} could be the day count of {_spelled(day)} or a date without its marks"
    return day


def date_of_datetime(value: datetime.date) -> datetime.date | str:
    """The day of a date cell; the hours are dropped."""
    return _of_our_time(value.date() if isinstance(value, datetime.datetime) else value)


def _of_our_time(day: datetime.date) -> datetime.date | str:
    if FIRST_YEAR <= day.year <= LAST_YEAR:
        return day
    return f"{_spelled(day)} is not a date of a job; a plain number in a date cell is shown as such a day"


def _named_days(text: str) -> set[datetime.date]:
    for pattern in _NAMED:
        match = pattern.fullmatch(text)
        month = _MONTHS.get(match["month"].casefold()) if match else None
        if match and month:
            return _valid([(_full_year(match["year"]), month, int(match["day"]))])
    return set()


def _numeric_days(text: str) -> set[datetime.date]:
    match = _NUMERIC.fullmatch(text)
    return _days_of_parts(match[1], match[3], match[4]) if match else _days_of_compact(text)


def _days_of_parts(first: str, second: str, third: str) -> set[datetime.date]:
    """Every day that three numbers can mean: year first, day first or month first."""
    if len(first) > 2:
        return (
            _valid([(int(first), int(second), int(third))]) if len(first) == 4 and len(third) <= 2 else set()
        )
    if len(third) not in (2, 4):
        return set()
    year = _full_year(third)
    readings = [(year, int(second), int(first)), (year, int(first), int(second))]
    if len(third) == 2 and len(first) == 2:
        readings.append((_full_year(first), int(second), int(third)))
    return _valid(readings)


def _days_of_compact(text: str) -> set[datetime.date]:
    match = _COMPACT.fullmatch(text)
    return _valid([(int(match[1]), int(match[2]), int(match[3]))]) if match else set()


def _full_year(digits: str) -> int:
    year = int(digits)
    if len(digits) > 2:
        return year
    return year + (2000 if year < _CENTURY_PIVOT else 1900)


def _valid(readings: list[tuple[int, int, int]]) -> set[datetime.date]:
    days = set()
    for year, month, day in readings:
        try:
            days.add(datetime.date(year, month, day))
        except ValueError:
            continue
    return days


def _spelled(day: datetime.date) -> str:
    return f"{day.day} {day:%B} {day.year}"
