"""The extension for LibreOffice as a file, and how it starts the check."""

from __future__ import annotations

import ast
import json
import os
import sys
import time
import zipfile
from pathlib import Path

import pytest
from lxml import etree

from workbook_tools import __version__
from workbook_tools.commands.program import main
from workbook_tools.office_extension.build import HERE, PARTS, extension_bytes
from workbook_tools.office_extension.installed_check import CheckFailed, run_check, sentence_of

#: The oldest Python that LibreOffice of the version named in description.xml brings along (from memory).
OLDEST_PYTHON = (3, 8)


# --- the file ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def extension(tmp_path: Path) -> Path:
    """The extension as our command writes it."""
    assert main(["extension", str(tmp_path)]) == 0
    return tmp_path / "engine-check.oxt"


def test_the_extension_holds_what_it_names(extension: Path) -> None:
    """Its XML can be read, every part that its manifest names is there, and it tells the version of the program."""
    with zipfile.ZipFile(extension) as package:
        parts = {name: package.read(name) for name in package.namelist()}
    for name, content in parts.items():
        if name.endswith((".xml", ".xcu")):
            etree.fromstring(content)
    manifest = etree.fromstring(parts["META-INF/manifest.xml"])
    named = [value for each in manifest for key, value in each.items() if key.endswith("full-path")]
    assert (
        sorted(named) == ["addons.xcu", "component.py", "protocol_handler.xcu"] and set(named) <= parts.keys()
    )
    assert parts.keys() == PARTS.keys() | {"description.xml", "pythonpath/engine_check_office/installed.json"}
    assert f'<version value="{__version__}"/>'.encode() in parts["description.xml"]
    urls = [
        each.text
        for each in etree.fromstring(parts["addons.xcu"]).iter("value")
        if each.text.startswith("vnd.")
    ]
    (handled,) = [each.text for each in etree.fromstring(parts["protocol_handler.xcu"]).iter("value")]
    assert urls and all(each.startswith(handled.rstrip("*")) for each in urls)
    assert all(f'"{each}"'.encode() in parts["component.py"] for each in urls)


def test_the_extension_is_the_same_each_time(extension: Path) -> None:
    """The same program makes the same bytes, over an earlier extension too."""
    assert extension.read_bytes() == extension_bytes()
    assert main(["extension", str(extension)]) == 0
    assert extension.read_bytes() == extension_bytes()


def test_other_files_are_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is not this extension stays, and a name of another kind is refused."""
    other = tmp_path / "other.oxt"
    other.write_text("somebody's")
    assert main(["extension", str(other)]) == 2 and other.read_text() == "somebody's"
    assert main(["extension", str(tmp_path / "a.zip")]) == 2
    assert "is not this extension" in capsys.readouterr().err


@pytest.mark.parametrize("source", sorted(source for source in PARTS.values() if source.endswith(".py")))
def test_an_older_python_can_run_it(source: str) -> None:
    """What LibreOffice's own Python runs is written for it, and needs none of our packages."""
    tree = ast.parse((HERE / source).read_text(encoding="utf-8"), feature_version=OLDEST_PYTHON)
    imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    imported |= {
        node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and not node.level
    }
    allowed = {"uno", "unohelper", "com", "engine_check_office", *sys.stdlib_module_names}
    assert {name.partition(".")[0] for name in imported} <= allowed


# --- starting the check ------------------------------------------------------------------------------------------------


def command_file(folder: Path, script: str) -> Path:
    """What the build writes, for a program that is a few lines of Python."""
    path = folder / "installed.json"
    path.write_text(json.dumps({"command": [sys.executable, "-c", script], "python_path": ""}))
    return path


REFUSES = (
    "import sys; name = sys.stdin.readline().strip(); sys.stderr.write(f'engine-check: {name} is encrypted; take that off.\\n'); "
    "sys.exit(2)"
)
NOT_THERE = "import sys; sys.stderr.write('No module named workbook_tools'); sys.exit(1)"


