r"""The estimate: what a built linkage is, from readings off the bench.

Weighted least squares with the tolerances as prior, by Gauss-Newton on the closure itself::

    minimise  sum ((read - expected(u)) / sigma)^2 + sum (x / s)^2        C = (J' R^-1 J + P^-1)^-1

A tolerance of plus or minus ``t`` counts as a standard deviation ``s = t / sqrt(3)``: every value
between the limits equally likely. So a tolerance is a reading too, of nought give or take ``s``, and one
test finds the bad ones among both: ``w = residual / its own standard deviation``. Beyond the
limit (1 % of falling on a good one, over all that are tested) the worst goes:

* a reading is left out, and named;
* a dimension out of its tolerance: then first all settings (link lengths, levers clamped on shafts,
  coupling offsets) are taken as set by hand, anywhere within :data:`BY_HAND`. So too where the whole
  does not fit its noise (less than 5 % likely);
* what is out of tolerance even so is let go likewise, by itself, and named.

The uncertainties stated are two standard deviations, about 95 %.

References
----------
JCGM 100:2008, *Guide to the expression of uncertainty in measurement*, §4.3.7 (limits as a uniform
distribution) and §6.2 (coverage factor 2). W. Baarda, *A Testing Procedure for Use in Geodetic
Networks*, Netherlands Geodetic Commission 1968 (the w-test, data snooping). A. Tarantola, *Inverse
Problem Theory*, SIAM 2005, §3.2 (least squares with a Gaussian prior). All from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from linkage.answers.dimension_errors import Dimension
from linkage.answers.trials import tolerance_of
from linkage.errors import AssemblyError, DesignError, Fault
from linkage.motion import Motion
from linkage.parts import Linkage, Tolerance
from linkage.search.expected import FLAT_SCALE, FLAT_TURN, Expected, Noise
from linkage.search.readings import Reading, Readings
from linkage.search.told_apart import Alike, told_apart

Floats = NDArray[np.float64]

#: what is stated as uncertainty, in standard deviations
COVERAGE = 2.0
#: chance that any good reading or dimension is taken for a bad one; that a good whole is doubted
FALSE_ALARM, DOUBT = 0.01, 0.05
#: what a setting may be off that somebody made by hand, plus or minus [mm, deg]
BY_HAND = {"mm": 3.0, "deg": 5.0}
#: tolerances where a design gives none [mm, deg]; common practice, no source
USUAL = Tolerance(link_length=0.25, arm_radius=0.1, arm_angle=0.5, pivot=0.1)

_ROOT3 = 3.0**0.5
_LEAST = {"mm": 0.01, "deg": 0.02}  # a setting without a tolerance is trusted to this
_UNCHECKED = 1e-4  # share of its variance below which nothing else checks a reading
_SAME = 0.97  # correlation of two tests that cannot tell which of two is bad
_STEPS, _SETTLED = 30, 1e-6


@dataclass(frozen=True)
class Bad:
    """A reading that was left out: what was read, what the others lead one to ``expect``, give or take ``within``
    (two standard deviations), and how many standard deviations ``off`` it is.

    ``or_else`` are other readings of which one may be the bad one instead: they are left out as well.
    """

    reading: Reading
    expect: float
    within: float
    off: float
    or_else: tuple[Reading, ...] = ()


@dataclass(frozen=True, eq=False)
class Estimate:
    """What the built linkage is.

    ``error`` [mm, deg] of every dimension, built less drawn; ``within`` its uncertainty, two standard
    deviations; ``covariance`` (K, K); ``prior`` the standard deviation assumed beforehand. ``turn`` [deg] is
    the driver's at every row, ``nan`` where a row says nothing. ``fitted`` are the readings that the
    estimate would give, in the order of ``expected.used``, and their uncertainty. ``set_by_hand`` says that link lengths and
    clockings were not taken to lie within tolerance, ``let_go`` names the made dimensions that do not.
    ``chi2`` against its ``freedom`` gives the ``likelihood`` of so bad a fit or a worse one. ``seen`` of
    ``of`` directions of error in the settings show in the readings; ``alike`` cannot be told apart.
    """

    expected: Expected
    error: Floats
    within: Floats
    covariance: Floats
    prior: Floats
    turn: Floats
    fitted: Floats
    fitted_within: Floats
    bad: tuple[Bad, ...]
    set_by_hand: bool
    let_go: tuple[str, ...]
    chi2: float
    freedom: int
    likelihood: float
    seen: int
    of: int
    alike: tuple[Alike, ...]
    critical: float

    @property
    def dimensions(self) -> tuple[Dimension, ...]:
        """The dimensions in the order of ``error``."""
        return self.expected.dimensions

    @property
    def fits(self) -> bool:
        """Whether the readings fit the estimate within their noise."""
        return self.likelihood >= FALSE_ALARM

    def of_path(self, path: str) -> tuple[float, float]:
        """Error of a dimension and its uncertainty [mm, deg]."""
        i = next(i for i, d in enumerate(self.dimensions) if d.path == path)
        return float(self.error[i]), float(self.within[i])


def estimate(run: Motion, readings: Readings, noise: Noise | None = None) -> Estimate:
    """Estimate the errors of a built linkage.

    Parameters
    ----------
    run : Motion
        As drawn.
    readings : Readings
    noise : Noise, optional
        Standard deviations of the readings [deg, kg/h, mm].

    Returns
    -------
    Estimate

    Raises
    ------
    DesignError
        The readings say nothing of the mismatch.

    References
    ----------
    See the head of this module.
    """
    expected = Expected.of(run, readings, noise or Noise())
    _check(expected)
    return _Bench(expected).searched()


def _check(expected: Expected) -> None:
    """Refuse readings that say nothing of the mismatch."""
    if len(expected.rig.shaft) < 2:
        raise DesignError([Fault("", "one throttle shaft: there is nothing to bring together")])
    shafts = {r.shaft for r in expected.used if r.shaft}
    missing = [f'"{name}"' for name in expected.rig.shaft if name not in shafts]
    rows = {r.row for r in expected.used if r.shaft}
    paired = any(len({r.shaft for r in expected.used if r.row == row and r.shaft}) > 1 for row in rows)
    file = expected.readings.file
    if missing:
        mend = "add a column for it" if len(missing) == 1 else "add a column for each"
        raise DesignError([Fault("", f"no reading of shaft {' and '.join(missing)}", mend, None, file)])
    if not paired and expected.rest < 0:
        says = "no row has readings of two shafts, and no position is given"
        raise DesignError([Fault("", says, "read two shafts at the same position", None, file)])


def is_setting(rig: Linkage, dimension: Dimension) -> bool:
    """Whether a dimension is set on the bench: a link's length, a lever on its shaft, a coupling's offset."""
    if dimension.kind in ("link_length", "coupling_offset"):
        return True
    return dimension.kind == "arm_angle" and dimension.path.startswith("shaft.")


def by_tolerance(rig: Linkage, dimensions: Sequence[Dimension]) -> Floats:
    """Plus-or-minus tolerance of every dimension [mm, deg]: the design's, else :data:`USUAL`; 0: exact.

    A coupling's offset has that of a clamped arm.
    """
    given = rig.tolerance or USUAL
    return np.array([given.arm_angle if d.kind == "coupling_offset" else tolerance_of(given, d) for d in dimensions])


@dataclass(frozen=True, eq=False)
class _Fit:
    """A minimum: unknowns ``u``, expected readings, slopes, covariance, chi square."""

    u: Floats
    value: Floats
    slope: Floats
    covariance: Floats
    chi2: float


class _Bench:
    """One bench while it is searched for bad readings and dimensions."""

    def __init__(self, expected: Expected) -> None:
        self.expected = expected
        rig, listed = expected.rig, expected.dimensions
        tolerance = by_tolerance(rig, listed)
        self.setting = np.array([is_setting(rig, d) for d in listed], bool)
        least = np.array([_LEAST[d.unit] for d in listed])
        self.close = np.where(self.setting, np.maximum(tolerance, least), tolerance) / _ROOT3
        hand = np.array([BY_HAND[d.unit] for d in listed])
        self.wide = np.maximum(hand, tolerance) / _ROOT3
        tested = len(expected.used) + int(np.count_nonzero(self.close))
        self.critical = NormalDist().inv_cdf(1.0 - 0.5 * FALSE_ALARM / tested)
        self.flat = expected.turns + len(expected.flow_rows)

    def searched(self) -> Estimate:
        """Fit, and take the worst reading or dimension away, until none is bad."""
        by_hand, let_go = False, np.zeros(self.setting.size, bool)
        bad: dict[int, Bad] = {}
        most = max(1, len(self.expected.used) // 4)
        start = self.expected.start()
        while True:
            prior = np.where(let_go | (by_hand & self.setting), self.wide, self.close)
            kept = np.array([i not in bad for i in range(len(self.expected.used))])
            fit = self._fit(prior, kept, start)
            free = let_go | (by_hand & self.setting)
            reading, dimension = self._worst(fit, prior, kept, free)
            sizes = [0.0 if w is None else abs(w[1]) for w in (reading, dimension)]
            if max(sizes) > self.critical:
                if reading is not None and sizes[0] >= sizes[1]:
                    if len(bad) < most:
                        self._leave_out(fit, reading, kept, bad)
                        continue
                elif dimension is not None:
                    bad.clear()  # what looked bad may have been this
                    if not by_hand:  # a slip of the spanner is likelier than one of the drill
                        by_hand = True
                    else:
                        let_go[dimension[2]] = True
                    continue
            freedom = int(np.count_nonzero(kept)) - self.flat
            likelihood = _likelihood(fit.chi2, freedom)
            if likelihood < DOUBT and not by_hand:
                bad.clear()
                by_hand = True
                continue
            return self._told(fit, prior, kept, bad, by_hand, let_go, (freedom, likelihood))

    def _fit(self, prior: Floats, kept: NDArray[np.bool_], start: Floats) -> _Fit:
        """Gauss-Newton, every step re-solved exactly and halved where it does not assemble."""
        expected, k = self.expected, prior.size
        width = np.concatenate(
            [prior, np.full(len(expected.zeros), expected.noise.zero), np.full(expected.turns, FLAT_TURN),
             np.full(len(expected.flow_rows), FLAT_SCALE)]
        )  # fmt: skip
        free = width > 0.0
        u, weight = start.copy(), np.where(kept, 1.0 / expected.sigma, 0.0)
        centre = start.copy()
        centre[: k + len(expected.zeros)] = 0.0
        value, slope = expected.at(u)
        if not np.all(np.isfinite(value)):
            raise AssemblyError("the linkage as drawn does not reach the positions read; check the readings")
        for _ in range(_STEPS):
            normal, pull = self._normal(u, value, slope, weight, width, centre, free)
            step = np.zeros_like(u)
            step[free] = np.linalg.solve(normal, pull)
            size = 1.0
            while size > 1e-3:
                there, slopes = expected.at(u + size * step)
                if np.all(np.isfinite(there)) and np.all(np.isfinite(slopes)):
                    break
                size *= 0.5
            else:
                break
            u, value, slope = u + size * step, there, slopes
            if np.max(np.abs(step[free]) / width[free]) < _SETTLED:
                break
        normal, _ = self._normal(u, value, slope, weight, width, centre, free)
        covariance = np.zeros((u.size, u.size))
        covariance[np.ix_(free, free)] = np.linalg.inv(normal)
        informed = free.copy()
        informed[expected.first_turn :] = False
        chi2 = float(np.sum((weight * (expected.observed - value)) ** 2) + np.sum((u[informed] / width[informed]) ** 2))
        return _Fit(u, value, slope, covariance, chi2)

    def _normal(
        self, u: Floats, value: Floats, slope: Floats, weight: Floats, width: Floats, centre: Floats,
        free: NDArray[np.bool_],
    ) -> tuple[Floats, Floats]:  # fmt: skip
        white = weight[:, None] * slope[:, free]
        normal = white.T @ white
        normal[np.diag_indices_from(normal)] += 1.0 / width[free] ** 2
        pull = white.T @ (weight * (self.expected.observed - value)) - (u - centre)[free] / width[free] ** 2
        return normal, pull

    def _worst(
        self, fit: _Fit, prior: Floats, kept: NDArray[np.bool_], free: NDArray[np.bool_]
    ) -> tuple[tuple[int, float, list[int]] | None, tuple[int, float, list[int]] | None]:
        """The worst reading and the worst dimension: index, how far off, and those it cannot be told from."""
        rows, held = np.flatnonzero(kept), np.flatnonzero((prior > 0.0) & ~free)
        white = np.vstack(
            [fit.slope[rows] / self.expected.sigma[rows, None], np.eye(fit.u.size)[held] / prior[held, None]]
        )
        left = np.concatenate(
            [(self.expected.observed - fit.value)[rows] / self.expected.sigma[rows], -fit.u[held] / prior[held]]
        )
        share = np.eye(left.size) - white @ fit.covariance @ white.T
        own = np.diag(share)
        checked = own > _UNCHECKED
        size = np.sqrt(np.where(checked, own, 1.0))
        off = np.where(checked, left / size, 0.0)
        alike = np.abs(share / np.outer(size, size)) > _SAME
        found = []
        for part, numbers in ((slice(0, rows.size), rows), (slice(rows.size, None), held)):
            here = off[part]
            if here.size == 0 or not np.any(here):
                found.append(None)
                continue
            best = int(np.argmax(np.abs(here)))
            same = np.flatnonzero(alike[part, part][best] & checked[part])
            found.append((int(numbers[best]), float(here[best]), [int(numbers[i]) for i in {best, *same.tolist()}]))
        return found[0], found[1]

    def _leave_out(
        self, fit: _Fit, worst: tuple[int, float, list[int]], kept: NDArray[np.bool_], bad: dict[int, Bad]
    ) -> None:
        index, off, group = worst
        used, sigma = self.expected.used, self.expected.sigma
        slope = fit.slope[index] / sigma[index]
        share = 1.0 - float(slope @ fit.covariance @ slope)
        missed = (self.expected.observed[index] - fit.value[index]) / share
        others = tuple(used[i] for i in sorted(group) if i != index)
        expect, within = float(used[index].value - missed), float(COVERAGE * sigma[index] * np.sqrt(1.0 / share - 1.0))
        bad.update({i: Bad(used[index], expect, within, off, others) for i in group})

    def _told(
        self, fit: _Fit, prior: Floats, kept: NDArray[np.bool_], bad: dict[int, Bad], by_hand: bool,
        let_go: NDArray[np.bool_], whole: tuple[int, float],
    ) -> Estimate:  # fmt: skip
        expected, k = self.expected, prior.size
        named = {id(b): b for b in bad.values()}
        doubtful = np.flatnonzero(self.setting | let_go)
        seen, alike = told_apart(
            fit.slope[kept] / expected.sigma[kept, None],
            [expected.dimensions[i] for i in doubtful],
            doubtful,
            self.wide[doubtful],
            np.concatenate([prior, np.full(fit.u.size - k, FLAT_TURN)]),
        )
        turns = fit.u[expected.first_turn : expected.first_scale]
        return Estimate(
            expected=expected,
            error=fit.u[:k],
            within=COVERAGE * np.sqrt(np.diag(fit.covariance)[:k]),
            covariance=fit.covariance[:k, :k],
            prior=prior,
            turn=np.array([turns[i] if i >= 0 else np.nan for i in expected.turn_of]),
            fitted=fit.value,
            fitted_within=COVERAGE * np.sqrt(np.sum((fit.slope @ fit.covariance) * fit.slope, axis=1)),
            bad=tuple(named.values()),
            set_by_hand=by_hand,
            let_go=tuple(expected.dimensions[i].path for i in np.flatnonzero(let_go)),
            chi2=fit.chi2,
            freedom=whole[0],
            likelihood=whole[1],
            seen=seen,
            of=doubtful.size,
            alike=alike,
            critical=self.critical,
        )


def _likelihood(chi2: float, freedom: int) -> float:
    """Chance of a chi square as large or larger."""
    if freedom <= 0:
        return 1.0
    from scipy.special import gammaincc

    return float(gammaincc(0.5 * freedom, 0.5 * chi2))
