"""How fast a fit is, against scipy with its own numerical differencing on the same problem, in this one run.

    python tests/benchmarks/fit_speed.py [starts]

The flagship demo with six free dimensions; the wish is a mismatch of 0.2 degrees. Processor time of all
threads. The rows:

- the whole fit: looking round, descents from all starts, the last stretch, five answers solved afresh
- only its descents from the starts
- scipy.optimize.least_squares (trf, within the bounds) from the same starts on the same residuals, one
  start after the other: with its own two-point differences, and with the slopes of this package

scipy gets the same rows of one candidate at a time, as its interface wants; so the ratio holds both what
analytic slopes save and what working all starts side by side saves. The costs reached are printed too.
Times depend on the machine and its mood; the ratios less so.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import scipy.optimize
from numpy.typing import NDArray

import linkage
from linkage.parts import Bounds, Wish
from linkage.search.descent import cost, descend
from linkage.search.fit import fit
from linkage.search.sobol import sobol
from linkage.search.task import Task, task
from linkage.search.wish import rows

Floats = NDArray[np.float64]

FREE = {
    "shaft.left.arm.drive.angle": Bounds(50.0, 90.0),
    "shaft.right.arm.drive.angle": Bounds(-110.0, -70.0),
    "shaft.right.arm.drive.radius": Bounds(25.0, 32.0),
    "bellcrank.centre.arm.left.angle": Bounds(50.0, 80.0),
    "bellcrank.centre.arm.right.angle": Bounds(0.0, 30.0),
    "bellcrank.centre.pivot.y": Bounds(40.0, 80.0),
}
WISH = Wish(mismatch=0.2)
_NODES = 13
_FLOOR_WEIGHT = 3.0  # as in the descents


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Processor time [s] of some work, and what it gives."""
    start = time.process_time()
    done = work()
    return time.process_time() - start, done


def by_scipy(of: Task, z: Floats, *, analytic: bool) -> tuple[Floats, int]:
    """Least costs from every start, and how many times the residuals were worked out."""
    size, calls, found = of.high - of.low, 0, []

    def residuals(point: Floats) -> Floats:
        nonlocal calls
        calls += 1
        seen = rows(of, (of.low + size * point)[:, None], _NODES, sloped=False)
        value = np.concatenate([seen.near[:, 0], _FLOOR_WEIGHT * np.maximum(seen.floor[:, 0], 0.0)])
        return np.where(np.isfinite(value), value, 1e3)

    def slopes(point: Floats) -> Floats:
        seen = rows(of, (of.low + size * point)[:, None], _NODES)
        over = np.where(seen.floor[:, :1] > 0.0, _FLOOR_WEIGHT * seen.floor_slope[:, :, 0], 0.0)
        return np.concatenate([seen.near_slope[:, :, 0], over]) * size

    for column in np.clip(z, 1e-9, 1.0 - 1e-9).T:
        jac: Any = slopes if analytic else "2-point"
        done = scipy.optimize.least_squares(residuals, column, jac=jac, bounds=(0.0, 1.0), ftol=1e-5, max_nfev=30)
        found.append(2.0 * done.cost)
    return np.array(found), calls


def main(starts: int) -> None:
    rig = linkage.read(Path(__file__).parents[2] / "demo" / "flat_six.toml")
    of = task(rig, WISH, FREE)
    size, low = (of.high - of.low)[:, None], of.low[:, None]
    z = sobol(len(FREE), 32 * starts, 1)
    z = z[:, np.argsort(cost(rows(of, low + size * z, 9, sloped=False)), kind="stable")[:starts]]
    fit(rig, wish=WISH, free=FREE, starts=4)  # warm: scipy is loaded

    whole, _ = timed(lambda: fit(rig, wish=WISH, free=FREE, starts=starts))
    ours, led = timed(lambda: descend(of, z, _NODES))
    costs = cost(rows(of, low + size * led, _NODES, sloped=False))
    print(f"{len(FREE)} free dimensions, {starts} starts, processor time")
    print(f"the whole fit                      {whole:7.2f} s")
    print(
        f"descents from all starts           {ours:7.2f} s   "
        f"least cost {costs.min():.4f}, median {np.median(costs):.4f}"
    )
    for name, work in (
        ("scipy, its own differences", lambda: by_scipy(of, z, analytic=False)),
        ("scipy, slopes of this package", lambda: by_scipy(of, z, analytic=True)),
    ):
        spent, (found, calls) = timed(work)
        print(
            f"{name:34} {spent:7.2f} s   least cost {found.min():.4f}, median {np.median(found):.4f}; "
            f"{spent / ours:.0f} times the descents, {spent / whole:.1f} times the whole fit; {calls} residuals"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 32)
