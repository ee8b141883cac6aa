"""One filled form on the bench: its usable readings, results and marks, with the cells they stand in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from workbook_tools.diagnose.model import Evidence
from workbook_tools.form import the_form
from workbook_tools.language.expressions import Cond
from workbook_tools.language.model import Field, Shape, cell_name
from workbook_tools.language.values import Values
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.sheets import readings


@dataclass(frozen=True)
class Case:
    """What the systems' modules judge: `values` hold usable readings and all results in the workbook's units.

    `doubted` names readings used as typed although they look like a slip, with the reason; `dropped` those that were not
    used. `dates` holds the date entries.
    """

    form: FilledForm
    values: Values
    texts: Mapping[str, str]
    dates: Mapping[str, object]
    doubted: Mapping[str, str]
    dropped: Mapping[str, str]

    @property
    def shape(self) -> Shape:
        """The engine's shape."""
        return self.form.shape

    @property
    def cylinders(self) -> range:
        """Cylinder numbers."""
        return range(1, self.shape.cylinders + 1)

    def number(self, name: str, number: int | None = None) -> float | None:
        """A reading or result, None where blank or not usable."""
        return self.values.number(name, number)

    def text(self, name: str, number: int | None = None) -> str:
        """A choice or word result in lower case, '' where blank."""
        return self.values.text(name, number)

    def has(self, name: str, number: int | None = None) -> bool:
        """Whether a usable reading, choice or result is there."""
        return self.values.values.get(cell_name(name, number)) is not None

    def typed(self, name: str, number: int | None = None) -> bool:
        """Whether anything was typed into a cell, usable or not."""
        cell = self.form.cells.get(cell_name(name, number))
        return cell is not None and (cell.raw is not None and str(cell.raw).strip() != "")

    def mark(self, name: str, number: int | None = None) -> str:
        """The mark of a reading, '' where it has no limits."""
        return self.text(f"mark_{name}", number)

    def _against_limits(self, ask: Callable[[str], Cond], name: str, number: int | None) -> bool:
        """What a question about limits comes to; no for a reading that has none."""
        return f"mark_{name}" in the_form.items() and self.holds(ask(name), number)

    def is_out(self, name: str, number: int | None = None) -> bool:
        """Beyond a limit, and further than the gauge's limit of error."""
        return self._against_limits(readings.is_out, name, number)

    def is_beyond(self, name: str, number: int | None = None) -> bool:
        """Beyond a limit, be it by less than the gauge's limit of error."""
        return self._against_limits(readings.is_beyond, name, number)

    def is_below(self, name: str, number: int | None = None) -> bool:
        """Beyond the lower limit."""
        return self._against_limits(readings.is_below, name, number)

    def is_above(self, name: str, number: int | None = None) -> bool:
        """Beyond the upper limit."""
        return self._against_limits(readings.is_above, name, number)

    def is_inside(self, name: str, number: int | None = None) -> bool:
        """Taken, with a limit, and on its good side."""
        return self._against_limits(readings.is_inside, name, number)

    def unit(self, name: str) -> str:
        """Unit of a field or result in this workbook's system."""
        item, _ = the_form.items()[name]
        return item.measure.unit(self.shape.units)

    def holds(self, condition: Cond, number: int | None = None) -> bool:
        """Whether a condition over the form's cells holds; of cylinder `number` where it asks for the cell's own."""
        return bool(the_form.value_of(condition, self.values, number))

    def figure(self, name: str, unit_of: str = "") -> str:
        """A figure of the rules in this form's units; `unit_of` names a reading that is measured in the same."""
        return f"{self.values.constant(name):g} {self.unit(unit_of) if unit_of else ''}".strip()

    def reading(self, name: str, number: int | None = None) -> str:
        """A reading in words with its unit: `112 psi`."""
        value = self.values.values.get(cell_name(name, number))
        if value is None:
            return "not taken"
        if isinstance(value, str):
            return value
        item, _ = the_form.items()[name]
        # One decimal more than the form shows, so that a reading near a limit is told from it; no trailing zeros.
        shown = f"{value:.{item.measure.decimals(self.shape.units) + 1}f}"
        shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
        if isinstance(item, Field) or not item.percent:
            return f"{shown} {self.unit(name)}".strip()
        return f"{100 * value:.0f} %"

    def evidence(self, cells: tuple[str, ...]) -> tuple[Evidence, ...]:
        """Cells by name as evidence, those without a value left out, each once."""
        found = []
        for name in dict.fromkeys(cells):
            value = self.values.values.get(name)
            value = self.texts.get(name) if value is None else value
            if value is None:
                continue
            item = the_form.cells(self.shape)[name].item
            found.append(Evidence(name, self.form.where(name), value, item.measure.unit(self.shape.units)))
        return tuple(found)

    def filled(self, name: str) -> tuple[str, ...]:
        """Cell names of a repeated item that hold a value."""
        return tuple(cell_name(name, n) for n in self.values.numbers_of(name) if self.has(name, n))
