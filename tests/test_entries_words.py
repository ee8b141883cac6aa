"""What people type into cells that ask for a choice, text, a date or money, and what is read from it.

Day counts are checked against the 1900 and 1904 date systems of ECMA-376 part 1, 18.17.4.1 (day 1 is 1
January 1900; the false 29 February 1900 makes 30 December 1899 the day 0 of later dates).
The written forms are common practice, no source.
"""

import datetime
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.read.entries import Entry, read_choice, read_date, read_money, read_text

WINDOWS_EPOCH = datetime.datetime(1899, 12, 30)
MAC_EPOCH = datetime.datetime(1904, 1, 1)

NEEDLE = (
    "steady",
    "evenly spaced drops",
    "occasional drops",
    "fast flutter",
    "slow wander",
    "wide regular swing",
)


@pytest.mark.parametrize(
    ("raw", "choices", "value"),
    [
        ("steady", NEEDLE, "steady"),
        (" Steady. ", NEEDLE, "steady"),
        ("EVENLY  SPACED\u00a0drops", NEEDLE, "evenly spaced drops"),
        ("evenly-spaced drops", NEEDLE, "evenly spaced drops"),
        ("worn rings", ("worn_rings", "leaking_valve"), "worn_rings"),
        ("none", ("strong", "weak", "none"), "none"),
        ("Y", ("yes", "no"), "yes"),
        ("n", ("yes", "sluggish", "no"), "no"),
        (True, ("yes", "no"), "yes"),
        (False, ("yes", "no"), "no"),
        (12, ("6", "12", "24"), "12"),
        (12.0, ("6", "12", "24"), "12"),
        ("12 V", ("6", "12", "24"), "12"),
        ("miles", ("mi", "km", "h"), "mi"),
        ("n/a", NEEDLE, None),
    ],
)
def test_a_choice_is_read_in_its_own_spelling(
    raw: object, choices: tuple[str, ...], value: str | None
) -> None:
    """Case, spaces, hyphens and closing dots do not matter, and the value is spelled as on the form."""
    assert read_choice(raw, choices) == Entry(value)


@pytest.mark.parametrize(
    "raw", ["stead", "wobbles", 3, True, "steady drops", datetime.date(2026, 1, 2), "#REF!"]
)
def test_an_unknown_choice_is_a_problem(raw: object) -> None:
    """Nothing near is taken for a choice; the message lists what is allowed."""
    entry = read_choice(raw, NEEDLE)
    assert entry.value is None
    assert "fast flutter" in (entry.problem or "") or "spreadsheet error" in (entry.problem or "")


def test_a_long_list_of_choices_is_cut_in_the_message() -> None:
    """Of a long list the message names the nearest and how many more there are."""
    choices = [f"cause_{number}" for number in range(39)] + ["worn_rings"]
    problem = read_choice("worn ring", choices).problem or ""
    assert "worn rings and 39 more" in problem
    assert "and 28 more" in (read_choice("zzz", choices).problem or "")


@pytest.mark.parametrize(
    ("raw", "value"),
    [
        ("  Sedan, blue ", "Sedan, blue"),
        ("1-3-4-2", "1-3-4-2"),
        ("=1+1", "=1+1"),
        ("-", "-"),
        (4711, "4711"),
        (4711.0, "4711"),
        (3.4, "3.4"),
        ("", None),
        (None, None),
    ],
)
def test_text_is_kept_as_typed(raw: object, value: str | None) -> None:
    """Text loses only the spaces around it, and a number is given as the sheet shows it."""
    assert read_text(raw) == Entry(value)


@pytest.mark.parametrize(
    "raw", [datetime.datetime(2026, 4, 3), datetime.time(3, 4), True, "#REF!", float("nan")]
)
def test_what_is_not_text_any_more_is_a_problem(raw: object) -> None:
    """A firing order that a spreadsheet turned into a date can't be told back."""
    entry = read_text(raw)
    assert entry.value is None
    assert entry.problem


MARCH_31 = datetime.date(2026, 3, 31)
DAY_COUNT = (MARCH_31 - datetime.date(1899, 12, 30)).days


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-31",
        "2026-03-31T10:15:00",
        "2026-03-31 10:15",
        "2026/3/31",
        "2026.03.31",
        "20260331",
        "31/03/2026",
        "03/31/2026",
        "31.3.2026",
        "31-03-2026",
        "31 March 2026",
        "31st of March 2026",
        "31-Mar-2026",
        "31-Mar-26",
        "March 31, 2026",
        "Mar. 31 2026",
        "2026-Mar-31",
        "Tue, 31 March 2026",
        "Tuesday 31/3/2026",
        "2026-03-31 Tuesday",
        " 2026\u201103\u201131 ",
    ],
)
def test_a_written_date_is_read(text: str) -> None:
    """Usual written forms with a single reading give the day, noted as held as text."""
    assert read_date(text, WINDOWS_EPOCH) == Entry(MARCH_31, held_as_text=True)


