r"""Springs and friction on a train: what each does about its own member, and how it adds up.

::

      extension spring                              virtual work, joint by joint from the tips inwards

            A  anchor                               load(m) = own torque(m) + sum over the joints it drives
           /                                                  of  ratio x load(driven)
          /  pull                                   load(driver) = sum over all members of
         /                                                         own torque x d(turn)/d(driver turn)
        P  pin          arm = u.((P-O) x (A-P)/|A-P|)
       /                                            tension in a link = - load(driven) / moment arm of
    O o                                                                 the link about the driven axis

Torques count ccw about the member's own axis inside this module, and *closing* (positive shuts) at
its doors. A *torsion* spring closes its member with ``preload + rate x opening from drawn``, never
less than nothing: what would push open is reported, not used. An *extension* spring pulls its pin
straight to the anchor, in space, with ``initial tension + rate x stretch``; nothing when slack. The
friction torque of a member acts against its turning, whichever way that is. What acts on a block that
slides counts as a torque too, on its turn: the force along its guide times :data:`linkage.closure.SLIDING`.

The ground of :mod:`forces`, :mod:`faults` and :mod:`lost_motion`.

References
----------
J. E. Shigley and C. R. Mischke, *Mechanical Engineering Design*, McGraw-Hill, chapter "Mechanical
springs" (extension springs with initial tension, torsion springs; from memory). Virtual work on a
train of one degree of freedom: R. L. Norton, *Design of Machinery*, McGraw-Hill, chapter "Dynamic
force analysis", section on virtual work (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers.extremes import Extreme
from linkage.motion import Motion, Train
from linkage.motion.assembly import arm_frame
from linkage.parts import SIGN, Spring
from linkage.quantities import own_scale, own_unit
from linkage.train import split_pin

Floats = NDArray[np.float64]

#: a closing torque below this is none [N.mm]: rounding
NOTHING = 1e-9

#: springs over friction, all parts whole; common practice, no source
RETURN_RATIO = 2.0

#: positions that carry a smooth curve of forces to about a millionth of its size between them
FINE = 721


@dataclass(frozen=True, eq=False)
class SpringAction:
    """What one spring does; arrays over the positions.

    ``closing`` [N.mm] is its torque about the axis of its ``member``, positive where it shuts. A
    torsion spring has ``wound`` [N.mm], its torque before what would push open is left out. An
    extension spring has its ``pull`` [N], its ``stretch`` [mm] (below 0: slack) and the moment
    ``arm`` [mm] of its line, positive where a pull shuts. On a block that slides ``closing`` and ``arm``
    are the force along its guide, and its share of the pull, times :data:`linkage.closure.SLIDING`.
    """

    member: str
    closing: Floats
    wound: Floats | None = None
    pull: Floats | None = None
    stretch: Floats | None = None
    arm: Floats | None = None


class Loads(NamedTuple):
    """Torque ``at`` every member [N.mm, ccw] of itself and all that it drives, and ``link`` tension [N]."""

    at: dict[str, Floats]
    link: dict[str, Floats]


def opening_senses(train: Train) -> dict[str, float]:
    """The turn (+1 ccw, -1 cw) that opens each member: of a shaft as the design says, else with the train.

    Of a bell crank as the train moves it in the drawn position.
    """
    with_train = {name: float(np.nan_to_num(train.opens * sense)) or 1.0 for name, sense in train.sense.items()}
    return with_train | {name: SIGN[shaft.opens] for name, shaft in train.rig.shaft.items()}


def member_of(spring: Spring) -> str:
    """Name of the member that a spring acts on."""
    return spring.on if spring.on is not None else split_pin(spring.pulls or "")[0]


def actions(run: Motion, senses: Mapping[str, float] | None = None) -> dict[str, SpringAction]:
    """What every spring does at the positions of a motion.

    Parameters
    ----------
    run : Motion
    senses : mapping of str to float, optional
        Opening turn of each member, if not that of :func:`opening_senses`: a part of a broken
        train keeps the springs as they were wound for the whole.

    Returns
    -------
    dict of str to SpringAction
        Torques [N.mm], forces [N], lengths [mm], shape (n,) each.
    """
    senses = opening_senses(run.train) if senses is None else senses
    return {name: action(run, spring, senses) for name, spring in run.rig.spring.items()}


def action(run: Motion, spring: Spring, senses: Mapping[str, float]) -> SpringAction:
    """What one spring does at the positions of a motion, of which only its own member's turns are asked."""
    return _torsion(run, spring, senses) if spring.on is not None else _extension(run, spring, senses)


def _torsion(run: Motion, spring: Spring, senses: Mapping[str, float]) -> SpringAction:
    member = member_of(spring)
    wound = spring.preload + spring.rate * senses[member] * run.member_turn[member]
    return SpringAction(member, np.maximum(wound, 0.0), wound=wound)


def _extension(run: Motion, spring: Spring, senses: Mapping[str, float]) -> SpringAction:
    member, name = split_pin(spring.pulls or "")
    frame = arm_frame(run.rig, run.train.dims, member, name)
    at = closure.pin(frame, *run.pose[member])
    line = closure.minus(spring.anchor or (0.0, 0.0, 0.0), at)
    length = np.sqrt(closure.dot(line, line))
    stretch = length - (spring.free_length or 0.0)
    pull = np.where(stretch >= 0.0, spring.initial_tension + spring.rate * stretch, 0.0)
    turning = closure.dot(closure.tangent(frame, *run.pose[member]), line)
    arm = -senses[member] * turning / np.maximum(length, 1e-12)
    return SpringAction(member, pull * arm, pull=pull, stretch=stretch, arm=arm)


