"""The names in the text of a formula, found without the language that wrote it."""

from __future__ import annotations

import re


def names_in(formula: str) -> set[str]:
    """The defined names that a formula refers to."""
    outside_quotes = re.sub(r'"[^"]*"', '""', formula)
    return set(re.findall(r"(?<![A-Za-z0-9_.])[a-z][a-z0-9_]*(?![A-Za-z0-9_(])", outside_quotes))
