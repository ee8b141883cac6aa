"""What people type into a cell that asks for a number, and what is read from it.

Conversions are checked against NIST SP 811 (2008), appendix B.8.
The written forms are common practice, no source.
"""

import datetime
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook_tools.read.entries import (
    Entry,
    read_choice,
    read_date,
    read_money,
    read_number,
    read_text,
    read_whole,
)

WINDOWS_EPOCH = datetime.datetime(1899, 12, 30)

# text, unit of the cell, value in that unit, unit that was typed
NUMBERS_AS_TYPED = [
    ("145", "psi", 145.0, None),
    ("145 psi", "psi", 145.0, "psi"),
    ("145PSI.", "psi", 145.0, "psi"),
    ("145#", "psi", 145.0, "psi"),
    ("145 \u00a0 ", "psi", 145.0, None),
    ("'145", "psi", 145.0, None),
    ("\uff11\uff14\uff15", "psi", 145.0, None),
    ("\u200e145", "psi", 145.0, None),
    ("145.", "psi", 145.0, None),
    ("~140", "psi", 140.0, None),
    ("ca. 140", "psi", 140.0, None),
    ("ca.140 psi", "psi", 140.0, "psi"),
    ("approx 140", "psi", 140.0, None),
    ("140 approx.", "psi", 140.0, None),
    ("1.45E+02", "psi", 145.0, None),
    ("5.123E+02", "psi", 512.3, None),
    ("1000 kPa", "kPa", 1000.0, "kPa"),
    ("0", "psi", 0.0, None),
    # thousands and decimals, where only one reading is left
    ("1 450", "rpm", 1450.0, None),
    ("1\u202f450 rpm", "rpm", 1450.0, "rpm"),
    ("1'450", "rpm", 1450.0, None),
    ("1\u2019450", "rpm", 1450.0, None),
    ("1,450.5", "rpm", 1450.5, None),
    ("1.450,5", "rpm", 1450.5, None),
    ("1 450,5", "rpm", 1450.5, None),
    ("1,450,000", "mi", 1450000.0, None),
    ("140 150", "km", 140150.0, None),
    ("9,8", "psi", 9.8, None),
    ("0.015", "in", 0.015, None),
    ("0,015", "in", 0.015, None),
    (",015", "in", 0.015, None),
    ('.018"', "in", 0.018, "in"),
    ("1.726", "", 1.726, None),
    ("1.450", "psi", 1.45, None),
    ("20.685", "kPa", 20.685, None),
    # signs and sides
    ("+3", "° BTDC", 3.0, None),
    ("-3", "° BTDC", -3.0, None),
    ("\u22123", "° BTDC", -3.0, None),
    ("\u20133", "° BTDC", -3.0, None),
    ("3°", "° BTDC", 3.0, "°"),
    ("12 BTDC", "° BTDC", 12.0, "° BTDC"),
    ("12 deg. BTDC", "° BTDC", 12.0, "° BTDC"),
    ("4 ATDC", "° BTDC", -4.0, "° ATDC"),
    ("4° after", "° BTDC", -4.0, "° ATDC"),
    ("TDC", "° BTDC", 0.0, "° BTDC"),
    ("0 TDC", "° BTDC", 0.0, "° BTDC"),
    # fractions
    ("1/2", "psi", 0.5, None),
    ("1 1/2", "US pt", 1.5, None),
    ("1-1/2", "US pt", 1.5, None),
    ("1 1/2 pt", "US pt", 1.5, "US pt"),
    ("½", "psi", 0.5, None),
    ("1½", "psi", 1.5, None),
    ("17 ¾", "inHg", 17.75, None),
    ("-1½", "° BTDC", -1.5, None),
    ("1\u20442", "psi", 0.5, None),
    ("3/4", "h", 0.75, None),
    ("17 3/4", "inHg", 17.75, None),
    ("750 1/min", "rpm", 750.0, "rpm"),
    # the short names of a trade
    ("14.7 in. Hg", "inHg", 14.7, "inHg"),
    ('18"', "inHg", 18.0, "inHg"),
    ("18''", "inHg", 18.0, "inHg"),
    ('18 " Hg', "inHg", 18.0, "inHg"),
    ("180 F", "°F", 180.0, "°F"),
    ("180°", "°F", 180.0, "°F"),
    ("25%", "%", 25.0, "%"),
    ("1.5%", "% vol", 1.5, "%"),
    ("3200#", "lb", 3200.0, "lb"),
    ("5000'", "ft", 5000.0, "ft"),
    ("8.5:1", "", 8.5, None),
    ("8 to 1", "", 8.0, None),
]

