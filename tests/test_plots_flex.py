"""Pictures of what gives: their curves are the answers, and they say what a design lacks."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from plot_words import curve, outside, overlaps, page
from rocked import on_the_body, roll_axis
from test_winding import both, tube
from trains import bell_crank

from linkage.answers.rocking import plate_rates, rolled_plates
from linkage.answers.rolled import rolled
from linkage.answers.twist import twist
from linkage.answers.winding import twisted
from linkage.motion import Motion, solve
from linkage.parts import Linkage
from linkage.plots import flex

Picture = Callable[..., Axes]
PICTURES: tuple[Picture, ...] = (flex.rocking, flex.twist)


@pytest.fixture(autouse=True)
def _no_window() -> Iterator[None]:
    mpl.use("Agg")
    yield
    import matplotlib.pyplot as plt

    plt.close("all")


def leaning(units: str = "mm") -> Motion:
    there = on_the_body(bell_crank(), casing=True, roll=roll_axis(30.0, -250.0, 40.0, degrees=0.5))
    return solve(dataclasses.replace(there, units=units))  # type: ignore[arg-type]


def wound(rig: Linkage | None = None, units: str = "mm") -> Motion:
    return solve(dataclasses.replace(rig or both(), units=units))  # type: ignore[arg-type]


def test_a_picture_returns_the_axes_it_was_given() -> None:
    for picture, run in ((flex.rocking, leaning()), (flex.twist, wound())):
        ax = page()
        assert picture(run, ax) is ax
        assert isinstance(picture(run), Axes)


def test_the_curves_are_the_plates_moved_exactly_and_by_first_order() -> None:
    run = leaning()
    ax = flex.rocking(run, page(), against="turn")
    for side, sign in ((0.5, "plus"), (-0.5, "minus")):
        for name in run.rig.shaft:
            turn, moved = curve(ax, f"curve.{name}.{sign}")
            here = run.at(turn)
            exact = rolled_plates(here, rolled(here, side), side)[name] - here.plate_angle[name]
            np.testing.assert_allclose(moved, exact, atol=1e-12)
            _, first = curve(ax, f"first.{name}.{sign}")
            np.testing.assert_allclose(first, side * plate_rates(here)[name], atol=1e-12)
    low, high = ax.get_ylim()
    assert low <= np.min(moved) <= np.max(moved) <= high
    assert {float(line.get_ydata()[0]) for line in ax.get_lines() if line.get_gid() == "limit"} == {1.0, -1.0}  # type: ignore[index]


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_shafts_are_wound_along_their_stations(units: str) -> None:
    run = wound(units=units)
    report, scale = twist(run), 25.4 if units == "in" else 1.0
    assert report is not None
    ax = flex.twist(run, page())
    for name, sense in (("left", 1.0), ("right", -1.0)):
        at, turned = curve(ax, f"plates.{name}.rest")
        np.testing.assert_allclose(at * scale, [50.0, 150.0, 250.0], atol=1e-9)
        np.testing.assert_allclose(turned, report.idle.plates[name][:, 0], atol=1e-12)
        _, along = curve(ax, f"curve.{name}.open")
        member = twisted(run.at(run.ends[1]), "opening").members[name]
        expected = [sense * float(member.against(grip)[0]) for grip in member.grips]
        np.testing.assert_allclose(along, expected, atol=1e-12)
        np.testing.assert_allclose(
            curve(ax, f"plates.{name}.open")[1],
            twisted(run.at(run.ends[1]), "opening").plates[name][:, 0],
            atol=1e-12,
        )
    assert f"{report.apart_at_idle:.3f}°" in " ".join(text.get_text() for text in ax.texts)


def test_a_tube_is_drawn_though_it_carries_no_plates() -> None:
    ax = flex.twist(wound(tube()), page())
    station, turned = curve(ax, "curve.tube.open")
    assert station[-1] == 225.0
    assert abs(turned[-1]) > 0.01
    assert curve(ax, "plates.tube.rest")[0].size == 0


@pytest.mark.parametrize("picture", PICTURES)
def test_a_design_that_lacks_something_is_told_what(picture: Picture) -> None:
    ax = picture(solve(bell_crank()), page())
    words = " ".join(text.get_text().replace("\n", " ") for text in ax.texts)
    assert "[rocking]" in words or "[shaft.NAME.twist]" in words


@pytest.mark.parametrize("size", [(6.7, 4.3), (4.0, 3.2)])
def test_words_stand_on_the_page_and_clear_of_each_other(size: tuple[float, float]) -> None:
    for picture, run in ((flex.rocking, leaning()), (flex.twist, wound()), (flex.twist, wound(tube()))):
        ax = picture(run, page(size))
        figure = ax.get_figure()
        assert figure is not None
        assert outside(figure) == []  # type: ignore[arg-type]
        assert overlaps(figure) == []  # type: ignore[arg-type]
