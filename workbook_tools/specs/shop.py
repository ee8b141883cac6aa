"""The shop's own data, written once in the specs book: whose bill it is, its rate and tax, its height, its logo.

shop_fields()               what sheet Shop asks for: fields of the form, and the currency
read_shop(package, ...)     what a book says, and the picture on the sheet
ShopData.prefill(units)     entries of a new form
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from workbook_tools.errors import BadRequest
from workbook_tools.form import the_form
from workbook_tools.form.ranges import plausible_range
from workbook_tools.generate.workbook import shape_for
from workbook_tools.language.model import Field, Shape, UnitSystem, Value
from workbook_tools.package.cells import Formula, SheetCells
from workbook_tools.package.parts import Package
from workbook_tools.read.entries import Entry
from workbook_tools.read.filled_form import FoundCell, entry_of
from workbook_tools.read.other_reader import contents_of
from workbook_tools.science.units import convert

SHOP_SHEET = "Shop"
#: A cell of the sheet is known by a name of the workbook; the field's name stands behind this.
SHOP_NAME = "shop_sheet_"
CURRENCY = "currency"
#: Fields of the form that a shop fills in once, in the order of the sheet.
SHOP_ENTRIES = (
    "shop_name",
    "shop_address",
    "shop_contact",
    "shop_tax_number",
    "labour_rate",
    "tax_percent",
    "tax_on",
    "site_elevation",
    "bill_note",
)
#: Pictures that every spreadsheet program shows, by how their files begin.
PICTURES = {b"\x89PNG\r\n\x1a\n": ".png", b"\xff\xd8\xff": ".jpg", b"GIF8": ".gif"}
#: A logo of a printed page has a hundredth of it; every form carries it.
LARGEST_LOGO = 1_000_000
FURTHEST_ROW, FURTHEST_COLUMN = 60, 20


@lru_cache(maxsize=1)
def shop_fields() -> Mapping[str, Field]:
    """What the sheet asks for, by name."""
    fields = the_form.fields()
    asked = {name: fields[name] for name in SHOP_ENTRIES}
    return asked | {
        CURRENCY: Field(CURRENCY, "Currency sign", "text", help="stands before amounts of money: $ or EUR")
    }


@dataclass(frozen=True)
class ShopData:
    """What sheet Shop says, in the book's units; all blank where a book has none."""

    units: UnitSystem = "us"
    cells: Mapping[str, FoundCell] = field(default_factory=dict, repr=False)
    entries: Mapping[str, Entry] = field(default_factory=dict, repr=False)
    logo: bytes | None = field(default=None, repr=False)
    logo_problem: str = ""

    def value(self, name: str) -> Value:
        """What a cell says; None where it is blank or can't be read."""
        entry = self.entries.get(name)
        value = None if entry is None or entry.problem else entry.value
        return float(value) if isinstance(value, int) else value  # type: ignore[return-value]

    @property
    def currency(self) -> str | None:
        """The sign before amounts, None where the book leaves it open."""
        said = self.value(CURRENCY)
        return said.strip() if isinstance(said, str) and said.strip() else None

    def prefill(self, units: UnitSystem) -> dict[str, object]:
        """Entries of a form in those units."""
        told: dict[str, object] = {}
        for name in SHOP_ENTRIES:
            entry = self.entries.get(name)
            if entry is None or entry.problem or entry.value is None:
                continue
            measure, value = shop_fields()[name].measure, entry.value
            source, target = measure.unit(self.units), measure.unit(units)
            if isinstance(value, (int, float)) and source != target:
                value = round(convert(float(value), source, target), 1)
            told[name] = value if isinstance(value, (str, int, float)) else float(value)  # type: ignore[arg-type]
        return told

    def problems(self) -> Iterator[tuple[str, str, bool]]:
        """What can't be right: cell, sentence, and whether it is only a doubt."""
        for name, entry in self.entries.items():
            where, label = self.cells[name].where, shop_fields()[name].label
            if entry.problem:
                yield where, f"{where} ({label}): {entry.problem}. Type it anew, or clear the cell.", False
            elif name == CURRENCY and self.currency:
                try:
                    shape_for(1, None, self.units, self.currency)
                except BadRequest as problem:
                    yield where, f"{where} ({label}): {problem}", False
            elif isinstance(entry.value, (int, float)):
                low, high = plausible_range(shop_fields()[name], self.units)
                if (low is not None and entry.value < low) or (high is not None and entry.value > high):
                    said = (
                        f"{where} ({label}): {entry.value:g} is outside what is plausible. Look it up again."
                    )
                    yield where, said, True
        if self.logo_problem:
            yield SHOP_SHEET, f"{SHOP_SHEET}: {self.logo_problem}", False


def read_shop(package: Package, sheets: SheetCells, units: UnitSystem, epoch: dt.datetime) -> ShopData:
    """What a book's sheet Shop says. Raises UnusableFile where the sheet is damaged."""
    places = {name: sheets.names.get(SHOP_NAME + name) for name in shop_fields()}
    titles = {place[0] for place in places.values() if place is not None}
    if not titles:
        return ShopData(units)
    held = {title: contents_of(sheets, title, FURTHEST_ROW, FURTHEST_COLUMN) for title in titles}
    shape = Shape(1, ((1,),), units)
    cells, entries = {}, {}
    for name, place in places.items():
        if place is None:
            continue
        content = held[place[0]].get(place[1])
        raw, formula = content, None
        if isinstance(content, Formula):
            raw, formula = sheets.stored(*place), content.text
        sheet = the_form.items()[name][1] if name in the_form.items() else the_form.items()["shop_name"][1]
        found = FoundCell(the_form.Cell(name, shop_fields()[name], None, sheet), *place, raw, formula)
        cells[name], entries[name] = found, entry_of(found, shape, epoch)
    logo, problem = _logo(package, sheets.parts[next(iter(titles))])
    return ShopData(units, cells, entries, logo, problem)


def _logo(package: Package, part: str) -> tuple[bytes | None, str]:
    """The first picture on a sheet, and why it can't be used where it can't."""
    drawing = package.first_related(part, "drawing")
    picture = package.first_related(drawing, "image") if drawing else None
    if picture is None:
        return None, ""
    data = package.bytes_of(picture)
    if kind_of_picture(data) is None:
        return None, "the logo is no PNG, JPEG or GIF picture; new forms are made without it. Save it as PNG."
    if len(data) > LARGEST_LOGO:
        megabytes = len(data) / 1e6
        return (
            None,
            f"the logo has {megabytes:.1f} MB; new forms are made without it. Save it smaller, up to 1 MB.",
        )
    return data, ""


def kind_of_picture(data: bytes) -> str | None:
    """The ending that a picture's file has, None for none of those that every program shows."""
    return next((ending for start, ending in PICTURES.items() if data.startswith(start)), None)
