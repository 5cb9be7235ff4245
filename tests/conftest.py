"""What every test leaves behind: nothing."""

import sys
from collections.abc import Iterator
from typing import Any

import pytest


@pytest.fixture(autouse=True)
def _no_figure_stays_open() -> Iterator[None]:
    """A picture drawn without axes opens a pyplot figure, as a notebook wants it; the next test wants none."""
    yield
    if pyplot := sys.modules.get("matplotlib.pyplot"):
        pyplot.close("all")


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Figures that tests measure and do not judge."""
    for report in terminalreporter.getreports("passed"):
        for name, figure in report.user_properties:
            terminalreporter.write_line(f"{name}: {figure}")
