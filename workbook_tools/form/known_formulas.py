"""Whether a workbook's formulas are those of the form, told by their digest: writing all of them out takes a quarter of a check.

are_known(shape, formulas)      True where none was changed; False says nothing, and each is held against what it should be

`known_formulas.txt` has the digest of the usual engines; `python -m tests.test_form_version` writes it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from importlib.resources import files

from workbook_tools.language.model import Shape

FILE = "known_formulas.txt"
#: Numbers that programs write in several ways: with an exponent, or with many noughts. Half a million letters are searched for
#: them, which takes no time only where what is searched for begins with a letter of its own.
_EXPONENTS = re.compile(r"E[+-]?[0-9]+"), re.compile(r"e[+-]?[0-9]+")
_BEFORE_EXPONENT = re.compile(r"(?<![A-Za-z0-9_.])[0-9]+\.?[0-9]*\Z")
_LONGEST_NUMBER = 40
#: Letters: five times those of the largest form. More is no form, and is not kept in memory.
LONGEST_KEPT = 4_000_000
_MANY_NOUGHTS = re.compile(r"0\.0000(?<![A-Za-z0-9_.]0\.0000)[0-9]+")


def are_known(shape: Shape, formulas: Iterable[str | None]) -> bool:
    """Whether the formulas of all computed cells, in the order of the form, are the form's own."""
    known = _known().get(key(shape))
    return known is not None and digest(formulas) == known


def key(shape: Shape) -> str:
    """What formulas depend on, in a line."""
    banks = "|".join("-".join(map(str, bank)) for bank in shape.banks)
    return f"{shape.cylinders} {banks} {shape.units}"


def digest(formulas: Iterable[str | None]) -> str:
    """The digest of formulas as any program writes them."""
    text = "\n".join((each or "").lstrip("=") for each in formulas)
    return _kept_digest(text) if len(text) <= LONGEST_KEPT else _digest(text)


def _digest(formulas: str) -> str:
    return hashlib.sha256(_as_any_program(formulas).encode()).hexdigest()


# The jobs of a folder have the same formulas, to the letter, where the engines are alike and one program saved them.
_kept_digest = lru_cache(maxsize=6)(_digest)


def _as_any_program(plain: str) -> str:
    if "()" in plain:
        plain = plain.replace("TRUE()", "TRUE").replace("FALSE()", "FALSE")
    for exponent in _EXPONENTS:
        plain = _with_one_exponent(plain, exponent)
    return _MANY_NOUGHTS.sub(lambda found: _in_one_way(found[0]), plain)


def _with_one_exponent(text: str, exponent: re.Pattern[str]) -> str:
    """Text with numbers that have an exponent, written after that letter, written in one way."""
    pieces, end = [], 0
    for found in exponent.finditer(text):
        number = _BEFORE_EXPONENT.search(text, max(end, found.start() - _LONGEST_NUMBER), found.start())
        if number:
            pieces += [text[end : number.start()], _in_one_way(text[number.start() : found.end()])]
            end = found.end()
    return "".join([*pieces, text[end:]])


def _in_one_way(number: str) -> str:
    return f"{float(number):.12g}"


@lru_cache(maxsize=1)
def _known() -> Mapping[str, str]:
    lines = files(__package__).joinpath(FILE).read_text(encoding="ascii").splitlines()
    return dict(line.rsplit(" ", 1) for line in lines)  # type: ignore[misc]
