"""Whole-job cases from `tests/cases/*.toml`, and the comparison of what a case expects with what was found.

A case says: `name`; `engine` (cylinders, banks, units, elevation_ft); `start` (tables of `starts.toml`, or "healthy");
`readings` exactly as typed, "(blank)" for an emptied cell; `findings`, `discrepancies`, and `why` from the trade.
The lists are complete: what is not listed must not be found.

    findings        "head_gasket 2 3 confirmed", "timing_suspected possible provisional", "general_wear all confirmed"
    discrepancies   "missing_reading compression_wet_3"; * in a field stands for any text; "A or B" for either
    not_found       causes named for the reader: what a hasty mechanic would have blamed
    evidence        finding to fields that it must rest on         words     finding or field to words it must say
    computed        results to figures                             states    systems to proven, fault found, not proven yet
    headline        words that the answer must have
    owed, owed_not  fields of tests that must, must not be owed    repairs   "late_timing proven"
    alter           what was done to the file after it was saved   file      also run through a real file
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

from tests.support.filled import diagnosis_of, healthy, shape_of, spread
from workbook_tools.diagnose.model import Diagnosis, Finding
from workbook_tools.language.model import Shape

FOLDER = Path(__file__).parent.parent / "cases"
EMPTIED = "(blank)"


@dataclass(frozen=True)
class Case:
    """One whole job: what was measured on which engine, and what must and must not come out of it."""

    name: str
    why: str
    findings: list[str]
    discrepancies: list[str]
    engine: Mapping[str, Any] = field(default_factory=dict)
    start: list[str] = field(default_factory=list)
    readings: Mapping[str, Any] = field(default_factory=dict)
    not_found: list[str] = field(default_factory=list)
    evidence: Mapping[str, list[str]] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    computed: Mapping[str, float] = field(default_factory=dict)
    states: Mapping[str, str] = field(default_factory=dict)
    owed: list[str] = field(default_factory=list)
    owed_not: list[str] = field(default_factory=list)
    repairs: list[str] = field(default_factory=list)
    alter: Mapping[str, Any] = field(default_factory=dict)
    headline: str = ""
    file: bool = False

    @property
    def shape(self) -> Shape:
        """The engine's shape: a US four in line where the case does not say otherwise."""
        return shape_of(
            self.engine.get("cylinders", 4), self.engine.get("units", "us"), self.engine.get("banks")
        )


def cases(*themes: str) -> list[Case]:
    """The cases of the themes (file names without ending), or all; fails for a word that no case knows."""
    paths = sorted(
        path
        for path in FOLDER.glob("*.toml")
        if path.stem != "starts" and (not themes or path.stem in themes)
    )
    return [Case(**entry) for path in paths for entry in tomllib.loads(path.read_text("utf-8"))["case"]]


def typed(case: Case) -> dict[str, object]:
    """The readings of a case by cell name, later ones in place of earlier ones."""
    shape, found = case.shape, {"site_elevation": None}
    elevation = case.engine.get("elevation_ft")
    if elevation is not None:
        found["site_elevation"] = elevation if shape.units == "us" else round(elevation * 0.3048, 1)
    for layer in [*(_start(name, shape, elevation or 0) for name in case.start), case.readings]:
        for name, reading in layer.items():
            found |= spread(shape, name, reading)
    return {name: None if reading == EMPTIED else reading for name, reading in found.items()}


def judged(case: Case) -> Diagnosis:
    """The diagnosis of a case, without a file."""
    return diagnosis_of(**_engine(case.shape), **typed(case))


def _engine(shape: Shape) -> dict[str, Any]:
    banks = " | ".join("-".join(str(number) for number in bank) for bank in shape.banks)
    return {"cylinders": shape.cylinders, "units": shape.units, "banks": banks}


@cache
def _starts() -> dict[str, dict[str, Any]]:
    return tomllib.loads((FOLDER / "starts.toml").read_text("utf-8"))


def _start(name: str, shape: Shape, elevation_ft: int) -> Mapping[str, Any]:
    return healthy(shape, elevation_ft) if name == "healthy" else _starts()[name]


# --- comparison ------------------------------------------------------------------------------------------------------


