"""What every command says: words for people on standard error, exit statuses, nothing that would command a terminal."""

from __future__ import annotations

import re
import sys

DONE, OPEN, UNUSABLE, INTERRUPTED = 0, 1, 2, 130

#: Control characters but for the end of a line, orders to turn the text around, halves of a pair.
_COMMANDS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def say(text: str) -> None:
    """Words for people go to standard error; what would command the terminal is written out."""
    print(_COMMANDS.sub(lambda match: match[0].encode("unicode_escape").decode(), text), file=sys.stderr)


def as_plain_json(text: str) -> str:
    """The same JSON, with what would command a terminal, or can't be printed at all, in the form of JSON's own escapes."""
    return _COMMANDS.sub(lambda match: f"\\u{ord(match[0]):04x}", text)
