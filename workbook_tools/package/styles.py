"""Taking cell formats from one book's styles part into another's, without ever adding the same one twice."""

from __future__ import annotations

import copy
import posixpath
import re

from lxml import etree

from workbook_tools.package.parts import MAIN, OFFICE_RELS, Package, is_on, q

STYLES_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"
FIRST_OWN_FORMAT = 164  # number format ids below belong to the program; ECMA-376 part 1, 18.8.30
DATE_FORMAT_IDS = {14, 15, 16, 17, 22}
ORDER = [
    "numFmts",
    "fonts",
    "fills",
    "borders",
    "cellStyleXfs",
    "cellXfs",
    "cellStyles",
    "dxfs",
    "tableStyles",
    "colors",
    "extLst",
]
# What a styles part must at least hold so that ids into it make sense; fills 0 and 1 are the same everywhere.
LEAST = {
    "fonts": '<font><sz val="11"/><name val="Calibri"/></font>',
    "fills": '<fill><patternFill patternType="none"/></fill>'
    '<fill><patternFill patternType="gray125"/></fill>',
    "borders": "<border><left/><right/><top/><bottom/><diagonal/></border>",
    "cellStyleXfs": '<xf numFmtId="0" fontId="0" fillId="0" borderId="0"/>',
    "cellXfs": '<xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>',
}
# Texts in quotes, escaped signs, fillers, and brackets other than those of durations.
_TEXTS_IN_FORMATS = re.compile(r'"[^"]*"|\\.|_.|\*.|\[(?![hms]+\])[^\]]*\]')
APPLY = ["applyNumberFormat", "applyFont", "applyFill", "applyBorder", "applyAlignment", "applyProtection"]


