"""Pictures of sweeps: what is drawn where, no word on another."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from numpy.typing import NDArray
from plot_words import outside, overlaps

import linkage
from linkage import plots
from linkage.plots import style
from linkage.search.sweep import sweep
from linkage.search.swept import Sweep

DEMO = Path(__file__).parents[1] / "demo"
Y, RADIUS = "bellcrank.centre.pivot.y", "shaft.left.arm.drive.radius"
RANGES = {Y: (50.0, 70.0), RADIUS: (33.0, 37.0)}


@pytest.fixture(scope="module")
def found() -> Sweep:
    return sweep(linkage.read(DEMO / "flat_six.toml"), RANGES, samples=4000)


@pytest.fixture(scope="module")
def front() -> Sweep:
    rig = linkage.read(DEMO / "flat_six.toml")
    return sweep(rig, RANGES, samples=4000, keep=["verdict!=fail"], front=["mismatch", "progression_ratio"])


def by_name(ax: Axes) -> dict[str, NDArray[np.float64]]:
    return {str(line.get_gid()): np.asarray(line.get_xydata(), float) for line in ax.lines}


def clean(ax: Axes) -> None:
    page = style.figure_of(ax)
    assert outside(page) == []
    assert overlaps(page) == []


def test_a_curve_shows_every_candidate_on_its_side(found: Sweep) -> None:
    ax = plots.sweep_curve(found, "mismatch_off_idle", RADIUS)
    drawn = by_name(ax)
    passes = found["verdict"] < 2.0
    assert len(drawn["sweep.passes"]) == np.count_nonzero(passes)
    assert np.array_equal(drawn["sweep.passes"][:, 1], found["mismatch_off_idle"][passes])
    assert len(drawn["sweep.fails a check"]) == np.count_nonzero(~passes)
    assert np.all(drawn["sweep.limit"][:, 1] == found.rig.limits.mismatch_off_idle)
    best = drawn["sweep.best"]
    width = (37.0 - 33.0) / len(best)
    for x, y in best[::7]:
        near = np.abs(found[RADIUS] - x) <= 0.5 * width
        assert y == pytest.approx(found["mismatch_off_idle"][near].min(), rel=0, abs=1e-9)
    clean(ax)


def test_of_a_figure_that_is_better_high_the_best_is_the_highest(found: Sweep) -> None:
    ax = plots.sweep_curve(found, "transmission_angle", RADIUS)
    assert by_name(ax)["sweep.best"][:, 1].max() == found["transmission_angle"].max()
    assert ax.get_ylim()[1] > found["transmission_angle"].max()  # the best are in sight
    clean(ax)


def test_the_way_that_is_better_may_be_said(found: Sweep) -> None:
    ax = plots.sweep_picture(found, by="cable_travel:high", over=[Y])
    assert by_name(ax)["sweep.best"][:, 1].max() == found["cable_travel"].max()
    ax = plots.sweep_picture(found, by="cable_travel:high", over=[Y, RADIUS])
    cells = next(c for c in ax.collections if c.get_gid() == "sweep.map").get_array()
    assert cells is not None
    assert np.nanmax(cells) == found["cable_travel"].max()
    with pytest.raises(linkage.DesignError, match='"speed" is not a figure'):
        plots.sweep_picture(found, by="speed")


def test_a_map_has_its_cells_its_limits_and_its_hatching(found: Sweep) -> None:
    ax = plots.sweep_map(found, "mismatch", Y, RADIUS)
    cells = next(c for c in ax.collections if c.get_gid() == "sweep.map").get_array()
    assert cells is not None
    assert np.nanmin(cells) == found["mismatch"].min()
    lines = {c.get_gid() for c in ax.collections if str(c.get_gid()).startswith("sweep.limit")}
    assert lines == {f"sweep.limit.mismatch_{name}" for name in ("off_idle", "middle", "last")} | {
        "sweep.limit.wide_open_shortfall"
    }
    assert ax.get_title(loc="right") == "the best of each cell; hatched: no candidate passes"
    assert 500 < len(ax.patches) < cells.size
    clean(ax)


def test_a_map_of_a_grid_has_a_cell_for_every_candidate() -> None:
    rig = linkage.read(DEMO / "flat_six.toml")
    grid = sweep(rig, {Y: np.linspace(55.0, 65.0, 11), RADIUS: np.linspace(34.0, 36.0, 5)})
    ax = plots.sweep_map(grid, "progression_ratio", Y, RADIUS)
    cells = next(c for c in ax.collections if c.get_gid() == "sweep.map").get_array()
    assert cells is not None
    assert np.array_equal(np.asarray(cells).reshape(5, 11).T.ravel(), grid["progression_ratio"])
    clean(ax)


def test_the_front_stands_before_the_cloud(front: Sweep) -> None:
    ax = plots.sweep_front(front)
    drawn = by_name(ax)
    line = drawn["sweep.front_line"]
    assert np.array_equal(np.sort(line[:, 0]), np.sort(front["mismatch"]))
    assert np.all(np.diff(line[:, 1]) >= 0.0)  # more of the one costs more of the other
    assert ax.get_xlabel() == "Mismatch [°], less is better"
    assert ax.get_ylabel() == "Progression ratio, more is better"
    for x, y in drawn["sweep.passes"]:
        assert np.any((front["mismatch"] <= x) & (front["progression_ratio"] >= y))
    clean(ax)


def test_a_front_of_three(found: Sweep) -> None:
    ax = plots.sweep_front(found, figures=["mismatch", "progression_ratio", "transmission_angle"])
    points = next(c for c in ax.collections if c.get_gid() == "sweep.front")
    assert len(points.get_offsets()) == len(found.front("mismatch", "progression_ratio", "transmission_angle"))  # type: ignore[arg-type]
    assert any("Transmission angle" in text.get_text() for text in ax.texts)
    clean(ax)


def test_what_is_drawn_goes_by_what_was_swept(found: Sweep, front: Sweep) -> None:
    assert plots.sweep_picture(front).get_title(loc="left") == "The front of two figures"
    assert "best of each cell" in plots.sweep_picture(found).get_title(loc="right")
    one = plots.sweep_picture(found, by="cable_travel:high", over=[Y])
    assert (one.get_title(loc="left"), one.get_xlabel()) == ("Cable travel", f"{Y} [mm]")
    rig = linkage.read(DEMO / "flat_six.toml")
    three = sweep(
        rig,
        {Y: (58.0, 62.0), "limits.tilt": (10.0, 12.0), "bellcrank.centre.arm.cable.angle": (60.0, 80.0)},
        samples=500,
    )
    assert plots.sweep_picture(three, by="length:right").get_xlabel() == f"{Y} [mm]"  # what moves it most


def test_lengths_are_in_the_designs_own_unit() -> None:
    rig = linkage.read(DEMO / "v8_inches.toml")
    path = next(path for path in linkage.dimensions(rig) if path.endswith(".pivot.y"))
    start = linkage.dimensions(rig)[path]
    found = sweep(rig, {path: start + np.linspace(-2.0, 2.0, 60)})
    ax = plots.sweep_curve(found, "cable_travel", path)
    drawn = np.concatenate([xy for name, xy in by_name(ax).items() if name in ("sweep.passes", "sweep.fails a check")])
    assert sorted(drawn[:, 1] * 25.4) == pytest.approx(sorted(found["cable_travel"]))
    assert (ax.get_xlabel(), ax.get_ylabel()) == (f"{path} [in]", "Cable travel [in]")


def test_where_nothing_goes_together_there_is_a_picture_too(tmp_path: Path) -> None:
    rig = linkage.read(DEMO / "flat_six.toml").replace("link.left.length", 50.0)
    none = sweep(rig, {Y: (58.0, 62.0), RADIUS: (34.0, 36.0)}, samples=200)
    for ax in (
        plots.sweep_curve(none, "mismatch", Y),
        plots.sweep_map(none, "mismatch", Y, RADIUS),
        plots.sweep_front(none, figures=["mismatch", "tilt"]),
    ):
        clean(ax)
    plots.save(plots.sweep_map(none, "mismatch", Y, RADIUS), tmp_path / "map.svg")
