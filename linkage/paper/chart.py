"""Curves over the travel as moving pictures: a marker on each keeps step with the linkage."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from linkage.answers.mismatch import mismatch, spread
from linkage.motion import Motion
from linkage.paper.naming import cut, text_width
from linkage.paper.readings import pulls_open
from linkage.paper.shapes import Bar, Curve, Dot, Floats, Picture, Place, Shape, Words
from linkage.plots import style
from linkage.plots.panel import Against, travel_axis
from linkage.plots.style import FAINT, GRID, INK, PAPER, SOFT, Pen

#: letters of a chart [pt]
SIZE = 8.0

_LEFT, _RIGHT, _BOTTOM, _TOP = 30.0, 8.0, 29.0, 21.0  # margins about the curves [pt]
_MARKS = 6  # signs along a curve
_FINE = 91  # positions to a curve


@dataclass(frozen=True)
class _Frame:
    """The field of a chart: data from ``low`` to ``high`` on the picture's own points."""

    size: tuple[float, float]
    low: Place
    high: Place

    def on(self, x: Floats, y: Floats) -> Floats:
        """Data as points (n, 2) of the picture."""
        wide, up = self.size[0] - _LEFT - _RIGHT, self.size[1] - _BOTTOM - _TOP
        across = _LEFT + wide * (np.asarray(x, float) - self.low[0]) / (self.high[0] - self.low[0])
        level = _BOTTOM + up * (np.asarray(y, float) - self.low[1]) / (self.high[1] - self.low[1])
        return np.stack(np.broadcast_arrays(across, level), axis=-1)

    def place(self, x: float, y: float) -> Place:
        (at,) = self.on(np.array([x]), np.array([y]))
        return float(at[0]), float(at[1])


def plate_angle_chart(run: Motion, size: tuple[float, float], shares: Sequence[float] | Floats = ()) -> Picture:
    """Plate angle of every shaft [deg] over the pedal [mm or in], with a marker for each share of the travel.

    Parameters
    ----------
    run : Motion
    size : (float, float)
        Width and height [pt].
    shares : sequence of float
        Shares 0..1 of the travel [-] at which the markers stand, one position each.

    Returns
    -------
    Picture
        Over the cable [mm or in] or the travel [%] where the design has no pedal.
    """
    fine, words = run.at(np.linspace(*run.ends, _FINE)).with_kinks(), _words(run)
    x = travel_axis(fine, _against(run))[0]
    curves = fine.plate_angle
    values = np.concatenate(list(curves.values()))
    frame = _frame(size, x, min(0.0, float(np.min(values))), max(90.0, float(np.max(values))))
    shapes = [*_field(frame, "Plate angle [°]", words, _steps(frame.low[1], frame.high[1], (10.0, 15.0, 30.0)))]
    pens = style.pens(curves)
    for i, (name, angles) in enumerate(curves.items()):
        shapes += _curve(frame, x, angles, pens[name], i)
    shapes += _key(frame, pens)
    tracks = {}
    at = run.at_fraction(shares) if len(shares) else None
    if at is not None:
        here = travel_axis(at, _against(run))[0]
        tracks = _cursor(frame, here) | {
            f"plate angle {name}": frame.on(here, angle) for name, angle in at.plate_angle.items()
        }
        shapes += _followers(tracks, {f"plate angle {name}": pens[name].colour for name in curves})
    return Picture(*size, tuple(shapes), tracks)


