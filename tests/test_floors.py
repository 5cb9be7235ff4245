"""Imports go one way, down the floors; those inside functions too."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import linkage

PACKAGE = Path(linkage.__file__).parent

#: From the ground up. A module stands on the floor of the longest of these names that its own begins with.
FLOORS = (
    (
        "closure",
        "errors",
        "files",
        "fourbar",
        "quantities",
        "spring_wire",
        "tables",
        "threads",
        "toggles",
        "trig_zeros",
    ),
    ("clashes", "parts", "train", "turns"),
    ("design_file",),
    ("motion",),
    ("answers",),
    ("derivation",),
    ("search",),
    ("published",),  # works examples of all that computes, the search among it
    ("plots",),
    ("paper",),
    ("cli", "widgets", "__main__"),
)

#: Beside the floors: the package itself names everything, and loads it when asked for.
BESIDE = ("",)

#: Within the answers: what all others stand on, the others, what weighs them, what puts them together.
ANSWERS = ({"extremes", "checks"}, None, {"verdict"}, {""})


def _modules() -> dict[str, Path]:
    """Modules of the package by their name below it: ``motion.solve``, ``motion`` for its ``__init__``."""
    found = {}
    for path in PACKAGE.rglob("*.py"):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


MODULES = _modules()


def _imports(text: str, module: str, is_package: bool) -> Iterator[tuple[int, str]]:
    """Line and name (below the package) of every module that a text imports from the package."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            for name in node.names:
                if name.name.split(".")[0] == "linkage":
                    yield node.lineno, name.name.partition(".")[2]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                up = ["linkage", *module.split(".")] if module else ["linkage"]
                up = up[: len(up) - node.level + is_package]
                base = ".".join([*up, *([base] if base else [])])
            if base.split(".")[0] == "linkage":
                inside = base.partition(".")[2]
                for name in node.names:
                    full = f"{inside}.{name.name}".lstrip(".")
                    yield node.lineno, full if full in MODULES else inside
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "import_module":
            for given in node.args:
                if isinstance(given, ast.Constant) and str(given.value).startswith("linkage."):
                    yield node.lineno, str(given.value).partition(".")[2]


def _floor(module: str) -> int | None:
    for height, names in enumerate(FLOORS):
        if module.split(".")[0] in names:
            return height
    return None


def _height_of_answer(module: str) -> int:
    name = module.partition(".")[2]
    return next((h for h, names in enumerate(ANSWERS) if names is not None and name in names), 1)


def _climbs(module: str, imported: str) -> str:
    """Why a module may not import another, or an empty string."""
    if module in BESIDE:
        return ""
    here, there = _floor(module), _floor(imported)
    if imported in BESIDE:
        return "" if module.split(".")[0] in ("cli", "plots", "paper", "published") else "imports the package itself"
    if here is None or there is None:
        return f"{module if here is None else imported} stands on no floor"
    if there > here:
        return "climbs"
    if module.startswith("answers") and imported.startswith("answers"):
        low, high = _height_of_answer(imported), _height_of_answer(module)
        return "climbs within the answers" if low > high else ""
    return ""


def _faults(sources: dict[str, tuple[str, bool]]) -> list[str]:
    return [
        f"linkage.{module}:{line} imports linkage.{imported}: {why}"
        for module, (text, is_package) in sources.items()
        for line, imported in _imports(text, module, is_package)
        if (why := _climbs(module, imported))
    ]


def _sources() -> dict[str, tuple[str, bool]]:
    return {name: (path.read_text(encoding="utf-8"), path.name == "__init__.py") for name, path in MODULES.items()}


def test_every_module_stands_on_a_floor() -> None:
    assert [name for name in MODULES if name not in BESIDE and _floor(name) is None] == []


def test_no_import_climbs() -> None:
    assert _faults(_sources()) == []


def test_no_modules_import_each_other_in_a_ring() -> None:
    needs = {
        module: {name for _, name in _imports(text, module, is_package) if name not in BESIDE and name != module}
        for module, (text, is_package) in _sources().items()
    }
    left = dict(needs)
    while free := [module for module, names in left.items() if not names & left.keys()]:
        for module in free:
            del left[module]
    assert sorted(left) == []


def test_the_package_itself_loads_nothing_of_its_own_until_asked() -> None:
    tree = ast.parse(MODULES[""].read_text(encoding="utf-8"))
    at_once = [n for n in tree.body if isinstance(n, (ast.Import, ast.ImportFrom))]
    text = "\n".join(ast.unparse(node) for node in at_once)
    assert list(_imports(text, "", True)) == []


def test_a_climbing_import_is_found_wherever_it_hides() -> None:
    hidden = {
        "at the top": "import linkage.plots",
        "by from": "from linkage import answers",
        "relative": "from .answers import stops",
        "in a function": "def f():\n    from linkage.answers.stops import stops",
        "by name": "import importlib\nimportlib.import_module('linkage.motion')",
    }
    for where, text in hidden.items():
        assert len(_faults({"closure": (text, False)})) == 1, where
    assert _faults({"answers.extremes": ("from linkage.answers import mismatch", False)}) != []
    assert _faults({"answers.stops": ("from linkage.answers.verdict import percent", False)}) != []
    assert _faults({"answers.stops": ("from linkage.motion import Motion", False)}) == []
