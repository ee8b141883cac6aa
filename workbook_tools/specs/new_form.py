"""A form with what the specs book knows filled in: the engine's figures, and the shop's own data.

new_workbook(out, specs="engines.xlsx", engine="Pump 4")
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

from workbook_tools.errors import BadRequest
from workbook_tools.generate import workbook
from workbook_tools.guide.fits import Experience
from workbook_tools.language.model import UnitSystem
from workbook_tools.science.engine_geometry import banks_text, firing_order_text
from workbook_tools.specs.book import EngineSpecs, SpecsBook, name_key, read_specs, spec_columns
from workbook_tools.specs.checks import problems_of

#: Problems named when a form is refused; the check of the book says them all.
NAMED_AT_MOST = 3
USUAL_CYLINDERS, USUAL_CURRENCY = 4, "$"


def new_workbook(
    out: str | Path,
    *,
    engine: str | None = None,
    specs: SpecsBook | str | Path | None = None,
    cylinders: int | None = None,
    banks: str | None = None,
    firing_order: str | None = None,
    units: UnitSystem | None = None,
    currency: str | None = None,
    job_number: str | None = None,
    prefill: Mapping[str, object] | None = None,
    sheets: Collection[str] | None = None,
    experience: Experience | None = None,
) -> Path:
    """Write an empty form for one engine to `out` and return its path.

    `specs`, a specs book, fills in the shop's data, and with `engine` that engine's figures; cylinders, banks and firing order
    then come from the book and must agree with it where they are given too. `units` are the book's unless given (us
    without one), `cylinders` 4, `currency` the book's or $. `banks` as `1-3-5-7 | 2-4-6-8`; `prefill` holds entries by
    cell name, in the form's units, None for a cell to be left blank; `sheets` names the sheets to show; `experience`
    puts the shop's own proven repairs into the ranking of suspects.

    Raises BadRequest where the form can't be made as asked or the book has no such engine, UnusableFile where a file
    can't be read or written.
    """
    if specs is None:
        if engine is not None:
            raise BadRequest("An engine's figures come from a specs book; name it too: --specs BOOK.xlsx.")
        book = SpecsBook(Path(), units or "us", (), ())
    else:
        book = specs if isinstance(specs, SpecsBook) else read_specs(specs)
    row = None if engine is None else usable_engine(book, engine)
    if row is not None:
        assert row.cylinders is not None
        refuse_contradictions(book, row, cylinders, banks, firing_order)
        cylinders = row.cylinders
        banks = banks_text(row.banks) if row.banks else banks
        firing_order = firing_order_text(row.firing_order) if row.firing_order else firing_order
    in_units = units or book.units
    known = {**book.shop.prefill(in_units), **({} if row is None else prefill_for(row, in_units))}
    return workbook.new_workbook(
        Path(out),
        cylinders=USUAL_CYLINDERS if cylinders is None else cylinders,
        banks=banks,
        firing_order=firing_order,
        units=in_units,
        currency=currency if currency is not None else book.shop.currency or USUAL_CURRENCY,
        job_number=job_number,
        prefill={**known, **(prefill or {})},
        sheets=sheets,
        experience=experience,
        logo=book.shop.logo,
    )


def usable_engine(book: SpecsBook, name: str) -> EngineSpecs:
    """An engine of the book. Raises BadRequest where there is none, or its row can't be used."""
    engine = book.engine(name)
    wrong = [problem for problem in problems_of(engine) if not problem.is_doubt]
    if wrong:
        more = f" (+{len(wrong) - NAMED_AT_MOST} more)" if len(wrong) > NAMED_AT_MOST else ""
        told = " ".join(problem.message for problem in wrong[:NAMED_AT_MOST])
        raise BadRequest(f"{book.path}: the row of {engine.name} can't be used; mend it. {told}{more}")
    return engine


def refuse_contradictions(
    book: SpecsBook, engine: EngineSpecs, cylinders: int | None, banks: str | None, firing_order: str | None
) -> None:
    """Raises BadRequest where what was asked for is not what the book says of the engine."""
    if cylinders is not None and cylinders != engine.cylinders:
        raise BadRequest(
            f"{engine.name} has {engine.cylinders} cylinders in {book.path}, not {cylinders}; leave the number out."
        )
    for text, in_book, what in (
        (banks, engine.value("cylinder_banks"), "banks"),
        (firing_order, engine.value("firing_order"), "a firing order"),
    ):
        if text is not None and in_book and name_key(text) != name_key(str(in_book)):
            raise BadRequest(
                f"{engine.name} has {what} of its own in {book.path}: {in_book}, not {text}; leave that out."
            )


def prefill_for(engine: EngineSpecs, units: UnitSystem) -> dict[str, object]:
    """Entries of sheet Engine as the book gives them, in those units; what it leaves blank is left to the form."""
    told = {
        column.name: engine.value_in(column.name, units)
        for column in spec_columns()
        if not column.field.locked and column.name != "firing_order"
    }
    return {name: value for name, value in told.items() if value is not None}
