"""LibreOffice as the technician's spreadsheet program, driven through its own interface.

    with Office() as office:
        office.fill(form, {"job_number": "J-7", "coolant_temperature": 185}, filled)
        office.read_names(filled)["station_pressure"]

Our interpreter need not have LibreOffice's `uno` module: `office_session.py` runs in one that does, keeps one
headless program for the whole session, and is spoken to in lines of JSON. Each `Office` has its own profile
folder, so it neither sees nor disturbs a LibreOffice that somebody is working in.

Environment:
    ENGINE_CHECK_REQUIRE_OFFICE=1   a missing LibreOffice is a failure, not a skip
    ENGINE_CHECK_OFFICE_PYTHON      interpreter that can import `uno`, where it is none of the usual ones
"""

from __future__ import annotations

import datetime as dt
import functools
import json
import math
import os
import queue
import shutil
import signal
import subprocess
import tempfile
import threading
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

SESSION_SCRIPT = Path(__file__).with_name("office_session.py")
PYTHONS_WITH_UNO = (
    "/usr/bin/python3",
    "/usr/lib/libreoffice/program/python",
    "/usr/lib64/libreoffice/program/python",
    "/opt/libreoffice/program/python",
    "/Applications/LibreOffice.app/Contents/Resources/python",
)
PROGRAMS = ("soffice", "libreoffice", "/Applications/LibreOffice.app/Contents/MacOS/soffice")
PYTHON_VARIABLES = ("PYTHONPATH", "PYTHONHOME", "PYTHONWARNINGS", "VIRTUAL_ENV")
START_SECONDS = 90.0
ANSWER_SECONDS = 120.0
INSTALL_HINT = "install it (on Debian: apt-get install libreoffice-calc python3-uno)"


class OfficeError(RuntimeError):
    """LibreOffice is missing, did not answer, or refused what was asked; the message says which."""


@dataclass(frozen=True)
class CellError:
    """An error value in a calculated cell, in the words that the program shows (`#DIV/0!`, `Err:502`)."""

    text: str


Entry = float | int | str | bool | dt.date | None
Value = float | str | CellError | None


@functools.cache
def find_program() -> str | None:
    """Path of the soffice program, or None."""
    return next((path for path in map(shutil.which, PROGRAMS) if path), None)


@functools.cache
def find_python() -> str | None:
    """Path of an interpreter that can import `uno`, or None."""
    chosen = os.environ.get("ENGINE_CHECK_OFFICE_PYTHON")
    return next((path for path in ([chosen] if chosen else PYTHONS_WITH_UNO) if _imports_uno(path)), None)


def _imports_uno(python: str) -> bool:
    if not shutil.which(python):
        return False
    tried = subprocess.run([python, "-c", "import uno"], env=_environment(), capture_output=True)
    return tried.returncode == 0


def _environment() -> dict[str, str]:
    """Ours without what steers our interpreter, and in a locale that the program takes for en-US."""
    kept = {name: value for name, value in os.environ.items() if name not in PYTHON_VARIABLES}
    return {**kept, "LC_ALL": "C.UTF-8"}


def office_missing() -> str | None:
    """What keeps LibreOffice from being used here, as one sentence; None where it can be used."""
    if find_program() is None:
        return f"LibreOffice is not installed: {INSTALL_HINT}"
    if find_python() is None:
        return f"LibreOffice is installed, but no interpreter can import its uno module: {INSTALL_HINT}"
    return None


def office_available() -> bool:
    """Whether LibreOffice and its uno module are both here."""
    return office_missing() is None


def office_required() -> bool:
    """Whether a missing LibreOffice must fail the tests that need it."""
    return os.environ.get("ENGINE_CHECK_REQUIRE_OFFICE", "") not in ("", "0")


