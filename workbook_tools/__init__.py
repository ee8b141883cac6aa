"""Engine-check workbooks: write the form, read it back filled, find the fault and prove it.

    new_workbook(out, cylinders=4)             write an empty form; specs= and engine= fill in what a specs book knows
    fill_workbook(form, readings, out)         fill one from field,value rows
    check_workbook(path)                       read, judge, add the findings sheet; offers pandas frames

Importing the package costs nothing: each of these is loaded when it is first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbook_tools.checking.check import check_workbook
    from workbook_tools.generate.fill import fill_workbook
    from workbook_tools.specs.new_form import new_workbook

__version__ = "0.1.0"
__all__ = ["check_workbook", "fill_workbook", "new_workbook"]

_HOMES = {
    "check_workbook": "workbook_tools.checking.check",
    "fill_workbook": "workbook_tools.generate.fill",
    "new_workbook": "workbook_tools.specs.new_form",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
