r"""Lost motion: how far each plate can be rocked while the driver is held.

::

      play of one pin: all its shake in the hole        link with two pins: its working length may vary by
                                                        2 x play, and the driven arm swings through
         |<- play ->|
         (  o       )        (       o  )                          2 x play
       one end of the shake  and the other        lost motion = ------------   [rad]
                                                                 r sin(mu)

``r sin(mu)`` is the moment arm of the link about the driven axis (mu the transmission angle). Down
the train what is lost before is carried through the velocity ratio of each joint, and each joint
adds its own; a coupling adds its whole shake at the member that it drives. The figure is the whole
rock from one side to the other: half of it late while opening, half while closing. Springs that
load every joint on the way to a shaft in one direction, opening and closing, keep the play on one
side: then it shows only when the joint is forced, and does not come between the shafts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers import extremes, one_way, springs
from linkage.answers.checks import Check, percent
from linkage.answers.extremes import Extreme
from linkage.motion import Motion
from linkage.parts import Linkage

Floats = NDArray[np.float64]

#: more than this at a plate [deg] is worth mending; common practice, no source
LOST = 0.2

_LOADED = 1e-9  # [N, N.mm] a joint that carries less carries nothing


@dataclass(frozen=True, eq=False)
class LostMotion:
    """Lost motion at every shaft [deg], the whole rock from side to side.

    A slot or the gap of a tang is no play: it is there on purpose, and a shaft that rests has none.
    ``curve`` over the positions, ``at_idle`` at the closing stop, ``largest`` over the travel.
    ``taken_up`` says whether springs hold every joint on the way to the shaft to one side, opening
    and closing; None where the design names no spring.
    """

    curve: Mapping[str, Floats]
    at_idle: Mapping[str, float]
    largest: Mapping[str, Extreme]
    taken_up: Mapping[str, bool] | None


def lacks(rig: Linkage) -> str:
    """What the design must say before lost motion can be told, in one sentence; empty where nothing lacks."""
    if rig.play is not None:
        return ""
    return "Lost motion is not judged: add a [play] table with the shake of a pin in its hole (pin) and of a coupling."


def lost_motion(run: Motion) -> LostMotion | None:
    """Lost motion of a solved motion; None where :func:`lacks` says why.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    LostMotion or None
        [deg]; a shaft that is itself the driver has none.
    """
    if lacks(run.rig):
        return None
    shafts = run.rig.shaft
    idle = rocks(run.at(run.ends[0]))
    curve = rocks(run)
    return LostMotion(
        curve={name: curve[name] for name in shafts},
        at_idle={name: float(idle[name][0]) for name in shafts},
        largest={
            name: extremes.highest(run, lambda at, name=name: rocks(at)[name])  # type: ignore[misc]
            for name in shafts
        },
        taken_up=_taken_up(run) if run.rig.spring else None,
    )


def rocks(run: Motion) -> dict[str, Floats]:
    """How far every member can be rocked while the driver is held [deg], shape (n,) each.

    Without bound where a link stands at the dead point of the arm that it drives.
    """
    play = run.rig.play
    assert play is not None
    found = {run.rig.driver: np.zeros_like(run.turn)}
    with np.errstate(divide="ignore", invalid="ignore"):
        for joint in run.train.joints:
            step, ratio = joint.step, joint.ratio
            own = np.full_like(run.turn, play.coupling)
            bears = one_way.bearing(run, joint)
            if joint.forward is not None and joint.driving is not None and joint.driven is not None:
                at, there = run.pose[step.driving], run.pose[step.driven]
                ratio = closure.rates(joint.forward, *at, *there).ratio
                per_mm = closure.sensitivity(joint.driving, joint.driven, *at, *there).length
                own = np.degrees(2.0 * play.pin * np.abs(per_mm)) * np.ones_like(run.turn)
            # a slot or a tang not yet taken up hands nothing on: what it drives rests on its stop
            found[step.driven] = np.where(bears, np.abs(ratio) * found[step.driving] + own, 0.0)
    return found


def _taken_up(run: Motion) -> dict[str, bool]:
    """Whether every joint on the way to each shaft is loaded in one direction, opening and closing."""
    fine = springs.throughout(run)
    torque = springs.spring_torque(fine)
    both = [springs.loads(fine, torque, opening=way) for way in (True, False)]
    one_sided = {}
    for joint in run.train.joints:
        name = joint.step.by.name
        carried = np.stack([way.link[name] if joint.forward is not None else way.at[joint.step.driven] for way in both])
        carried = carried[:, one_way.bearing(fine, joint)]
        one_sided[joint.step.driven] = bool(np.all(carried > _LOADED) or np.all(carried < -_LOADED))
    return {name: all(one_sided[joint.step.driven] for joint in run.train.path_to(name)) for name in run.rig.shaft}


def checks(run: Motion, report: LostMotion | None) -> tuple[Check, ...]:
    """The lost motion of the worst shaft held against what is worth mending."""
    return () if report is None else tuple(_worst(report))


def _worst(report: LostMotion) -> Iterator[Check]:
    known = {name: at for name, at in report.largest.items() if not np.isnan(at.value)}
    if not known:
        return
    loose = {name: at for name, at in known.items() if report.taken_up is None or not report.taken_up[name]}
    name, most = max((loose or known).items(), key=lambda item: item[1].value)
    over = bool(loose) and most.value > LOST
    says = f'the play lets shaft "{name}" rock {most.value:.2f} degrees with the driver held'
    if over:
        says += (
            f", and no spring keeps it to one side; above {LOST:g} closer joints or a return spring "
            f"on that shaft are wanted"
        )
    elif not loose:
        says += "; the springs keep every joint to one side of its play, opening and closing"
    yield Check(
        "lost_motion", "caution" if over else "pass", most.value, LOST if loose else None, "deg",
        f'shaft "{name}", {percent(most.fraction)}', says + ".",
    )  # fmt: skip
