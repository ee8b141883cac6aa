"""The reference pages, written from the form and the rules themselves, so that they can't say something else.

write_reference(folder)     fields.md and rules.md in that folder
fields_page(), rules_page() their text
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path

from workbook_tools.diagnose.model import DISCREPANCY_KINDS
from workbook_tools.errors import UnusableFile
from workbook_tools.faults.causes import CAUSES
from workbook_tools.faults.rules import RULES
from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHEETS
from workbook_tools.form.ranges import default_for, is_cause_list, plausible_range
from workbook_tools.language.constants import CONSTANTS
from workbook_tools.language.model import (
    SYSTEMS,
    WITH_ITEMS,
    Board,
    Field,
    Item,
    Limits,
    Measure,
    Part,
    Per,
    Result,
    Shape,
    Sheet,
)
from workbook_tools.language.prose import help_of
from workbook_tools.language.sentences import Sentences
from workbook_tools.package.safe_write import replace_file
from workbook_tools.sheets.cautions import CAUTIONS, DEFER

#: The engine that defaults and layout-dependent formulas are shown for, and the repeat they are shown at.
SHOWN_US = Shape(4, ((1, 2, 3, 4),), "us")
SHOWN_METRIC = Shape(4, ((1, 2, 3, 4),), "metric")
SHOWN_NUMBER = 2

MADE_BY = "<!-- Written by `engine-check reference docs`. Change the form or the rules, and run it again. -->"

FIELDS_HEAD = """# Fields

Every cell that the form asks for or computes, sheet by sheet, by its defined name. These are the names for
the rows `field,value` of `engine-check fill`, and what the findings and the JSON output call a cell.

- *Each* says what a field repeats over: a name that repeats ends in its number (`compression_dry_3`).
- Ranges are what is believed at all, not what is good: an entry outside is reported and not used.
- A reading with limits also has the computed cells `low_limit_NAME`, `high_limit_NAME`, `margin_NAME`,
  `band_NAME` and `mark_NAME` (the repeat number goes last).
- *What it is* and the formula come from the same expression; names in italics are labels of the form. In a
  formula `all_NAME` is the whole column. Formulas and defaults are shown for four cylinders in line, US units,
  at number 2.
"""

RULES_HEAD = """# Rules

How readings are judged: the figures, the rules that findings name, every cause, and every kind of
discrepancy. A source "common practice, no source" means just that; a shop's own figures on sheet Engine go
before all of these.

- *Strength*: confirmed (the deciding test was made and agrees), indicated (two or more signs, deciding test
  not made), possible (one sign). *Provisional* is added while something that comes earlier in the order of
  proof is not proven.
- *Order of proof*: readiness, compression, ignition, fuel and air.
- *Marks*: in limits, near limit, out of limits, not taken, no limit given. Without a gauge tolerance a reading
  inside a limit by no more than a tenth of the allowed width is near (3 % of the limit where there is only one;
  temperatures: 5 deg F, 3 deg C); with one, a reading closer to the limit than the tolerance is near (decision
  rule of ISO 14253-1; JCGM 106:2012).
- *All clear*: "No fault found" is said only where all four systems are proven, no mark is out of limits, the
  needle is steady, every plug is normal and nothing was seen or heard; otherwise each of these is named. A
  complaint that no finding explains is named too.
- *As far as the figures go*: a reading was made, but nothing says what it should be. Work goes on; the figures
  are named.
