"""Throttle linkages for one-off induction systems: from a small design file to a verdict.

>>> import linkage
>>> rig = linkage.read("demo/flat_six.toml")  # doctest: +SKIP
>>> run = linkage.solve(rig)  # doctest: +SKIP

Lengths [mm], angles [deg], forces [N], torques [N.mm] at every public door.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from linkage.design_file.read import parse, read
    from linkage.design_file.write import to_text, write
    from linkage.errors import AssemblyError, DesignError, LinkageError, OutputError, PathError
    from linkage.motion.solve import Motion, solve
    from linkage.parts import Bounds, Linkage, Wish, dimensions
    from linkage.search.clocking import clocking
    from linkage.search.fit import fit
    from linkage.search.rigging import rigging
    from linkage.search.rounding import rounding
    from linkage.search.snail import snail
    from linkage.search.sweep import sweep
    from linkage.search.tune import tune
    from linkage.widgets import bench

__version__ = "0.1.0"

#: where each public name lives; loaded when first asked for (PEP 562)
_NAMES = {
    "read": "design_file",
    "parse": "design_file",
    "to_text": "design_file",
    "write": "design_file",
    "solve": "motion",
    "Motion": "motion",
    "Linkage": "parts",
    "dimensions": "parts",
    "Wish": "parts",
    "Bounds": "parts",
    "fit": "search.fit",
    "clocking": "search.clocking",
    "rigging": "search.rigging",
    "rounding": "search.rounding",
    "snail": "search.snail",
    "sweep": "search.sweep",
    "tune": "search.tune",
    "bench": "widgets",
    "LinkageError": "errors",
    "DesignError": "errors",
    "AssemblyError": "errors",
    "PathError": "errors",
    "OutputError": "errors",
}
_MODULES = ("answers", "closure", "plots", "published")

__all__ = [
    "AssemblyError",
    "Bounds",
    "DesignError",
    "Linkage",
    "LinkageError",
    "Motion",
    "OutputError",
    "PathError",
    "Wish",
    "bench",
    "clocking",
    "dimensions",
    "fit",
    "parse",
    "read",
    "rigging",
    "rounding",
    "snail",
    "solve",
    "sweep",
    "to_text",
    "tune",
    "write",
]


def __getattr__(name: str) -> Any:
    if name in _NAMES:
        return getattr(importlib.import_module(f"linkage.{_NAMES[name]}"), name)
    if name in _MODULES:
        return importlib.import_module(f"linkage.{name}")
    raise AttributeError(f"module 'linkage' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *_NAMES, *_MODULES})
