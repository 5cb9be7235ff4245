"""What a sweep varies: grids of values, boxes filled evenly, tables of candidates.

A candidate is a row; its number alone says its values, so any part of a sweep can be worked out by itself.
Values are in mm, deg, N, as the parts hold them.
"""

from __future__ import annotations

import dataclasses
import hashlib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage.errors import DesignError, Fault, PathError
from linkage.parts import Linkage, Rule, dimensions, other_keys, rule_of
from linkage.search import sobol

Floats = NDArray[np.float64]

#: most candidates of one sweep
MOST_ROWS = 10**12


class Variation(Protocol):
    """Candidates by number: ``rows`` of them, of the varied ``paths``."""

    @property
    def paths(self) -> tuple[str, ...]:
        """The varied dimensions."""

    @property
    def rows(self) -> int:
        """Number of candidates."""

    def block(self, start: int, stop: int) -> dict[str, Floats]:
        """Values [mm, deg, N] of candidates ``start`` to ``stop``, the last not included, by path."""

    def bins(self, path: str) -> Floats:
        """Edges between the levels of a varied dimension, or parts of its range, rising."""

    def told(self) -> str:
        """All that decides the candidates, as a text to compare."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Every combination of the values of some dimensions; the last one runs fastest."""

    values: Mapping[str, Floats]

    @property
    def paths(self) -> tuple[str, ...]:
        """The varied dimensions."""
        return tuple(self.values)

    @property
    def rows(self) -> int:
        """Number of candidates."""
        return math.prod(len(values) for values in self.values.values())

    def block(self, start: int, stop: int) -> dict[str, Floats]:
        """Values of candidates ``start`` to ``stop``, the last not included, by path."""
        found: dict[str, Floats] = {}
        rest = np.arange(start, stop)
        for path, values in reversed([*self.values.items()]):
            if len(self.values) > 1:
                rest, at = np.divmod(rest, len(values))
            else:
                at = rest
            found[path] = values[at]
        return {path: found[path] for path in self.values}

    def bins(self, path: str) -> Floats:
        """Edges between the levels of a varied dimension."""
        levels = np.unique(self.values[path])
        if len(levels) > _LEVELS:
            return _even(levels[0], levels[-1])
        return np.asarray(0.5 * (levels[1:] + levels[:-1]))

    def told(self) -> str:
        """All that decides the candidates."""
        return "grid " + _told(self.values)


@dataclass(frozen=True, eq=False)
class Box:
    """A box filled evenly by ``samples`` points of Sobol's sequence, shifted by ``seed``."""

    ends: Mapping[str, tuple[float, float]]
    samples: int
    seed: int

    @property
    def paths(self) -> tuple[str, ...]:
        """The varied dimensions."""
        return tuple(self.ends)

    @property
    def rows(self) -> int:
        """Number of candidates."""
        return self.samples

    def block(self, start: int, stop: int) -> dict[str, Floats]:
        """Values of candidates ``start`` to ``stop``, the last not included, by path."""
        shares = sobol.sobol(len(self.ends), stop - start, self.seed, start=start)
        return {
            path: low + (high - low) * share
            for (path, (low, high)), share in zip(self.ends.items(), shares, strict=True)
        }

    def bins(self, path: str) -> Floats:
        """Edges between even parts of the range."""
        return _even(*self.ends[path])

    def told(self) -> str:
        """All that decides the candidates."""
        return f"box {self.samples} {self.seed} {_told(self.ends)}"


