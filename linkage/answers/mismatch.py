"""Mismatch: how far the shafts' plate angles stand apart, by region of the travel.

A tenth of a degree at idle moves more air than two degrees at wide open, so one largest figure
misleads: the travel is read as the closing end, the first ten degrees of opening, the middle, the
last ten degrees, and the opening end, by the opening of the first-named shaft. Shafts that a slotted
link or a tang picks up later are staged on purpose and are not compared with it: the figures are those
of the first-named shaft's stage (:func:`linkage.train.compared`); :mod:`linkage.answers.staging` has
the other stages and what lies between them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.answers import extremes
from linkage.answers.airflow import open_area_fractions
from linkage.answers.extremes import Extreme
from linkage.motion import Motion, driver_turn
from linkage.parts import SIGN
from linkage.train import compared

Floats = NDArray[np.float64]

#: the first and the last part of the opening that count as regions of their own [deg]
REGION = 10.0


@dataclass(frozen=True)
class Mismatch:
    """Mismatch between shafts [deg]: the ends, the regions, the largest and where.

    ``off_idle``, ``middle`` and ``last`` are the highest of their regions (``middle`` is None where
    the opening is too short to have one); ``differences`` are signed, each shaft less the
    first-named, where the mismatch is largest, of the shafts compared; ``rms`` is over the travel fraction.
    ``flow_at_idle_percent`` and ``open_area_percent`` (the highest over the travel) are the spread
    of open area per plate in percent of its mean; None without bores or with a shut plate at idle.
    """

    largest: Extreme
    at_idle: float
    off_idle: Extreme
    middle: Extreme | None
    last: Extreme
    at_wide_open: float
    rms: float
    differences: Mapping[str, float]
    flow_at_idle_percent: float | None
    open_area_percent: Extreme | None
    regions: tuple[float, float]


def spread(run: Motion, shafts: Iterable[str] | None = None) -> Floats:
    """Largest less smallest plate angle [deg], shape (n,), over some shafts, by default those that are compared."""
    angle = run.plate_angle
    angles = np.stack([angle[name] for name in (compared(run.rig) if shafts is None else shafts)])
    return np.asarray(np.max(angles, axis=0) - np.min(angles, axis=0))


def area_spread(run: Motion) -> Floats | None:
    """Largest less smallest open area of a plate in percent of the mean [%], shape (n,).

    None where a bore is unknown; ``nan`` where every plate is shut. Equal depression at equal
    plates: air flow goes with open area.
    """
    dims, areas, bores = run.train.dims, [], []
    known = open_area_fractions(run)
    for name in compared(run.rig):
        fraction = known[name]
        if fraction is None:
            return None
        bores.append(dims[f"shaft.{name}.bore"] ** 2)
        areas.append(fraction * bores[-1])
    area = np.stack(areas)
    mean = np.mean(area, axis=0)
    shut = mean <= 1e-12 * max(bores)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(shut, np.nan, 100.0 * (area.max(axis=0) - area.min(axis=0)) / mean))


def mismatch(run: Motion) -> Mismatch:
    """Mismatch of a solved motion by region.

    Returns
    -------
    Mismatch
        Figures of the curve, not of the run's samples.
    """
    first, last = run.ends
    early, late = regions(run)
    off_idle = extremes.highest(run, spread, between=(first, early))
    tail = extremes.highest(run, spread, between=(late, last))
    has_middle = (late - early) * (last - first) > 0.0
    middle = extremes.highest(run, spread, between=(early, late)) if has_middle else None
    largest = max((e for e in (off_idle, middle, tail) if e is not None), key=lambda e: e.value)
    ends = run.at([first, last])
    at_idle, at_wide_open = (float(v) for v in spread(ends))
    there = run.at(largest.turn).plate_angle
    angles = {name: float(there[name][0]) for name in compared(run.rig)}
    reference = next(iter(angles.values()))
    idle_flow = area_spread(ends)
    area = None
    if idle_flow is not None:
        found = extremes.highest(run, _known_area_spread)
        area = None if np.isnan(found.value) else found
    return Mismatch(
        largest=largest,
        at_idle=at_idle,
        off_idle=off_idle,
        middle=middle,
        last=tail,
        at_wide_open=at_wide_open,
        rms=_rms(run),
        differences={name: angle - reference for name, angle in angles.items()},
        flow_at_idle_percent=None if idle_flow is None or np.isnan(idle_flow[0]) else float(idle_flow[0]),
        open_area_percent=area,
        regions=(early, late),
    )


def _known_area_spread(run: Motion) -> Floats:
    known = area_spread(run)
    return np.full_like(run.turn, np.nan) if known is None else known


def regions(run: Motion) -> tuple[float, float]:
    """Driver turns [deg] at which the first ten degrees of opening end and the last ten begin.

    Counted on the first-named shaft; exact, by the closure run backwards.
    """
    first, last = run.ends
    name, shaft = next(iter(run.rig.shaft.items()))
    at_ends = SIGN[shaft.opens] * run.at([first, last]).member_turn[name]
    found = []
    for opened, end in ((at_ends[0] + REGION, last), (at_ends[1] - REGION, first)):
        if at_ends[1] - at_ends[0] <= REGION:
            found.append(end)
            continue
        turn = float(np.degrees(driver_turn(run.train, name, np.radians(SIGN[shaft.opens] * opened))))
        if not run.train.slides(run.rig.driver):
            turn += 360.0 * round((0.5 * (first + last) - turn) / 360.0)
        if not min(first, last) <= turn <= max(first, last):  # past a dead centre: by the samples
            grid = np.linspace(first, last, 721)
            turns = SIGN[shaft.opens] * run.at(grid).member_turn[name]
            turn = float(grid[int(np.argmax(turns >= opened))])
        found.append(turn)
    return found[0], found[1]


def _rms(run: Motion) -> float:
    """Root mean square of the spread over the travel fraction [deg], by Gauss-Legendre on 64 pieces between kinks."""
    first = run.ends[0]
    node, weight = np.polynomial.legendre.leggauss(4)
    edges = [np.linspace(*piece, 65) for piece in run.pieces()]
    begin = np.concatenate([edge[:-1] for edge in edges])
    half = 0.5 * np.concatenate([np.diff(edge) for edge in edges])
    at = run.at((begin[:, None] + half[:, None] * (1.0 + node)).ravel())
    share = np.abs(at.travel_speed) * np.abs(half[:, None] * weight).ravel()
    total = float(np.sum(share))
    if total == 0.0:
        return float(spread(run.at(first))[0])
    return float(np.sqrt(np.sum(share * spread(at) ** 2) / total))