def differences(case: Case, found: Diagnosis) -> list[str]:
    """What was found otherwise than the case says, in a line each; empty where all is as expected."""
    lines = [_finding_line(each, case.shape) for each in found.findings]
    return [
        *_unmatched("finding", [_any_strength(line, lines) for line in case.findings], lines),
        *_unmatched(
            "discrepancy", case.discrepancies, [f"{each.kind} {each.field}" for each in found.discrepancies]
        ),
        *(f"found all the same: {line}" for line in lines if line.split()[0] in case.not_found),
        *([] if case.headline in found.headline else [f"headline: {found.headline}"]),
        *_evidence(case, found, lines),
        *_words(case, found, lines),
        *_computed(case, found),
        *(
            f"{system} is {found.states[system]}"
            for system, state in case.states.items()
            if found.states[system] != state
        ),
        *_owed(case, found),
        *_unmatched("repair", case.repairs or _repairs(found), _repairs(found)),
    ]


def _finding_line(each: Finding, shape: Shape) -> str:
    """`worn_rings 3 possible provisional`; a cause of the whole engine is said to be of all cylinders."""
    numbers = [str(number) for number in each.cylinders]
    if each.cause in ("general_wear", "valve_timing", "carbon_deposits") and len(numbers) in (
        0,
        shape.cylinders,
    ):
        numbers = ["all"]
    return " ".join([each.cause, *numbers, each.strength, *(["provisional"] if each.provisional else [])])


def _any_strength(line: str, lines: list[str]) -> str:
    """The line with the strength found, where the case leaves it open."""
    if " any" not in line:
        return line
    options = [line.replace(" any", f" {strength}") for strength in ("confirmed", "indicated", "possible")]
    return next((option for option in options if option in lines), line)


def _unmatched(what: str, expected: Iterable[str], found: list[str]) -> list[str]:
    wanted = {line: [option.strip() for option in line.split(" or ")] for line in expected}
    missing = [
        f"{what} not found: {line}"
        for line, options in wanted.items()
        if not any(fnmatchcase(each, option) for each in found for option in options)
    ]
    options = [option for each in wanted.values() for option in each]
    extra = [
        f"{what} not expected: {line}"
        for line in found
        if not any(fnmatchcase(line, option) for option in options)
    ]
    twice = sorted({line for line in found if found.count(line) > 1})
    return [*missing, *extra, *(f"{what} said twice: {line}" for line in twice)]


def _evidence(case: Case, found: Diagnosis, lines: list[str]) -> list[str]:
    said = []
    for start, fields in case.evidence.items():
        for each in [f for f, line in zip(found.findings, lines, strict=True) if line.startswith(start)]:
            lacking = sorted(set(fields) - {evidence.field for evidence in each.evidence})
            said += [f"{start} does not name {name} as evidence" for name in lacking]
    return said


def _words(case: Case, found: Diagnosis, lines: list[str]) -> list[str]:
    texts = dict(zip(lines, (f"{f.statement} {f.next_step}" for f in found.findings), strict=True))
    texts |= {
        f"{each.field} ": f"{each.found} {each.expected} {each.message}" for each in found.discrepancies
    }
    return [
        f"{start} does not say {words!r}: {text}"
        for start, words in case.words.items()
        for line, text in texts.items()
        if line.startswith(f"{start} ") and words.lower() not in text.lower()
    ]


def _computed(case: Case, found: Diagnosis) -> list[str]:
    values = {each.name: each.recomputed for each in found.computed}
    said = []
    for name, figure in case.computed.items():
        value = values[name]
        if not isinstance(value, (int, float)) or abs(value - figure) > 1e-4 * max(1.0, abs(figure)):
            said.append(f"{name} is {value}, not {figure}")
    return said


def _owed(case: Case, found: Diagnosis) -> list[str]:
    fields = {name for each in found.missing for name in each.fields}
    return [
        *(f"not owed: {name}" for name in case.owed if name not in fields),
        *(f"owed all the same: {name}" for name in case.owed_not if name in fields),
    ]


def _repairs(found: Diagnosis) -> list[str]:
    return [f"{each.cause} {each.verdict}" for each in found.repairs]
