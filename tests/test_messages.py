"""Every message that a person can meet reads as plain sentences that say what is wrong, where, and what to do."""

from __future__ import annotations

import ast
import inspect
import re
import traceback
from pathlib import Path

import pytest

import workbook_tools
from tests import message_triggers_checks, message_triggers_files
from tests.message_triggers import TRIGGERS
from workbook_tools import errors
from workbook_tools.errors import EngineCheckError

assert message_triggers_checks and message_triggers_files, "their triggers stand in the same table"
PACKAGE = Path(workbook_tools.__file__).parent
ERRORS = {
    name for name, each in inspect.getmembers(errors, inspect.isclass) if issubclass(each, EngineCheckError)
}
#: Words that a program says to a programmer.
NOT_FOR_PEOPLE = re.compile(
    r"\bNone\b|\bnan\b|Traceback|Exception|[A-Za-z]+Error\b|<class|object at 0x|\bdict\b|\blist index|KeyError|\bnull\b"
    r"|\{[a-z_]+\}|b'|PosixPath|frozenset|datetime\.|\\x[0-9a-f]{2}|  |\.\.$| \.(?=\s|$)|,\.|;\.",
)
#: What a sentence asks for: one of these words, after a colon or semicolon or as its beginning.
ASKS_FOR = re.compile(
    r"\b(give|make|makes|write|save|close|choose|take|move|open|use|update|name|leave|keep|copy|install|installs|add|ask|check"
    r"|unpack|replace|put|shorten|create|try|clear|delete|report|needs both|say whose|has 1 to|remove|mend|look)\b",
    re.IGNORECASE,
)
SHOWN_AT_MOST = 700


def is_plain(message: str) -> list[str]:
    """What is wrong with a message as something to read; nothing where it is plain."""
    wrong = []
    if not message[:1].isprintable() or not message.endswith("."):
        wrong.append("no full stop at its end")
    if "\n" in message or not message.isprintable():
        wrong.append("more than one line, or marks that can't be printed")
    if len(message) > SHOWN_AT_MOST:
        wrong.append("too long")
    wrong += [f"says {each.group()!r}" for each in NOT_FOR_PEOPLE.finditer(message)]
    return [f"{each}: {message}" for each in wrong]


def raised_by(name: str, folder: Path, patch: pytest.MonkeyPatch) -> EngineCheckError:
    """The refusal that a trigger brings about."""
    with pytest.raises(EngineCheckError) as caught, patch.context() as only_here:
        TRIGGERS[name](folder, only_here)
    return caught.value


@pytest.mark.parametrize("name", TRIGGERS)
def test_a_refusal_is_a_plain_sentence(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It ends in a full stop, says what to do and, where a file is at fault, which; and no word of a programmer's."""
    error = raised_by(name, tmp_path, monkeypatch)
    PLACES_SEEN[name] = places_of(error)
    message = str(error)
    assert is_plain(message) == []
    assert ASKS_FOR.search(message), message
    if isinstance(error, errors.UnusableFile) and not name.startswith(
        ("guest", "damaged_inside", "sample_not")
    ):
        assert str(tmp_path) in message or "localhost" in message, message


#: What each trigger brought about in this run.
PLACES_SEEN: dict[str, set[tuple[str, int]]] = {}


def places_of(error: BaseException | None) -> set[tuple[str, int]]:
    """Where an error was raised, and those that it was made of: file in the package, and line."""
    found = set()
    while error is not None:
        frames = traceback.extract_tb(error.__traceback__)
        if isinstance(error, EngineCheckError) and frames:
            found.add((Path(frames[-1].filename).as_posix(), frames[-1].lineno or 0))
        error = error.__cause__
    return found


def refusals() -> list[tuple[str, int, int, str]]:
    """Every place in the package where such an error is raised: file, first and last line, the message as written."""
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Raise)
                and isinstance(node.exc, ast.Call)
                and ast.unparse(node.exc.func) in ERRORS
            ):
                found.append(
                    (path.as_posix(), node.lineno, node.end_lineno or node.lineno, ast.unparse(node.exc))
                )
    return found


def test_every_refusal_is_brought_about(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No message of the program is left out above: a new one needs a trigger in `message_triggers.py`."""
    for name in TRIGGERS.keys() - PLACES_SEEN.keys():
        PLACES_SEEN[name] = places_of(raised_by(name, tmp_path_factory.mktemp("trigger"), monkeypatch))
    seen = set().union(*PLACES_SEEN.values())
    missing = [
        f"{name}:{first} {message[:120]}"
        for name, first, last, message in refusals()
        if not any(file == name and first <= line <= last for file, line in seen)
    ]
    assert len(refusals()) > 90
    assert missing == []
