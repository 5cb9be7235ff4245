"""What every test leaves behind: nothing."""

import sys
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def _no_figure_stays_open() -> Iterator[None]:
    """A picture drawn without axes opens a pyplot figure, as a notebook wants it; the next test wants none."""
    yield
    if pyplot := sys.modules.get("matplotlib.pyplot"):
        pyplot.close("all")