class Office:
    """One headless LibreOffice, started at the first request, ended by `close` or on leaving `with`.

    Sheets stay protected while values are written: the program's interface writes into any cell, so a
    typed-over formula needs no unprotecting. Raises OfficeError where the program is missing, refuses, or
    takes longer than `seconds` for one request; after a time-out a new program is started by the next
    request.
    """

    def __init__(self, seconds: float = ANSWER_SECONDS) -> None:
        self.seconds = seconds
        self._process: subprocess.Popen[str] | None = None
        self._answers: queue.Queue[str | None] = queue.Queue()
        self._folder: str | None = None

    def __enter__(self) -> Office:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def fill(
        self, src: Path, values: Mapping[str, Entry], out: Path, typed: bool = False, seen: bool = False
    ) -> None:
        """Write `out` (.xlsx): `src` with each value in the cell of that defined name, calculated.

        Text is stored as text, a date as a date, None empties the cell. With `typed`, text is parsed as the
        program parses typing in its en-US locale: "12.5" becomes a number, "=1+1" a formula.
        `seen` keeps frozen rows and hidden grid lines, as from a window on a screen, and takes half as long again.
        """
        request = {
            "op": "fill",
            "src": str(src),
            "out": str(out),
            "kind": "xlsx",
            "typed": typed,
            "seen": seen,
        }
        self._ask(**request, values=_entries(values))

    def read_names(self, src: Path, names: Iterable[str] | None = None) -> dict[str, Value]:
        """Values after a hard recalculation, by defined name; without `names` all that name a single cell.

        Number (dates as serial days, truth values as 1 or 0), text, None for a cell with nothing in it,
        CellError.
        """
        listed = None if names is None else list(names)
        return _values(self._ask(op="read_names", src=str(src), names=listed))

    def evaluate_many(
        self,
        src: Path,
        value_sets: Sequence[Mapping[str, Entry]],
        names: Iterable[str] | None = None,
        typed: bool = False,
    ) -> list[dict[str, Value]]:
        """As `fill` and `read_names` for each value set on a fresh `src`, but opened once and never saved.

        The program is given `seconds` for the opening and another second for each value set.
        """
        answer = self._ask(
            op="evaluate_many",
            src=str(src),
            values=[_entries(values) for values in value_sets],
            names=None if names is None else list(names),
            typed=typed,
            extra_seconds=float(len(value_sets)),
        )
        return [_values(row) for row in answer]

    def fill_and_read(
        self, src: Path, values: Mapping[str, Entry], names: Iterable[str] | None = None, typed: bool = False
    ) -> dict[str, Value]:
        """`evaluate_many` for one value set."""
        return self.evaluate_many(src, [values], names, typed)[0]

    def resave(
        self, src: Path, out: Path, kind: str = "xlsx", recalculate: bool = True, reading: str = ""
    ) -> None:
        """Write `out` as the program saves `src`; kind: xlsx, ods, xls, csv (first sheet).

        `reading`: how a text file is to be read, in the program's own terms.
        """
        request = {"kind": kind, "recalculate": recalculate, "reading": reading}
        self._ask(op="resave", src=str(src), out=str(out), **request)

    def rearrange(self, src: Path, steps: Sequence[Sequence[Any]], out: Path) -> None:
        """Write `out` (.xlsx): `src` after a user's changes to its layout, each (verb, sheet, ...):

        ("add_sheet", name), ("move_sheet", sheet, position), ("rename_sheet", sheet, new name),
        ("copy_sheet", sheet, name of the copy), ("hide_sheet", sheet), ("unprotect", sheet),
        ("take_sheets", path of a book whose sheets are copied), ("write", sheet, "B3", text),
        ("insert_rows" or "insert_columns", sheet, index, count)
        """
        self._ask(
            op="rearrange", src=str(src), steps=[list(step) for step in steps], out=str(out), kind="xlsx"
        )

    def walk(self, src: Path) -> dict[str, list[tuple[int, int]]]:
        """Row and column, from 0, of the cells that the Tab key leads to on each sheet of `src`, in their order."""
        answer = self._ask(op="walk", src=str(src))
        return {sheet: [(row, column) for row, column in way] for sheet, way in answer.items()}

    def to_pdf(self, src: Path, out: Path) -> None:
        """Write `out` (.pdf): every sheet of `src` as it would print, recalculated."""
        self.resave(src, out, kind="pdf")

    def close(self) -> None:
        """End the program and remove its profile."""
        if self._process is not None:
            assert self._process.stdin
            self._process.stdin.close()
            try:
                self._process.wait(20)
            except subprocess.TimeoutExpired:
                pass
            self._kill()
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)
            self._folder = None

    def _ask(self, extra_seconds: float = 0.0, **request: Any) -> Any:
        if self._process is None:
            self._start()
        assert self._process is not None and self._process.stdin
        try:
            self._process.stdin.write(json.dumps(request) + "\n")
            self._process.stdin.flush()
        except BrokenPipeError:
            self._kill()
            raise OfficeError("LibreOffice went away before the request was sent") from None
        return self._receive(self.seconds + extra_seconds, f"{request['op']} of {request['src']}")

    def _start(self) -> None:
        reason = office_missing()
        if reason:
            raise OfficeError(reason)
        if self._folder is None:
            self._folder = tempfile.mkdtemp(prefix="engine-check-office-")
        # Its own process group: what the program starts can then be ended with it.
        self._process = subprocess.Popen(
            [str(find_python()), str(SESSION_SCRIPT), str(find_program()), self._folder],
            env=_environment(),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            start_new_session=True,
        )
        self._answers = queue.Queue()
        threading.Thread(target=_forward, args=(self._process, self._answers), daemon=True).start()
        self._receive(START_SECONDS, "the start")

    def _receive(self, seconds: float, what: str) -> Any:
        try:
            line = self._answers.get(timeout=seconds)
        except queue.Empty:
            self._kill()
            raise OfficeError(f"LibreOffice took longer than {seconds:g} s for {what}") from None
        if line is None:
            self._kill()
            raise OfficeError(f"LibreOffice ended during {what}")
        answer = json.loads(line)
        if "failed" in answer:
            raise OfficeError(f"{what}: {answer['failed']}")
        return answer["ok"]

    def _kill(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        try:
            os.killpg(process.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass
        process.wait()
        for stream in (process.stdin, process.stdout):
            if stream and not stream.closed:
                try:
                    stream.close()
                except BrokenPipeError:
                    pass


def _forward(process: subprocess.Popen[str], answers: queue.Queue[str | None]) -> None:
    assert process.stdout
    try:
        for line in process.stdout:
            answers.put(line)
    except ValueError:  # closed by _kill while waiting
        pass
    answers.put(None)


def _entries(values: Mapping[str, Entry]) -> dict[str, Any]:
    return {name: _entry(name, value) for name, value in values.items()}


def _entry(name: str, value: Entry) -> Any:
    if isinstance(value, dt.date):
        return {"date": value.isoformat()[:10]}
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float) and math.isfinite(value):
        return value
    raise TypeError(f"{name}: {value!r} cannot be typed into a cell")


def _values(row: Mapping[str, Any]) -> dict[str, Value]:
    return {
        name: CellError(value["error"]) if isinstance(value, dict) else value for name, value in row.items()
    }
