"""Words that causes share: cylinders, readings in a row, sentences made of parts."""

from __future__ import annotations

from workbook_tools.faults.model import Bench


def cylinders_in_words(cylinders: tuple[int, ...]) -> str:
    """`cylinder 3`, `cylinders 3 and 4`, `cylinders 1, 3 and 5`."""
    if len(cylinders) == 1:
        return f"cylinder {cylinders[0]}"
    *most, last = (str(n) for n in cylinders)
    return f"cylinders {', '.join(most)} and {last}"


def at_the_head(text: str) -> str:
    """A text as a sentence begins."""
    return text[:1].upper() + text[1:]


def readings_of(bench: Bench, name: str, cylinders: tuple[int, ...]) -> str:
    """The readings of some cylinders, one behind the other."""
    return ", ".join(bench.reading(name, n) for n in cylinders)


def allowed(bench: Bench, low: str, high: str) -> str:
    """What is specified: `0.016 in to 0.02 in specified`, `at least ...`, `at most ...`."""
    if bench.has(low) and bench.has(high):
        return f"{bench.reading(low)} to {bench.reading(high)} specified"
    return (
        f"at least {bench.reading(low)} specified"
        if bench.has(low)
        else f"at most {bench.reading(high)} specified"
    )
