"""Parsing a part, and going through its elements in small memory, with nothing read from outside of it.

parsed(content)                   the root of a part's tree
elements_until(content, ...)      elements of one tag, one after the other, up to the end of another
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

from lxml import etree

#: A part up to this size is parsed at once where its elements are gone through.
PARSED_AT_ONCE = 2 * 1024 * 1024
#: With `collect_ids=False`, which would save a fifth of parsing, lxml looks for a document type outside (6.1.3).
_NOTHING_FROM_OUTSIDE: dict[str, Any] = {"resolve_entities": False, "no_network": True, "load_dtd": False}


def parsed(content: bytes) -> etree._Element:
    """The root element. Raises lxml.etree.XMLSyntaxError for XML that is none."""
    return etree.fromstring(content, etree.XMLParser(**_NOTHING_FROM_OUTSIDE))


def elements_until(content: bytes, tag: str, last: str) -> Iterator[etree._Element]:
    """The elements of a tag, each for one moment only, up to the end of the first of `last`, and that.

    No tree is kept, that of a large part not even for a while, and what stands behind `last` may be broken. Raises
    lxml.etree.XMLSyntaxError where XML before it is none.
    """
    return (_at_once if len(content) <= PARSED_AT_ONCE else _one_by_one)(content, tag, last)


def _at_once(content: bytes, tag: str, last: str) -> Iterator[etree._Element]:
    """The elements of a tag up to the end of `last`, and that, from one tree, in a third of the time."""
    try:
        root = parsed(content)
    except etree.XMLSyntaxError:
        # What stands behind `last` may be broken, and is nobody's business here.
        yield from _one_by_one(content, tag, last)
        return
    end = next(root.iter(last), None)
    if end is None:
        yield from root.iter(tag)
        return
    for before in end.itersiblings(preceding=True):
        yield from before.iter(tag)
    yield from end.iter(tag)
    yield end


def _one_by_one(content: bytes, tag: str, last: str) -> Iterator[etree._Element]:
    """The same, each element when it ends, and nothing kept of it."""
    for _, element in etree.iterparse(io.BytesIO(content), tag=(tag, last), **_NOTHING_FROM_OUTSIDE):
        yield element
        element.clear()
        while element.getprevious() is not None:
            del element.getparent()[0]
