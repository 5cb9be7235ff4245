"""Which candidates to keep: limits by figure name, the best of one figure, the front of two or three.

Limits are read, never evaluated. A figure that a candidate does not have (``nan``) meets no limit.
"""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from linkage.errors import DesignError, Fault, did_you_mean
from linkage.parts import Linkage
from linkage.quantities import Kind, own_scale, quantity_in
from linkage.search.figures import REASONS, VERDICTS, unit_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Rows = NDArray[np.intp]
Columns = Mapping[str, Floats]

_COMPARE: Mapping[str, Callable[[Any, Any], Any]] = {
    "<=": operator.le,
    ">=": operator.ge,
    "<": operator.lt,
    ">": operator.gt,
    "==": operator.eq,
    "!=": operator.ne,
}
_LIMIT = re.compile(r"\s*(?P<name>[^<>=!]+?)\s*(?P<sign><=|>=|==|!=|<|>)\s*(?P<value>[^<>=!]+?)\s*")

#: figures of which more is better; of every other, less
MORE_IS_BETTER = ("progression_ratio", "transmission_angle", "toggle_margin_closing", "toggle_margin_opening")

_WORDS: Mapping[str, tuple[str, ...]] = {"verdict": VERDICTS, "reason": ("none", *REASONS)}


@dataclass(frozen=True)
class Limit:
    """A figure, a sign (``<=``, ``>=``, ``<``, ``>``, ``==``, ``!=``) and a value [deg, mm]."""

    name: str
    sign: str
    value: float

    def met(self, columns: Columns) -> Bools:
        """Which candidates meet it."""
        column = columns[self.name]
        return np.asarray(_COMPARE[self.sign](column, self.value) & ~np.isnan(column))


@dataclass(frozen=True)
class Aim:
    """A figure and which way it is better."""

    name: str
    better: Literal["low", "high"]

    def cost(self, columns: Columns) -> Floats:
        """The figure turned so that less is better."""
        return np.asarray(columns[self.name] if self.better == "low" else -columns[self.name])


@dataclass(frozen=True)
class Choice:
    """What is kept of all candidates: those that meet every limit; of them the ``best`` of the first aim, or, with
    no number, all that no other beats in every aim; with no aim, all."""

    limits: tuple[Limit, ...] = ()
    aims: tuple[Aim, ...] = ()
    best: int | None = None

    @property
    def narrows(self) -> bool:
        """Whether there are aims, so that the rows of two parts have to be chosen from again."""
        return bool(self.aims)

    def within(self, columns: Columns) -> Bools:
        """Which candidates meet every limit."""
        found = np.ones(len(next(iter(columns.values()))), bool)
        for limit in self.limits:
            found &= limit.met(columns)
        return found

    def rows(self, columns: Columns) -> Rows:
        """Which candidates are kept, in order of their number; the best ones from the best down."""
        rows = np.flatnonzero(self.within(columns))
        return self.chosen(columns, rows) if self.aims else rows

    def chosen(self, columns: Columns, rows: Rows) -> Rows:
        """Of some candidates, in order of their number, those that the aims choose."""
        costs = np.stack([aim.cost(columns)[rows] for aim in self.aims])
        known = np.flatnonzero(~np.any(np.isnan(costs), axis=0))
        if self.best is None:
            return np.asarray(rows[known[front(costs[:, known])]])
        order = np.argsort(costs[0, known], kind="stable")
        return np.asarray(rows[known[order[: self.best]]])


def front(costs: Floats) -> Rows:
    """Which columns of a table (figures, n) no other column beats: at most as high in every row, lower in one.

    Of equal columns the first. In order.
    """
    left = np.lexsort(costs[::-1])  # nothing is beaten by what comes later
    kept = []
    while left.size:
        kept.append(left[0])
        best = costs[:, left[0], None]
        left = left[np.any(costs[:, left] < best, axis=0)]
    return np.sort(np.array(kept, np.intp))


def limits(texts: Sequence[str], kinds: Mapping[str, Kind], units: str) -> tuple[Limit, ...]:
    """Read limits such as ``mismatch<=0.3``, ``verdict!=fail``, ``cable_travel<1.5in``.

    Parameters
    ----------
    texts : sequence of str
    kinds : mapping of str to str
        What may be limited, by name, and what kind of quantity each is.
    units : "mm" or "in"
        Unit of bare lengths.

    Raises
    ------
    DesignError
        With every fault of all of them.
    """
    found, faults = [], []
    for text in texts:
        try:
            found.append(_limit(text, kinds, units))
        except ValueError as error:
            says, _, mend = str(error).partition("; ")
            faults.append(Fault(f"keep {text}" if parted(text) else "keep", says, mend, file="sweep"))
    if faults:
        raise DesignError(faults)
    return tuple(found)


def parted(text: str) -> re.Match[str] | None:
    """The name, sign and value of a limit, None where the text is none."""
    return _LIMIT.fullmatch(text)


def _limit(text: str, kinds: Mapping[str, Kind], units: str) -> Limit:
    match = parted(text)
    if match is None:
        raise ValueError(f'"{text}" is no limit; write one such as mismatch<=0.3')
    name, sign, value = match["name"], match["sign"], match["value"]
    if name not in kinds:
        raise ValueError(f'"{name}" is not a figure of this sweep{did_you_mean(name, kinds) or _there_are(kinds)}')
    if name in _WORDS:
        if value not in _WORDS[name]:
            hint = did_you_mean(value, _WORDS[name]) or "; write " + ", ".join(_WORDS[name])
            raise ValueError(f'"{value}" is no {name}{hint}')
        return Limit(name, sign, float(_WORDS[name].index(value)))
    try:
        return Limit(name, sign, float(value) * own_scale(units, kinds[name]))
    except ValueError:
        return Limit(name, sign, quantity_in(value, kinds[name]))


def _there_are(kinds: Mapping[str, Kind]) -> str:
    return "; there are " + ", ".join(name for name in kinds if "." not in name)


def aims(texts: Sequence[str], kinds: Mapping[str, Kind]) -> tuple[Aim, ...]:
    """Read figures such as ``mismatch`` or ``cable_travel:high``, each with the way in which it is better.

    Raises
    ------
    DesignError
        With every fault of all of them.
    """
    found, faults = [], []
    for text in texts:
        name, way = text, ""
        if text not in kinds:
            name, _, way = text.rpartition(":") if text.endswith((":low", ":high")) else (text, "", "")
        if name not in kinds:
            hint = did_you_mean(name, kinds) or _there_are(kinds)
            faults.append(Fault("figure", f'"{name}" is not a figure of this sweep', hint[2:], file="sweep"))
            continue
        found.append(Aim(name, "high" if way == "high" or (not way and name in MORE_IS_BETTER) else "low"))
    if faults:
        raise DesignError(faults)
    return tuple(found)


def kinds_of(figures: Sequence[str], rig: Linkage) -> dict[str, Kind]:
    """What kind of quantity each figure of a design is."""
    kind: Mapping[str, Kind] = {"deg": "angle", "mm": "length", "": "number"}
    return {name: kind[unit_of(name, rig)] for name in figures}
