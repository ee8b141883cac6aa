"""Fixtures for all tests, and the rule that what is required may not be missing.

ENGINE_CHECK_NO_SKIPS=1   a test that is skipped, for whatever reason, fails the run
"""

from __future__ import annotations

import gc
import os
import shutil
import tempfile
from collections.abc import Iterator
from typing import Any

import pytest
from openpyxl.worksheet.merge import MergedCellRange

from tests.support.office import Office, office_missing, office_required
from tests.support.two_readers import watch_both_readers


@pytest.fixture(scope="session")
def office() -> Iterator[Office]:
    """One LibreOffice for the session; without it the test is skipped, or fails where it is required."""
    reason = office_missing()
    if reason and office_required():
        pytest.fail(reason, pytrace=False)
    if reason:
        pytest.skip(reason)
    with Office() as program:
        yield program


def pytest_configure(config: pytest.Config) -> None:
    keep_compiled(config)
    # Forms and their formulas stay for the whole run: looking for what is to be thrown away among them is a tenth of its time.
    gc.set_threshold(200_000, 20, 100)
    watch_both_readers()
    leave_borders_alone()
    config.pluginmanager.register(NothingSkipped(), "nothing_skipped")


#: Where the modules are kept that the processes started by tests compile.
COMPILED = pytest.StashKey[str]()


def keep_compiled(config: pytest.Config) -> None:
    """Compiled modules are kept for the run, as an installed program has them: the tests start some hundred processes."""
    is_worker = hasattr(config, "workerinput")
    if is_worker:
        kept = config.workerinput["compiled"]
    else:
        kept = config.stash[COMPILED] = tempfile.mkdtemp(prefix="engine-check-compiled-")
        config.add_cleanup(lambda: shutil.rmtree(kept, ignore_errors=True))
    # The workers themselves have what was compiled when their libraries were installed.
    if is_worker or config.getoption("dist", "no") == "no":
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = kept


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """Tell a worker where they are kept."""
    node.workerinput["compiled"] = node.config.stash[COMPILED]


def pytest_sessionfinish() -> None:
    # pytest lets the collector go five times through all that is kept before it ends: seconds in which a worker does nothing.
    gc.freeze()


def leave_borders_alone() -> None:
    """openpyxl looks at the borders of merged cells, and draws them anew, at each reading: half of its time, and no test asks."""
    MergedCellRange.format = MergedCellRange._get_borders = lambda self: None


#: The files that take longest, in this order: what is left at the end is short, and no worker waits for another.
LONG_FIRST = (
    "test_one_judge",
    "test_parity",
    "test_extension",
    "test_other_programs",
    "test_interrupted",
    "test_nothing_lost",
    "test_text_is_data",
    "test_whole_jobs",
    "test_check_folder",
    "test_clear",
    "test_specs_book",
    "test_register_files",
    "test_register_archive",
    "test_access",
    "test_messages_judged",
    "test_soak",
    "test_shop_year",
    "test_many_engines",
    "test_meanwhile",
    "test_start",
    "test_limits_of_files",
    "test_place_sheet",
    "test_generate",
    "test_common_practice",
    "test_mutants",
    "test_watch",
    "test_guide",
    "test_generate_looks",
    "test_hostile",
    "test_findings_sheet",
    "test_check",
    "test_reader",
    "test_messages",
    "test_form_contract",
    "test_register_book",
    "test_sample",
    "test_readme",
    "test_no_regular_file",
    "test_help",
    "test_findings_looks",
    "test_shop",
    "test_diagnose_fuel",
    "test_nothing_outside",
    "test_words_printed",
    "test_diagnose_conclusions",
    "test_diagnose_states",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    place = {name: at for at, name in enumerate(LONG_FIRST)}
    items.sort(key=lambda item: place.get(item.path.stem, len(place)))


def skips_forbidden() -> bool:
    """Whether every test must run."""
    return os.environ.get("ENGINE_CHECK_NO_SKIPS", "") not in ("", "0")


class NothingSkipped:
    """A test that skips itself without the fixture is caught here, in whichever worker it ran."""

    def __init__(self) -> None:
        self.skipped: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        lacks_office = office_required() and "LibreOffice" in str(report.longrepr)
        if report.skipped and (skips_forbidden() or lacks_office):
            self.skipped.append(report.nodeid)

    @pytest.hookimpl(trylast=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if self.skipped:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        if self.skipped:
            terminalreporter.section("Required here, and skipped")
            terminalreporter.line("\n".join(self.skipped))
