"""How a reading is marked against its limits, once as formulas and once as Python.

Four marks: in limits, near limit, out of limits, not taken. Without a gauge tolerance a reading beyond a limit is
out, and one inside it by no more than a tenth of the allowed width (of the limit itself where there is only one)
is near. With a tolerance a reading nearer to a limit than that, on either side, is near: it can't be told on which
side it lies (decision rule of ISO 14253-1; JCGM 106:2012).
"""

from __future__ import annotations

from workbook_tools.language.model import (
    IN_LIMITS,
    NEAR_LIMIT,
    NOT_TAKEN,
    OUT_OF_LIMITS,
    Item,
    Limits,
    Measure,
    Result,
    Value,
)
from workbook_tools.language.values import Values
from workbook_tools.science.sheet_math import sheet_round


def limits_of(item: Item) -> Limits:
    """An item's limits; an item without any is a fault of the caller."""
    assert item.limits is not None
    return item.limits


def results_for(item: Item) -> tuple[Result, ...]:
    """Low and high limit, margin, near band and mark of one item, repeated as the item is."""
    limits = limits_of(item)
    cell = item.name if item.per == "job" else f"{item.name}_#"
    low, high = limits.low, limits.high
    both = ",".join(name for name in (low, high) if name)
    lows = ",".join(name for name in (low, limits.floor) if name)

    def not_asked(v: Values) -> bool:
        return limits.asked is not None and v.text(limits.asked) == "no"

    def low_limit(v: Values, n: int | None) -> Value:
        own = limits.at(n)
        known = [x for x in (v.number(own.low), v.number(own.floor)) if x is not None]
        return max(known) if known else None

    def high_limit(v: Values, n: int | None) -> Value:
        return v.number(limits.at(n).high)

    def margin(v: Values, n: int | None) -> Value:
        own, reading = limits.at(n), v.number(item.name, n)
        least, most = v.number(own.low), v.number(own.high)
        if reading is None or (least is None and most is None) or not_asked(v):
            return None
        inside = [reading - least] if least is not None else []
        inside += [most - reading] if most is not None else []
        return sheet_round(min(inside), 6)

    def band(v: Values, n: int | None) -> Value:
        own = limits.at(n)
        least, most = v.number(own.low), v.number(own.high)
        if least is not None and most is not None:
            return sheet_round((most - least) / 10, 6)
        one = least if least is not None else most
        return None if one is None else sheet_round(abs(one) / 10, 6)

    def mark(v: Values, n: int | None) -> Value:
        own, reading = limits.at(n), v.number(item.name, n)
        if not_asked(v):
            return None
        if reading is None:
            return NOT_TAKEN
        floor = v.number(own.floor)
        if floor is not None and sheet_round(reading - floor, 6) < 0:
            return OUT_OF_LIMITS
        inside = v.number(f"margin_{item.name}", n)
        if inside is None:
            return IN_LIMITS if floor is not None else None
        tolerance = v.number(own.tolerance) or 0.0
        if tolerance > 0:
            if sheet_round(abs(inside) - tolerance, 6) < 0:
                return NEAR_LIMIT
            return OUT_OF_LIMITS if inside < 0 else IN_LIMITS
        if inside < 0:
            return OUT_OF_LIMITS
        return NEAR_LIMIT if inside <= (v.number(f"band_{item.name}", n) or 0.0) else IN_LIMITS

    if low and high:
        margin_formula = (
            f'=IF(OR(COUNT({cell})=0,COUNT({both})=0),"",ROUND(IF(COUNT({both})=2,MIN({cell}-{low},{high}-{cell}),'
            f"IF(COUNT({low})=1,{cell}-{low},{high}-{cell})),6))"
        )
        band_formula = (
            f'=IF(COUNT({both})=0,"",ROUND(IF(COUNT({both})=2,({high}-{low})/10,ABS(SUM({both}))/10),6))'
        )
    else:
        one = low or high
        inside = f"{cell}-{low}" if low else f"{high}-{cell}"
        margin_formula = f'=IF(OR(COUNT({cell})=0,COUNT({one})=0),"",ROUND({inside},6))'
        band_formula = f'=IF(COUNT({one})=0,"",ROUND(ABS({one})/10,6))'

    if limits.asked:
        margin_formula = f'=IF({limits.asked}="no","",{margin_formula.removeprefix("=")})'
    suffix = "" if item.per == "job" else "_#"
    margin_cell, band_cell = f"margin_{item.name}{suffix}", f"band_{item.name}{suffix}"
    beyond = (
        f'IF({margin_cell}<0,"{OUT_OF_LIMITS}",IF({margin_cell}<={band_cell},"{NEAR_LIMIT}","{IN_LIMITS}"))'
    )
    if limits.tolerance:
        tolerance = limits.tolerance
        blurred = (
            f'IF(ROUND(ABS({margin_cell})-{tolerance},6)<0,"{NEAR_LIMIT}",'
            f'IF({margin_cell}<0,"{OUT_OF_LIMITS}","{IN_LIMITS}"))'
        )
        beyond = f"IF(SUM({tolerance})>0,{blurred},{beyond})"
    unlimited = f'IF(COUNT({limits.floor})=1,"{IN_LIMITS}","")' if limits.floor else '""'
    judged = f"IF(COUNT({margin_cell})=0,{unlimited},{beyond})"
    if limits.floor:
        judged = f'IF(IF(COUNT({limits.floor})=1,ROUND({cell}-{limits.floor},6)<0,FALSE),"{OUT_OF_LIMITS}",{judged})'
    mark_formula = f'=IF(COUNT({cell})=0,"{NOT_TAKEN}",{judged})'
    if limits.asked:
        mark_formula = f'=IF({limits.asked}="no","",{mark_formula.removeprefix("=")})'

    label, measure, per = item.label, item.measure, item.per
    results: list[Result] = []
    if lows:
        formula = f'=IF(COUNT({lows})=0,"",MAX({lows}))'
        results.append(Result(f"low_limit_{item.name}", "Lowest", formula, low_limit, measure, per))
    if high:
        formula = f'=IF(COUNT({high})=0,"",{high})'
        results.append(Result(f"high_limit_{item.name}", "Highest", formula, high_limit, measure, per))
    results.append(
        Result(
            f"margin_{item.name}", f"{label}: inside by", margin_formula, margin, measure, per, working=True
        )
    )
    results.append(
        Result(f"band_{item.name}", f"{label}: near band", band_formula, band, measure, per, working=True)
    )
    results.append(Result(f"mark_{item.name}", "Mark", mark_formula, mark, Measure(), per, is_mark=True))
    return tuple(results)
