"""What a sheet sees: values by cell name, and the results that follow from them."""

from __future__ import annotations

from collections.abc import Mapping

from workbook_tools.language.constants import CONSTANTS
from workbook_tools.language.model import Per, Shape, Value, cell_name


class Values:
    """Readings and results by cell name as a sheet sees them: numbers, texts, or None for blank."""

    def __init__(self, shape: Shape, repeats: Mapping[str, Per], values: dict[str, Value]) -> None:
        self.shape = shape
        self.repeats = repeats
        self.values = values

    def number(self, name: str | None, number: int | None = None) -> float | None:
        """The number in a cell, None where it is blank or holds text (as COUNT sees it)."""
        value = self.values.get(cell_name(name, number)) if name else None
        return value if isinstance(value, (int, float)) and not isinstance(value, bool) else None

    def text(self, name: str, number: int | None = None) -> str:
        """The text in a cell in lower case, '' where it is blank or a number: as a formula compares it."""
        value = self.values.get(cell_name(name, number))
        return value.lower() if isinstance(value, str) else ""

    def numbers_of(self, name: str) -> tuple[int | None, ...]:
        """The repeat numbers of an item in this workbook."""
        return self.shape.numbers(self.repeats[name])

    def column(self, name: str) -> list[float]:
        """The numbers in all cells of a repeated item, blanks and texts left out."""
        cells = (self.number(name, n) for n in self.numbers_of(name))
        return [value for value in cells if value is not None]

    def count_text(self, name: str, text: str) -> int:
        """How many cells of a repeated item hold that text."""
        return sum(self.text(name, n) == text for n in self.numbers_of(name))

    def constant(self, name: str) -> float:
        """A figure of `constants.py` in this workbook's unit system."""
        return CONSTANTS[name].value(self.shape.units)
