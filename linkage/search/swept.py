"""What a sweep found: kept, chosen from and summed up."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linkage import tables
from linkage.errors import DesignError, Fault
from linkage.parts import Linkage
from linkage.search import choose, headings
from linkage.search.batch import Tally
from linkage.search.choose import Choice
from linkage.search.figures import REASONS, VERDICTS, names_of
from linkage.search.headings import NUMBER, WORDS
from linkage.search.influence import Influence, influence
from linkage.search.vary import Variation

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

_MAIN = ("mismatch", "progression_ratio", "cable_travel", "transmission_angle", "verdict")


@dataclass(frozen=True, eq=False)
class Sweep:
    """What a sweep found.

    ``numbers`` and ``table`` (columns, n) [mm, deg, N] are of the candidates kept, ``sampled`` and ``sample`` the
    same of an even sample of all, kept or not; ``tally`` counts all, ``kept`` those kept. Where the rows went into a
    file (``path``) ``numbers`` and ``table`` have those of the sample only, unless a best number or a front was asked
    for.
    """

    rig: Linkage
    variation: Variation
    choice: Choice
    numbers: Whole
    table: Floats
    sampled: Whole
    sample: Floats
    tally: Tally
    kept: int
    path: Path | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns: the varied dimensions, then the figures."""
        return (*self.variation.paths, *names_of(self.rig))

    @property
    def figures(self) -> tuple[str, ...]:
        """Names of the figures."""
        return names_of(self.rig)

    def __len__(self) -> int:
        return len(self.numbers)

    def __getitem__(self, name: str) -> Floats:
        """A column of the candidates kept, by name [mm, deg, N]."""
        return np.asarray(self.table[self.names.index(name)])

    def of_sample(self, name: str) -> Floats:
        """A column of the even sample, by name [mm, deg, N]."""
        return np.asarray(self.sample[self.names.index(name)])

    def columns(self) -> dict[str, Any]:
        """Plain columns of the candidates kept, headings with units [mm, deg, N]; verdicts and reasons in words."""
        found: dict[str, Any] = {NUMBER: self.numbers}
        for column, values in zip(self._columns("mm"), self.table, strict=True):
            words = WORDS.get(column.name)
            found[column.heading] = values if words is None else np.array(words, object)[values.astype(int)]
        return found

    def _columns(self, units: str | None = None) -> tuple[headings.Column, ...]:
        rig = self.rig if units is None else dataclasses.replace(self.rig, units=units)  # type: ignore[arg-type]
        return headings.columns_of(rig, self.variation.paths)

    def to_frame(self) -> Any:
        """The candidates kept as a pandas ``DataFrame``."""
        return tables.as_frame(self.columns())

    def best(self, most: int = 10, *, by: str = "mismatch") -> Sweep:
        """The best of the candidates kept: of ``by`` the least, or, of a figure of which more is better, the most.

        ``by`` may say which: ``"cable_travel:high"``. Where the rows went into a file, of those of the sample; ask
        the sweep itself for the best of all.
        """
        return self._chosen(Choice((), choose.aims([by], self._kinds), most))

    def front(self, *by: str) -> Sweep:
        """The candidates kept that no other beats in every one of some figures; see :meth:`best`, for the names too."""
        return self._chosen(Choice((), choose.aims(by, self._kinds)))

    def _chosen(self, choice: Choice) -> Sweep:
        rows = choice.chosen(dict(zip(self.names, self.table, strict=True)), np.arange(len(self.numbers)))
        both = dataclasses.replace(choice, limits=self.choice.limits)
        return dataclasses.replace(
            self, choice=both, numbers=self.numbers[rows], table=self.table[:, rows], kept=len(rows)
        )

    @property
    def _kinds(self) -> dict[str, Any]:
        return headings.kinds(self.rig, self.variation.paths)

    def design(self, candidate: int) -> Linkage:
        """A candidate as a design, to be solved or written as a file."""
        if not 0 <= candidate < self.variation.rows:
            raise DesignError(
                [Fault("candidate", f"must be from 0 to {self.variation.rows - 1}, got {candidate}", file="sweep")]
            )
        row = self.variation.block(candidate, candidate + 1)
        return self.rig.replace_all({path: float(value[0]) for path, value in row.items()})

    def influences(self) -> dict[str, dict[str, Influence]]:
        """First-order influence of every varied dimension, by figure, from the even sample of all candidates."""
        found: dict[str, dict[str, Influence]] = {}
        paths = self.variation.paths
        edges = {path: self.variation.bins(path) for path in paths}
        for name in self.figures:
            if name not in WORDS:
                y = self.of_sample(name)
                found[name] = {path: influence(self.of_sample(path), y, edges[path]) for path in paths}
        return found

    def summary(self) -> dict[str, list[Any]]:
        """Least, mean and greatest of every figure over all candidates, columns by heading [mm, deg]."""
        tally, paths = self.tally, len(self.variation.paths)
        rows = [i for i, name in enumerate(self.names) if i >= paths and name not in WORDS]
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = tally.total / tally.known
        columns = self._columns("mm")
        return {
            "figure": [columns[i].heading for i in rows],
            "least": [float(tally.least[i]) for i in rows],
            "mean": [float(mean[i]) for i in rows],
            "greatest": [float(tally.greatest[i]) for i in rows],
            "known": [int(tally.known[i]) for i in rows],
        }

    def verdicts(self) -> dict[str, int]:
        """How many of all candidates have each verdict."""
        return dict(zip(VERDICTS, map(int, self.tally.verdicts), strict=True))

    def reasons(self) -> dict[str, int]:
        """How many of all candidates fail first for each reason, the commonest first."""
        counts = dict(zip(REASONS, map(int, self.tally.reasons[1:]), strict=True))
        return {name: n for name, n in sorted(counts.items(), key=lambda item: -item[1]) if n}

    @property
    def in_short(self) -> tuple[str, ...]:
        """Names of the columns that a short table shows: what was varied, the main figures, what was chosen by."""
        main = {*_MAIN, *(aim.name for aim in self.choice.aims), *(limit.name for limit in self.choice.limits)}
        return tuple(name for name in self.names if name in main or name in self.variation.paths)

    def _shown(self, names: Sequence[str]) -> dict[str, list[Any]]:
        """At most thirteen candidates, evenly spread among those kept."""
        headings = {column.heading for column in self._columns("mm") if column.name in names}
        columns = {name: column for name, column in self.columns().items() if name in headings or name == NUMBER}
        shown = tables.thinned(columns, 13)
        return {**shown, NUMBER: [int(number) for number in shown[NUMBER]]}

    def __str__(self) -> str:
        shown = self._shown(self.in_short)
        counts = ", ".join(f"{n:,} {word}" for word, n in self.verdicts().items())
        title = f"{self.rig.title}: {self.tally.rows:,} candidates ({counts}), {self.kept:,} kept"
        return f"{title}\n{tables.text(shown)}"

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return tables.as_html(self._shown(self.names), f"{self.tally.rows:,} candidates, {self.kept:,} kept")
