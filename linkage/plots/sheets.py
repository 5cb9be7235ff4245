"""Whole pages: the drawing, the curves, and an overview to put before a customer."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from linkage import answers
from linkage.answers import Answer
from linkage.answers import clearance as clearances
from linkage.answers.checks import percent
from linkage.motion import Motion
from linkage.parts import Linkage
from linkage.plots import apart, geometry, graphs, key, loads, margins, page, style
from linkage.plots import labels as words
from linkage.plots.arrange import Box, Need, arrange
from linkage.plots.panel import Against
from linkage.plots.scene import Scene, content, scene_of
from linkage.plots.style import A4, BAD, GOOD, INK, PLAIN, SMALL, SOFT, WARN
from linkage.plots.views import view_named, views_needed
from linkage.tables import length
from linkage.train import compared

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_EDGE = 0.42  # margin of a page [in]
_HEAD = 0.75  # about what a title takes [in]
_WORDS = 8  # most lines of verdict on an overview


def drawing(run: Motion, *, at: Sequence[float] = (0.0, 0.5, 1.0), labels: bool = True) -> Figure:
    """Draw a linkage on an A4 page: the front view, with plan and side view where it has depth.

    A skew axis, or parts at different stations, need the three views; they share the page so that
    each shows as large as it may, at its own scale. Lengths in the design's own unit [mm or in], angles in [deg].

    Parameters
    ----------
    run : Motion
    at : sequence of float
        Shares 0..1 of the travel [-]; the last is drawn solid.
    labels : bool
        Write names, lengths and angles.

    Returns
    -------
    matplotlib Figure

    Raises
    ------
    ValueError
        ``at`` is empty or outside 0..1.

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.save(linkage.plots.drawing(run), "drawing.pdf")  # doctest: +SKIP
    """
    scenes = [scene_of(run, at, view_named(name)) for name in views_needed(run)]
    pages = [A4] if len(scenes) == 1 else [A4, (A4[1], A4[0])]
    needs = [_need(scene, alone=i == 0) for i, scene in enumerate(scenes)]

    def drawn_on(size: tuple[float, float]) -> tuple[float, list[Box]]:
        return arrange(needs, Box(_EDGE, _EDGE, size[0] - 2 * _EDGE, size[1] - 2 * _EDGE - _HEAD))

    size = max(pages, key=lambda one: drawn_on(one)[0])
    figure = style.figure(*size)
    with style.look():
        top = _title(_sheet(figure), run.rig, size[0] - 2 * _EDGE)
    _draw_views(figure, scenes, Box(_EDGE, _EDGE, size[0] - 2 * _EDGE, top - _EDGE), at=at, labels=labels)
    return figure


def curves(run: Motion, *, against: Against | None = None) -> Figure:
    """Plot all curves of a motion on an A4 page.

    Plate angle, mismatch, progression, open area, gain and transmission angle, over the travel in
    [mm or in], [deg] or [%].

    Parameters
    ----------
    run : Motion
    against : {"cable", "pedal", "turn", "fraction"}, optional
        As for :func:`plate_angles`.

    Returns
    -------
    matplotlib Figure

    Raises
    ------
    ValueError
        The design has no such travel.

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.curves(run, against="fraction")  # doctest: +SKIP
    """
    figure = style.figure(*A4)
    with style.look():
        sheet = _sheet(figure)
        top = _title(sheet, run.rig, A4[0] - 2 * _EDGE)
        if len(run.rig.shaft) > 1:
            pens, wide = style.pens(run.rig.shaft), A4[0] - 2 * _EDGE
            box = (_EDGE / A4[0], 0.0, wide / A4[0], (top + 0.03) / A4[1])
            key.fitted(sheet, key.handles(pens), list(pens), "upper left", box, (72.0 * wide, 20.0))
            top -= 0.22
    places = _six(figure, top)
    graphs.plate_angles(run, places[0], against=against, legend=False)
    apart.mismatch(run, places[1], against=against)
    graphs.progression(run, places[2])
    graphs.open_area(run, places[3], against=against, legend=False)
    graphs.gain(run, places[4], against=against, legend=False)
    graphs.transmission(run, places[5], against=against)
    return figure


def road(run: Motion) -> Figure:
    """Plot what the road does to a linkage on an A4 page, upright.

    Closing torque with each spring away, effort, link forces, tolerance, heat and clearance; a picture
    whose inputs the design lacks says what to add. Each in the design's own unit [mm or in, N or lbf].

    Parameters
    ----------
    run : Motion

    Returns
    -------
    matplotlib Figure

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.save(linkage.plots.road(run), "road.pdf")  # doctest: +SKIP
    """
    figure = style.figure(A4[1], A4[0])
    with style.look():
        sheet = _sheet(figure)
        top = _title(sheet, run.rig, A4[1] - 2 * _EDGE)
        foot = _caution(sheet, A4[1] - 2 * _EDGE)
    places = _six(figure, top, across=2, bottom=foot)
    loads.return_torque(run, places[0])
    loads.effort(run, places[1])
    margins.tolerance_shares(run, places[2])
    loads.link_forces(run, places[3])
    margins.hot_and_cold(run, places[4])
    margins.least_gap(run, places[5], view="front")
    said = clearances.checks(run, clearances.clearance(run))
    if said:
        box = places[5].get_position()
        words = textwrap.fill(said[0].says[:1].upper() + said[0].says[1:], 55)
        figure.text(box.x0, box.y0 - 0.012, words, size=SMALL, color=INK, va="top")
    return figure


def _six(figure: Figure, top: float, *, across: int = 3, bottom: float = 0.35) -> list[Axes]:
    """Six axes between ``bottom`` and ``top`` [in] on a page, two or three across."""
    page = figure.get_size_inches()[0]
    wide, high = (page - 2 * _EDGE) / across, (top - bottom) / (6 // across)
    return [
        _place(
            figure, _EDGE + wide * (i % across) + 0.5, top - high * (i // across + 1) + 0.5, wide - 0.72, high - 0.95
        )
        for i in range(6)
    ]


def overview(run: Motion) -> Figure:
    """Draw the page to put before a customer: the linkage, its main curves and the verdict, on A4.

    Lengths in the design's own unit [mm or in], angles in [deg]. A calculation, not a certificate:
    the page says so.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    matplotlib Figure

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.save(linkage.plots.overview(run), "overview.png")  # doctest: +SKIP
    """
    answer = answers.check(run)
    wide, _ = A4
    figure = style.figure(*A4)
    column = wide - _EDGE - 3.1  # left edge of the curves
    with style.look():
        sheet = _sheet(figure)
        top = _title(sheet, run.rig, wide - 2 * _EDGE - 1.7)
        _badge(sheet, answer)
        foot = _caution(sheet, wide - 2 * _EDGE)
        floor = _verdict(sheet, answer, foot + 0.1, column - _EDGE - 0.75)
    at = (0.0, 0.5, 1.0)
    scenes = [scene_of(run, at, view_named(name)) for name in views_needed(run, every_arm=False)]
    _draw_views(figure, scenes, Box(_EDGE, floor + 0.1, column - _EDGE - 0.6, top - floor - 0.15), at=at, arms=False)
    high = (top - foot) / 3.0
    plots: tuple[Callable[[Motion, Axes], Axes], ...] = (graphs.plate_angles, apart.mismatch, graphs.progression)
    for i, plot in enumerate(plots):
        plot(run, _place(figure, column, top - high * (i + 1) + 0.52, 3.1, high - 0.88))
    return figure


def _draw_views(
    figure: Figure, scenes: Sequence[Scene], box: Box, *, at: Sequence[float], labels: bool = True, arms: bool = True
) -> None:
    """Draw every view in its share of a box [in]; the first carries key and notes for all."""
    _, boxes = arrange([_need(scene, alone=i == 0) for i, scene in enumerate(scenes)], box)
    for i, (scene, share) in enumerate(zip(scenes, boxes, strict=True)):
        geometry.draw(scene, _place(figure, *share), at=at, labels=labels, alone=i == 0, arms=arms or i == 0)


def _need(scene: Scene, *, alone: bool) -> Need:
    wide, high = (float(v) for v in np.ptp(content(scene), axis=0))
    beside, above = 2.0 * page.MARGIN[0] + 8.0, 2.0 * page.MARGIN[1] + 54.0 + (44.0 if alone else 0.0)
    return Need(wide, high, beside / 72.0, above / 72.0)


def _place(figure: Figure, left: float, bottom: float, wide: float, high: float) -> Axes:
    """Axes in a box given in inches."""
    across, up = figure.get_size_inches()
    made: Axes = figure.add_axes((left / across, bottom / up, wide / across, high / up))
    return made


def _sheet(figure: Figure) -> Axes:
    """Axes that are the page itself, in inches, for its words."""
    sheet: Axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), zorder=-1)
    sheet.set_axis_off()
    wide, high = figure.get_size_inches()
    sheet.set(xlim=(0.0, wide), ylim=(0.0, high))
    return sheet


def _title(sheet: Axes, rig: Linkage, wide: float) -> float:
    """Write the title and what identifies the design; returns the height [in] below which the page is free."""
    top = float(sheet.get_ylim()[1]) - _EDGE
    title = words.wrapped(sheet, rig.title, 15.0, 72.0 * wide, "bold", lines=2)
    sheet.text(_EDGE, top, title, size=15, weight="bold", va="top", linespacing=1.15, gid="title")
    top -= 0.26 * (title.count("\n") + 1) + 0.06
    told = [
        f"Drawing {rig.drawing}" if rig.drawing else "",
        f"for {rig.customer}" if rig.customer else "",
        f"seen from {rig.seen_from}" if rig.seen_from else "",
        f"lengths in {'mm' if rig.units == 'mm' else 'inches'}, angles in degrees",
    ]
    small = words.wrapped(sheet, "  ·  ".join(filter(None, told)), PLAIN, 72.0 * wide, lines=2)
    sheet.text(_EDGE, top, small, size=PLAIN, color=SOFT, va="top", linespacing=1.25, gid="subtitle")
    top -= 0.17 * (small.count("\n") + 1) + 0.06
    across = float(sheet.get_xlim()[1]) - _EDGE
    sheet.plot([_EDGE, across], [top, top], color=INK, linewidth=1.0, scalex=False, scaley=False)
    return top - 0.06


def _badge(sheet: Axes, answer: Answer) -> None:
    """The verdict as one word; its sign and its frame differ besides its colour."""
    colour, sign = {"pass": (GOOD, "✓"), "caution": (WARN, "!"), "fail": (BAD, "✗")}[answer.verdict]
    across, top = float(sheet.get_xlim()[1]) - _EDGE, float(sheet.get_ylim()[1]) - _EDGE
    frame = {"boxstyle": "round,pad=0.45", "facecolor": "white", "edgecolor": colour, "linewidth": 1.8}
    sheet.text(
        across - 0.09, top - 0.2, f"{sign}  {answer.verdict.upper()}", size=13, weight="bold", color=colour,
        ha="right", va="center", bbox=frame, gid="verdict",
    )  # fmt: skip


def _caution(sheet: Axes, wide: float) -> float:
    text = words.wrapped(sheet, answers.CAUTION, SMALL, 72.0 * wide)
    sheet.text(_EDGE, 0.26, text, size=SMALL, color=SOFT, va="bottom", linespacing=1.25, gid="caution")
    return 0.26 + 0.142 * (text.count("\n") + 1) + 0.1


def _verdict(sheet: Axes, answer: Answer, bottom: float, wide: float) -> float:
    """Write the figures and the checks that do not pass, from the bottom up; returns the height used up to."""
    lines: list[tuple[str, str, str]] = []  # sign, words, colour
    for check in sorted(answer.checks, key=lambda one: ("fail", "caution", "pass").index(one.verdict)):
        if check.verdict != "pass":
            colour = BAD if check.verdict == "fail" else WARN
            says = words.wrapped(sheet, check.says[:1].upper() + check.says[1:], PLAIN, 72.0 * wide - 16.0)
            lines.append(("✗" if check.verdict == "fail" else "!", says, colour))
    passed = sum(check.verdict == "pass" for check in answer.checks)
    total = len(answer.checks)
    shown: list[tuple[str, str, str]] = []
    used = 0
    for line in lines:
        if used + line[1].count("\n") + 1 > _WORDS:
            shown.append(("", f"{len(lines) - len(shown)} more in the check report.", INK))
            break
        shown.append(line)
        used += line[1].count("\n") + 1
    shown.append(("✓", f"All {total} checks pass." if passed == total else f"{passed} of {total} checks pass.", GOOD))
    shown.insert(0, ("", words.wrapped(sheet, _figures(answer), PLAIN, 72.0 * wide), INK))
    y = bottom
    for i, (sign, says, colour) in reversed(list(enumerate(shown))):
        left = _EDGE + (0.22 if sign else 0.0)
        sheet.text(left, y, says, size=PLAIN, va="bottom", linespacing=1.25, gid=f"words.{i}")
        if sign:
            sheet.text(
                _EDGE, y + 0.156 * says.count("\n"), sign, size=PLAIN + 1, weight="bold", color=colour, va="bottom"
            )
        y += 0.156 * (says.count("\n") + 1) + 0.05
    return y


def _figures(answer: Answer) -> str:
    """The few figures a customer asks for, in one sentence each."""
    rig = answer.run.rig
    told = []
    if answer.cable is not None:
        told.append(f"Cable travel {length(answer.cable.needed, rig.units)} with its free play.")
    if answer.pedal is not None and answer.pedal.opens:
        told.append(f"Pedal travel {length(answer.pedal.needed, rig.units)}.")
    half = next(row for row in answer.progression.table if row.fraction == 0.5)
    told.append(f"Plate angle at half travel {style.angle_text(half.plate_angle)} ({answer.progression.shaft}).")
    if len(compared(rig)) > 1:
        worst = answer.mismatch.largest
        air = answer.mismatch.flow_at_idle_percent
        if worst.value < 0.005:
            return " ".join([*told, "The shafts keep together to a hundredth of a degree through the whole travel."])
        told.append(f"Largest mismatch {worst.value:.2f}° at {percent(abs(worst.fraction))};")
        told.append(
            f"at idle {answer.mismatch.at_idle:.2f}°" + ("." if air is None else f", {air:.1f} % of the idle air.")
        )
    return " ".join(told)
