"""Habits of writing numbers and units, each by plain string work: the other side of the reader's tests."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import strategies as st

from workbook_tools.read.entries import Entry, read_number

#: Every unit that a cell of the form asks for, US and metric.
CELL_UNITS = (
    *(
        "psi",
        "kPa",
        "inHg",
        "°F",
        "°C",
        "%",
        "% vol",
        "ppm",
        "rpm",
        "° BTDC",
        "°",
        "in",
        "mm",
        "US pt/min",
        "L/min",
    ),
    *("in³", "cm³", "V", "US pt", "L", "s", "h", "mph", "km/h", "lb", "kg", "mi", "km", "ft", "m", ""),
)

# --- habits of writing a number --------------------------------------------------------------------------------------

#: Marks of thousands and decimals: English, German, French, Swiss, Spanish, Indian, none.
MARKS = {
    "plain point": ("", "."),
    "plain comma": ("", ","),
    "English": (",", "."),
    "German": (".", ","),
    "French": ("\u202f", ","),
    "SI": ("\u00a0", "."),
    "thin space": ("\u2009", ","),
    "Swiss": ("'", "."),
    "Swiss, curly": ("\u2019", "."),
    "Arabic": ("\u066c", "\u066b"),
    "Indian": ("lakh", "."),
}
#: Signs of a minus: hyphen, minus, en dash, figure dash, wide, small.
MINUS = ("-", "\u2212", "\u2013", "\u2012", "\uff0d", "\ufe63", "- ", "\u2212\u00a0")
DIGITS = {
    "European": "0123456789",
    "wide": "\uff10\uff11\uff12\uff13\uff14\uff15\uff16\uff17\uff18\uff19",
    "Arabic": "".join(chr(0x660 + n) for n in range(10)),
    "Persian": "".join(chr(0x6F0 + n) for n in range(10)),
    "Devanagari": "".join(chr(0x966 + n) for n in range(10)),
    "Bengali": "".join(chr(0x9E6 + n) for n in range(10)),
    "Thai": "".join(chr(0xE50 + n) for n in range(10)),
    "mathematical": "".join(chr(0x1D7CE + n) for n in range(10)),
}
BEFORE = ("", " ", "\t", "~", "~ ", "≈", "ca. ", "about ", "approx. ", "'", "\u200e", "\u200f", "\ufeff")
BEHIND = ("", " ", "\u00a0", "\u200b", "\n", ".", " approx.")


def grouped(digits: str, mark: str) -> str:
    """Digits of a whole number parted into thousands, or into the lakhs of India."""
    if mark != "lakh":
        return f"{int(digits):,}".replace(",", mark) if mark else digits
    head, tail = digits[:-3], digits[-3:]
    while head:
        head, tail = head[:-2], f"{head[-2:]},{tail}"
    return tail


def in_habit(number: Decimal, habit: str, script: str = "European", minus: str = "-") -> str:
    """A number as people of that habit write it."""
    thousands, point = MARKS[habit]
    whole, _, decimals = f"{abs(number):f}".partition(".")
    text = grouped(whole, thousands) + (point + decimals if decimals else "")
    text = text.translate(dict(zip(map(ord, DIGITS["European"]), DIGITS[script], strict=True)))
    return f"{minus}{text}" if number < 0 else text


@st.composite
def numbers(draw: st.DrawFn, low: int = -9_999_999, high: int = 9_999_999) -> Decimal:
    """Numbers with up to four decimals, small and large ones alike."""
    places = draw(st.integers(0, 4))
    most = 10 ** draw(st.integers(1, 7))
    return Decimal(draw(st.integers(max(low, -most), min(high, most)))) + draw(
        st.decimals(0, 1, places=places).map(lambda part: part % 1)
    )


def never_another(entry: Entry, *meant: float) -> None:
    """The entry is one of the numbers that may be meant, or blank of value with a problem said in words."""
    if entry.value is None:
        assert entry.problem and "None" not in entry.problem
        return
    assert isinstance(entry.value, (int, float, Decimal))
    close = [each for each in meant if abs(float(entry.value) - each) <= 1e-9 * max(1.0, abs(each))]
    assert close, f"{entry.value} for {meant}"


def accepted(text: str, unit: str, meant: float) -> None:
    """The entry is that number: a habit that everybody reads alike is not refused."""
    never_another(read_number(text, unit), meant)
    assert read_number(text, unit).value is not None, read_number(text, unit).problem


# --- units ---

#: As typed: the unit, quantity of the cell, and its factor to the SI unit (NIST SP 811, B.8).
PRESSURES = {"psi": 6894.757, "kPa": 1e3, "inHg": 3386.389}
TYPED_UNITS = {
    "pressure": (PRESSURES, {
        "psi": 6894.757, "PSI": 6894.757, "psig": 6894.757, "#": 6894.757, "lb": 6894.757, "lbs": 6894.757, "lbs/in²": 6894.757,
        "bar": 1e5, "BAR": 1e5, "kPa": 1e3, "KPA": 1e3, "MPa": 1e6, "mbar": 100.0, "hPa": 100.0, "kg/cm2": 98066.5,
        "kg/cm²": 98066.5, "kgf/cm2": 98066.5, "kg": 98066.5, "in. Hg": 3386.389, "inHg": 3386.389, '"Hg': 3386.389,
        "mmHg": 133.3224, "torr": 133.3224, "Pa": 1.0, "inH2O": 249.0889,
    }),
    "length": ({"in": 0.0254, "mm": 1e-3}, {
        "in": 0.0254, '"': 0.0254, "''": 0.0254, "″": 0.0254, "inch": 0.0254, "mm": 1e-3, "MM": 1e-3, "cm": 1e-2,
        "thou": 2.54e-5, "mil": 2.54e-5, "mils": 2.54e-5, "thousandths": 2.54e-5,
    }),
    "road": ({"mi": 1609.344, "km": 1e3, "ft": 0.3048, "m": 1.0}, {
        "mi": 1609.344, "miles": 1609.344, "km": 1e3, "KM": 1e3, "ft": 0.3048, "feet": 0.3048, "m": 1.0,
    }),
    "volume": ({"L": 1e-3, "cm³": 1e-6, "in³": 1.6387064e-5}, {
        "L": 1e-3, "l": 1e-3, "liters": 1e-3, "cc": 1e-6, "ml": 1e-6, "cm3": 1e-6, "ci": 1.6387064e-5, "cu in": 1.6387064e-5,
        "US pt": 4.731765e-4,
    }),
    "mass": ({"lb": 0.45359237, "kg": 1.0}, {"lb": 0.45359237, "lbs": 0.45359237, "#": 0.45359237, "kg": 1.0}),
    "speed": ({"mph": 0.44704, "km/h": 1 / 3.6}, {"mph": 0.44704, "MPH": 0.44704, "km/h": 1 / 3.6, "kph": 1 / 3.6}),
    "voltage": ({"V": 1.0}, {"V": 1.0, "v": 1.0, "volts": 1.0, "mV": 1e-3}),
    "time": ({"s": 1.0, "h": 3600.0}, {"s": 1.0, "sec": 1.0, "min": 60.0, "h": 3600.0, "hrs": 3600.0}),
    "share": ({"%": 1e-2, "% vol": 1e-2, "ppm": 1e-6}, {"%": 1e-2, "pct": 1e-2, "ppm": 1e-6, "vol.%": 1e-2}),
}  # fmt: skip
