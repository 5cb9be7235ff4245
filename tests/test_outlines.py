"""Outlines of plates: metal round every hole, fillets tangent, corners nowhere."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkage.paper.outlines import Disc, Outline, Vertex, arcs, box, outline, sampled


def at(radius: float, degrees: float, boss: float = 7.5) -> Disc:
    return Disc(radius * math.cos(math.radians(degrees)), radius * math.sin(math.radians(degrees)), boss)


def area(points: list[tuple[float, float]]) -> float:
    x, y = np.array(points).T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def directions(around: Outline) -> list[tuple[float, float]]:
    """Heading at the start and at the end of every way [rad]."""
    found = []
    for start, end, arc in arcs(around):
        if arc is None:
            way = math.atan2(end.y - start.y, end.x - start.x)
            found.append((way, way))
        else:
            quarter = math.copysign(0.5 * math.pi, arc.sweep)
            found.append((arc.start + quarter, arc.start + arc.sweep + quarter))
    return found


def turns(around: Outline) -> list[float]:
    """How far the heading jumps at every corner [rad], 0 where the ways meet smoothly."""
    ways = directions(around)
    return [
        (after[0] - before[1] + math.pi) % (2.0 * math.pi) - math.pi
        for before, after in zip(ways, [*ways[1:], ways[0]], strict=True)
    ]


def test_a_lever_is_two_arcs_and_two_tangents() -> None:
    # by hand: the tangents of discs of 8 and 6 mm, 30 mm apart, lean by acos((8 - 6) / 30) = 86.1774 deg
    lean = math.acos(2.0 / 30.0)
    around = outline(8.0, [Disc(30.0, 0.0, 6.0)], 5.0)
    corners = {(round(v.x, 6), round(v.y, 6)) for v in around}
    expect = {(30.0 + 6.0 * math.cos(s * lean), 6.0 * math.sin(s * lean)) for s in (1, -1)}
    expect |= {(8.0 * math.cos(s * lean), 8.0 * math.sin(s * lean)) for s in (1, -1)}
    assert corners == {(round(x, 6), round(y, 6)) for x, y in expect}
    radii = sorted(arc.radius for _, _, arc in arcs(around) if arc is not None)
    assert radii == pytest.approx([6.0, 8.0])


def test_two_arms_at_a_right_angle_meet_in_a_fillet() -> None:
    # equal discs: both inner edges are 7.5 mm from their arm, so the fillet's centre is 7.5 + 10 from both
    around = outline(7.5, [at(40.0, 0.0), at(40.0, 90.0)], 10.0)
    fillets = [arc for _, _, arc in arcs(around) if arc is not None and arc.sweep < 0.0]
    assert len(fillets) == 1
    assert fillets[0].centre == pytest.approx((17.5, 17.5))
    assert fillets[0].radius == pytest.approx(10.0)
    assert math.degrees(fillets[0].sweep) == pytest.approx(-90.0)


def test_without_a_fillet_the_corner_stays_sharp() -> None:
    around = outline(7.5, [at(40.0, 0.0), at(40.0, 90.0)], 0.0)
    assert any(v[:2] == pytest.approx((7.5, 7.5)) for v in around)
    assert sorted(turns(around))[0] == pytest.approx(-0.5 * math.pi)


def test_a_huge_fillet_is_the_hull() -> None:
    bosses = [at(40.0, 0.0), at(40.0, 120.0), at(40.0, 240.0)]
    points = sampled(outline(9.0, bosses, 1e6), 0.1)
    # hull of three equal discs: the triangle of their centres grown by the radius
    side = 40.0 * math.sqrt(3.0)
    expect = math.sqrt(3.0) / 4.0 * side**2 + 3.0 * side * 7.5 + math.pi * 7.5**2
    assert area(points) == pytest.approx(expect, rel=1e-4)


def test_a_hole_on_the_way_of_another_adds_nothing() -> None:
    alone = np.array(outline(9.0, [at(45.0, 65.0)], 8.0))
    for other in (at(20.0, 65.0), at(45.0, 65.0)):
        assert np.array(outline(9.0, [at(45.0, 65.0), other], 8.0)) == pytest.approx(alone)


def test_a_pivot_alone_is_a_disc() -> None:
    assert outline(9.0, [], 8.0) == (Vertex(9.0, 0.0, 1.0), Vertex(-9.0, 0.0, 1.0))
    assert area(sampled(outline(9.0, [Disc(2.0, 0.0, 3.0)], 8.0), 0.01)) == pytest.approx(math.pi * 81.0, rel=1e-5)


def test_the_box_holds_every_arc() -> None:
    assert box(outline(8.0, [Disc(30.0, 0.0, 6.0)], 5.0)) == pytest.approx((-8.0, -8.0, 36.0, 8.0))


@pytest.mark.parametrize(("hub", "fillet"), [(0.0, 1.0), (5.0, -1.0)])
def test_nonsense_is_refused(hub: float, fillet: float) -> None:
    with pytest.raises(ValueError, match="hub must be above 0"):
        outline(hub, [], fillet)


discs = st.builds(at, st.floats(1.0, 60.0), st.floats(0.0, 360.0), st.floats(3.0, 15.0))


@settings(max_examples=300, deadline=None)
@given(
    hub=st.floats(3.0, 16.0),
    bosses=st.lists(discs, min_size=1, max_size=5),
    fillet=st.one_of(st.floats(0.5, 40.0), st.just(0.0)),
)
def test_every_disc_lies_within_and_every_way_is_smooth(hub: float, bosses: list[Disc], fillet: float) -> None:
    around = outline(hub, bosses, fillet)
    points = sampled(around, 0.5)
    for disc in [Disc(0.0, 0.0, hub), *bosses]:
        assert min(math.dist(point, disc[:2]) for point in points) >= disc.r - 1e-6
        # the centre is inside: seen from it the outline goes round once
        seen = np.unwrap([math.atan2(y - disc.y, x - disc.x) for x, y in [*points, points[0]]])
        assert seen[-1] - seen[0] == pytest.approx(2.0 * math.pi, abs=1e-6)
    assert area(points) > 0.0
    apart = [math.dist(p, q) for p, q in zip(points, [*points[1:], points[0]], strict=True)]
    assert max(apart) <= 0.5 + 1e-6
    for start, end, arc in arcs(around):
        if arc is not None:
            reached = arc.start + arc.sweep
            there = (arc.centre[0] + arc.radius * math.cos(reached), arc.centre[1] + arc.radius * math.sin(reached))
            assert math.dist(there, end[:2]) < 1e-6
            assert arc.sweep > 0.0 or arc.radius == pytest.approx(fillet)
            assert math.dist(start[:2], end[:2]) > 0.0
    if fillet:
        assert max(map(abs, turns(around))) < 1e-3
