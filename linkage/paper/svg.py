"""Pictures as SVG text. What moves carries the names of its tracks, for the page's script."""

from __future__ import annotations

from collections.abc import Mapping

from linkage.paper.markup import Html, tag
from linkage.paper.shapes import Bar, Curve, Dot, Picture, Shape, Spot, spots


def svg(picture: Picture, *, says: str = "", live: Mapping[str, int] | None = None) -> Html:
    """A picture as inline SVG at its first position.

    Parameters
    ----------
    picture : Picture
    says : str
        What the picture shows, for those who do not see it; without words it is hidden from them.
    live : mapping of str to int, optional
        Number of every track in the page's data: what moves is then marked with the tracks of its
        ends, ``data-a`` and ``data-b``.

    Returns
    -------
    Html
        Without style attributes or scripts of its own; the page's style sheet rounds the ends of its
        lines, but for those of class ``blunt``, and sets words of class ``halo`` on white.
    """
    shown: dict[str, object] = {"role": "img", "aria-label": says} if says else {"aria-hidden": "true"}
    return tag(
        "svg",
        *(_drawn(picture, shape, live or {}) for shape in picture.shapes),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(picture.wide)} {number(picture.high)}",
        **shown,
    )


def number(value: float) -> str:
    """A coordinate to a tenth of a point, as short as can be."""
    text = f"{value:.1f}"
    return "0" if text == "-0.0" else text.removesuffix(".0")


def _drawn(picture: Picture, shape: Shape, live: Mapping[str, int]) -> Html:
    tracks = [live.get(spot) if isinstance(spot, str) else None for spot in spots(shape)[:2]]
    moved = {key: at for key, at in zip(("data-a", "data-b"), tracks, strict=False) if at is not None}
    if isinstance(shape, Bar):
        (x1, y1), (x2, y2) = _at(picture, shape.start), _at(picture, shape.end)
        look = _stroke(shape.colour, shape.width, shape.dashes)
        ends = {"class": "blunt"} if shape.blunt else {}
        return tag("line", x1=x1, y1=y1, x2=x2, y2=y2, **look, **ends, **moved)
    if isinstance(shape, Dot):
        x, y = _at(picture, shape.at)
        look = _stroke(shape.colour, shape.width) if shape.colour else {}
        return tag("circle", cx=x, cy=y, r=number(shape.radius), fill=shape.fill, **look, **moved)
    if isinstance(shape, Curve):
        points = [" ".join(_at(picture, place)) for place in shape.places]
        look = _stroke(shape.colour, shape.width, shape.dashes) if shape.colour else {}
        return tag("path", d=f"M{'L'.join(points)}", fill=shape.fill or "none", **look)
    x, y = _at(picture, shape.at)
    more: dict[str, str] = {} if shape.align == "start" else {"text-anchor": shape.align}
    more |= {"font-weight": "bold"} if shape.bold else {}
    more |= {"transform": f"rotate(-90 {x} {y})"} if shape.upright else {}
    more |= {"class": "halo"} if shape.halo else {}
    return tag("text", shape.text, x=x, y=y, fill=shape.colour, **{"font-size": number(shape.size)}, **more)


def _at(picture: Picture, spot: Spot) -> tuple[str, str]:
    x, y = picture.tracks[spot][0] if isinstance(spot, str) else spot
    return number(float(x)), number(picture.high - float(y))


def _stroke(colour: str, width: float, dashes: tuple[float, ...] = ()) -> dict[str, str]:
    look = {"stroke": colour, "stroke-width": number(width)}
    return look | ({"stroke-dasharray": " ".join(number(dash) for dash in dashes)} if dashes else {})
