"""Opening a file with the program that the desktop has for it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from workbook_tools.errors import BadRequest

#: What opens a file, by system; Windows does it by itself.
OPENERS = {"darwin": "open", "linux": "xdg-open"}


def open_file(path: Path) -> None:
    """Open a file as a double click would. Raises BadRequest where this system has nothing to do that with."""
    whole = path.resolve()  # from the root: no name can be taken for an option
    if sys.platform == "win32":
        os.startfile(whole)
        return
    opener = shutil.which(OPENERS.get(sys.platform, "xdg-open"))
    if opener is None:
        raise BadRequest(f"No program is known here that opens {path}; open it by hand.")
    subprocess.Popen(
        [opener, str(whole)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
