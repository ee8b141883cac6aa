"""Helper cells beside a chart: single limits repeated as levels, and curves without holes.

Spreadsheet programs differ in what they draw for a result that shows an empty text: some leave the point out,
some draw it at zero. A level is drawn over columns that begin at zero, where it then lies on the axis. A
curve is drawn over helper cells in which an empty point repeats the one before it (the first, where none is
before), so that it lies on its neighbour and is not seen.
"""

from __future__ import annotations

from workbook_tools.language.model import OUT_OF_LIMITS, Value
from workbook_tools.language.values import Values
from workbook_tools.layout.plan import Layout, LevelCell, PointCell, SplitCell, absolute, column_letters


def level_formula(level: LevelCell) -> str:
    """The formula of one level cell: the limit, or an empty text."""
    return f'=IF(COUNT({level.source})=0,"",{level.source})'


def level_value(level: LevelCell, values: Values) -> Value:
    """What that formula gives."""
    return values.number(level.source)


def split_formula(split: SplitCell) -> str:
    """The formula of one cell of a column in two colours: the reading where it belongs there, or an empty text."""
    is_out = f'{split.mark}="{OUT_OF_LIMITS}"'
    there = is_out if split.is_out else f"NOT({is_out})"
    return f'=IF(COUNT({split.reading})=0,"",IF({there},{split.reading},""))'


def split_value(split: SplitCell, values: Values) -> Value:
    """What that formula gives."""
    is_out = values.text(split.mark) == OUT_OF_LIMITS
    return values.number(split.reading) if is_out == split.is_out else None


def point_formula(point: PointCell, plan: Layout) -> str:
    """The formula of one cell of a curve: the point's number where x and y are known, or the x or y drawn."""
    number = point.number
    if point.part == "number":
        return f'=IF(COUNT({point.x}_{number},{point.y}_{number})=2,{number},"")'
    letters, first = column_letters(point.numbers_column), point.row - number + 2
    all_numbers = f"${letters}${first}:${letters}${first + point.repeats - 1}"
    up_to_here = f"${letters}${first}:${letters}${point.row + 1}"
    name = point.x if point.part == "x" else point.y
    top, bottom = plan.cells[f"{name}_1"], plan.cells[f"{name}_{point.repeats}"]
    column = absolute(top.sheet, top.row, top.column, bottom.row)
    drawn = f"IF(COUNT({up_to_here})=0,MIN({all_numbers}),MAX({up_to_here}))"
    return f'=IF(COUNT({all_numbers})=0,"",INDEX({column},{drawn}))'


def point_value(point: PointCell, values: Values) -> Value:
    """What that formula gives."""
    known = [
        number
        for number in range(1, point.repeats + 1)
        if values.number(point.x, number) is not None and values.number(point.y, number) is not None
    ]
    if point.part == "number":
        return float(point.number) if point.number in known else None
    if not known:
        return None
    before = [number for number in known if number <= point.number]
    return values.number(point.x if point.part == "x" else point.y, max(before) if before else min(known))
