"""Dragging: where a pin, a pivot, the casing end or an anchor was put on the drawing, as dimensions.

::

    eye  ->  . . . . . * . . .      the ray through the pointer meets the plane of the pin's circle;
                      /             the point is turned back by the member's turn to where it would
             axis -> O              stand as drawn, and read off as radius and angle (or as a pin);
                                   a pin of a block that slides goes back along its guide
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping

import numpy as np
from numpy.typing import NDArray

from linkage.errors import DesignError, Fault
from linkage.motion import Motion
from linkage.motion.assembly import arm_frame, table_of
from linkage.parts import Linkage
from linkage.plots.views import View, view_named
from linkage.quantities import own_scale
from linkage.widgets.controls import Control

Floats = NDArray[np.float64]

_EDGE_ON = 0.2  # cosine between an axis and the line of sight below which its circle is too thin to drag along


def dragged(
    run: Motion, handle: str, to: tuple[float, float], *, at: int, view: str, sliders: Mapping[str, Control],
    locked: Collection[str] = (),
) -> dict[str, float]:  # fmt: skip
    """Dimensions [mm, deg] that put a handle where it was dragged to, to the nearest step of their sliders.

    Parameters
    ----------
    run : Motion
        As the drawing shows it.
    handle : str
        ``"pin:MEMBER.ARM"``, ``"pivot:MEMBER"``, ``"anchor:SPRING"`` or ``"casing:"``.
    to : (float, float)
        Right and up in the view, in the design's own unit.
    at : int
        Position of the motion at which it is shown.
    view : str
        "front", "plan" or "side".
    sliders : mapping of str to Control
    locked : collection of str
        Paths that stay as they are.

    Raises
    ------
    DesignError
        The handle does not move in this view.
    """
    seen = view_named(view)
    scale = own_scale(run.rig.units, "length")
    kind, _, name = handle.partition(":")
    ray = scale * (to[0] * np.array(seen.right) + to[1] * np.array(seen.up))
    found = _pin(run, name, ray, at, seen) if kind == "pin" else _point(_path(run.rig, kind, name), ray, seen)
    known = {path: sliders[path].snapped(value) for path, value in found.items() if path in sliders}
    return {path: value for path, value in known.items() if path not in locked}


def _path(rig: Linkage, kind: str, name: str) -> str:
    if kind == "pivot" and name in rig.turning:
        return f"{table_of(rig, name)}.pivot"
    if kind == "anchor" and name in rig.spring:
        return f"spring.{name}.anchor"
    if kind == "casing" and rig.cable is not None:
        return "cable.casing_end"
    raise _refused(f"{kind}:{name}", "is nothing that can be dragged in this design")


def _point(path: str, ray: Floats, view: View) -> dict[str, float]:
    """A fixed point: the two coordinates that the view shows."""
    return {f"{path}.{axis}": float(ray[i]) for i, axis in enumerate("xyz") if not view.out[i]}


def _pin(run: Motion, name: str, ray: Floats, at: int, view: View) -> dict[str, float]:
    member, _, arm = name.partition(".")
    if member not in run.rig.members or arm not in run.rig.members[member].arm:
        raise _refused(f"pin:{name}", "is no pin of this design")
    frame = arm_frame(run.rig, run.train.dims, member, arm)
    out, axis, centre = (np.array(v, float) for v in (view.out, frame.u, frame.centre))
    facing = float(axis @ out)
    if abs(facing) < _EDGE_ON:
        raise _refused(f"pin {name}", "turns edge-on here", "drag it in another view")
    place = ray + out * float((centre - ray) @ axis) / facing
    if frame.slides:  # back along the guide to where it would stand as drawn
        drawn_at = place - float(run.member_turn[member][at]) * np.array(frame.e1, float)
        at_pin = f"{table_of(run.rig, member)}.pin.{arm}.at"
        return {f"{at_pin}.{axis_name}": float(v) for axis_name, v in zip("xyz", drawn_at, strict=True)}
    arm_out = _turned_back(place - centre, axis, math.radians(float(run.member_turn[member][at])))
    here = f"{table_of(run.rig, member)}.arm.{arm}"
    if run.rig.members[member].arm[arm].pin is not None:
        return {f"{here}.pin.{axis_name}": float(v) for axis_name, v in zip("xyz", centre + arm_out, strict=True)}
    angle = math.degrees(math.atan2(arm_out[1], arm_out[0]))
    drawn = float(run.train.dims[f"{here}.angle"])
    angle += 360.0 * round((drawn - angle) / 360.0)
    return {f"{here}.radius": float(np.hypot(arm_out[0], arm_out[1])), f"{here}.angle": angle}


def _turned_back(out: Floats, axis: Floats, turn: float) -> Floats:
    """A vector square to an axis turned about it by ``-turn`` [rad]."""
    return np.asarray(math.cos(turn) * out - math.sin(turn) * np.cross(axis, out))


def _refused(place: str, says: str, mend: str = "") -> DesignError:
    return DesignError([Fault(place, says, mend)])
