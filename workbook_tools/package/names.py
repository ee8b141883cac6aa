"""Sheet and table names inside formulas: which is free, how it is quoted, and how it is changed."""

from __future__ import annotations

import re
from collections.abc import Iterable

MAX_SHEET_NAME = 31  # characters, the limit of the file format's programs


def free_sheet_name(wanted: str, taken: Iterable[str]) -> str:
    """`wanted`, or "wanted (2)", "wanted (3)" ... where that is taken; capitals make no difference."""
    folded = {name.casefold() for name in taken}
    name, number = wanted, 1
    while name.casefold() in folded:
        number += 1
        ending = f" ({number})"
        name = wanted[: MAX_SHEET_NAME - len(ending)] + ending
    return name


def free_name(wanted: str, taken: Iterable[str]) -> str:
    """`wanted`, or `wanted_2`, `wanted_3` ... where that is taken; capitals make no difference."""
    folded = {name.casefold() for name in taken}
    name, number = wanted, 1
    while name.casefold() in folded:
        number += 1
        name = f"{wanted}_{number}"
    return name


def quoted(sheet: str) -> str:
    """A sheet name in the quotes that a formula needs around it."""
    return "'" + sheet.replace("'", "''") + "'"


class Renaming:
    """The new sheet name and new table names, applied to formulas; texts in quotes stay as they are."""

    def __init__(self, old_sheet: str, new_sheet: str) -> None:
        self._sheet = (old_sheet.casefold(), new_sheet)
        self._tables: dict[str, str] = {}
        # A text in double quotes; a quoted sheet name; a bare sheet or table name, not part of a longer word.
        self._token = re.compile(
            r"""("(?:[^"]|"")*")|'((?:[^']|'')+)'!|(?<![\w.\]'!$])([^\W\d][\w.]*)(?=([!\[]))"""
        )

    def add_table(self, old: str, new: str) -> None:
        if old != new:
            self._tables[old.casefold()] = new

    def table(self, old: str) -> str:
        """The name that a table of the donor gets."""
        return self._tables.get(old.casefold(), old)

    def formula(self, text: str | None) -> str | None:
        """The formula (or reference, or list of references) with the names changed."""
        return self._token.sub(self._replace, text) if text else text

    def location(self, text: str) -> str:
        """The place inside the book that a link leads to, with the names changed; a leading `#` is kept."""
        sheet, mark, cell = text.lstrip("#").rpartition("!")
        if mark and sheet.strip("'").replace("''", "'").casefold() == self._sheet[0]:
            return f"{'#' if text.startswith('#') else ''}{quoted(self._sheet[1])}!{cell}"
        return text

    def _replace(self, match: re.Match[str]) -> str:
        old, new = self._sheet
        text, in_quotes, bare, follows = match.groups()
        if text is not None:
            return text
        if in_quotes is not None:
            same = in_quotes.replace("''", "'").casefold() == old
            return f"{quoted(new)}!" if same else match[0]
        if follows == "!":
            return quoted(new) if bare.casefold() == old else match[0]
        return self._tables.get(bare.casefold(), bare)
