"""Whether the sheets of a filled form still help the one who types: choices, checks while typing, highlights.

Some programs save a workbook without them; the readings are all there, but the next ones are typed without help.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from workbook_tools.language.model import Field
from workbook_tools.read.filled_form import FoundCell

CHOICES, HIGHLIGHTS = "dataValidation", "cfRule"

XmlOf = Callable[[str], bytes]


def without_choices(cells: Iterable[FoundCell], xml_of: XmlOf) -> tuple[str, ...]:
    """Sheets with input cells and no check of entries; `xml_of` gives a sheet's XML by its title."""
    typed = (cell for cell in cells if isinstance(cell.form.item, Field) and not cell.form.item.locked)
    return _without(CHOICES, typed, xml_of)


def without_highlights(cells: Iterable[FoundCell], xml_of: XmlOf) -> tuple[str, ...]:
    """Sheets with limits and no highlight of readings beyond them."""
    return _without(HIGHLIGHTS, (cell for cell in cells if cell.form.item.limits is not None), xml_of)


def _without(mark: str, cells: Iterable[FoundCell], xml_of: XmlOf) -> tuple[str, ...]:
    titles = dict.fromkeys(cell.sheet for cell in cells)
    return tuple(title for title in titles if not _has(mark, xml_of(title)))


def _has(tag: str, xml: bytes) -> bool:
    # Nearly all programs write it without a prefix.
    return f"<{tag} ".encode() in xml or re.search(rf"<(?:\w+:)?{tag}\s".encode(), xml) is not None
