"""Words on a drawing, placed so that none covers another or hides a part.

A :class:`Board` remembers what is drawn (as line pieces with weights) and what is written (as
boxes), in points of the page. Every label tries places about its own part, dear where it would
lie on a line or far off, forbidden where it would touch other words or leave the page; then each
is lifted once more and put down again, now that it knows where the others are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage.plots.style import INK, PAPER, PLAIN, SOFT, figure_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

_GAP = 3.0  # [pt] between a part and its label
_AIR = 1.5  # [pt] between labels
_NEAR = 9.0  # [pt] a label further off than this gets a leader
_SOLID = 3.0  # lines of this weight are the picture's main ones,
_HIDES = 15.0  # [pt] and no label may lie on more of them
_FORBIDDEN = 1e9


@dataclass(frozen=True)
class Label:
    """Words for a part: a bold ``head`` and a plain ``body`` (lines), about the line ``start`` - ``end``
    (data coordinates; the same point twice for a pivot, then ``clear`` [pt] of it)."""

    head: str
    body: str
    start: tuple[float, float]
    end: tuple[float, float]
    colour: str = INK
    gid: str = ""
    clear: float = 10.0


@dataclass
class Board:
    """A drawing's page in points: what stands on it, and the axes it belongs to."""

    ax: Axes
    room: tuple[float, float, float, float]  # left, bottom, right, top [pt] where labels may stand
    zoom: float = 1.0  # size of the symbols: smaller where the whole drawing is small
    pieces: list[Floats] = field(default_factory=list)  # rows x0 y0 x1 y1 [pt]
    weights: list[Floats] = field(default_factory=list)
    boxes: list[tuple[float, float, float, float]] = field(default_factory=list)

    @property
    def point(self) -> float:
        """Data units in a point of the page."""
        return float(np.ptp(self.data(np.array([[0.0, 0.0], [1.0, 0.0]]))[:, 0]))

    @property
    def per_point(self) -> float:
        """Pixels in a point of the page."""
        return figure_of(self.ax).dpi / 72.0

    def on_page(self, points: ArrayLike) -> Floats:
        """Data coordinates (..., 2) as points of the page, from the axes' lower left corner."""
        pixels = self.ax.transData.transform(np.asarray(points, float).reshape(-1, 2))
        corner = self.ax.transAxes.transform((0.0, 0.0))
        return np.asarray((pixels - corner) / self.per_point).reshape(np.shape(points))

    def drawn(self, points: ArrayLike, weight: float) -> None:
        """Note a drawn line (n, 2) in data coordinates that labels had better not lie on."""
        at = self.on_page(points)
        at = at[np.unique(np.linspace(0, len(at) - 1, min(len(at), 13)).astype(int))]
        rows = np.hstack([at[:-1], at[1:]])
        self.pieces.append(rows)
        self.weights.append(np.full(len(rows), weight))

    def spot(self, point: ArrayLike, radius: float, weight: float = 6.0) -> None:
        """Note a round symbol [pt] that labels had better not hide."""
        x, y = self.on_page(point)
        cross = [[x - radius, y, x + radius, y], [x, y - radius, x, y + radius]]
        self.pieces.append(np.array(cross, float))
        self.weights.append(np.full(2, weight))

    def written(self, artist: Any) -> None:
        """Note words or a legend already on the page: no label may touch them."""
        extent = artist.get_window_extent()
        low = (np.array(extent.min) - self.ax.transAxes.transform((0.0, 0.0))) / self.per_point
        high = (np.array(extent.max) - self.ax.transAxes.transform((0.0, 0.0))) / self.per_point
        self.boxes.append((float(low[0]), float(low[1]), float(high[0]), float(high[1])))

    def place(self, labels: Sequence[Label]) -> list[Label]:
        """Write the labels, the first with the first choice; return those for which there is no room."""
        sizes = [_size(self.ax, label, self.per_point) for label in labels]
        pieces = np.concatenate([*self.pieces, np.empty((0, 4))])
        weights = np.concatenate([*self.weights, np.empty(0)])
        chosen: dict[int, _Spot] = {}
        for _ in range(2):
            for i, label in enumerate(labels):
                others = [spot for j, spot in chosen.items() if j != i]
                leaders = [spot.leader for spot in others if spot.leader is not None]
                about = _surroundings(self.boxes, [spot.box for spot in others], pieces, weights, leaders)
                best = self._best(label, sizes[i], about)
                if best is not None:
                    chosen[i] = best
        for i, label in enumerate(labels):
            if i in chosen:
                self._write(label, chosen[i], sizes[i])
        return [label for i, label in enumerate(labels) if i not in chosen]

    def _best(self, label: Label, size: _Size, everything: _Surroundings) -> _Spot | None:
        start, end = self.on_page(label.start), self.on_page(label.end)
        near_enough = max(_NEAR, label.clear + 3.0)
        for centres, anchors in (_beside(start, end, size, label.clear), _anywhere(self.room, start, end)):
            boxes = np.hstack([centres - size.half, centres + size.half])
            about = _near_to(boxes, everything)
            near = np.clip(anchors, boxes[:, :2], boxes[:, 2:])
            leader = np.hstack([near, anchors])
            far = np.hypot(*(anchors - near).T)
            cost = far + np.where(far > near_enough, 6.0, 0.0)
            covered = _inside(boxes, about.pieces)
            cost += covered @ about.weights
            cost += np.where(far > near_enough, _crossed(leader, about), 0.0)
            outside = (boxes[:, :2] < self.room[:2]).any(1) | (boxes[:, 2:] > self.room[2:]).any(1)
            touching = np.zeros(len(boxes), bool)
            for box in about.boxes:
                touching |= _touch(boxes, box)
            hidden = covered[:, about.weights >= _SOLID].sum(axis=1) > _HIDES
            cost[outside | touching | hidden] = _FORBIDDEN
            if len(cost) and (best := int(np.argmin(cost))) >= 0 and cost[best] < _FORBIDDEN:
                x0, y0, x1, y1 = (float(v) for v in boxes[best])
                return _Spot((x0, y0, x1, y1), leader[best] if far[best] > near_enough else None)
        return None

    def _write(self, label: Label, spot: _Spot, size: _Size) -> None:
        x0, y0, x1, y1 = spot.box
        self.boxes.append(spot.box)
        middle = 0.5 * (x0 + x1)
        if spot.leader is not None:
            ends = self.data(spot.leader.reshape(2, 2))
            self.ax.plot(*ends.T, color=SOFT, linewidth=0.6, zorder=5.5, scalex=False, scaley=False)
        backing = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 0.6}
        for text, bold, y, align in ((label.head, True, y1, "top"), (label.body, False, y0, "bottom")):
            if text:
                x, y_data = self.data(np.array([[middle, y]]))[0]
                self.ax.text(
                    x, y_data, text,
                    color=label.colour, size=PLAIN - 0.5, weight="bold" if bold else "normal",
                    ha="center", va=align, zorder=6, linespacing=1.15, bbox=backing,
                    gid=f"{label.gid}.{'head' if bold else 'body'}" if label.gid else None,
                )  # fmt: skip

    def data(self, points: Floats) -> Floats:
        """Points of the page (n, 2) as data coordinates."""
        pixels = points * self.per_point + self.ax.transAxes.transform((0.0, 0.0))
        return np.asarray(self.ax.transData.inverted().transform(pixels))


