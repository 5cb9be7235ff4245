r"""The snail quadrant that gives a wished progression: its moment arm worked out, not searched for.

The wish names shares of the cable's travel at which shares of the opening are reached. The closure run
backwards says at which driver turn the plates have opened so far, exactly; the travel is the integral
of the moment arm over the turn, so every wished point, the whole travel, and the ratio of the gains at
the two ends are each one equation for the moment arm. Of all profiles that fulfil them, all exactly
(but for the last digit written), the smoothest is taken: the least sum of the squares of its second differences::

    travel at turn_i          = share_i x whole travel
    arm at idle x speed at wide open  =  ratio x arm at wide open x speed at idle     speed: d(plate)/d(turn)

Without a wish in between this is a round quadrant, with a single one an Archimedean spiral. The equations
are nearly linear in the moment arms at the points; a few steps of Newton's method solve them, each the least
change by Lagrange's multipliers.

References
----------
Own derivation. Least squares under linear conditions: J. Nocedal and S. J. Wright, *Numerical
Optimization*, Springer 2006, §16.1 (from memory).
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage.answers.quadrant import QuadrantReport, checks, quadrant_report
from linkage.errors import DesignError, Fault
from linkage.motion import Motion, SnailCable, driver_turn, solve
from linkage.parts import SIGN, Cable, Linkage, ProfilePoint, Wish, dimensions
from linkage.quantities import own_scale

Floats = NDArray[np.float64]

#: points of a profile, unless set
POINTS = 13
_STEPS = 60
_MET = 1e-10  # the last step, as a share of the longest arm
_EVEN = 1e-6  # weight of the first differences beside the second: of profiles as smooth, the more even
_DECIMALS = 4  # of turns [deg] and moment arms [mm] as they are written


@dataclass(frozen=True, eq=False)
class Snail:
    """A snail quadrant for a wish: the design ``before`` and ``after``, solved; ``rig`` the one after.

    ``wish`` is what was asked; ``turns`` [deg] and ``arms`` [mm] are the profile, ``reached`` the share of the opening
    at every wished share of travel; ``report`` judges the groove.
    """

    before: Motion
    after: Motion
    wish: Wish
    turns: Floats
    arms: Floats
    reached: Floats
    report: QuadrantReport

    @property
    def sound(self) -> bool:
        """Whether the groove can be cut: no check of it fails."""
        return all(check.verdict != "fail" for check in checks(self.after, self.report))

    @property
    def wished(self) -> list[tuple[float, float]]:
        """The wished points between the ends: share of travel, share of opening."""
        return _wished(self.wish)

    @property
    def rig(self) -> Linkage:
        """The design with its snail quadrant."""
        return self.after.rig


def snail(rig: Linkage, *, wish: Wish | None = None, points: int = POINTS) -> Snail:
    """Work out the snail quadrant that opens the first-named shaft as wished.

    Parameters
    ----------
    rig : Linkage
        With a cable, on whatever; the driver carries the quadrant, and the pull turns it the way that opens.
    wish : Wish, optional
        Its ``progression``, ``progression_ratio`` and ``cable_travel`` [mm] count; left out, the design's own.
        Without a ``cable_travel`` the travel stays as it is.
    points : int
        Points of the profile, from the closing to the opening stop, from 3 to 20.

    Returns
    -------
    Snail

    Raises
    ------
    DesignError
        The design has no cable, or does not open throughout; or no moment arm above 0 does what is wished.

    Examples
    --------
    >>> import linkage
    >>> from linkage.parts import Wish
    >>> rig = linkage.read("demo/crossed_pair_reclocked.toml")  # doctest: +SKIP
    >>> linkage.snail(rig, wish=Wish(progression=((0.5, 0.4),))).arms  # doctest: +SKIP
    """
    if not 3 <= points <= 20:
        raise ValueError(f"points: must be from 3 to 20, got {points}")
    asked = wish or rig.wish or Wish()
    before = solve(rig)
    whole = _travel(before, asked)
    first, last = before.ends
    if abs(last - first) < 1e-6:
        raise _refused("travel", "there is none to lay a quadrant out for", "mend the stops first")
    wished = _wished(asked)
    if len(wished) + 2 > points - 1:
        raise _refused("wish", f"has {len(wished)} points of progression, too many for {points} points of a profile",
                       "give the profile at least three points more than the wish has")  # fmt: skip
    if any(b[1] <= a[1] for a, b in pairwise([(0.0, 0.0), *wished, (1.0, 1.0)])):
        raise _refused("wish, progression", "does not open throughout", "let the openings rise with the travel")
    at = [_turn_opened(before, opening) for _, opening in wished]
    turns = np.round(np.linspace(first, last, points), _DECIMALS)
    turns[0], turns[-1] = _outwards(first, first - last), _outwards(last, last - first)
    shares = np.array([share for share, _ in wished])
    arms = _solved(before, asked, turns, np.array(at), shares, whole)
    after = solve(_with(before, turns, arms))
    reached = _opened(after, shares)
    report = quadrant_report(after)
    assert report is not None
    return Snail(before, after, asked, turns, arms, reached, report)


def _wished(wish: Wish) -> list[tuple[float, float]]:
    """The wished points between the ends, by their share of travel."""
    return sorted((share, opening) for share, opening in wish.progression or () if 0.0 < share < 1.0)


def moment_arm(run: Motion, turn: ArrayLike, gain: ArrayLike) -> Floats:
    """Moment arm that gives a gain at driver turns, exactly, from the train's own velocity ratio.

    Parameters
    ----------
    run : Motion
    turn : array_like, shape (n,)
        Driver turns [deg].
    gain : array_like, shape (n,) or ()
        Wanted of the first-named shaft there: degrees of plate per mm of cable.

    Returns
    -------
    ndarray, shape (n,)
        [mm].
    """
    at = run.at(turn)
    speed = np.abs(at.plate_speed[next(iter(run.rig.shaft))])
    return np.asarray(np.degrees(speed) / np.asarray(gain, float))


def _outwards(turn: float, way: float) -> float:
    """An end of the travel [deg] as it is written: not short of it."""
    size = 10.0**_DECIMALS
    return float((np.ceil if way > 0.0 else np.floor)(np.round(turn * size, 3)) / size)


def _travel(run: Motion, wish: Wish) -> float:
    """Cable travel [mm] that the quadrant is to take between the stops."""
    if run.rig.cable is None or run.cable is None:
        raise _refused("cable", "is missing, so there is nothing to lay a quadrant out for", "add [cable]")
    whole = wish.cable_travel or abs(float(run.at(run.ends[1]).cable[0]))  # type: ignore[index]
    if not whole > 0.0:
        raise _refused("cable", "takes no travel between the stops", "wish a cable_travel")
    return float(whole)


def _turn_opened(run: Motion, opening: float) -> float:
    """Driver turn [deg] at which the first-named shaft has opened by a share of its travel."""
    name = next(iter(run.rig.shaft))
    low, high = (float(run.at(end).member_turn[name][0]) for end in run.ends)
    speed = run.plate_speed[name] * run.train.opens
    if not np.all(speed > 0.0):
        raise _refused(f"shaft {name}", "does not open throughout the travel", "mend the linkage first: see check")
    turn = driver_turn(run.train, name, np.radians(low + opening * (high - low)))
    return float(np.degrees(turn))


def _solved(run: Motion, wish: Wish, turns: Floats, at: Floats, shares: Floats, whole: float) -> Floats:
    """Moment arms [mm] at the points, by Newton's method."""
    count = len(turns)
    first, last = np.radians(run.ends)
    bend = np.diff(np.eye(count), 2, axis=0)  # second differences: the points stand evenly
    even = np.diff(np.eye(count), 1, axis=0)
    hessian = bend.T @ bend + _EVEN * even.T @ even
    ends = np.append(np.radians(at), last)
    want = np.append(shares, 1.0) * whole
    arms = np.full(count, whole / abs(last - first))
    for _ in range(_STEPS):
        line = _line(run, turns, arms)
        by = line.by_arms(ends, first)
        rows = np.array([by[str(i + 1)][0] for i in range(count)]).T
        off = line.sense * (line.arm.integral(ends) - line.arm.integral(first)) - want
        if wish.progression_ratio is not None:
            row, short = _ratio(run, line, wish.progression_ratio)
            rows, off = np.vstack([rows, row]), np.append(off, short)
        size = len(off)
        matrix = np.block([[hessian, rows.T], [rows, np.zeros((size, size))]])
        rough = bend.T @ (bend @ arms) + _EVEN * even.T @ (even @ arms)  # so that nothing is lost to rounding
        step = np.linalg.lstsq(matrix, np.concatenate([-rough, -off]), rcond=None)[0][:count]
        share = 1.0
        while np.min(arms + share * step) <= 0.0 and share > 1e-3:
            share *= 0.5
        arms = arms + share * step
        if np.min(arms) <= 0.0 or share <= 1e-3:
            break
        if share == 1.0 and np.max(np.abs(step)) <= _MET * np.max(arms):
            return _written(run.rig, arms)
    worst = turns[int(np.argmin(arms))]
    says = f"no moment arm above 0 does all of this: it comes to nothing near {worst:.1f} degrees of driver turn"
    raise _refused("wish", says, "wish a gentler progression, or fewer points of it")


