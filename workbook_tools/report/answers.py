"""What people answered on an earlier findings sheet: how an answer is known again, and how it is read back.

Each finding and discrepancy has a key (`finding:leaking_valve:3`) that stands on the sheet itself, in a
hidden column on the row of its answer. So answers survive other programs' saves, inserted rows and columns, a
renamed sheet, and findings that change their place.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cached_property
from pathlib import Path

from lxml import etree

from workbook_tools.diagnose.model import Discrepancy, Finding
from workbook_tools.errors import UnusableFile
from workbook_tools.package.cells import text_of, unescaped
from workbook_tools.package.index import marked_tab
from workbook_tools.package.intake import read_file
from workbook_tools.package.parts import Package, q

ANSWER_LABEL = "Answer"
SHEET_NAME = "Findings"
KEY = re.compile(r"(?:finding|discrepancy):[^:\s]+(?::[^:\s]*)?(?:#\d+)?")


def finding_keys(findings: Iterable[Finding]) -> list[str]:
    """One key a finding, by cause and cylinders: how sure it is may change, the key stays."""
    keys = []
    for each in findings:
        cylinders = "-".join(str(cylinder) for cylinder in each.cylinders)
        keys.append(f"finding:{each.cause}" + (f":{cylinders}" if cylinders else ""))
    return _told_apart(keys)


def discrepancy_keys(discrepancies: Iterable[Discrepancy]) -> list[str]:
    """One key a discrepancy, by kind and field."""
    return _told_apart(f"discrepancy:{each.kind}:{each.field}" for each in discrepancies)


def _told_apart(keys: Iterable[str]) -> list[str]:
    """The keys in order, the second of a kind with #2 behind it, the third with #3."""
    seen: dict[str, int] = {}
    found = []
    for key in keys:
        seen[key] = seen.get(key, 0) + 1
        found.append(key if seen[key] == 1 else f"{key}#{seen[key]}")
    return found


def read_answers(path: str | Path, package: Package | None = None) -> dict[str, str]:
    """Answers typed on the findings sheet of a workbook, by key; empty where there is no such sheet.

    `package` where the file was opened before.

    Numbers are given as text, formulas as they were typed. Raises UnusableFile where the file is no workbook
    or is damaged.
    """
    book = package or Package(read_file(path), str(path))
    try:
        part = _findings_part(book)
        return {} if part is None else _answers(book, part)
    except (ValueError, LookupError, TypeError) as problem:
        raise UnusableFile(f"{path} is damaged inside; open it in its program and save it anew.") from problem


def _findings_part(book: Package) -> str | None:
    tab = marked_tab(book, SHEET_NAME)
    if tab is None:
        return None
    leads_to = {
        relation.id: relation.target for relation in book.relations(book.workbook) if relation.to_part
    }
    part = leads_to.get(tab.relation_id)
    return part if part is not None and book.find(part) else None


def _answers(book: Package, part: str) -> dict[str, str]:
    strings = _Strings(book)
    answers: dict[str, str] = {}
    for row in book.xml(part).iter(q("row")):
        texts = [text for text in (_text(cell, strings) for cell in row.iterfind(q("c"))) if text.strip()]
        key = next((text for text in texts if KEY.fullmatch(text)), None)
        if key is None:
            continue
        typed = [text for text in texts[: texts.index(key)]]
        # The label stands first; an answer that is the same word stands behind it.
        if typed and typed[0] == ANSWER_LABEL:
            typed = typed[1:]
        if typed:
            answers[key] = " ".join(typed)
    return answers


class _Strings:
    """The workbook's list of texts, looked at where a cell refers to it: ours hold their own texts."""

    def __init__(self, book: Package) -> None:
        self._book = book

    def __getitem__(self, number: int) -> str:
        return text_of(self._items[number])

    @cached_property
    def _items(self) -> list[etree._Element]:
        part = self._book.first_related(self._book.workbook, "sharedStrings")
        return [] if part is None else list(self._book.xml(part).iterchildren(q("si")))


def _text(cell: etree._Element, strings: _Strings) -> str:
    """What a cell holds, as text: a formula as it was typed, a number without its binary tail."""
    kind, value, formula = cell.get("t", "n"), cell.findtext(q("v")), cell.findtext(q("f"))
    if formula:
        return f"={formula}"
    if kind == "inlineStr":
        inline = cell.find(q("is"))
        return "" if inline is None else text_of(inline)
    if not value:
        return ""
    if kind == "s":
        return strings[int(value)]
    if kind == "b":
        return "TRUE" if value == "1" else "FALSE"
    return f"{float(value):.15g}" if kind == "n" else unescaped(value)