# text, unit of the cell, published value, allowed difference
CONVERTED = [
    ("9,8 bar", "psi", 9.8e5 / 6894.757, 1e-3),
    ("10 kg/cm2", "psi", 10 * 98066.5 / 6894.757, 1e-3),
    ("430 mmHg", "inHg", 430 * 133.3224 / 3386.389, 1e-3),
    ("0.45 mm", "in", 0.45 / 25.4, 1e-9),
    ("82 deg C", "°F", 179.6, 1e-9),
    ("82\u2103", "°F", 179.6, 1e-9),
    ("212\u2109", "°C", 100.0, 1e-9),
]

BLANKS = [
    None,
    "",
    "   ",
    "\u00a0",
    "-",
    "\u2013",
    "\u2014",
    "\u2212",
    "--",
    "n/a",
    "N/A",
    "n.a.",
    "na",
    "None",
    "'",
]

# stored value, unit of the cell, a part of the sentence that says why
UNREADABLE_NUMBERS = [
    ("abc", "psi", "'abc' is not a number"),
    ("15O", "psi", "'O' after the number"),
    ("145?", "psi", "'?' after the number"),
    ("140+", "psi", "'+' after the number"),
    ("10\u00b2", "psi", "after the number"),
    ("(145)", "psi", "is not a number"),
    ("++3", "° BTDC", "is not a number"),
    ("1,450", "psi", "could be 1450 or 1.450"),
    ("-1,450", "psi", "could be 1450 or 1.450"),
    ("1,450 psi", "psi", "could be 1450 or 1.450"),
    ("1.450", "rpm", "could be 1450 or 1.450"),
    ("84.500", "km", "could be 84500 or 84.500"),
    ("1.150", "kPa", "could be 1150 or 1.150"),
    ("1.150 kPa", "psi", "could be 1150 or 1.150"),
    ("01,450", "psi", "begins with a zero"),
    ("0 450", "psi", "begins with a zero"),
    ("1,450,5", "psi", "same mark"),
    ("1,4.5", "psi", "is not a number written in a way"),
    ("145,", "psi", "is not a number written in a way"),
    ("3, 4", "psi", "is not a number written in a way"),
    ("140 150", "psi", "one number or two"),
    ("140-145", "psi", "more than one number"),
    ("140 \u2013 145 psi", "psi", "more than one number"),
    ("140 to 145", "psi", "more than one number"),
    ("140;145", "psi", "more than one number"),
    ("140\n150", "psi", "more than one number"),
    ("12 5", "psi", "more than one number"),
    ("140/145", "psi", "two numbers"),
    ("60/80", "%", "two numbers"),
    ("6/8", "inHg", "two numbers"),
    ("11/2", "psi", "two numbers"),
    ("1/0", "psi", "two numbers"),
    ("3/4", "psi", "could be a fraction, or 3 to 4"),
    ("2/3", "inHg", "could be a fraction, or 2 to 3"),
    (">100", "psi", "a limit"),
    ("<30", "psi", "a limit"),
    ("over 100", "psi", "a limit"),
    ("±3", "°", "a limit"),
    ("-4 ATDC", "° BTDC", "after top dead centre"),
    ("12:30", "s", "more than one number"),
    ("145 rpm", "psi", "is in rpm, and the cell asks for psi"),
    ("180 F", "psi", "is in °F, and the cell asks for psi"),
    ("4 qt", "", "takes a plain number"),
    ("2-Feb", "psi", "looks like a date"),
    ("1/2/2026", "psi", "looks like a date"),
    ("1.2.26", "psi", "looks like a date"),
    (datetime.datetime(2026, 1, 2), "psi", "1/2"),
    (datetime.date(2026, 1, 2), "psi", "1/2"),
    (datetime.time(0, 30), "s", "the time 00:30:00"),
    (datetime.timedelta(hours=30), "s", "the time"),
    (True, "psi", "TRUE"),
    (False, "psi", "FALSE"),
    ("#VALUE!", "psi", "spreadsheet error #VALUE!"),
    ("#N/A", "psi", "spreadsheet error"),
    ("Err:502", "psi", "spreadsheet error"),
    (float("nan"), "psi", "too large"),
    (float("inf"), "psi", "too large"),
    (10**400, "psi", "too large"),
    ("9" * 30, "psi", "too large"),
    ("9" * 5000, "psi", "too long"),
    (b"145", "psi", "unknown kind"),
]


