"""What the bench draws, as plain numbers: every point of the linkage over the travel, every curve.

Lengths are in the design's own unit, angles in degrees, arrays over :data:`POSITIONS` positions from
the closing stop to the opening stop; the front end only scales and draws.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage import closure
from linkage.answers import joints
from linkage.answers.mismatch import regions, spread
from linkage.motion import Motion
from linkage.motion.groove import Groove, groove
from linkage.parts import SIGN, Cable, Linkage, Member, Point, Shaft
from linkage.plots import style
from linkage.plots.views import VIEWS, blocks, bore_axis, hubs, pins, slots, views_needed
from linkage.quantities import own_scale, own_unit
from linkage.train import compared

POSITIONS = 61

Json = dict[str, Any]


def parts(rig: Linkage) -> Json:
    """What there is to draw, apart from where it stands."""
    pens, rods = style.pens(rig.shaft), style.pens(rig.link)
    cable = rig.cable
    return {
        "unit": own_unit(rig.units, "length"),
        "members": {
            name: {
                "shaft": name in rig.shaft,
                **(_pen(pens[name]) if name in pens else {"colour": style.INK}),
                "axis": member.axis,
                "arms": [f"{name}.{arm}" for arm in member.arm] if name in rig.turning else [],
            }
            for name, member in rig.members.items()
        },
        "links": {name: {"joins": link.joins, **_pen(rods[name])} for name, link in rig.link.items()},
        "couplings": [{"joins": c.joins, "ratio": c.ratio} for c in rig.coupling.values()],
        "cable": None if cable is None else {"pin": cable.pulls, "quadrant": cable.quadrant, "axis": cable.casing_axis},
        "springs": {name: s.pulls for name, s in rig.spring.items() if s.pulls is not None},
        "driver": rig.driver,
        "views": {name: {"right": v.right, "up": v.up, "out": v.out, "seen": v.seen} for name, v in VIEWS.items()},
        "seen_from": rig.seen_from,
    }


def _pen(pen: style.Pen) -> Json:
    """Colour, dashes [px] and width [px] of a curve."""
    dashes = () if isinstance(pen.dashes, str) else pen.dashes[1]  # a word for a line without any
    dash = " ".join(f"{2.0 * d:g}" for d in dashes) or "none"
    return {"colour": pen.colour, "dash": dash, "width": round(pen.width, 2)}


def needed_views(run: Motion) -> tuple[str, ...]:
    """The views that show all of a linkage."""
    return views_needed(run)


def moving(run: Motion) -> Json:
    """Where everything stands through the travel of a motion, and its curves."""
    rig = run.rig
    scale = own_scale(rig.units, "length")
    slides = blocks(run)
    ends = [_fraction_at(run, turn) for turn in regions(run)]
    limits, fine = rig.limits, 3 if rig.units == "mm" else 4
    return {
        "fraction": _short(run.fraction, 5),
        "cable": None if run.cable is None else _short(run.cable / scale, 3),
        "pedal": None if run.pedal is None else _short(run.pedal / scale, 2),
        "pivots": {
            **{name: _short(np.array(member.pivot) / scale, 4) for name, member in rig.turning.items()},
            **{name: _short(sliding.rails.mean(axis=(0, 1)) / scale, 4) for name, sliding in slides.items()},
        },
        "blocks": {
            name: {
                "rails": _short(sliding.rails / scale, 4),
                "corners": [
                    [_track(row, fine) for row in corner.T / scale] for corner in np.swapaxes(sliding.corners, 0, 1)
                ],
            }
            for name, sliding in slides.items()
        },
        "pins": {name: [_track(row, fine) for row in place.T / scale] for name, place in pins(run).items()},
        "slots": {
            name: [[_track(row, fine) for row in end.T / scale] for end in np.swapaxes(ends, 0, 1)]
            for name, ends in slots(run).items()
        },
        "hubs": {name: _short(place / scale, 4) for name, place in hubs(run).items()},
        "turn": _short(run.turn, 3),
        "plates": {name: _plate(run, shaft, scale) for name, shaft in rig.shaft.items() if shaft.bore is not None},
        "casing": None if rig.cable is None else _casing(run, rig.cable, scale),
        "anchors": {
            name: _short(np.array(spring.anchor) / scale, 4)
            for name, spring in rig.spring.items()
            if spring.anchor is not None
        },
        "lengths": {name: round(length / scale, 4) for name, length in joints.lengths(run).items()},
        "opening": {name: _short(angle, 3) for name, angle in run.plate_angle.items()},
        "mismatch": _short(spread(run), 4) if len(compared(rig)) > 1 else None,
        "regions": ends,
        "limits": [limits.mismatch_off_idle, limits.mismatch, limits.mismatch_at_wide_open, limits.mismatch_at_idle],
        "transmission": {
            name: _short(np.minimum(angle, 180.0 - angle), 2) for name, angle in joints.transmission_angles(run).items()
        },
        "least_transmission": limits.transmission_angle,
    }


def _fraction_at(run: Motion, turn: float) -> float:
    """Share of the travel at a driver turn [deg], as near as the drawn positions tell."""
    way = 1.0 if run.turn[-1] >= run.turn[0] else -1.0
    return round(float(np.interp(way * turn, way * run.turn, run.fraction)), 4)


def _short(values: ArrayLike, digits: int) -> Any:
    """Numbers as a list, rounded to what a screen can show; what is not known is None."""
    found = np.round(np.asarray(values, float), digits) + 0.0  # no negative nought
    if np.all(np.isfinite(found)):
        return found.tolist()
    known = found.astype(object)
    known[~np.isfinite(found)] = None
    return known.tolist()


def _track(values: NDArray[np.float64], digits: int) -> Any:
    """A coordinate over the travel; one number where it keeps still."""
    return _short(values, digits) if np.ptp(values) > 0.1**digits else round(float(values[0]), digits) + 0.0


def _plate(run: Motion, shaft: Shaft, scale: float) -> Json:
    """A plate seen edge-on: half its width, the bore's direction, and the plane it turns in."""
    along = bore_axis(shaft.axis)
    across = closure.cross(along, shaft.axis)  # the plate at 0 degrees, square to the bore
    assert shaft.bore is not None
    return {
        "bore": round(shaft.bore / scale, 4),
        "half": round(0.5 * shaft.bore / scale / math.cos(math.radians(shaft.plate_angle.shut)), 4),
        "along": along,
        "across": across,
        "turned": closure.cross(shaft.axis, across),
        "sense": SIGN[shaft.opens],
    }