def spring_torque(
    run: Motion, springs: Iterable[str] | None = None, senses: Mapping[str, float] | None = None
) -> dict[str, Floats]:
    """Torque [N.mm, ccw] of the springs on every member, of those named or of all; shape (n,) each."""
    senses = opening_senses(run.train) if senses is None else senses
    kept = set(run.rig.spring if springs is None else springs)
    found = {name: np.zeros_like(run.turn) for name in run.rig.members}
    for name, action in actions(run, senses).items():
        if name in kept:
            found[action.member] = found[action.member] - senses[action.member] * action.closing
    return found


def closing_at_driver(run: Motion, torque: Mapping[str, Floats]) -> Floats:
    """Closing torque [N.mm] of the springs about the driver, by virtual work, without friction; shape (n,)."""
    acting = {name: speed for name, speed in run.speed.items() if np.any(torque[name])}
    with np.errstate(invalid="ignore"):  # a travel that ends on a dead point ends with speeds without bound
        work = sum((torque[name] * speed for name, speed in acting.items()), np.zeros_like(run.turn))
    return np.asarray(-float(run.train.opens) * work)


def friction_at_driver(run: Motion) -> Floats:
    """Friction of every member about the driver [N.mm], never negative; shape (n,)."""
    rubs = {name: member.friction_torque for name, member in run.rig.members.items() if member.friction_torque}
    return np.asarray(sum((torque * np.abs(run.speed[name]) for name, torque in rubs.items()), np.zeros_like(run.turn)))


def closing_at_shaft(run: Motion, shaft: str, springs: Floats, friction: Floats) -> Floats:
    """Closing torque at a shaft [N.mm] from that of the ``springs`` and the ``friction`` at the driver.

    By virtual work, d(driver)/d(shaft); friction is against the closing. ``nan`` where the shaft
    stands still while the driver turns (its driving arm is in line with the link).
    """
    speed = float(run.train.opens) * run.plate_speed[shaft]
    moving = np.where(np.abs(speed) < 1e-12, np.nan, speed)
    with np.errstate(invalid="ignore"):
        return np.asarray(springs / moving - friction / np.abs(moving))


def loads(run: Motion, torque: Mapping[str, Floats], *, opening: bool) -> Loads:
    """Torque that reaches every member from beyond it, and the tension in every link.

    Parameters
    ----------
    run : Motion
    torque : mapping of str to ndarray
        Of the springs on every member [N.mm, ccw], :func:`spring_torque`.
    opening : bool
        Which way the train moves: friction is against it.

    Returns
    -------
    Loads
        Without bound where a link stands at a dead point of the arm that it drives. A slotted link or a tang
        that is not taken up carries nothing.
    """
    way = float(run.train.opens) * (1.0 if opening else -1.0)
    at = {
        name: torque[name] - member.friction_torque * np.sign(way * run.speed[name])
        for name, member in run.rig.members.items()
    }
    tension: dict[str, Floats] = {}
    with np.errstate(divide="ignore", invalid="ignore"):
        for joint in reversed(run.train.joints):
            step, ratio = joint.step, joint.ratio
            if joint.forward is not None:
                here = closure.rates(joint.forward, *run.pose[step.driving], *run.pose[step.driven])
                ratio = here.ratio
                tension[step.by.name] = -at[step.driven] * joint.working / (joint.forward.r * here.moment)
            passed = at[step.driven]
            if joint.slack:  # pushes to open only, and only once it is taken up
                closes = float(run.train.opens * run.train.sense[step.driven]) * passed < 0.0
                bears = closes & joint.bears(joint.driving_turn(run.pose[step.driving]))
                passed = np.where(bears, passed, 0.0)
                if joint.forward is not None:
                    tension[step.by.name] = np.where(bears, tension[step.by.name], 0.0)
            at[step.driving] = at[step.driving] + ratio * passed
    return Loads(at, {name: tension[name] for name in run.rig.link})


def throughout(run: Motion) -> Motion:
    """The motion at positions fine enough for the extremes of every force at once, either side of every kink."""
    return run.at(np.concatenate([np.linspace(*piece, FINE) for piece in run.pieces()]))


def least(run: Motion, values: Floats) -> Extreme:
    """Lowest of the values at the positions of a motion; ``nan`` where none is known."""
    if np.all(np.isnan(values)):
        return Extreme(np.nan, np.nan, np.nan)
    at = int(np.nanargmin(values))
    return Extreme(float(values[at]), float(run.turn[at]), float(run.fraction[at]))


def most(run: Motion, values: Floats) -> Extreme:
    """Highest of the values at the positions of a motion; ``nan`` where none is known."""
    value, turn, fraction = least(run, -values)
    return Extreme(-value, turn, fraction)


def force_text(newtons: float, units: str) -> str:
    """A force with its unit as a sentence says it: ``"23.4 N"`` or ``"5.26 lbf"``."""
    return _text(newtons / own_scale(units, "force"), own_unit(units, "force"))


def torque_text(torque: float, units: str) -> str:
    """A torque [N.mm] with its unit as a sentence says it: ``"123 N·mm"`` or ``"1.09 lbf·in"``."""
    return _text(torque / own_scale(units, "torque"), own_unit(units, "torque"))


def _text(value: float, unit: str) -> str:
    if not np.isfinite(value):
        return f"no bound, in {unit}"
    digits = 0 if abs(value) >= 100.0 else 1 if abs(value) >= 10.0 else 2
    shown = f"{value:.{digits}f}"
    return f"{shown[1:] if shown.startswith('-') and not float(shown) else shown} {unit}"
