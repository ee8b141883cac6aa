"""Copying a sheet, and the parts that it leads to, from one package into another."""

from __future__ import annotations

import copy
import posixpath
from decimal import Decimal, InvalidOperation

from lxml import etree

from workbook_tools.errors import UnusableFile
from workbook_tools.package.index import MARK, defined_names
from workbook_tools.package.names import Renaming, free_name
from workbook_tools.package.parts import OFFICE_RELS, Package, q, relative_folder, stem_of
from workbook_tools.package.styles import StyleMerger

# Kinds of parts that a sheet may bring along; each stands on its own. Pivot tables, slicers, controls and the
# like hang on parts of the whole book, so a sheet with these is refused rather than placed broken.
CARRIED = {
    "chart",
    "chartColorStyle",
    "chartStyle",
    "chartUserShapes",
    "chartEx",
    "comments",
    "drawing",
    "hyperlink",
    "image",
    "printerSettings",
    "table",
    "themeOverride",
    "vmlDrawing",
}
DAYS_BETWEEN_DATE_SYSTEMS = 1462  # from 1900-01-00 to 1904-01-01, ECMA-376 part 1, 18.17.4.1
#: Elements that hold a formula, whatever their namespace.
_FORMULAS = (
    "{*}f",
    "{*}formula",
    "{*}formula1",
    "{*}formula2",
    "{*}calculatedColumnFormula",
    "{*}totalsRowFormula",
)
_T, _R, _V, _IS = (q(tag) for tag in ("t", "r", "v", "is"))


