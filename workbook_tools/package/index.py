"""The parts of a workbook that list its sheets: workbook, document properties, calculation chain."""

from __future__ import annotations

from dataclasses import dataclass, field

from lxml import etree

from workbook_tools.package.parts import MAIN, OFFICE_RELS, Package, q

# A name of the sheet itself: it survives renaming, moving and the saves of LibreOffice, Gnumeric and openpyxl
# (the first two show it again, so it is also known when it is not hidden).
MARK = "placed_findings_sheet"
SHEET_TYPE = f"{OFFICE_RELS}/worksheet"
_BEFORE_NAMES = ("sheets", "functionGroups", "externalReferences")
_NAMES_OF_LENGTH = etree.XPath(
    "m:definedNames/m:definedName[string-length(@name) = $length]", namespaces={"m": MAIN}
)
_PROPERTIES = "{http://schemas.openxmlformats.org/officeDocument/2006/extended-properties}"
_VALUES = "{http://schemas.openxmlformats.org/officeDocument/2006/docPropsVTypes}"


@dataclass(frozen=True)
class Tab:
    """One tab of a book: its place, its name, and its two other numbers."""

    index: int
    name: str
    sheet_id: int
    relation_id: str


@dataclass(frozen=True)
class Vacancy:
    """What a removed sheet leaves for its successor: name, sheet id, and the windows that showed it."""

    name: str
    sheet_id: int
    windows: list[etree._Element] = field(default_factory=list)


def tabs(book: Package) -> list[Tab]:
    """The tabs of a book from left to right."""
    return [*book.remembered(book.workbook, "tabs", lambda: _tabs(book))]


def _tabs(book: Package) -> list[Tab]:
    sheets = book.xml(book.workbook).iterfind(f"{q('sheets')}/{q('sheet')}")
    return [
        Tab(index, e.get("name", ""), int(e.get("sheetId", "0")), e.get(f"{{{OFFICE_RELS}}}id", ""))
        for index, e in enumerate(sheets)
    ]


def defined_names(book: Package) -> list[etree._Element]:
    return list(book.xml(book.workbook).iterfind(f"{q('definedNames')}/{q('definedName')}"))


def names_called(book: Package, name: str) -> list[etree._Element]:
    """The defined names of that name, of the book and of its sheets; `name` is in small letters, and capitals don't count."""
    # A form has some two thousand names, and a check asks for the same one several times.
    return book.remembered(
        book.workbook,
        f"names {name}",
        lambda: [
            each
            for each in _NAMES_OF_LENGTH(book.xml(book.workbook), length=len(name))
            if each.get("name", "").lower() == name
        ],
    )


def names_of_book(book: Package) -> list[tuple[str, str | None]]:
    """The defined names that are no sheet's own, each with what it stands for."""
    return book.remembered(
        book.workbook,
        "names of the book",
        lambda: [
            (each.get("name", ""), each.text)
            for each in defined_names(book)
            if each.get("localSheetId") is None
        ],
    )


def uses_1904_dates(book: Package) -> bool:
    properties = book.xml(book.workbook).find(q("workbookPr"))
    return properties is not None and properties.get("date1904") in ("1", "true", "on")


def marked_tab(book: Package, likely_name: str) -> Tab | None:
    """The tab that carries our mark.

    A user may have copied the sheet, and the mark with it: the one of the usual name counts, else the oldest.
    """
    every, found = tabs(book), []
    for name in names_called(book, MARK):
        if name.get("localSheetId") is not None:
            found += [tab for tab in every if str(tab.index) == name.get("localSheetId")]
        else:  # a program that knows no names of a sheet made it one of the book
            sheet = (name.text or "").rpartition("!")[0].strip("'").replace("''", "'")
            found += [tab for tab in every if tab.name == sheet]
    found.sort(key=lambda tab: (tab.name != likely_name, tab.sheet_id))
    return found[0] if found else None


