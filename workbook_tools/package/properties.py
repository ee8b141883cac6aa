"""What a workbook says of itself in its custom properties."""

from __future__ import annotations

from lxml import etree

from workbook_tools.package.parts import Package

_NUMBERS = frozenset("i1 i2 i4 i8 int ui1 ui2 ui4 ui8 uint r4 r8 decimal".split())


def custom_properties(package: Package) -> dict[str, str]:
    """Properties by name as text, a number without a useless `.0` (ECMA-376 part 1, 22.3.2.2).

    Raises ValueError where a number is none.
    """
    part = package.find("docProps/custom.xml")
    if part is None:
        return {}
    found = {}
    for held in package.xml(part).iter("{*}property"):
        value = next(iter(held), None)
        if value is not None:
            text = (value.text or "").strip()
            if etree.QName(value).localname in _NUMBERS:
                text = f"{float(text):g}"
            found[held.get("name", "")] = text
    return found
