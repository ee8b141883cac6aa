"""What follows from an engine's shape: cylinder volumes, compression, banks, firing order and dwell.

Lengths may be in any unit as long as one call uses one unit; angles are crank degrees unless a name says
otherwise.
"""

from __future__ import annotations

import math
import re

# Polytropic exponent of a cranking stroke. Air that lost no heat would follow 1.4; at cranking speed much of
# the heat goes into cold walls and some charge past the rings, and 1.2 to 1.3 is the span usually given. The
# middle is taken: either end changes the expected gauge pressure by about a tenth at a ratio of 8.
CRANKING_EXPONENT = 1.25

CRANK_DEGREES_A_CYCLE = 720
DISTRIBUTOR_DEGREES_A_TURN = 360

# Common practice, no source: the order most often met for each count of cylinders. From eight cylinders on it
# belongs to banks numbered odd on one side and even on the other, as `default_banks` numbers them.
_COMMON_FIRING_ORDERS: dict[int, tuple[int, ...]] = {
    1: (1,),
    2: (1, 2),
    3: (1, 3, 2),
    4: (1, 3, 4, 2),
    5: (1, 2, 4, 5, 3),
    6: (1, 5, 3, 6, 2, 4),
    8: (1, 8, 4, 3, 6, 5, 7, 2),
    10: (1, 10, 9, 4, 3, 6, 5, 8, 7, 2),
    12: (1, 12, 9, 4, 5, 8, 11, 2, 3, 10, 7, 6),
}
_MOST_IN_ONE_LINE = 6

Banks = tuple[tuple[int, ...], ...]


def volume_ratio(compression_ratio: float, rod_to_crank_radius: float, crank_deg: float) -> float:
    """Cylinder volume at `crank_deg` after top dead centre, as a multiple of the clearance volume.

    `rod_to_crank_radius` is rod length over half the stroke. Raises ValueError for a ratio of 1 or less, or a
    rod not longer than the crank radius. Source: slider-crank geometry; J. B. Heywood, Internal Combustion
    Engine Fundamentals (1988), eq. 2.6.
    """
    if compression_ratio <= 1:
        raise ValueError(f"a compression ratio is above 1, not {compression_ratio}")
    if rod_to_crank_radius <= 1:
        raise ValueError(
            f"a connecting rod is longer than half the stroke; the ratio given is {rod_to_crank_radius}"
        )
    angle = math.radians(crank_deg)
    rod = rod_to_crank_radius
    travel_in_radii = rod + 1 - math.cos(angle) - math.sqrt(rod**2 - math.sin(angle) ** 2)
    return 1 + (compression_ratio - 1) * travel_in_radii / 2


def effective_compression_ratio(
    compression_ratio: float, rod_to_crank_radius: float, intake_closing_deg_abdc: float
) -> float:
    """Compression ratio from the moment the intake valve closes, in crank degrees after bottom dead centre.

    Raises ValueError as `volume_ratio` does, or when the closing is not within 0 to 180 degrees.
    """
    if not 0 <= intake_closing_deg_abdc < 180:
        raise ValueError(
            "the intake valve closes 0 to 180 crank degrees after bottom dead centre, not at "
            f"{intake_closing_deg_abdc}"
        )
    return volume_ratio(compression_ratio, rod_to_crank_radius, 180 + intake_closing_deg_abdc)


def rod_to_crank_radius(rod_length: float, stroke: float) -> float:
    """Rod length over crank radius, the radius being half the stroke; both in one unit of length.

    Raises ValueError when the stroke is not above zero.
    """
    if stroke <= 0:
        raise ValueError(f"a stroke is above zero, not {stroke}")
    return 2 * rod_length / stroke


def cranking_pressure_gauge(
    station_pressure: float, effective_ratio: float, exponent: float = CRANKING_EXPONENT
) -> float:
    """Expected gauge pressure at the end of a cranking stroke, in the unit of `station_pressure` (absolute).

    A polytropic compression from station pressure, without leakage: an upper expectation and not a limit.
    """
    return station_pressure * (effective_ratio**exponent - 1)


def displacement(bore: float, stroke: float, cylinders: int) -> float:
    """Swept volume of all cylinders, in the cube of the unit of `bore` and `stroke`."""
    return math.pi / 4 * bore**2 * stroke * cylinders


def largest_dwell(cylinders: int) -> float:
    """Distributor degrees between two sparks: one set of points cannot stay closed for longer.

    Holds for one cam lobe a cylinder. Raises ValueError for fewer than one cylinder.
    """
    if cylinders < 1:
        raise ValueError(f"an engine has at least one cylinder, not {cylinders}")
    return DISTRIBUTOR_DEGREES_A_TURN / cylinders