def remove_tab(book: Package, tab: Tab) -> Vacancy:
    """Take a sheet out of every list, and out of the package what only it led to."""
    _drop_stale_calculation_chain(book, tab.sheet_id)
    _retitle(book, remove=tab.name)
    root, count = book.xml(book.workbook), len(tabs(book))

    def moves(place: str) -> bool:
        # A number past the last tab is no tab's: it would come down by one at every check.
        return tab.index < int(place) < count

    sheets = root.find(q("sheets"))
    sheets.remove(sheets.findall(q("sheet"))[tab.index])
    for name in defined_names(book):
        place = name.get("localSheetId")
        ours = (
            name.get("name", "").casefold() == MARK
            and (name.text or "").rpartition("!")[0].strip("'") == tab.name
        )
        if place == str(tab.index) or (place is None and ours):
            name.getparent().remove(name)
        elif place is not None and moves(place):
            name.set("localSheetId", str(int(place) - 1))
    windows = list(root.iterfind(f"{q('bookViews')}/{q('workbookView')}"))
    showing = [window for window in windows if int(window.get("activeTab", "0")) == tab.index]
    for window in windows:
        for attribute in ("activeTab", "firstSheet"):
            if moves(window.get(attribute, "0")):
                window.set(attribute, str(int(window.get(attribute)) - 1))
    book.touch(book.workbook)
    book.unrelate(book.workbook, tab.relation_id)
    return Vacancy(tab.name, tab.sheet_id, showing)


def add_tab(
    book: Package, name: str, part: str, names: list[etree._Element], vacancy: Vacancy | None
) -> None:
    """List a sheet part as the last tab, with the defined names that belong to it."""
    _retitle(book, add=name)
    every = tabs(book)
    sheet_id = vacancy.sheet_id if vacancy else max((tab.sheet_id for tab in every), default=0) + 1
    root = book.xml(book.workbook)
    relation_id = book.relate(book.workbook, SHEET_TYPE, part)
    attributes = {"name": name, "sheetId": str(sheet_id), f"{{{OFFICE_RELS}}}id": relation_id}
    etree.SubElement(root.find(q("sheets")), q("sheet"), attributes)
    for element in names:
        element.set("localSheetId", str(len(every)))
        _names_section(root).append(element)
    for window in vacancy.windows if vacancy else []:
        window.set("activeTab", str(len(every)))
    book.touch(book.workbook)


def _names_section(root: etree._Element) -> etree._Element:
    section = root.find(q("definedNames"))
    if section is None:
        before = [root.index(child) for child in root if child.tag in {q(tag) for tag in _BEFORE_NAMES}]
        section = etree.Element(q("definedNames"), nsmap={None: MAIN} if None in root.nsmap else None)
        root.insert(max(before) + 1, section)
    return section


def _drop_stale_calculation_chain(book: Package, sheet_id: int) -> None:
    """Drop a chain that lists cells of a sheet that goes: programs call such a file damaged, and make a new
    chain where there is none.
    """
    for relation in book.relations(book.workbook):
        if relation.kind != "calcChain" or book.find(relation.target) is None:
            continue
        if any(cell.get("i") == str(sheet_id) for cell in book.xml(relation.target)):
            book.unrelate(book.workbook, relation.id)


def _retitle(book: Package, remove: str | None = None, add: str | None = None) -> None:
    """Keep the sheet titles in the document properties, where these are in the order that we expect."""
    part = book.first_related("", "extended-properties")
    if part is None:
        return
    root = book.xml(part)
    count = root.find(f"{_PROPERTIES}HeadingPairs/{_VALUES}vector/{_VALUES}variant/{_VALUES}i4")
    titles = root.find(f"{_PROPERTIES}TitlesOfParts/{_VALUES}vector")
    if count is None or titles is None or not (count.text or "").isdigit():
        return
    number, known = int(count.text), {tab.name for tab in tabs(book)}
    listed = [title.text for title in titles[:number]]
    if not set(listed) <= known or len(listed) != number:
        return
    if remove in listed:
        titles.remove(titles[listed.index(remove)])
        number -= 1
    if add is not None:
        title = etree.Element(f"{_VALUES}lpstr")
        title.text = add
        titles.insert(number, title)
        number += 1
    count.text = str(number)
    titles.set("size", str(len(titles)))
    book.touch(part)
