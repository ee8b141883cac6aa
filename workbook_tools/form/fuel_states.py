"""Where the proof of fuel and air stands, and its next step, for sheet Summary."""

from __future__ import annotations

from workbook_tools.form.model import OUT_OF_LIMITS, Result, Value
from workbook_tools.form.summary import FAULT, OPEN, PROVEN, inside_formula, is_inside
from workbook_tools.form.values import Values


def state_fuel_and_air(v: Values, _: int | None) -> Value:
    """Fault where the fuel pressure is out of limits; proven where it and the cranking vacuum are in limits."""
    if v.text("mark_fuel_pressure") == OUT_OF_LIMITS:
        return FAULT
    return PROVEN if is_inside(v, "cranking_vacuum") and is_inside(v, "fuel_pressure") else OPEN


def next_fuel_and_air(v: Values, _: int | None) -> Value:
    """What to do next for fuel and air."""
    state = v.text("state_fuel_and_air")
    if state == PROVEN:
        return None
    return "Mend the fuel supply" if state == FAULT else "Read cranking vacuum and fuel pressure"


FUEL_SUMMARY = (
    Result(
        "state_fuel_and_air",
        "Fuel and air",
        f'=IF(mark_fuel_pressure="{OUT_OF_LIMITS}","{FAULT}",IF(AND({inside_formula("cranking_vacuum")},'
        f'{inside_formula("fuel_pressure")}),"{PROVEN}","{OPEN}"))',
        state_fuel_and_air,
    ),
    Result(
        "next_fuel_and_air",
        "Next for fuel and air",
        f'=IF(state_fuel_and_air="{PROVEN}","",IF(state_fuel_and_air="{FAULT}","Mend the fuel supply",'
        '"Read cranking vacuum and fuel pressure"))',
        next_fuel_and_air,
        wide=True,
    ),
)
