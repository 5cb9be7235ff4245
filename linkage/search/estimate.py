r"""The estimate: what a built linkage is, from readings off the bench.

Weighted least squares with the tolerances as prior (:mod:`linkage.search.least_squares`).
A tolerance of plus or minus ``t`` counts as a standard deviation ``s = t / sqrt(3)``: every value between the
limits equally likely. So a tolerance is a reading too, of nought give or take ``s``, and one test finds
the bad ones among both::

    w = residual / its own standard deviation

Beyond the limit (1 % chance of falling on a good one, over all that are tested) the worst goes, with those
that explain what is wrong nearly as well (chi square less than 9 behind):

* a reading is left out, and named;
* a dimension out of its tolerance: then first all settings (link lengths, levers clamped on shafts,
  coupling offsets) are taken as set by hand (:mod:`linkage.search.priors`). So too where the whole does
  not fit its noise (less than 5 % likely);
* what is out of tolerance even so is let go likewise, by itself, and named; so is the worst of the others
  as long as the whole is less than 1 % likely. A quarter of the readings and half of the made dimensions are
  the most: beyond that the readings do not fit.

The uncertainties stated are two standard deviations, about 95 %.

References
----------
JCGM 100:2008, *Guide to the expression of uncertainty in measurement*, §4.3.7 (limits as a uniform
distribution) and §6.2 (coverage factor 2). W. Baarda, *A Testing Procedure for Use in Geodetic
Networks*, Netherlands Geodetic Commission 1968 (the w-test, data snooping). Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from linkage.answers.dimension_errors import Dimension
from linkage.errors import DesignError, Fault
from linkage.motion import Motion
from linkage.search.expected import Expected
from linkage.search.first_guess import first_guess
from linkage.search.least_squares import Fit, fitted, widths
from linkage.search.noise import Noise
from linkage.search.priors import Priors
from linkage.search.readings import Reading, Readings
from linkage.search.told_apart import Apart, told_apart

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: what is stated as uncertainty, in standard deviations
COVERAGE = 2.0
#: chance that any good reading or dimension is taken for a bad one; that a good whole is doubted
FALSE_ALARM, DOUBT = 0.01, 0.05

_UNCHECKED = 1e-4  # share of its variance below which nothing else checks a reading
_CLEAR = 9.0  # chi square by which the worst must explain more than another that it is related to
_RELATED = 0.5  # correlation of two tests


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

    ``error`` [mm, deg] of every dimension, built less drawn, shape (K,); ``prior`` the standard deviation
    assumed of it beforehand; the ``fit`` has the covariance. ``kept`` are the readings that count, in the
    order of ``expected.used``; the ``bad`` ones were left out, beyond ``critical`` standard deviations. ``set_by_hand``
    says that the settings were not taken to lie within tolerance, ``let_go`` names the made
    dimensions that do not. ``fit.chi2`` with ``freedom`` degrees gives the ``likelihood`` of so bad a fit or
    a worse one.
    """

    expected: Expected
    fit: Fit
    prior: Floats
    kept: Bools
    bad: tuple[Bad, ...]
    set_by_hand: bool
    let_go: tuple[str, ...]
    freedom: int
    likelihood: float
    critical: float

    @property
    def dimensions(self) -> tuple[Dimension, ...]:
        """The dimensions in the order of ``error``."""
        return self.expected.dimensions

    @property
    def error(self) -> Floats:
        """Built less drawn [mm, deg], shape (K,)."""
        return self.fit.u[: len(self.dimensions)]

    @property
    def covariance(self) -> Floats:
        """Of the errors, shape (K, K)."""
        k = len(self.dimensions)
        return self.fit.covariance[:k, :k]

    @property
    def within(self) -> Floats:
        """Uncertainty of the errors [mm, deg], two standard deviations, shape (K,)."""
        return np.asarray(COVERAGE * np.sqrt(np.diag(self.covariance)))

    @property
    def turn(self) -> Floats:
        """Driver turn [deg] at every row; ``nan`` where a row says nothing."""
        turns = self.fit.u[self.expected.first_turn : self.expected.first_scale]
        return np.array([turns[i] if i >= 0 else np.nan for i in self.expected.turn_of])

    @property
    def fitted(self) -> Floats:
        """The readings that the estimated linkage would give, in the order of ``expected.used``."""
        return self.fit.value

    @property
    def fitted_within(self) -> Floats:
        """Their uncertainty, two standard deviations."""
        return np.asarray(COVERAGE * np.sqrt(np.sum((self.fit.slope @ self.fit.covariance) * self.fit.slope, axis=1)))

    @cached_property
    def apart(self) -> Apart:
        """What the readings tell of the settings and of what was let go, and what they cannot tell apart."""
        priors = Priors.of(self.expected.rig, self.dimensions)
        doubtful = np.flatnonzero(priors.setting | np.isin([d.path for d in self.dimensions], self.let_go))
        return told_apart(
            self.fit.slope[self.kept] / self.expected.sigma[self.kept, None],
            [self.dimensions[i] for i in doubtful],
            doubtful,
            priors.wide[doubtful],
            widths(self.expected, self.prior),
        )

    @property
    def fits(self) -> bool:
        """Whether the readings fit the estimate within their noise."""
        return self.likelihood >= FALSE_ALARM

    def of_path(self, path: str) -> tuple[float, float]:
        """Error of a dimension and its uncertainty [mm, deg]."""
        i = next(i for i, d in enumerate(self.dimensions) if d.path == path)
        return float(self.error[i]), float(self.within[i])