def mismatch_chart(run: Motion, size: tuple[float, float], shares: Sequence[float] | Floats = ()) -> Picture:
    """Mismatch of the shafts [deg] over the pedal [mm or in] and its limits; as :func:`plate_angle_chart`."""
    found, limits = mismatch(run), run.rig.limits
    turns = np.unique([*np.linspace(*run.ends, 181), *found.regions, found.largest.turn])
    fine = run.at(turns if run.ends[0] <= run.ends[1] else turns[::-1])
    x, apart = travel_axis(fine, _against(run))[0], spread(fine)
    borders = travel_axis(run.at(found.regions), _against(run))[0]
    regions = [(float(x[0]), float(borders[0]), limits.mismatch_off_idle)]
    regions += [(float(borders[0]), float(borders[1]), limits.mismatch)] if found.middle is not None else []
    regions.append((float(borders[1]), float(x[-1]), limits.mismatch_at_wide_open))
    top = max(float(np.max(apart)), limits.mismatch_off_idle, limits.mismatch if found.middle else 0.0, 1e-3)
    frame = _frame(size, x, 0.0, 1.25 * top)
    shapes = [*_field(frame, "Plates apart [°]", _words(run), _steps(0.0, frame.high[1]))]
    for left, right, limit in regions:
        if limit < frame.high[1] and left != right:
            shapes.append(Curve((frame.place(left, limit), frame.place(right, limit)), INK, 0.9, (4.0, 2.0)))
            middle = frame.place(0.5 * (left + right), limit)
            room = frame.place(right, 0.0)[0] - frame.place(left, 0.0)[0]
            words = [w for w in (f"limit {limit:g}°", f"{limit:g}°") if text_width(w, SIZE - 1.0) < room]
            below = float(np.interp(0.5 * (left + right), x, apart)) > limit  # on the side where the curve is not
            level = middle[1] - SIZE if below and middle[1] - SIZE > _BOTTOM + 1.0 else middle[1] + 2.5
            shapes += [_said(w, (middle[0], level), SIZE - 1.0) for w in words[:1]]
    pen = Pen(style.PALETTE[0], (0, ()), "o", 1.8)
    shapes.append(Curve(_places(frame, x, apart), pen.colour, pen.width))
    tracks = {}
    if len(shares):
        at = run.at_fraction(shares)
        here = travel_axis(at, _against(run))[0]
        tracks = _cursor(frame, here) | {"apart": frame.on(here, spread(at))}
        shapes += _followers(tracks, {"apart": pen.colour})
    return Picture(*size, tuple(shapes), tracks)


def _against(run: Motion) -> Against:
    if not pulls_open(run):
        return "fraction"
    return "cable" if run.pedal is None else "pedal"


def _words(run: Motion) -> str:
    if not pulls_open(run):
        return f"Travel of {run.rig.driver} [%]" if len(run.rig.driver) < 24 else "Travel [%]"
    return f"{'Cable' if run.pedal is None else 'Pedal'} [{run.rig.units}]"


def _frame(size: tuple[float, float], x: Floats, low: float, high: float) -> _Frame:
    first, last = float(np.min(x)), float(np.max(x))
    if last - first < 1e-9:
        first, last = first - 1.0, last + 1.0
    return _Frame(size, (min(first, 0.0), low), (last, high if high > low else low + 1.0))


def _steps(low: float, high: float, known: Sequence[float] = ()) -> list[float]:
    """Round steps of a scale, about four to seven of them."""
    span = high - low
    power = 10.0 ** math.floor(math.log10(span))
    choices = known or [power * step for step in (0.1, 0.2, 0.25, 0.5, 1.0, 2.0)]
    step = min((c for c in choices if span / c <= 6.5 or c == choices[-1]), key=lambda c: (abs(span / c - 5.0), c))
    return [step * i for i in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)]


def _field(frame: _Frame, title: str, across: str, levels: Sequence[float]) -> Iterator[Shape]:
    """Title, scales and grid."""
    yield Words((2.0, frame.size[1] - 1.1 * SIZE), title, SIZE, INK, bold=True)
    left, right = frame.low[0], frame.high[0]
    for level in levels:
        a, b = frame.place(left, level), frame.place(right, level)
        yield Curve((a, b), GRID, 0.6)
        yield Words((a[0] - 4.0, a[1] - 0.36 * SIZE), f"{level:g}".replace("-", "−"), SIZE - 0.5, SOFT, align="end")
    corner = frame.place(left, frame.low[1])
    yield Curve((frame.place(left, frame.high[1]), corner, frame.place(right, frame.low[1])), SOFT, 0.7)
    for x in _steps(left, right):
        foot = frame.place(x, frame.low[1])
        yield Curve((foot, (foot[0], foot[1] - 3.0)), SOFT, 0.7)
        yield _said(f"{x:g}".replace("-", "−"), (foot[0], foot[1] - 4.0 - 0.8 * SIZE), SIZE - 0.5)
    middle = 0.5 * (corner[0] + frame.place(right, 0.0)[0])
    yield Words((middle, 3.0), across, SIZE - 0.5, INK, align="middle")


