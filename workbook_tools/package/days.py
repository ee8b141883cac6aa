"""Days and times as a workbook keeps them: the number of a day, shown by a format, or a text of ISO 8601.

moment_of(number, epoch)   day and time of a serial number (ECMA-376 part 1, 18.17.4)
span_of(number)            hours and minutes, where the format shows them beyond a day ([h]:mm)
moment_of_text(text)       what a cell of type `d` holds
shows_day(code)            whether a number format shows a day or a time, shows_span(code) whether a length of time
"""

from __future__ import annotations

import datetime as dt
import re

#: The day before the first, so that numbers from 1 March 1900 on are right: the programs count a 29 February 1900.
WINDOWS_EPOCH = dt.datetime(1899, 12, 30)
MAC_EPOCH = dt.datetime(1904, 1, 1)
#: Formats that every program knows by their number (ECMA-376 part 1, 18.8.30), and the one of them for lengths of time.
BUILT_IN_DAYS, BUILT_IN_SPANS = frozenset({*range(14, 23), 45, 46, 47}), frozenset({46})
_MS_OF_DAY = 86_400_000
#: Texts, colours, countries and conditions of a format say nothing of days; [h], [m] and [s] do.
_NO_PATTERN = re.compile(r'".*?"|\[(?!hh?\]|mm?\]|ss?\])[^\]]*\]')
_DAY = re.compile(r"(?<![_\\])[dmhys]", re.IGNORECASE)
_SPAN = re.compile(r"\[(?:hh?|mm?|ss?)\]", re.IGNORECASE)
_ISO = re.compile(
    r"(?P<date>(?P<year>\d{4})-(?P<month>\d{2})-(?P<day>\d{2}))?T?"
    r"(?P<time>(?P<hour>\d{2}):(?P<minute>\d{2})(:(?P<second>\d{2})(?P<part>\.\d{1,3})?)?)?Z?"
)
_ISO_SPAN = re.compile(r"PT((?P<hours>\d+)H)?((?P<minutes>\d+)M)?((?P<seconds>\d+(\.\d{1,3})?)S)?")

Moment = dt.datetime | dt.date | dt.time | dt.timedelta


def shows_day(code: str) -> bool:
    """Whether numbers above zero are shown as a day or a time by this format."""
    return _DAY.search(_NO_PATTERN.sub("", code.split(";")[0])) is not None


def shows_span(code: str) -> bool:
    """Whether numbers above zero are shown as a length of time by this format."""
    return _SPAN.search(code.split(";")[0]) is not None


def moment_of(number: float, epoch: dt.datetime) -> dt.datetime | dt.time:
    """Day and time of a serial number, to the millisecond; below one it is a time of day.

    Raises ValueError or OverflowError where no calendar has such a day.
    """
    day, fraction = divmod(number, 1)
    rest = dt.timedelta(milliseconds=round(fraction * _MS_OF_DAY))
    if 0 <= number < 1 and not rest.days:
        return (dt.datetime.min + rest).time()
    if 0 < number < 60 and epoch == WINDOWS_EPOCH:
        day += 1
    return epoch + dt.timedelta(days=day) + rest


def span_of(number: float) -> dt.timedelta:
    """Length of time of a number of days, to the millisecond."""
    span = dt.timedelta(days=number)
    if span.microseconds:
        span = dt.timedelta(seconds=span.total_seconds() // 1, microseconds=round(span.microseconds, -3))
    return span


def moment_of_text(text: str) -> Moment:
    """Day, time or length of time of an ISO 8601 text. Raises ValueError or OverflowError where it is none."""
    match = _ISO.match(text)
    if match and any(match.groups()):
        told = {name: int(match[name] or 0) for name in ("year", "month", "day", "hour", "minute", "second")}
        part = int(float(match["part"] or 0) * 1_000_000)
        if not match["date"]:
            return dt.time(told["hour"], told["minute"], told["second"], part)
        if not match["time"]:
            return dt.date(told["year"], told["month"], told["day"])
        return dt.datetime(*told.values(), part)
    span = _ISO_SPAN.match(text)
    if span and any(span.groups()):
        return dt.timedelta(**{name: float(value) for name, value in span.groupdict().items() if value})
    raise ValueError(text)
