"""A picture as plain shapes, some of which move: one description for paper, page and film.

Coordinates are points of the picture, from its lower left corner, y up. A shape's place is fixed, or
the name of a *track*: where that point stands at each of the picture's positions.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Place = tuple[float, float]
Spot = str | Place  # a track's name, or a fixed place
Align = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Bar:
    """A straight line between two spots."""

    start: Spot
    end: Spot
    colour: str
    width: float
    dashes: tuple[float, ...] = ()
    blunt: bool = False  # square ends, not round ones


@dataclass(frozen=True, slots=True)
class Dot:
    """A round spot."""

    at: Spot
    radius: float
    fill: str
    colour: str = ""
    width: float = 0.0


@dataclass(frozen=True, slots=True)
class Curve:
    """A line through fixed places; filled where it has a ``fill``."""

    places: tuple[Place, ...]
    colour: str = ""
    width: float = 0.0
    dashes: tuple[float, ...] = ()
    fill: str = ""


@dataclass(frozen=True, slots=True)
class Words:
    """A line of text on its baseline, ``at`` its start, middle or end."""

    at: Place
    text: str
    size: float
    colour: str
    bold: bool = False
    align: Align = "start"
    upright: bool = False  # reads from below to above
    halo: bool = False  # on a white ground


Shape = Bar | Dot | Curve | Words


@dataclass(frozen=True)
class Picture:
    """Shapes from the back to the front, on a sheet ``wide`` x ``high``; tracks are (positions, 2)."""

    wide: float
    high: float
    shapes: tuple[Shape, ...]
    tracks: Mapping[str, Floats] = field(default_factory=dict)

    def at(self, position: int) -> Picture:
        """The picture standing still at one of its positions."""
        still = dict.fromkeys(self._still(shape, position) for shape in self.shapes)
        return Picture(self.wide, self.high, tuple(still))

    @property
    def moving(self) -> tuple[Shape, ...]:
        """The shapes that a track moves."""
        return tuple(shape for shape in self.shapes if any(isinstance(spot, str) for spot in spots(shape)))

    def _still(self, shape: Shape, position: int) -> Shape:
        if isinstance(shape, Bar):
            return replace(shape, start=self._place(shape.start, position), end=self._place(shape.end, position))
        if isinstance(shape, Dot):
            return replace(shape, at=self._place(shape.at, position))
        return shape

    def _place(self, spot: Spot, position: int) -> Place:
        if not isinstance(spot, str):
            return spot
        x, y = self.tracks[spot][position]
        return float(x), float(y)


def spots(shape: Shape) -> tuple[Spot, ...]:
    """The spots on which a shape depends."""
    if isinstance(shape, Bar):
        return shape.start, shape.end
    return (shape.at,) if isinstance(shape, Dot | Words) else shape.places


def moved(picture: Picture, right: float, up: float) -> tuple[Shape, ...]:
    """The shapes of a picture that stands still, moved on to a larger sheet."""

    def there(spot: Spot) -> Place:
        assert not isinstance(spot, str), "let the picture stand still first"
        return spot[0] + right, spot[1] + up

    found: list[Shape] = []
    for shape in picture.shapes:
        if isinstance(shape, Bar):
            found.append(replace(shape, start=there(shape.start), end=there(shape.end)))
        elif isinstance(shape, Dot | Words):
            found.append(replace(shape, at=there(shape.at)))
        else:
            found.append(replace(shape, places=tuple(there(place) for place in shape.places)))
    return tuple(found)


def scaled(picture: Picture, by: float) -> Picture:
    """A picture that stands still, larger or smaller in everything: lines and letters too."""

    def there(spot: Spot) -> Place:
        assert not isinstance(spot, str), "let the picture stand still first"
        return by * spot[0], by * spot[1]

    found: list[Shape] = []
    for shape in picture.shapes:
        if isinstance(shape, Words):
            found.append(replace(shape, at=there(shape.at), size=by * shape.size))
        elif isinstance(shape, Dot):
            found.append(replace(shape, at=there(shape.at), radius=by * shape.radius, width=by * shape.width))
        else:
            dashes = tuple(by * dash for dash in shape.dashes)
            if isinstance(shape, Bar):
                start, end = there(shape.start), there(shape.end)
                found.append(replace(shape, start=start, end=end, width=by * shape.width, dashes=dashes))
            else:
                places = tuple(there(place) for place in shape.places)
                found.append(replace(shape, places=places, width=by * shape.width, dashes=dashes))
    return Picture(by * picture.wide, by * picture.high, tuple(found))
