"""The picture of a bench tuning: readings where they were read, curves where they were solved, words apart."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from benches import DEMO, DEMO_SLIP, Bench, blank, error_of, toleranced
from matplotlib.axes import Axes
from plot_words import outside, overlaps
from trains import cross_tube

import linkage
from linkage import plots
from linkage.plots import style
from linkage.search.tune import Tuning


def demo(which: str = "readings") -> Tuning:
    return linkage.tune(linkage.read(DEMO / "bench_job.toml"), DEMO / f"bench_job_{which}.csv")


def curve(ax: Axes, gid: str) -> tuple[np.ndarray, np.ndarray]:
    (line,) = (line for line in ax.lines if line.get_gid() == gid)
    x, y = line.get_data()
    return np.asarray(x, float), np.asarray(y, float)


def test_curves_are_the_linkage_as_estimated_and_adjusted() -> None:
    tuning = demo()
    ax = plots.tuned(tuning)
    for gid, run in (("found", tuning.advice.found), ("after", tuning.advice.adjusted)):
        x, y = curve(ax, f"tuned.{gid}.right")
        plates = run.at(0.5 * (run.ends[0] + run.ends[1])).plate_angle
        there = plates["right"][0] - plates["left"][0]
        assert np.interp(plates["left"][0], x, y) == pytest.approx(there, abs=2e-3)


def test_the_bad_reading_is_crossed_out_at_the_edge() -> None:
    tuning = demo()
    ax = plots.tuned(tuning)
    x, y = curve(ax, "tuned.bad.right")
    left = next(r for r in tuning.estimate.expected.used if (r.row, r.shaft) == (DEMO_SLIP[0], "left"))
    right = next(r for r in tuning.estimate.expected.used if (r.row, r.shaft) == (DEMO_SLIP[0], "right"))
    assert x.tolist() == [left.value]
    assert ax.get_ylim()[0] < y[0] < 0.0
    legend = ax.get_legend()
    assert legend is not None
    told = [t.get_text() for t in legend.get_texts()]
    assert f"right, left out: {style.angle_text(right.value - left.value)}" in told


def test_nothing_is_adjusted_where_there_is_nothing_to_turn() -> None:
    ax = plots.tuned(demo("readings_again"))
    assert not [line for line in ax.lines if str(line.get_gid()).startswith("tuned.after")]


def three_shafts() -> Tuning:
    rig = toleranced(cross_tube())
    rig = dataclasses.replace(rig, link={n: dataclasses.replace(k, pitch=0.8) for n, k in rig.link.items()})
    bench = Bench(rig, blank(rig, (0.0, 0.0, 0.2, 0.5, 1.0)))
    return linkage.tune(rig, bench.read(error_of(bench, one_length=0.8), np.random.default_rng(1)))


@pytest.mark.parametrize("make", [demo, lambda: demo("readings_again"), three_shafts], ids=["demo", "again", "three"])
def test_no_word_lies_on_another_or_leaves_the_page(make: object) -> None:
    page = style.figure_of(plots.tuned(make()))  # type: ignore[operator]
    assert outside(page) == []
    assert overlaps(page) == []
