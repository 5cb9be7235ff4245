"""Clocking advice: which levers to turn on their shafts, by how much, and what link lengths go with it.

Nothing is made anew but the links' lengths: radii and pivots stay. The advice is for the largest mismatch
anywhere in the travel; it keeps the limits of the transmission angle and the toggle margin.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from linkage.errors import DesignError, Fault, did_you_mean
from linkage.motion.assembly import table_of
from linkage.parts import SIGN, Arm, Bounds, Linkage, Member, Wish
from linkage.search.freudenstein import agreeing_clockings
from linkage.search.measured import measured
from linkage.search.quick import quick
from linkage.search.sobol import MOST
from linkage.search.task import task
from linkage.tables import length
from linkage.train import split_pin

_WISH = Wish(mismatch=0.1)
_PAIRS_OF = 4  # of so many levers every pair is tried
_NO_GAIN = 1e-3  # [deg]
_SAME_LENGTH = 0.005  # [mm]
_GOOD_ENOUGH = 1.5  # where nothing keeps the limit: fewer levers that come this near to the least
_ALONG_Z = 1.0 - 1e-9


@dataclass(frozen=True, eq=False)
class Turned:
    """One way to clock: ``turns`` [deg, ccw as seen in the drawing] by lever ("member.arm"), the links'
    ``lengths`` [mm] and the largest ``mismatch`` [deg] that come of it; ``rig`` is the design so changed.
    ``ends_agree``: found in closed form, so that two shafts agree exactly at idle and wide open."""

    rig: Linkage
    turns: Mapping[str, float]
    lengths: Mapping[str, float]
    mismatch: float
    ends_agree: bool = False


@dataclass(frozen=True, eq=False)
class Clocking:
    """Clocking advice: as ``drawn``, all ``ways`` that are better than the drawing, the smallest mismatch first,
    and of all these the ``best``: the fewest levers with which the largest mismatch keeps the verdict's
    limit off idle, or, where none does, comes near the least. Where links have a length, one way is to
    turn nothing and to make them fit."""

    drawn: Turned
    best: Turned
    ways: tuple[Turned, ...]

    @property
    def says(self) -> str:
        """The advice in one sentence."""
        if self.best is self.drawn:
            says = f"Leave the levers as they are: {self.drawn.mismatch:.2f}°"
            if not self.ways:
                return f"{says} is the least that was found."
            limit = self.drawn.rig.limits.mismatch_off_idle
            return f"{says} keeps {limit:g}°; the least that was found is {self.ways[0].mismatch:.2f}°."
        told = [f'lever "{lever}" {turn:+.1f}°'.replace("-", "−") for lever, turn in self.best.turns.items()]
        told = [f"turn {', '.join(told)}"] if told else ["leave the levers as they are"]
        told += [
            f'link "{name}" {length(size, self.drawn.rig.units)}'
            for name, size in self.best.lengths.items()
            if not abs(size - self.drawn.lengths[name]) < _SAME_LENGTH
        ]
        says = ", ".join(told)
        return f"{says[0].upper()}{says[1:]}: {self.drawn.mismatch:.2f}° becomes {self.best.mismatch:.2f}°."


def clocking(rig: Linkage, *, levers: Sequence[str] | None = None, within: float = 40.0, seed: int = 1) -> Clocking:
    """Find how to clock the levers for the least mismatch.

    Each lever alone, every pair of a few, and all together are tried; links are made anew to fit.

    Parameters
    ----------
    rig : Linkage
    levers : sequence of str, optional
        Levers that may be turned, "member.arm"; left out, every one that a link holds, on axes along z.
    within : float
        How far each may be turned, either way [deg].
    seed : int
        Of the starts.

    Returns
    -------
    Clocking

    Raises
    ------
    DesignError
        No such lever, or none that can be turned, or only one shaft.

    Examples
    --------
    >>> import linkage
    >>> linkage.clocking(linkage.read("demo/crossed_pair.toml")).says  # doctest: +SKIP

    References
    ----------
    See :mod:`linkage.search.minimax` and :mod:`linkage.search.freudenstein`.
    """
    if len(rig.shaft) < 2:
        raise DesignError([Fault("shaft", "clocking is for two shafts or more")])
    known = _levers(rig)
    for lever in levers or ():
        if lever not in known:
            mend = did_you_mean(lever, known)[2:] or f"levers here: {', '.join(known) or 'none'}"
            raise DesignError([Fault("levers", f'no link holds a lever "{lever}" on an axis along z', mend)])
    chosen = tuple(levers or known)
    if not chosen:
        raise DesignError([Fault("levers", "no link holds a lever on an axis along z, so none can be clocked")])
    bare = _by_angle(rig)
    singles = [(lever,) for lever in chosen]
    pairs = list(combinations(chosen, 2)) if len(chosen) <= _PAIRS_OF else []
    tried = dict.fromkeys([*singles, *pairs, *([chosen] if len(chosen) <= MOST else [])])
    ways = [(_best(bare, choice, within, seed), False) for choice in tried]
    turned: list[tuple[dict[str, float], bool]] = [({}, False), *ways, *_closed_form(bare, chosen)]
    rigs = [_clocked(bare, turns) for turns, _ in turned]
    as_is = measured([rig], _WISH)[0]
    drawn = Turned(rig, {}, _lengths(rig, as_is), as_is["mismatch"])
    found = [
        Turned(_as_given(rig, with_angles, figure), turns, _lengths(rig, figure), figure["mismatch"], ends)
        for (turns, ends), with_angles, figure in zip(turned, rigs, measured(rigs, _WISH), strict=True)
    ]
    better = [way for way in found if way.mismatch < drawn.mismatch - _NO_GAIN or np.isnan(drawn.mismatch)]
    better = sorted((way for way in better if np.isfinite(way.mismatch)), key=lambda way: way.mismatch)
    least = min([way.mismatch for way in better], default=np.inf)
    limit = max(rig.limits.mismatch_off_idle, _GOOD_ENOUGH * least)
    enough = [way for way in (drawn, *better) if way.mismatch <= limit]
    best = min(enough, key=lambda way: (len(way.turns), way.mismatch), default=drawn)
    return Clocking(drawn, best, tuple(better))


def _levers(rig: Linkage) -> tuple[str, ...]:
    """Every arm that a link holds, on an axis along z, in file order."""
    held = {pin for link in rig.link.values() for pin in link.joins}
    return tuple(
        f"{name}.{arm}"
        for name, member in rig.turning.items()
        if abs(member.axis[2]) > _ALONG_Z
        for arm in member.arm
        if f"{name}.{arm}" in held
    )


def _by_angle(rig: Linkage) -> Linkage:
    """The same linkage with its levers given by radius and angle, links fitted, no limit on the mismatch."""

    off = dict.fromkeys(("mismatch_at_idle", "mismatch_off_idle", "mismatch", "mismatch_at_wide_open"), 90.0)
    return dataclasses.replace(
        rig,
        shaft={name: dataclasses.replace(shaft, arm=_polar(shaft)) for name, shaft in rig.shaft.items()},
        bellcrank={name: dataclasses.replace(crank, arm=_polar(crank)) for name, crank in rig.bellcrank.items()},
        link={name: dataclasses.replace(link, length=None) for name, link in rig.link.items()},
        limits=dataclasses.replace(rig.limits, **off),
    )


def _polar(member: Member) -> dict[str, Arm]:
    """The arms of a member, each by radius and angle if its axis lies along z."""
    found = dict(member.arm)
    for name, arm in member.arm.items():
        if arm.pin is not None and abs(member.axis[2]) > _ALONG_Z:
            x, y, z = (p - q for p, q in zip(arm.pin, member.pivot, strict=True))
            radius, angle = math.hypot(x, y), math.degrees(math.atan2(y, x))
            found[name] = dataclasses.replace(arm, pin=None, radius=radius, angle=angle, station=z * member.axis[2])
    return found


def _path(rig: Linkage, lever: str) -> str:
    member, arm = split_pin(lever)
    return f"{table_of(rig, member)}.arm.{arm}.angle"


def _drawn(rig: Linkage, lever: str) -> float:
    member, arm = split_pin(lever)
    angle = rig.turning[member].arm[arm].angle
    assert angle is not None
    return angle


def _best(rig: Linkage, levers: Sequence[str], within: float, seed: int) -> dict[str, float]:
    """Turns [deg] of some levers for the least mismatch."""
    at = np.array([_drawn(rig, lever) for lever in levers])
    free = {_path(rig, lever): Bounds(a - within, a + within) for lever, a in zip(levers, at, strict=True)}
    x, _ = quick(task(rig, _WISH, free), at, seed)
    return {lever: round(float(turn), 4) for lever, turn in zip(levers, x - at, strict=True)}


def _closed_form(rig: Linkage, levers: Sequence[str]) -> Iterator[tuple[dict[str, float], bool]]:
    """Of every link between two shafts: the turn of its second lever with which both ends agree exactly."""
    for link in rig.link.values():
        for lever, other in (link.joins, link.joins[::-1]):
            first, second = split_pin(other)[0], split_pin(lever)[0]
            if lever not in levers or not {first, second} <= set(rig.shaft) or other not in _levers(rig):
                continue
            one, two = rig.shaft[first], rig.shaft[second]
            turns = [SIGN[s.opens] * s.axis[2] * (s.plate_angle.wide_open - s.plate_angle.idle) for s in (one, two)]
            arms = [rig.turning[split_pin(pin)[0]].arm[split_pin(pin)[1]] for pin in (other, lever)]
            found = agreeing_clockings(
                centres=(two.pivot[0] - one.pivot[0], two.pivot[1] - one.pivot[1]),
                radii=(arms[0].radius or 0.0, arms[1].radius or 0.0),
                first_angle=arms[0].angle or 0.0,
                turns=(turns[0], turns[1]),
            )
            by = [math.remainder(clocking.angle - _drawn(rig, lever), 360.0) for clocking in found]
            if by and abs(least := min(by, key=abs)) > 1e-6:
                yield {lever: least}, True


def _clocked(rig: Linkage, turns: Mapping[str, float]) -> Linkage:
    for lever, turn in turns.items():
        rig = rig.replace(_path(rig, lever), _drawn(rig, lever) + turn)
    return rig


def _lengths(rig: Linkage, figure: Mapping[str, float]) -> dict[str, float]:
    return {name: figure[f"length:{name}"] for name in rig.link}


def _as_given(rig: Linkage, turned: Linkage, figure: Mapping[str, float]) -> Linkage:
    """The design with what was turned, each thing in the way in which the file gives it."""
    for lever in _levers(rig):
        member, arm = split_pin(lever)
        before, after = rig.turning[member].arm[arm], turned.turning[member].arm[arm]
        angle, radius = after.angle or 0.0, after.radius or 0.0
        at = f"{table_of(rig, member)}.arm.{arm}"
        if before.pin is None:
            if before.angle != angle:
                rig = rig.replace(f"{at}.angle", angle)
            continue
        x, y = rig.turning[member].pivot[:2]
        place = (x + radius * math.cos(math.radians(angle)), y + radius * math.sin(math.radians(angle)))
        if math.dist(place, before.pin[:2]) > 1e-9:
            rig = rig.replace(f"{at}.pin.x", place[0]).replace(f"{at}.pin.y", place[1])
    for name, link in rig.link.items():
        if link.length is not None:
            rig = rig.replace(f"link.{name}.length", figure[f"length:{name}"])
    return rig
