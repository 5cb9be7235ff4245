"""Progression: how the throttles open underfoot, by the first-named shaft."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkage import turns
from linkage.answers.airflow import open_area_fractions
from linkage.motion import Motion

#: shares of the travel at which the table stands
TABLE = (0.0, 0.10, 0.25, 0.50, 0.75, 0.90, 1.0)


@dataclass(frozen=True)
class Row:
    """One line of the table: share of travel, plate angle [deg], open share of the bore (None without a bore)."""

    fraction: float
    plate_angle: float
    open_area_fraction: float | None


@dataclass(frozen=True)
class Progression:
    """Gain of a ``shaft`` at idle, half travel and wide open, their ``ratio``, a ``table``.

    Gains are degrees of plate per mm of cable, or per degree of driver turn (per mm of a driver that
    slides) where there is no cable: ``per`` says which. ``ratio`` is gain at wide open / gain at idle: 1 is
    linear, above 1 opens slowly first; None where the gain at idle is nothing or has no bound.
    """

    shaft: str
    per: str
    gains: tuple[float, float, float]
    ratio: float | None
    table: tuple[Row, ...]


def progression(run: Motion, shaft: str | None = None) -> Progression:
    """Progression of a solved motion, exact at the table's shares of the travel; by default the first-named shaft's."""
    name = next(iter(run.rig.shaft)) if shaft is None else shaft
    at = run.at_fraction(TABLE)
    angle, area = at.plate_angle[name], open_area_fractions(at)[name]
    first, last = run.ends
    three = [first, float(run.turn_at_fraction(0.5)[0]), last]
    low, middle, high = (float(g) for g in run.at(three).gain[name])
    sound = np.isfinite(low) and np.isfinite(high) and low != 0.0
    return Progression(
        shaft=name,
        per="mm" if run.by_cable else turns.inside(run.rig, run.rig.driver),
        gains=(low, middle, high),
        ratio=high / low if sound else None,
        table=tuple(
            Row(share, float(a), None if area is None else float(area[i]))
            for i, (share, a) in enumerate(zip(TABLE, angle, strict=True))
        ),
    )
