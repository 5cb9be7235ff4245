"""The figures of many linkages at once against one linkage at a time, which goes another way to every one of them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trains
from numpy.typing import NDArray

import linkage
from linkage.answers import extremes, joints
from linkage.answers.cable import cable_report
from linkage.answers.checks import worst
from linkage.answers.mismatch import mismatch, spread
from linkage.answers.progression import progression
from linkage.answers.stops import stops
from linkage.answers.verdict import motion_checks
from linkage.errors import AssemblyError
from linkage.motion import Motion, solve
from linkage.parts import Linkage, dimensions
from linkage.search.figures import REASONS, VERDICTS, figures

Floats = NDArray[np.float64]
DEMO = Path(linkage.__file__).parents[1] / "demo"

#: trains, how many candidates of each, and which numbers vary by how much [mm or deg, up and down]
CASES = {
    "flat_six": 500,
    "v8_inches": 150,
    "three_side_draughts": 100,
    "bell_crank": 200,
    "hand_set": 200,
    "crossed_pair": 200,
    "parallel_pair": 150,
    "series": 100,
    "cross_tube": 80,
    "coupled": 120,
    "skew": 100,
    "tilted": 100,
    "pulled_block": 150,
    "relayed_block": 100,
    "skew_block": 80,
}
NEAR, FAR = 0.6, 12.0  # a few per cent of every arm: nearly all pass; and such that many lock, jam or cannot be built


def rig_of(name: str) -> Linkage:
    return trains.EXAMPLES[name]() if name in trains.EXAMPLES else linkage.read(DEMO / f"{name}.toml")


def varied(rig: Linkage, rows: int, seed: int) -> dict[str, Floats]:
    """Arms, pivots, link lengths, couplings, idle angles and the casing's end, drawn at random about the design."""
    rng = np.random.default_rng(seed)
    base = dimensions(rig)
    ends = ("radius", "angle", "x", "y", "length", "offset", "ratio", "idle")
    found = {}
    for path, value in base.items():
        end = path.rpartition(".")[2]
        if not path.startswith(("shaft", "bellcrank", "slide", "link", "coupling", "cable.casing")) or end not in ends:
            continue
        size = np.where(np.arange(rows) % 3 == 0, FAR, NEAR) * {"ratio": 0.02, "idle": 0.1, "offset": 0.1}.get(end, 1.0)
        found[path] = value + size * rng.uniform(-1.0, 1.0, rows)
    return found


def alone(rig: Linkage, vary: dict[str, Floats], row: int) -> Motion | None:
    for path, values in vary.items():
        rig = rig.replace(path, float(values[row]))
    try:
        return solve(rig, positions=2)
    except AssemblyError:
        return None


def lighter(run: Motion) -> dict[str, Any]:
    """What one linkage says of itself at little cost."""
    ends = stops(run)
    first, last = spread(run)
    gain = next(iter(run.gain.values()))
    lacks = [run.train.dims[f"shaft.{name}.plate_angle.wide_open"] - a[1] for name, a in run.plate_angle.items()]
    margins = np.degrees(run.travel.before_toggle)
    found: dict[str, Any] = {
        "mismatch": extremes.highest(run, spread).value,
        "mismatch_at_idle": first,
        "mismatch_at_wide_open": last,
        "driver_turn": abs(run.ends[1] - run.ends[0]),
        "cable_travel": np.nan if run.cable is None else run.cable[1],
        "toggle_margin_closing": margins[0],
        "toggle_margin_opening": margins[1],
        "wide_open_shortfall": max(lacks),
        "progression_ratio": gain[1] / gain[0] if np.all(np.isfinite(gain)) and gain[0] != 0.0 else np.nan,
    }
    found |= {f"gap:{name}": gap for end in (ends.closing, ends.opening) for name, gap in end.gaps.items()}
    return found


def heavier(run: Motion) -> dict[str, Any]:
    """The rest, and the verdict."""
    apart, ends, cable = mismatch(run), stops(run), cable_report(run)
    checks = motion_checks(run, apart, ends, cable)
    fails = [check.name for check in checks if check.verdict == "fail"]
    tilt = [extremes.highest(run, lambda at, n=n: np.maximum(*joints.tilts(at)[n])).value for n in run.rig.link]
    ratio, none = progression(run).ratio, {} if run.rig.link else {"transmission_angle": np.nan}
    return {
        "mismatch": apart.largest.value,
        "mismatch_off_idle": apart.off_idle.value,
        "mismatch_middle": np.nan if apart.middle is None else apart.middle.value,
        "mismatch_last": apart.last.value,
        "progression_ratio": np.nan if ratio is None else ratio,
        "transmission_angle": next(c.value for c in checks if c.name == "transmission_angle") or 0.0,
        "tilt": max(tilt) if tilt else np.nan,
        "verdict": VERDICTS.index(worst(checks)),
        "reason": REASONS.index(fails[0]) + 1 if fails else 0,
        **none,
    }


def agree(run: Motion, figure: str, one: float, many: float) -> bool:
    """To 1e-9. A train that ends at a dead point stands there by the root of the rounding, its gain without bound."""
    if run.travel.closing_holds < 0 or run.travel.opening_holds < 0:
        return figure == "progression_ratio" or np.isnan(one) or abs(one - many) <= 1e-4
    within = 1e-9 * max(1.0, abs(one) if figure == "progression_ratio" else 1.0)
    return one == many or abs(one - many) <= within or bool(np.isnan(one) and np.isnan(many))


@pytest.mark.parametrize("name", CASES)
def test_many_at_once_have_the_figures_of_one_at_a_time(name: str) -> None:
    rig, rows = rig_of(name), CASES[name]
    rig = rig.replace_all({f"shaft.{shaft}.plate_angle.shut": 5.0 for shaft in rig.shaft})  # idle may go below its own
    vary = varied(rig, rows, seed=sum(map(ord, name)))
    many = figures(rig, {**dimensions(rig), **vary}, rows)
    assert all(column.shape == (rows,) for column in many.values())
    for row in range(rows):
        run = alone(rig, vary, row)
        mine = {figure: float(column[row]) for figure, column in many.items()}
        if run is None:
            assert REASONS[int(mine["reason"]) - 1] == "cannot be assembled"
            assert VERDICTS[int(mine["verdict"])] == "fail"
            assert all(np.isnan(value) for figure, value in mine.items() if figure not in ("verdict", "reason"))
            continue
        for figure, value in (lighter(run) if row % 25 else heavier(run)).items():
            assert agree(run, figure, value, mine[figure]), (name, row, figure, value, mine[figure])