class StyleMerger:
    """Ids of the donor's formats as ids in the host, adding to the host's styles what it does not have yet.

    The donor's cell format 0 becomes the host's 0, so plain cells look like the host's.
    """

    def __init__(self, donor: Package, host: Package) -> None:
        self._donor = _styles_root(donor)
        self._host = _styles_root(host)
        if self._host is None:
            self._host = _add_styles(host)
        self._host_package = host
        self._grew = False
        self._formats: dict[int, int] = {0: 0}
        self._dxfs: dict[int, int] = {}
        self._keys: dict[str, dict[tuple, int]] = {}

    def cell_format(self, donor_id: int) -> int:
        """The host's id for a donor's cell format."""
        if donor_id not in self._formats:
            xf = self._item("cellXfs", donor_id)
            self._formats[donor_id] = 0 if xf is None else self._append("cellXfs", self._translated(xf))
        return self._formats[donor_id]

    def dxf(self, donor_id: int) -> int:
        """The host's id for a donor's conditional format."""
        if donor_id not in self._dxfs:
            dxf = copy.deepcopy(self._item("dxfs", donor_id))
            if dxf is None:
                dxf = etree.Element(q("dxf"))
            for number_format in dxf.iter(q("numFmt")):
                code = number_format.get("formatCode", "General")
                number_format.set("numFmtId", str(self._number_format_id(code)))
            self._dxfs[donor_id] = self._append("dxfs", dxf)
        return self._dxfs[donor_id]

    def is_date(self, donor_id: int) -> bool:
        """Whether a donor's cell format shows a number as a day; durations and times of day are none."""
        xf = self._item("cellXfs", donor_id)
        number = int(xf.get("numFmtId", "0")) if xf is not None else 0
        code = self._donor_code(number)
        return shows_a_day(code) if code is not None else number in DATE_FORMAT_IDS

    def finish(self) -> None:
        """Have the host write its styles anew if something was added; else they stay byte for byte."""
        part = self._host_package.first_related(self._host_package.workbook, "styles")
        if self._grew and part is not None:
            self._host_package.touch(part)

    def _translated(self, donor_xf: etree._Element) -> etree._Element:
        ids = {"numFmtId": self._number_format(int(donor_xf.get("numFmtId", "0")))}
        for attribute, section in (("fontId", "fonts"), ("fillId", "fills"), ("borderId", "borders")):
            item = self._item(section, int(donor_xf.get(attribute, "0")))
            ids[attribute] = 0 if item is None else self._append(section, copy.deepcopy(item))
        self._section("cellStyleXfs")
        default = self._section("cellXfs")[0].get("xfId", "0")
        xf = etree.Element(q("xf"), {name: str(value) for name, value in ids.items()} | {"xfId": default})
        if is_on(donor_xf.get("quotePrefix")):
            xf.set("quotePrefix", "1")
        for name in APPLY:
            xf.set(name, "1")
        for child in donor_xf:
            if child.tag in (q("alignment"), q("protection")):
                xf.append(copy.deepcopy(child))
        return xf

    def _number_format(self, donor_id: int) -> int:
        code = self._donor_code(donor_id)
        return donor_id if code is None else self._number_format_id(code)

    def _donor_code(self, number: int) -> str | None:
        """The code that the donor itself gives for a number format, None for one of the program's own."""
        if self._donor is None:
            return None
        for element in self._donor.iterfind(f"{q('numFmts')}/{q('numFmt')}"):
            if element.get("numFmtId") == str(number):
                return element.get("formatCode")
        return None

    def _number_format_id(self, code: str) -> int:
        taken = [FIRST_OWN_FORMAT - 1]
        for element in self._host.iterfind(f"{q('numFmts')}/{q('numFmt')}"):
            if element.get("formatCode") == code:
                return int(element.get("numFmtId"))
            taken.append(int(element.get("numFmtId")))
        number = max(taken) + 1
        self._append("numFmts", etree.Element(q("numFmt"), numFmtId=str(number), formatCode=code))
        return number

    def _item(self, section: str, index: int) -> etree._Element | None:
        found = None if self._donor is None else self._donor.find(q(section))
        return found[index] if found is not None and 0 <= index < len(found) else None

    def _append(self, section: str, item: etree._Element) -> int:
        """The place of an equal item in a section of the host's styles, appended where there is none."""
        parent = self._section(section)
        if section not in self._keys:
            self._keys[section] = {}
            for index, element in enumerate(parent):
                self._keys[section].setdefault(_key(element), index)
        keys = self._keys[section]
        if (key := _key(item)) not in keys:
            item.tail = None
            parent.append(item)
            parent.set("count", str(len(parent)))
            keys[key] = len(parent) - 1
            self._grew = True
        return keys[key]

    def _section(self, name: str) -> etree._Element:
        """A section of the host's styles, made in its place in the schema's order where it is missing."""
        section = self._host.find(q(name))
        if section is None:
            later = {q(tag) for tag in ORDER[ORDER.index(name) + 1 :]}
            place = next((i for i, child in enumerate(self._host) if child.tag in later), len(self._host))
            section = etree.Element(q(name))
            self._host.insert(place, section)
            self._grew = True
        if len(section) == 0 and name in LEAST:
            section.extend(list(etree.fromstring(f'<x xmlns="{MAIN}">{LEAST[name]}</x>')))
            section.set("count", str(len(section)))
            self._grew = True
        return section


def shows_a_day(code: str) -> bool:
    """Whether a number format code shows a day, month or year; a duration such as [h]:mm shows none."""
    plain = _TEXTS_IN_FORMATS.sub("", code.lower())
    if any(sign in plain for sign in "yd"):
        return True
    return "m" in plain and not any(sign in plain for sign in "hs")  # beside h or s an m is the minutes


def _styles_root(package: Package) -> etree._Element | None:
    part = package.first_related(package.workbook, "styles")
    return None if part is None else package.xml(part)


def _add_styles(host: Package) -> etree._Element:
    """An empty styles part for a book that has none."""
    folder = posixpath.dirname(host.workbook)
    part = posixpath.join(folder, "styles.xml")
    if host.find(part) is not None:
        part = host.free_name(folder, "styles", ".xml")
    root = etree.Element(q("styleSheet"), nsmap={None: MAIN})
    host.add(part, root, STYLES_TYPE)
    host.relate(host.workbook, f"{OFFICE_RELS}/styles", part)
    return root


def _key(element: etree._Element) -> tuple:
    """What an element says, whatever the prefixes, the order of attributes and the white space."""
    children = [_key(each) for each in element.iterchildren("*")] if len(element) else ()
    return element.tag, tuple(sorted(element.items())), (element.text or "").strip(), tuple(children)
