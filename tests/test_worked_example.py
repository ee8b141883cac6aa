"""docs/how-it-judges.md: every number of its worked example is what the program makes of the sample job today.

The tables of the page are its claim. Each row names cells by their names; the numbers beside them are held against
the program, and the arithmetic in words is done again from the numbers as they are printed.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Iterator
from pathlib import Path
from statistics import median

from tests.support.filled import defaults, form_with
from tests.support.make_samples import entries, jobs
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.diagnose.model import Diagnosis
from workbook_tools.form import the_form
from workbook_tools.generate.workbook import shape_for
from workbook_tools.language.constants import CONSTANTS
from workbook_tools.language.model import Field, Shape, Value
from workbook_tools.read.filled_form import FilledForm

PAGE = Path(__file__).parents[1] / "docs" / "how-it-judges.md"
HEAD = "## A worked example: job "
NAME = re.compile(r"`(\w+)`")
NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?")
_PAIR = re.compile(r"`(\w+)` = ([^,]+)")
COMPARED = ("<", ">", "=")
SIGNS = {"×": "*", "÷": "/", "−": "-", "^": "**"}


def example() -> str:
    """The worked example, from its head to the end of the page."""
    text = PAGE.read_text(encoding="utf-8")
    return text[text.index(HEAD) :]


# --- the job ------------------------------------------------------------------------------------------------


@functools.cache
def sample(number: str) -> tuple[Shape, dict[str, object]]:
    """Shape and readings of the sample job of that number, the form's own figures included."""
    (job,) = [each for each in jobs() if each.file.startswith(f"{number}-")]
    shape = shape_for(job.cylinders, job.banks, job.units, job.currency)
    return shape, defaults(shape) | entries(job)


@functools.cache
def own_figures(shape: Shape) -> dict[str, object]:
    """What stands in a new form: common practice."""
    return defaults(shape)


@functools.cache
def form_of(number: str, changes: tuple[tuple[str, object], ...] = ()) -> FilledForm:
    """The job's filled form, some readings changed."""
    shape, typed = sample(number)
    return form_with(shape, typed | dict(changes))


@functools.cache
def judged(number: str, changes: tuple[tuple[str, object], ...] = ()) -> Diagnosis:
    """What the program says of it."""
    return diagnose(form_of(number, changes))


class Job:
    """The program's values by name: readings, results and constants."""

    def __init__(self, number: str, changes: tuple[tuple[str, object], ...] = ()) -> None:
        self.shape, self.typed = sample(number)
        self.cells = form_of(number, changes).cells
        self.diagnosis = judged(number, changes)

    def value(self, name: str) -> Value:
        """A cell's value, or a constant's; fails for a name that is neither."""
        if name in CONSTANTS:
            return CONSTANTS[name].value(self.shape.units)
        raw = self.cells[name].raw
        return None if raw in (None, "") else raw  # type: ignore[return-value]

    def says(self, name: str, written: str) -> bool:
        """Whether the page's `76 psi`, `exhaust` or `–` is what the program holds, as exactly as it is written."""
        value = self.value(name)
        if value is None or isinstance(value, str):
            return written == (value or "–")
        unit = "" if name in CONSTANTS else self.cells[name].form.item.measure.unit(self.shape.units)
        number, _, unit_written = written.partition(" ")
        return bool(NUMBER.fullmatch(number)) and agrees(float(value), number) and unit == unit_written


def agrees(value: float, written: str) -> bool:
    """Whether a value rounds to the number as written."""
    decimals = len(written.partition(".")[2])
    return math.isclose(value, float(written), rel_tol=0, abs_tol=0.5 * 10**-decimals + 1e-9)


# --- the page -----------------------------------------------------------------------------------------------


def problems(text: str) -> list[str]:
    """Every row and line of the example that the program does not bear out."""
    number = text.removeprefix(HEAD).split("\n", 1)[0]
    if number not in {job.file[:5] for job in jobs()}:
        return [f"no sample job {number}"]
    job = Job(number)
    found: list[str] = []
    for table in tables(text):
        head, *rows = table
        found += [f"{head}: {row}" for row in rows if not row_holds(job, number, head, row)]
        found += [] if table_is_whole(job, head, rows) else [f"{head}: rows are missing"]
    quotes = re.findall(r"^> (.+)$", text, re.MULTILINE)
    found += [] if told(job.diagnosis) == quotes else [f"findings: {quotes}"]
    outside = "\n".join(line for line in text.splitlines()[1:] if not line.startswith(("|", ">")))
    return found + [f"a number outside the tables: {each}" for each in re.findall(r"\d+", outside)]


def tables(text: str) -> Iterator[list[list[str]]]:
    """The tables, each a list of rows of cells, the head first."""
    for block in re.findall(r"(?:^\|.*\n?)+", text, re.MULTILINE):
        rows = [[cell.strip() for cell in line.strip()[1:-1].split("|")] for line in block.splitlines()]
        yield [rows[0], *rows[2:]]


def row_holds(job: Job, number: str, head: list[str], row: list[str]) -> bool:
    """Whether one row of a table is true, by what its table is about."""
    match head:
        case ["Reading", *numbers] if len(numbers) > 1:
            names = [f"{NAME.fullmatch(row[0])[1]}_{n}" for n in job.shape.numbers("cylinder")]
            return all(job.says(name, written) for name, written in zip(names, row[1:], strict=True))
        case ["Reading" | "Evidence", *_]:
            return job.says(NAME.fullmatch(row[0])[1], row[1]) and not any(map(loose_numbers, row[2:]))
        case ["Limit", *_]:
            name = NAME.fullmatch(row[0])[1]
            is_default = own_figures(job.shape)[name] == job.typed[name]
            return job.says(name, row[1]) and row[2] == ("common practice" if is_default else "sheet Engine")
        case ["Result" | "Sign", *_]:
            return worked_out(job, *row)
        case ["System", _]:
            return job.diagnosis.states.get(row[0]) == row[1]  # type: ignore[call-overload]
        case ["If instead", *_]:
            return overturned(number, job.shape, *row)
    return False


