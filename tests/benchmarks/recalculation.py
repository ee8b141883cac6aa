"""How long LibreOffice takes to calculate a form again after one entry: `python -m tests.benchmarks.recalculation [OTHER.xlsx]`.

One entry after the other is changed in a window-less LibreOffice, each followed by the program's own recalculation, on the
largest form (16 cylinders); with another form named, such as one of an older version, on that too.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.support import office
from tests.support.known_engines import engine
from workbook_tools import fill_workbook, new_workbook
from workbook_tools.language.model import Shape
from workbook_tools.science.engine_geometry import default_banks

#: Entries changed one after the other, and how often each.
ENTRIES = ("timing", "idle_vacuum_low", "compression_dry_3", "fuel_pressure", "coolant_temperature")
ROUNDS = 40

SCRIPT = """
import json, sys, tempfile, time
sys.path.insert(0, sys.argv[1])
from tests.support.office_session import Program, prop, url
import uno
program = Program(sys.argv[2], tempfile.mkdtemp())
book = program.desktop.loadComponentFromURL(url(sys.argv[3]), "_blank", 0, (prop("Hidden", True),))
names, found = book.NamedRanges, {}
for name in sys.argv[5:]:
    cell = names.getByName(name).ReferredCells.getCellByPosition(0, 0)
    value = cell.Value
    shown = names.getByName("next_test").ReferredCells.getCellByPosition(0, 0) if names.hasByName("next_test") else cell
    start = time.perf_counter()
    for turn in range(int(sys.argv[4])):
        cell.Value = value + (0.1 if turn % 2 else 0)
        shown.String
    found[name] = (time.perf_counter() - start) / int(sys.argv[4]) * 1000
print(json.dumps(found))
book.close(True)
program.process.terminate()
"""


def milliseconds(form: Path) -> dict[str, float]:
    """Milliseconds from an entry to the next test shown, by entry."""
    program, python = office.find_program(), office.find_python()
    if program is None or python is None:
        raise SystemExit("LibreOffice with its Python is needed for this.")
    root = str(Path(__file__).parents[2])
    asked = [python, "-c", SCRIPT, root, program, str(form), str(ROUNDS), *ENTRIES]
    told = subprocess.run(asked, capture_output=True, text=True, check=True).stdout
    return dict(json.loads(told.strip().splitlines()[-1]))


def main() -> int:
    """Print the table."""
    import random

    shape = Shape(16, default_banks(16))
    readings = {
        n: each for n, each in engine("late_timing", shape, random.Random(1)).items() if each is not None
    }
    rows: dict[str, dict[str, float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        form, filled = Path(folder) / "form.xlsx", Path(folder) / "filled.xlsx"
        new_workbook(form, cylinders=16)
        locked = ("cylinder_", "suspect_", "test_asked", "learned_", "experience")
        typed = {n: each for n, each in readings.items() if not n.startswith(locked) and n != "firing_order"}
        fill_workbook(form, typed, filled)
        rows["this form"] = milliseconds(filled)
        for other in sys.argv[1:]:
            rows[Path(other).name] = milliseconds(Path(other))
    print(f"| Form | {' | '.join(ENTRIES)} |")
    print(f"| --- |{' ---: |' * len(ENTRIES)}")
    for name, found in rows.items():
        print(f"| {name} | {' | '.join(f'{found[each]:.1f} ms' for each in ENTRIES)} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
