"""The two dialects of the file format: their namespaces differ, and nothing else that is read here.

transitional(text), strict(text)     XML, or the name of a relationship, in the one and in the other
is_strict(content)                   whether a workbook part is written in the strict one
"""

from __future__ import annotations

_USUAL, _STRICT = "http://schemas.openxmlformats.org/", "http://purl.oclc.org/ooxml/"
# Transitional start of a namespace and its strict twin, ECMA-376 parts 1 and 4; the two odd ones come first.
_DIALECTS = [
    (
        "officeDocument/2006/relationships/extended-properties",
        "officeDocument/relationships/extendedProperties",
    ),
    ("officeDocument/2006/relationships/custom-properties", "officeDocument/relationships/customProperties"),
    ("officeDocument/2006/extended-properties", "officeDocument/extendedProperties"),
    ("officeDocument/2006/custom-properties", "officeDocument/customProperties"),
    ("officeDocument/2006/", "officeDocument/"),
    ("spreadsheetml/2006/", "spreadsheetml/"),
    ("drawingml/2006/", "drawingml/"),
]


def is_strict(content: bytes) -> bool:
    """Whether the workbook part is strict."""
    return f"{_STRICT}spreadsheetml/main".encode() in content


def transitional(text: str) -> str:
    """Text with the usual names in place of the strict ones."""
    for usual, strict_twin in _DIALECTS:
        text = text.replace(_STRICT + strict_twin, _USUAL + usual)
    return text


def strict(text: str) -> str:
    """Text with the strict names in place of the usual ones."""
    for usual, strict_twin in _DIALECTS:
        text = text.replace(_USUAL + usual, _STRICT + strict_twin)
    return text
