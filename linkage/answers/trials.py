"""Seeded trials: the same linkage built many times, every dimension wrong by chance within its tolerance.

Each built linkage is solved as it stands, with its own stops, by the same closure as the drawing:
nothing is linearised. Its plates are followed at a few Chebyshev points of its travel; the curve
between them is the polynomial through them, good to 1e-4 degree for links that keep off dead points.

References
----------
JCGM 100:2008, *Guide to the expression of uncertainty in measurement*, §4.3.7: where only the
limits of an error are known, every value between them is taken as equally likely (from memory).
L. N. Trefethen, *Approximation Theory and Approximation Practice*, SIAM 2013, ch. 2 (Chebyshev
points; from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from linkage.answers.dimension_errors import Dimension, built_dimensions
from linkage.answers.mismatch import REGION
from linkage.closure import Numbers
from linkage.motion import Motion, assemble, stop_ends, walk
from linkage.motion.assembly import table_of
from linkage.parts import SIGN, Linkage, Tolerance
from linkage.train import compared, stages

Floats = NDArray[np.float64]
Distribution = Literal["uniform", "normal"]

SAMPLES, SEED = 100_000, 1
_NODES = 13  # Chebyshev points of the travel at which every trial is solved
_CURVE = 65  # even points at which the curve through them is read
_BLOCK = 2048  # trials worked at once: their arrays fit the processor's cache


@dataclass(frozen=True, eq=False)
class Trials:
    """Trials of one linkage; arrays over the samples.

    ``at_idle`` and ``largest`` mismatch [deg], ``passes`` whether every mismatch limit is kept. A
    trial that cannot be assembled or locks on its way has ``inf`` and does not pass.
    """

    samples: int
    seed: int
    distribution: Distribution
    at_idle: Floats
    largest: Floats
    passes: NDArray[np.bool_]

    @property
    def p95(self) -> float:
        """Largest mismatch [deg] that 95 of 100 linkages keep within."""
        return float(np.quantile(self.largest, 0.95, method="inverted_cdf"))

    @property
    def p95_at_idle(self) -> float:
        """Mismatch at idle [deg] that 95 of 100 linkages keep within."""
        return float(np.quantile(self.at_idle, 0.95, method="inverted_cdf"))

    @property
    def yields(self) -> float:
        """Share of the linkages that keep every mismatch limit, 0 to 1."""
        return float(np.mean(self.passes))


def trials(
    run: Motion,
    *,
    samples: int = SAMPLES,
    seed: int = SEED,
    distribution: Distribution = "uniform",
    links_set: bool = False,
    block: int = _BLOCK,
) -> Trials:
    """Build a linkage many times within its tolerances and look at the mismatch of each.

    Parameters
    ----------
    run : Motion
        Of a design with tolerances.
    samples, seed : int
        The same seed gives the same linkages; more samples go on where fewer end.
    distribution : str
        ``"uniform"`` between the limits, as is prudent for parts made one at a time and measured;
        ``"normal"`` with the limits at three standard deviations, for a process that is under control.
    links_set : bool
        Every link is turned on the bench to the length at which all members stand as drawn at idle,
        whatever the other dimensions came out as. Else each has its nominal length and an error.
    block : int
        Trials worked at once; the answer does not depend on it.

    Returns
    -------
    Trials

    References
    ----------
    See the head of this module.
    """
    if isinstance(samples, bool) or int(samples) != samples or samples < 1:
        raise ValueError(f"samples: must be a whole number of at least 1, got {samples!r}")
    at_idle, largest = np.empty(samples), np.empty(samples)
    passes = np.empty(samples, bool)
    bench = _Bench.of(run, links_set)
    random = np.random.default_rng(seed)
    for start in range(0, samples, block):
        rows = slice(start, min(start + block, samples))
        errors = _drawn(random, rows.stop - rows.start, bench.within, distribution)
        at_idle[rows], largest[rows], passes[rows] = bench.build(errors)
    return Trials(samples, seed, distribution, at_idle, largest, passes)


def errors(
    run: Motion, samples: int, *, seed: int = SEED, distribution: Distribution = "uniform"
) -> tuple[tuple[Dimension, ...], Floats]:
    """The dimensions that vary and the errors [mm, deg] of the first trials, shape (samples, D)."""
    listed, within = toleranced(run)
    return listed, _drawn(np.random.default_rng(seed), samples, within, distribution)


def toleranced(run: Motion) -> tuple[tuple[Dimension, ...], Floats]:
    """The dimensions that have a tolerance, and its plus-or-minus value for each [mm, deg], shape (D,)."""
    given = run.rig.tolerance or Tolerance()
    pairs = [(d, tolerance_of(given, d)) for d in built_dimensions(run.train)]
    kept = [(d, t) for d, t in pairs if t > 0.0]
    return tuple(d for d, _ in kept), np.array([t for _, t in kept], float)


def tolerance_of(given: Tolerance, dimension: Dimension) -> float:
    """Plus-or-minus value [mm, deg] of a dimension; 0 for one that no tolerance is meant for."""
    if dimension.kind in ("link_length", "arm_radius", "arm_angle", "pivot"):
        return float(getattr(given, dimension.kind))
    return 0.0


def _drawn(random: np.random.Generator, samples: int, within: Floats, distribution: Distribution) -> Floats:
    if distribution == "uniform":
        return np.asarray((2.0 * random.random((samples, within.size)) - 1.0) * within)
    if distribution == "normal":
        return np.asarray(random.standard_normal((samples, within.size)) * within / 3.0)
    raise ValueError(f'distribution: must be "uniform" or "normal", got {distribution!r}')


def built(run: Motion, listed: tuple[Dimension, ...], wrong: Numbers, *, links_set: bool = False) -> dict[str, Numbers]:
    """Table of dimensions [mm, deg] of linkages built with errors.

    Parameters
    ----------
    run : Motion
        The linkage as drawn.
    listed : tuple of Dimension
        Which dimensions are wrong; none of kind ``"pin"``.
    wrong : sequence of float or ndarray
        By how much each is [mm, deg], one entry a dimension.
    links_set : bool
        Leave the links' lengths out, to be fitted.
    """
    dims: dict[str, Numbers] = dict(run.train.dims)
    for joint in run.train.joints:
        if joint.forward is not None:
            dims[f"link.{joint.step.by.name}.length"] = joint.length
    by_path = {d.path: error for d, error in zip(listed, wrong, strict=True)}
    for path, error in by_path.items():
        if path in dims:
            dims[path] = dims[path] + error
    for joint in run.train.joints:
        for frame, member, arm in (
            (joint.driving, joint.step.driving, joint.step.arms[0]),
            (joint.driven, joint.step.driven, joint.step.arms[1]),
        ):
            if frame is None or frame.slides or run.rig.members[member].arm[arm].pin is None:
                continue
            at = table_of(run.rig, member)
            here = f"{at}.arm.{arm}"
            turn = np.radians(by_path.get(f"{here}.angle", 0.0))
            radius = frame.r + by_path.get(f"{here}.radius", 0.0)
            for i, axis in enumerate("xyz"):
                out = np.cos(turn) * frame.e1[i] + np.sin(turn) * frame.e2[i]
                dims[f"{here}.pin.{axis}"] = frame.centre[i] + radius * out + by_path.get(f"{at}.pivot.{axis}", 0.0)
    if links_set:
        dims = {path: value for path, value in dims.items() if not path.startswith("link.") or path[-7:] != ".length"}
    return dims


@dataclass(frozen=True, eq=False)
class _Bench:
    """What every block of trials shares: the drawing at the Chebyshev points and how the curve is read."""

    run: Motion
    nominal: Motion
    listed: tuple[Dimension, ...]
    within: Floats
    links_set: bool
    share: Floats
    read: Floats

    @classmethod
    def of(cls, run: Motion, links_set: bool) -> _Bench:
        listed, within = toleranced(run)
        share = 0.5 - 0.5 * np.cos(np.pi * np.arange(_NODES) / (_NODES - 1))
        first, last = run.ends
        cheb = np.polynomial.chebyshev.chebvander
        even = cheb(np.linspace(-1.0, 1.0, _CURVE), _NODES - 1)
        read = even @ np.linalg.inv(cheb(2.0 * share - 1.0, _NODES - 1))
        if stages(run.rig)[next(iter(run.rig.shaft))]:  # the curves have kinks: read where they are solved
            share, read = np.linspace(0.0, 1.0, _CURVE), np.eye(_CURVE)
        return cls(run, run.at(first + share * (last - first)), listed, within, links_set, share, read.T)

    def build(self, wrong: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Mismatch at idle, the largest [deg], and whether all limits are kept, of linkages with errors (n, D)."""
        rig, columns = self.run.rig, np.ascontiguousarray(wrong.T)[:, :, None]
        train = assemble(rig, built(self.run, self.listed, list(columns), links_set=self.links_set))
        low, high = stop_ends(train)
        turn = low + self.share * (high - low)
        turn = np.broadcast_to(turn, (len(wrong), self.share.size))
        pose = walk(train, train.pose(turn))
        with np.errstate(invalid="ignore"):
            opened, *others = (self._curve(self._plate(name, pose)) for name in compared(rig))
            top = bottom = opened
            for curve in others:
                top, bottom = np.maximum(top, curve), np.minimum(bottom, curve)
            apart = top - bottom
            largest, at_idle = _peak(apart), apart[:, 0]
            passes = _kept(apart, opened, rig)
        lost = ~np.isfinite(largest)
        return np.where(lost, np.inf, at_idle), np.where(lost, np.inf, largest), passes & ~lost

    def _plate(self, name: str, pose: Mapping[str, tuple[Numbers, Numbers]]) -> Floats:
        """Plate angle [deg] of a shaft at the Chebyshev points, counted from the drawing's."""
        (c, s), (c0, s0) = pose[name], self.nominal.pose[name]
        away = np.degrees(np.arctan2(s * c0 - c * s0, c * c0 + s * s0))
        return np.asarray(self.nominal.plate_angle[name] + SIGN[self.run.rig.shaft[name].opens] * away)

    def _curve(self, plate: Floats) -> Floats:
        """The curve through the Chebyshev points, in products too small to be worth a second thread."""
        return np.concatenate([plate[i : i + 256] @ self.read for i in range(0, len(plate), 256)])


