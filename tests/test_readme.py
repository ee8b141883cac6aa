"""README and other pages: the commands are those that are run, links lead somewhere, the example works."""

from __future__ import annotations

import re
import shlex
import shutil
import textwrap
from pathlib import Path

import pytest

from tests.support.doc_pictures import MOST_BYTES, PICTURES, SHOTS, fill_specs
from tests.support.make_samples import jobs
from workbook_tools.commands.program import main

ROOT = Path(__file__).parents[1]
PAGES = (
    "README.md",
    "DEVELOPERS.md",
    "docs/sources.md",
    "docs/rules.md",
    "docs/fields.md",
    "docs/benchmarks.md",
    "docs/trust.md",
    "docs/start-technician.md",
    "docs/start-owner.md",
    "docs/start-bookkeeper.md",
    "docs/checking-from-the-spreadsheet.md",
    "docs/how-it-judges.md",
    "docs/limits.md",
    "sample_workbooks/README.md",
)

#: The pages whose commands a test runs.
RUN = (
    "README.md",
    "docs/start-technician.md",
    "docs/checking-from-the-spreadsheet.md",
    "docs/start-owner.md",
    "docs/start-bookkeeper.md",
)


def page(name: str) -> str:
    """The text of one page."""
    return (ROOT / name).read_text(encoding="utf-8")


def code_blocks(text: str, language: str = "") -> list[str]:
    """The fenced blocks of a page in that language, those in lists too."""
    blocks = re.findall(rf"^( *)```{language}\n(.*?)^ *```", text, re.MULTILINE | re.DOTALL)
    return [textwrap.dedent(block) for _, block in blocks]


def commands_of(name: str) -> list[str]:
    """The engine-check commands of a page; what stands after two spaces or more is said about the command."""
    lines = "".join(code_blocks(page(name))).splitlines()
    return [re.split(r"\s{2,}", line)[0] for line in lines if line.startswith("engine-check ")]


def test_commands_stand_in_readme() -> None:
    """The first two blocks of README are the command to try it and the command that runs the tests."""
    assert [block.strip() for block in code_blocks(page("README.md"))[:2]] == [
        "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/engine-check sample out",
        "python3 -m venv .venv && .venv/bin/pip install -e '.[test]' && .venv/bin/python -m pytest",
    ]


def test_ci_runs_the_test_command_of_readme() -> None:
    """.ci/run takes the steps of README's test command in their order, the tests last, with LibreOffice required."""
    steps = code_blocks(page("README.md"))[1].strip().split(" && ")
    lines = page(".ci/run").strip().replace("pip install -q ", "pip install ").splitlines()
    assert "export ENGINE_CHECK_REQUIRE_OFFICE=1" in lines
    assert [line for line in lines if line in steps] == steps
    assert lines[-1] == steps[-1]


@pytest.mark.parametrize("name", PAGES)
def test_links_lead_somewhere(name: str) -> None:
    """Every link and picture of a page is a file of the project."""
    targets = re.findall(r"\]\(([^)#\s]+)\)", page(name))
    home = (ROOT / name).parent
    assert [each for each in targets if "://" not in each and not (home / each).exists()] == []


def test_pictures_are_those_that_one_command_makes() -> None:
    """Every picture is shown on some page, is small, and is made by `python -m tests.support.doc_pictures`."""
    shown = {
        Path(each).name for name in PAGES for each in re.findall(r"!\[[^]]+\]\((\S+\.png)\)", page(name))
    }
    stored = {picture.name for picture in PICTURES.iterdir()}
    assert shown == stored == {f"{name}.png" for name in SHOTS}
    assert [picture.name for picture in PICTURES.iterdir() if picture.stat().st_size >= MOST_BYTES] == []


def test_readme_shows_two_pictures() -> None:
    """A filled sheet and the findings sheet are shown, as small PNG files."""
    pictures = re.findall(r"!\[[^]]+\]\((docs/pictures/\w+\.png)\)", page("README.md"))
    assert len(pictures) == 2
    for picture in pictures:
        content = (ROOT / picture).read_bytes()
        assert content.startswith(b"\x89PNG")
        assert len(content) < MOST_BYTES


def test_pages_with_commands_are_known() -> None:
    """The pages whose commands are run below are all that have any, but for those whose commands rewrite the project."""
    assert {name for name in PAGES if commands_of(name)} == {*RUN, "DEVELOPERS.md"}
    assert len(commands_of("README.md")) >= 12


@pytest.mark.parametrize("name", RUN)
def test_commands_of_a_page_do_what_they_say(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The commands of a page, one after the other in one folder, with what people type between them, all succeed."""
    opened: list[Path] = []
    watched: list[Path] = []
    monkeypatch.setattr("workbook_tools.commands.desktop.open_file", opened.append)
    monkeypatch.setattr(
        "workbook_tools.checking.watch.watch", lambda folder, *_, **__: watched.append(folder)
    )
    monkeypatch.chdir(tmp_path)
    lay_out(tmp_path)
    for command in commands_of(name):
        _, *arguments = shlex.split(command)
        if arguments[0] == "sample":
            continue  # run from the built wheel in test_sample.py
        assert main(arguments) == 0, f"{command}: {capsys.readouterr().err}"
        assert made_by(arguments).exists(), command
        if arguments[0] == "specs":
            fill_specs(Path("engines.xlsx"))
    assert opened == [Path("job-117.xlsx")] * sum("--open" in command for command in commands_of(name))
    assert watched == [Path("jobs")] * sum(" watch " in command for command in commands_of(name))


def lay_out(folder: Path) -> None:
    """What a shop has before it types the commands: another job, jobs in a folder, the readings of a logger."""
    (folder / "jobs").mkdir()
    (sample, *_) = jobs()
    shutil.copy(sample.filled, folder / "jobs")
    shutil.copy(sample.filled, folder / "job-118.xlsx")
    (folder / "readings.csv").write_text("field,value\ncoolant_temperature,185\nidle_speed,600\n")


def made_by(arguments: list[str]) -> Path:
    """The file or folder that a command makes or changes."""
    for option in ("-o", "--out", "--out-dir"):
        if option in arguments:
            return Path(arguments[arguments.index(option) + 1])
    return Path(arguments[1])


def test_example_of_readme_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The Python example runs as it stands and leaves the files that it names."""
    monkeypatch.chdir(tmp_path)
    (example,) = code_blocks(page("README.md"), "python")
    exec(compile(example, "README.md", "exec"), {})
    assert "No fault found so far" in capsys.readouterr().out
    written = sorted(str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*.xlsx"))
    assert written == ["checked/filled.xlsx", "filled.xlsx", "job-117.xlsx"]


def test_every_command_is_told_in_readme(capsys: pytest.CaptureFixture[str]) -> None:
    """README or DEVELOPERS tells of every command that the program has."""
    with pytest.raises(SystemExit):
        main(["--help"])
    commands = re.findall(r"^    (\w+)  ", capsys.readouterr().out, re.MULTILINE)
    assert commands
    told = page("README.md") + page("DEVELOPERS.md")
    assert [name for name in commands if f"engine-check {name}" not in told] == []
