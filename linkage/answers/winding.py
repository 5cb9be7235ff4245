r"""The train wound up: every shaft twisted under its loads, and the loads of the train so twisted.

::

    spring    plate     plate    arm             every torque acts at its own station: springs, the links'
      |         |         |       |  link        pulls, friction (shared by the plates), the cable; what holds
    ==o=========o=========o=======o======        the shaft is the arm that drives it, or at rest its stop
                                  |
                                 drives

The twisted arms and springs stand elsewhere than rigid ones would, which changes the forces, which
changes the twist. So the train is walked with every arm at its own twisted turn, the torques are
summed from the tips inwards at those places, the shafts wound up under them, and all of it again,
until nothing moves by more than rounding: the twist is small, so each round leaves some hundredth of
the error of the one before.

Three ways: opening and closing, the pedal held still at each position with friction against the
movement; and resting at idle, the foot off. There every shaft that stands on its own closing stop
takes what closes it on that stop, and what is left over (of a bell crank's spring) goes to the stop
that holds the closing.

Bending, shear and the give of arms, links and couplings are left out.

References
----------
See :mod:`linkage.answers.torsion`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers import springs, torsion
from linkage.answers.grips import coupling_station, friction_of, grip_of, station_of, stop_station
from linkage.motion import Motion, StopPlace
from linkage.motion.assembly import Joint, carry
from linkage.parts import SIGN, Member
from linkage.train import split_pin

Floats = NDArray[np.float64]
Way = Literal["opening", "closing", "resting"]

_FIRST, _SHRINKS = 8, 0.9  # after the first rounds, what does not shrink by a tenth a round does not settle
_ROUNDS = 60  # a shaft so soft that it takes more does not settle at all
_SETTLED = 1e-12  # [rad] change of a turn from one round to the next
_ON_STOP = 1e-6  # [rad] a shaft as near as this to its stop stands on it


@dataclass(frozen=True, eq=False)
class Wound:
    """A member wound up; arrays over the positions.

    ``grips`` are what acts on it (``"arm drive"``, ``"plate 1"``, ``"spring return"``, ``"stop left.idle"``
    ...) with their ``station`` [mm], rising; ``twist`` [deg] is the turn of each against the first of them,
    ccw, shape (grips, n), ``torque`` [N.mm] what is carried from each to the next, shape (grips - 1, n).
    ``held`` names the grip that drives it, or at rest the stop it stands on.
    """

    grips: tuple[str, ...]
    station: Floats
    twist: Floats
    torque: Floats
    held: str

    def against(self, grip: str) -> Floats:
        """Twist of a grip against the one that holds the member [deg, ccw], shape (n,)."""
        return np.asarray(self.twist[self.grips.index(grip)] - self.twist[self.grips.index(self.held)])


@dataclass(frozen=True, eq=False)
class Twisted:
    """The train twisted one way; arrays over the positions of ``run``.

    ``plates`` [deg] is the twist of every plate of a shaft against the arm that drives it (at rest: the stop
    it stands on), ``moved`` [deg] what its angle differs from the rigid train's, opening counts up, shape
    (plates, n) each. ``apart`` [deg] is how far ``moved`` differs between all the plates; ``mismatch`` [deg]
    how far the plate angles do. ``members`` are wound up as :class:`Wound`, by name. ``settled``: whether
    the rounds came to rest at every position; ``nan`` where not, as where a slot is just taken up.
    """

    run: Motion
    plates: Mapping[str, Floats]
    moved: Mapping[str, Floats]
    apart: Floats
    mismatch: Floats
    members: Mapping[str, Wound]
    settled: bool


def twisted(run: Motion, way: Way) -> Twisted:
    """The train of a motion twisted under its forces, at its positions.

    Parameters
    ----------
    run : Motion
        At rest: one position, where it idles.
    way : str
        ``"opening"``, ``"closing"`` (the pedal held, friction against the movement) or ``"resting"`` (foot off).
    """
    bench = _Bench(run, way)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        change = np.full_like(run.turn, np.inf)
        for i in range(_ROUNDS):
            before, change = change, bench.round()
            stirs = change > _SETTLED
            stuck = i >= _FIRST and np.all(change[stirs] > _SHRINKS * before[stirs])
            if stuck or not np.any(stirs):
                break
        return bench.told(~stirs)


@dataclass(eq=False)
class _Body:
    """A member on the bench: what grips it where, and how far each grip has turned against the first."""

    stiff: float
    station: dict[str, float]
    held: str
    phi: dict[str, Floats] = field(default_factory=dict)
    torque: dict[str, Floats] = field(default_factory=dict)


class _Bench:
    """The rounds of one way: the turns, the torques, the wind-up, and again."""

    def __init__(self, run: Motion, way: Way) -> None:
        self.run, self.way, self.rig = run, way, run.rig
        self.nought = np.zeros_like(run.turn)
        self.start = {name: np.radians(run.member_turn[name]) + self.nought for name in self.rig.members}
        self.base = dict(self.start)  # turn [rad] of the grip that drives each member
        self.senses = springs.opening_senses(run.train)
        self.stops = {stop.name: stop for stop in run.travel.stops}
        self.on_stop = self._stopped() if way == "resting" else {}
        self.holder = self._holder()
        self.bodies = {name: self._body(name, member) for name, member in self.rig.turning.items()}
        self.slack = {joint.step.driven: joint for joint in run.train.joints if joint.slack}
        for body in self.bodies.values():
            body.phi = dict.fromkeys(body.station, self.nought)

    def _stopped(self) -> dict[str, StopPlace]:
        """The closing stop that each member stands on at rest, the one that holds the closing first."""
        run = self.run
        holder = run.travel.stops[int(run.travel.closing_holds)]
        found = {holder.member: holder}
        for stop in run.travel.stops:
            off = float(np.max(np.abs(np.radians(run.member_turn[stop.member]) - stop.turn)))
            if stop.limits == "closing" and stop.member in self.rig.shaft and off <= _ON_STOP:
                found.setdefault(stop.member, stop)
        return found

    def _holder(self) -> str:
        """The member on its stop that the driver comes to first, down to the one that holds the closing."""
        if not self.on_stop:
            return ""
        path = [self.rig.driver, *(j.step.driven for j in self.run.train.path_to(next(iter(self.on_stop))))]
        return next(name for name in path if name in self.on_stop)

    def _body(self, name: str, member: Member) -> _Body:
        """What grips a member, at which station [mm]."""
        rig, section, driver = self.rig, member.twist, name == self.rig.driver
        at = {f"arm {arm}": station_of(self.run, name, arm) for arm in member.arm}
        for joint in (j for j in self.run.train.joints if j.step.arms == ("", "")):
            if name in (joint.step.driving, joint.step.driven):
                at[f"coupling {joint.step.by.name}"] = coupling_station(rig, joint, name)
        at |= {f"spring {n}": s.station or 0.0 for n, s in rig.spring.items() if s.on == name}
        at |= {f"stop {stop.name}": stop_station(rig, stop) for stop in self.stops.values() if stop.member == name}
        plates = () if section is None or section.plates_at is None else section.plates_at
        shaft = rig.shaft.get(name)
        if shaft is not None and not plates:
            plates = (0.0,) * shaft.plates
        at |= {f"plate {i}": station for i, station in enumerate(plates, 1)}
        at["pivot"] = 0.0
        held = self._driven_by(name)
        if driver and rig.cable is not None and rig.cable.pulls is not None:
            held = f"arm {split_pin(rig.cable.pulls)[1]}"
        elif driver:
            held = "turned"
            at[held] = (section.turned_at if section is not None else None) or 0.0
        if name in self.on_stop:
            held = f"stop {self.on_stop[name].name}"
        return _Body(torsion.stiffness(member), at, held)

    def _driven_by(self, name: str) -> str:
        for joint in self.run.train.joints:
            if joint.step.driven == name:
                return grip_of(joint, name)
        return "pivot"

    def turn(self, name: str, grip: str) -> Floats:
        """Turn [rad] of a grip of a member, from drawn."""
        body = self.bodies.get(name)
        return self.base[name] if body is None else self.base[name] + body.phi[grip] - body.phi[body.held]

    def round(self) -> Floats:
        """One round; returns the largest change of a turn [rad] at every position, 0 where nothing is told."""
        before = {(n, g): self.turn(n, g) for n, body in self.bodies.items() for g in body.station}
        self._walk()
        self._load()
        for body in self.bodies.values():
            self._wind(body)
        changes = [np.abs(self.turn(*key) - old) for key, old in before.items()]
        return np.asarray(np.max(np.stack([np.nan_to_num(change, nan=0.0) for change in changes]), axis=0))

    def _walk(self) -> None:
        """The train with every arm at its own turn; at rest the driver comes to where the stop holds."""
        for joint in self.run.train.joints:
            driving, driven = joint.step.driving, joint.step.driven
            if driven in self.on_stop:
                continue
            slides = self.run.train.slides(driving)
            pose = carry(joint, closure.pose_of(self.turn(driving, grip_of(joint, driving)), slides))
            self.base[driven] = _near(pose, self.start[driven], self.run.train.slides(driven))
            if (grip := self._rests(driven)) is not None:
                body = self.bodies[driven]
                resting = joint.rest + body.phi[body.held] - body.phi[grip]
                self.base[driven] = np.where(self._borne(driven), self.base[driven], resting)
        for name, stop in self.on_stop.items():
            self.base[name] = np.asarray(stop.turn) + self.nought
        if self.holder and self.holder != self.rig.driver:
            self._pull_up()

    def _rests(self, name: str) -> str | None:
        """The stop on which a member rests until slack is taken up, None where it has none."""
        body, grip = self.bodies.get(name), f"stop {name}.idle"
        return grip if name in self.slack and body is not None and grip in body.station else None

    def _borne(self, name: str) -> NDArray[np.bool_]:
        """Whether what drives a member bears on it."""
        joint = self.slack[name]
        turn = self.turn(joint.step.driving, grip_of(joint, joint.step.driving))
        return np.asarray(joint.bears(turn) + 0.0 * turn > 0.5)

    def _pull_up(self) -> None:
        """At rest: turn the driver so that its train meets the member that holds the closing, by Newton's step."""
        holder = self.holder
        path = self.run.train.path_to(holder)
        turn = self.turn(path[0].step.driving, grip_of(path[0], path[0].step.driving))
        rate: Floats | float = 1.0
        for i, joint in enumerate(path):
            driving, driven = joint.step.driving, joint.step.driven
            pose = carry(joint, closure.pose_of(turn, self.run.train.slides(driving)))
            there = _near(pose, self.start[driven], self.run.train.slides(driven))
            rate = rate * self._ratio(joint, turn, there)
            turn = there if i + 1 == len(path) else there + self._offset(driven, joint, path[i + 1])
        wanted = self.turn(holder, grip_of(path[-1], holder))
        step = (wanted - turn) / rate
        self.base[self.rig.driver] = self.base[self.rig.driver] + np.where(np.isfinite(step), step, 0.0)

    def _offset(self, name: str, into: Joint, out: Joint) -> Floats:
        """Twist [rad] on a member from the grip of one joint to that of the next."""
        body = self.bodies.get(name)
        return self.nought if body is None else body.phi[grip_of(out, name)] - body.phi[grip_of(into, name)]

    def _ratio(self, joint: Joint, turn: Floats, there: Floats) -> Floats:
        """d(driven grip)/d(driving grip) where both stand."""
        if joint.forward is None:
            bears = joint.bears(turn) if joint.slack else True
            return np.where(bears, joint.ratio, 0.0) + self.nought
        train, (driving, driven) = self.run.train, (joint.step.driving, joint.step.driven)
        at, end = closure.pose_of(turn, train.slides(driving)), closure.pose_of(there, train.slides(driven))
        ratio = closure.rates(joint.forward, *at, *end).ratio
        return np.asarray(np.where(joint.bears(turn), ratio, 0.0) if joint.slack else ratio)

    def _load(self) -> None:
        """Torques at every grip [N.mm, ccw], and what reaches the grip that holds each member."""
        applied = {name: self._own(name) for name in self.rig.members}
        self._hand_on(applied)
        if self.holder and self.holder != self.rig.driver:
            # what is left at the driver goes down the train to the stop that holds the closing
            rate = self._path_ratio(self.holder)
            rest = self._sum(applied[self.rig.driver])
            self._send(applied, np.where(np.abs(rate) > 0.0, rest / rate, 0.0))
        for name, body in self.bodies.items():
            torque = dict(applied[name])
            left, stop = self._sum(torque), self._rests(name)
            borne = self.nought + 1.0 if stop is None else np.where(self._borne(name), 1.0, 0.0)
            torque[body.held] = torque.get(body.held, self.nought) - left * borne
            if stop is not None and stop != body.held:
                torque[stop] = torque.get(stop, self.nought) - left * (1.0 - borne)
            body.torque = torque

    def _own(self, name: str) -> dict[str, Floats]:
        """Springs and friction on a member."""
        rig, found = self.rig, dict[str, Floats]()
        for spring_name, spring in rig.spring.items():
            if springs.member_of(spring) != name:
                continue
            grip = f"spring {spring_name}" if spring.on is not None else f"arm {split_pin(spring.pulls or '')[1]}"
            turn, slides = self.turn(name, grip), name in rig.slide
            there = dataclasses.replace(
                self.run,
                pose={name: closure.pose_of(turn, slides)},
                member_turn={name: np.degrees(turn)},
            )
            closing = springs.action(there, spring, self.senses).closing
            found[grip] = found.get(grip, self.nought) - self.senses[name] * closing
        rub = friction_of(rig, name)
        if rub:
            forth = float(self.run.train.opens) * (1.0 if self.way == "opening" else -1.0)
            against = -rub * np.sign(forth * self.run.speed[name])
            body = self.bodies.get(name)
            plates = [grip for grip in body.station if grip.startswith("plate ")] if body is not None else []
            for grip in plates or ["pivot"]:
                found[grip] = found.get(grip, self.nought) + against / max(len(plates), 1)
        return found

    def _hand_on(self, applied: dict[str, dict[str, Floats]]) -> None:
        """Hand what reaches each member on to the one that drives it, from the tips inwards."""
        for joint in reversed(self.run.train.joints):
            driving, driven = joint.step.driving, joint.step.driven
            if driven in self.on_stop:
                continue  # its stop takes it
            grip = grip_of(joint, driving)
            turn, there = self.turn(driving, grip), self.turn(driven, grip_of(joint, driven))
            passed = self._ratio(joint, turn, there) * self._sum(applied[driven])
            applied[driving][grip] = applied[driving].get(grip, self.nought) + passed

    def _path_ratio(self, member: str) -> Floats:
        rate = self.nought + 1.0
        for joint in self.run.train.path_to(member):
            driving, driven = joint.step.driving, joint.step.driven
            turn, there = self.turn(driving, grip_of(joint, driving)), self.turn(driven, grip_of(joint, driven))
            rate = rate * self._ratio(joint, turn, there)
        return np.asarray(rate)

    def _send(self, applied: dict[str, dict[str, Floats]], extra: Floats) -> None:
        """Send a torque that its stop takes [N.mm at the holder] down from the driver, joint by joint."""
        for joint in reversed(self.run.train.path_to(self.holder)):
            driving, driven = joint.step.driving, joint.step.driven
            into, out = grip_of(joint, driven), grip_of(joint, driving)
            turn, there = self.turn(driving, out), self.turn(driven, into)
            applied[driven][into] = applied[driven].get(into, self.nought) + extra
            extra = extra * self._ratio(joint, turn, there)
            applied[driving][out] = applied[driving].get(out, self.nought) - extra

    def _sum(self, torque: Mapping[str, Floats]) -> Floats:
        return np.asarray(sum(torque.values(), self.nought))

    def _wind(self, body: _Body) -> None:
        order = sorted(body.station, key=lambda grip: body.station[grip])
        stations = np.array([body.station[grip] for grip in order])
        torques = np.stack([body.torque.get(grip, self.nought) for grip in order])
        turned = torsion.wind_up(stations, torques, body.stiff)
        body.phi = dict(zip(order, turned, strict=True))

    def told(self, settled: NDArray[np.bool_]) -> Twisted:
        """What came out; ``nan`` at the positions that have not settled."""
        run, plates, moved, members = self.run, {}, {}, {}
        for name, body in self.bodies.items():
            order = sorted(body.station, key=lambda grip: body.station[grip])
            stations = np.array([body.station[grip] for grip in order])
            torques = np.stack([body.torque.get(grip, self.nought) for grip in order])
            twist_of = np.degrees(np.stack([body.phi[grip] for grip in order]))
            if self.rig.turning[name].twist is not None:
                carried = torsion.between(stations, torques)
                members[name] = Wound(tuple(order), stations, twist_of, carried, body.held)
            if name not in self.rig.shaft:
                continue
            opens = SIGN[self.rig.shaft[name].opens]
            grips = [grip for grip in body.station if grip.startswith("plate ")]
            against = [body.phi[grip] - body.phi[body.held] for grip in grips]
            plates[name] = np.degrees(opens * np.stack(against))
            moved[name] = np.degrees(opens * np.stack([self.turn(name, g) - self.start[name] for g in grips]))
        plates, moved = ({n: np.where(settled, v, np.nan) for n, v in table.items()} for table in (plates, moved))
        angles = [run.plate_angle[name] + by for name, by in moved.items()]
        return Twisted(run, plates, moved, _spread(moved.values()), _spread(angles), members, bool(np.all(settled)))


def _spread(rows: Iterable[Floats]) -> Floats:
    every = np.concatenate(list(rows))
    return np.asarray(np.max(every, axis=0) - np.min(every, axis=0))


def _near(pose: tuple[Floats, Floats], turn: Floats, slides: bool) -> Floats:
    """Turn [rad] of a pose, the one nearest to another turn."""
    if slides:
        return np.asarray(pose[0])
    c, s = np.cos(turn), np.sin(turn)
    return np.asarray(turn + np.arctan2(pose[1] * c - pose[0] * s, pose[0] * c + pose[1] * s))