def _said(text: str, at: Place, size: float) -> Words:
    return Words(at, text, size, SOFT, align="middle")


def _places(frame: _Frame, x: Floats, y: Floats) -> tuple[Place, ...]:
    return tuple((float(px), float(py)) for px, py in frame.on(x, y) if math.isfinite(px) and math.isfinite(py))


def _curve(frame: _Frame, x: Floats, y: Floats, pen: Pen, turn: int) -> Iterator[Shape]:
    """A curve with its own dashes and signs, the signs of one beside those of another."""
    points = frame.on(x, y)
    yield Curve(_places(frame, x, y), pen.colour, 0.75 * pen.width, _dashes(pen))
    step = len(x) // _MARKS
    for i in range(step // 4 + (turn * step // 4) % step, len(x), step):
        if np.isfinite(points[i]).all():
            yield _sign(pen, (float(points[i, 0]), float(points[i, 1])))


def _dashes(pen: Pen) -> tuple[float, ...]:
    """Dashes of a pen [pt]; it counts them in widths of its line."""
    return () if isinstance(pen.dashes, str) else tuple(0.75 * pen.width * float(dash) for dash in pen.dashes[1])


def _sign(pen: Pen, at: Place, size: float = 2.3) -> Shape:
    corners = {
        "s": [(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
        "^": [(-1.0, -0.8), (1.0, -0.8), (0.0, 1.1)],
        "v": [(-1.0, 0.8), (1.0, 0.8), (0.0, -1.1)],
        "D": [(-1.2, 0.0), (0.0, -1.2), (1.2, 0.0), (0.0, 1.2)],
    }.get(pen.marker)
    if corners is None:
        return Dot(at, size, pen.colour, PAPER, 0.5)
    return Curve(tuple((at[0] + size * x, at[1] + size * y) for x, y in corners), fill=pen.colour)


def _key(frame: _Frame, pens: Mapping[str, Pen]) -> Iterator[Shape]:
    """The names of the curves, above the field from the right; as many as there is room for."""
    if len(pens) < 2:
        return
    right, level = frame.size[0] - 4.0, frame.size[1] - 1.1 * SIZE
    room = right - text_width("Plate angle [°]", SIZE, bold=True) - 14.0
    shown = [(cut(name, 14), pen) for name, pen in pens.items()]
    wide = [text_width(name, SIZE - 0.5) + 27.0 for name, _ in shown]
    kept = len(shown)
    while kept and sum(wide[:kept]) + (34.0 if kept < len(shown) else 0.0) > room:
        kept -= 1
    x = right - sum(wide[:kept]) - (34.0 if kept < len(shown) else 0.0)
    for (name, pen), step in zip(shown[:kept], wide[:kept], strict=True):
        y = level + 0.34 * SIZE
        yield Curve(((x, y), (x + 15.0, y)), pen.colour, 0.75 * pen.width, _dashes(pen))
        yield _sign(pen, (x + 7.5, y))
        yield Words((x + 18.0, level), name, SIZE - 0.5, INK)
        x += step
    if kept < len(shown):
        yield Words((x, level), f"+ {len(shown) - kept}", SIZE - 0.5, SOFT)


def _cursor(frame: _Frame, x: Floats) -> dict[str, Floats]:
    return {
        "cursor low": frame.on(x, np.array(frame.low[1])),
        "cursor high": frame.on(x, np.array(frame.high[1])),
    }


def _followers(tracks: Mapping[str, Floats], colours: Mapping[str, str]) -> Iterator[Shape]:
    """The line at the pedal's place, and a marker on every curve there."""
    if tracks:
        yield Bar("cursor low", "cursor high", FAINT, 1.0, blunt=True)
    for name, colour in colours.items():
        yield Dot(name, 4.0, PAPER, colour, 2.0)