@pytest.mark.parametrize(("text", "unit", "value", "typed"), NUMBERS_AS_TYPED)
def test_a_number_is_read_however_it_was_typed(text: str, unit: str, value: float, typed: str | None) -> None:
    """Usual ways of writing give the number, note the unit, and count as held as text."""
    assert read_number(text, unit) == Entry(value, held_as_text=True, typed_unit=typed)


@pytest.mark.parametrize(("text", "unit", "value", "tolerance"), CONVERTED)
def test_a_number_in_another_unit_comes_in_the_units_of_the_cell(
    text: str, unit: str, value: float, tolerance: float
) -> None:
    """A typed unit of the same quantity is converted by the published factor."""
    entry = read_number(text, unit)
    assert entry.value == pytest.approx(value, abs=tolerance)
    assert entry.typed_unit not in (None, unit)


@pytest.mark.parametrize("raw", BLANKS)
def test_words_for_no_reading_are_blank(raw: str | None) -> None:
    """Empty cells, lone dashes and the usual words for nothing are no value and no problem."""
    assert read_number(raw, "psi") == Entry(None)
    assert read_whole(raw) == Entry(None)
    assert read_money(raw) == Entry(None)
    assert read_date(raw, WINDOWS_EPOCH) == Entry(None)
    assert read_choice(raw, ("yes", "no")) == Entry(None)


@pytest.mark.parametrize(("raw", "unit", "reason"), UNREADABLE_NUMBERS)
def test_what_has_no_single_reading_is_a_problem(raw: object, unit: str, reason: str) -> None:
    """No value is taken from a doubtful cell, and the sentence says what the doubt is."""
    entry = read_number(raw, unit)
    assert entry.value is None
    assert not entry.held_as_text
    assert reason in (entry.problem or "")


def test_a_long_text_is_shortened_in_the_message() -> None:
    """A message stays one readable line whatever was pasted into the cell."""
    problem = read_number("x" * 5000, "psi").problem or ""
    assert len(problem) < 100
    assert "\n" not in (read_number("abc\ndef", "psi").problem or "")


def test_a_number_cell_is_read_as_it_stands() -> None:
    """A cell's own number is a float that the sheet's formulas can use, and zero has no sign."""
    assert read_number(145, "psi") == Entry(145.0)
    assert isinstance(read_number(145, "psi").value, float)
    assert str(read_number(-0.0, "psi").value) == "0.0"


HABITS = {
    "1450.5": lambda text: text,
    "1450,5": lambda text: text.replace(".", ","),
    "1,450.5": lambda text: _grouped(text, ",", "."),
    "1.450,5": lambda text: _grouped(text, ".", ","),
    "1 450,5": lambda text: _grouped(text, " ", ","),
    "1 450.5 with narrow spaces": lambda text: _grouped(text, "\u202f", "."),
    "1'450.5": lambda text: _grouped(text, "'", "."),
    "1450.5 in full-width digits": lambda text: text.translate({ord("0") + n: 0xFF10 + n for n in range(10)}),
    "1450.5 in Arabic-Indic digits": lambda text: text.translate(
        {ord("0") + n: 0x660 + n for n in range(10)}
    ),
}


def _grouped(text: str, thousands: str, point: str) -> str:
    whole, _, decimals = text.partition(".")
    # Python's own grouping, independent of the code under test.
    return f"{int(whole):,}".replace(",", thousands) + (point + decimals if decimals else "")