@dataclass(frozen=True)
class _Size:
    half: Floats  # half width and half height [pt]


@dataclass(frozen=True)
class _Spot:
    box: tuple[float, float, float, float]
    leader: Floats | None


@dataclass(frozen=True)
class _Surroundings:
    boxes: list[tuple[float, float, float, float]]
    pieces: Floats
    weights: Floats


def _surroundings(
    fixed: list[tuple[float, float, float, float]],
    others: list[tuple[float, float, float, float]],
    pieces: Floats,
    weights: Floats,
    leaders: list[Floats],
) -> _Surroundings:
    rows = np.array(leaders).reshape(-1, 4)
    return _Surroundings(
        [*fixed, *others], np.vstack([pieces, rows]), np.concatenate([weights, np.full(len(rows), 4.0)])
    )


def _near_to(boxes: Floats, everything: _Surroundings) -> _Surroundings:
    """What of the surroundings may touch any of the boxes or their leaders."""
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    ends = everything.pieces.reshape(-1, 2, 2)
    kept = ((ends.max(axis=1) >= low) & (ends.min(axis=1) <= high)).all(axis=1)
    return _Surroundings(everything.boxes, everything.pieces[kept], everything.weights[kept])


def _size(ax: Axes, label: Label, per_point: float) -> _Size:
    width = height = 0.0
    for text, weight in ((label.head, "bold"), (label.body, "normal")):
        if text:
            w, h = text_size(ax, text, PLAIN - 0.5, weight)
            width, height = max(width, w), height + h
    return _Size(np.array([0.5 * width + 0.5, 0.5 * height + 0.5]))


def text_size(ax: Axes, text: str, size: float, weight: str = "normal") -> tuple[float, float]:
    """Width and height [pt] of words as they would be written."""
    trial = ax.text(0, 0, text, size=size, weight=weight, linespacing=1.15)
    extent = trial.get_window_extent()
    trial.remove()
    per_point = figure_of(ax).dpi / 72.0
    return float(extent.width) / per_point, float(extent.height) / per_point


