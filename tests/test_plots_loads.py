"""Pictures of the forces: their curves are the answers, their words do not cover each other."""

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
from matplotlib.text import Annotation
from sprung import extension, on_each, sprung
from trains import EXAMPLES, bell_crank, crossed_pair

from linkage.answers import forces as told
from linkage.answers.faults import faults
from linkage.answers.lost_motion import lost_motion
from linkage.motion import Motion, solve
from linkage.parts import Cable, Linkage, Pedal, Play
from linkage.plots import loads

Picture = Callable[..., Axes]
PICTURES: tuple[Picture, ...] = (loads.return_torque, loads.effort, loads.link_forces, loads.lost_motion)


@pytest.fixture(autouse=True)
def _no_window() -> Iterator[None]:
    mpl.use("Agg")
    yield
    import matplotlib.pyplot as plt

    plt.close("all")


def own() -> Axes:
    ax: Axes = Figure(figsize=(6.7, 4.3)).add_axes((0.12, 0.14, 0.85, 0.76))
    return ax


def example(units: Any = "mm") -> Linkage:
    over = extension("over", "centre.cable", (40.0, 140.0, 0.0), 60.0, 0.5, 4.0)
    linkage = sprung(bell_crank(), *on_each(bell_crank()), over, friction=20.0)
    return dataclasses.replace(linkage, units=units, pedal=Pedal(3.0), play=Play(0.05, 0.1))


def curve(ax: Axes, gid: str) -> np.ndarray[Any, Any]:
    (line,) = [line for line in ax.get_lines() if line.get_gid() == gid]
    return np.asarray(line.get_ydata(), float)


@pytest.mark.parametrize("picture", PICTURES)
def test_a_picture_returns_the_axes_it_was_given(picture: Picture) -> None:
    ax = own()
    assert picture(solve(example()), ax) is ax
    assert isinstance(picture(solve(example())), Axes)


def test_torque_curves_are_the_answers_with_every_spring_away_in_turn() -> None:
    linkage = example()
    run = solve(linkage)
    ax = loads.return_torque(run, own())
    found = faults(run)
    assert found is not None
    for case in found.cases:
        kind, _, name = case.lost.partition(".")
        if case.lost != "nothing" and kind != "spring":
            continue
        for shaft, at in case.shafts.items():
            y = curve(ax, f"curve.{shaft}" + (f".without.{name}" if name else ""))
            assert np.min(y) == pytest.approx(at.least_torque, rel=1e-4)
    worst = min(
        at.least_torque for case in found.cases if case.lost.startswith("spring") for at in case.shafts.values()
    )
    (mark,) = [line for line in ax.get_lines() if line.get_gid() == "least"]
    assert mark.get_ydata() == pytest.approx([worst], rel=1e-4)
    assert any(f"{worst:.0f}" in text.get_text() for text in ax.texts)


@pytest.mark.parametrize(("units", "size"), [("mm", 1.0), ("in", 4.4482216152605)])
def test_effort_is_pedal_force_then_cable_then_torque(units: Any, size: float) -> None:
    linkage = example(units)
    run = solve(linkage)
    down, back = told.pedal_force(run.at_fraction([0.0, 1.0]))
    ax = loads.effort(run, own())
    assert down is not None
    assert back is not None
    assert curve(ax, "curve.opening")[[0, -1]] * size == pytest.approx(down, rel=1e-12)
    assert curve(ax, "curve.coming back")[[0, -1]] * size == pytest.approx(back, rel=1e-12)
    assert ax.get_ylabel().endswith("[N]" if units == "mm" else "[lbf]")
    no_pedal = solve(dataclasses.replace(linkage, pedal=None))
    pull, _ = told.cable_tension(no_pedal.at_fraction([0.0, 1.0]))
    ax = loads.effort(no_pedal, own())
    assert pull is not None
    assert curve(ax, "curve.opening")[[0, -1]] * size == pytest.approx(pull, rel=1e-12)
    no_cable = sprung(crossed_pair(), *on_each(crossed_pair()), friction=5.0)
    assert loads.effort(solve(no_cable), own()).get_ylabel() == "Torque [N·mm]"


def test_link_forces_and_lost_motion_show_the_answers() -> None:
    run = solve(example())
    found, rock = told.forces(run), lost_motion(run)
    assert found is not None
    assert rock is not None
    ax = loads.link_forces(run, own())
    for name, link in found.links.items():
        assert curve(ax, f"curve.{name}")[[0, -1]] == pytest.approx(link.force[[0, -1]], rel=1e-9)
    ax = loads.lost_motion(run, own())
    widths = [bar.get_width() for bar in ax.patches if isinstance(bar, Rectangle)]
    assert widths == pytest.approx([at.value for at in rock.largest.values()] + list(rock.at_idle.values()))


def _words(ax: Axes) -> list[Any]:
    figure = ax.get_figure(root=True)
    assert figure is not None
    figure.canvas.draw()
    texts = [text for text in ax.texts if isinstance(text, Annotation) and text.get_text()]
    legend = ax.get_legend()
    return [item.get_window_extent() for item in (*texts, *([legend] if legend else []))]


@pytest.mark.parametrize("picture", PICTURES)
@pytest.mark.parametrize("name", ["bell_crank", "cross_tube", "coupled", "crossed_pair"])
def test_words_do_not_cover_each_other(picture: Picture, name: str) -> None:
    linkage = dataclasses.replace(EXAMPLES[name](), play=Play(0.05, 0.1))
    ax = picture(solve(sprung(linkage, *on_each(linkage), friction=20.0)), own())
    boxes = _words(ax)
    touching = [(i, j) for i in range(len(boxes)) for j in range(i) if boxes[i].overlaps(boxes[j])]
    assert touching == []


@pytest.mark.parametrize("picture", PICTURES)
def test_an_empty_picture_says_what_to_add(picture: Picture) -> None:
    ax = picture(solve(bell_crank()), own())
    says = " ".join(text.get_text() for text in ax.texts).replace("\n", " ")
    assert ("[play]" if picture is loads.lost_motion else "[spring.NAME]") in says


def test_a_pull_that_shuts_and_dead_centres_make_pictures_too() -> None:
    shuts = dataclasses.replace(bell_crank(), cable=Cable(quadrant="centre", radius=30.0, pull_turns="cw"))
    ax = loads.effort(solve(sprung(shuts, *on_each(shuts))), own())
    assert any("no lever arm" in text.get_text() for text in ax.texts)
    for angle in (150.0, 178.0, 182.0):
        shaky = dataclasses.replace(crossed_pair(angle, -51.0, other_wide_open=170.0), play=Play(0.05))
        run: Motion = solve(sprung(shaky, *on_each(shaky), friction=5.0))
        for picture in PICTURES:
            picture(run, own())
