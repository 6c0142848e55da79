"""What all tests share: programs that may be missing, no skipping where none may, and no inexact sums."""

from __future__ import annotations

import builtins
import os
import shutil
import sys
from collections.abc import Iterable, Iterator
from typing import Any

import pytest


def program(name: str) -> str:
    """Return the path of a program, or skip the test with the reason."""
    path = shutil.which(name)
    if path is None:
        pytest.skip(f"{name} is not installed")
    return path


@pytest.fixture(scope="session", autouse=True)
def _exact_sums() -> Iterator[None]:
    """Refuse floats in a ``sum`` of wiregen's: its last digit, and with it a drawing's, depends on the Python.

    Source: What's New In Python 3.12, other language changes: ``sum()`` of floats compensates its rounding, which
    earlier versions do not. ``math.fsum`` rounds once, alike everywhere and in every order.
    """
    plain = builtins.sum

    def watched(items: Iterable[Any], /, start: Any = 0) -> Any:
        added = list(items)
        module = sys._getframe(1).f_globals.get("__name__", "")
        if module.startswith("wiregen") and float in {type(start), *map(type, added)}:
            raise AssertionError(f"{module} adds floats with sum(): use math.fsum()")
        return plain(added, start)

    builtins.sum = watched
    yield
    builtins.sum = plain


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
