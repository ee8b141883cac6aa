"""Stage after diagnosis: findings become a sheet, and the sheet is placed into the user's workbook."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from workbook_tools.package.place import place_sheet
    from workbook_tools.report.frame import place_frame

__all__ = ["place_frame", "place_sheet"]

_HOMES = {"place_frame": "workbook_tools.report.frame", "place_sheet": "workbook_tools.package.place"}


def __getattr__(name: str) -> Any:
    """Load the placing only when it is asked for, as the package is imported by every command."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
