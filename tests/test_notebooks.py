"""The notebooks: house rules, and that each runs from top to bottom and says what it promises."""

from __future__ import annotations

import ast
import json
import os
import shutil
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))

#: words that a run must show: figures that come out by hand (see the demos' comments), or a promise kept
SHOWS = {
    "01_first_linkage": ["FAIL · the plates stand", "first_linkage.toml"],
    "02_counter_rotating_pair": ["largest 5.45°", "2.79 mm short", "largest 0.14°", "5.45° becomes 0.11°"],
    "03_progression": ["ratio", "% of the bore"],
    "04_stops_and_pull": ["crank holds", "which shuts the throttles", "PASS · the pull"],
    "05_why_trust_the_numbers": ["remainder 0", " 0 not met"],
    "06_what_a_wrong_hole_costs": ["+ 0.1 mm", "steel links"],
    "07_letting_the_tool_choose": ["every wish is met", "not met:"],
    "08_bench_tuning": ["SET-UP CARD", "flats"],
    "09_sweep": ["of 200,000 kept"],
    "10_papers_for_the_customer": ["BENCH SHEET", "signed"],
    "11_which_layout": ["Slide on the plane of symmetry", "snail"],
}


def cells(path: Path, kind: str) -> list[str]:
    told = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return ["".join(cell["source"]) for cell in told if cell["cell_type"] == kind]


def test_every_notebook_is_here_and_in_order() -> None:
    assert [path.stem for path in NOTEBOOKS] == sorted(SHOWS)


def test_one_line_of_the_readme_opens_the_first() -> None:
    assert "\nsh notebooks/run.sh\n" in (ROOT / "README.md").read_text(encoding="utf-8")
    opens = (ROOT / "notebooks" / "run.sh").read_text(encoding="utf-8").splitlines()[-1]
    assert f"jupyter lab notebooks/{NOTEBOOKS[0].name}" in opens


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_the_house_rules_of_notebooks(path: Path) -> None:
    code, words = cells(path, "code"), cells(path, "markdown")
    assert 1 <= len(code) <= 12, "one task, a dozen cells"
    assert words[0].startswith("# ")
    assert "**What you will get.**" in words[0]
    assert words[-1].startswith("## To try")
    assert "not certificates" in words[-1]
    for text in code:
        made = {type(node) for node in ast.walk(ast.parse(text))}
        functions = made & {ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda}
        assert not functions, "a function in a notebook is one that the package lacks"
        assert max(map(len, text.splitlines())) <= 120


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_outputs_are_stripped(path: Path) -> None:
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            assert (cell["outputs"], cell["execution_count"]) == ([], None)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The notebooks and the demos in a folder of their own, so that what they write stays there."""
    folder = tmp_path_factory.mktemp("shop")
    for name in ("notebooks", "demo"):
        shutil.copytree(ROOT / name, folder / name)
    return folder


@pytest.mark.parametrize("name", sorted(SHOWS))
def test_it_runs_and_keeps_its_promise(name: str, shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("MPLBACKEND", raising=False)  # pictures go into the notebook
    if os.environ.get("CI") != "true":
        pytest.importorskip("nbclient")
        pytest.importorskip("anywidget")
    import nbformat
    from nbclient import NotebookClient

    book: Any = nbformat.read(shop / "notebooks" / f"{name}.ipynb", as_version=4)  # type: ignore[no-untyped-call]
    where = {"metadata": {"path": str(shop / "notebooks")}}
    NotebookClient(book, timeout=300, kernel_name="python3", resources=where).execute()
    outputs: list[Any] = [output for cell in book.cells if cell.cell_type == "code" for output in cell.outputs]
    assert [output for output in outputs if output.get("name") == "stderr"] == []
    said = "\n".join(output.get("text", "") or str(output.get("data", {}).get("text/plain", "")) for output in outputs)
    for words in SHOWS[name]:
        assert words in said
    for cell in book.cells:
        shown = [kind for output in cell.get("outputs", []) for kind in output.get("data", {})]
        assert shown.count("image/png") == cell.source.count("linkage.plots.") * (cell.cell_type == "code")
        if "linkage.bench(" in cell.source and cell.cell_type == "code":
            assert "application/vnd.jupyter.widget-view+json" in shown
