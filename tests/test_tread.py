"""Pedals of many linkages at once against one at a time; sweeps and fits that vary the pedal's dimensions."""

from __future__ import annotations

import dataclasses
from typing import Any

import footwells
import numpy as np
import pytest

import linkage
from linkage.answers import pedal as told
from linkage.answers.cable import cable_report
from linkage.answers.checks import worst
from linkage.answers.mismatch import mismatch
from linkage.answers.stops import stops
from linkage.answers.verdict import motion_checks
from linkage.motion import solve
from linkage.parts import Linkage, Pedal, Stop, Wish, dimensions
from linkage.search.figures import REASONS, VERDICTS, figures

_PEDAL = tuple(name for name in REASONS if name.startswith("pedal_"))


def varied(rig: Linkage, ends: dict[str, tuple[float, float]], rows: int, seed: int) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    return {**dimensions(rig), **{path: rng.uniform(*end, rows) for path, end in ends.items()}}


CASES = {
    "bell crank": (
        footwells.quadrant(stop=31.0, floor=34.0, casing_axis=(-1.0, 0.0, 0.0)),
        {
            "pedal.arm.cable.angle": (15.0, 190.0), "pedal.arm.cable.radius": (60.0, 110.0), "pedal.stop": (22.0, 45.0),
            "pedal.floor": (25.0, 60.0), "pedal.casing_end.y": (30.0, 110.0), "pedal.pivot.x": (-15.0, 15.0),
        },
    ),
    "driver": (
        footwells.rods(stop=25.0, floor=34.0),
        {"pedal.stop": (20.0, 40.0), "pedal.floor": (25.0, 45.0), "bellcrank.pedal.arm.rod.radius": (55.0, 70.0)},
    ),
    "stop table": (
        dataclasses.replace(footwells.rods(), stop={"foot": Stop("foot", "pedal", "opening", turn=-35.0)}),
        {"stop.foot.turn": (-50.0, -28.0), "shaft.one.arm.rod.radius": (25.0, 32.0)},
    ),
    "ratio": (
        dataclasses.replace(footwells.quadrant(), pedal=Pedal(2.4, 104.0)),
        {"pedal.ratio": (2.2, 2.7), "pedal.travel": (95.0, 115.0), "cable.free_play": (0.0, 3.0)},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_each_row_is_the_verdict_of_that_linkage_alone(name: str) -> None:
    rig, ends = CASES[name]
    rows = 60
    dims = varied(rig, ends, rows, 7)
    found = figures(rig, dims, rows)
    seen = set()
    for i in range(rows):
        alone = rig
        for path in ends:
            alone = alone.replace(path, float(dims[path][i]))
        run = solve(alone)
        checks = motion_checks(run, mismatch(run), stops(run), cable_report(run))
        failed = [check.name for check in checks if check.verdict == "fail"]
        assert VERDICTS[int(found["verdict"][i])] == worst(checks), (i, failed)
        reason = int(found["reason"][i])
        assert (REASONS[reason - 1] if reason else None) == (failed[0] if failed else None)
        seen |= {*failed} | {check.name for check in checks if check.verdict == "caution"}
    assert len(seen.intersection({*_PEDAL, "pedal_cable_angle", "pedal_cable_swing"})) >= 1  # and so it tests something


def test_a_sweep_may_vary_the_pedal() -> None:
    rig = footwells.quadrant(floor=32.0)
    radii = [float(r) for r in np.arange(60.0, 111.0, 5.0)]
    found = linkage.sweep(rig, {"pedal.arm.cable.radius": radii})
    short = [told.pedal_report(solve(rig.replace("pedal.arm.cable.radius", r))) for r in radii]
    fails = [report is None or report.needed > (report.room or 0.0) for report in short]
    assert 0 < sum(fails) < len(fails)
    assert int(found.tally.verdicts[VERDICTS.index("fail")]) == sum(fails)
    assert int(found.tally.reasons[REASONS.index("pedal_travel") + 1]) == sum(fails)


def test_a_fit_keeps_the_pad_off_the_floor() -> None:
    # the pad meets the floor before wide open as drawn; a longer cable arm and nothing else can mend it
    rig = footwells.quadrant(floor=26.0)
    drawn = told.pedal_report(solve(rig))
    assert drawn is not None
    assert drawn.room is not None
    assert drawn.needed > drawn.room
    fitted = linkage.fit(
        rig, wish=Wish(mismatch=0.5), free={"pedal.arm.cable.radius": (70.0, 120.0), "cable.radius": (29.0, 31.0)}
    )
    after = told.pedal_report(solve(fitted.best.rig))
    assert after is not None
    assert after.room is not None
    assert after.needed <= after.room + 1e-6