class SheetCopy:
    """Moves parts of `donor` into `host`, translates styles, sheet and table names, and writes strings out.

    The donor is used up by it.

    `days` is added to cells that show a date and to limits of date validations, not to times and durations.
    Dates inside formulas, conditional formats and chart axes are left as they are.
    """

    def __init__(self, donor: Package, host: Package, renaming: Renaming, days: int) -> None:
        self._donor, self._host, self._renaming, self._days = donor, host, renaming, days
        self._styles = StyleMerger(donor, host)
        self._strings = self._shared_strings()
        self._copied: dict[str, str] = {}
        self._next_table_id = 1

    def place(self, sheet: str, selected: bool) -> str:
        """Copy the sheet part and all it leads to; returns its part name in the host."""
        self._rename_tables(sheet)
        part = self._copy(sheet)
        if selected:
            for view in self._host.xml(part).iterfind(f"{q('sheetViews')}/{q('sheetView')}"):
                view.set("tabSelected", "1")
        self._styles.finish()
        return part

    def names(self, sheet_name: str) -> list[etree._Element]:
        """The donor's defined names, all as names of the new sheet, and our mark."""
        found = []
        for name in defined_names(self._donor):
            if name.get("name", "").casefold() != MARK:
                element = copy.deepcopy(name)
                element.text, element.tail = self._renaming.formula(name.text), None
                found.append(element)
        mark = etree.Element(q("definedName"), name=MARK, hidden="1")
        mark.text = f"{sheet_name}!$A$1"
        return [*found, mark]

    def _copy(self, part: str) -> str:
        donor, host = self._donor, self._host
        if part in self._copied:
            return self._copied[part]
        kind, (stem, extension) = donor.content_type(part), stem_of(part)
        folder = posixpath.join(posixpath.dirname(host.workbook), relative_folder(donor, part))
        name = host.free_name(posixpath.normpath(folder), stem, extension)
        self._copied[part] = name
        host.add(name, self._adapted(part) if kind.endswith("xml") else donor.bytes_of(part), kind)
        for relation in donor.relations(part):
            target = relation.target
            if relation.to_part:
                if relation.kind not in CARRIED or donor.find(target) is None:
                    raise UnusableFile(
                        f"{donor.label}: its sheet has a {relation.kind}, which cannot be placed; leave it out."
                    )
                target = self._copy(target)
            elif target.startswith("#"):
                target = self._renaming.location(target)
            host.relate(name, relation.type, target, relation.external, relation.id)
        return name

    def _adapted(self, part: str) -> etree._Element:
        root = self._donor.xml(part)
        if root.tag == q("worksheet"):
            self._adapt_sheet(root)
        elif root.tag == q("table"):
            self._adapt_table(root)
        for element in root.iter(*_FORMULAS):
            element.text = self._renaming.formula(element.text)
        # Cells, by far the most of a sheet, have neither of these attributes.
        self._adapt_references(root)
        for part in root.iterchildren("*"):
            for element in () if part.tag == q("sheetData") else part.iter("*"):
                self._adapt_references(element)
        return root

    def _adapt_references(self, element: etree._Element) -> None:
        for attribute, value in element.attrib.items():
            if attribute.lower().endswith("dxfid"):
                element.set(attribute, str(self._styles.dxf(int(value))))
            elif attribute == "textlink":
                element.set(attribute, self._renaming.formula(value) or "")

    # ---- the sheet

    def _adapt_sheet(self, root: etree._Element) -> None:
        for cell in root.iter(q("c")):
            self._adapt_cell(cell)
        for tag, attribute in (("row", "s"), ("col", "style")):
            for element in root.iter(q(tag)):
                if element.get(attribute) is not None:
                    element.set(attribute, str(self._styles.cell_format(int(element.get(attribute)))))
        for view in root.iter(q("sheetView")):
            view.attrib.pop("tabSelected", None)
        for properties in root.iterfind(q("sheetPr")):
            properties.attrib.pop("codeName", None)
        # These two point to lists of the donor's book, views and fonts, that do not come along.
        for element in [*root.findall(q("customSheetViews")), *root.findall(q("phoneticPr"))]:
            root.remove(element)
        for link in root.iter(q("hyperlink")):
            if link.get("location"):
                link.set("location", self._renaming.location(link.get("location")))
        for rule in root.iter(q("dataValidation")):
            if self._days and rule.get("type") == "date":
                for limit in rule:
                    limit.text = self._moved(limit.text, "a validation")

    def _adapt_cell(self, cell: etree._Element) -> None:
        if cell.get("vm"):
            raise UnusableFile(
                f"{self._donor.label}: its cell {cell.get('r')} holds a picture or a rich value, which"
                " cannot be placed; put the picture over the cells."
            )
        if cell.get("cm") is not None:
            del cell.attrib["cm"]
        format_id, kind = cell.get("s"), cell.get("t", "n")
        value = cell.find(_V) if kind == "s" or (kind == "n" and self._days) else None
        if value is not None and kind == "s":
            cell.set("t", "inlineStr")
            cell.remove(value)
            self._write_inline(cell, self._strings[int(value.text)])
        elif value is not None and self._styles.is_date(int(format_id or 0)):
            value.text = self._moved(value.text, f"cell {cell.get('r')}")
        if format_id is not None:
            cell.set("s", str(self._styles.cell_format(int(format_id))))

    def _moved(self, text: str | None, place: str) -> str | None:
        """A day number counted from the host's first day."""
        try:
            number = Decimal((text or "").strip())
        except InvalidOperation:
            return text  # a formula
        if abs(number) < 1:
            return text
        if number + self._days < 0:
            raise UnusableFile(
                f"{self._donor.label}: the date in {place} lies before 1904, which {self._host.label}"
                " cannot hold, as it counts its days from 1904; write it as text."
            )
        return str(number + self._days)

    @staticmethod
    def _write_inline(cell: etree._Element, item: etree._Element) -> None:
        """Write a text of the donor's list into its cell."""
        inline = etree.SubElement(cell, _IS)
        for child in item:
            if child.tag == _T:
                etree.SubElement(inline, _T, child.attrib).text = child.text
            elif child.tag == _R:
                inline.append(copy.deepcopy(child))

    def _shared_strings(self) -> list[etree._Element]:
        part = self._donor.first_related(self._donor.workbook, "sharedStrings")
        return [] if part is None else [*self._donor.xml(part).iterchildren(q("si"))]

    # ---- tables

    def _rename_tables(self, sheet: str) -> None:
        tables = [relation for relation in self._donor.relations(sheet) if relation.kind == "table"]
        if not tables:
            return
        taken = {name.get("name", "") for name in defined_names(self._host)}
        for part in self._host.names():
            if self._host.content_type(part).endswith("spreadsheetml.table+xml"):
                table = self._host.xml(part)
                taken |= {table.get("displayName", ""), table.get("name", "")}
                self._next_table_id = max(self._next_table_id, int(table.get("id", "0")) + 1)
        for relation in tables:
            old = self._donor.xml(relation.target).get("displayName", "")
            new = free_name(old, taken)
            taken.add(new)
            self._renaming.add_table(old, new)

    def _adapt_table(self, table: etree._Element) -> None:
        new = self._renaming.table(table.get("displayName", ""))
        table.set("displayName", new)
        table.set("name", new)
        table.set("id", str(self._next_table_id))
        self._next_table_id += 1


def only_sheet(donor: Package) -> tuple[str, str]:
    """Name and part of the donor's one worksheet.

    Raises UnusableFile when there are more, when it is no worksheet, or when the book leans on other files.
    """
    root = donor.xml(donor.workbook)
    sheets = root.findall(f"{q('sheets')}/{q('sheet')}")
    if len(sheets) != 1:
        raise UnusableFile(f"{donor.label} has {len(sheets)} sheets; give a book with exactly one.")
    if root.find(q("externalReferences")) is not None:
        raise UnusableFile(
            f"{donor.label} refers to other workbooks; replace these references by their values."
        )
    relation_id = sheets[0].get(f"{{{OFFICE_RELS}}}id")
    for relation in donor.relations(donor.workbook):
        if relation.id == relation_id and relation.kind == "worksheet" and donor.find(relation.target):
            return sheets[0].get("name", ""), relation.target
    raise UnusableFile(
        f"{donor.label}: its only sheet is no worksheet with cells; give a book with one worksheet."
    )
