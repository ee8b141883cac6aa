"""Filled forms straight from readings, without any file, so that tests of the judging rules are fast.

    filled(cylinders=6, compression_dry=(140, 139, 141, 138, 90, 140), coolant_temperature=185)
    diagnosis_of(healthy_engine=True, timing=3, compression_dry={3: 95})

A reading of something that repeats is a sequence (all of them) or a mapping (number to reading); the name of
one cell (`compression_dry_3`) does too. None clears a cell. Results are stored as a spreadsheet program would
store them. `healthy_engine=True` starts from an invented engine with every test made and in limits
(`healthy`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.model import Diagnosis, Finding
from workbook_tools.form import the_form
from workbook_tools.form.ranges import default_for, is_numeric_choice
from workbook_tools.form.the_form import FORM_VERSION
from workbook_tools.language.model import Field, Result, Shape, UnitSystem
from workbook_tools.read.filled_form import FilledForm, FoundCell, as_seen_by_formulas
from workbook_tools.science.engine_geometry import parse_banks
from workbook_tools.science.units import convert
from workbook_tools.sheets.recheck import before_of, is_taken_again

EPOCH = dt.datetime(1899, 12, 30)
SEA_LEVEL_INHG = 29.92
#: Station pressure over sea level's: U.S. Standard Atmosphere 1976, worked out apart from the project.
STANDARD_SHARE = {0: 1.0, 1000: 0.9644, 2000: 0.9298, 3000: 0.8962, 5000: 0.8320, 7000: 0.7716}


def shape_of(cylinders: int = 4, units: UnitSystem = "us", banks: str | None = None) -> Shape:
    """The shape of an engine; one bank in numbered order unless `banks` (`1-3 | 2-4`) says otherwise."""
    text = banks or "-".join(str(n) for n in range(1, cylinders + 1))
    return Shape(cylinders, parse_banks(text, cylinders), units)


def filled(
    cylinders: int = 4,
    units: UnitSystem = "us",
    banks: str | None = None,
    *,
    healthy_engine: bool = False,
    elevation_ft: int = 0,
    **readings: object,
) -> FilledForm:
    """A filled form as the reader gives it, in the workbook's units; the form's defaults stand where nothing
    is given.
    """
    shape = shape_of(cylinders, units, banks)
    typed = defaults(shape)
    base = healthy(shape, elevation_ft) if healthy_engine else {}
    # One after the other, so that a reading of one cylinder changes that cylinder of the healthy engine
    # alone.
    for given in (base, {"site_elevation": _site(shape, elevation_ft)}, readings):
        for name, reading in given.items():
            typed |= spread(shape, name, reading)
    return form_with(shape, typed)


def diagnosis_of(*arguments: object, **readings: object) -> Diagnosis:
    """The diagnosis of a form filled as by `filled`."""
    return diagnose(filled(*arguments, **readings))  # type: ignore[arg-type]


def finding(diagnosis: Diagnosis, cause: str, *cylinders: int) -> Finding:
    """The only finding of a cause (of those cylinders); fails with what was found instead."""
    found = [each for each in diagnosis.findings if each.cause == cause and cylinders in ((), each.cylinders)]
    assert len(found) == 1, f"{cause} {cylinders}: {len(found)} among {causes_of(diagnosis)}"
    return found[0]


def causes_of(diagnosis: Diagnosis) -> list[str]:
    """Findings in a line each: `late_timing confirmed`, `worn_rings 3 possible provisional`."""
    lines = []
    for each in diagnosis.findings:
        parts = [
            each.cause,
            *(str(n) for n in each.cylinders),
            each.strength,
            "provisional" if each.provisional else "",
        ]
        lines.append(" ".join(part for part in parts if part))
    return lines


def kinds_of(diagnosis: Diagnosis) -> list[str]:
    """Discrepancies in a line each: `missing_reading compression_wet_3`."""
    return [f"{each.kind} {each.field}" for each in diagnosis.discrepancies]


# --- cells --------------------------------------------------------------------------------------------------


def spread(shape: Shape, name: str, reading: object) -> dict[str, object]:
    """Readings by cell name; fails for a name that the form does not have."""
    cells = the_form.cells(shape)
    if isinstance(reading, Mapping):
        named: dict[str, object] = {f"{name}_{n}": each for n, each in reading.items()}
    elif isinstance(reading, Sequence) and not isinstance(reading, str):
        named = {f"{name}_{n}": each for n, each in enumerate(reading, start=1)}
    elif name in cells:
        named = {name: reading}
    else:
        numbers = shape.numbers(the_form.repeats()[name])
        named = {f"{name}_{n}": reading for n in numbers}
    unknown = [each for each in named if each not in cells]
    assert not unknown, f"the form has no cell {unknown[0]}"
    return named


def defaults(shape: Shape) -> dict[str, object]:
    """What stands in a new form."""
    found: dict[str, object] = {}
    for name, cell in the_form.cells(shape).items():
        if isinstance(cell.item, Field):
            default = default_for(cell.item, shape, cell.number)
            numeric = is_numeric_choice(cell.item) and default is not None
            found[name] = float(default) if numeric else default  # type: ignore[arg-type]
    return found


def form_with(shape: Shape, typed: Mapping[str, object], calculated: bool = True) -> FilledForm:
    """The filled form whose input cells hold `typed`, every result calculated and stored; none, where not `calculated`."""
    seen = {name: as_seen_by_formulas(raw) for name, raw in typed.items()}
    stored = the_form.compute(shape, seen).values if calculated else {}
    formulas = the_form.formulas(shape)
    cells = {}
    for row, (name, cell) in enumerate(the_form.cells(shape).items(), start=1):
        if isinstance(cell.item, Result):
            value = stored.get(name)
            raw: object = "" if value is None else value
            formula: str | None = formulas[name]
        else:
            raw, formula = typed.get(name), None
        cells[name] = FoundCell(cell, cell.sheet.name, f"B{row}", raw, formula)
    return FilledForm(
        path=Path("filled.xlsx"),
        shape=shape,
        form_version=FORM_VERSION,
        cells=cells,
        lost=(),
        renamed_sheets={},
        hidden_sheets=frozenset(),
        changed_identity=(),
        epoch=EPOCH,
        digest="",
    )


# --- a healthy engine ---------------------------------------------------------------------------------------


def healthy(shape: Shape, elevation_ft: int = 0) -> dict[str, object]:
    """Readings of an invented engine with every test made and in limits at that elevation, in the shape's
    units.

    Vacuum falls with station pressure, compression and cranking vacuum are proportional to it; the mixture is
    right.
    """
    share = STANDARD_SHARE[elevation_ft]
    fall = SEA_LEVEL_INHG * (1 - share)
    largest_dwell = min(360 / shape.cylinders, 180)
    us: dict[str, object] = {
        **_SPECIFIED,
        "spec_dwell_min": round(0.58 * largest_dwell, 1),
        "spec_dwell_max": round(0.66 * largest_dwell, 1),
        "dwell": round(0.62 * largest_dwell, 1),
        **_WORDS,
        "coolant_temperature": 188.0,
        "oil_pressure": 42.0,
        "idle_speed": 650.0,
        "battery_rest": 12.6,
        "battery_cranking": 10.9,
        "cranking_speed": 205.0,
        "compression_strokes": 5.0,
        "compression_first": [round((100 + n % 3) * share) for n in _cylinders(shape)],
        "compression_dry": [round((146 + n % 3) * share) for n in _cylinders(shape)],
        "leakdown": [6.0 + n % 3 for n in _cylinders(shape)],
        "speed_drop": [60.0 + n % 4 for n in _cylinders(shape)],
        "plug_gap": [0.035 for _ in _cylinders(shape)],
        "idle_vacuum_low": round(19.2 - fall, 1),
        "idle_vacuum_high": round(19.6 - fall, 1),
        "raised_speed": 2000.0,
        "raised_vacuum_start": round(20.5 - fall, 1),
        "raised_vacuum_held": round(20.4 - fall, 1),
        "snap_vacuum_low": 2.0,
        "snap_vacuum_high": round(25 - fall, 1),
        "mixture_best_vacuum": round(19.6 - fall, 1),
        "running_vacuum": round(20.2 - fall, 1),
        "cranking_vacuum": round(17.5 * share, 1),
        "point_gap": 0.020,
        "timing": 8.0,
        "timing_speed": 650.0,
        "advance_speed": [1000.0, 2000.0],
        "advance_reading": [14.0, 24.0],
        "running_speed": 2000.0,
        "fuel_pressure": 3.0,
        "fuel_delivery_volume": 1.0,
        "fuel_delivery_time": 30.0,
        "backpressure": 1.0,
        "gas_speed": [650.0, 2500.0],
        "gas_co": [1.2, 0.8],
        "gas_co2": [14.0, 14.3],
        "gas_hc": [180.0, 120.0],
        "gas_o2": [0.7, 0.6],
    }
    if shape.cylinders < 3:
        us |= _FEW_CYLINDERS | {"spec_idle_vacuum_min": 7.0, "spec_idle_vacuum_max": 16.0, "speed_drop": None}
        us |= {"idle_vacuum_low": round(10 - fall, 1), "idle_vacuum_high": round(14 - fall, 1)}
        us |= {"running_vacuum": round(13 - fall, 1), "mixture_best_vacuum": round(13 - fall, 1)}
    return {name: _in_units(shape, name, reading) for name, reading in us.items()}


_SPECIFIED: dict[str, object] = {
    "ignition_type": "contact points",
    "spec_compression_min": 130.0,
    "spec_compression_max": 165.0,
    "spec_idle_speed_min": 600.0,
    "spec_idle_speed_max": 700.0,
    "spec_timing": 8.0,
    "spec_timing_speed": 650.0,
    "spec_point_gap_min": 0.018,
    "spec_point_gap_max": 0.022,
    "spec_plug_gap_min": 0.032,
    "spec_plug_gap_max": 0.038,
    "spec_fuel_delivery_min": 1.5,
    "spec_oil_pressure_min": 25.0,
    "spec_operating_temp_min": 170.0,
    "spec_operating_temp_max": 210.0,
    "spec_cranking_speed_min": 150.0,
    "spec_advance_speed": [800.0, 1500.0, 3000.0],
    "spec_advance_min": [8.0, 16.0, 26.0],
    "spec_advance_max": [14.0, 22.0, 32.0],
}
_WORDS: dict[str, object] = {
    "air_cleaner": "clean",
    "needle": "steady",
    "needle_with_speed": "no change",
    "throttle_held_open": "yes",
    "all_plugs_out": "yes",
    "plug_look": "normal",
    "timing_mark": "steady",
    "advance_unit_moves": "yes",
    "rotor_springs_back": "yes",
    "contacts": "good",
    "spark": "strong",
    "cranking_vacuum_rise": "fast",
    "valve_clearance": "in limits",
    "heat_riser": "free",
}
#: The needle of one or two cylinders drops at each intake stroke; the shop's own figures stand for the
#: vacuum.
_FEW_CYLINDERS: dict[str, object] = {
    "needle": "evenly spaced drops",
    "spec_cranking_vacuum_min": 6.0,
    "cranking_vacuum": 8.0,
    "raised_vacuum_start": None,
    "raised_vacuum_held": None,
    "snap_vacuum_low": None,
    "snap_vacuum_high": None,
}


def sound_again(shape: Shape) -> dict[str, object]:
    """What a sound engine reads on sheet Recheck, by cell; its gas at the raised speed."""
    sound, found = healthy(shape), dict[str, object]()
    for name in filter(is_taken_again, the_form.fields()):
        reading = sound.get(before_of(name))
        if reading is not None and the_form.repeats()[name] == "job" and isinstance(reading, list):
            reading = reading[-1]
        found |= {} if reading is None else spread(shape, name, reading)
    return found


def _cylinders(shape: Shape) -> Iterable[int]:
    return range(1, shape.cylinders + 1)


def _site(shape: Shape, elevation_ft: int) -> float:
    return float(elevation_ft) if shape.units == "us" else round(elevation_ft * 0.3048, 1)


def _in_units(shape: Shape, name: str, reading: object) -> object:
    """A US reading in the shape's units, to four figures."""
    measure = the_form.items()[name][0].measure
    if shape.units == "us" or measure.us == measure.metric or isinstance(reading, str) or reading is None:
        return reading
    if isinstance(reading, list):
        return [_in_units(shape, name, each) for each in reading]
    return float(f"{convert(float(reading), measure.us, measure.metric):.4g}")  # type: ignore[arg-type]
