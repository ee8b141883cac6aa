"""What a findings sheet was made from, kept on the sheet itself, so that an unchanged workbook is known again.

fingerprint(package, specs)     of all that a check reads: sheets, texts, names; of program, form and specs book
kept_mark(package)              the mark of the last check, None where there is none
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from workbook_tools import __version__
from workbook_tools.form.the_form import FORM_VERSION
from workbook_tools.package.index import marked_tab, names_called, names_of_book, tabs
from workbook_tools.package.parts import Package, q
from workbook_tools.report.answers import SHEET_NAME

#: A name of the findings sheet that holds a text; it survives other programs' saves.
NAME = "judged_from"


@dataclass(frozen=True)
class JudgedMark:
    """What the last check saw (a fingerprint), how much it found, and whether it wrote a copy or the file itself."""

    fingerprint: str
    findings: int
    discrepancies: int
    owed: int
    is_copy: bool

    @property
    def text(self) -> str:
        """The mark as it stands on the sheet."""
        parts = (
            self.fingerprint,
            self.findings,
            self.discrepancies,
            self.owed,
            "copy" if self.is_copy else "itself",
        )
        return ";".join(map(str, parts))


def fingerprint(package: Package, specs: str = "") -> str:
    """SHA-256 over all that a check reads in a workbook, the findings sheet excepted, and over what it is judged by.

    `specs` is the digest of the specs book that it is held against. The same before and after a findings sheet is placed.
    """
    ours = marked_tab(package, SHEET_NAME)
    targets = {
        relation.id: relation.target for relation in package.relations(package.workbook) if relation.to_part
    }
    summed = hashlib.sha256(repr((__version__, FORM_VERSION, specs)).encode())
    sheets = {
        sheet.get("name"): sheet.get("state") for sheet in package.xml(package.workbook).iter(q("sheet"))
    }
    for tab in tabs(package):
        if ours is None or tab.index != ours.index:
            summed.update(repr((tab.name, sheets.get(tab.name))).encode())
            _add_part(summed, package, targets.get(tab.relation_id))
    summed.update("".join(map(repr, names_of_book(package))).encode())
    _add_part(summed, package, package.first_related(package.workbook, "sharedStrings"))
    _add_part(summed, package, package.first_related("", "custom-properties"))
    return summed.hexdigest()


def _add_part(summed: hashlib._Hash, package: Package, part: str | None) -> None:
    found = package.find(part) if part else None
    if found is not None:
        summed.update(hashlib.sha256(package.bytes_of(found)).digest())


def kept_mark(package: Package) -> JudgedMark | None:
    """The mark that the last check left on the findings sheet, None where there is none or it can't be read."""
    if marked_tab(package, SHEET_NAME) is None:
        return None
    for name in names_called(package, NAME):
        parts = (name.text or "").strip('"').split(";")
        if len(parts) == 5 and all(map(str.isdigit, parts[1:4])):
            digest, findings, discrepancies, owed, where = parts
            return JudgedMark(digest, int(findings), int(discrepancies), int(owed), where == "copy")
    return None
