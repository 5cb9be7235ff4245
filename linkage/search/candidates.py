"""Candidates out of a file: a CSV or Parquet table whose headings are dotted paths of the design."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkage.errors import DesignError, Fault, PathError
from linkage.parts import Linkage, Rule
from linkage.quantities import UNITS, own_scale, quantity_in
from linkage.search.figures import names_of
from linkage.search.headings import NUMBER, named
from linkage.search.sheet_files import pieces
from linkage.search.vary import Listed, broken, rule_at

Floats = NDArray[np.float64]

_SHOWN = 20  # faults of one file that are told


def read_candidates(path: str | Path, rig: Linkage, store: Path | None = None) -> Listed:
    """Read a table of candidates.

    Parameters
    ----------
    path : str or pathlib.Path
        CSV or Parquet. Each column is headed by a dotted path of the design, with its unit in brackets
        (``bellcrank.centre.pivot.y [mm]``) or, without one, in the design's own; columns that a sweep adds (its
        figures, the candidates' numbers) are passed over.
    rig : Linkage
    store : pathlib.Path, optional
        A file to hold the numbers, where there may be too many for memory.

    Raises
    ------
    DesignError
        The file cannot be used; every fault, or the first twenty.
    """
    faults: list[Fault] = []
    columns: dict[str, tuple[int, Rule, float]] | None = None
    blocks: list[Floats] = []
    stream = None if store is None else open(store, "wb")  # noqa: SIM115  # closed below
    rows = 0
    try:
        for at_rows, headings, cells in pieces(path):
            if columns is None:
                columns = _headed(str(path), headings, rig, faults)
            table = np.empty((len(cells[0]) if cells else 0, len(columns)))
            for j, (name, (at, rule, size)) in enumerate(columns.items()):
                _fill(table[:, j], cells[at], rule, size, name, str(path), at_rows, faults)
            if len(faults) >= _SHOWN:
                break
            rows += len(table)
            if stream is None:
                blocks.append(table)
            else:
                stream.write(table.tobytes())
    finally:
        if stream is not None:
            stream.close()
    if not rows and not faults:
        faults.append(Fault("", "has no candidates", "give each a line", file=str(path)))
    if faults:
        raise DesignError(faults[:_SHOWN])
    paths = tuple(columns or ())
    if store is None:
        return Listed(paths, np.concatenate(blocks))
    return Listed(paths, np.memmap(store, dtype=np.float64, mode="r", shape=(rows, len(paths))))


def paths_of(path: str | Path, rig: Linkage) -> tuple[str, ...]:
    """The dimensions that a table of candidates varies, by its headings alone.

    Raises
    ------
    DesignError
        See :func:`read_candidates`.
    """
    faults: list[Fault] = []
    _, headings, _ = next(pieces(path))
    found = tuple(_headed(str(path), headings, rig, faults))
    if faults:
        raise DesignError(faults[:_SHOWN])
    return found


def _headed(file: str, headings: list[str], rig: Linkage, faults: list[Fault]) -> dict[str, tuple[int, Rule, float]]:
    """Place, rule and size of the unit of every column that varies a dimension."""
    known, found = {NUMBER, *names_of(rig)}, dict[str, tuple[int, Rule, float]]()
    for at, heading in enumerate(headings):
        name, unit = named(heading)
        if name in known:
            continue
        place = f'column "{heading}"'
        try:
            rule = rule_at(rig, name)
        except PathError as error:
            faults.append(Fault(place, str(error), file=file))
            continue
        if unit and unit not in UNITS[rule.kind]:
            faults.append(
                Fault(place, f'"{unit}" is no unit of it', f"write one of {', '.join(UNITS[rule.kind])}", file=file)
            )
        elif name in found:
            faults.append(Fault(place, "comes twice", "take one away", file=file))
        else:
            found[name] = (at, rule, UNITS[rule.kind][unit] if unit else own_scale(rig.units, rule.kind))
    if not found and not faults:
        faults.append(
            Fault("", "has no column that names a dimension of the design", "head one with its path", file=file)
        )
    return found


def _fill(
    into: Floats,
    cells: Sequence[Any],
    rule: Rule,
    size: float,
    name: str,
    file: str,
    rows: Sequence[int],
    faults: list[Fault],
) -> None:
    """Put a column's numbers in their place, or say what is wrong with some."""
    try:
        into[:] = np.array(cells, dtype=float) * size  # None: nan
    except ValueError:
        for i, cell in enumerate(cells):
            into[i] = _number(cell, rule, size)
    if broken(rule, into) and into.size:
        bad = np.flatnonzero(~(np.isfinite(into) & (into >= rule.low) & (into <= rule.high)))
        for i in bad[: _SHOWN - len(faults)]:
            cell = cells[i]
            says = rule.breaks(float(into[i])) if np.isfinite(into[i]) else f"must be a number, got {cell!r}"
            place = f"{'row' if file.lower().endswith('.parquet') else 'line'} {rows[i]}, {name}"
            faults.append(Fault(place, says, file=file))


def _number(cell: Any, rule: Rule, size: float) -> float:
    try:
        return float(cell) * size
    except (TypeError, ValueError):
        pass
    try:
        return quantity_in(str(cell), rule.kind)
    except ValueError:
        return float("nan")


def picked(rig: Linkage, path: str | Path, candidate: int) -> Linkage:
    """A candidate of a sweep as a design.

    Parameters
    ----------
    rig : Linkage
        The design that was swept.
    path : str or pathlib.Path
        The CSV or Parquet table that the sweep wrote.
    candidate : int
        The number in the table's column ``candidate``.

    Raises
    ------
    DesignError
        The table has no such candidate, or does not vary this design.
    """
    faults: list[Fault] = []
    for at_rows, headings, cells in pieces(path):
        if NUMBER not in headings:
            raise DesignError(
                [Fault("", f'has no column "{NUMBER}"', "pick from a table that a sweep wrote", file=str(path))]
            )
        columns = _headed(str(path), headings, rig, faults)
        if faults:
            raise DesignError(faults[:_SHOWN])
        numbers = cells[headings.index(NUMBER)]
        row = next((i for i, number in enumerate(numbers) if str(number).strip() == str(candidate)), None)
        if row is None:
            continue
        values: dict[str, float] = {}
        for name, (at, rule, size) in columns.items():
            value = np.empty(1)
            _fill(value, [cells[at][row]], rule, size, name, str(path), [at_rows[row]], faults)
            if faults:
                raise DesignError(faults)
            values[name] = float(value[0])
        return rig.replace_all(values)
    raise DesignError([Fault("", f"has no candidate {candidate}", "take a number of its first column", file=str(path))])
