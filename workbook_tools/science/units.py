"""Units that people type into a workbook, and conversion between them.

The table below is the only place where a conversion factor is written. Every unit belongs to one quantity
and converts to that quantity's SI unit by `si = value * si_factor + si_offset`; only temperatures have an
offset.

Factors: NIST Special Publication 811 (2008), appendix B.8. The foot, pound, US gallon, bar and
kilogram-force per square centimetre are exact by definition; mercury and water columns are the conventional
ones (standard gravity, mercury of 13 595.1 kg/m3, water of 1000 kg/m3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Unit:
    """One unit: how it is written on the form, what it measures, and how it converts to SI."""

    symbol: str
    quantity: str
    si_factor: float
    si_offset: float = 0.0


_LB = 0.45359237
_INCH = 0.0254
_LBF = _LB * 9.80665
_US_GALLON = 231 * _INCH**3
_DEGREE = math.pi / 180
_FAHRENHEIT = 5 / 9

# symbol, factor to SI, and the other ways people write it. Aliases are compared after `_plain`: lower case,
# without spaces and dots, with typographic marks replaced, so `in. Hg`, `IN HG` and `inHg` are one entry.
_TABLE: dict[str, tuple[tuple[str, float, str], ...]] = {
    "pressure": (
        ("Pa", 1.0, "pascal pascals"),
        ("hPa", 100.0, "mbar millibar millibars mb"),
        ("kPa", 1e3, "kilopascal kilopascals kpa(g)"),
        ("MPa", 1e6, "megapascal megapascals"),
        ("bar", 1e5, "bars barg"),
        ("psi", _LBF / _INCH**2, "# psig #/in2 lb/in2 lbs/in2 lb/in^2 lbf/in2 lb/sqin lbs/sqin lbpersqin"),
        ("kg/cm²", 98066.5, "kg/cm2 kg/cm^2 kg/sqcm kgf/cm2 kgf/cm^2 kp/cm2 kgcm2"),
        ("inHg", 13595.1 * 9.80665 * _INCH, '"hg incheshg inchesofhg inchesofmercury inofmercury inofhg'),
        ("mmHg", 13595.1 * 9.80665 * 1e-3, "torr mmofmercury mmofhg"),
        ("cmHg", 13595.1 * 9.80665 * 1e-2, "cmofmercury cmofhg"),
        ("inH2O", 1000 * 9.80665 * _INCH, '"h2o inwc "wc inwg "wg inchesofh2o inchesofwater inofwater'),
    ),
    "length": (
        ("in", _INCH, '" inch inches ins'),
        ("thou", _INCH / 1000, "thous thousandth thousandths"),
        ("mm", 1e-3, "millimetre millimetres millimeter millimeters"),
        ("cm", 1e-2, "centimetre centimetres centimeter centimeters"),
        ("ft", 12 * _INCH, "' foot feet"),
        ("m", 1.0, "metre metres meter meters"),
        ("km", 1e3, "kilometre kilometres kilometer kilometers kms"),
        ("mi", 5280 * 12 * _INCH, "mile miles mls"),
    ),
    "temperature": (
        ("°C", 1.0, "c degc degreesc celsius centigrade"),
        ("°F", _FAHRENHEIT, "f degf degreesf fahrenheit"),
    ),
    "volume": (
        ("L", 1e-3, "l litre litres liter liters ltr"),
        ("cm³", 1e-6, "cm3 cm^3 cc ccm ml"),
        ("in³", _INCH**3, "in3 in^3 cuin ci cid cubicinch cubicinches"),
        ("US pt", _US_GALLON / 8, "pt pts pint pints uspint uspints"),
        ("US qt", _US_GALLON / 4, "qt qts quart quarts"),
        ("US fl oz", _US_GALLON / 128, "floz oz ounce ounces"),
    ),
    "volume flow": (
        ("L/min", 1e-3 / 60, "lpm litres/min liters/min litre/min liter/min ltr/min"),
        ("US pt/min", _US_GALLON / 8 / 60, "pt/min pts/min pint/min pints/min uspints/min"),
    ),
    "mass": (
        ("kg", 1.0, "kgs kilogram kilograms kilo kilos"),
        ("lb", _LB, "lbs pound pounds"),
    ),
    "speed": (
        ("m/s", 1.0, "mps"),
        ("km/h", 1 / 3.6, "kmh kph kmph km/hr"),
        ("mph", 5280 * 12 * _INCH / 3600, "mi/h miles/h mi/hr milesperhour"),
    ),
    "rotational speed": (("rpm", 2 * math.pi / 60, "r/min rev/min revs/min min-1 1/min /min revs rev"),),
    "angle": (
        ("°", _DEGREE, "deg degs degree degrees"),
        ("° BTDC", _DEGREE, "btdc degbtdc degreesbtdc bt before degbefore °before °btc btc"),
        # After top dead centre counts as negative before top dead centre: 4 ATDC is -4 BTDC.
        ("° ATDC", -_DEGREE, "atdc degatdc degreesatdc after degafter °after °atc atc"),
    ),
    "time": (
        ("s", 1.0, "sec secs second seconds"),
        ("min", 60.0, "mins minute minutes"),
        ("h", 3600.0, "hr hrs hour hours"),
    ),
    "voltage": (("V", 1.0, "volt volts vdc vlt"), ("mV", 1e-3, "millivolt millivolts")),
    "power": (
        ("W", 1.0, "watt watts"),
        ("kW", 1e3, "kilowatt kilowatts"),
        ("hp", 550 * 12 * _INCH * _LBF, "bhp horsepower"),
        ("metric hp", 75 * 9.80665, "ps cv ch"),
    ),
    "share": (
        ("%", 1e-2, "percent pct pc"),
        ("% vol", 1e-2, "%vol vol% vol-% %v/v percentvol percentbyvolume"),
        ("ppm", 1e-6, "ppmvol ppmv vpm"),
    ),
}

_OFFSETS_K = {"°C": 273.15, "°F": 459.67 * _FAHRENHEIT}

# Shorthand that names no single unit: which one is meant follows from the quantity that the cell asks for.
# `18"` in a vacuum cell is inches of mercury; `145 lb` and `10 kg` in a compression cell are per square
# inch and per square centimetre; `3000#` in a mass cell is pounds.
_SHORTHAND: dict[str, dict[str, str]] = {
    "pressure": {
        "inHg": '" in inch inches ins',
        "mmHg": "mm",
        "cmHg": "cm",
        "psi": "lb lbs pound pounds",
        "kg/cm²": "kg kgs kilo kilos",
    },
    "mass": {"lb": "#"},
    "volume flow": {"US pt/min": "pt pts pint pints", "L/min": "l litre litres liter liters"},
}
# A thousandth is one of an inch where a gap or a bore is asked for; over a road it is thousands, and a mil is ten km.
_THOUSANDTHS = frozenset("thou thous thousandth thousandths mil mils".split())
_ASKED_IN_THOUSANDTHS = ("in", "mm")

_TYPOGRAPHY = str.maketrans(
    {
        "²": "2",
        "³": "3",
        "º": "°",
        "˚": "°",
        "″": '"',
        "”": '"',
        "“": '"',
        "’": "'",
        "′": "'",
        ".": "",
        " ": "",
        "\u00a0": "",
        "\u202f": "",
        "\t": "",
    }
)


def _plain(text: str) -> str:
    """The text as it is compared with aliases."""
    return text.strip().lower().translate(_TYPOGRAPHY).replace("''", '"')


def _build() -> tuple[dict[str, Unit], dict[str, Unit]]:
    units: dict[str, Unit] = {}
    aliases: dict[str, Unit] = {}
    for quantity, rows in _TABLE.items():
        for symbol, si_factor, also in rows:
            unit = Unit(symbol, quantity, si_factor, _OFFSETS_K.get(symbol, 0.0))
            units[symbol] = unit
            for alias in (symbol, *also.split()):
                if aliases.setdefault(_plain(alias), unit) is not unit:
                    raise AssertionError(f"the alias {alias!r} stands for two units")
    return units, aliases


UNITS, _ALIASES = _build()


def unit(symbol: str) -> Unit:
    """The unit that the form writes as `symbol`.

    Raises ValueError when the table has no unit of exactly that symbol.
    """
    try:
        return UNITS[symbol]
    except KeyError:
        raise ValueError(f"unknown unit {symbol!r}; known are {', '.join(UNITS)}") from None


def find_unit(text: str, asked_for: str = "") -> Unit | None:
    """The unit that a person meant by `text`, or None when it names none.

    `asked_for` is the symbol of the unit that the cell asks for; shorthand that names no single unit (`"`,
    `lb`, `kg`, `#`, `°`) is then read as of that quantity. Capital letters, spaces and dots do not matter.
    """
    plain = _plain(text)
    wanted = UNITS.get(asked_for)
    if wanted is not None:
        if plain == "°" and wanted.quantity == "temperature":
            return wanted
        if plain in _THOUSANDTHS:
            return UNITS["thou"] if asked_for in _ASKED_IN_THOUSANDTHS else None
        for symbol, shorthand in _SHORTHAND.get(wanted.quantity, {}).items():
            if plain in shorthand.split():
                return UNITS[symbol]
    return _ALIASES.get(plain)


def units_of(quantity: str) -> tuple[Unit, ...]:
    """All units of a quantity, such as `pressure`, in the order of the table; empty for an unknown
    quantity.
    """
    return tuple(each for each in UNITS.values() if each.quantity == quantity)


def same_quantity(a: str, b: str) -> bool:
    """Whether two unit symbols measure the same quantity, so that one converts to the other.

    Raises ValueError for a symbol that is not in the table.
    """
    return unit(a).quantity == unit(b).quantity


def conversion_factor(from_unit: str, to_unit: str) -> float:
    """The number that a difference in `from_unit` is multiplied by to have it in `to_unit`.

    For temperatures this is the ratio of the degrees (a rise of 9 °F is one of 5 °C), not a conversion of
    readings. Raises ValueError when a symbol is unknown or the two measure different quantities.
    """
    source, target = unit(from_unit), unit(to_unit)
    if source.quantity != target.quantity:
        raise ValueError(f"{from_unit} measures {source.quantity} and {to_unit} measures {target.quantity}")
    return source.si_factor / target.si_factor


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """The reading `value`, given in `from_unit`, expressed in `to_unit`.

    Pressures keep their kind: a gauge reading stays a gauge reading. Raises ValueError as
    `conversion_factor` does.
    """
    factor = conversion_factor(from_unit, to_unit)
    if from_unit == to_unit:
        return value
    source, target = unit(from_unit), unit(to_unit)
    if source.si_offset == target.si_offset:
        return value * factor
    # To a billionth of a degree, so that 212 °F is 100 °C and not a rounding error above a limit of 100 °C.
    return round(value * factor + (source.si_offset - target.si_offset) / target.si_factor, 9)
