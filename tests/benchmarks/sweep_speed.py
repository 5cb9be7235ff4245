"""How fast a sweep is, all in this one run.

    python tests/benchmarks/sweep_speed.py [most candidates [workers]]

1. All figures of the flagship (two driven shafts, eight dimensions varied) in one process, beside the
   mismatch alone at 181 positions by a loop compiled with numba, which is given the travel of
   every candidate for nothing. The loop comes in two forms: an arc tangent for each shaft, as one
   would write it, and one for the difference.
2. One million candidates of the flagship, all figures, written to Parquet: wall time and memory
   against 5 s and 1 GiB on two processors.
3. Time against candidates (to ten million, or what is asked), and against links (1 to 12).

Parts 1 and the links are processor time, the best of several; whole sweeps are wall time, with the
processor time of all processes beside it: on a machine that others use as well the one says what
one had to wait, the other what it took.
"""

from __future__ import annotations

import math
import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import linkage
from linkage.parts import Arm, BellCrank, Cable, Link, Linkage, PlateAngle, Shaft, dimensions
from linkage.search import batch, crew
from linkage.search.choose import Choice
from linkage.search.figures import figures
from linkage.search.sweep import sweep
from linkage.search.vary import Box, variation

Floats = NDArray[np.float64]

DEMO = Path(linkage.__file__).parents[1] / "demo"
TARGET = 5.0  # [s] for a million
ROOM = 1024.0  # [MiB]
POSITIONS = 181

#: dimension of the flagship and half the width of its range [mm or deg]
VARIED = {
    "shaft.left.arm.drive.radius": 2.0,
    "shaft.left.arm.drive.angle": 4.0,
    "shaft.right.arm.drive.radius": 2.0,
    "shaft.right.arm.drive.angle": 4.0,
    "bellcrank.centre.arm.left.radius": 2.0,
    "bellcrank.centre.arm.left.angle": 4.0,
    "bellcrank.centre.arm.right.angle": 4.0,
    "bellcrank.centre.pivot.y": 4.0,
}


def ranges(rig: Linkage) -> dict[str, tuple[float, float]]:
    """Ranges about the design."""
    base = dimensions(rig)
    return {path: (base[path] - half, base[path] + half) for path, half in VARIED.items()}


def least(work: Callable[[], object], times: int = 25) -> float:
    """Processor time of the quickest of some runs [s]."""
    best = math.inf
    for _ in range(times):
        before = time.process_time()
        work()
        best = min(best, time.process_time() - before)
    return best


def loops() -> dict[str, Any]:
    """The compiled loops."""
    import numba

    @numba.njit(fastmath=True)
    def constants(gx: float, gy: float, r1: float, a1: float, r2: float, a2: float) -> Any:
        c2, s2 = math.cos(a2), math.sin(a2)
        ax, ay = r1 * math.cos(a1), r1 * math.sin(a1)
        dx, dy = gx + ax - r2 * c2, gy + ay - r2 * s2
        branch = -1.0 if (gy + ay) * c2 - (gx + ax) * s2 > 0.0 else 1.0
        mean = (r2 * r2 - dx * dx - dy * dy) / (2.0 * r2)
        return gx * c2 + gy * s2, gy * c2 - gx * s2, ax * c2 + ay * s2, ay * c2 - ax * s2, mean, branch

    @numba.njit(fastmath=True)
    def turned(link: Any, r2: float, c: float, s: float) -> Any:
        w1 = link[0] + link[2] * c - link[3] * s
        w2 = link[1] + link[3] * c + link[2] * s
        size = w1 * w1 + w2 * w2
        k = link[4] + size / (2.0 * r2)
        root = link[5] * math.sqrt(size - k * k)
        return w1 * k - w2 * root, w2 * k + w1 * root

    @numba.njit(fastmath=True)
    def each(x: Floats, travel: Floats, out: Floats, one: bool) -> None:
        for i in range(out.size):
            left = constants(175.0, x[8, i], x[4, i], x[5, i], x[0, i], x[1, i])
            right = constants(-175.0, x[8, i], x[6, i], x[7, i], x[2, i], x[3, i])
            worst = 0.0
            for j in range(POSITIONS):
                turn = travel[i] * j / (POSITIONS - 1)
                c, s = math.cos(turn), math.sin(turn)
                cl, sl = turned(left, x[0, i], c, s)
                cr, sr = turned(right, x[2, i], c, s)
                if one:  # the shafts turn against each other
                    apart = abs(math.atan2(sl * cr + cl * sr, cl * cr - sl * sr))
                else:
                    apart = abs(math.atan2(sl, cl) + math.atan2(sr, cr))
                worst = max(worst, apart)
            out[i] = math.degrees(worst)

    return {"two arc tangents": (each, False), "one arc tangent": (each, True)}