def _written(rig: Linkage, arms: Floats) -> Floats:
    """Moment arms [mm] in as many digits of the design's unit as a shop can use."""
    scale = own_scale(rig.units, "length")
    return np.asarray(np.round(arms / scale, _DECIMALS + (rig.units == "in")) * scale)


def _ratio(run: Motion, line: SnailCable, ratio: float) -> tuple[Floats, float]:
    """What the wished ratio of the gains wants of the moment arms: its slopes and how far it is off [mm]."""
    name = next(iter(run.rig.shaft))
    low, high = (float(s) for s in run.at(run.ends).plate_speed[name])
    first, last = np.radians(run.ends)
    idle, wide = (line.by_arms(end, first) for end in (first, last))
    slope = np.array([high * idle[str(i + 1)][1] - ratio * low * wide[str(i + 1)][1] for i in range(len(line.names))])
    off = line.sense * (high * line.arm.value(first) - ratio * low * line.arm.value(last))
    size = max(abs(low), abs(high))
    return slope / size, float(off / size)


def _line(run: Motion, turns: Floats, arms: Floats) -> SnailCable:
    """The cable of a profile."""
    from linkage.motion.snail import snail_cable

    rig = _with(run, turns, arms)
    train = dataclasses.replace(run.train, rig=rig, dims=dimensions(rig))
    return snail_cable(train)


