"""Curves over the travel: the right values, against independent arithmetic."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import matplotlib.pyplot as plt
import numpy as np
import pytest
import trains
from crossed import LENGTH, crossed_angle
from matplotlib.axes import Axes
from plot_words import curve, named, names, outside, overlaps, page

from linkage import plots
from linkage.motion import Motion, solve
from linkage.parts import Cable, Coupling, Limits, Pedal, Shaft
from linkage.plots import key, style
from linkage.plots.panel import Against

CURVES: list[Callable[..., Axes]] = [
    plots.plate_angles,
    plots.progression,
    plots.open_area,
    plots.gain,
    plots.transmission,
]


@pytest.fixture(scope="module")
def series() -> Motion:
    """Three shafts in a row; a quadrant of 28 mm on the first, with a pedal."""
    base = trains.series()
    return solve(dataclasses.replace(base, pedal=Pedal(ratio=3.0)))


@pytest.fixture(scope="module")
def crossed() -> Motion:
    """Two shafts by one crossed link, no cable."""
    return solve(trains.crossed_pair())


@pytest.mark.parametrize("plot", CURVES)
def test_each_returns_the_axes_that_it_was_given(plot: Callable[..., Axes], crossed: Motion) -> None:
    ax = page()
    assert plot(crossed, ax) is ax
    assert plt.get_fignums() == []


@pytest.mark.parametrize("plot", [*CURVES, plots.mismatch])
def test_without_axes_each_makes_a_figure_of_its_own(plot: Callable[..., Axes], crossed: Motion) -> None:
    ax = plot(crossed)
    try:
        assert plt.get_fignums() == [style.figure_of(ax).number]
        assert outside(style.figure_of(ax)) == []
    finally:
        plt.close(style.figure_of(ax))


@pytest.mark.parametrize("plot", CURVES)
@pytest.mark.parametrize("make", [trains.bell_crank, trains.cross_tube, trains.hand_set, trains.tilted])
def test_no_words_lie_on_one_another_or_leave_the_page(plot: Callable[..., Axes], make: object) -> None:
    ax = plot(solve(make()), page())  # type: ignore[operator]
    assert outside(style.figure_of(ax)) == []
    assert overlaps(style.figure_of(ax)) == []


def test_plate_angles_of_a_crossed_pair(crossed: Motion) -> None:
    ax = plots.plate_angles(crossed, page(), against="turn")
    x, y = curve(ax, "plate_angles.a")
    assert y == pytest.approx(12.0 + x)
    x, y = curve(ax, "plate_angles.b")
    for i in (0, 60, 120, 180):
        assert y[i] == pytest.approx(crossed_angle(x[i]), abs=1e-9)
    assert (x[0], x[-1]) == pytest.approx((0.0, 78.0))


@pytest.mark.parametrize(
    ("against", "end", "words"),
    [
        ("cable", 28.0 * math.radians(78.0), "Cable travel [mm]"),
        ("pedal", 3.0 * 28.0 * math.radians(78.0), "Pedal travel [mm]"),
        ("fraction", 100.0, "Travel [%]"),
        ("turn", 78.0, "Turn of one from drawn [°]"),
        (None, 28.0 * math.radians(78.0), "Cable travel [mm]"),
    ],
)
def test_what_the_travel_is_counted_in(series: Motion, against: Against, end: float, words: str) -> None:
    ax = plots.plate_angles(series, page(), against=against)
    assert curve(ax, "plate_angles.one")[0][-1] == pytest.approx(end)
    assert ax.get_xlabel() == words


def test_inches_are_plotted_in_inches(series: Motion) -> None:
    run = solve(dataclasses.replace(series.rig, units="in"))
    ax = plots.plate_angles(run, page())
    assert ax.get_xlabel() == "Cable travel [in]"
    assert curve(ax, "plate_angles.one")[0][-1] == pytest.approx(28.0 * math.radians(78.0) / 25.4)
    x, y = curve(plots.gain(run, page()), "gain.one")
    assert y == pytest.approx(np.full(len(x), math.degrees(25.4 / 28.0)))


def test_a_travel_that_the_design_lacks_is_refused(crossed: Motion) -> None:
    with pytest.raises(ValueError, match='against: this design has no cable; use "fraction" or "turn"'):
        plots.plate_angles(crossed, page(), against="cable")
    with pytest.raises(ValueError, match="this design has no pedal"):
        plots.gain(crossed, page(), against="pedal")
    with pytest.raises(ValueError, match='must be "cable", "pedal", "turn" or "fraction", got \'time\''):
        plots.open_area(crossed, page(), against="time")  # type: ignore[arg-type]


def test_a_pull_that_shuts_pays_cable_out() -> None:
    base = trains.bell_crank()
    assert base.cable is not None
    other = dataclasses.replace(base.cable, casing_end=(60.0, 150.0, 0.0))
    run = solve(dataclasses.replace(base, cable=other))
    assert run.cable is not None
    assert run.cable[-1] < 0.0
    ax = plots.plate_angles(run, page(), against="cable")
    assert ax.get_xlabel() == "Cable paid out [mm]"
    assert curve(ax, "plate_angles.left")[0][-1] == pytest.approx(-run.cable[-1])


def test_the_stops_stand_at_their_angles_and_the_holding_ones_are_named(crossed: Motion) -> None:
    ax = plots.plate_angles(crossed, page())
    levels = {float(named(ax, name).get_ydata()[0]) for name in names(ax, "plate_angles.stop.")}
    assert levels == {12.0, 90.0, 95.0}
    said = [text.get_text() for text in ax.texts]
    assert "idle stops 12.0° (a.idle holds)" in said
    assert any(text.startswith("wide-open stops: a 90.0°, b 95.0°") for text in said)


def test_progression_stands_at_the_tables_shares(series: Motion) -> None:
    ax = plots.progression(series, page((6.0, 5.0)))
    x, y = curve(ax, "progression.table")
    assert x == pytest.approx([0.0, 10.0, 25.0, 50.0, 75.0, 90.0, 100.0])
    assert y == pytest.approx(10.0 + 0.78 * x)  # a quadrant on the shaft itself is linear
    assert named(ax, "progression.at.25.body").get_text() == "29.5°"
    assert named(ax, "progression.ratio").get_text() == "gain at wide open / at idle: 1.00"


def test_open_area_of_a_plate_without_a_shaft(crossed: Motion) -> None:
    ax = plots.open_area(crossed, page(), against="turn")
    x, y = curve(ax, "open_area.a")
    # bore less the ellipse of the tilted plate, shut at 12 degrees
    assert y == pytest.approx(100.0 * (1.0 - np.cos(np.radians(12.0 + x)) / math.cos(math.radians(12.0))), abs=1e-9)


def test_a_design_without_bores_says_so() -> None:
    run = solve(trains.rig(Shaft("only", (0.0, 0.0, 0.0), opens="ccw"), drive="only"))
    ax = plots.open_area(run, page())
    assert [text.get_text() for text in ax.texts] == ["no bore is given"]


def test_gain_is_the_slope_of_the_plate_angle() -> None:
    run = solve(trains.bell_crank())
    x, angle = curve(plots.plate_angles(run, page()), "plate_angles.right")
    _, gain = curve(plots.gain(run, page()), "gain.right")
    step = np.diff(x)
    middle = np.diff(angle) / step
    # the secant lies between the slopes at its ends, but for the curve's third derivative
    assert middle == pytest.approx(0.5 * (gain[1:] + gain[:-1]), abs=float(np.max(np.abs(np.diff(gain))) * 0.02))


def test_an_unbounded_gain_leaves_the_picture_not_the_scale() -> None:
    base = trains.bell_crank()
    crank = base.bellcrank["centre"]
    end = (40.0 * math.cos(math.radians(150.0)) * 4.0, 58.0 + 40.0 * math.sin(math.radians(150.0)) * 4.0, 0.0)
    rig = dataclasses.replace(base, cable=Cable(pulls="centre.cable", casing_end=end))  # dead centre at idle
    assert crank.arm["cable"].angle == 150.0
    ax = plots.gain(solve(rig), page(), against="turn")
    assert ax.get_ylim()[1] < 50.0


def test_transmission_angle_by_the_cosine_rule(crossed: Motion) -> None:
    ax = plots.transmission(crossed, page(), against="turn")
    x, y = curve(ax, "transmission.cross")
    for i in (0, 90, 180):
        one = (30.0 * math.cos(math.radians(51.0 + x[i])), 30.0 * math.sin(math.radians(51.0 + x[i])))
        far = math.dist(one, (250.0, 0.0))
        cosine = (30.0**2 + LENGTH**2 - far**2) / (2.0 * 30.0 * LENGTH)
        assert y[i] == pytest.approx(math.degrees(math.acos(cosine)))


def test_the_limits_of_the_transmission_angle_are_the_designs(crossed: Motion) -> None:
    run = solve(dataclasses.replace(crossed.rig, limits=Limits(transmission_angle=25.0)))
    said = [text.get_text() for text in plots.transmission(run, page()).texts]
    assert said == ["binds: above 155°", "binds: below 25°"]


def test_many_shafts_share_a_key_that_fits() -> None:
    shafts = [trains.shaft(f"throttle_{i}", (0.0, 0.0, 50.0 * i), "ccw", {}) for i in range(14)]
    joints = [Coupling(f"c{i}", (f"throttle_{i}", f"throttle_{i + 1}")) for i in range(13)]
    cable = Cable(quadrant="throttle_0", radius=30.0, pull_turns="ccw")
    ax = plots.plate_angles(solve(trains.rig(*shafts, *joints, cable=cable)), page())
    legend = ax.get_legend()
    assert legend is not None
    box, inside = legend.get_window_extent(), ax.get_window_extent()
    assert inside.x0 <= box.x0 < box.x1 <= inside.x1
    assert inside.y0 <= box.y0 < box.y1 <= inside.y1
    told = [text.get_text() for text in legend.get_texts()]
    assert told[-1] == f"and {14 - len(told) + 1} more"


def test_a_key_with_room_names_everything() -> None:
    ax = page()
    pens = style.pens(["left", "right"])
    key.fitted(ax, key.handles(pens), list(pens), "upper left", (0.0, 0.0, 1.0, 1.0), (200.0, 100.0))
    legend = ax.get_legend()
    assert legend is not None
    assert [text.get_text() for text in legend.get_texts()] == ["left", "right"]
