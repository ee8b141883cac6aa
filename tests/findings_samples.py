"""Invented diagnoses on real forms for the tests of the findings sheet, and ways to look at it.

The engines, readings and words are made up; the vocabulary, rules and cautions are the project's own.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from openpyxl.worksheet.worksheet import Worksheet

from tests.support.one_sheet import sheet_in
from workbook_tools.diagnose.model import (
    DISCREPANCY_KINDS,
    Computed,
    Diagnosis,
    Discrepancy,
    Evidence,
    Finding,
    Mark,
    OwedTest,
    RepairProof,
    Retaken,
    Strength,
)
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.rules import RULES
from workbook_tools.generate.workbook import new_workbook
from workbook_tools.language.constants import PRACTICE
from workbook_tools.language.model import SYSTEMS
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.read.workbook import read_workbook
from workbook_tools.report.findings_sheet import findings_book
from workbook_tools.sheets.cautions import CAUTIONS

CHECKED_AT = dt.datetime(2026, 3, 4, 17, 45)
DRY = (150.0, 148.0, 96.0, 149.0)
WET = (None, 155.0, 99.0, None)
ENTRIES = {
    "job_number": "P-1041",
    "engine_name": "Pump engine (invented)",
    "vacuum_gauge_id": "V-2",
    "compression_gauge_tolerance": 3,
    "gauges_checked_on": dt.date(2026, 1, 15),
}


def form_of(path: Path, cylinders: int = 4, **entries: object) -> FilledForm:
    """A form written and read back, with the usual readings of four cylinders unless others are given."""
    readings = {f"compression_dry_{n}": value for n, value in enumerate(DRY, 1)}
    readings |= {f"compression_wet_{n}": value for n, value in enumerate(WET, 1)}
    usual = ENTRIES | {name: value for name, value in readings.items() if value is not None}
    new_workbook(path, cylinders=cylinders, prefill=usual | entries)
    return read_workbook(path)


def evidence(form: FilledForm, *names: str) -> tuple[Evidence, ...]:
    """Cells of the form as evidence, with the values that they hold."""
    found = []
    for name in names:
        cell = form.cells[name]
        unit = cell.form.item.measure.unit(form.shape.units)
        found.append(Evidence(name, cell.where, cell.raw, unit))  # type: ignore[arg-type]
    return tuple(found)


def finding(
    form: FilledForm,
    cause: str = "leaking_valve",
    cylinders: tuple[int, ...] = (3,),
    strength: Strength = "confirmed",
    provisional: bool = False,
    statement: str = "Cylinder 3 is low, and oil changed little: a burned or leaking valve.",
    cells: Sequence[str] = ("compression_dry_3", "compression_wet_3"),
) -> Finding:
    """One finding with its cause's own next step and caution."""
    known, rule = CAUSES[cause], RULES["wet test gains little"]
    return Finding(
        cause, known.system, cylinders, strength, provisional, statement, evidence(form, *cells),
        rule.said("us"), rule.source_in("us"), known.next_step, CAUTIONS.get(known.caution, ""),
    )  # fmt: skip


def discrepancy(
    form: FilledForm, kind: str, name: str, found: str = "9.8 bar", expected: str = "142 psi"
) -> Discrepancy:
    """One discrepancy at a cell of the form."""
    message = f"{form.where(name)}: {DISCREPANCY_KINDS[kind]}; look at the gauge again."
    return Discrepancy(kind, name, form.where(name), found, expected, message)


def bare(form: FilledForm, **more: object) -> Diagnosis:
    """A diagnosis without anything found."""
    plain = Diagnosis(
        workbook=form.path.name,
        job_number="P-1041",
        form_version=form.form_version,
        headline="No fault found so far; readiness is not proven yet.",
        states={system: "not proven yet" for system in SYSTEMS},
        findings=(),
        discrepancies=(),
        missing=(),
        computed=(),
        marks=(),
        digest="0" * 64,
    )
    return replace(plain, **more)  # type: ignore[arg-type]


