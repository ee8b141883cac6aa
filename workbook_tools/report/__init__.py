"""Stage after diagnosis: findings become a sheet, and the sheet is placed into the user's workbook."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from workbook_tools.package.place import place_sheet

__all__ = ["place_sheet"]


def __getattr__(name: str) -> Any:
    """Load the placing only when it is asked for, as the package is imported by every command."""
    if name == "place_sheet":
        from workbook_tools.package.place import place_sheet

        return place_sheet
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
