"""Many workbooks at once: which are checked, which are left as they are, what one bad file and an interruption do."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.test_read import BURNED_VALVE
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.checking import folder as check_folder
from workbook_tools.checking.folder import FileToCheck, Outcome, Plan, check_all, plan
from workbook_tools.commands.program import main
from workbook_tools.errors import BadRequest, UnusableFile
from workbook_tools.specs.sheet import write_specs_book


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented engine with a burned valve, filled once."""
    folder = tmp_path_factory.mktemp("folder")
    new_workbook(folder / "form.xlsx")
    fill_workbook(folder / "form.xlsx", BURNED_VALVE, folder / "job.xlsx")
    return folder / "job.xlsx"


@pytest.fixture(scope="module")
def specs_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty specs book, to be copied."""
    return write_specs_book(tmp_path_factory.mktemp("specs") / "specs.xlsx")


@pytest.fixture
def jobs(template: Path, specs_book: Path, tmp_path: Path) -> Path:
    """A folder as a shop has it: jobs in folders by year, and what else lies there."""
    folder = tmp_path / "jobs"
    for name in ("2023/b.xlsx", "2024/a.xlsx", "2024/c.xlsx", "z.xlsx"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(template, folder / name)
    shutil.copy(specs_book, folder / "specs.xlsx")
    (folder / "notes.txt").write_text("no workbook")
    (folder / "2024/~$gone.xlsx").write_bytes(b"left by another program")
    (folder / "2024" / ".hidden.xlsx").write_bytes(b"")
    return folder


def run(folder: Path, out_dir: Path | None = None, **options: object) -> list[Outcome]:
    """What came of each workbook below a folder."""
    return list(check_all(plan([folder], out_dir), **options))  # type: ignore[arg-type]


def statuses(outcomes: list[Outcome]) -> Counter[str]:
    """How many files came out how."""
    return Counter(outcome.status for outcome in outcomes)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# --- which files -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("workers", [1, 3])
def test_all_workbooks_of_ours_below_a_folder_are_checked(jobs: Path, workers: int) -> None:
    """Forms get their findings sheet, in the order of their paths; other workbooks and lock files are left alone."""
    before = contents(jobs)
    planned = plan([jobs])
    outcomes = list(check_all(planned, jobs=workers))
    names = [str(outcome.path.relative_to(jobs)) for outcome in outcomes]
    assert names == ["2023/b.xlsx", "2024/a.xlsx", "2024/c.xlsx", "specs.xlsx", "z.xlsx"]
    assert statuses(outcomes) == {"checked": 4, "not ours": 1} and planned.locks == 1
    changed = {name for name, content in contents(jobs).items() if before[name] != content}
    assert changed == {"2023/b.xlsx", "2024/a.xlsx", "2024/c.xlsx", "z.xlsx"}
    assert load_workbook(jobs / "z.xlsx").sheetnames[-1] == "Findings"


def test_files_and_folders_mix_and_each_file_counts_once(jobs: Path, template: Path) -> None:
    """A workbook that is named and lies in a folder that is named too is checked once."""
    planned = plan([jobs / "z.xlsx", jobs, template])
    assert [file.path.name for file in planned.files] == [
        "z.xlsx",
        "b.xlsx",
        "a.xlsx",
        "c.xlsx",
        "specs.xlsx",
        "job.xlsx",
    ]


def test_copies_keep_the_order_of_the_folders(jobs: Path, tmp_path: Path) -> None:
    """--out-dir mirrors the folder, and leaves the originals byte for byte."""
    before = contents(jobs)
    assert statuses(run(jobs, tmp_path / "out"))["checked"] == 4
    assert contents(jobs) == before
    assert sorted(contents(tmp_path / "out")) == ["2023/b.xlsx", "2024/a.xlsx", "2024/c.xlsx", "z.xlsx"]


def test_copies_below_the_folder_are_not_checked_themselves(jobs: Path) -> None:
    """The program's own output is no input: neither in the same run, nor in a later one without --out-dir."""
    run(jobs, jobs / "checked")
    first = contents(jobs / "checked")
    assert statuses(run(jobs, jobs / "checked")) == {"unchanged": 4, "not ours": 1}
    assert statuses(run(jobs)) == {"checked": 4, "copy": 4, "not ours": 1}
    assert contents(jobs / "checked") == first
    assert statuses(run(jobs / "checked", again=True)) == {"checked": 4}