def wrapped(ax: Axes, text: str, size: float, width: float, weight: str = "normal", *, lines: int | None = None) -> str:
    """Words broken into lines no wider than ``width`` [pt], cut short after a number of ``lines``."""
    import textwrap

    if not text:
        return text
    letters = max(int(width * len(text) / max(text_size(ax, text, size, weight)[0], 1.0)), 4)
    while True:
        rows = textwrap.wrap(text, letters, break_on_hyphens=False, max_lines=lines, placeholder=" …")
        if letters <= 4 or text_size(ax, "\n".join(rows), size, weight)[0] <= width:
            return "\n".join(rows)
        letters -= max(1, letters // 40)


def _beside(start: Floats, end: Floats, size: _Size, clear: float) -> tuple[Floats, Floats]:
    """Box centres and anchor points about a part: square to a line, all round a point."""
    along = end - start
    length = float(np.hypot(*along))
    centres, anchors = [], []
    if length > 1.0:
        unit = along / length
        for t in (0.5, 0.42, 0.58, 0.33, 0.67, 0.25, 0.75, 0.15, 0.85):
            for side in (1.0, -1.0):
                normal = side * np.array([-unit[1], unit[0]])
                reach = float(np.abs(normal) @ size.half)
                for off in (_GAP, 6.0, 11.0, 18.0, 28.0, 40.0, 56.0):
                    centres.append(start + t * along + (reach + off) * normal)
                    anchors.append(start + t * along)
    else:
        for angle in np.radians(np.arange(0.0, 360.0, 22.5)):
            way = np.array([math.cos(angle), math.sin(angle)])
            reach = min(size.half[i] / max(abs(way[i]), 1e-9) for i in (0, 1))
            for off in clear + np.array([0.0, 4.0, 10.0, 18.0, 28.0, 42.0, 60.0]):
                centres.append(start + (reach + off) * way)
                anchors.append(start)
    return np.array(centres), np.array(anchors)


def _anywhere(room: tuple[float, float, float, float], start: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Box centres all over the page, for a part whose surroundings are taken."""
    x, y = np.meshgrid(np.arange(room[0], room[2], 7.0), np.arange(room[1], room[3], 5.0))
    centres = np.column_stack([x.ravel(), y.ravel()])
    return centres, np.broadcast_to(0.5 * (start + end), centres.shape)


def _touch(boxes: Floats, box: tuple[float, float, float, float]) -> NDArray[np.bool_]:
    x0, y0, x1, y1 = box
    return np.asarray(
        (boxes[:, 0] < x1 + _AIR) & (boxes[:, 2] > x0 - _AIR) & (boxes[:, 1] < y1 + _AIR) & (boxes[:, 3] > y0 - _AIR)
    )


def _inside(boxes: Floats, pieces: Floats) -> Floats:
    """Length [pt] of every line piece within every box, shape (boxes, pieces)."""
    low, high = np.zeros((len(boxes), len(pieces))), np.ones((len(boxes), len(pieces)))
    for i in (0, 1):
        from_, along = pieces[None, :, i], pieces[None, :, i + 2] - pieces[None, :, i]
        flat = np.abs(along) < 1e-9
        safe = np.where(flat, 1.0, along)
        one, two = (boxes[:, None, i] - from_) / safe, (boxes[:, None, i + 2] - from_) / safe
        within = (from_ >= boxes[:, None, i]) & (from_ <= boxes[:, None, i + 2])
        low = np.maximum(low, np.where(flat, np.where(within, 0.0, 2.0), np.minimum(one, two)))
        high = np.minimum(high, np.where(flat, np.where(within, 1.0, -1.0), np.maximum(one, two)))
    length = np.hypot(pieces[:, 2] - pieces[:, 0], pieces[:, 3] - pieces[:, 1])
    return np.asarray(np.maximum(high - low, 0.0) * length)


def _crossed(leaders: Floats, about: _Surroundings) -> Floats:
    """Cost of every leader: heavily where it runs through words, lightly where it crosses lines."""
    cost = np.zeros(len(leaders))
    for x0, y0, x1, y1 in about.boxes:
        cost += 3.0 * _inside(np.array([[x0, y0, x1, y1]]), leaders)[0]
    heavy = about.weights >= 0.8
    a, b = leaders[:, None, :2], leaders[:, None, 2:]
    c, d = about.pieces[None, heavy, :2], about.pieces[None, heavy, 2:]
    over = (_side(a, b, c) * _side(a, b, d) < 0.0) & (_side(c, d, a) * _side(c, d, b) < 0.0)
    return np.asarray(cost + 5.0 * np.sum(over, axis=1))


def _side(a: Floats, b: Floats, p: Floats) -> Floats:
    u, v = b - a, p - a
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])
