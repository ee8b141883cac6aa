"""A workbook that wants to be let out: nothing but itself, its folder and the program's own files is opened, nothing is called.

Python's audit hooks see what Python opens and connects to; the XML parsers are written in C, so the file that the
workbooks ask for is watched by the system too (inotify(7)), and the port that they ask for is listened at.
"""

from __future__ import annotations

import contextlib
import ctypes
import io
import json
import os
import socket
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.attack import hard_contents
from tests.attack.hard_files import CASES, packed

assert hard_contents, "its cases stand in the same table"
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="openings of files are watched by inotify")
REPOSITORY = Path(__file__).parents[1]
WANTED = (
    "external entity",
    "network",
    "file outside",
    "lead outside",
    "from outside",
    "to a file",
    "to another book",
    "to a program",
)
#: What the made files ask for, in place of which they get something that is watched.
FILE_ASKED_FOR, PORT_ASKED_FOR = b"/etc/passwd", b"127.0.0.1:9/"
IN_OPEN = 0x20
#: What a running Python opens of itself, wherever it is installed.
OF_THE_SYSTEM = ("/dev/null", "/dev/urandom", "/proc/", "/usr/lib/", "/usr/share/zoneinfo", "/etc/localtime")


class WatchedFile:
    """A file whose every opening the system counts."""

    def __init__(self, path: Path) -> None:
        self.path = path
        path.write_text("root:x:0:0:not for you\n")
        library = ctypes.CDLL(None, use_errno=True)
        self._handle = library.inotify_init1(os.O_NONBLOCK)
        assert self._handle >= 0 and library.inotify_add_watch(self._handle, str(path).encode(), IN_OPEN) >= 0

    def was_opened(self) -> bool:
        """Whether it was opened since it was last asked."""
        try:
            return bool(os.read(self._handle, 4096))
        except BlockingIOError:
            return False

    def close(self) -> None:
        """End the watch."""
        os.close(self._handle)


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[WatchedFile]:
    """A file outside the folder of the workbooks."""
    file = WatchedFile(tmp_path / "watched")
    yield file
    file.close()


@pytest.fixture
def listening() -> Iterator[socket.socket]:
    """A port that anybody may connect to."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.setblocking(False)
        yield server


def was_called(server: socket.socket) -> bool:
    """Whether somebody connected since it was last asked."""
    with contextlib.suppress(BlockingIOError):
        server.accept()[0].close()
        return True
    return False


def hostile_books(folder: Path, asked_file: Path, port: int) -> list[Path]:
    """The hostile workbooks that want to be let out, asking for this file and this port."""
    made = []
    for name in (name for name in CASES if any(word in name for word in WANTED)):
        with zipfile.ZipFile(io.BytesIO(CASES[name].make())) as archive:
            parts = [(part, archive.read(part)) for part in archive.namelist()]
        asking = ((FILE_ASKED_FOR, str(asked_file).encode()), (PORT_ASKED_FOR, f"127.0.0.1:{port}/".encode()))
        for asked, instead in asking:
            parts = [(part, content.replace(asked, instead)) for part, content in parts]
        path = folder / f"{len(made)}.xlsx"
        path.write_bytes(packed(parts))
        made.append(path)
    return made


def test_the_watch_sees_what_it_should(watched: WatchedFile, listening: socket.socket) -> None:
    """A file that is opened and a port that is called are noticed; without this, the next test would prove nothing."""
    assert not watched.was_opened() and not was_called(listening)
    watched.path.read_text()
    socket.create_connection(listening.getsockname()).close()
    assert watched.was_opened() and was_called(listening)


def test_hostile_workbooks_reach_nothing_outside(
    tmp_path: Path, watched: WatchedFile, listening: socket.socket
) -> None:
    """Checks of all of them open nothing outside, start no program, call no address, and say nothing of the file."""
    jobs, out = tmp_path / "jobs", tmp_path / "out"
    jobs.mkdir()
    books = hostile_books(jobs, watched.path, listening.getsockname()[1])
    assert len(books) > 20
    record = tmp_path / "record"
    # A folder whose workbooks are checked one after the other, and copies of them beside.
    command = [sys.executable, "-m", "tests.support.audited", str(record), "check", *map(str, books)]
    run = subprocess.run(
        [*command, "--jobs", "1", "--json", "--out-dir", str(out)],
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
    )
    assert (
        run.returncode == 2 and "Traceback" not in run.stderr and "fault of this program" not in run.stderr
    ), run.stderr
    assert len(list(out.iterdir())) > 10, "too few were checked to say anything"
    assert not watched.was_opened() and not was_called(listening)
    assert "not for you" not in run.stdout + run.stderr
    assert all(b"not for you" not in each.read_bytes() for each in out.iterdir())
    allowed = (str(jobs), str(out), str(REPOSITORY), sys.prefix, sys.base_prefix, *OF_THE_SYSTEM)
    allowed += (os.environ["PYTHONPYCACHEPREFIX"],)  # modules compiled in this run
    events = [json.loads(line) for line in record.read_text().splitlines()]
    assert {str(each) for each in books} <= {details[0] for event, *details in events if event == "open"}
    for event, *details in events:
        is_open_handle = details and details[0].isdigit()
        assert event == "open" or event.startswith(("os.", "shutil.")), (event, details)
        assert not event.startswith(("os.fork", "os.exec", "os.system", "os.posix_spawn")), (event, details)
        assert is_open_handle or Path(details[0]).resolve().as_posix().startswith(allowed), (event, details)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["jobs", "out", "record", "watched"]
