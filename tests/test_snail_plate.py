"""The quadrant's template: measured back from the DXF and from the page, to a hundredth of a millimetre."""

from __future__ import annotations

import io
import math
from pathlib import Path

import ezdxf
import numpy as np
import pytest

import linkage
from linkage.answers import check
from linkage.motion.groove import groove
from linkage.paper.dxf import dxf_bytes
from linkage.paper.practice import Practice
from linkage.paper.sheet import Figures, text
from linkage.paper.snail_plate import SnailPlate, snail_plate
from linkage.paper.template_pages import page
from linkage.paper.templates import drill_list, templates, tiles

DEMO = Path(__file__).parents[1] / "demo"
ANSWER = check(linkage.read(DEMO / "snail.toml"), trials=10)
PRACTICE = Practice(cable=1.6, rim=4.0, nipple=7.0, edge=3.0)


def part() -> SnailPlate:
    found = snail_plate(ANSWER.run, PRACTICE)
    assert found is not None
    return found


def test_the_moment_arm_measured_on_the_dxf() -> None:
    """Half a cable above the drawn bottom, the furthest point off the cable's line is the moment arm, at every turn."""
    (template,) = [t for t in templates(ANSWER, PRACTICE) if t.kind == "quadrant"]
    drawing = ezdxf.read(io.StringIO(dxf_bytes(template, ANSWER.run.rig, Figures("mm")).decode("utf-8")))
    (bottom,) = drawing.modelspace().query('LWPOLYLINE[layer=="GROOVE"]')
    (around,) = drawing.modelspace().query('LWPOLYLINE[layer=="OUTLINE"]')
    assert around.closed
    assert not bottom.closed
    found = groove(ANSWER.run.train)
    assert found is not None
    line = np.array([(x, y) for x, y, *_ in bottom.get_points()])
    edge = np.array([(x, y) for x, y, *_ in around.get_points()])
    for turn in np.linspace(0.0, 77.9, 40):
        _, way = found.leaves(math.radians(turn))
        out = np.array([way[1], -way[0]]) * found.sense  # square to the cable, away from the axis
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        seen = np.array([out[0] * c + out[1] * s, out[1] * c - out[0] * s])  # from the plate, drawn as at idle
        arm = float(found.arm.value(math.radians(turn)))
        assert np.max(line @ seen) + 0.8 == pytest.approx(arm, abs=0.01)
        if turn < 70.0:  # then the metal round the anchor stands out beyond the rim
            assert np.max(edge @ seen) == pytest.approx(arm + 4.0, abs=0.01)
    holes = {(round(c.dxf.center.x, 4), round(c.dxf.center.y, 4)): 2.0 * c.dxf.radius
             for c in drawing.modelspace().query('CIRCLE[layer=="HOLES"]')}  # fmt: skip
    assert holes[(0.0, 0.0)] == pytest.approx(8.0)  # over the shaft
    anchor = part().holes[0]
    assert holes[(round(anchor.x, 4), round(anchor.y, 4))] == pytest.approx(7.0)


def test_the_cable_is_anchored_on_its_line_beyond_wide_open() -> None:
    found, wrapped = groove(ANSWER.run.train), part()
    assert found is not None
    anchor = np.array([wrapped.holes[0].x, wrapped.holes[0].y])
    assert np.array(wrapped.line[-1]) == pytest.approx(anchor, abs=1e-12)
    last = found.places(found.support(math.radians(ANSWER.run.ends[1])))
    assert math.dist(last, anchor) > 3.0


def test_there_is_metal_all_round() -> None:
    """Every hole has the edge's metal about it, and the rim lies on or within the outline."""
    plate = part()
    around = np.array([v[:2] for v in plate.around])
    assert all(v.bulge == 0.0 for v in plate.around)
    ahead = np.roll(around, -1, axis=0) - around
    normal = np.column_stack([ahead[:, 1], -ahead[:, 0]]) / np.hypot(*ahead.T)[:, None]

    def inside(x: float, y: float) -> float:
        return float(np.min(np.sum(normal * (around - [x, y]), axis=1)))

    for x, y, r in ((0.0, 0.0, 4.0), (plate.holes[0].x, plate.holes[0].y, 3.5)):
        assert inside(x, y) >= r + 3.0 - 1e-3
    assert min(inside(x, y) for x, y in plate.rim) > -1e-9
    assert max(inside(x, y) for x, y in plate.bottom) > 0.0


@pytest.mark.parametrize("name", ["cross_tube", "flat_six"])
def test_another_cable_has_no_such_plate(name: str) -> None:
    assert snail_plate(linkage.solve(linkage.read(DEMO / f"{name}.toml")), Practice()) is None


def test_a_shaft_that_looks_the_other_way() -> None:
    """About an axis along -z, right is -x, and ccw about the axis stays ccw on the sheet."""
    text_of = (DEMO / "snail.toml").read_text(encoding="utf-8")
    turned = linkage.parse(text_of.replace('opens = "ccw"', 'opens = "ccw"\naxis = [0.0, 0.0, -1.0]'))
    one, other = part(), snail_plate(linkage.solve(turned.replace("cable.casing_end.x", 150.0)), PRACTICE)
    assert other is not None
    np.testing.assert_allclose(other.line, one.line, rtol=0, atol=1e-9)


def test_the_page_shows_bottom_outline_and_holes_at_true_size() -> None:
    (template,) = [t for t in templates(ANSWER, PRACTICE) if t.kind == "quadrant"]
    (tile,) = tiles(template, "a4")
    figure = page(template, tile, ANSWER.run.rig, Figures("mm"))
    (ax,) = figure.axes
    (line,) = [one for one in ax.lines if one.get_gid() == "groove"]
    want = np.array([tile.on_page(x, y) for x, y in part().bottom])
    np.testing.assert_allclose(np.column_stack(line.get_data()), want, rtol=0, atol=1e-9)
    assert {patch.get_gid() for patch in ax.patches} >= {"outline", "hole"}


def test_the_drill_list_tells_anchor_bore_and_rules() -> None:
    said = " ".join(text(drill_list(ANSWER, templates(ANSWER, PRACTICE), PRACTICE)).split())
    assert "cable anchor" in said
    assert "0.80 mm above the bottom of the groove" in said
    assert "rim 4.00 mm beyond the cable's centre line" in said


def test_sizes_that_cannot_be_are_refused() -> None:
    with pytest.raises(linkage.DesignError, match="--rim"):
        templates(ANSWER, Practice(rim=0.0))
