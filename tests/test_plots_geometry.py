"""The drawing of a linkage: the right things, in the right places, with the right numbers."""

from __future__ import annotations

import dataclasses
import math

import matplotlib.pyplot as plt
import numpy as np
import pytest
import trains
from crossed import crossed_pins, pin_at
from matplotlib.axes import Axes
from plot_words import named, names, outside, overlaps

from linkage import plots
from linkage.motion import Motion, solve
from linkage.parts import Linkage, Spring
from linkage.plots import style

INCH = 25.4


def drawn(run: Motion, size: tuple[float, float] = (9.0, 6.0), **options: object) -> Axes:
    """The view of a motion on a page of its own."""
    ax = style.figure(*size).add_axes((0.0, 0.0, 1.0, 1.0))
    assert plots.linkage_view(run, ax, **options) is ax  # type: ignore[arg-type]
    return ax


def in_inches(rig: Linkage) -> Linkage:
    """The same linkage, its papers in inches."""
    return dataclasses.replace(rig, units="in")


@pytest.fixture(scope="module")
def crossed() -> Motion:
    """The crossed pair, solved."""
    return solve(trains.crossed_pair())


@pytest.fixture(scope="module")
def bell_crank() -> Motion:
    """The bell crank between two shafts, solved."""
    return solve(trains.bell_crank())


def test_the_pins_stand_where_the_links_length_puts_them(crossed: Motion) -> None:
    ax = drawn(crossed, at=(0.0, 0.4, 1.0))
    for index, turn in enumerate((0.0, 0.4 * 78.0, 78.0)):
        assert named(ax, f"front.link.cross.{index}").get_xydata() == pytest.approx(np.array(crossed_pins(turn)))


def test_a_path_runs_from_idle_to_wide_open_on_the_arms_circle(crossed: Motion) -> None:
    path = named(drawn(crossed), "front.path.a.drive").get_xydata()
    assert np.hypot(*path.T) == pytest.approx(np.full(len(path), 30.0))
    assert path[0] == pytest.approx(pin_at((0.0, 0.0), 30.0, 51.0))
    assert path[-1] == pytest.approx(pin_at((0.0, 0.0), 30.0, 129.0))


def test_every_part_is_drawn_at_every_position(bell_crank: Motion) -> None:
    ax = drawn(bell_crank, at=(0.0, 0.25, 0.5, 1.0), labels=False)
    arms = ["centre.cable", "centre.left", "centre.right", "left.drive", "right.drive"]
    assert names(ax, "front.path.") == [f"front.path.{arm}" for arm in arms]
    assert names(ax, "front.arm.") == [f"front.arm.{arm}.{i}" for arm in arms for i in range(4)]
    assert names(ax, "front.plate.") == [f"front.plate.{name}.{i}" for name in ("left", "right") for i in range(4)]
    assert names(ax, "front.cable.") == [f"front.cable.run.{i}" for i in range(4)]
    tubes = [name for name in names(ax, "front.link.") if not name.endswith(".eyes")]
    assert tubes == [f"front.link.{name}.{i}" for name in ("left", "right") for i in range(4)]


def test_positions_differ_without_colour(crossed: Motion) -> None:
    ax = drawn(crossed)
    looks = [named(ax, f"front.link.cross.{i}") for i in range(3)]
    assert [line.get_linestyle() for line in looks] == ["--", "--", "-"]
    assert len({str(line._dash_pattern) for line in looks}) == 3
    assert looks[2].get_linewidth() > 1.5 * max(line.get_linewidth() for line in looks[:2])


def test_the_cable_runs_from_its_pin_to_the_casing_end(bell_crank: Motion) -> None:
    run = named(drawn(bell_crank, at=(0.0,)), "front.cable.run.0").get_xydata()
    assert run == pytest.approx(np.array([pin_at((0.0, 58.0), 40.0, 150.0), (-60.0, -150.0)]))


