"""What all tests share: programs that may be missing, and no skipping where none may."""

from __future__ import annotations

import os
import shutil

import pytest


def program(name: str) -> str:
    """Return the path of a program, or skip the test with the reason."""
    path = shutil.which(name)
    if path is None:
        pytest.skip(f"{name} is not installed")
    return path


@pytest.hookimpl(trylast=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Name every skipped test, so that nobody takes a skip for a pass."""
    for report in terminalreporter.stats.get("skipped", []):
        terminalreporter.write_line(f"SKIPPED {report.nodeid}: {report.longrepr}")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Where WIREGEN_NO_SKIP is set, a skipped test fails the run."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("WIREGEN_NO_SKIP") and reporter and reporter.stats.get("skipped"):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
