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
#: Numbers that programs write in several ways: with an exponent, or with many noughts. It begins with a digit and looks back
#: only then, as half a million letters are searched: looked at from every letter they took a tenth of a check.
_LARGE_OR_SMALL = re.compile(r"[0-9](?<![A-Za-z0-9_.].)(?:[0-9]*\.?[0-9]*[Ee][+-]?[0-9]+|(?<=0)\.0000[0-9]+)")


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
    together = "\n".join((each or "").lstrip("=") for each in formulas)
    plain = together
    if "()" in plain:
        plain = plain.replace("TRUE()", "TRUE").replace("FALSE()", "FALSE")
    plain = _LARGE_OR_SMALL.sub(lambda found: f"{float(found[0]):.12g}", plain)
    return hashlib.sha256(plain.encode()).hexdigest()


@lru_cache(maxsize=1)
def _known() -> Mapping[str, str]:
    lines = files(__package__).joinpath(FILE).read_text(encoding="ascii").splitlines()
    return dict(line.rsplit(" ", 1) for line in lines)  # type: ignore[misc]
