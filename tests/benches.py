"""Benches of which everything is known: linkages with chosen errors, read with noise. All invented."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import linkage
from linkage.answers import joints
from linkage.answers.mismatch import Mismatch
from linkage.motion import solve
from linkage.parts import Limits, Linkage, Tolerance, dimensions
from linkage.search.advice import Move
from linkage.search.estimate import Estimate, estimate
from linkage.search.expected import Expected, estimated
from linkage.search.first_guess import first_guess
from linkage.search.noise import Noise
from linkage.search.priors import by_tolerance, is_setting
from linkage.search.readings import Reading, Readings, Row

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[1] / "demo"
TOLERANCE = Tolerance(link_length=0.2, arm_radius=0.15, arm_angle=0.5, pivot=0.15)
SHARES = (0.0, 0.0, 0.15, 0.4, 0.7, 1.0)


def toleranced(rig: Linkage) -> Linkage:
    return dataclasses.replace(rig, tolerance=TOLERANCE)


def blank(rig: Linkage, shares: Sequence[float] = SHARES) -> Readings:
    """A table of plate angles of every shaft, all nought; no position is measured."""
    rows = tuple(Row(f"{s:g}", i + 1, "closing" if s == 0.0 else "") for i, s in enumerate(shares))
    cells = [Reading("plate", name, i, 0.0, f"{name} [deg]") for i in range(len(shares)) for name in rig.shaft]
    return Readings(rows, tuple(cells))


class Bench:
    """A linkage whose errors are chosen, read with noise."""

    def __init__(self, rig: Linkage, table: Readings | None = None, noise: Noise | None = None) -> None:
        self.run = solve(rig, positions=2)
        self.noise = noise or Noise()
        self.table = table or blank(rig)
        self.expected = Expected.of(self.run, self.table, self.noise)
        self.listed = estimated(self.run)
        self.tolerance = by_tolerance(rig, self.listed)
        self.setting = np.array([is_setting(d) for d in self.listed])
        self.drawn = first_guess(self.expected)

    def exact(self, error: Floats, random: np.random.Generator | None = None) -> Floats:
        """What would be read without noise; the driver stands where it happens to."""
        u = self.drawn.copy()
        u[: error.size] = error
        first, last = self.run.ends
        at = self.expected.turn_of
        share = [float(self.table.rows[at.index(i)].name) for i in range(self.expected.turns)]
        astray = random.normal(0.0, 1.0, len(share)) if random is not None else np.zeros(len(share))
        u[self.expected.first_turn : self.expected.first_scale] = first + (last - first) * np.array(share) + astray
        return self.expected.at(u)[0]

    def written(self, values: Floats) -> Readings:
        filled = [dataclasses.replace(r, value=float(v)) for r, v in zip(self.table.readings, values, strict=True)]
        return dataclasses.replace(self.table, readings=tuple(filled))

    def read(self, error: Floats, random: np.random.Generator) -> Readings:
        exact = self.exact(error, random)
        return self.written(exact + random.normal(0.0, 1.0, exact.size) * self.expected.sigma)

    def estimate(self, readings: Readings, *, by_hand: bool = False) -> Estimate:
        return estimate(self.run, readings, self.noise, by_hand=by_hand)

    def within_tolerance(self, random: np.random.Generator) -> Floats:
        return np.asarray(random.uniform(-1.0, 1.0, self.tolerance.size) * self.tolerance)


def error_of(bench: Bench, **by: float) -> Floats:
    """Errors by the last words of the dimensions' paths: ``a_drive_angle=1.0``."""
    found = np.zeros(len(bench.listed))
    for name, value in by.items():
        at = [i for i, d in enumerate(bench.listed) if d.path.replace(".", "_").endswith(name)]
        assert len(at) == 1, name
        found[at[0]] = value
    return found


def as_built(bench: Bench, error: Floats) -> Linkage:
    """The design with the errors in it, dimension by dimension; arms drawn by pins are turned and lengthened."""
    run = bench.run
    rig = run.rig
    for joint in run.train.joints:
        if joint.forward is not None:
            rig = rig.replace(f"link.{joint.step.by.name}.length", float(joint.length))
    wrong = {d.path: float(e) for d, e in zip(bench.listed, error, strict=True)}
    known = dimensions(rig)
    for path, by in wrong.items():
        if path in known:
            rig = rig.replace(path, known[path] + by)
    for name, member in run.rig.members.items():
        table = f"{'shaft' if name in run.rig.shaft else 'bellcrank'}.{name}"
        pivot, u = np.array(member.pivot), np.array(member.axis)
        for arm, part in member.arm.items():
            here = f"{table}.arm.{arm}"
            if part.pin is None or f"{here}.angle" not in wrong:
                continue
            out = np.array(part.pin) - pivot
            along = u * (out @ u)
            radial = out - along
            turn = np.radians(wrong[f"{here}.angle"])
            turned = np.cos(turn) * radial + np.sin(turn) * np.cross(u, radial)
            turned *= 1.0 + wrong[f"{here}.radius"] / np.linalg.norm(radial)
            moved = np.array([wrong.get(f"{table}.pivot.{axis}", 0.0) for axis in "xyz"])
            rig = rig.replace(f"{here}.pin", tuple(float(v) for v in pivot + along + turned + moved))
    return rig


# ---- the demo ---------------------------------------------------------------------------------------

DEMO_SHARES = (*[0] * 8, 5, 5, 10, 10, 25, 25, 50, 50, 75, 75, 90, 100, 100)
DEMO_SLIP = (15, "right", -9.0)  # row, shaft, degrees


def demo_built(moves: Sequence[Move] = ()) -> Linkage:
    """The linkage of the demo as it was really built, and as adjusted."""
    rig = linkage.read(DEMO / "bench_job.toml")
    lengths = joints.lengths(solve(rig, positions=2))
    rig = rig.replace("link.left.length", lengths["left"]).replace("link.right.length", lengths["right"] + 0.6)
    rig = rig.replace("shaft.left.arm.drive.angle", 72.0 - 1.2).replace("bellcrank.centre.arm.right.radius", 35.3)
    for move in moves:
        rig = rig.replace(move.adjuster.path, dimensions(rig)[move.adjuster.path] + move.by)
    return rig


def demo_table(built: Linkage, seed: int, *, slip: bool = False) -> str:
    """Readings of it with 0.2 degrees of noise, to a tenth; a slip of the pen in one."""
    run, random = solve(built, positions=2), np.random.default_rng(seed)
    lines = [
        "# INVENTED: plate angles off the bench, protractor good to 0.2 degrees",
        "position,travel [%],left [deg],right [deg]",
    ]
    for row, share in enumerate(DEMO_SHARES):
        angle = run.at_fraction(share / 100).plate_angle
        cells = {name: f"{angle[name][0] + random.normal(0.0, 0.2):.1f}" for name in built.shaft}
        if slip and row == DEMO_SLIP[0]:
            cells[DEMO_SLIP[1]] = f"{float(cells[DEMO_SLIP[1]]) + DEMO_SLIP[2]:.1f}"
        name = {0: "idle", 100: "wide open"}.get(share, "")
        lines.append(f"{name},{'' if name else share},{','.join(cells.values())}")
    return "\n".join(lines) + "\n"


def kept(apart: Mismatch, limits: Limits) -> bool:
    """Whether a mismatch keeps every limit."""
    middle = 0.0 if apart.middle is None else apart.middle.value
    return (
        apart.at_idle <= limits.mismatch_at_idle
        and apart.off_idle.value <= limits.mismatch_off_idle
        and middle <= limits.mismatch
        and apart.last.value <= limits.mismatch_at_wide_open
    )
