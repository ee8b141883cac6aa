"""Errors that a user can meet, one base class and leaves by what the user can do about it.

EngineCheckError
|-- BadRequest        a command or call asked for something that cannot be made; change the request
|-- UnusableFile      a file cannot be used as it is; the message says why and what to do
    |-- NotOurWorkbook    a readable workbook, but not an engine-check form
    |-- ChangedMeanwhile  a file is no longer what was read; what is there now stays
"""

from __future__ import annotations

import traceback
from pathlib import Path


class EngineCheckError(Exception):
    """Base of all errors that are told to a person in one sentence, without a traceback."""


class BadRequest(EngineCheckError):
    """What was asked for cannot be made; the message says which part and what would be accepted."""


class UnusableFile(EngineCheckError):
    """A file cannot be used as it is; the message names it, says why, and what to do."""


class NotOurWorkbook(UnusableFile):
    """A readable workbook that carries none of the names of an engine-check form."""


class ChangedMeanwhile(UnusableFile):
    """A file was saved, renamed or made by somebody else between reading and writing; it stays as it is."""


def fault_of_ours(problem: BaseException) -> str:
    """Where in the program a fault of its own lies, in words that a person can pass on; nothing of what was typed."""
    frames = [
        frame
        for frame in traceback.extract_tb(problem.__traceback__)
        if Path(frame.filename).is_relative_to(Path(__file__).parent)
    ]
    place = f" ({Path(frames[-1].filename).name}, line {frames[-1].lineno})" if frames else ""
    return f"by a fault of this program{place}; please report it with the file"
