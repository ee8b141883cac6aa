"""What a cause is: one row that says what decides it, what it is called, what to do, and what proves its repair.

A cause's signs are an ordered table. Written as one expression it is the cause's verdict cell in the workbook, live;
in Python the row that decided gives the words, and the cells that it read are the evidence.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from workbook_tools.faults.rules import RULES
from workbook_tools.language.expressions import FALSE, Choose, Cond, column, table, word
from workbook_tools.language.model import (
    CONFIRMED,
    INDICATED,
    Per,
    Result,
    Shape,
    Strength,
    System,
    UnitSystem,
)
from workbook_tools.language.prose import in_units

#: Names of verdict cells: of a cause of the whole engine, and of one that sits in a cylinder.
ENGINE_VERDICT, CYLINDER_VERDICT = "fault_", "cylinder_fault_"


class Bench(Protocol):
    """A filled form as a cause's words ask it: readings and results by name, and the repeat number of a column."""

    @property
    def shape(self) -> Shape: ...

    @property
    def cylinders(self) -> range: ...

    def number(self, name: str, number: int | None = None) -> float | None: ...

    def text(self, name: str, number: int | None = None) -> str: ...

    def has(self, name: str, number: int | None = None) -> bool: ...

    def reading(self, name: str, number: int | None = None) -> str: ...

    def holds(self, condition: Cond, number: int | None = None) -> bool: ...

    def figure(self, name: str, unit_of: str = "") -> str: ...

    def filled(self, name: str) -> tuple[str, ...]: ...


#: A sentence about one engine, or one cylinder of it.
Words = Callable[[Bench, int | None], str]
Members = Callable[[Bench, int | None], tuple[int, ...]]


@dataclass(frozen=True, eq=False)
class Sign:
    """One row of a cause's verdict: when it holds, how sure that makes the cause, and what is said then.

    `strength` None ends the table: nothing is found. `next_step` '' is the cause's own. `unsettled` says what would
    settle a finding that is provisional for a reason of its own, '' where it is not. `waits_for`: systems without
    which it is provisional; `despite`: causes that do not touch it although they are a fault in such a system.
    `cylinders`: those it is found in, where that is not the cylinder of its cell. `caution`: of its own next step, '' where
    it is the cause's; several are parted by `+`. Raises ValueError for a rule that `rules.py` does not have.
    """

    when: Cond
    strength: Strength | None
    statement: Words = lambda bench, n: ""
    rule: str = ""
    next_step: str | Words = ""
    waits_for: tuple[System, ...] = ()
    unsettled: Words = lambda bench, n: ""
    despite: tuple[str, ...] = ()
    cylinders: Members | None = None
    support: tuple[Cond, ...] = ()
    caution: str = ""
    rests_on: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.strength is not None and self.rule not in RULES:
            raise ValueError(f"a sign goes by the rule {self.rule!r}, which is not in faults/rules.py")

    def step(self, bench: Bench, number: int | None) -> str:
        """The next step, '' for the cause's own."""
        return self.next_step if isinstance(self.next_step, str) else self.next_step(bench, number)


@dataclass(frozen=True, eq=False)
class Cause:
    """One cause that a check can find.

    `signs` judge the whole engine, `cylinder_signs` each cylinder by itself; a cause may have both. `cleared` is its
    own test, made, speaking against it; `hinted` a sign too weak for a finding, which a conclusion may still rest on
    (both of one cylinder where there are cylinder signs). `replaced_by` are causes that explain the same another way.
    `recheck` are the readings that prove its repair, `instead` what proves it in place of one that was not taken.
    `complaints` are those that it can explain (common practice, no source). `in_short` is the next step on sheet Start
    where that is said shorter there, `after_test` what is said there once a test has shown it, and `turn` which of
    several faults of one system is put right first (the lowest). `caution` is a key of `sheets.cautions.CAUTIONS`,
    several parted by `+`.
    """

    id: str
    system: System
    shown_as: str
    #: The same for the customer's page, in a sentence that a customer knows the words of.
    customer_words: str
    decided_by: str
    next_step: str
    supported_by: str = ""
    spoken_against_by: str = ""
    caution: str = ""
    signs: tuple[Sign, ...] = ()
    cylinder_signs: tuple[Sign, ...] = ()
    cleared: Cond = FALSE
    hinted: Cond = FALSE
    replaced_by: tuple[str, ...] = ()
    recheck: tuple[str, ...] = ()
    instead: Mapping[str, Cond] = field(default_factory=dict)
    complaints: tuple[str, ...] = ()
    in_short: str = ""
    after_test: tuple[tuple[Cond, str], ...] = ()
    turn: int = 5
    #: For the guide (common practice, no source). How common it is among engines that come in weak, against others.
    common: float = 1.0
    #: The tests that decide it, by their names in `guide.tests`.
    deciding: tuple[str, ...] = ()
    #: What it shows on which test, and how often (share of 1); on any other test it is as a sound engine is.
    shows: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    #: Tests that come before its repair: it may only be what another fault brings with it.
    before_repair: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """What may stand in a cell for it: its id, the words of the list, and its name in the findings (capitals don't count)."""
        return tuple(dict.fromkeys((self.id, self.id.replace("_", " "), self.in_words)))

    @property
    def in_words(self) -> str:
        """The name as it stands in the middle of a sentence."""
        return self.shown_as[0].lower() + self.shown_as[1:]

    def in_units(self, field: str, units: UnitSystem | None = None) -> str:
        """One of its texts (decided_by, supported_by ...) with the figures in it, in both systems where none is named."""
        return in_units(getattr(self, field), units)

    @property
    def of_cylinders(self) -> bool:
        """Whether it sits in a cylinder."""
        return bool(self.cylinder_signs)

    @property
    def engine_cell(self) -> str:
        """The verdict cell for the whole engine."""
        return ENGINE_VERDICT + self.id

    @property
    def cylinder_cell(self) -> str:
        """The verdict cell of each cylinder."""
        return CYLINDER_VERDICT + self.id

    @property
    def verdicts(self) -> tuple[Result, ...]:
        """The verdict cells."""
        found = []
        if self.signs:
            found.append(_verdict(self.engine_cell, self.shown_as, self.signs, "job"))
        if self.cylinder_signs:
            found.append(_verdict(self.cylinder_cell, self.shown_as, self.cylinder_signs, "cylinder"))
        return tuple(found)

    @property
    def is_found(self) -> Cond:
        """Confirmed or indicated, anywhere in the engine."""
        found: Cond = FALSE
        if self.signs:
            found |= word(self.engine_cell).is_in(CONFIRMED, INDICATED)
        if self.cylinder_signs:
            of_all = column(self.cylinder_cell)
            found |= of_all.any_is(CONFIRMED) | of_all.any_is(INDICATED)
        return found


def _verdict(name: str, label: str, signs: tuple[Sign, ...], per: Per) -> Result:
    expression: Choose = table(*((sign.when, sign.strength) for sign in signs))
    return Result(name, label, expression, per=per, working=True)