@pytest.mark.parametrize(
    ("script", "said"),
    [
        (REFUSES, "job.xlsx is encrypted; take that off."),
        (NOT_THERE, "engine-check was not found"),
        ("import sys; sys.exit(7)", "ended without a result (7)"),
        ("import time; time.sleep(60)", "did not finish within 0.5 seconds"),
        (
            "import subprocess, sys; subprocess.run([sys.executable, '-c', 'import time; time.sleep(60)'])",
            "did not finish",
        ),
    ],
)
def test_what_keeps_a_check_from_being_done_is_said(script: str, said: str, tmp_path: Path) -> None:
    """A refusal is passed on with the workbook's title, what is not installed or hangs is said; nothing waits for ever."""
    seconds = 0.5 if "sleep" in script else 30.0
    with pytest.raises(CheckFailed) as caught:
        run_check(
            str(tmp_path / "w.xlsx"),
            str(tmp_path / "findings.xlsx"),
            "job.xlsx",
            seconds=seconds,
            installed=command_file(tmp_path, script),
            environment={},
        )
    assert said in str(caught.value) and str(tmp_path / "w.xlsx") not in str(caught.value)


@pytest.mark.skipif(os.name == "nt", reason="a script with its interpreter in the first line")
def test_the_search_path_is_the_second_choice(tmp_path: Path) -> None:
    """Where the program is no longer where the build found it, that of the search path is used; relative folders are not."""
    gone = tmp_path / "installed.json"
    gone.write_text(json.dumps({"command": [str(tmp_path / "gone" / "python")], "python_path": ""}))
    script = tmp_path / "engine-check"
    script.write_text(
        f"#!{sys.executable}\nimport sys; open(sys.argv[-2], 'w').write(repr([*sys.argv[1:], sys.stdin.read()]))\n"
    )
    script.chmod(0o755)
    copy, findings = str(tmp_path / "$(touch owned) copy.xlsx"), str(tmp_path / "findings.xlsx")
    written: list[str] = []
    run_check(
        copy,
        findings,
        "it",
        meanwhile=lambda: written.append(copy),
        installed=gone,
        environment={"PATH": str(tmp_path)},
    )
    asked = ["check", "--jobs", "1", "--apart", findings, "-", f"{copy}\n"]
    assert ast.literal_eval(Path(findings).read_text()) == asked
    assert written == [copy], "once, however many programs are tried"
    assert not (tmp_path / "owned").exists()
    with pytest.raises(CheckFailed, match="was not found"):
        run_check(copy, findings, "it", installed=gone, environment={"PATH": os.path.relpath(tmp_path)})


def test_the_python_of_libreoffice_does_not_steer_ours(tmp_path: Path) -> None:
    """Variables that LibreOffice sets for its own Python are kept from the program."""
    script = "import os, sys; sys.exit(0 if not {'PYTHONHOME', 'PYTHONPATH'} & os.environ.keys() else 9)"
    run_check(
        str(tmp_path / "w.xlsx"),
        str(tmp_path / "findings.xlsx"),
        "it",
        installed=command_file(tmp_path, script),
        environment={"PYTHONHOME": "/x", "PYTHONPATH": "/y"},
    )


def test_the_program_loads_while_the_workbook_is_written(tmp_path: Path) -> None:
    """It runs already when the writing begins, and gets the name when that is done; a writing that fails ends it."""
    begun = tmp_path / "begun"
    script = f"import pathlib, sys; pathlib.Path({str(begun)!r}).touch(); sys.exit(0 if sys.stdin.read().strip() else 3)"
    installed = command_file(tmp_path, script)

    def write() -> None:
        until = time.monotonic() + 30
        while not begun.exists() and time.monotonic() < until:
            time.sleep(0.01)
        (tmp_path / "w.xlsx").touch()

    paths = str(tmp_path / "w.xlsx"), str(tmp_path / "findings.xlsx")
    run_check(*paths, "it", meanwhile=write, installed=installed, environment={})
    assert begun.exists() and (tmp_path / "w.xlsx").exists()

    def fail() -> None:
        raise CheckFailed("the disk is full")

    with pytest.raises(CheckFailed, match="the disk is full"):
        run_check(*paths, "it", meanwhile=fail, installed=installed, environment={})


def test_a_silent_refusal_is_a_sentence_too() -> None:
    """Whatever a program says, or does not, there is a sentence to show."""
    assert "without a word" in sentence_of("", "/a", "it")
    assert sentence_of("oh\nno /a\n", "/a", "it") == "no it"