- *Explains*, in the tables of causes: the complaints that a cause can give (common practice, no source).
"""

FIELD_HEADS = (
    "Asked",
    "Label",
    "Each",
    "Kind",
    "Unit",
    "Believed, US",
    "Believed, metric",
    "Default",
    "Judged by",
    "Help",
)
RESULT_HEADS = ("Computed", "Label", "Each", "Unit", "Note", "What it is", "Formula")
CAUSE_HEADS = (
    "Cause",
    "Shown as",
    "Decided by",
    "Supported by",
    "Spoken against by",
    "Explains",
    "Next step",
    "Caution",
)


def write_reference(folder: str | Path) -> list[Path]:
    """Write `fields.md` and `rules.md` into `folder`, made where it is missing; return their paths.

    Raises UnusableFile where they can't be written.
    """
    home = Path(folder)
    try:
        home.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise UnusableFile(
            f"The folder {home} can't be made ({problem.strerror}); choose another."
        ) from problem
    pages = {"fields.md": fields_page(), "rules.md": rules_page()}
    for name, text in pages.items():
        replace_file(home / name, text.encode())
    return [home / name for name in pages]


def fields_page() -> str:
    """The field reference as Markdown."""
    return _joined([MADE_BY, FIELDS_HEAD, *(text for sheet in SHEETS for text in _sheet(sheet))])


def rules_page() -> str:
    """The rule reference as Markdown."""
    figures = [
        (f"`{name}`", f"{each.us:.10g}", f"{each.metric:.10g}", each.meaning, each.source)
        for name, each in CONSTANTS.items()
    ]
    rules = [(name, rule.said(), rule.source_in()) for name, rule in RULES.items()]
    kinds = [(f"`{kind}`", meaning) for kind, meaning in DISCREPANCY_KINDS.items()]
    return _joined(
        [
            MADE_BY,
            RULES_HEAD,
            "## Figures",
            _table(("Name", "US", "Metric", "Meaning", "Source"), figures),
            "## Rules",
            _table(("Rule", "Says", "Source"), rules),
            "## Causes",
            *_causes(),
            "## Discrepancies",
            _table(("Kind", "Meaning"), kinds),
            "## Cautions",
            _table(("Step", "Caution"), list(CAUTIONS.items())),
            DEFER,
        ]
    )


# --- sheets ---------------------------------------------------------------------------------------


def _sheet(sheet: Sheet) -> Iterator[str]:
    yield f"## {sheet.name}"
    yield f"{sheet.purpose} ({sheet.cost}.)"
    for part in sheet.parts:
        yield from _part(part)


def _part(part: Part) -> Iterator[str]:
    if not isinstance(part, WITH_ITEMS):
        return
    items: Sequence[Item] = part.items
    if part.title:
        yield f"### {part.title}"
    if not isinstance(part, Board):
        if part.what_to_do:
            yield part.what_to_do
        if part.cautions:
            yield "Cautions here: " + ", ".join(part.cautions) + "."
    fields = [item for item in items if isinstance(item, Field)]
    results = [item for item in items if isinstance(item, Result)]
    if fields:
        yield _table(FIELD_HEADS, [_field_row(field) for field in fields])
    if results:
        yield _table(RESULT_HEADS, [_result_row(r) for r in results])


def _field_row(field: Field) -> tuple[str, ...]:
    kind = " / ".join(field.choices) if field.choices and not is_cause_list(field) else field.kind
    kind = "cause" if is_cause_list(field) else kind
    return (
        f"`{field.name}`",
        field.label,
        _each(field.per),
        kind,
        _unit(field.measure),
        _range(field, SHOWN_US),
        _range(field, SHOWN_METRIC),
        _default(field),
        _limits(field.limits),
        help_of(field, None),
    )


def _result_row(result: Result) -> tuple[str, ...]:
    return (
        f"`{result.name}`",
        result.label,
        _each(result.per),
        "share" if result.percent else _unit(result.measure),
        result.help,
        _sentences().say(result.expression),
        f"`{_formula(result)}`",
    )


@lru_cache(maxsize=1)
def _sentences() -> Sentences:
    return Sentences({name: item.label for name, (item, _) in the_form.items().items()})


def _formula(result: Result) -> str:
    """As it stands in the form of the engine that is shown."""
    return the_form.formula_of(result, SHOWN_US, None if result.per == "job" else SHOWN_NUMBER)


def _each(per: Per) -> str:
    if per == "job":
        return ""
    return "cylinder" if per == "cylinder" else f"1 to {per}"


def _unit(measure: Measure) -> str:
    return measure.us if measure.us == measure.metric else f"{measure.us} or {measure.metric}"


def _range(field: Field, shape: Shape) -> str:
    low, high = plausible_range(field, shape.units)
    if low is None and high is None:
        return ""
    if low is None or high is None:
        return f"at least {low:g}" if high is None else f"at most {high:g}"
    return f"{low:.10g} to {high:.10g}"


def _default(field: Field) -> str:
    us, metric = default_for(field, SHOWN_US), default_for(field, SHOWN_METRIC)
    if us is None:
        return ""
    return _plain(us) if us == metric else f"{_plain(us)} or {_plain(metric)}"


def _plain(value: float | str | None) -> str:
    return f"{value:.10g}" if isinstance(value, (int, float)) else str(value or "")


def _limits(limits: Limits | None) -> str:
    if limits is None:
        return ""
    named = {
        "not below": limits.low,
        "or": limits.floor,
        "not above": limits.high,
        "give or take": limits.tolerance,
    }
    return ", ".join(f"{words} `{name}`" for words, name in named.items() if name)


# --- rules ----------------------------------------------------------------------------------------


def _causes() -> Iterator[str]:
    for system in SYSTEMS:
        yield f"### {system.capitalize()}"
        rows = [
            (
                f"`{cause.id}`",
                cause.shown_as,
                cause.in_units("decided_by"),
                cause.in_units("supported_by"),
                cause.in_units("spoken_against_by"),
                ", ".join(cause.complaints),
                cause.next_step,
                cause.caution.replace("+", ", "),
            )
            for cause in CAUSES.values()
            if cause.system == system
        ]
        yield _table(CAUSE_HEADS, rows)


# --- Markdown -------------------------------------------------------------------------------------


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table without the columns that are empty in every row."""
    rows = list(rows)
    kept = [column for column in range(len(heads)) if any(row[column] for row in rows)]
    lines = [[heads[column] for column in kept], ["---"] * len(kept)]
    lines += [[_cell(row[column]) for column in kept] for row in rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def _joined(texts: Iterable[str]) -> str:
    return "\n\n".join(text.strip() for text in texts) + "\n"
