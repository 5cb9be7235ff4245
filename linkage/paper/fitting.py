"""A scene fitted into a picture, every joint of it on a track."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkage.motion import Motion
from linkage.paper.shapes import Floats, Place
from linkage.plots.scene import Scene, content, scene_of
from linkage.plots.views import ViewName, view_named

_WHOLE_ARM = 34.0  # [pt] signs are drawn full size where the middling arm is as long


def margins(size: tuple[float, float]) -> tuple[float, float]:
    """What a picture of a size leaves free for names beside and above the linkage [pt]."""
    return min(26.0, 0.08 * size[0]), min(20.0, 0.12 * size[1])


def extent(run: Motion, view: ViewName) -> tuple[float, float]:
    """Width and height of the linkage in a view, in the design's own unit [mm or in]."""
    wide, high = (float(v) for v in np.ptp(content(scene_of(run, (0.0, 0.5, 1.0), view_named(view))), axis=0))
    least = 1e-6 + 1e-3 * max(wide, high)
    return max(wide, least), max(high, least)


@dataclass(frozen=True)
class Stage:
    """A scene fitted into a picture: ``scale`` [pt per design unit], ``zoom`` of the signs, the tracks so far."""

    scene: Scene
    size: tuple[float, float]
    scale: float
    shift: Floats
    zoom: float
    tracks: dict[str, Floats]

    @classmethod
    def of(cls, scene: Scene, size: tuple[float, float]) -> Stage:
        points = content(scene)
        low, high = points.min(axis=0), points.max(axis=0)
        span = np.maximum(high - low, 1e-6 + 1e-3 * float(np.max(high - low)))
        free = np.maximum(np.array(size) - 2.0 * np.array(margins(size)), 20.0)
        scale = float(np.min(free / span))
        shift = 0.5 * np.array(size) - scale * 0.5 * (low + high)
        arms = [float(np.hypot(*(scene.pin[name][-1] - hub))) for name, hub in scene.hub.items()]
        zoom = float(np.clip(scale * np.median(arms) / _WHOLE_ARM, 0.45, 1.25)) if arms else 1.0
        return cls(scene, size, scale, shift, zoom, {})

    def on(self, points: Floats) -> Floats:
        """Flat points (..., 2) of the design on the picture."""
        return np.asarray(points * self.scale + self.shift)

    def place(self, point: Floats) -> Place:
        x, y = self.on(np.asarray(point, float))
        return float(x), float(y)

    def places(self, points: Floats) -> tuple[Place, ...]:
        return tuple((float(x), float(y)) for x, y in self.on(points))

    def track(self, name: str, points: Floats) -> str:
        """Set up a track of flat points (positions, 2); a point without a place stays where it was."""
        found = self.on(points).copy()
        for i in np.flatnonzero(~np.isfinite(found).all(axis=1)):
            found[i] = found[i - 1] if i else self.shift
        for known, places in self.tracks.items():
            if np.array_equal(places, found):
                return known  # coaxial parts move as one
        self.tracks[name] = found
        return name

    def pin(self, arm: str) -> str:
        name = f"pin {arm}"
        return name if name in self.tracks else self.track(name, self.scene.pin[arm])
