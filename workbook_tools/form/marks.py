"""How a reading is marked against its limits.

Five marks: in limits, near limit, out of limits, not taken, no limit given. Without a gauge tolerance a reading beyond
a limit is out, and one inside it by less than a tenth of the allowed width is near (by less than a share of the limit
itself where there is only one; a temperature by a few degrees). With a tolerance a reading nearer to a limit than that,
on either side, is near: it can't be told on which side it lies (decision rule of ISO 14253-1; JCGM 106:2012).
"""

from __future__ import annotations

from functools import lru_cache

from workbook_tools.language.expressions import (
    BLANK,
    FALSE,
    Num,
    all_known,
    any_known,
    constant,
    largest,
    number,
    smallest,
    table,
    word,
)
from workbook_tools.language.model import (
    IN_LIMITS,
    NEAR_LIMIT,
    NO_LIMIT,
    NOT_TAKEN,
    OUT_OF_LIMITS,
    Item,
    Limits,
    Measure,
    Result,
)


def limits_of(item: Item) -> Limits:
    """An item's limits; an item without any is a fault of the caller."""
    assert item.limits is not None
    return item.limits


@lru_cache(maxsize=512)
def results_for(item: Item) -> tuple[Result, ...]:
    """Low and high limit, margin, near band and mark of one item, repeated as the item is."""
    limits = limits_of(item)
    reading, margin, band = number(item.name), number(f"margin_{item.name}"), number(f"band_{item.name}")
    low, high, floor, tolerance = (
        number(name) if name else BLANK for name in (limits.low, limits.high, limits.floor, limits.tolerance)
    )
    sides = [*([reading - low] if limits.low else []), *([high - reading] if limits.high else [])]
    not_asked = word(limits.asked) == "no" if limits.asked else FALSE

    inside = smallest(*sides) if len(sides) > 1 else sides[0]
    margin_is = table((not_asked, BLANK), otherwise=inside.round(6))
    only = low if limits.low else high
    if limits.low and limits.high:
        only = low.or_zero + high.or_zero
    one_sided: Num = (constant("near_one_limit") * abs(only)).round(6)
    if item.measure.quantity == "temperature":
        one_sided = constant("near_temperature")
    band_is = table(
        (all_known(low, high), (constant("near_share") * (high - low)).round(6)),
        (any_known(low, high), one_sided),
    )
    mark_is = table(
        (not_asked, BLANK),
        (reading.missing, NOT_TAKEN),
        (reading < floor, OUT_OF_LIMITS),
        (margin.missing, table((floor.known, IN_LIMITS), otherwise=NO_LIMIT)),
        ((tolerance > 0) & (abs(margin) < tolerance), NEAR_LIMIT),
        (margin < 0, OUT_OF_LIMITS),
        ((tolerance.or_zero <= 0) & (margin < band), NEAR_LIMIT),
        otherwise=IN_LIMITS,
    )

    label, measure, per = item.label, item.measure, item.per
    found: list[Result] = []
    if limits.low or limits.floor:
        found.append(Result(f"low_limit_{item.name}", "Lowest", largest(low, floor), measure, per))
    if limits.high:
        found.append(Result(f"high_limit_{item.name}", "Highest", high, measure, per))
    found.append(Result(f"margin_{item.name}", f"{label}: inside by", margin_is, measure, per, working=True))
    found.append(Result(f"band_{item.name}", f"{label}: near band", band_is, measure, per, working=True))
    found.append(Result(f"mark_{item.name}", "Mark", mark_is, Measure(), per, is_mark=True))
    return tuple(found)