def dwell_timing_shift(dwell_change_deg: float) -> float:
    """Change of the timing reading, in crank degrees before top dead centre, when dwell changes.

    More dwell makes the spark later, so the sign is turned: +3 degrees of dwell give -3. With the cam and the
    distributor body left alone, half the change falls on each side of the lobe, and a distributor degree is
    two crank degrees. Source: geometry of a symmetric lobe.
    """
    opening_shift_distributor_deg = dwell_change_deg / 2
    crank_deg_per_distributor_deg = CRANK_DEGREES_A_CYCLE / DISTRIBUTOR_DEGREES_A_TURN
    return -opening_shift_distributor_deg * crank_deg_per_distributor_deg


def parse_banks(text: str, cylinders: int | None = None) -> Banks:
    """Cylinder numbers of each bank, front to rear, from text such as `1-3-5-7 | 2-4-6-8`.

    Numbers of a bank are joined by hyphens, by commas or by spaces; banks are parted by a bar, semicolon or
    slash, or by a comma or space where hyphens join the numbers. Raises ValueError when the text does not
    name each cylinder from 1 to the last exactly once, or not `cylinders` of them where that is given.
    """
    banks = tuple(_numbers_of(group, text) for group in _groups(text))
    _check_all_named([number for bank in banks for number in bank], text, cylinders)
    return banks


def parse_firing_order(text: str, cylinders: int | None = None) -> tuple[int, ...]:
    """Cylinder numbers in the order they fire, from text such as `1-3-4-2`, `1, 3, 4, 2` or `1342`.

    Raises ValueError when the text does not name each cylinder from 1 to the last exactly once, or not
    `cylinders` of them where that is given.
    """
    order = _numbers_of(text, text)
    _check_all_named(list(order), text, cylinders)
    return order


def _groups(text: str) -> list[str]:
    """The text of each bank: what parts the banks is coarser than what joins the numbers of one."""
    plain = re.sub(r"\s*([-,|;/])\s*", r"\1", re.sub(r"[‐‑‒–—−]", "-", text.strip()))
    if "-" in plain:
        between_banks = r"[\s,|;/]"
    elif "," in plain:
        between_banks = r"[\s|;/]"
    else:
        between_banks = r"[|;/]"
    return [group for group in re.split(between_banks, plain) if group]


def _numbers_of(group: str, whole_text: str) -> tuple[int, ...]:
    """The cylinder numbers in one group; a lone run of digits (`1342`) is one digit a cylinder."""
    parts = [part for part in re.split(r"[-‐‑‒–—−,;/\s]+", group.strip()) if part]
    if not parts or not all(re.fullmatch(r"[0-9]{1,16}", part) for part in parts):
        raise ValueError(f"{whole_text[:60]!r} is not a row of cylinder numbers such as 1-3-4-2")
    if len(parts) == 1 and re.fullmatch(r"\s*[0-9]+\s*", whole_text):
        parts = list(parts[0])
    return tuple(int(part) for part in parts)


def _check_all_named(numbers: list[int], text: str, cylinders: int | None) -> None:
    if cylinders is not None and len(numbers) != cylinders:
        raise ValueError(f"{text!r} names {len(numbers)} cylinders, but the engine has {cylinders}")
    if not numbers:
        raise ValueError("no cylinder numbers were given; write them as 1-3-4-2")
    twice = sorted({number for number in numbers if numbers.count(number) > 1})
    if twice:
        raise ValueError(f"{text!r} names cylinder {twice[0]} twice")
    lacking = sorted(set(range(1, len(numbers) + 1)) - set(numbers))
    if lacking:
        raise ValueError(f"{text!r} does not name cylinder {lacking[0]}, but a cylinder {max(numbers)}")


def bank_neighbours(banks: Banks) -> dict[int, tuple[int, ...]]:
    """For each cylinder, those next to it on its own bank, which share a land of the head gasket with it."""
    return {
        cylinder: bank[max(place - 1, 0) : place] + bank[place + 1 : place + 2]
        for bank in banks
        for place, cylinder in enumerate(bank)
    }


def default_banks(cylinders: int) -> Banks:
    """The banks usual for a count of cylinders: one line up to six, odd and even numbers above.

    Common practice, no source. Odd counts are one line. Raises ValueError for fewer than one cylinder.
    """
    if cylinders < 1:
        raise ValueError(f"an engine has at least one cylinder, not {cylinders}")
    if cylinders <= _MOST_IN_ONE_LINE or cylinders % 2:
        return (tuple(range(1, cylinders + 1)),)
    return tuple(range(1, cylinders, 2)), tuple(range(2, cylinders + 1, 2))


def default_firing_order(cylinders: int) -> tuple[int, ...]:
    """The firing order most often met for a count of cylinders, or `()` where none is usual.

    Common practice, no source: a proposal for the form, which the technician corrects from the manual.
    """
    return _COMMON_FIRING_ORDERS.get(cylinders, ())


def banks_text(banks: Banks) -> str:
    """The banks as the form writes them: `1-3-5-7 | 2-4-6-8`."""
    return " | ".join(firing_order_text(bank) for bank in banks)


def firing_order_text(order: tuple[int, ...]) -> str:
    """The order as the form writes it: `1-3-4-2`."""
    return "-".join(str(number) for number in order)
