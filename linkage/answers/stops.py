"""Stops: which one holds at each end of the travel, and what is left to the others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from linkage.motion import Motion, StopPlace
from linkage.parts import SIGN


@dataclass(frozen=True)
class ScrewGap:
    """A gap seen at a stop screw: ``distance`` [mm] at its radius (of a slide's, along the guide), and ``turns``
    of its thread."""

    distance: float
    turns: float


@dataclass(frozen=True)
class End:
    """One end of the travel.

    ``holds`` names the stop met first (None: a toggle or the far side ends the travel); ``turn``
    [deg] is the driver's, ``cable`` [mm] the cable travel from the closing stop (None without a
    cable). ``gaps`` [deg] is what every other stop of this side has left, on its own member; of a
    block that slides turn and gap are travels [mm]. ``screws`` the same at the stop screws that the
    design gives.
    """

    holds: str | None
    turn: float
    cable: float | None
    gaps: Mapping[str, float]
    screws: Mapping[str, ScrewGap]


@dataclass(frozen=True)
class Stops:
    """Both ends of the travel."""

    closing: End
    opening: End


def stops(run: Motion) -> Stops:
    """Stops of a solved motion; exact, by the closure run backwards."""
    return Stops(
        _end(run, "closing", run.ends[0], int(run.travel.closing_holds)),
        _end(run, "opening", run.ends[1], int(run.travel.opening_holds)),
    )


def _end(run: Motion, side: str, turn: float, index: int) -> End:
    at = run.at(turn)
    holds = run.travel.stops[index].name if index >= 0 else None
    gaps, screws = {}, {}
    for stop in run.travel.stops:
        if stop.limits != side:
            continue
        gap = _gap(run, at, stop)
        if stop.name != holds:
            gaps[stop.name] = gap
        screw = run.rig.stop[stop.name].screw if stop.name in run.rig.stop else None
        if screw is not None:
            distance = gap if run.train.slides(stop.member) else float(np.radians(gap)) * screw.radius
            screws[stop.name] = ScrewGap(distance, distance / screw.pitch)
    cable = None if at.cable is None else float(at.cable[0])
    return End(holds, turn, cable, gaps, screws)


def _gap(run: Motion, at: Motion, stop: StopPlace) -> float:
    """Degrees a stop's member has left to it; negative: gone past."""
    turned = float(at.member_turn[stop.member][0])
    if stop.member in run.rig.shaft:
        opening = SIGN[run.rig.shaft[stop.member].opens]
    else:
        with_train = run.train.opens * (at.speed[stop.member][0] or run.train.sense[stop.member])
        opening = float(np.sign(with_train)) or 1.0
    left = opening * (float(np.degrees(stop.turn)) - turned)
    gap = left if stop.limits == "opening" else -left
    return 0.0 if abs(gap) < 1e-9 else gap