@dataclass(frozen=True, eq=False)
class Listed:
    """Candidates listed one by one: a table of shape (rows, paths), in memory or mapped from a file."""

    paths: tuple[str, ...]
    table: Floats

    def __reduce__(self) -> tuple[Callable[..., Listed], tuple[Any, ...]]:
        if isinstance(self.table, np.memmap):  # another process maps the file too
            return _mapped, (self.paths, str(self.table.filename), self.table.shape)
        return Listed, (self.paths, self.table)

    @property
    def rows(self) -> int:
        """Number of candidates."""
        return len(self.table)

    def block(self, start: int, stop: int) -> dict[str, Floats]:
        """Values of candidates ``start`` to ``stop``, the last not included, by path."""
        return dict(zip(self.paths, np.array(self.table[start:stop].T, order="C"), strict=True))

    def bins(self, path: str) -> Floats:
        """Edges between even parts of the range, or between the levels if they are few."""
        column = self.table[:, self.paths.index(path)]
        levels = np.unique(column[:: max(1, len(column) // 10_000)])
        if len(levels) <= _LEVELS:
            return np.asarray(0.5 * (levels[1:] + levels[:-1]))
        return _even(float(np.min(column)), float(np.max(column)))

    def told(self) -> str:
        """All that decides the candidates."""
        digest = hashlib.sha256()
        for start in range(0, len(self.table), 65536):
            digest.update(np.ascontiguousarray(self.table[start : start + 65536]).tobytes())
        return f"listed {self.paths} {self.table.shape} {digest.hexdigest()}"


def _mapped(paths: tuple[str, ...], file: str, shape: tuple[int, int]) -> Listed:
    return Listed(paths, np.memmap(file, dtype=np.float64, mode="r", shape=shape))


_LEVELS = 32  # as many values are told apart; more are gathered in even parts
_PARTS = 24


def _even(low: float, high: float) -> Floats:
    return np.linspace(low, high, _PARTS + 1)[1:-1]


def _told(values: Mapping[str, ArrayLike]) -> str:
    digests = {path: hashlib.sha256(np.asarray(numbers, float).tobytes()) for path, numbers in values.items()}
    return "; ".join(f"{path} {digest.hexdigest()}" for path, digest in digests.items())


def rule_at(rig: Linkage, path: str) -> Rule:
    """Rule of a dimension of a design, also of an optional one that the design leaves out.

    Raises
    ------
    PathError
        The path names no number of the design.
    """
    part: object = rig
    *way, last = path.split(".")
    if last in ("x", "y", "z") and way:
        *way, last = way
    for key in way:
        if isinstance(part, Mapping):
            part = part.get(key)
        elif dataclasses.is_dataclass(part) and key in {f.name for f in dataclasses.fields(part)}:
            part = getattr(part, key)
        else:
            part = None
    fields = {f.name: f for f in dataclasses.fields(part)} if dataclasses.is_dataclass(part) else {}
    rule = rule_of(part, fields[last]) if last in fields else None
    point = last in fields and str(fields[last].type).startswith("Point")
    if rule is None or point != path.endswith((".x", ".y", ".z")) or (point and getattr(part, last) is None):
        known = dimensions(rig)
        error = PathError(path, known)
        if str(error) == error.says:  # nothing is near
            error.says += f"; write a path as the design file has it, such as {next(iter(known))}"
        raise error
    if last in other_keys(part):
        raise PathError(path, dimensions(rig), f'"{path}" does not go with the way in which its part is given')
    return rule


def broken(rule: Rule, values: ArrayLike) -> str:
    """How the first of some values that breaks a rule does so, or an empty string."""
    numbers = np.asarray(values, float)
    if not numbers.size:
        return "has no values"
    bad = numbers[~(np.isfinite(numbers) & (numbers >= rule.low) & (numbers <= rule.high))]
    return rule.breaks(float(bad.flat[0])) if bad.size else ""


def variation(
    rig: Linkage,
    vary: Mapping[str, ArrayLike],
    *,
    samples: int | None = None,
    seed: int = 1,
) -> Variation:
    """What to vary, from Python.

    Parameters
    ----------
    rig : Linkage
    vary : mapping of str to array_like
        By dotted path, in [mm], [deg], [N]: the values of a grid, or, with ``samples``, the two ends of a range.
    samples : int, optional
        Points to fill the box of the ranges with.
    seed : int
        Which points; 0: Sobol's own.

    Raises
    ------
    DesignError
        Paths that are not of the design, values that break their rules, empty ranges: every one of them.
    """
    faults: list[Fault] = []
    found: dict[str, Floats] = {}
    for path, values in vary.items():
        try:
            numbers = np.atleast_1d(np.asarray(values, float)).ravel()
            says = broken(rule_at(rig, path), numbers)
        except PathError as error:
            says = str(error)
        except (TypeError, ValueError):
            says = f"must be numbers, got {values!r}"
        if not says and samples is not None and (len(numbers) != 2 or not numbers[0] < numbers[1]):
            says = f"must be two ends (low, high) for samples, got {values!r}"
        if says:
            faults.append(Fault(f"vary {path}", says, file="sweep"))
        else:
            found[path] = numbers
    if samples is not None:
        return boxed({path: (float(v[0]), float(v[1])) for path, v in found.items()}, samples, seed, faults)
    return gridded(found, faults)


def gridded(values: Mapping[str, Floats], faults: Sequence[Fault]) -> Grid:
    """A grid, if there are no faults in what was asked."""
    grid = Grid(values)
    found = [*faults, *([] if values or faults else [Fault("vary", _NOTHING, file="sweep")])]
    if grid.rows > MOST_ROWS:
        found.append(Fault("vary", f"makes {grid.rows:,} candidates; {MOST_ROWS:,} are the most", file="sweep"))
    if found:
        raise DesignError(found)
    return grid


def boxed(ends: Mapping[str, tuple[float, float]], samples: int, seed: int, faults: Sequence[Fault]) -> Box:
    """A box to be filled, if there are no faults in what was asked."""
    found = [*faults, *([] if ends or faults else [Fault("vary", _NOTHING, file="sweep")])]
    if isinstance(samples, bool) or not isinstance(samples, (int, np.integer)) or not 1 <= samples <= MOST_SAMPLES:
        found.append(
            Fault("samples", f"must be a whole number from 1 to {MOST_SAMPLES:,}, got {samples!r}", file="sweep")
        )
    if isinstance(seed, bool) or not isinstance(seed, (int, np.integer)) or seed < 0:
        found.append(Fault("seed", f"must be a whole number, 0 or more, got {seed!r}", file="sweep"))
    if len(ends) > sobol.MOST:
        says = f"are {len(ends)} dimensions; samples fill at most {sobol.MOST} evenly"
        found.append(Fault("vary", says, "list the candidates in a file", file="sweep"))
    if found:
        raise DesignError(found)
    return Box(ends, int(samples), int(seed))


#: most points that Sobol's sequence has here
MOST_SAMPLES = 2**30 - 1

_NOTHING = "names nothing to vary"
