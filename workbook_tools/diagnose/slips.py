"""Two readings in the wrong order: one of them is a slip, and two swapped digits are the most common one.

Only where the sheet gives a second reading to compare with can a swap be told: both 127 and 172 are compressions.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.form import the_form
from workbook_tools.form.ranges import plausible_range
from workbook_tools.language.model import Field, cell_name

#: A swap explains two readings in the wrong order only where it leaves them within this share of each other
#: (common practice, no source).
CLOSE_SHARE = 0.25


def swapped_digits(value: float) -> tuple[float, ...]:
    """What a reading would be with two of its neighbouring digits exchanged: 113 is 131; 18.5 is 81.5."""
    text = f"{value:.10g}"
    places = [place for place, letter in enumerate(text) if letter.isdigit()]
    found = []
    for one in places:
        other = one + 1
        if other not in places:
            continue
        letters = list(text)
        letters[one], letters[other] = letters[other], letters[one]
        if letters[places[0]] != "0" or text[places[0]] == "0":
            found.append(float("".join(letters)))
    return tuple(dict.fromkeys(each for each in found if each != value))


def out_of_order(
    case: Case, smaller: str, larger: str, at: str, reason: str, number: int | None = None
) -> Iterator[Discrepancy]:
    """A readings_conflict at cell `at` where `smaller` reads more than `larger`, with the swap that would explain it."""
    low, high = case.number(smaller, number), case.number(larger, number)
    if low is None or high is None or low <= high:
        return
    bound = (
        f"at most {case.reading(larger, number)}"
        if at == smaller
        else f"at least {case.reading(smaller, number)}"
    )
    where = case.form.where(cell_name(at, number))
    message = f"{where}: {reason}."
    swap = best_swap(case, smaller, larger, number)
    if swap is not None:
        name, value = swap
        unit = case.unit(name)
        spot = case.form.where(cell_name(name, number))
        message += f" With two digits swapped {spot} would be {value:g} {unit}, and both would fit."
        bound = f"{value:g} {unit} at {spot}"
    message += " Read both again; if both stand, leave them as they are and say so."
    yield Discrepancy(
        "readings_conflict", cell_name(at, number), where, case.reading(at, number), bound, message
    )


def best_swap(case: Case, smaller: str, larger: str, number: int | None) -> tuple[str, float] | None:
    """Which reading, with which value, puts two readings in order and closest together; None where no swap does."""
    low, high = case.number(smaller, number), case.number(larger, number)
    assert low is not None and high is not None
    pairs = [(smaller, swap, swap, high) for swap in swapped_digits(low) if is_plausible(case, smaller, swap)]
    pairs += [(larger, swap, low, swap) for swap in swapped_digits(high) if is_plausible(case, larger, swap)]
    fits = [
        (top - bottom, name, swap)
        for name, swap, bottom, top in pairs
        if 0 <= top - bottom <= CLOSE_SHARE * top
    ]
    return min(fits)[1:] if fits else None


def is_plausible(case: Case, name: str, value: float) -> bool:
    """Whether a reading would lie inside its plausible range."""
    item, _ = the_form.items()[name]
    assert isinstance(item, Field)
    low, high = plausible_range(item, case.shape.units)
    return (low is None or value >= low) and (high is None or value <= high)
