"""Bench tuning: from readings off the bench, what the built linkage is, and what to turn by how much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from linkage.motion import Motion, solve
from linkage.parts import Linkage
from linkage.search.advice import Advice, advise
from linkage.search.estimate import Estimate, estimate
from linkage.search.noise import Noise
from linkage.search.readings import Readings, read_readings


@dataclass(frozen=True, eq=False)
class Tuning:
    """The whole of a bench tuning: the ``estimate`` of what is built, and the ``advice`` what to do."""

    run: Motion
    readings: Readings
    noise: Noise
    estimate: Estimate
    advice: Advice


def tune(
    design: Linkage,
    readings: str | Path | Readings,
    *,
    noise: Noise | None = None,
    adjust: Sequence[str] | None = None,
    flat_parts: int = 1,
    by_hand: bool = False,
    seed: int = 1,
) -> Tuning:
    """Estimate what a built linkage is from bench readings, and say what to turn by how much.

    Parameters
    ----------
    design : Linkage
        As drawn; its ``tolerance`` is what the parts are taken to keep.
    readings : str, pathlib.Path or Readings
        A CSV table: plate angles [deg], flow of a barrel [kg/h], gaps at the plate edge [mm] at some
        positions, blanks allowed; see :mod:`linkage.search.readings`.
    noise : Noise, optional
        Standard deviations of the readings [deg, kg/h, mm].
    adjust : sequence of str, optional
        Dotted paths of what may be adjusted; by default every link's length, every lever clamped on a
        throttle shaft and every coupling's offset.
    flat_parts : int
        Parts of a flat (1/6 turn) to which the tube of a link is counted.
    by_hand : bool
        Links and levers were set by eye, not to the drawing: no tolerance is taken for them.
    seed : int
        Of the chance by which the odds are worked out.

    Returns
    -------
    Tuning

    Raises
    ------
    DesignError
        The readings cannot be used, or say nothing of the mismatch.

    Examples
    --------
    >>> import linkage
    >>> rig = linkage.read("demo/bench_job.toml")  # doctest: +SKIP
    >>> linkage.tune(rig, "demo/bench_job_readings.csv").advice.steps  # doctest: +SKIP

    References
    ----------
    See :mod:`linkage.search.estimate` and :mod:`linkage.search.advice`.
    """
    run = solve(design)
    table = readings if isinstance(readings, Readings) else read_readings(readings, design)
    given = noise or Noise()
    found = estimate(run, table, given, by_hand=by_hand)
    return Tuning(run, table, given, found, advise(found, adjust=adjust, flat_parts=flat_parts, seed=seed))
