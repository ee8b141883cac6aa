"""Is the engine on the form the engine of the shop's specs book? Every figure that differs is said.

A figure that the book leaves blank is common practice: it differs only where the form proposes a figure and another
stands there. A figure that the book does not know at all may be typed from the manual.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from workbook_tools.diagnose.entries import shown
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.errors import BadRequest
from workbook_tools.form.ranges import default_for
from workbook_tools.language.model import Field, Value
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.science.engine_geometry import Banks, banks_text, firing_order_text, parse_firing_order
from workbook_tools.specs.book import EngineSpecs, SpecsBook, name_key, spec_columns

#: Of two figures in one unit system: spreadsheet programs keep 15 digits.
SAME = 1e-9
SHAPE_FIELDS = ("cylinder_count", "cylinder_banks")


def limits_changed(form: FilledForm, book: SpecsBook) -> list[Discrepancy]:
    """A discrepancy for each cell of sheet Engine that differs from the book, or one that the engine is not in the book."""
    name = _typed(form, "engine_name")
    if not isinstance(name, str) or not name.strip():
        message = (
            f"{_place(form, 'engine_name')} names no engine, so the specifications could not be held against {book.path.name}; "
            "write the engine's name as it stands there."
        )
        return [_changed(form, "engine_name", "nothing", "an engine of the specs book", message)]
    try:
        engine = book.engine(name)
    except BadRequest as problem:
        near = ", ".join(book.near(name))
        message = (
            f"{_place(form, 'engine_name')}: {str(problem).rstrip('.')}. The specifications were not held against the book; correct "
            "the name, or add the engine to the book."
        )
        return [_changed(form, "engine_name", name, near or "an engine of the specs book", message)]
    if engine.cylinders is not None and engine.cylinders != form.shape.cylinders:
        # Another engine altogether: every further figure would differ too.
        return [
            _differs(form, engine, book, "cylinder_count", str(form.shape.cylinders), str(engine.cylinders))
        ]
    return [*_other_layout(form, engine, book), *_other_figures(form, engine, book)]


def _other_layout(form: FilledForm, engine: EngineSpecs, book: SpecsBook) -> Iterator[Discrepancy]:
    """Banks and firing order, however they are written."""
    banks, order = _readable(engine)
    if banks is not None and _as_sets(banks) != _as_sets(form.shape.banks):
        yield _differs(form, engine, book, "cylinder_banks", banks_text(form.shape.banks), banks_text(banks))
    typed = _typed(form, "firing_order")
    if order is None or _unreadable(form, "firing_order"):
        return
    try:
        on_form = parse_firing_order(str(typed), form.shape.cylinders) if typed else ()
    except ValueError:
        on_form = ()
    if _from_one(on_form) != _from_one(order):
        yield _differs(
            form, engine, book, "firing_order", shown(typed or "nothing"), firing_order_text(order)
        )


def _readable(engine: EngineSpecs) -> tuple[Banks | None, tuple[int, ...] | None]:
    """Banks and firing order of the book as far as they can be read; the check of the book says what can't."""
    banks = order = None
    with suppress(ValueError):
        banks = engine.banks
    with suppress(ValueError):
        order = engine.firing_order
    return banks, order


def _as_sets(banks: Banks) -> set[tuple[int, ...]]:
    """Banks without regard to which is named first, and from which end each is counted."""
    return {min(bank, bank[::-1]) for bank in banks}


def _from_one(order: tuple[int, ...]) -> tuple[int, ...]:
    """A firing order begun at cylinder 1: 3-4-2-1 is 1-3-4-2."""
    start = order.index(1) if 1 in order else 0
    return order[start:] + order[:start]


def _other_figures(form: FilledForm, engine: EngineSpecs, book: SpecsBook) -> Iterator[Discrepancy]:
    for column in spec_columns():
        name, field = column.name, column.field
        if (
            name in (*SHAPE_FIELDS, "engine_name", "firing_order")
            or name not in form.cells
            or _unreadable(form, name)
        ):
            continue
        if engine.entries.get(name) is not None and engine.entries[name].problem:
            yield _not_readable(form, engine, book, name)
            continue
        expected = engine.value_in(name, form.shape.units)
        by_default = expected is None
        if by_default:
            expected = _default(field, form)
        found = _typed(form, name)
        if (by_default and expected is None) or _same(found, expected, field, engine, form):
            continue
        unit = field.measure.unit(form.shape.units)
        yield _differs(form, engine, book, name, _said(found, unit), _said(expected, unit), by_default)


def _default(field: Field, form: FilledForm) -> Value:
    default = default_for(field, form.shape)
    return float(default) if isinstance(default, (int, float)) or _is_figure(default) else default


def _is_figure(default: Value) -> bool:
    return isinstance(default, str) and default.replace(".", "", 1).isdigit()


def _same(found: Value, expected: Value, field: Field, engine: EngineSpecs, form: FilledForm) -> bool:
    """Whether a figure is the book's; one that had to be converted may be rounded as its unit usually is."""
    if isinstance(found, float) and isinstance(expected, float):
        allowed = SAME * max(1.0, abs(found), abs(expected))
        if field.measure.unit(engine.units) != field.measure.unit(form.shape.units):
            allowed += 0.5 * 10.0 ** -field.measure.decimals(form.shape.units)
        return abs(found - expected) <= allowed
    if isinstance(found, str) and isinstance(expected, str):
        return name_key(found) == name_key(expected)
    return (found or None) == (expected or None)


# --- in words --------------------------------------------------------------------------------------------------------


def _differs(
    form: FilledForm,
    engine: EngineSpecs,
    book: SpecsBook,
    name: str,
    found: str,
    expected: str,
    by_default: bool = False,
) -> Discrepancy:
    source = f"{book.path.name} ({engine.where(name)}) says {expected} for {engine.name}"
    if by_default:
        source = f"{book.path.name} ({engine.where(name)}) gives no figure for {engine.name}, and common practice is {expected}"
    message = (
        f"{_place(form, name)} ({_label(name)}) is {found}, but {source}. The readings were judged by the form's figure; "
        "correct the one that is wrong."
    )
    return _changed(form, name, found, expected, message)


def _not_readable(form: FilledForm, engine: EngineSpecs, book: SpecsBook, name: str) -> Discrepancy:
    problem = engine.entries[name].problem
    message = (
        f"{_place(form, name)} ({_label(name)}) could not be held against {book.path.name}: in {engine.where(name)} there, {problem}. "
        "Correct the book."
    )
    return _changed(form, name, _said(_typed(form, name), ""), "a figure in the specs book", message)


def _changed(form: FilledForm, name: str, found: str, expected: str, message: str) -> Discrepancy:
    return Discrepancy("limit_changed", name, form.where(name), found, expected, message)


def _place(form: FilledForm, name: str) -> str:
    return form.where(name) or "Sheet Engine"


def _label(name: str) -> str:
    return next(column.label for column in spec_columns() if column.name == name)


def _said(value: Value, unit: str) -> str:
    if value is None:
        return "blank"
    return f"{value:.6g} {unit}".strip() if isinstance(value, float) else shown(value)


def _typed(form: FilledForm, name: str) -> Value:
    """What a cell of the form says, None where it is blank, can't be read, or was not found."""
    value = form.entries[name].value if name in form.entries else None
    return float(value) if isinstance(value, int) else value  # type: ignore[return-value]


def _unreadable(form: FilledForm, name: str) -> bool:
    """Whether an entry can't be read, which is reported as such."""
    return name in form.entries and bool(form.entries[name].problem)