def against_a_loop(rig: Linkage) -> None:
    """Part 1."""
    n = batch.BLOCK
    block = Box(ranges(rig), 1_000_000, 1).block(0, n)
    base = dimensions(rig)
    table = {**base, **block}
    found = figures(rig, table, n)
    ours = least(lambda: figures(rig, table, n)) / n
    print(f"\n1. All figures, one process: {1e6 * ours:6.2f} us a candidate")

    def column(path: str) -> Floats:
        return np.broadcast_to(np.asarray(table[path], float), (n,))

    arms = ("shaft.left.arm.drive", "shaft.right.arm.drive", "bellcrank.centre.arm.left", "bellcrank.centre.arm.right")
    rows = [f(column(f"{arm}.{what}")) for arm in arms for what, f in (("radius", np.asarray), ("angle", np.radians))]
    x = np.ascontiguousarray([*rows, column("bellcrank.centre.pivot.y")])
    travel, out = np.radians(found["driver_turn"]), np.empty(n)
    for name, (loop, one) in loops().items():
        loop(x, travel, out, one)
        gap = np.nanmax(np.abs(out - found["mismatch"]))
        theirs = least(lambda loop=loop, one=one: loop(x, travel, out, one)) / n  # type: ignore[misc]
        print(
            f"   mismatch alone, compiled, {POSITIONS} positions, {name}: {1e6 * theirs:6.2f} us "
            f"(at most {gap:.0e} deg off); it takes {theirs / ours:.2f} times as long as all figures"
        )


def spent() -> float:
    """Processor time of this process and all that it waited for [s]."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def most_memory(workers: int) -> float:
    """No more than so much memory was ever in use at once [MiB]: this process and its largest worker, each."""
    mine, theirs = (
        resource.getrusage(who).ru_maxrss / 1024.0 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return mine + workers * theirs


def a_sweep(rig: Linkage, rows: int, workers: int) -> tuple[float, float]:
    """Wall and processor time of a sweep into a Parquet file [s]."""
    with tempfile.TemporaryDirectory() as folder:
        wall, work = time.perf_counter(), spent()
        sweep(rig, ranges(rig), samples=rows, out=Path(folder) / "all.parquet", workers=workers)
        return time.perf_counter() - wall, spent() - work


def a_million(rig: Linkage, workers: int) -> None:
    """Part 2."""
    wall, work = a_sweep(rig, 1_000_000, workers)
    room = most_memory(workers)
    print(f"\n2. A million candidates to Parquet, {workers} processes on {crew.cores()} processors:")
    print(f"   {wall:6.2f} s, {wall / TARGET:.2f} of {TARGET:g} s")
    print(f"   {work:6.2f} s of processor time, so {work / workers:.2f} s where nobody else is at work")
    print(f"   at most {room:.0f} MiB, {room / ROOM:.2f} of {ROOM:g} MiB")


def against_candidates(rig: Linkage, most: int, workers: int) -> None:
    """Part 3, candidates."""
    print("\n3. candidates     wall [s]   processor [s]   us of processor a candidate")
    rows = 1000
    while rows <= most:
        wall, work = a_sweep(rig, rows, workers)
        print(f"   {rows:10,d}  {wall:10.2f}  {work:14.2f}  {1e6 * work / rows:14.2f}")
        rows *= 10


def tube(links: int) -> Linkage:
    """A cross tube that drives so many shafts, a link each."""
    drops = {f"a{i}": Arm(f"a{i}", 36.0, 150.0 + 0.2 * i) for i in range(links)}
    shafts = {
        f"s{i}": Shaft(
            f"s{i}", (-10.0, 0.0, 0.0), opens="ccw", plate_angle=PlateAngle(8.0, 10.0, 88.0),
            arm={"drive": Arm("drive", 32.0 + 0.1 * i, 151.0)},
        )
        for i in range(links)
    }  # fmt: skip
    joined = {f"l{i}": Link(f"l{i}", (f"tube.a{i}", f"s{i}.drive")) for i in range(links)}
    crank = BellCrank("tube", (0.0, 90.0, 0.0), arm=drops)
    cable = Cable(quadrant="tube", radius=35.0, pull_turns="ccw")
    return Linkage("tube", "mm", shafts, {"tube": crank}, joined, {}, cable)


def against_links() -> None:
    """Part 3, links."""
    print("\n   links   us a candidate   more than the one before")
    counts, found = range(1, 13), list[float]()
    for links in counts:
        rig = tube(links)
        vary = {f"shaft.s{i}.arm.drive.angle": (149.0, 153.0) for i in range(links)}
        plan = batch.Plan(rig, variation(rig, vary, samples=10**6), Choice(), 0, batch.PART)
        found.append(1e6 * least(lambda plan=plan: batch.work_out(plan, 0), 15) / batch.PART)  # type: ignore[misc]
        more = f"{found[-1] - found[-2]:12.2f}" if len(found) > 1 else ""
        print(f"   {links:5d}   {found[-1]:14.2f}   {more}")
    slope, start = np.polyfit(counts, found, 1)
    off = max(abs(y - start - slope * x) for x, y in zip(counts, found, strict=True))
    print(f"   a straight line, {start:.2f} + {slope:.2f} us a link, is at most {off:.2f} us off")


def main() -> None:
    """Measure and print."""
    most = int(float(sys.argv[1])) if len(sys.argv) > 1 else 10_000_000
    workers = int(sys.argv[2]) if len(sys.argv) > 2 else crew.cores()
    rig = linkage.read(DEMO / "flat_six.toml")
    print(f"{rig.title}: {len(VARIED)} dimensions varied, {crew.cores()} processors, load {os.getloadavg()[0]:.1f}")
    a_million(rig, workers)
    against_a_loop(rig)
    against_candidates(rig, most, workers)
    against_links()


if __name__ == "__main__":
    main()
