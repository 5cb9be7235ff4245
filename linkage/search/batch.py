"""Part of a sweep worked out: the figures of consecutive candidates, those kept, and an even sample of all.

Every candidate's figures come from its own numbers alone, by the same operations whatever stands beside
it; so a sweep may be cut anywhere and the same bits come out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.errors import AssemblyError
from linkage.parts import Linkage, dimensions
from linkage.search.choose import Choice
from linkage.search.figures import REASONS, VERDICTS, figures, names_of
from linkage.search.vary import Variation

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

#: candidates worked out together: few enough to stay in the processor's memory, enough to be worth the call
BLOCK = 8192

#: candidates to a part; parts are cut at multiples of it, counted from the first candidate of the slice
PART = 2 * BLOCK

#: about as many candidates make the even sample that summaries and pictures are drawn from
SAMPLE = 100_000


@dataclass(frozen=True, eq=False)
class Plan:
    """All that decides a sweep's answer: the candidates from ``start`` to ``stop`` of a variation of a design, and
    which of them are kept."""

    rig: Linkage
    variation: Variation
    choice: Choice
    start: int
    stop: int

    @property
    def parts(self) -> int:
        """Number of parts."""
        return -(-(self.stop - self.start) // PART)

    def part(self, index: int) -> tuple[int, int]:
        """First candidate of a part, and the first one after it."""
        first = self.start + index * PART
        return first, min(first + PART, self.stop)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns: the varied dimensions, then the figures."""
        return (*self.variation.paths, *names_of(self.rig))


@dataclass(frozen=True, eq=False)
class Tally:
    """What there was in a part of a sweep: how many ``rows``, how many of each verdict and reason, and of every
    column the least, the greatest, the sum and the number of known values, (columns,) each."""

    rows: int
    verdicts: Whole
    reasons: Whole
    least: Floats
    greatest: Floats
    total: Floats
    known: Floats

    def and_(self, other: Tally) -> Tally:
        """Both together."""
        return Tally(
            self.rows + other.rows,
            self.verdicts + other.verdicts,
            self.reasons + other.reasons,
            np.fmin(self.least, other.least),
            np.fmax(self.greatest, other.greatest),
            self.total + other.total,
            self.known + other.known,
        )


@dataclass(frozen=True, eq=False)
class Part:
    """A part of a sweep: numbers and columns (columns, n) [mm, deg] of the candidates kept, the same of the even
    ``sample`` of all, and the tally of all."""

    kept: Whole
    columns: Floats
    sampled: Whole
    sample: Floats
    tally: Tally


def work_out(plan: Plan, index: int) -> Part:
    """Work out one part of a sweep."""
    start, stop = plan.part(index)
    table = columns(plan.rig, plan.variation, start, stop)
    names = plan.names
    rows = plan.choice.rows(dict(zip(names, table, strict=True)))
    numbers = np.arange(start, stop)
    taken = np.flatnonzero(in_sample(numbers, plan.variation.rows))
    every = rows.size == stop - start and not plan.choice.narrows
    return Part(
        numbers if every else numbers[rows],
        table if every else np.ascontiguousarray(table[:, rows]),
        numbers[taken],
        np.ascontiguousarray(table[:, taken]),
        _tally(table, len(names)),
    )


def columns(rig: Linkage, variation: Variation, start: int, stop: int) -> Floats:
    """Varied dimensions and figures [mm, deg] of candidates ``start`` to ``stop``, shape (columns, rows)."""
    fixed, names = dimensions(rig), names_of(rig)
    paths = len(variation.paths)
    table = np.empty((paths + len(names), stop - start))
    for first in range(start, stop, BLOCK):
        last = min(first + BLOCK, stop)
        here = slice(first - start, last - start)
        block = variation.block(first, last)
        for row, values in zip(table, block.values(), strict=False):
            row[here] = values
        try:
            found = figures(rig, {**fixed, **block}, last - first)
        except AssemblyError:  # what keeps the design from being assembled does not vary
            table[paths:, here] = np.nan
            table[paths + names.index("verdict"), here] = VERDICTS.index("fail")
            table[paths + names.index("reason"), here] = REASONS.index("cannot be assembled") + 1
            continue
        for row, name in zip(table[paths:], names, strict=True):
            row[here] = found[name]
    return table


def in_sample(numbers: Whole, rows: int) -> NDArray[np.bool_]:
    """Which candidates are of the even sample, by their numbers alone and without a rhythm that a grid could share."""
    if rows <= SAMPLE:
        return np.ones(numbers.shape, bool)
    mixed = numbers.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)  # Fibonacci hashing
    return np.asarray((mixed >> np.uint64(11)).astype(float) * 2.0**-53 < SAMPLE / rows)


def _tally(table: Floats, columns: int) -> Tally:
    verdict, reason = table[columns - 2].astype(int), table[columns - 1].astype(int)
    finite = np.isfinite(table)
    whole = bool(finite.all())
    known = table if whole else np.where(finite, table, np.nan)
    return Tally(
        table.shape[1],
        np.bincount(verdict, minlength=len(VERDICTS)),
        np.bincount(reason, minlength=len(REASONS) + 1),
        np.fmin.reduce(known, axis=1),
        np.fmax.reduce(known, axis=1),
        known.sum(axis=1) if whole else np.where(finite, table, 0.0).sum(axis=1),
        finite.sum(axis=1).astype(float),
    )