def table_is_whole(job: Job, head: list[str], rows: list[list[str]]) -> bool:
    """Whether a table has the cylinders, all evidence or all systems, where it is about these."""
    if head[0] == "Reading" and len(head) > 2:
        return head[1:] == [f"Cylinder {n}" for n in job.shape.numbers("cylinder")]
    if head[0] == "Evidence":
        (finding,) = job.diagnosis.findings
        return [NAME.fullmatch(row[0])[1] for row in rows] == [each.field for each in finding.evidence]
    if head[0] == "System":
        return [row[0] for row in rows] == list(job.diagnosis.states)
    return True


def worked_out(job: Job, result: str, by_name: str, in_numbers: str) -> bool:
    """Whether the numbers are those of the names, the sum comes out, and the program has the same result."""
    name = NAME.fullmatch(result)
    names = NAME.findall(by_name)
    if not names:
        return name is not None and job.says(name[1], in_numbers) and not loose_numbers(by_name)
    if any(sign in by_name for sign in COMPARED):
        sums, _, outcome = in_numbers.partition(": ")
        holds = bool(calculated(sums))
    else:
        sums, _, outcome = in_numbers.rpartition(" = ")
        holds = agrees(float(calculated(sums)), outcome.partition(" ")[0])
    same = name is None or job.says(name[1], outcome)
    return holds and same and numbers_are_of(job, by_name, sums) and skeleton(by_name) == skeleton(sums)


def numbers_are_of(job: Job, by_name: str, sums: str) -> bool:
    """Whether the numbers of a sum are, one by one, what its names and numbers stand for."""
    meant = [job.value(name) if name else float(number) for name, number in _terms(by_name)]
    written = NUMBER.findall(sums)
    return len(meant) == len(written) and all(
        isinstance(value, float | int) and agrees(float(value), each)
        for value, each in zip(meant, written, strict=True)
    )


def _terms(by_name: str) -> list[tuple[str, str]]:
    return re.findall(rf"`(\w+)`|({NUMBER.pattern})", by_name)


def skeleton(sums: str) -> str:
    """A sum without its names and numbers: what is done with them."""
    return re.sub(rf"`\w+`|{NUMBER.pattern}", "x", sums)


def calculated(sums: str) -> float:
    """What a printed sum comes to."""
    for sign, python in SIGNS.items():
        sums = sums.replace(sign, python)
    assert re.fullmatch(r"(?:max|min|median|[\d.\s()+*/<>=,-])+", sums), sums
    return eval(sums, {"__builtins__": {}}, {"max": max, "min": min, "median": lambda *x: median(x)})


def overturned(number: str, shape: Shape, changes: str, says: str, because: str) -> bool:
    """Whether the changed readings give the findings named, and the results that explain them."""
    changed = tuple((name, _typed(name, written, shape)) for name, written in _pairs(changes))
    job = Job(number, changed)
    same = all(job.says(name, written) for name, written in _pairs(because))
    same = same and not loose_numbers(_PAIR.sub("", because))
    return bool(changed) and same and told(job.diagnosis) == says.split("<br>")


def _pairs(text: str) -> list[tuple[str, str]]:
    return _PAIR.findall(text)


def loose_numbers(text: str) -> list[str]:
    """Numbers in words about a row, where nothing holds them."""
    return re.findall(r"\d+", text)


def _typed(name: str, written: str, shape: Shape) -> object:
    item = the_form.cells(shape)[name].item
    assert isinstance(item, Field)
    if written == "–":
        return None
    number, _, unit = written.partition(" ")
    if item.kind == "choice":
        return written
    assert unit == item.measure.unit(shape.units), written
    return float(number)


def told(diagnosis: Diagnosis) -> list[str]:
    """All findings in the words of the page."""
    return [
        f"**{each.strength}{', provisional' if each.provisional else ''}**: {each.statement}"
        for each in diagnosis.findings
    ]


# --- the tests ----------------------------------------------------------------------------------------------


def test_example_is_what_the_program_says() -> None:
    """Readings, limits, sums, findings, evidence, states and what would overturn them are the program's own."""
    assert problems(example()) == []


def test_example_has_no_discrepancy() -> None:
    """The page says that the technician's conclusion stands and that nothing else is amiss."""
    assert judged("S-101").discrepancies == ()


def test_every_number_of_the_example_is_held() -> None:
    """Any one digit group of the example changed by one in its last place is found out."""
    text = example()
    places = [match for match in re.finditer(r"\d+(?:\.\d+)?", text) if not in_a_name(text, match.start())]
    assert len(places) > 150
    unnoticed = []
    for match in places:
        last = str((int(match[0][-1]) + 1) % 10)
        changed = text[: match.end() - 1] + last + text[match.end() :]
        if not problems_or_refusal(changed):
            unnoticed.append(text[max(0, match.start() - 40) : match.end() + 10])
    assert unnoticed == []


def problems_or_refusal(text: str) -> list[str]:
    """The problems of a changed page; a page that can't even be worked out has one."""
    try:
        return problems(text)
    except (AssertionError, KeyError, ValueError) as refusal:
        return [repr(refusal)]


def in_a_name(text: str, place: int) -> bool:
    """Whether a digit is part of a cell's name."""
    line_start = text.rfind("\n", 0, place) + 1
    return text.count("`", line_start, place) % 2 == 1
