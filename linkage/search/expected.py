r"""What the bench should read of a linkage built with errors, and how every error moves every reading.

The plates follow from the closure with the built dimensions, nothing linearised; the slopes are the
analytic ones of :mod:`linkage.answers.dimension_errors`, taken at the linkage as it stands. Unknown are

* ``x``, the errors of the dimensions [mm, deg],
* ``b``, where the protractor reads zero on each shaft [deg], if it is doubted,
* ``t``, the driver's turn at every row [deg]; rows on the same stop share one,
* ``c``, the logarithm of the depression's pull on all barrels alike, at every row with flow readings.

Plate angles alone never say where the driver stood: then only the relation between the shafts
counts, which is the mismatch. A position that was measured is one reading more.

::

    plate   psi + b                                     travel  cable (or turn) / that of the drawing
    flow    exp(c) D^2 A(psi), one barrel               cable   taken since rest on the closing stop
    gap     (D/2) (1 - cos(psi) / cos(psi shut))        pedal   as its pad travels
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers.airflow import open_area_fraction, open_area_slope
from linkage.answers.dimension_errors import Dimension, Moves, built_dimensions, pin_moves
from linkage.answers.trials import built
from linkage.errors import AssemblyError
from linkage.motion import Motion, Train, assemble, walk
from linkage.motion.assembly import Joint, Pose, turn_near
from linkage.parts import SIGN, Linkage
from linkage.search.noise import Noise
from linkage.search.readings import POSITIONS, Reading, Readings

Floats = NDArray[np.float64]

_MADE = ("link_length", "arm_radius", "arm_angle", "pivot", "coupling_offset")


@dataclass(frozen=True, eq=False)
class Expected:
    """The readings of one bench as functions of the unknowns, a vector ``[x, b, t, c]``."""

    run: Motion
    readings: Readings
    noise: Noise
    dimensions: tuple[Dimension, ...]
    used: tuple[Reading, ...]
    turn_of: tuple[int, ...]  # by row: which of the turns, -1 for a row that says nothing
    rest: int  # the turn at rest on the closing stop, -1 where nothing asks for it
    turns: int
    flow_rows: tuple[int, ...]

    @classmethod
    def of(cls, run: Motion, readings: Readings, noise: Noise) -> Expected:
        """Set the bench up: which readings say something, and which rows share a turn."""
        telling = {r.row for r in readings.readings if r.shaft}
        at = [readings.rows[i].at for i in range(len(readings.rows))]
        # on the closing stop a position reads 0 by definition: no reading
        used = [
            r for r in readings.readings if r.row in telling and not (r.what in POSITIONS and at[r.row] == "closing")
        ]
        counted = any(r.what in POSITIONS for r in used)
        turn_of: list[int] = []
        shared: dict[str, int] = {"closing": 0} if counted else {}
        count = len(shared)
        for row in range(len(at)):
            if row not in telling:
                turn_of.append(-1)
            elif at[row] in shared:
                turn_of.append(shared[at[row]])
            else:
                turn_of.append(count)
                if at[row]:
                    shared[at[row]] = count
                count += 1
        rest = 0 if counted else -1
        flows = tuple(sorted({r.row for r in used if r.what == "flow"}))
        return cls(run, readings, noise, estimated(run), tuple(used), tuple(turn_of), rest, count, flows)

    @property
    def rig(self) -> Linkage:
        """The design."""
        return self.run.rig

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return self.first_scale + len(self.flow_rows)

    @cached_property
    def zeros(self) -> tuple[str, ...]:
        """Shafts whose protractor zero is doubted."""
        if self.noise.zero == 0.0:
            return ()
        return tuple(name for name in self.rig.shaft if any(r.shaft == name and r.what == "plate" for r in self.used))

    @property
    def first_turn(self) -> int:
        """Where the turns begin among the unknowns."""
        return len(self.dimensions) + len(self.zeros)

    @property
    def first_scale(self) -> int:
        """Where the flow scales begin among the unknowns."""
        return self.first_turn + self.turns

    @cached_property
    def observed(self) -> Floats:
        """The numbers read, (n,)."""
        return np.array([r.value for r in self.used])

    @cached_property
    def sigma(self) -> Floats:
        """Their standard deviations, (n,)."""
        return np.array([getattr(self.noise, r.what) for r in self.used], float)

    @cached_property
    def total(self) -> float:
        """Cable travel between the ends of the drawing [mm]."""
        cable = self.run.at(self.run.ends[1]).cable
        return 0.0 if cable is None else float(cable[0])

    def bore(self, shaft: str) -> tuple[float, float]:
        """Bore [mm] and shut angle [deg] of a shaft."""
        dims = self.run.train.dims
        return float(dims[f"shaft.{shaft}.bore"]), float(dims[f"shaft.{shaft}.plate_angle.shut"])

    def area(self, shaft: str, plate: float) -> float:
        """Open area of one barrel [mm^2]."""
        bore, shut = self.bore(shaft)
        ratio = self.run.train.dims[f"shaft.{shaft}.shaft_diameter"] / bore
        return float(open_area_fraction(plate, shut=shut, shaft_ratio=ratio)) * 0.25 * np.pi * bore**2

    @cached_property
    def _moves(self) -> dict[str, tuple[Moves, Moves]]:
        """How the dimensions move both pins of every link, by the link's name."""
        train = self.run.train
        return {
            j.step.by.name: (
                pin_moves(train, self.dimensions, j.step.driving, j.step.arms[0], j.driving),
                pin_moves(train, self.dimensions, j.step.driven, j.step.arms[1], j.driven),
            )
            for j in train.joints
            if j.driving is not None and j.driven is not None
        }

    def at(self, u: Floats) -> tuple[Floats, Floats]:
        """The readings to expect (n,) and their slopes by the unknowns (n, size); ``nan`` if it cannot be assembled."""
        k, first = len(self.dimensions), self.first_turn
        try:
            train = assemble(self.rig, built(self.run, self.dimensions, [float(v) for v in u[:k]]))
        except AssemblyError:
            return np.full(len(self.used), np.nan), np.full((len(self.used), self.size), np.nan)
        turn = np.radians(u[first : self.first_scale])
        pose = walk(train, train.pose(turn))
        with np.errstate(invalid="ignore", divide="ignore"):
            held, speed = self._slopes(train, pose)
        value, slope = np.empty(len(self.used)), np.zeros((len(self.used), self.size))
        for i, r in enumerate(self.used):
            at = self.turn_of[r.row]
            if not r.shaft:
                value[i] = self._position(r, turn[at], turn[self.rest], slope[i, first:], at)
                continue
            sign = SIGN[self.rig.shaft[r.shaft].opens]
            c, s = (p[at] for p in pose[r.shaft])
            plates = self.rig.shaft[r.shaft].plate_angle
            middle = sign * np.radians(0.5 * (plates.wide_open - plates.idle))
            plate = plates.idle + sign * float(np.degrees(turn_near((c, s), middle)))
            value[i], by_plate = self._value(r, plate, u)
            slope[i, :k] = by_plate * sign * np.degrees(held[r.shaft][:, at])
            slope[i, first + at] = by_plate * sign * speed[r.shaft][at]
            if r.what == "plate" and r.shaft in self.zeros:
                b = k + self.zeros.index(r.shaft)
                value[i] += u[b]
                slope[i, b] = 1.0
            elif r.what == "flow":
                slope[i, self.first_scale + self.flow_rows.index(r.row)] = value[i]
        return value, slope

    def _value(self, r: Reading, plate: float, u: Floats) -> tuple[float, float]:
        """A reading of a shaft and its slope by the plate angle [deg]."""
        if r.what == "plate":
            return plate, 1.0
        bore, shut = self.bore(r.shaft)
        if r.what == "gap":
            out, cos = np.radians(plate), np.cos(np.radians(shut))
            gap = 0.5 * bore * (1.0 - np.cos(out) / cos)
            return float(gap), float(0.5 * bore * np.sin(out) / cos * np.pi / 180.0)
        pull = float(np.exp(u[self.first_scale + self.flow_rows.index(r.row)])) * 0.25 * np.pi * bore**2
        ratio = self.run.train.dims[f"shaft.{r.shaft}.shaft_diameter"] / bore
        return (
            pull * float(open_area_fraction(plate, shut=shut, shaft_ratio=ratio)),
            pull * float(open_area_slope(plate, shut=shut, shaft_ratio=ratio)),
        )

    def _position(self, r: Reading, turn: float, rest: float, slope: Floats, at: int) -> float:
        """A position read; writes its slopes by the turns [per deg]."""
        opens, line, run = float(self.run.train.opens), self.run.line, self.run
        by_turn = r.what == "turn" or (r.what == "travel" and not run.by_cable)
        foot = run.pedal_line
        if r.what == "pedal" and foot is not None and line is None:
            moved = opens * (turn - rest)
            slope[at] = opens * float(np.radians(foot.rate(moved)))
            slope[self.rest] = -slope[at]
            return float(foot.pad(moved))
        if by_turn or line is None:
            scale = 1.0 if r.what == "turn" else opens / abs(run.ends[1] - run.ends[0])
            slope[at], slope[self.rest] = scale, -scale
            return float(np.degrees(turn - rest) * scale)
        here, there = run.train.pose(turn), run.train.pose(rest)
        taken = told = float(line.taken(here, there))
        scale = 1.0
        if r.what == "travel":
            scale = 1.0 / self.total
            told = scale * taken
        elif r.what == "pedal" and foot is not None:
            scale, told = float(foot.rate(taken)), float(foot.pad(taken))
        slope[at] = scale * float(np.radians(line.moment_arm(here)))
        slope[self.rest] = -scale * float(np.radians(line.moment_arm(there)))
        return told

    def _slopes(self, train: Train, pose: dict[str, Pose]) -> tuple[dict[str, Floats], dict[str, Floats]]:
        """Of every member: turn [rad] by each dimension with the driver held (K, m), and by the driver's turn (m,)."""
        held = {train.driver: np.zeros((len(self.dimensions), self.turns))}
        speed = {train.driver: np.ones(self.turns)}
        for joint in train.joints:
            driving, driven = joint.step.driving, joint.step.driven
            if joint.driving is None or joint.driven is None:
                held[driven], speed[driven] = joint.ratio * held[driving], joint.ratio * speed[driving]
                forward = joint.step.by.joins[0] == driving
                held[driven][self._row(f"coupling.{joint.step.by.name}.offset")] += np.radians(
                    1.0 if forward else -joint.ratio
                )
                _resting(joint, pose[driving], held, speed)
                continue
            here = closure.sensitivity(joint.driving, joint.driven, *pose[driving], *pose[driven])
            held[driven] = here.driving_angle * held[driving] + self._added(joint, here)
            speed[driven] = here.driving_angle * speed[driving]
            _resting(joint, pose[driving], held, speed)
        return held, speed

    def _added(self, joint: Joint, here: closure.Sensitivity) -> Floats:
        (radius, angle, centre), (radius2, angle2, centre2) = self._moves[joint.step.by.name]
        added = np.outer(radius, here.driving_radius) + np.outer(angle, here.driving_angle)
        added += np.outer(radius2, here.driven_radius) + np.outer(angle2, here.driven_angle)
        added += centre @ np.stack(np.broadcast_arrays(*here.driving_centre))
        added += centre2 @ np.stack(np.broadcast_arrays(*here.driven_centre))
        added[self._row(f"link.{joint.step.by.name}.length")] += here.length
        return np.asarray(added)

    def _row(self, path: str) -> int:
        return self._rows[path]

    @cached_property
    def _rows(self) -> dict[str, int]:
        return {d.path: i for i, d in enumerate(self.dimensions)}


def _resting(joint: Joint, at: Pose, held: dict[str, Floats], speed: dict[str, Floats]) -> None:
    """What slack is not yet taken up to rests: nothing moves it."""
    if joint.slack:
        bears, driven = joint.bears(joint.driving_turn(at)), joint.step.driven
        held[driven], speed[driven] = np.where(bears, held[driven], 0.0), np.where(bears, speed[driven], 0.0)


def estimated(run: Motion) -> tuple[Dimension, ...]:
    """The dimensions that move the plates: all that is made or set but the cable's, and arms that no link holds."""
    held = {pin for link in run.rig.link.values() for pin in link.joins}

    def counts(d: Dimension) -> bool:
        if d.kind not in _MADE:
            return False
        table, name, *rest = d.path.split(".")
        return table in ("link", "coupling") or rest[0] == "pivot" or f"{name}.{rest[1]}" in held

    return tuple(d for d in built_dimensions(run.train) if counts(d))