@pytest.mark.parametrize(
    ("raw", "epoch"),
    [
        (MARCH_31, WINDOWS_EPOCH),
        (datetime.datetime(2026, 3, 31, 23, 59), WINDOWS_EPOCH),
        (DAY_COUNT, WINDOWS_EPOCH),
        (DAY_COUNT + 0.75, WINDOWS_EPOCH),
        (float(DAY_COUNT - 1462), MAC_EPOCH),
        (20260331, WINDOWS_EPOCH),
    ],
)
def test_a_date_cell_is_read(raw: object, epoch: datetime.datetime) -> None:
    """Date cells and day counts of both calendars give the day; the two calendars lie 1462 days apart."""
    assert read_date(raw, epoch) == Entry(MARCH_31)


@pytest.mark.parametrize(("text", "year"), [("31-Mar-69", 2069), ("31-Mar-70", 1970), ("31/12/99", 1999)])
def test_a_year_of_two_digits_lies_from_1970_to_2069(text: str, year: int) -> None:
    """Two digits count from 1970, where a shop's records may begin, to 2069."""
    value = read_date(text, WINDOWS_EPOCH).value
    assert isinstance(value, datetime.date) and value.year == year


@pytest.mark.parametrize(
    ("raw", "reason"),
    [
        ("03/04/2026", "could be 4 March 2026 or 3 April 2026"),
        ("3.4.2026", "could be"),
        ("13/04/26", "could be 26 April 2013 or 13 April 2026"),
        ("31.02.2026", "is not a date"),
        ("4 March", "is not a date"),
        ("12/2026", "is not a date"),
        ("Tuesday", "is not a date"),
        ("Monday, 31 March 2026", "another weekday"),
        ("31 Marx 2026", "is not a date"),
        ("31/03/1826", "not a date of a job"),
        (40326, "could be the day count"),
        (12, "is not a date"),
        (2026, "is not a date"),
        (-1, "is not a date"),
        (datetime.datetime(1900, 1, 12), "not a date of a job"),
        (datetime.time(0, 0), "not a date"),
        (datetime.timedelta(1), "not a date"),
        (True, "TRUE"),
        (float("nan"), "too large"),
        ("#VALUE!", "spreadsheet error"),
    ],
)
def test_a_date_in_doubt_is_a_problem(raw: object, reason: str) -> None:
    """A day with two readings, no year or an impossible one is refused with the doubt said."""
    entry = read_date(raw, WINDOWS_EPOCH)
    assert entry.value is None
    assert reason in (entry.problem or "")


@settings(deadline=None)
@given(
    st.dates(datetime.date(1950, 1, 1), datetime.date(2069, 12, 31)),
    st.sampled_from(
        [
            "%Y-%m-%d",
            "%d/%m/%Y",
            "%m/%d/%Y",
            "%d.%m.%Y",
            "%d %B %Y",
            "%b %d, %Y",
            "%d/%m/%y",
            "%m/%d/%y",
            "%y-%m-%d",
            "%d-%b-%Y",
            "%Y%m%d",
        ]
    ),
)
def test_no_form_of_a_date_gives_a_wrong_day(day: datetime.date, form: str) -> None:
    """Every usual form of a day is that day or refused; years of two digits count from 1970 to 2069."""
    if "%y" in form and day.year < 1970:
        day = day.replace(year=day.year + 100, day=min(day.day, 28))
    assert read_date(day.strftime(form), WINDOWS_EPOCH).value in (None, day)


@pytest.mark.parametrize(
    ("raw", "value"),
    [
        ("$ 12.50", "12.50"),
        ("12,50 €", "12.50"),
        ("$1,450.50", "1450.50"),
        ("1.450,50 EUR", "1450.50"),
        ("Fr. 1'450.50", "1450.50"),
        ("12.50 kr.", "12.50"),
        ("100 000 Ft", "100000"),
        ("12.-", "12"),
        ("12,-- €", "12"),
        ("-$5", "-5"),
        ("$-5", "-5"),
        ("12.5", "12.5"),
        (12.1, "12.1"),
        (0.1 + 0.2, "0.3"),
        (12, "12"),
    ],
)
def test_money_is_exact(raw: object, value: str) -> None:
    """Amounts come as the decimal that the sheet shows, without the currency."""
    entry = read_money(raw)
    assert entry.value == Decimal(value)
    assert isinstance(entry.value, Decimal)
    assert entry.held_as_text == isinstance(raw, str)


@pytest.mark.parametrize(
    "raw",
    [
        "1,450",
        "1.450 €",
        "(12.50)",
        "$12.50 €",
        "1/2",
        "½",
        "$",
        "12 $/h",
        "12 psi",
        "free",
        "10-12",
        True,
        datetime.date(2026, 1, 2),
        "#N/A",
        float("inf"),
        "9" * 40,
    ],
)
def test_a_doubtful_amount_is_a_problem(raw: object) -> None:
    """An amount with two readings, two currencies or no number is refused."""
    entry = read_money(raw)
    assert entry.value is None
    assert entry.problem
