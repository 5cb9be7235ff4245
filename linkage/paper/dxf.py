"""Templates as DXF, for a laser, a water jet or another drawing program: true size, in the design's own unit.

========  =========================================================================
 layer    what is on it
========  =========================================================================
OUTLINE   the edge of a plate: one closed polyline, its arcs as bulges
HOLES     a circle for every hole
GROOVE    the bottom of a quadrant's groove: an open polyline
CENTRE    centre lines, and a cross at every centre
TEXT      names and sizes; switch it off before cutting
========  =========================================================================

Needs the optional package ezdxf.

References
----------
DXF reference, header variables ``$INSUNITS`` (1 inches, 4 millimetres) and ``$MEASUREMENT``; entity
LWPOLYLINE (bulge). From memory, read back by ezdxf's own audit in the tests.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from linkage.errors import OutputError
from linkage.paper.lines import fixed
from linkage.paper.plates import Pattern, Plate
from linkage.paper.sheet import Figures
from linkage.paper.snail_plate import SnailPlate
from linkage.paper.templates import Template, hole_rows
from linkage.parts import Linkage
from linkage.quantities import own_scale

#: layers and their colours (numbers of the AutoCAD colour index) and linetypes
LAYERS = {
    "OUTLINE": (7, "CONTINUOUS"),
    "HOLES": (5, "CONTINUOUS"),
    "GROOVE": (3, "CONTINUOUS"),
    "CENTRE": (1, "CENTER"),
    "TEXT": (8, "CONTINUOUS"),
}

_LETTERS = 2.5  # height of letters [mm]
_CROSS = 2.0  # a centre's cross goes this far beyond its hole [mm]


def dxf_bytes(template: Template, rig: Linkage, told: Figures, *, date: str = "") -> bytes:
    """One part as a DXF file; the same bytes for the same part.

    Parameters
    ----------
    template : Template
    rig : Linkage
        For the unit (``$INSUNITS``) and the title.
    told : Figures
        How lengths are written.
    date : str

    Returns
    -------
    bytes
        Coordinates in the design's own unit [mm or in], the pivot (of a pattern: the datum) at 0, 0.

    Raises
    ------
    OutputError
        ezdxf is not installed.

    References
    ----------
    See the head of this module.
    """
    ezdxf = _ezdxf()
    with _same_every_time(ezdxf):
        drawing = ezdxf.new("R2010", setup=["linetypes"])
        drawing.header["$INSUNITS"] = 4 if rig.units == "mm" else 1
        drawing.header["$MEASUREMENT"] = 1 if rig.units == "mm" else 0
        drawing.header["$LTSCALE"] = 0.2 if rig.units == "mm" else 0.2 / 25.4
        for name, (colour, linetype) in LAYERS.items():
            drawing.layers.add(name, color=colour, linetype=linetype)
        _draw(drawing.modelspace(), template, rig, told, date)
        out = io.StringIO()
        drawing.write(out)
    return out.getvalue().encode("utf-8")


def _ezdxf() -> Any:
    try:
        import ezdxf
    except ImportError:
        raise OutputError("DXF needs the package ezdxf: pip install ezdxf, or leave DXF out with --no-dxf") from None
    return ezdxf


@contextmanager
def _same_every_time(ezdxf: Any) -> Iterator[None]:
    """No dates and no random marks in the file, for the length of a ``with`` block."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _draw(space: Any, template: Template, rig: Linkage, told: Figures, date: str) -> None:
    size = own_scale(rig.units, "length")
    part = template.part
    if isinstance(part, Plate):
        corners = [(v.x / size, v.y / size, v.bulge) for v in part.around]
        space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": "OUTLINE"})
    if isinstance(part, SnailPlate):
        groove = [(x / size, y / size) for x, y in part.bottom]
        space.add_lwpolyline(groove, format="xy", dxfattribs={"layer": "GROOVE"})
    for name, x, y, diameter in hole_rows(template):
        at = (x / size, y / size)
        reach = 0.5 * (diameter or 2.0) + _CROSS
        if diameter is not None:
            space.add_circle(at, 0.5 * diameter / size, dxfattribs={"layer": "HOLES"})
        for dx, dy in ((reach / size, 0.0), (0.0, reach / size)):
            _line(space, (at[0] - dx, at[1] - dy), (at[0] + dx, at[1] + dy))
        if isinstance(part, Plate) and math.hypot(x, y) > 0.0:
            _line(space, (0.0, 0.0), at)
        _hole_words(space, part, name, x, y, diameter, told, size)
    left, bottom, _, _ = template.size
    for i, words in enumerate(_facts(template, rig, told, date)):
        down = bottom - (9.0 + 1.7 * _LETTERS * i)
        _words(space, words, left / size, down / size, _LETTERS / size)


def _hole_words(
    space: Any, part: Plate | Pattern, name: str, x: float, y: float, diameter: float | None, told: Figures, size: float
) -> None:
    """A hole's name and size, beyond its metal and away from the pivot."""
    around = part.edge if isinstance(part, Plate) else 1.0
    reach = 0.5 * (diameter or 2.0) + around + 2.0
    away = 0.25 * math.pi
    if isinstance(part, Plate):
        away = math.atan2(y, x) if math.hypot(x, y) > 0.0 else part.free
    words = name if diameter is None else f"{name} D{told.bare(diameter)}"
    right = math.cos(away) >= 0.0
    px, py = x + reach * math.cos(away), y + reach * math.sin(away) - 0.5 * _LETTERS
    _words(space, words, px / size, py / size, _LETTERS / size, right=right)


def _facts(template: Template, rig: Linkage, told: Figures, date: str) -> Iterator[str]:
    part = template.part
    yield f"{template.kind}: {template.title}"
    if isinstance(part, Plate):
        yield f"{len(template.names)} off, {told.with_unit(part.thickness)} thick, opens {part.opens}"
    yield f"{part.seen.says}; units: {rig.units}; {'pivot' if isinstance(part, Plate) else 'datum'} at 0, 0"
    yield ", ".join(filter(None, (rig.title, f"drawing {rig.drawing}" if rig.drawing else "", date)))
    if isinstance(part, Plate):
        for hole in part.holes:
            yield f"{hole.name}: radius {told.bare(hole.radius)}, angle {fixed(hole.angle)} deg"


def _line(space: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    space.add_line(start, end, dxfattribs={"layer": "CENTRE"})


def _words(space: Any, words: str, x: float, y: float, height: float, *, right: bool = True) -> None:
    from ezdxf.enums import TextEntityAlignment

    plain = "".join(c if c.isprintable() else " " for c in words.replace("\u00a0", " ")).replace("%%", "% %")
    text = space.add_text(plain, height=height, dxfattribs={"layer": "TEXT"})
    text.set_placement((x, y), align=TextEntityAlignment.LEFT if right else TextEntityAlignment.RIGHT)
