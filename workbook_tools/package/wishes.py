"""What a workbook asks of those who change it, and a findings sheet is placed all the same.

overridden(book, is_copy)      a sentence each, to be said; empty for most workbooks
"""

from __future__ import annotations

from workbook_tools.package.parts import ROOT, Package, is_on, q

_CUSTOM = "{http://schemas.openxmlformats.org/officeDocument/2006/custom-properties}property"
#: The property by which office programs mark a document as final.
MARKED_FINAL = "_MarkAsFinal"


def overridden(book: Package, is_copy: bool) -> tuple[str, ...]:
    """The workbook's wishes that a placed sheet goes against; a signed one is placed into in a copy alone."""
    root = book.xml(book.workbook)
    lock, sharing = root.find(q("workbookProtection")), root.find(q("fileSharing"))
    said = []
    if is_copy and is_signed(book):
        said.append(
            "The original is digitally signed; the signature in this copy no longer fits, as it has one sheet more."
        )
    if lock is not None and is_on(lock.get("lockStructure")):
        said.append(
            "The workbook is protected against new sheets; the findings sheet was added all the same."
        )
    if sharing is not None and is_on(sharing.get("readOnlyRecommended")):
        said.append(
            "The workbook asks to be opened to read alone; the findings sheet was added all the same."
        )
    if _is_final(book):
        said.append("The workbook is marked as final; the findings sheet was added all the same.")
    return tuple(said)


def is_signed(book: Package) -> bool:
    """Whether a workbook carries a digital signature."""
    return any(relation.type.endswith("digital-signature/origin") for relation in book.relations(ROOT))


def _is_final(book: Package) -> bool:
    part = book.first_related(ROOT, "custom-properties")
    if part is None or MARKED_FINAL.encode() not in book.bytes_of(part):
        return False
    marks = (each for each in book.xml(part).iter(_CUSTOM) if each.get("name") == MARKED_FINAL)
    return any(is_on("".join(mark.itertext()).strip().lower()) for mark in marks)
