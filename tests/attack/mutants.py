"""Broken workbooks: `python -m tests.attack.mutants [--count 5000] [--seed 1]`.

Each is a filled workbook with a few seeded faults: in the bytes of the file, or in the XML of its parts, put together again.
It must be refused in one sentence with exit 2, or checked; then the file still opens if it did before. Never a
traceback, never a fault of the program's own, never more memory or time than LIMITS. Where a mutant fails, it is kept and named.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import random
import re
import resource
import sys
import tempfile
import time
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from openpyxl import load_workbook

from workbook_tools.commands.program import main

FILLED = Path(__file__).parents[2] / "sample_workbooks" / "filled"
#: Seconds for one file, and megabytes for the process.
LIMITS = (20.0, 500.0)
HUGE = (
    "-1",
    "0",
    "99999999999",
    "1e308",
    "NaN",
    "#REF!",
    "",
    "A0",
    "XFD1048577",
    "true",
    "\u0663",
    "&#x41;",
    "../../etc/passwd",
)
ATTRIBUTE = re.compile(rb'([\w:]+)="([^"]*)"')
ELEMENT = re.compile(rb"<(/?)([\w:]+)([^<>]*)>")


def bytes_flipped(data: bytes, chance: random.Random) -> bytes:
    """A few bytes of the file are others."""
    broken = bytearray(data)
    for _ in range(chance.choice((1, 3, 30))):
        broken[chance.randrange(len(broken))] = chance.randrange(256)
    return bytes(broken)


def cut(data: bytes, chance: random.Random) -> bytes:
    """The file ends early, or a piece of it is missing."""
    start = chance.randrange(len(data))
    return data[:start] + (data[start + chance.randrange(1, 2000) :] if chance.random() < 0.5 else b"")


def in_parts(data: bytes, chance: random.Random) -> bytes:
    """Parts are lost, doubled, exchanged, or their XML is changed; the rest is put together again as it was."""
    with zipfile.ZipFile(io.BytesIO(data)) as given:
        parts = [(name, given.read(name)) for name in given.namelist()]
    for _ in range(chance.choice((1, 1, 2, 5))):
        place = chance.randrange(len(parts))
        name, content = parts[place]
        act = chance.choice((*XML_FAULTS, *XML_FAULTS, _lost, _doubled, _exchanged))
        if act is _lost:
            del parts[place]
        elif act is _doubled:
            parts.append(
                (chance.choice((name, f"xl/{chance.randrange(9)}.xml", "../" + name, "/" + name)), content)
            )
        elif act is _exchanged:
            other = chance.randrange(len(parts))
            parts[place], parts[other] = (name, parts[other][1]), (parts[other][0], content)
        else:
            parts[place] = (name, act(content, chance))
        if not parts:
            break
    made = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as changed:
        warnings.simplefilter("ignore")  # a part that is there twice
        for name, content in parts:
            changed.writestr(name, content)
    return made.getvalue()


def _lost() -> None:
    """A part is missing."""


def _doubled() -> None:
    """A part is there twice, or under another name."""


def _exchanged() -> None:
    """Two parts have each other's content."""


def _attribute_changed(content: bytes, chance: random.Random) -> bytes:
    return _replaced(
        content, ATTRIBUTE, chance, lambda found: found[1] + b'="' + chance.choice(HUGE).encode() + b'"'
    )


def _attribute_lost(content: bytes, chance: random.Random) -> bytes:
    return _replaced(content, ATTRIBUTE, chance, lambda found: b"")


def _element_lost(content: bytes, chance: random.Random) -> bytes:
    return _replaced(content, ELEMENT, chance, lambda found: b"")


def _element_renamed(content: bytes, chance: random.Random) -> bytes:
    return _replaced(content, ELEMENT, chance, lambda found: b"<" + found[1] + b"x:odd" + found[3] + b">")


def _element_emptied(content: bytes, chance: random.Random) -> bytes:
    return _replaced(content, ELEMENT, chance, lambda found: b"<" + found[2].rstrip(b"/") + b"/>")


def _text_changed(content: bytes, chance: random.Random) -> bytes:
    text = re.compile(rb">([^<>]+)<")
    return _replaced(
        content, text, chance, lambda found: b">" + chance.choice(HUGE).encode().replace(b"&#", b"#") + b"<"
    )


