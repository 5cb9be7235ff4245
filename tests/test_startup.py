"""What is loaded and when: a bare import and the main job pull in nothing heavy."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = {
    *("scipy", "matplotlib", "sympy", "pandas", "pydantic", "tomlkit", "rich"),
    *("ezdxf", "pyarrow", "numba", "mujoco", "IPython", "ipywidgets", "jupyterlab", "PIL"),
}

CHECKED = """
import linkage
from linkage.design_file import parse, starter
from linkage.paper.document import document
from linkage.paper.report import report
from linkage.paper.spreadsheet import csv_text
answer = linkage.answers.check(parse(starter()))
report(answer), document(answer), csv_text(answer.run)
"""

CALLED = "import click\nfrom linkage.cli import throttle_linkage\nthrottle_linkage({}, standalone_mode=False)"


def _loaded(code: str, folder: Path) -> set[str]:
    """Top names of the modules that a fresh interpreter has loaded after some code."""
    told = "\nimport sys\nprint('LOADED', *{name.partition('.')[0] for name in sys.modules})"
    done = subprocess.run(
        [sys.executable, "-I", "-c", f"import sys; sys.path[:0] = {sys.path!r}\n{code}{told}"],
        capture_output=True, text=True, check=True, cwd=folder, timeout=120,
    )  # fmt: skip
    return set(done.stdout.rpartition("LOADED")[2].split())


@pytest.mark.parametrize(
    ("code", "not_wanted"),
    [
        pytest.param("import linkage", HEAVY | {"numpy", "click"}, id="import"),
        pytest.param(CHECKED, HEAVY | {"click"}, id="check"),
        pytest.param("import linkage.plots", HEAVY, id="plots"),
        pytest.param(CALLED.format(["--help"]), HEAVY | {"numpy"}, id="help"),
        pytest.param(CALLED.format(["check", "--help"]), HEAVY | {"numpy"}, id="help of a command"),
        pytest.param(CALLED.format(["new", "-"]), HEAVY, id="new"),
        pytest.param(CALLED.format(["schema"]), HEAVY, id="schema"),
    ],
)
def test_nothing_heavy_is_loaded(code: str, not_wanted: set[str], tmp_path: Path) -> None:
    assert _loaded(code, tmp_path) & not_wanted == set()


def test_what_is_loaded_is_seen(tmp_path: Path) -> None:
    assert {"numpy", "linkage"} <= _loaded("import linkage.motion", tmp_path)
    assert "sympy" in _loaded("import linkage, sympy", tmp_path)
