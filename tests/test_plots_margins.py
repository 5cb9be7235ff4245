"""Pictures of the margins: their curves and bars are the answers, their words stand clear of each other."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from trains import EXAMPLES, bell_crank, crossed_pair, parallel_pair

from linkage.answers.clearance import clearance
from linkage.answers.flow import air_flow
from linkage.answers.heat import heat
from linkage.answers.mismatch import spread
from linkage.answers.stacks import stack_up
from linkage.answers.tolerance import links_fitted
from linkage.motion import Motion, solve
from linkage.parts import Air, Heat, Linkage, PlateAngle, Tolerance
from linkage.plots import margins

Picture = Callable[..., Axes]
PICTURES: tuple[Picture, ...] = (margins.tolerance_shares, margins.hot_and_cold, margins.air_apart, margins.least_gap)


@pytest.fixture(autouse=True)
def _no_window() -> Iterator[None]:
    mpl.use("Agg")
    yield
    import matplotlib.pyplot as plt

    plt.close("all")


def own() -> Axes:
    ax: Axes = Figure(figsize=(6.7, 4.3)).add_axes((0.2, 0.14, 0.78, 0.76))
    return ax


def whole(rig: Linkage, units: Any = "mm") -> Linkage:
    """The linkage with all that the pictures need."""
    shafts = {n: dataclasses.replace(s, plate_angle=PlateAngle(8.0, 10.0, 88.0)) for n, s in rig.shaft.items()}
    links = {n: dataclasses.replace(link, diameter=8.0) for n, link in rig.link.items()}
    given: dict[str, Any] = {
        "tolerance": Tolerance(0.25, 0.1, 0.5, 0.1), "heat": Heat(70.0, 21.5e-6, 12e-6), "air": Air(0.7)
    }  # fmt: skip
    return dataclasses.replace(rig, shaft=shafts, link=links, units=units, **given)


def example(units: Any = "mm") -> Motion:
    return solve(whole(bell_crank(), units))


def curve(ax: Axes, gid: str) -> np.ndarray[Any, Any]:
    (line,) = [line for line in ax.get_lines() if line.get_gid() == gid]
    return np.asarray(line.get_ydata(), float)


@pytest.mark.parametrize("picture", PICTURES)
def test_a_picture_returns_the_axes_it_was_given(picture: Picture) -> None:
    ax = own()
    assert picture(example(), ax) is ax
    assert isinstance(picture(example()), Axes)


@pytest.mark.parametrize("links_set", [False, True])
def test_the_bars_are_what_the_tolerances_move(links_set: bool) -> None:
    run = example()
    ax = margins.tolerance_shares(run, own(), links_set=links_set)
    place = stack_up(links_fitted(run) if links_set else run, links_set=links_set).governs
    widths = sorted((p.get_width() for p in ax.patches if isinstance(p, Rectangle)), reverse=True)
    expected = [2.0 * share.moves for share in place.shares[: len(widths)]]
    assert len(widths) >= 4
    assert widths == pytest.approx(expected, abs=1e-12)
    names = [label.get_text() for label in ax.get_yticklabels()]
    first = place.shares[0].dimension.path.split(".")
    assert first[1] in names[0]
    assert first[-1] in names[0]


def test_both_curves_are_the_mismatch_cold_and_hot() -> None:
    run = example()
    ax, report = margins.hot_and_cold(run, own()), heat(run)
    assert report is not None
    assert report.hot is not None
    for name, state in (("cold", report.cold), ("hot", report.hot)):
        found = curve(ax, f"curve.{name}")
        fine = state.run.at(np.linspace(*state.run.ends, len(found)))
        np.testing.assert_allclose(found, spread(fine), atol=1e-12)
    words = " ".join(text.get_text() for text in ax.texts)
    assert f"hot: largest {report.hot.mismatch.largest.value:.3f}°" in words
    assert f"hot: {report.hot.mismatch.at_idle:.3f}° at idle" in words


def test_air_stands_off_the_mean_as_the_flows_do() -> None:
    run = example()
    ax = margins.air_apart(run, own())
    left = curve(ax, "curve.left")
    fine = run.at(np.linspace(*run.ends, len(left)))
    report = air_flow(fine)
    assert report is not None
    one, two = report.flow["left"], report.flow["right"]
    np.testing.assert_allclose(left, 100.0 * (2.0 * one / (one + two) - 1.0), atol=1e-9)
    np.testing.assert_allclose(curve(ax, "curve.right") - left, report.spread_percent * np.sign(two - one), atol=1e-9)


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("name", ["bell_crank", "cross_tube", "skew"])
def test_the_nearest_place_is_marked_where_it_is(name: str, units: str) -> None:
    run = solve(whole(EXAMPLES[name](), units))
    report = clearance(run)
    assert report is not None
    ax = margins.least_gap(run, view="front")
    (line,) = [line for line in ax.get_lines() if line.get_gid() == "gap"]
    scale = 25.4 if units == "in" else 1.0
    np.testing.assert_allclose(
        scale * np.column_stack(line.get_data()), np.array(report.least.points)[:, :2], atol=1e-9
    )
    words = " ".join(text.get_text() for text in ax.texts)
    assert report.least.between[0] in words
    assert report.least.between[1] in words
    parts = {patch.get_gid() for patch in ax.patches}
    assert {f"part.{part}" for part in report.least.between} <= parts


def test_the_view_is_the_one_that_shows_the_gap() -> None:
    rig = whole(bell_crank()).replace("bellcrank.centre.arm.cable.station", 25.0)
    run = solve(rig)
    report = clearance(run)
    assert report is not None
    one, two = np.array(report.least.points)
    ax = margins.least_gap(run)
    (line,) = [line for line in ax.get_lines() if line.get_gid() == "gap"]
    shown = float(np.linalg.norm(np.diff(np.column_stack(line.get_data()), axis=0)))
    assert shown >= np.linalg.norm(two - one) / 1.3 / np.sqrt(2.0)


@pytest.mark.parametrize("picture", PICTURES)
def test_a_design_that_lacks_something_is_told_what(picture: Picture) -> None:
    ax = picture(solve(crossed_pair()), own())
    words = " ".join(text.get_text().replace("\n", " ") for text in ax.texts)
    assert any(key in words for key in ("[tolerance]", "[heat]", "[air]", "diameter"))


def test_a_jam_in_the_heat_is_told() -> None:
    rig = dataclasses.replace(whole(parallel_pair()), heat=Heat(1000.0, 1e-3, 0.0))
    ax = margins.hot_and_cold(solve(rig), own())
    assert '"side"' in " ".join(text.get_text() for text in ax.texts)


@pytest.mark.parametrize("picture", [margins.hot_and_cold, margins.least_gap, margins.tolerance_shares])
@pytest.mark.parametrize("name", ["bell_crank", "cross_tube"])
def test_words_do_not_cover_each_other(picture: Picture, name: str) -> None:
    ax = picture(solve(whole(EXAMPLES[name]())))
    figure = ax.get_figure()
    assert figure is not None
    figure.canvas.draw()  # type: ignore[union-attr]
    boxes = [text.get_window_extent() for text in ax.texts if text.get_text() and text.get_visible()]
    for i, one in enumerate(boxes):
        for other in boxes[i + 1 :]:
            wide = min(one.x1, other.x1) - max(one.x0, other.x0)
            high = min(one.y1, other.y1) - max(one.y0, other.y0)
            assert wide <= 1.0 or high <= 1.0