def _with(run: Motion, turns: Floats, arms: Floats) -> Linkage:
    """The design with a profile, its cable on a quadrant of the driver whose pull opens."""
    rig, cable = run.rig, run.rig.cable or Cable()
    profile = {
        str(i + 1): ProfilePoint(str(i + 1), float(turn), float(arm))
        for i, (turn, arm) in enumerate(zip(turns, arms, strict=True))
    }
    opens = next(word for word, sign in SIGN.items() if sign == float(run.train.opens))
    made = dataclasses.replace(
        cable,
        pulls=None,
        quadrant=rig.driver,
        radius=None,
        profile=profile,
        pull_turns=opens,  # type: ignore[arg-type]
    )
    changed = dataclasses.replace(rig, cable=made, changes=(*rig.changes, ("cable.profile", None)))
    known = {*dimensions(changed), *(f"link.{name}.length" for name in rig.link)}
    free = {path: bounds for path, bounds in rig.free.items() if path in known}
    return dataclasses.replace(changed, free=free)


def _opened(run: Motion, shares: Floats) -> Floats:
    """Share of the opening of the first-named shaft at shares of the cable's travel."""
    name = next(iter(run.rig.shaft))
    first, last = (float(run.at(end).plate_angle[name][0]) for end in run.ends)
    if not len(shares):
        return shares
    return np.asarray((run.at_fraction(shares).plate_angle[name] - first) / (last - first))


def _refused(place: str, says: str, mend: str) -> DesignError:
    return DesignError([Fault(place, says, mend)])