def _doctype(content: bytes, chance: random.Random) -> bytes:
    entity = chance.choice((b'<!ENTITY a SYSTEM "file:///etc/hostname">', b'<!ENTITY a "aaaaaaaaaa">'))
    return content.replace(b"?>", b"?><!DOCTYPE x [" + entity + b"]>", 1)


def _not_utf8(content: bytes, chance: random.Random) -> bytes:
    place = chance.randrange(len(content) + 1)
    return content[:place] + b"\xff\xfe\xc3\x28" + content[place:]


def _shortened(content: bytes, chance: random.Random) -> bytes:
    return content[: chance.randrange(len(content) + 1)]


def _emptied(content: bytes, chance: random.Random) -> bytes:
    return b""


XML_FAULTS: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    *(_attribute_changed, _attribute_lost, _element_lost, _element_renamed, _element_emptied, _text_changed),
    *(_doctype, _not_utf8, _shortened, _emptied),
)
FAULTS = (bytes_flipped, cut, *(in_parts,) * 8)


def _replaced(
    content: bytes,
    pattern: re.Pattern[bytes],
    chance: random.Random,
    change: Callable[[re.Match[bytes]], bytes],
) -> bytes:
    found = list(pattern.finditer(content))
    if not found:
        return content
    match = chance.choice(found)
    return content[: match.start()] + change(match) + content[match.end() :]


def opens(path: Path) -> bool:
    """Whether another reader opens a workbook."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            # Given its bytes: of a file that it can't read it leaves the handle open.
            load_workbook(io.BytesIO(path.read_bytes()))
        except Exception:
            return False
    return True


def problem_with(path: Path) -> tuple[str, str]:
    """What is wrong with how a broken workbook was dealt with ('' for nothing), and what came of it."""
    before, opened = path.read_bytes(), None
    said, start = io.StringIO(), time.perf_counter()
    try:
        with contextlib.redirect_stderr(said), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            status = main(["check", str(path)])
    except BaseException as problem:
        return f"{type(problem).__name__}: {problem}", "raised"
    seconds, words = time.perf_counter() - start, said.getvalue()
    if "fault of this program" in words or "Traceback" in words:
        return words.strip(), "fault"
    if seconds > LIMITS[0]:
        return f"took {seconds:.0f} s", "slow"
    if status == 2:
        if path.read_bytes() != before:
            return "was refused, and changed", "changed"
        return (
            ("", "refused")
            if len(words.strip().splitlines()) == 1
            else (f"not one sentence: {words}", "refused")
        )
    with tempfile.NamedTemporaryFile(suffix=".xlsx") as copy:
        copy.write(before)
        copy.flush()
        opened = opens(Path(copy.name))
    if opened and not opens(path):
        return "opened before the check, and does not any more", "spoiled"
    return "", "checked" if opened else "checked, though another reader does not open it"


def attack(count: int, seed: int, folder: Path, kept: Path | None = None) -> tuple[Counter[str], list[str]]:
    """Make and check that many broken workbooks: what came of them, and what is wrong with any."""
    came_of: Counter[str] = Counter()
    wrong: list[str] = []
    sources = [path.read_bytes() for path in sorted(FILLED.glob("*.xlsx"))[:3]]
    for number in range(seed, seed + count):
        chance = random.Random(number)
        path = folder / f"mutant-{number}.xlsx"
        path.write_bytes(chance.choice(FAULTS)(chance.choice(sources), chance))
        broken = path.read_bytes()
        problem, what = problem_with(path)
        came_of[what] += 1
        if problem:
            wrong.append(f"{number}: {problem[:300]}")
            if kept is not None:
                kept.mkdir(exist_ok=True)
                (kept / path.name).write_bytes(broken)
        path.unlink()
    return came_of, wrong


def run() -> int:
    """Attack and print what came of it."""
    asked = argparse.ArgumentParser(description="Check broken workbooks.")
    asked.add_argument("--count", type=int, default=5000, metavar="N")
    asked.add_argument("--seed", type=int, default=1, metavar="N")
    asked.add_argument("--keep", type=Path, metavar="DIR", help="where workbooks that went wrong are kept")
    options = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        came_of, wrong = attack(options.count, options.seed, Path(name), options.keep)
    for what, how_often in came_of.most_common():
        print(f"{how_often:6} {what}")
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{megabytes:6.0f} MB at the peak, of all of them in one process")
    print("\n".join(wrong) if wrong else "nothing went wrong")
    return 1 if wrong or megabytes > LIMITS[1] else 0


if __name__ == "__main__":
    sys.exit(run())
