"""Analytic slopes of turns, ends, plates and pins, against central differences of the motion solved afresh."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from trains import EXAMPLES

import linkage
from linkage.motion import assemble
from linkage.motion.assembly import arm_frame
from linkage.parts import Bounds, Linkage, Wish, dimensions
from linkage.search.look import look
from linkage.search.slopes import pin_move
from linkage.search.task import task

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[1] / "demo"
DEMOS = ("flat_six", "cross_tube", "three_side_draughts", "hand_set_links", "v8_inches")
RIGS = {**{name: make() for name, make in EXAMPLES.items()}, **{n: linkage.read(DEMO / f"{n}.toml") for n in DEMOS}}

_STEP = 1e-4


def able(rig: Linkage) -> list[str]:
    """Every dimension that a fit can change and that moves something."""
    found = []
    for path, value in dimensions(rig).items():
        try:
            task(rig, Wish(), {path: Bounds(value - 1.0, value + 1.0)})
        except linkage.LinkageError:
            continue
        if not path.startswith("spring.") and not (path.startswith("stop.") and path.endswith(("radius", "pitch"))):
            found.append(path)
    return found


def solved(rig: Linkage, shares: Floats) -> tuple[Floats, Floats]:
    """Plate angles at shares of the driver's travel, and its two ends [deg], by a motion solved afresh."""
    run = linkage.solve(rig, positions=2)
    first, last = run.ends
    return np.stack(list(run.at(first + (last - first) * shares).plate_angle.values())), np.array([first, last])


@pytest.mark.parametrize("name", RIGS)
def test_plates_and_ends_move_as_differences_say(name: str) -> None:
    rig = RIGS[name]
    paths = able(rig)[:20] if name != "cross_tube" else able(rig)[::3][:20]
    of = task(rig, Wish(), {path: Bounds(v - 1.0, v + 1.0) for path in paths for v in [dimensions(rig)[path]]})
    seen = look(of, of.drawn[:, None], 7)
    shares = 0.5 - 0.5 * np.cos(np.pi * np.arange(7) / 6)
    here, ends = solved(rig, shares)
    assert seen.plate[:, :7, 0] == pytest.approx(here, abs=1e-9)
    assert np.degrees(seen.turn[[0, 6], 0]) == pytest.approx(ends, abs=1e-9)
    moved = 0
    for i, path in enumerate(paths):
        value = dimensions(rig)[path]
        above, below = (solved(rig.replace(path, value + way * _STEP), shares) for way in (1.0, -1.0))
        plate, end = (above[0] - below[0]) / (2 * _STEP), (above[1] - below[1]) / (2 * _STEP)
        scale = max(1.0, float(np.max(np.abs(plate))))
        if _kink(rig, path):  # stops that are met together: either may hold, and the ends have two slopes
            continue
        moved += 1
        assert seen.plate_slope[:, i, :7, 0] == pytest.approx(plate, abs=2e-6 * scale), path
        assert np.degrees(seen.shift[i, [0, 6], 0]) == pytest.approx(end, abs=2e-6 * scale), path
    assert moved >= len(paths) // 3


def _kink(rig: Linkage, path: str) -> bool:
    """Whether another stop holds an end on one side of a dimension's value than on the other."""
    value = dimensions(rig)[path]
    held = set()
    for way in (1.0, 0.0, -1.0):
        travel = linkage.solve(rig.replace(path, value + way * _STEP), positions=2).travel
        held.add((int(travel.closing_holds), int(travel.opening_holds)))
    return len(held) > 1


def test_a_pivot_takes_arms_along_but_not_pins() -> None:
    """The same place told in two ways: the pivot moves it in the one, and not in the other."""
    by_angle = RIGS["bell_crank"]
    arm = by_angle.shaft["left"].arm["drive"]
    assert arm.radius is not None
    assert arm.angle is not None
    x = -112.0 + arm.radius * math.cos(math.radians(arm.angle))
    y = arm.radius * math.sin(math.radians(arm.angle))
    pinned = dataclasses.replace(arm, radius=None, angle=None, pin=(x, y, 0.0))
    left = dataclasses.replace(by_angle.shaft["left"], arm={"drive": pinned})
    by_pin = dataclasses.replace(by_angle, shaft={**by_angle.shaft, "left": left})
    for rig, stays in ((by_angle, False), (by_pin, True)):
        train = assemble(rig)
        frame = arm_frame(rig, train.dims, "left", "drive")
        move = pin_move(train, "shaft.left.pivot.x", "left", "drive", frame)
        assert move is not None
        around = np.cross(frame.u, frame.e1)
        moved = np.array(move.centre) + move.radius * np.array(frame.e1) + move.angle * frame.r * around
        assert moved == pytest.approx([0.0, 0.0, 0.0] if stays else [1.0, 0.0, 0.0], abs=1e-12)
        built = pin_move(train, "shaft.left.pivot.x", "left", "drive", frame, as_built=True)
        assert built is not None
        assert built.centre == (1.0, 0.0, 0.0)
