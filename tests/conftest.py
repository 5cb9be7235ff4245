"""What every test leaves behind: nothing."""

import signal
import sys
from collections.abc import Iterator
from typing import Any

import pytest

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:  # a run in the background: what it starts would not hear Ctrl-C
    signal.signal(signal.SIGINT, signal.default_int_handler)


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
