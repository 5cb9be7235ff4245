"""How coarse an adjuster is: degrees of plate to one step of it, against the idle limit, and what serves instead."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from linkage.answers.sensitivities import sensitivities
from linkage.motion import Motion
from linkage.parts import Link

#: a rod of 1 mm pitch outside and 0.8 mm inside, both right-handed: what a flat of it changes [mm]
DIFFERENTIAL = (1.0 - 0.8) / 6.0


@dataclass(frozen=True)
class Coarse:
    """What one ``step`` [mm, deg] of an adjuster does at idle: ``degrees`` of the plate of ``shaft``.

    Whole steps leave up to half of it, so it is ``too_coarse`` where that is above the ``limit`` [deg].
    Then ``parts`` of a step would do, or a driven lever of ``radius`` [mm], or a differential thread, a
    flat of which is ``differential`` degrees. ``screw`` is the part of a turn of the shaft's idle stop screw that
    makes the limit, None where the design has no such screw; ``per_unit`` [deg per mm or deg].
    """

    path: str
    kind: str
    name: str
    shaft: str
    step: float
    degrees: float
    per_unit: float
    limit: float
    too_coarse: bool
    parts: int
    radius: float | None
    differential: float
    screw: float | None


def coarseness(run: Motion, able: Sequence[tuple[str, str, str, float]]) -> tuple[Coarse, ...]:
    """Judge adjusters, each ``(path, kind, name, step)``, at the closing stop of a motion.

    Parameters
    ----------
    run : Motion
    able : sequence of tuple
        Dotted path, ``"link"``, ``"lever"`` or ``"coupling"``, name, step [mm or deg].
    """
    idle = sensitivities(run.at(run.ends[0]))
    row = {d.path: i for i, d in enumerate(idle.dimensions)}
    limit, found = run.rig.limits.mismatch_at_idle, []
    for path, kind, name, step in able:
        by = {shaft: abs(float(slope[row[path], 0])) for shaft, slope in idle.plate_angle.items()}
        shaft = max(by, key=lambda s: by[s])
        degrees = by[shaft] * step
        coarse = 0.5 * degrees > limit
        arm = _radius(run, name) if coarse and kind == "link" else None
        found.append(
            Coarse(
                path, kind, name, shaft, step, degrees, by[shaft], limit, coarse,
                parts=math.ceil(0.5 * degrees / limit - 1e-9) if coarse else 1,
                radius=None if arm is None else arm * 0.5 * degrees / limit,
                differential=by[shaft] * DIFFERENTIAL,
                screw=_screw(run, shaft, limit),
            )
        )  # fmt: skip
    return tuple(found)


def _radius(run: Motion, link: str) -> float | None:
    """Radius of the arm that a link drives [mm]; None of a block that slides."""
    for joint in run.train.joints:
        if isinstance(joint.step.by, Link) and joint.step.by.name == link and joint.driven is not None:
            return None if joint.driven.slides else float(joint.driven.r)
    raise KeyError(link)


def _screw(run: Motion, shaft: str, limit: float) -> float | None:
    for stop in run.rig.stop.values():
        if stop.on == shaft and stop.limits == "closing" and stop.screw is not None:
            return float(np.radians(limit) * stop.screw.radius / stop.screw.pitch)
    return None