def _peak(curve: Floats) -> Floats:
    """Highest value of every row, by the parabola through its highest point and that point's neighbours."""
    rows, best = np.arange(len(curve)), np.argmax(curve, axis=1)
    middle = np.clip(best, 1, curve.shape[1] - 2)
    a, b, c = (curve[rows, middle + k] for k in (-1, 0, 1))
    slope, bend = 0.5 * (c - a), 2.0 * b - a - c
    inside = (middle == best) & (bend > 0.0)
    return np.asarray(curve[rows, best] + np.where(inside, 0.5 * slope**2 / np.where(inside, bend, 1.0), 0.0))


def _kept(apart: Floats, opened: Floats, rig: Linkage) -> NDArray[np.bool_]:
    """Whether a mismatch curve (n, positions) keeps the limit of every region of the first shaft's opening."""
    limits = rig.limits
    early = opened <= opened[:, :1] + REGION
    late = opened >= opened[:, -1:] - REGION
    over = early & _above(apart, limits.mismatch_off_idle)
    over |= late & _above(apart, limits.mismatch_at_wide_open)
    over |= ~(early | late) & _above(apart, limits.mismatch)
    over[:, 0] |= _above(apart[:, 0], limits.mismatch_at_idle)
    return np.asarray(~over.any(axis=1))


def _above(value: Floats, limit: float) -> NDArray[np.bool_]:
    return np.asarray(value > limit + 1e-9)