def test_a_spring_runs_from_its_pin_to_its_anchor() -> None:
    base = trains.bell_crank()
    anchored = Spring("back", pulls="centre.left", anchor=(60.0, 110.0, 0.0), free_length=40.0, rate=1.0)
    run = solve(dataclasses.replace(base, spring={"back": anchored}))
    zigzag = named(drawn(run, at=(0.0,)), "front.spring.back").get_xydata()
    assert zigzag[[0, -1]] == pytest.approx(np.array([pin_at((0.0, 58.0), 35.0, 78.0), (60.0, 110.0)]))


def test_a_drawing_in_inches_is_to_scale(crossed: Motion) -> None:
    ax = drawn(solve(in_inches(trains.crossed_pair())), at=(0.0,))
    want = np.array(crossed_pins(0.0)) / INCH
    assert named(ax, "front.link.cross.0").get_xydata() == pytest.approx(want)


@pytest.mark.parametrize("view", ["front", "plan", "side"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_scale_bar_is_as_long_as_it_says_and_the_picture_is_not_stretched(view: str, units: str) -> None:
    rig = trains.skew() if units == "mm" else in_inches(trains.skew())
    ax = drawn(solve(rig), view=view)
    length, unit = named(ax, f"{view}.scale_bar.length").get_text().split()
    ends = named(ax, f"{view}.scale_bar").get_xydata()
    assert unit == units
    assert ends[1] - ends[0] == pytest.approx((float(length), 0.0), abs=1e-9)
    box, figure = ax.get_window_extent(), style.figure_of(ax)
    figure.draw_without_rendering()
    assert np.ptp(ax.get_xlim()) / box.width == pytest.approx(np.ptp(ax.get_ylim()) / box.height)


def test_labels_carry_the_designs_numbers(crossed: Motion) -> None:
    ax = drawn(crossed)
    length = math.dist(*crossed_pins(0.0))
    assert named(ax, "front.link.cross.body").get_text() == f"link cross  {length:.1f}"
    assert named(ax, "front.dimension.a.drive.body").get_text() == "drive  r 30.0\n51.0° → 129.0°"
    last = math.degrees(math.atan2(crossed_pins(78.0)[1][1], crossed_pins(78.0)[1][0] - 250.0))
    assert named(ax, "front.dimension.b.drive.body").get_text() == f"drive  r 30.0\n−51.0° → −{-last:.1f}°"
    assert named(ax, "front.name.a.head").get_text() == "a"
    assert named(ax, "front.name.a.body").get_text() == "plate 12.0° → 90.0°"


def test_labels_in_inches_have_three_decimals() -> None:
    ax = drawn(solve(in_inches(trains.crossed_pair())))
    assert named(ax, "front.link.cross.body").get_text() == f"link cross  {math.dist(*crossed_pins(0.0)) / INCH:.3f}"
    assert named(ax, "front.dimension.a.drive.body").get_text().startswith("drive  r 1.181\n")


def test_a_bell_crank_tells_how_far_it_turns_and_the_cable_its_travel(bell_crank: Motion) -> None:
    ax = drawn(bell_crank)
    turn = float(bell_crank.turn[-1] - bell_crank.turn[0])
    pin_to_casing = [math.dist(pin_at((0.0, 58.0), 40.0, 150.0 + t), (-60.0, -150.0)) for t in (0.0, turn)]
    assert named(ax, "front.name.centre.body").get_text() == f"turns {turn:.1f}°"
    assert named(ax, "front.cable.cable, travel.body").get_text() == (
        f"cable, travel  {pin_to_casing[0] - pin_to_casing[1]:.1f}"
    )


def test_parts_that_lie_on_one_another_share_a_label() -> None:
    ax = drawn(solve(trains.coupled()))
    assert named(ax, "front.name.front.head").get_text() == "front, rear"
    assert names(ax, "front.name.rear") == []


def test_the_third_coordinate_is_told_from_the_side() -> None:
    ax = drawn(solve(trains.cross_tube()), view="side", size=(11.0, 8.0))
    assert named(ax, "side.dimension.tube.two.body").get_text() == "two  z 110.0"
    assert named(ax, "side.dimension.three.drive.body").get_text() == "drive  z 197.0"


def test_without_labels_there_are_no_numbers(bell_crank: Motion) -> None:
    ax = drawn(bell_crank, labels=False)
    assert [name for name in names(ax, "front.") if name.endswith((".body", ".head"))] == []


def test_the_page_says_how_it_is_drawn(bell_crank: Motion) -> None:
    run = solve(dataclasses.replace(bell_crank.rig, seen_from="the rear of the engine"))
    ax = drawn(run)
    assert named(ax, "front.heading").get_text() == "Front view, seen from the rear of the engine"
    notes = " ".join(named(ax, "front.notes").get_text().split())
    assert "Plates are drawn turning with their shafts, bores assumed upright." in notes
    assert "Lengths in millimetres" in notes
    key = ax.get_legend()
    assert key is not None
    assert [text.get_text() for text in key.get_texts()] == ["idle", "half travel", "wide open"]


def test_a_shaft_without_a_bore_has_no_plate() -> None:
    base = trains.crossed_pair()
    bare = dataclasses.replace(base.shaft["a"], bore=None)
    ax = drawn(solve(dataclasses.replace(base, shaft={**base.shaft, "a": bare})))
    assert names(ax, "front.plate.") == [f"front.plate.b.{i}" for i in range(3)]


def test_what_a_small_page_has_no_room_for_is_counted(bell_crank: Motion) -> None:
    ax = drawn(bell_crank, size=(3.0, 2.4))
    kept = sum(name.endswith(".body") for name in names(ax, "front."))
    said = named(ax, "front.left_out").get_text()
    assert said == f"{3 + 2 + 1 + 5 - kept} labels left out"  # members, links, cable, arms
    assert outside(style.figure_of(ax)) == []
    assert overlaps(style.figure_of(ax)) == []


@pytest.mark.parametrize("view", ["front", "plan", "side"])
@pytest.mark.parametrize("make", [trains.bell_crank, trains.cross_tube, trains.series, trains.skew, trains.coupled])
def test_no_words_lie_on_one_another_or_leave_the_page(make: object, view: str) -> None:
    ax = drawn(solve(make()), view=view)  # type: ignore[operator]
    assert outside(style.figure_of(ax)) == []
    assert overlaps(style.figure_of(ax)) == []


@pytest.mark.parametrize("at", [(), (-0.1, 1.0), (0.0, 1.01), (0.5, math.nan)])
def test_positions_off_the_travel_are_refused(crossed: Motion, at: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="at: must be shares of the travel from 0 to 1"):
        drawn(crossed, at=at)


def test_a_refused_picture_leaves_no_figure_open(crossed: Motion) -> None:
    with pytest.raises(ValueError, match="view"):
        plots.linkage_view(crossed, view="top")  # type: ignore[arg-type]
    assert plt.get_fignums() == []


def test_without_axes_a_new_figure_shows_the_whole_linkage(crossed: Motion) -> None:
    ax = plots.linkage_view(crossed)
    try:
        assert plt.get_fignums() == [style.figure_of(ax).number]
        assert outside(style.figure_of(ax)) == []
    finally:
        plt.close(style.figure_of(ax))


def test_no_travel_is_drawn_as_it_stands(crossed: Motion) -> None:
    b = dataclasses.replace(crossed.rig.shaft["b"], opens="ccw")
    run = solve(dataclasses.replace(crossed.rig, shaft={**crossed.rig.shaft, "b": b}))
    assert run.ends[0] == pytest.approx(run.ends[1])
    ax = drawn(run)
    assert named(ax, "front.link.cross.2").get_xydata() == pytest.approx(np.array(crossed_pins(0.0)))