def burned_valve(form: FilledForm) -> Diagnosis:
    """An engine with a burned valve in cylinder 3, one doubtful entry, two tests owed and a repair."""
    return bare(
        form,
        headline="Found: burned or leaking valve (cylinder 3).",
        states={"readiness": "proven", "compression": "fault found", "ignition": "not proven yet",
                "fuel and air": "not proven yet"},
        findings=(
            finding(form),
            finding(form, "late_timing", (), "possible", True, "The needle is low.", ("needle", "timing")),
        ),
        discrepancies=(
            discrepancy(form, "unit_doubt", "compression_first_2"),
            Discrepancy("formula_replaced", "compression_highest", form.where("compression_highest"),
                        "155", "", "A computed cell was typed over."),
        ),
        missing=(
            OwedTest("timing", ("timing", "timing_speed"), "Ignition is not judged without it."),
            OwedTest("fuel pressure", ("fuel_pressure",), "The pump is not judged without it."),
        ),
        computed=(
            Computed("compression_lowest", form.where("compression_lowest"), "psi", 96.0, 96.0, True),
            Computed("compression_highest", form.where("compression_highest"), "psi", 155.0, 150.0, False),
            *(Computed(f"compression_is_low_{n}", form.where(f"compression_is_low_{n}"), "", word, word, True)
              for n, word in enumerate(("sound", "sound", "low", "sound"), 1)),
            Computed("compression_low_line", form.where("compression_low_line"), "psi", 140.0, 140.0, True),
            Computed("compression_counts", form.where("compression_counts"), "", "yes", "yes", True),
        ),
        marks=tuple(
            Mark(f"compression_dry_{n}", form.where(f"compression_dry_{n}"),
                 "out of limits" if value < 140 else "in limits", value, 140.0, None, "psi", PRACTICE)
            for n, value in enumerate(DRY, 1)
        ),
        retaken=(Retaken("compression_dry_3", 96.0, "out of limits", 147.0, "in limits", "psi"),),
        repairs=(
            RepairProof("leaking_valve", "Ground the valve", "proven", evidence(form, "compression_dry_3")),
        ),
        notes=("Readings of cylinder 2 look as if taken in bar.",),
    )  # fmt: skip


def many(form: FilledForm, words: str) -> Diagnosis:
    """Every cause, kind of discrepancy and state of a repair at once, with `words` in all texts."""
    strengths: tuple[Strength, ...] = ("confirmed", "indicated", "possible")
    cells = [f"compression_dry_{n}" for n in range(1, form.shape.cylinders + 1)]
    causes = sorted(CAUSES.values(), key=lambda cause: SYSTEMS.index(cause.system))
    plain = burned_valve(form)
    return replace(
        plain,
        headline=f"Found: {words}",
        findings=tuple(
            finding(form, cause.id, (1, 2), strengths[n % 3], n % 2 == 0, words, cells[: n % 5])
            for n, cause in enumerate(causes)
        ),
        discrepancies=tuple(
            replace(discrepancy(form, kind, cells[0], words, words), message=words)
            for kind in DISCREPANCY_KINDS
        ),
        missing=tuple(OwedTest(words, (name,), words) for name in cells[:2]),
        repairs=tuple(
            RepairProof("late_timing", words, verdict, ())
            for verdict in ("proven", "not proven", "not retaken")
        ),
        notes=(words,),
    )


def sheet_bytes(diagnosis: Diagnosis, form: FilledForm, answers: Mapping[str, str] | None = None) -> bytes:
    """The findings book of a diagnosis, at a fixed time."""
    return findings_book(
        diagnosis, form, answers=answers or {}, program_version="9.9.9", checked_at=CHECKED_AT
    )


def sheet_of(source: bytes | Path, name: str = "Findings") -> Worksheet:
    """The findings sheet as openpyxl reads it."""
    return sheet_in(source, name)


def texts(sheet: Worksheet) -> list[str]:
    """Every text on the sheet, row by row."""
    return [cell.value for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)]


def answer_cell(sheet: Worksheet, key: str) -> str:
    """Address of the cell where the answer with that key is typed."""
    rows = [cell.row for row in sheet.iter_rows() for cell in row if cell.value == key]
    assert len(rows) == 1, f"{key} stands on {len(rows)} rows"
    return f"B{rows[0]}"


def dump(sheet: Worksheet, form: FilledForm) -> str:
    """The sheet as text: each cell, where it leads, where an answer goes; form cells by their names."""
    names = {cell.where: name for name, cell in form.cells.items()}
    places = re.compile(
        "|".join(re.escape(where) + r"(?!\d)" for where in sorted(names, key=len, reverse=True))
    )
    lines = []
    for row in sheet.iter_rows():
        for cell in row:
            unlocked = not cell.protection.locked and cell.coordinate.rstrip("0123456789") == "B"
            if cell.value is None and not unlocked:
                continue
            line = f"{cell.coordinate:<5} {'' if cell.value is None else cell.value}"
            if cell.hyperlink is not None:
                line += f" -> {cell.hyperlink.location.replace(chr(39), '')}"
            line = places.sub(lambda match: f"[{names[match[0]]}]", line)
            lines.append((line + (" (answer here)" if unlocked else "")).rstrip())
    return "\n".join(lines) + "\n"
