"""Every sentence of a judgement reads as plain words: findings, discrepancies, tests owed, rules, causes.

The judgements are those of all whole-job cases and of seeded random forms; where in the program a sentence was made
is noted, so that one that nobody brings about is found.
"""

from __future__ import annotations

import ast
import random
import sys
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import workbook_tools.diagnose
from tests.support.cases import cases, judged
from tests.support.filled import diagnosis_of, filled, form_with, shape_of
from tests.support.random_readings import random_entries
from tests.test_messages import is_plain
from workbook_tools.diagnose import model
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.model import DISCREPANCY_KINDS, Diagnosis
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.rules import RULES
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.sheets.cautions import CAUTIONS

DIAGNOSE = Path(workbook_tools.diagnose.__file__).parent
MADE = ("Draft", "Discrepancy")
RANDOM_FORMS = 60
#: What is said of an engine depends on whether it has one cylinder, two or more, one bank or two, and on its units.
SHAPES = [shape_of(1), shape_of(2, "metric"), shape_of(4), shape_of(6, "metric"), shape_of(8)]
#: Found only beside a specs book or in a register of several jobs, and tested there.
ELSEWHERE = {"limit_changed", "duplicate_job"}


@cache
def judgements() -> tuple[tuple[Diagnosis, ...], frozenset[tuple[str, int]]]:
    """Judgements of all sorts of jobs, and where in the program their sentences were made: file and line."""
    places: set[tuple[str, int]] = set()
    with pytest.MonkeyPatch.context() as patch:
        for name in MADE:
            patch.setattr(getattr(model, name), "__init__", noting(getattr(model, name).__init__, places))
        # By shape: a form's formulas are made ready once for all jobs of a shape that follow each other.
        found = [judged(case) for case in sorted(cases(), key=lambda case: str(case.shape)) if not case.alter]
        for shape in SHAPES:
            for seed in range(RANDOM_FORMS // len(SHAPES)):
                entries = random_entries(shape, random.Random(f"{shape} {seed}"))
                found.append(diagnose(form_with(shape, entries)))
        found += odd_jobs()
    return tuple(found), frozenset(places)


def odd_jobs() -> Iterator[Diagnosis]:
    """What neither the cases nor chance bring about."""
    yield diagnosis_of(healthy_engine=True, date_in="2026-03-31", date_out="2026-03-01")
    yield diagnosis_of(healthy_engine=True, leakdown={1: 0.25})
    yield diagnosis_of(healthy_engine=True, date_in="2026-03-31", vehicle_year=2031)
    yield diagnosis_of(healthy_engine=True, concluded_cause={1: "worn_rings"}, concluded_cylinders={1: "9"})
    unmoved = {"advance_unit_moves": "no", "manifold_vacuum_then": None}
    yield diagnosis_of(healthy_engine=True, **unmoved, advance_line_vacuum=0)
    yield diagnosis_of(
        healthy_engine=True, concluded_cause={1: "worn_rings"}, concluded_cylinders={1: "the last"}
    )
    gases = {f"gas_{name}": None for name in ("co", "co2", "hc", "o2")}
    yield diagnosis_of(healthy_engine=True, **gases, plug_look="blistered white", running_vacuum=None)
    yield diagnosis_of(healthy_engine=True, **gases, plug_look="dry soot", running_vacuum=None)
    yield from altered_jobs()


def altered_jobs() -> Iterator[Diagnosis]:
    """Forms whose computed cells, names or identity were changed: one, and a great many."""
    form = filled(healthy_engine=True, quantity={1: 2}, unit_price={1: 10}, work={1: "Points set"})
    results, entries = list(form.computed), list(form.inputs)
    bill = [name for name in results if form.cells[name].form.item.money]  # type: ignore[union-attr]
    for changed in (results[:1], results[:40], bill[-1:]):
        yield diagnose(with_cells(form, changed, raw=7.0, formula=None))
        yield diagnose(with_cells(form, changed, raw=7.0))
        yield diagnose(with_cells(form, changed, raw=None))
        yield diagnose(with_cells(replace(form, form_version=form.form_version - 1), changed, formula="=1+1"))
    for lost in (entries[:1], entries[:40]):
        yield diagnose(with_cells(form, lost, by_name=False))
        yield diagnose(replace(form, lost=tuple(lost)))
        yield diagnose(replace(form, lost=tuple(lost), form_version=form.form_version - 1))
    yield diagnose(replace(form, without_choices=("Job",), without_highlights=("Vacuum", "Ignition")))
    yield diagnose(replace(form, changed_identity=(("cylinder_count", "6", "4"), ("form_version", "9", "8"))))


def with_cells(form: FilledForm, names: list[str], **changes: object) -> FilledForm:
    """The form with some of its cells changed alike."""
    cells = {name: form.cells[name]._replace(**changes) for name in names}  # type: ignore[arg-type]
    return replace(form, cells={**form.cells, **cells})


def noting(real: object, places: set[tuple[str, int]]) -> object:
    """An `__init__` that notes where it was called from."""

    def init(self: object, *arguments: object, **named: object) -> None:
        frame = sys._getframe(1)
        places.add((frame.f_code.co_filename, frame.f_lineno))
        real(self, *arguments, **named)  # type: ignore[operator]

    return init


def sentences(found: Diagnosis) -> Iterator[str]:
    """All that a judgement says in sentences."""
    yield found.headline
    for finding in found.findings:
        yield finding.statement
        yield as_sentence(finding.next_step)
    yield from (each.message for each in found.discrepancies)
    yield from (each.why for each in found.missing)


def as_sentence(step: str) -> str:
    """A next step stands in a box of its own and needs no full stop there."""
    return step if step.endswith(".") else f"{step}."


def test_every_sentence_of_a_judgement_is_plain() -> None:
    """Each ends with a full stop and has no word of a programmer's; a discrepancy names its cell."""
    found, _ = judgements()
    said = {sentence for each in found for sentence in sentences(each)}
    assert len(said) > 500
    assert [wrong for sentence in sorted(said) for wrong in is_plain(sentence)] == []
    for each in (discrepancy for judgement in found for discrepancy in judgement.discrepancies):
        assert each.cell.partition(", ")[0] in each.message or each.field in each.message, each


def test_every_kind_rule_and_place_is_brought_about() -> None:
    """Each kind of discrepancy, each rule, and each place in the program that makes a finding or discrepancy is met."""
    found, places = judgements()
    kinds = {each.kind for judgement in found for each in judgement.discrepancies}
    assert set(DISCREPANCY_KINDS) - kinds - ELSEWHERE == set()
    rules = " ".join({each.rule for judgement in found for each in judgement.findings})
    assert [
        name
        for name, rule in RULES.items()
        if not any(said in rules for said in (name, rule.said("us"), rule.said("metric")))
    ] == []
    missing = [
        f"{Path(file).name}:{first}"
        for file, first, last in makers()
        if Path(file).stem != "limits"
        and not any(place == file and first <= line <= last for place, line in places)
    ]
    assert missing == []


def makers() -> Iterator[tuple[str, int, int]]:
    """Where findings and discrepancies are made: file, first and last line."""
    for path in sorted(DIAGNOSE.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in MADE:
                yield str(path), node.lineno, node.end_lineno or node.lineno


@pytest.mark.parametrize("name", sorted(CAUSES))
def test_what_is_told_of_a_cause_is_plain(name: str) -> None:
    """The next step is a sentence, and the caution one that the form knows."""
    cause = CAUSES[name]
    assert is_plain(as_sentence(cause.next_step)) == []
    assert [line for name in cause.caution.split("+") if name for line in is_plain(CAUTIONS[name])] == []


@pytest.mark.parametrize("name", sorted(RULES))
def test_a_rule_is_a_plain_sentence(name: str) -> None:
    """What a rule says is a sentence, and its source is named."""
    assert is_plain(RULES[name].said()) == []
    assert RULES[name].source
