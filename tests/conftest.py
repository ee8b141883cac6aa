"""Fixtures for all tests, and the rule that a required LibreOffice may not be missing."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.support.office import Office, office_missing, office_required


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
    config.pluginmanager.register(RequiredOffice(), "required_office")


class RequiredOffice:
    """A test that skips itself for lack of LibreOffice, without the fixture, is caught here, in whichever worker it ran."""

    def __init__(self) -> None:
        self.skipped: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.skipped and "LibreOffice" in str(report.longrepr):
            self.skipped.append(report.nodeid)

    @pytest.hookimpl(trylast=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if office_required() and self.skipped:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        if office_required() and self.skipped:
            terminalreporter.section("LibreOffice is required, and these were skipped for lack of it")
            terminalreporter.line("\n".join(self.skipped))
