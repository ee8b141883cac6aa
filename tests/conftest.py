"""Fixtures for all tests, and the rule that a required LibreOffice may not be missing."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.support.office import Office, office_missing, office_required

_SKIPPED_FOR_OFFICE = pytest.StashKey[list[str]]()


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
    config.stash[_SKIPPED_FOR_OFFICE] = []


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    report = yield
    if report.skipped and "LibreOffice" in str(report.longrepr):
        item.config.stash[_SKIPPED_FOR_OFFICE].append(item.nodeid)
    return report


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """A test that skips itself for lack of LibreOffice without the fixture is caught here."""
    if office_required() and session.config.stash[_SKIPPED_FOR_OFFICE]:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    skipped = config.stash[_SKIPPED_FOR_OFFICE]
    if office_required() and skipped:
        terminalreporter.section("LibreOffice is required, and these were skipped for lack of it")
        terminalreporter.line("\n".join(skipped))
