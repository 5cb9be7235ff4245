"""Rigging pins: holes that line up where the motion says, links that just slip on."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from loop_equations import LoopEquations
from trains import bell_crank, parallel_pair, skew

import linkage
from linkage.errors import DesignError
from linkage.parts import Linkage
from linkage.search.rigging import adjuster_step, rigging

DEMO = Path(__file__).parents[1] / "demo"


def demo(name: str) -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


@pytest.mark.parametrize("name", ["flat_six", "crossed_pair", "cross_tube", "v8_inches", "skew_bell_crank"])
def test_the_bracket_holes_are_the_members_hole_turned(name: str) -> None:
    found = rigging(demo(name))
    for pin in found.pins:
        member = found.rig.members[pin.member]
        u, pivot = np.array(member.axis), np.array(member.pivot)
        idle, opening = (np.array(place) - pivot for place in (pin.idle, pin.opening))
        for out in (idle, opening):  # in the plane across the axis, at the radius, to the tenth marked out
            assert abs(out @ u) < 0.1
            assert np.linalg.norm(out) == pytest.approx(pin.radius, abs=0.1)
        turned = math.degrees(math.atan2(u @ np.cross(idle, opening), idle @ opening))
        assert turned == pytest.approx(pin.turn, abs=math.degrees(0.15 / pin.radius))
        assert pin.apart == pytest.approx(np.linalg.norm(idle - opening))
        assert all(abs(10.0 * v - round(10.0 * v)) < 1e-6 for v in (*pin.idle, *pin.opening))


def test_at_the_opening_the_members_stand_as_the_loop_equations_say() -> None:
    design = demo("flat_six")
    found = rigging(design, plate_angle=45.0)
    turns = {pin.member: pin.turn for pin in found.pins}
    apart = LoopEquations(design)
    assert apart.plate_angle("left", turns["centre"]) == pytest.approx(45.0, abs=1e-9)
    assert (turns["left"], turns["right"]) == (45.0 - 9.5, -(45.0 - 9.5))


def test_half_way_is_the_opening_where_none_is_chosen() -> None:
    assert rigging(demo("flat_six")).plate_angle == 0.5 * (9.5 + 88.0)


def test_a_fitted_link_slips_on_at_idle_with_no_turn() -> None:
    for link in rigging(demo("flat_six")).links:
        assert link.idle.length == pytest.approx(link.length, abs=1e-9)
        assert link.idle.flats == pytest.approx(0.0, abs=1e-6)


def test_a_parallelogram_slips_on_everywhere() -> None:
    (link,) = rigging(parallel_pair()).links
    assert link.opening.length == pytest.approx(link.length, abs=1e-9)
    assert link.flat is None
    assert link.opening.flats is None


def test_what_a_flat_too_much_does_is_what_the_flats_say() -> None:
    """A link made two flats longer wants two flats more at both pins."""
    design = demo("flat_six")
    links = {link.link: link for link in rigging(design).links}
    step = adjuster_step(design.link["right"])
    assert step == pytest.approx(2 * 0.8 / 6)
    assert step is not None
    longer = design.replace("link.right.length", links["right"].length + 2 * step)
    again = {link.link: link for link in rigging(longer).links}["right"]
    assert again.idle.flats == pytest.approx(2.0, abs=1e-6)
    assert again.idle.length == pytest.approx(links["right"].idle.length, abs=1e-9)


def test_plates_shut_is_the_distance_with_the_shaft_turned_back_to_its_bore() -> None:
    """By hand: the left lever of 35 mm stands at 72 degrees at idle, 1.5 degrees further back when shut."""
    link = {link.link: link for link in rigging(demo("flat_six")).links}["left"]
    pin = (-175.0 + 35.0 * math.cos(math.radians(70.5)), 35.0 * math.sin(math.radians(70.5)))
    crank = (45.0 * math.cos(math.radians(65.0)), 60.0 + 45.0 * math.sin(math.radians(65.0)))
    assert link.shut.length == pytest.approx(math.dist(pin, crank))
    assert link.shut.flats == pytest.approx((link.length - math.dist(pin, crank)) / (2 * 0.8 / 6))


def test_one_end_that_must_come_off_goes_by_half_turns() -> None:
    import dataclasses

    design = demo("crossed_pair")
    right = dataclasses.replace(design.link["cross"], hands="right")
    assert adjuster_step(right) == 0.4
    (link,) = rigging(dataclasses.replace(design, link={"cross": right})).links
    assert link.half_turns
    assert link.flat == 0.4


def test_the_hole_keeps_clear_of_the_arms() -> None:
    for pin in rigging(bell_crank()).pins:
        angles = [arm.angle for name, arm in bell_crank().members[pin.member].arm.items() if name != "cable"]
        for angle in angles:
            assert angle is not None
            assert abs(math.remainder(pin.angle - angle, 360.0)) >= 60.0


def test_a_radius_may_be_given_and_small_ones_are_warned_of() -> None:
    found = rigging(demo("flat_six"), radius={"centre": 8.0}, pin=6.0)
    centre = next(pin for pin in found.pins if pin.member == "centre")
    assert centre.radius == 8.0
    assert centre.too_near
    assert centre.per_tenth == pytest.approx(math.degrees(0.1 / 8.0))
    assert not rigging(demo("flat_six"), radius={"centre": 25.0}).pins[2].too_near


def test_a_skew_member_is_pinned_in_the_plane_across_its_axis() -> None:
    found = rigging(skew())
    upright = next(pin for pin in found.pins if pin.member == "upright")
    assert upright.idle[1] == upright.opening[1] == 0.0


def test_what_cannot_be_pinned_says_so() -> None:
    with pytest.raises(DesignError, match='no shaft or bell crank called "center"'):
        rigging(demo("flat_six"), radius={"center": 10.0})
    with pytest.raises(DesignError, match="must lie within every shaft's own, got 95"):
        rigging(demo("flat_six"), plate_angle=95.0)