def _casing(run: Motion, cable: Cable, scale: float) -> Json:
    """The casing end, and what the cable runs on."""
    snail = groove(run.train)
    return _cable(run.rig, cable, scale) if snail is None else _snail(run, cable, snail, scale)


def _snail(run: Motion, cable: Cable, snail: Groove, scale: float) -> Json:
    """The casing end, a snail quadrant as drawn, and where the cable leaves it through the travel."""
    x, y = snail.bottom(run.ends, 9).T[:2]
    rim = snail.in_space(np.append(x, 0.0), np.append(y, 0.0))
    runs = [snail.leaves(turn) for turn in np.radians(run.turn)]
    given = cable.casing_end is not None and snail.clear
    last, way = runs[-1]
    end = cable.casing_end if given else last + 2.2 * float(snail.arm.value(np.radians(run.ends[1]))) * way
    return {
        "end": _short(np.array(end) / scale, 4),
        "given": cable.casing_end is not None,
        "leaves": [_track(row, 4) for row in np.array([place for place, _ in runs]).T / scale],
        "rim": _short(rim / scale, 4),
        "reach": float(np.max(np.hypot(x, y))) / scale,
    }


def _cable(rig: Linkage, cable: Cable, scale: float) -> Json:
    """The casing end and, on a quadrant, its radius and where the cable leaves it."""
    if cable.quadrant is None:
        return {"end": _short(np.array(cable.casing_end) / scale, 4)}
    assert cable.radius is not None
    driver = rig.turning[cable.quadrant]
    leaves, end = _off_quadrant(driver, cable.radius, SIGN[cable.pull_turns or "ccw"], cable.casing_end)
    return {
        "end": _short(end / scale, 4),
        "given": cable.casing_end is not None,
        "leaves": _short(leaves / scale, 4),
        "radius": cable.radius / scale,
        "sense": SIGN[cable.pull_turns or "ccw"],
    }


def _off_quadrant(
    driver: Member, radius: float, sense: float, casing: Point | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where a cable leaves its quadrant so that a pull turns it by ``sense``, and where it goes [mm].

    Without a casing end it is taken to leave level, from the quadrant's top.
    """
    pivot = np.array(driver.pivot)
    up = np.array(bore_axis(driver.axis))
    right = np.array(closure.cross(tuple(up), driver.axis))
    if casing is not None:
        out = np.array(casing) - pivot
        x, y = float(out @ right), float(out @ up)
        apart = math.hypot(x, y)
        if apart > radius:
            angle = math.atan2(y, x) - sense * math.acos(radius / apart)
            return pivot + radius * (math.cos(angle) * right + math.sin(angle) * up), np.array(casing)
    leaves = pivot + radius * up
    return leaves, leaves - sense * 2.2 * radius * right