def estimate(run: Motion, readings: Readings, noise: Noise | None = None, *, by_hand: bool = False) -> Estimate:
    """Estimate the errors of a built linkage.

    Parameters
    ----------
    run : Motion
        As drawn.
    readings : Readings
    noise : Noise, optional
        Standard deviations of the readings [deg, kg/h, mm].
    by_hand : bool
        Take all settings as set by hand from the first, instead of within their tolerances until the
        readings say otherwise.

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
    return _Search(expected).through(by_hand)


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


class _Search:
    """One bench while bad readings and dimensions are searched for."""

    def __init__(self, expected: Expected) -> None:
        self.expected = expected
        self.priors = Priors.of(expected.rig, expected.dimensions)
        tested = len(expected.used) + int(np.count_nonzero(self.priors.close))
        self.critical = NormalDist().inv_cdf(1.0 - 0.5 * FALSE_ALARM / tested)
        self.flat = expected.turns + len(expected.flow_rows)

    def through(self, by_hand: bool) -> Estimate:
        """Fit, and take the worst reading or dimension away, until none is bad."""
        let_go = np.zeros(self.priors.setting.size, bool)
        bad: dict[int, Bad] = {}
        most = max(1, len(self.expected.used) // 4)
        most_made = 0.5 * np.count_nonzero(~self.priors.setting)
        start = first_guess(self.expected)
        while True:
            free = let_go | (by_hand & self.priors.setting)
            prior = np.where(free, self.priors.wide, self.priors.close)
            kept = np.array([i not in bad for i in range(len(self.expected.used))])
            fit = fitted(self.expected, prior, kept, start)
            reading, dimension = self._worst(fit, np.where(free, 0.0, prior), kept)
            if abs(reading.off) > max(self.critical, abs(dimension.off)) and len(bad) < most:
                bad.update(dict.fromkeys((reading.index, *reading.alike), self._named(fit, reading)))
                continue
            freedom = int(np.count_nonzero(kept)) - self.flat
            likelihood = _likelihood(fit.chi2, freedom)
            if not by_hand and (abs(dimension.off) > self.critical or likelihood < DOUBT):
                by_hand = True  # a slip of the spanner is likelier than one of the drill
                bad.clear()
            elif np.count_nonzero(let_go) + len(dimension.alike) < most_made and (
                abs(dimension.off) > self.critical or (likelihood < FALSE_ALARM and dimension.off)
            ):
                let_go[[dimension.index, *dimension.alike]] = True
                bad.clear()  # what looked bad may have been this
            else:
                names = tuple(self.expected.dimensions[i].path for i in np.flatnonzero(let_go))
                left_out = tuple({id(b): b for b in bad.values()}.values())
                return Estimate(
                    self.expected, fit, prior, kept, left_out, by_hand, names, freedom, likelihood, self.critical
                )

    def _worst(self, fit: Fit, held: Floats, kept: Bools) -> tuple[_Suspect, _Suspect]:
        """The worst reading, and the worst of the dimensions that are held to a standard deviation (not 0)."""
        rows, columns = np.flatnonzero(kept), np.flatnonzero(held)
        sigma = self.expected.sigma[rows]
        white = np.vstack([fit.slope[rows] / sigma[:, None], np.eye(fit.u.size)[columns] / held[columns, None]])
        left = np.concatenate([(self.expected.observed - fit.value)[rows] / sigma, -fit.u[columns] / held[columns]])
        share = np.eye(left.size) - white @ fit.covariance @ white.T
        own = np.diag(share)
        checked = own > _UNCHECKED
        size = np.sqrt(np.where(checked, own, 1.0))
        off = np.where(checked, left / size, 0.0)
        alike = (np.abs(share / np.outer(size, size)) > _RELATED) & checked & checked[:, None]
        n = rows.size
        return _suspect(off[:n], alike[:n, :n], rows), _suspect(off[n:], alike[n:, n:], columns)

    def _named(self, fit: Fit, worst: _Suspect) -> Bad:
        used, sigma = self.expected.used, float(self.expected.sigma[worst.index])
        slope = fit.slope[worst.index] / sigma
        share = 1.0 - float(slope @ fit.covariance @ slope)
        missed = float(self.expected.observed[worst.index] - fit.value[worst.index]) / share
        within = COVERAGE * sigma * float(np.sqrt(1.0 / share - 1.0))
        others = tuple(used[i] for i in worst.alike)
        return Bad(used[worst.index], used[worst.index].value - missed, within, worst.off, others)


@dataclass(frozen=True)
class _Suspect:
    """A reading or a dimension, how many standard deviations it is off, and those it cannot be told from."""

    index: int
    off: float
    alike: tuple[int, ...]


def _suspect(off: Floats, alike: Bools, numbers: NDArray[np.intp]) -> _Suspect:
    if off.size == 0:
        return _Suspect(-1, 0.0, ())
    best = int(np.argmax(np.abs(off)))
    close = alike[best] & (off**2 > off[best] ** 2 - _CLEAR)
    same = [int(numbers[i]) for i in np.flatnonzero(close) if i != best]
    return _Suspect(int(numbers[best]), float(off[best]), tuple(same))


def _likelihood(chi2: float, freedom: int) -> float:
    """Chance of a chi square as large or larger."""
    if freedom <= 0:
        return 1.0
    from scipy.special import gammaincc

    return float(gammaincc(0.5 * freedom, 0.5 * chi2))
