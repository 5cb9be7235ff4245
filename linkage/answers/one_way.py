r"""Loads through joints that push one way: what a slotted link or a tang carries, and what it does not.

::

      driver's side                    staged side               while the slot is open nothing passes;
    springs, friction    (  o==)==o  springs, friction           taken up, the staged side's springs load
                          slot                                   the driver's, never the other way about:
                                                                 closing, the driver's side walks away from it

A *side* is all that moves together without slack; its *root* is the member through which it is driven.
By virtual work on each side from the tips inwards::

    about the root = springs of the side -+ its friction + over the slack joints it drives, where taken up,
                     ratio x max(what comes back through the joint, 0)

so a staged side is closed by its own springs alone. With the other end of its slot a link can still
push shut what hangs (:func:`pushing`); a tang cannot. Closing torques are positive where they shut.

References
----------
Virtual work: R. L. Norton, *Design of Machinery*, McGraw-Hill, "Dynamic force analysis" (from memory). The
one-way conditions (a contact only pushes): own derivation.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers import springs
from linkage.motion import Motion
from linkage.motion.assembly import Joint
from linkage.parts import Coupling, Link, Linkage
from linkage.train import order, slack_of

Floats = NDArray[np.float64]
Friction = Literal[-1, 0, 1]  # against the closing, left out, against the opening


def is_staged(rig: Linkage) -> bool:
    """Whether any link is slotted or any coupling is a tang."""
    joints: list[Link | Coupling] = [*rig.link.values(), *rig.coupling.values()]
    return any(slack_of(by) for by in joints)


def roots(rig: Linkage) -> dict[str, str]:
    """The root of the side that every member is on."""
    found = {rig.driver: rig.driver}
    for step in order(rig):
        found[step.driven] = step.driven if slack_of(step.by) else found[step.driving]
    return found


def slotted(rig: Linkage) -> dict[str, str]:
    """The root of the driving side of every side that is driven through a slotted link, by its own root."""
    root = roots(rig)
    return {step.driven: root[step.driving] for step in order(rig) if slack_of(step.by) == "slot"}


def behind(rig: Linkage, side: str) -> tuple[str, ...]:
    """A side and those, one behind the other, that can push it shut by the end of a slot."""
    driving = slotted(rig).get(side)
    return (side,) if driving is None else (side, *behind(rig, driving))


def pusher(rig: Linkage, side: str, by_itself: Mapping[str, bool]) -> str:
    """The nearest side behind one that closes by itself; the side itself where none does."""
    return next((other for other in behind(rig, side) if by_itself[other]), side)


def bearing(run: Motion, joint: Joint) -> NDArray[np.bool_]:
    """Whether a joint carries its driven member at each position; always, unless it has slack, shape (n,)."""
    if not joint.slack:
        return np.ones(run.turn.shape, bool)
    return np.broadcast_to(joint.bears(joint.driving_turn(run.pose[joint.step.driving])), run.turn.shape)


def resting(run: Motion, member: str) -> NDArray[np.bool_]:
    """Whether a member rests at each position, slack on the way to it not yet taken up, shape (n,)."""
    still = np.zeros(run.turn.shape, bool)
    for joint in run.train.path_to(member):
        still |= ~bearing(run, joint)
    return still


def about_roots(run: Motion, torque: Mapping[str, Floats], friction: Friction) -> dict[str, Floats]:
    """Closing torque [N.mm] about the root of every side, of its own and of what comes back through slack joints.

    Parameters
    ----------
    run : Motion
    torque : mapping of str to ndarray
        Of the springs on every member [N.mm, ccw], :func:`linkage.answers.springs.spring_torque`.
    friction : int
        -1: against the closing; 1: against the opening; 0: left out.
    """
    if not is_staged(run.rig):
        closes = springs.closing_at_driver(run, torque)
        return {run.rig.driver: closes + friction * springs.friction_at_driver(run) if friction else closes}
    return _summed(run, torque, friction, roots(run.rig), taut=False)


def pushing(run: Motion, torque: Mapping[str, Floats], root: Mapping[str, str]) -> dict[str, Floats]:
    """Closing torque less friction [N.mm] about the root of every side while slots push shut what hangs.

    Parameters
    ----------
    run : Motion
        Of the linkage without its slots.
    torque : mapping of str to ndarray
        As for :func:`about_roots`.
    root : mapping of str to str
        Of the linkage with its slots, :func:`roots`.
    """
    return _summed(run, torque, -1, root, taut=True)


def _summed(
    run: Motion, torque: Mapping[str, Floats], friction: Friction, root: Mapping[str, str], *, taut: bool
) -> dict[str, Floats]:
    train, ratio = run.train, _ratios(run)
    opening = {name: float(train.opens * train.sense[name]) or 1.0 for name in run.rig.members}
    speed = {name: np.ones_like(run.turn) for name in set(root.values())}
    with np.errstate(invalid="ignore"):
        for joint in train.joints:
            by, driven = joint.step.driving, joint.step.driven
            if root[driven] != driven:
                speed[driven] = ratio[driven] * speed[by]
        # about every root, while it closes and (friction the other way round) while it opens
        found = {(name, way): np.zeros_like(run.turn) for name in set(root.values()) for way in (1, -1)}
        for (side, way), name in itertools.product(found, run.rig.members):
            if root[name] == side:
                rubs = way * friction * run.rig.members[name].friction_torque * np.abs(speed[name])
                found[side, way] = found[side, way] - opening[side] * torque[name] * speed[name] + rubs
        for joint in reversed(train.joints):
            by, driven = joint.step.driving, joint.step.driven
            if root[driven] != driven or (taut and joint.slack):  # no slack; or a tang, which pushes nothing shut
                continue
            side, bears = root[by], taut | bearing(run, joint)
            carried = opening[side] * opening[driven] * ratio[driven] * speed[by]
            for way in (1, -1):  # beyond a dead centre the driven side goes the other way
                net = np.where(carried >= 0.0, found[driven, way], found[driven, -way])
                back = np.minimum(net, 0.0) if taut else np.maximum(net, 0.0)
                found[side, way] = found[side, way] + np.where(bears, back * carried, 0.0)
    return {side: found[side, 1] for side in set(root.values())}


def _ratios(run: Motion) -> dict[str, Floats]:
    """Velocity ratio of the joint that drives each member, as if it bore, shape (n,) each."""
    found = {}
    for joint in run.train.joints:
        ratio = joint.ratio
        if joint.forward is not None:
            at, there = run.pose[joint.step.driving], run.pose[joint.step.driven]
            ratio = closure.rates(joint.forward, *at, *there).ratio
        found[joint.step.driven] = np.broadcast_to(np.asarray(ratio, float), run.turn.shape)
    return found


def shaft_speed(run: Motion, shaft: str, root: Mapping[str, str] | None = None) -> Floats:
    """d(plate angle)/d(opening of the root of its side) of a shaft, shape (n,); 1 for a root that is a shaft."""
    train, ratio = run.train, _ratios(run)
    side = (roots(run.rig) if root is None else root)[shaft]
    speed = np.ones_like(run.turn)
    for joint in reversed(train.path_to(shaft)):
        if joint.step.driven == side:
            break
        speed = speed * ratio[joint.step.driven]
    opening, opens = train.opens * train.sense[side], train.shaft_opens[shaft] * train.sense[shaft]
    return np.asarray(float(opening * opens) * speed)


def at_shaft(run: Motion, shaft: str, torque: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """Closing torque of the springs at a shaft, and the friction against it [N.mm], shape (n,) each.

    Of everything on its own side of every slack joint, and of what comes back through slack. ``nan`` where the
    shaft stands still while the root of its side turns.
    """
    if not is_staged(run.rig):
        speed = float(run.train.opens) * run.plate_speed[shaft]
        pull, rubs = springs.closing_at_driver(run, torque), springs.friction_at_driver(run)
    else:
        side, speed = roots(run.rig)[shaft], shaft_speed(run, shaft)
        pull = about_roots(run, torque, 0)[side]
        rubs = pull - about_roots(run, torque, -1)[side]
    moving = np.where(np.abs(speed) < 1e-12, np.nan, speed)
    with np.errstate(invalid="ignore"):
        return np.asarray(pull / moving), np.asarray(rubs / np.abs(moving))
