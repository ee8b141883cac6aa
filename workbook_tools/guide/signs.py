"""Signs of a fault on the sheets: over one that nothing explains, no all-clear is given.

The check names each of them (`diagnose.headline`); the sheet asks whether there is any.
"""

from __future__ import annotations

from workbook_tools.faults.causes import CAUSES
from workbook_tools.language.expressions import CYLINDERS, Cond, column, either, number, word
from workbook_tools.language.model import (
    CONFIRMED,
    INDICATED,
    OUT_OF_LIMITS,
    POSSIBLE,
    WITH_ITEMS,
    Field,
    Item,
)
from workbook_tools.sheets.compression import COMPRESSION_SHEET
from workbook_tools.sheets.engine import ENGINE
from workbook_tools.sheets.fuel_and_air import FUEL_AND_AIR
from workbook_tools.sheets.ignition import IGNITION
from workbook_tools.sheets.job import JOB
from workbook_tools.sheets.readings import is_out
from workbook_tools.sheets.recheck import RECHECK, before_of, is_taken_again
from workbook_tools.sheets.spark_plugs import SPARK_PLUGS
from workbook_tools.sheets.vacuum import VACUUM_SHEET
from workbook_tools.sheets.warm_up import WARM_UP

#: Words of results that are signs of a fault, beside the marks: result to word.
RESULT_SIGNS = {
    "drop_is_weak": "weak",
    "snap_supports_rings": "yes",
    "gas_misfire": "yes",
    "looks_lean": "yes",
    "needle_suggests": "not steady: it swings too far",
    "dwell_possible": "no",
}
#: What is seen of the needle; one or two cylinders give none to go by.
OF_THE_NEEDLE = ("needle", "after_needle", "needle_with_speed")
#: A sound engine leaks a little past its rings: where that is heard is a sign only beyond the limit, which has its mark.
NO_SIGN = {"leak_heard_at": ("oil filler",)}

ITEMS: dict[str, Item] = {
    item.name: item
    for sheet in (
        JOB,
        ENGINE,
        WARM_UP,
        VACUUM_SHEET,
        COMPRESSION_SHEET,
        SPARK_PLUGS,
        IGNITION,
        FUEL_AND_AIR,
        RECHECK,
    )
    for part in sheet.parts
    if isinstance(part, WITH_ITEMS)
    for item in part.items
}
_AGAIN = {before_of(name): name for name in ITEMS if is_taken_again(name)}


def unsound(item: Field) -> tuple[str, ...]:
    """The choices of a field that are signs of a fault by themselves."""
    return tuple(each for each in item.choices if each not in (*item.sound, *NO_SIGN.get(item.name, ())))


def _sign(item: Item) -> Cond | None:
    """When an item is a sign of a fault, in any of its cells; None where it never is. Taken again, the reading before is none."""
    found: list[Cond] = []
    mark = f"mark_{item.name}"
    if item.limits is not None:
        found.append(is_out(item.name) if item.per == "job" else column(mark).any_is(OUT_OF_LIMITS))
    if isinstance(item, Field) and item.sound:
        if item.per == "job":
            found.append(word(item.name).is_in(*unsound(item)))
        else:
            found += [column(item.name).any_is(each) for each in unsound(item)]
    elif item.name in RESULT_SIGNS:
        sign = RESULT_SIGNS[item.name]
        found.append(word(item.name) == sign if item.per == "job" else column(item.name).any_is(sign))
    if not found:
        return None
    sign = either(*found)
    if item.name in OF_THE_NEEDLE:
        sign &= CYLINDERS > 2
    again = ITEMS.get(_AGAIN.get(item.name, ""))
    if again is None or again.per != "job" or item.per != "job":
        return sign
    is_choice = isinstance(again, Field) and again.kind == "choice"
    return sign & (word(again.name) if is_choice else number(again.name)).missing


#: Whether there is any.
any_sign = either(*(sign for item in ITEMS.values() if (sign := _sign(item)) is not None))


def is_named(cause: str) -> Cond:
    """A cause's verdict is there, however unsure."""
    row = CAUSES[cause]
    found: list[Cond] = [word(row.engine_cell).known] if row.signs else []
    if row.cylinder_signs:
        verdicts = column(row.cylinder_cell)
        found += [verdicts.any_is(each) for each in (CONFIRMED, INDICATED, POSSIBLE)]
    return either(*found)