@pytest.mark.parametrize(
    ("paths", "out", "words"),
    [
        (["jobs"], "jobs", "would take the place of"),
        (["jobs/z.xlsx"], "jobs", "would take the place of"),
        (["jobs", "other"], "out", "would both be copied to"),
        (["jobs/2024/a.xlsx", "other/2024/a.xlsx"], "out", "would both be copied to"),
    ],
)
def test_copies_never_take_another_files_place(
    jobs: Path, tmp_path: Path, paths: list[str], out: str, words: str
) -> None:
    """Two files of one name, and a folder that is checked itself, are refused before anything is done."""
    shutil.copytree(jobs, tmp_path / "other")
    before = contents(tmp_path)
    with pytest.raises(BadRequest, match=words):
        plan([tmp_path / path for path in paths], tmp_path / out)
    assert contents(tmp_path) == before


def test_a_file_that_is_no_checked_copy_is_never_replaced(jobs: Path, tmp_path: Path) -> None:
    """A job of the same name in the folder of the copies stays, even where it has a findings sheet of its own."""
    (tmp_path / "out").mkdir()
    shutil.copy(jobs / "z.xlsx", tmp_path / "out/z.xlsx")
    check_workbook(tmp_path / "out/z.xlsx")
    before = contents(tmp_path / "out")
    outcomes = run(jobs, tmp_path / "out")
    (refused,) = [outcome for outcome in outcomes if outcome.status == "unusable"]
    assert "is no checked copy" in refused.words
    assert contents(tmp_path / "out")["z.xlsx"] == before["z.xlsx"]


# --- what is left as it is -------------------------------------------------------------------------------------------


def test_an_unchanged_workbook_is_left_as_it_is(jobs: Path) -> None:
    """A second run changes no byte and still knows what is open; --again checks anew."""
    first = run(jobs)
    before = contents(jobs)
    second = run(jobs)
    assert statuses(second) == {"unchanged": 4, "not ours": 1} and contents(jobs) == before
    assert [each.findings for each in second] == [each.findings for each in first]
    assert statuses(run(jobs, again=True)) == {"checked": 4, "not ours": 1}


def typed_reading(path: Path) -> None:
    """A reading that was changed."""
    fill_workbook(path, {"compression_dry_2": 77}, path)


def replaced_formula(path: Path) -> None:
    """A computed cell typed over, saved by another program."""
    book = load_workbook(path)
    sheet, address = next(book.defined_names["compression_highest"].destinations)
    book[sheet][address] = 150
    book.save(path)


@pytest.mark.parametrize("change", [typed_reading, replaced_formula])
def test_a_changed_workbook_is_checked_again(jobs: Path, change: object) -> None:
    """Whatever a check reads counts as a change, not the readings alone; the other workbooks stay."""
    run(jobs)
    change(jobs / "z.xlsx")  # type: ignore[operator]
    assert [each.path.name for each in run(jobs) if each.status == "checked"] == ["z.xlsx"]


