"""Rounding to what can be made: holes, angles and link lengths at their steps, and what that costs.

Rounding each number to its nearest step by itself is seldom the best; the steps on either side are tried
together, all at once.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from linkage.motion import assemble
from linkage.parts import Linkage, dimensions
from linkage.search.figures import figures
from linkage.search.rigging import adjuster_step

Floats = NDArray[np.float64]
Table = Mapping[str, float]

#: steps of the workshop where none are given: a hole is drilled to a tenth [mm], a lever is set to half a degree
HOLE, ANGLE = 0.1, 0.5

_ALL_SIDES = 12  # of so many dimensions every choice is tried
_ROUNDS = 4  # beyond that one after the other, so many times over
_ON_STEP = 1e-6
_REGIONS = (
    ("mismatch_at_idle", "mismatch_at_idle"),
    ("mismatch_off_idle", "mismatch_off_idle"),
    ("mismatch_middle", "mismatch"),
    ("mismatch_last", "mismatch_at_wide_open"),
)


@dataclass(frozen=True)
class Rounded:
    """One dimension: its ``path``, ``exact``, ``made`` and ``nearest`` values and its ``step`` [mm, deg]."""

    path: str
    exact: float
    made: float
    nearest: float
    step: float


@dataclass(frozen=True, eq=False)
class Rounding:
    """A design brought to its steps: ``rig``, every dimension that moved, and the figures ``exact``, ``made``
    and, each dimension rounded by itself, ``nearest`` (those of :func:`linkage.search.figures.figures`)."""

    rig: Linkage
    dimensions: tuple[Rounded, ...]
    exact: Mapping[str, float]
    made: Mapping[str, float]
    nearest: Mapping[str, float]


def rounding(
    rig: Linkage,
    *,
    hole: float | None = HOLE,
    angle: float | None = ANGLE,
    links: bool = False,
    steps: Mapping[str, float] | None = None,
) -> Rounding:
    """Bring a design to what can be made.

    Parameters
    ----------
    rig : Linkage
    hole : float or None
        Step of arm radii and pin coordinates [mm]; None leaves them.
    angle : float or None
        Step of arm angles [deg], or what the indexing at hand gives; None leaves them.
    links : bool
        Whether lengths of links are brought to whole flats of their adjusters too (a tenth of a mm
        where no pitch is given); else links without a length are fitted to the rounded parts.
    steps : mapping of str to float, optional
        Steps of single dimensions by dotted path [mm, deg ...], instead of those.

    Returns
    -------
    Rounding

    Raises
    ------
    PathError
        A step for no dimension of the design.
    AssemblyError
        The linkage cannot be put together.
    """
    drawn = {**dimensions(rig), **_lengths(rig, dimensions(rig))}
    for path in steps or {}:
        rig.replace(path, drawn.get(path, 1.0))  # raises where there is no such dimension
    held = {pin for link in rig.link.values() for pin in link.joins}
    held |= {rig.cable.pulls} if rig.cable is not None and rig.cable.pulls else set()
    by_path = {path: step for path in drawn if _pin_of(path) in held and (step := _step(path, hole, angle))}
    by_path |= steps or {}
    table, near = _brought(rig, dimensions(rig), by_path)
    if links:
        by_link = {path: adjuster_step(rig.link[path.split(".")[1]]) or HOLE for path in _lengths(rig, table)}
        _, near = _brought(rig, {**near, **_lengths(rig, near)}, by_link)
        table, _ = _brought(rig, {**table, **_lengths(rig, table)}, by_link)
        by_path |= by_link
    exact, made, nearest = (_one(figures(rig, t, 1)) for t in (dimensions(rig), table, near))
    moved = [
        Rounded(path, drawn[path], table.get(path, drawn[path]), near.get(path, drawn[path]), step)
        for path, step in by_path.items()
        if max(abs(drawn[path] - t.get(path, drawn[path])) for t in (table, near)) > _ON_STEP
    ]
    rig = rig.replace_all({row.path: row.made for row in moved})
    return Rounding(rig, tuple(moved), exact, made, nearest)


def _lengths(rig: Linkage, table: Table) -> dict[str, float]:
    """Lengths of all links by their paths, also of those that follow the drawing."""
    return {f"link.{j.step.by.name}.length": float(j.length) for j in assemble(rig, table).joints if j.forward}


def _step(path: str, hole: float | None, angle: float | None) -> float | None:
    if re.fullmatch(r".*\.arm\.[^.]+\.(radius|pin\.[xyz])", path):
        return hole
    return angle if re.fullmatch(r".*\.arm\.[^.]+\.angle", path) else None


def _pin_of(path: str) -> str:
    """``"left.drive"`` of an arm's path."""
    keys = path.split(".")
    return f"{keys[1]}.{keys[3]}" if len(keys) > 4 and keys[2] == "arm" else ""


def _brought(rig: Linkage, table: Table, steps: Mapping[str, float]) -> tuple[dict[str, float], dict[str, float]]:
    """Tables with some dimensions at their steps: the best choice, and the nearest."""
    paths = [path for path, step in steps.items() if abs(table[path] - _nearest(table[path], step)) > _ON_STEP]
    size = np.array([steps[path] for path in paths])
    exact = np.array([table[path] for path in paths])
    below = np.floor(exact / size) * size
    near = np.array([_nearest(value, step) for value, step in zip(exact, size, strict=True)])
    other = np.where(near > below + 0.5 * size, below, below + size)
    if not paths:
        return dict(table), dict(table)
    if len(paths) <= _ALL_SIDES:
        sides = np.array(list(product((False, True), repeat=len(paths)))).T
        best = _choice(rig, table, paths, np.where(sides, other[:, None], near[:, None]))
    else:
        best = near.copy()
        for _ in range(_ROUNDS):
            tried = np.repeat(best[:, None], len(paths) + 1, axis=1)
            for i in range(len(paths)):
                tried[i, i + 1] = near[i] + other[i] - best[i]
            best = _choice(rig, table, paths, tried)
    chosen, nearest = ({**table, **dict(zip(paths, map(float, x), strict=True))} for x in (best, near))
    return chosen, nearest


def _choice(rig: Linkage, table: Table, paths: list[str], tried: Floats) -> Floats:
    """The best column of what was tried: no failed check, then the least mismatch over its limits."""
    found = figures(rig, {**table, **dict(zip(paths, tried, strict=True))}, tried.shape[1])
    limit = {key: max(float(getattr(rig.limits, key)), 1e-3) for _, key in _REGIONS}
    over = np.stack([np.nan_to_num(found[name], nan=0.0) / limit[key] for name, key in _REGIONS])
    worst = np.where(np.isfinite(found["mismatch"]), over.max(axis=0), np.inf)
    failed = found["verdict"] >= 2.0
    return tried[:, int(np.lexsort((worst, failed))[0])]


def _nearest(value: float, step: float) -> float:
    return float(np.round(value / step) * step)


def _one(found: Mapping[str, Floats]) -> dict[str, float]:
    return {name: float(value[0]) for name, value in found.items()}
