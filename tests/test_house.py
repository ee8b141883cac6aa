"""The rooms of the house: what may import what. No arrow points up, and so there is no circle."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import workbook_tools

ROOT = Path(workbook_tools.__file__).parent
#: From the ground up; each may import those before it.
ROOMS = (
    "errors",
    "science",
    "package",
    "language",
    "sheets",
    "faults",
    "guide",
    "form",
    "layout",
    "generate",
    "read",
    "specs",
    "diagnose",
    "report",
    "checking",
    "register",
    "office_extension",
    "commands",
)
#: Spreadsheet libraries and the rooms that may know them.
KNOWN_IN = {
    "openpyxl": {"read", "register"},
    "xlsxwriter": {"generate", "report", "register", "specs", "layout"},
    "lxml": {"package", "read", "generate", "report", "office_extension"},
}


def imports_of(path: Path) -> set[str]:
    """The modules that a file imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found


def room_of(module: str) -> str | None:
    """The room of a module of ours, None for another's or the package itself."""
    parts = module.split(".")
    return parts[1] if parts[0] == "workbook_tools" and len(parts) > 1 and parts[1] in ROOMS else None


FILES = sorted(path for path in ROOT.rglob("*.py") if path.parent != ROOT)


@pytest.mark.parametrize("room", ROOMS[1:])
def test_a_room_imports_only_those_below_it(room: str) -> None:
    """Data flows one way; a room that needs something from above it has it in the wrong place."""
    below = ROOMS[: ROOMS.index(room) + 1]
    for path in (ROOT / room).glob("*.py"):
        above = {found for module in imports_of(path) if (found := room_of(module)) and found not in below}
        assert not above, (path.name, above)


def test_every_module_lies_in_a_room() -> None:
    """A new room is put into its place in the order."""
    assert {path.relative_to(ROOT).parts[0] for path in FILES} - {"sample_jobs"} <= set(ROOMS)


@pytest.mark.parametrize("library", KNOWN_IN)
def test_only_the_ends_know_spreadsheet_files(library: str) -> None:
    """What is asked, computed and judged knows no spreadsheet library."""
    rooms = {
        path.relative_to(ROOT).parts[0]
        for path in FILES
        if any(module.split(".")[0] == library for module in imports_of(path))
    }
    assert rooms <= KNOWN_IN[library]