@settings(deadline=None)
@given(
    value=st.decimals(min_value=0, max_value=9_999_999, places=3),
    places=st.integers(0, 3),
    habit=st.sampled_from(sorted(HABITS)),
    sign=st.sampled_from(["", "+", "-", "\u2212", "\u2013"]),
    unit=st.sampled_from(["rpm", "mi", "ppm", "lb", "ft"]),
    suffix=st.booleans(),
)
def test_no_habit_of_writing_gives_a_wrong_number(
    value: Decimal, places: int, habit: str, sign: str, unit: str, suffix: bool
) -> None:
    """Whatever the country's habit, a number in a unit of thousands is read right or refused, never wrong."""
    meant = round(value, places)
    text = sign + HABITS[habit](f"{meant:f}") + (f" {unit}" if suffix else "")
    entry = read_number(text, unit)
    signed = float(-meant if sign not in ("", "+") else meant)
    assert (entry.value is None) == (entry.problem is not None)
    assert entry.value in (None, signed)


@settings(deadline=None)
@given(
    value=st.decimals(min_value=0, max_value=999, places=4),
    places=st.integers(0, 4),
    habit=st.sampled_from(sorted(HABITS)),
    unit=st.sampled_from(["psi", "inHg", "in", "°", "V", "s", "°F"]),
)
def test_a_reading_below_a_thousand_is_never_read_wrong(
    value: Decimal, places: int, habit: str, unit: str
) -> None:
    """Gauge readings are read right or refused, and refused only for three decimals behind a comma."""
    meant = round(value, places)
    text = HABITS[habit](f"{meant:f}")
    entry = read_number(text, unit)
    assert entry.value in (None, float(meant))
    if entry.value is None:
        assert places == 3 and "," in text


@settings(deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e12, max_value=1e12))
def test_a_number_that_a_program_wrote_as_text_comes_back(value: float) -> None:
    """Python's own text of a number is read back as the same number, or refused as too fine or doubtful."""
    assert read_number(repr(value), "psi").value in (None, value)
    assert read_number(value, "psi").value == value


@settings(deadline=None)
@given(st.text(max_size=30), st.sampled_from(["psi", "inHg", "rpm", "in", "° BTDC", "%", ""]))
def test_any_text_gives_an_entry(text: str, unit: str) -> None:
    """No text makes the reader fail: a cell is read, blank, or a problem, and never two of these."""
    entries = (
        read_number(text, unit),
        read_whole(text),
        read_money(text),
        read_date(text, WINDOWS_EPOCH),
        read_choice(text, ("yes", "no")),
    )
    for entry in entries:
        assert entry.value is None or entry.problem is None
    assert read_text(text).value in (None, text.strip())


@settings(deadline=None)
@given(
    st.integers(0, 9999),
    st.integers(0, 9999),
    st.sampled_from([" - ", "-", "/", " to ", ";", "\n", ", ", "..."]),
)
def test_two_numbers_are_never_read_as_one(first: int, second: int, between: str) -> None:
    """Two readings in one cell give no number, unless they spell a shop fraction such as 1/2."""
    value = read_number(f"{first}{between}{second}", "psi").value
    assert value is None or (between == "/" and value == first / second and first == 1)


@pytest.mark.parametrize(
    ("raw", "value"), [(8, 8), (8.0, 8), (8.000000000000002, 8), ("8", 8), (" 8. ", 8), ("8.0", 8)]
)
def test_a_whole_number_is_an_int(raw: object, value: int) -> None:
    """Whole numbers come as int, from text and from a formula's tiny error too."""
    entry = read_whole(raw)
    assert entry.value == value
    assert isinstance(entry.value, int)
    assert entry.held_as_text == isinstance(raw, str)


@pytest.mark.parametrize(
    ("raw", "reason"),
    [
        (8.5, "8.5 is not a whole number"),
        ("8,5", "8.5 is not a whole number"),
        ("2.000", "thousands or decimals"),
        ("8 cyl", "'cyl' after the number"),
        (True, "TRUE"),
    ],
)
def test_a_broken_number_is_not_whole(raw: object, reason: str) -> None:
    """A number with a broken part, or in doubt, is a problem where a whole one is asked for."""
    entry = read_whole(raw)
    assert entry.value is None
    assert reason in (entry.problem or "")