def test_another_specs_book_or_program_is_a_change(jobs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was judged by other figures, or by another program, is judged again."""
    run(jobs)
    assert statuses(run(jobs, specs=jobs / "specs.xlsx"))["checked"] == 4
    assert statuses(run(jobs, specs=jobs / "specs.xlsx"))["unchanged"] == 4
    monkeypatch.setattr("workbook_tools.report.judged.__version__", "99.0")
    assert statuses(run(jobs, specs=jobs / "specs.xlsx"))["checked"] == 4


def test_a_workbook_that_is_named_is_always_checked(jobs: Path) -> None:
    """Who names a file wants it checked."""
    run(jobs)
    assert [each.status for each in check_all(plan([jobs / "z.xlsx"]))] == ["checked"]


# --- what goes wrong -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("workers", [1, 2])
def test_one_bad_file_does_not_stop_the_others(jobs: Path, workers: int) -> None:
    """A damaged workbook is said by name, the others are checked, and it is left as it was."""
    whole = (jobs / "2024/a.xlsx").read_bytes()
    (jobs / "2024/a.xlsx").write_bytes(whole[: len(whole) // 2])
    outcomes = run(jobs, jobs=workers)
    (bad,) = [each for each in outcomes if each.status == "unusable"]
    assert "2024/a.xlsx is damaged" in bad.words and statuses(outcomes)["checked"] == 3
    assert (jobs / "2024/a.xlsx").read_bytes() == whole[: len(whole) // 2]


def dying(file: FileToCheck) -> Outcome:
    """Ends its process over one file, as the system does when memory runs out."""
    if file.path.name == "3":
        os.kill(os.getpid(), signal.SIGKILL)
    return Outcome(file.path, "checked")


def test_a_process_that_dies_costs_one_file(tmp_path: Path) -> None:
    """Where reading a file ends the process, the file is said to be unusable and the rest is done, each once, in order."""
    files = [FileToCheck(tmp_path / str(number), None, named=False) for number in range(12)]
    outcomes = list(check_folder._in_processes(files, dying, 2))
    assert [outcome.path.name for outcome in outcomes] == [str(number) for number in range(12)]
    assert [outcome.path.name for outcome in outcomes if outcome.status == "unusable"] == ["3"]


def test_a_fault_of_the_program_costs_one_file(jobs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An error that nobody foresaw is said with the file's name, and the others are checked."""

    def stumble(path: Path, **options: object) -> object:
        if path.name == "a.xlsx":
            raise RuntimeError("unforeseen")
        return check_workbook(path, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(check_folder, "check_workbook", stumble)
    outcomes = run(jobs)
    (bad,) = [each for each in outcomes if each.status == "unusable"]
    assert (
        "a.xlsx" in bad.words
        and "by a fault of this program" in bad.words
        and statuses(outcomes)["checked"] == 3
    )


def test_an_unusable_specs_book_is_said_before_anything_is_checked(jobs: Path) -> None:
    """A form is no specs book: no workbook is touched."""
    before = contents(jobs)
    with pytest.raises(UnusableFile, match="no specs book"):
        run(jobs, specs=jobs / "z.xlsx")
    assert contents(jobs) == before


# --- the command line ------------------------------------------------------------------------------------------------


def test_the_command_sums_up_a_folder(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The table, the counts and what could not be used go to standard error; one bad file gives exit 2, and no bar is drawn."""
    (jobs / "bad.xlsx").write_text("no workbook")
    assert main(["check", str(jobs), "--jobs", "2"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines()[0].split()[:3] == ["Workbook", "Job", "Findings"]
    assert "bad.xlsx is not an .xlsx workbook" in told.err
    assert (
        "4 workbooks checked, 1 could not be used, 1 other workbook left alone, 1 lock file left alone."
        in told.err
    )
    assert "\r" not in told.err
    (jobs / "bad.xlsx").unlink()
    assert main(["check", str(jobs), "--strict"]) == 1
    assert "0 workbooks checked, 4 unchanged since the last check" in capsys.readouterr().err


def test_json_lines_keep_the_order_and_tell_the_unchanged_too(
    jobs: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One object a workbook of ours in the order of the files, whether it was checked or left as it is."""
    for _ in range(2):
        assert main(["check", str(jobs), "--json", "--jobs", "3"]) == 0
        told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
        assert [Path(each["workbook"]).name for each in told] == ["b.xlsx", "a.xlsx", "c.xlsx", "z.xlsx"]
        assert all(each["findings"] for each in told)


def _hear_interrupts() -> None:
    """A process started in the background of a script hears no interrupts, nor do those that it starts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def test_ctrl_c_ends_with_one_sentence_and_the_next_run_goes_on(jobs: Path, template: Path) -> None:
    """Interrupted, every file is whole, those done stay done, and the same command does the rest."""
    for number in range(20):
        shutil.copy(template, jobs / f"more-{number:02}.xlsx")
    command = [sys.executable, "-m", "workbook_tools", "check", str(jobs), "--jobs", "2"]
    started = subprocess.Popen(
        command, stderr=subprocess.PIPE, text=True, start_new_session=True, preexec_fn=_hear_interrupts
    )
    before = template.read_bytes()
    deadline = time.monotonic() + 60
    while (jobs / "2024/c.xlsx").read_bytes() == before and time.monotonic() < deadline:
        time.sleep(0.02)
    os.killpg(started.pid, signal.SIGINT)
    _, told = started.communicate(timeout=60)
    assert started.returncode == 130, told
    assert len(told.splitlines()) == 1 and "interrupted after" in told and "Traceback" not in told
    assert not list(jobs.rglob("*.unfinished"))
    counts = statuses(run(jobs, jobs=2))
    assert (
        counts["unchanged"] >= 3 and counts["checked"] >= 1 and counts["unchanged"] + counts["checked"] == 24
    )


def test_a_plan_without_files_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without workbooks is no error: the counts are all that is said."""
    assert plan([tmp_path]) == Plan((), 0)
    assert main(["check", str(tmp_path)]) == 0
    assert capsys.readouterr().err == "0 workbooks checked.\n"
