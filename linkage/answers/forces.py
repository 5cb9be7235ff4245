r"""Forces: what closes the throttles, what opens them, and what the foot feels.

::

      opening torque at the driver  = springs + friction    (what the foot must hold and overcome)
      closing torque at the driver  = springs - friction    (what brings the throttles back)

                       torque at the driver
      cable tension = ----------------------        pedal force, going down   = tension / (efficiency x ratio)
                      arm of the cable                           coming back  = tension x efficiency / ratio

where the ratio is d(pad)/d(cable) at that place; a pedal that is the driver pushes torque / radius of its
pad. All of it by virtual work along the train, which takes no link force at all; the link forces follow
from the member beyond each link: force = torque that reaches its axis / moment arm of the link.
Slow movement: no inertia, no air on the plates.

References
----------
J. E. Shigley and C. R. Mischke, *Mechanical Engineering Design*, McGraw-Hill: "Mechanical springs";
"Long columns with central loading" (Euler; from memory). R. L. Norton, *Design of Machinery*,
McGraw-Hill, "Dynamic force analysis", virtual work (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.answers import link_forces, one_way, spring_checks, springs
from linkage.answers.checks import Check, percent
from linkage.answers.extremes import Extreme
from linkage.answers.link_forces import LinkForce
from linkage.answers.springs import SpringAction
from linkage.motion import DriverPedal, Motion
from linkage.parts import Linkage

Floats = NDArray[np.float64]

#: a pedal heavier than this [N] is called stiff; common practice, no source
STIFF_PEDAL = 50.0


@dataclass(frozen=True, eq=False)
class Forces:
    """Forces of a solved motion; arrays over its positions, ``Extreme`` of the curve itself.

    ``opening`` and ``closing`` [N.mm] are the torques at the driver with friction against either
    way. ``tension`` [N] is what the inner cable carries while the throttles are held or opened,
    ``tension_closing`` what is left of it on the way back, never below 0; ``nan`` where the cable has
    no lever arm that opens; None without a cable. ``pedal`` and ``pedal_closing`` [N] are the same
    under the foot; None without a pedal that moves the train. ``shafts`` [N.mm] is the closing torque of
    everything connected, at each shaft, less friction. ``least_return`` is the least closing torque
    at the driver: at 0 or below the throttles do not come back. ``least_ratio`` is the springs'
    closing torque over the friction, at its least (None without friction).
    """

    opening: Floats
    closing: Floats
    tension: Floats | None
    tension_closing: Floats | None
    pedal: Floats | None
    pedal_closing: Floats | None
    shafts: Mapping[str, Floats]
    links: Mapping[str, LinkForce]
    springs: Mapping[str, SpringAction]
    least_return: Extreme
    least_shaft: Mapping[str, Extreme]
    least_ratio: Extreme | None
    most_tension: Extreme | None
    most_pedal: Extreme | None

    @property
    def returns(self) -> bool:
        """Whether the springs bring the throttles back from every position."""
        return self.least_return.value > springs.NOTHING


def lacks(rig: Linkage) -> str:
    """What the design must say before forces can be told, in one sentence; empty where nothing lacks."""
    if rig.spring:
        return ""
    return "Forces are not judged: the design names no return spring; add a [spring.NAME] table for each one fitted."


def forces(run: Motion) -> Forces | None:
    """Forces of a solved motion; None where :func:`lacks` says why.

    A travel of nothing, a cable that shuts and a dead centre inside the travel are all answered,
    with ``nan`` or a value without bound where there is no force to tell.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    Forces or None
        [N] and [N.mm], arrays of shape (n,).

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> forces(run).most_pedal  # doctest: +SKIP
    """
    if lacks(run.rig):
        return None
    tension, tension_closing = cable_tension(run)
    pedal, pedal_closing = pedal_force(run)
    fine = springs.throughout(run)
    rubs = any(member.friction_torque for member in run.rig.members.values())
    pull, push = cable_tension(fine)[0], pedal_force(fine)[0]
    return Forces(
        opening=opening_torque(run),
        closing=closing_torque(run),
        tension=tension,
        tension_closing=tension_closing,
        pedal=pedal,
        pedal_closing=pedal_closing,
        shafts={name: shaft_torque(run, name) for name in run.rig.shaft},
        links=link_forces.link_forces(run, fine),
        springs=springs.actions(run),
        least_return=springs.least(fine, closing_torque(fine)),
        least_shaft={name: springs.least(fine, shaft_torque(fine, name)) for name in run.rig.shaft},
        least_ratio=springs.least(fine, return_ratio(fine)) if rubs else None,
        most_tension=None if pull is None else springs.most(fine, pull),
        most_pedal=None if push is None else springs.most(fine, push),
    )


def opening_torque(run: Motion) -> Floats:
    """Torque that opens the driver against springs and friction [N.mm], shape (n,)."""
    with np.errstate(invalid="ignore"):
        return one_way.about_roots(run, springs.spring_torque(run), 1)[run.rig.driver]


def closing_torque(run: Motion) -> Floats:
    """Torque of the springs less friction that closes the driver [N.mm], shape (n,)."""
    with np.errstate(invalid="ignore"):
        return one_way.about_roots(run, springs.spring_torque(run), -1)[run.rig.driver]


def return_ratio(run: Motion) -> Floats:
    """Closing torque of the springs over the friction [-], shape (n,); without bound where nothing rubs."""
    with np.errstate(divide="ignore", invalid="ignore"):
        torque = springs.spring_torque(run)
        closes = one_way.about_roots(run, torque, 0)[run.rig.driver]
        if not one_way.is_staged(run.rig):
            return np.asarray(closes / springs.friction_at_driver(run))
        return np.asarray(closes / (closes - one_way.about_roots(run, torque, -1)[run.rig.driver]))


def shaft_torque(run: Motion, shaft: str) -> Floats:
    """Closing torque at a shaft of all springs connected, less friction [N.mm], shape (n,).

    Through a slotted link or a tang no spring of the driver's side closes it: see :mod:`linkage.answers.one_way`.
    """
    pull, friction = one_way.at_shaft(run, shaft, springs.spring_torque(run))
    with np.errstate(invalid="ignore"):
        return pull - friction


def cable_tension(run: Motion) -> tuple[Floats | None, Floats | None]:
    """Tension of the inner cable [N], opening and closing, shape (n,) each; None without a cable.

    Never below 0: a cable only pulls. ``nan`` where it has no lever arm that opens.
    """
    if run.cable_arm is None:
        return None, None
    arm = float(run.train.opens) * run.cable_arm
    with np.errstate(divide="ignore", invalid="ignore"):
        arm = np.where(arm > 1e-9, arm, np.nan)
        return np.maximum(opening_torque(run) / arm, 0.0), np.maximum(closing_torque(run) / arm, 0.0)


def pedal_force(run: Motion) -> tuple[Floats | None, Floats | None]:
    """Force at the pad [N], going down and coming back, shape (n,) each; None without a pedal that moves it.

    The foot presses square to the pad's arm. The casing's friction takes its share of the pull both
    ways (efficiency, 1 where not given).
    """
    foot, moved = run.pedal_line, run.moved
    if foot is None or moved is None or run.pedal is None:
        return None, None
    rate = np.asarray(foot.rate(moved))
    if isinstance(foot, DriverPedal):
        return np.maximum(opening_torque(run) / rate, 0.0), np.maximum(closing_torque(run) / rate, 0.0)
    down, back = cable_tension(run)
    if down is None or back is None or run.rig.cable is None:
        return None, None
    efficiency = run.rig.cable.efficiency
    return down / (efficiency * rate), back * efficiency / rate


def checks(run: Motion, report: Forces | None) -> tuple[Check, ...]:
    """The return of the throttles, the pedal, the links and the springs held against their limits."""
    if report is None:
        return ()
    return (
        *_returning(run, report),
        *_pedal(run, report),
        *link_forces.checks(run, report.links),
        *spring_checks.checks(run),
    )


def _returning(run: Motion, report: Forces) -> Iterator[Check]:
    units = run.rig.units
    known = {name: at for name, at in report.least_shaft.items() if np.isfinite(at.value)}
    name, least = min(known.items(), key=lambda item: item[1].value, default=("", report.least_return))
    where = f'shaft "{name}", {percent(least.fraction)}' if name else percent(least.fraction)
    torque = springs.torque_text(least.value, units)
    if report.returns:
        off = "friction taken off" if report.least_ratio else "no friction taken off, for none is given"
        says = f'the springs close shaft "{name}" with {torque} at the least, {off}.'
    else:
        says = (
            f"the springs do not bring the throttles back: {torque} of closing torque is left at "
            f"{percent(report.least_return.fraction)}; preload or stiffen the springs, mend the side they "
            f"pull to, or free what rubs."
        )
    yield Check("return_force", "pass" if report.returns else "fail", least.value, 0.0, "N·mm", where, says)
    if report.least_ratio is None:
        return
    ratio = report.least_ratio
    low = ratio.value < springs.RETURN_RATIO
    mend = "; less hangs when it is dirty or dry: stiffen the springs or free what rubs" if low else ""
    yield Check(
        "return_ratio", "caution" if low else "pass", ratio.value, springs.RETURN_RATIO, "", percent(ratio.fraction),
        f"the springs close with {ratio.value:.1f} times the friction at the least; {springs.RETURN_RATIO:g} or more "
        f"is common practice{mend}.",
    )  # fmt: skip


def _pedal(run: Motion, report: Forces) -> Iterator[Check]:
    at, back, units = report.most_pedal, report.pedal_closing, run.rig.units
    if at is None or back is None or not np.isfinite(at.value):
        return
    stiff = at.value > STIFF_PEDAL
    longer = "a longer pad arm" if run.rig.cable is None else "a longer cable arm or more pedal ratio"
    mend = f"; use softer springs, {longer}" if stiff else ""
    yield Check(
        "pedal_effort", "caution" if stiff else "pass", at.value, STIFF_PEDAL, "N", percent(at.fraction),
        f"the foot pushes {springs.force_text(at.value, units)} at the most and feels "
        f"{springs.force_text(float(np.nanmin(back)), units)} at the least coming back; above "
        f"{springs.force_text(STIFF_PEDAL, units)} is called stiff (common practice){mend}.",
    )  # fmt: skip
