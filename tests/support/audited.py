"""The command in this process, with all that it opens, starts and connects to written down.

`python -m tests.support.audited RECORD ARGUMENTS...` writes one JSON list a line: the event of Python's audit hooks
(docs.python.org, "Audit events table") and its arguments as text. Exits as the command does.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

#: Beginnings of events that reach out of the process, beside `open`.
REACHING_OUT = (
    *("socket.", "urllib.", "http.", "ftplib.", "smtplib.", "webbrowser.", "subprocess.", "pty."),
    *("os.system", "os.exec", "os.fork", "os.posix_spawn", "os.spawn", "os.startfile"),
)
#: Events that change or list what lies on the disk.
ON_DISK = (
    "os.remove",
    "os.rename",
    "os.rmdir",
    "os.mkdir",
    "os.link",
    "os.symlink",
    "os.truncate",
    "os.listdir",
    "os.scandir",
    "shutil.",
)


def main() -> int:
    """Run the command and record."""
    record, *arguments = sys.argv[1:]
    from workbook_tools.checking import check
    from workbook_tools.checking import folder as check_folder
    from workbook_tools.commands import program as cli

    assert check and check_folder, "what the command imports is not what the file makes it open"
    seen: list[list[str]] = []

    def hook(event: str, details: tuple[Any, ...]) -> None:
        if event == "open" or event.startswith(REACHING_OUT + ON_DISK):
            seen.append([event, *(str(each) for each in details)])

    sys.addaudithook(hook)
    status = cli.main(arguments)
    done = list(seen)
    Path(record).write_text("".join(json.dumps(each) + "\n" for each in done), encoding="utf-8")
    return status


if __name__ == "__main__":
    sys.exit(main())
