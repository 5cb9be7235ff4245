"""The bench's drawing: the points it sends, and where a drag puts them."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import linkage
from linkage.answers import joints
from linkage.errors import DesignError
from linkage.motion import Motion
from linkage.parts import Linkage
from linkage.plots.views import VIEWS, pins
from linkage.widgets.controls import controls
from linkage.widgets.drawing import moving, parts
from linkage.widgets.handles import dragged

DEMO = Path(__file__).parents[1] / "demo"
NAMES = sorted(path.stem for path in DEMO.glob("*.toml"))


def rig(name: str = "flat_six") -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


def solved(design: Linkage) -> Motion:
    return linkage.solve(design, positions=61)


def drag(run: Motion, handle: str, to: tuple[float, float], at: int = 0, view: str = "front") -> dict[str, float]:
    sliders = controls(run.rig, joints.lengths(run))
    return dragged(run, handle, to, at=at, view=view, sliders=sliders)


@pytest.mark.parametrize("name", NAMES)
def test_links_keep_their_length_and_arms_their_radius_on_the_drawing(name: str) -> None:
    design = rig(name)
    scale = 25.4 if design.units == "in" else 1.0
    shown = moving(solved(design))
    at = {pin: np.stack(np.broadcast_arrays(*tracks), axis=1) for pin, tracks in shown["pins"].items()}
    for link, joint in design.link.items():
        apart = np.linalg.norm(at[joint.joins[0]] - at[joint.joins[1]], axis=1)
        if joint.slot is not None:  # anywhere in its slot
            assert np.all(np.abs(apart - shown["lengths"][link]) < joint.slot / scale + 2e-3)
            continue
        assert apart == pytest.approx(shown["lengths"][link], abs=2e-3)
    for member, part in design.members.items():
        for arm in part.arm.values():
            if arm.radius is not None:
                hub = np.array(shown["hubs"][f"{member}.{arm.name}"])
                out = np.linalg.norm(at[f"{member}.{arm.name}"] - hub, axis=1)
                assert out == pytest.approx(arm.radius / scale, abs=2e-3)


def test_the_drawing_begins_at_the_pins_as_drawn() -> None:
    x, y, z = moving(solved(rig()))["pins"]["left.drive"]
    turn = math.radians(72.0)
    drawn = (-175.0 + 35.0 * math.cos(turn), 35.0 * math.sin(turn), 0.0)
    assert (x[0], y[0], z) == pytest.approx(drawn, abs=1e-3)


def test_a_plate_just_fits_its_bore_when_shut() -> None:
    plate = moving(solved(rig()))["plates"]["right"]
    assert plate["half"] * math.cos(math.radians(8.0)) == pytest.approx(22.5, abs=1e-3)
    assert plate["sense"] == -1.0  # it opens clockwise


def test_the_cable_on_a_quadrant_leaves_it_as_a_tangent() -> None:
    for name in NAMES:
        design = rig(name)
        if design.cable is None or design.cable.quadrant is None:
            continue
        casing = moving(solved(design))["casing"]
        if design.cable.profile is not None:
            continue
        pivot = np.array(moving(solved(design))["pivots"][design.driver])
        out = np.array(casing["leaves"]) - pivot
        along = np.array(casing["end"]) - np.array(casing["leaves"])
        assert np.linalg.norm(out) == pytest.approx(casing["radius"], abs=1e-3)
        flat = along - along[2] * np.array([0.0, 0.0, 1.0])
        assert float(out @ flat) == pytest.approx(0.0, abs=2e-3 * float(np.linalg.norm(flat) * np.linalg.norm(out)))
        pull = np.cross(out, flat)[2]
        assert math.copysign(1.0, pull) == casing["sense"]  # a pull towards the casing turns it the right way


def test_the_cable_leaves_a_snail_a_moment_arm_from_its_axis() -> None:
    run = solved(rig("snail"))
    casing = moving(run)["casing"]
    x, y = (np.array(casing["leaves"][i]) for i in (0, 1))  # the axis stands at the origin
    way = np.array([casing["end"][0] - x, casing["end"][1] - y])
    arm = (x * way[1] - y * way[0]) / np.hypot(*way)
    assert run.cable_arm is not None
    np.testing.assert_allclose(arm, run.cable_arm, rtol=0, atol=1e-3)
    assert max(math.hypot(*point[:2]) for point in casing["rim"]) == pytest.approx(casing["reach"], abs=1e-3)
    assert casing["given"] is True


def test_what_there_is_to_draw_names_every_part() -> None:
    for name in NAMES:
        design, found = rig(name), parts(rig(name))
        assert set(found["members"]) == set(design.members)
        assert set(found["links"]) == set(design.link)
        colours = [one["colour"] for member, one in found["members"].items() if member in design.shaft]
        dashes = [one["dash"] for member, one in found["members"].items() if member in design.shaft]
        assert len(set(zip(colours, dashes, strict=True))) == len(colours)
        assert len(set(dashes)) == len(dashes)  # told apart without colour too


def test_a_pin_dragged_at_idle_is_read_off_as_radius_and_angle() -> None:
    # 27 right of the pivot and 36 above it: radius 45, angle 53.13, to the nearest quarter degree 53.25
    found = drag(solved(rig()), "pin:centre.left", (27.0, 96.0))
    assert found == {
        "bellcrank.centre.arm.left.radius": pytest.approx(45.0),
        "bellcrank.centre.arm.left.angle": pytest.approx(53.25),
    }


@pytest.mark.parametrize("name", ["flat_six", "skew_bell_crank", "v8_inches"])
def test_a_pin_put_where_it_stands_changes_nothing_in_any_view_at_any_position(name: str) -> None:
    design = rig(name)
    run = solved(design)
    drawn = linkage.dimensions(design)
    scale = 25.4 if design.units == "in" else 1.0
    tried = 0
    for view, way in VIEWS.items():
        for pin, where in pins(run).items():
            member = pin.partition(".")[0]
            if abs(np.dot(design.members[member].axis, way.out)) < 0.5:
                continue
            for at in (0, 17, 42, 60):
                to = (float(where[at] @ way.right) / scale, float(where[at] @ way.up) / scale)
                for path, value in drag(run, f"pin:{pin}", to, at, view).items():
                    assert value == pytest.approx(drawn[path], abs=1e-9), (view, pin, at, path)
                    tried += 1
    assert tried > 20


def test_the_drivers_pin_comes_to_lie_under_the_pointer_wherever_the_pedal_stands() -> None:
    """At the same turn of the driver, the new pin is where it was put, to half a step of its sliders."""
    design = rig()
    run = solved(design)
    for at in (0, 25, 60):
        x, y = (float(v) for v in pins(run)["centre.left"][at][:2])
        to = (x - 4.0, y + 3.0)
        made = design
        for path, value in drag(run, "pin:centre.left", to, at).items():
            made = made.replace(path, value)
        turn = math.radians(run.turn[at] + linkage.dimensions(made)["bellcrank.centre.arm.left.angle"])
        radius = linkage.dimensions(made)["bellcrank.centre.arm.left.radius"]
        there = (radius * math.cos(turn), 60.0 + radius * math.sin(turn))
        assert there == pytest.approx(to, abs=0.05 + 0.5 * math.radians(0.25) * 50.0)


def test_pivots_anchors_and_the_casing_end_follow_the_pointer_in_the_two_coordinates_seen() -> None:
    run = solved(rig())
    assert drag(run, "pivot:centre", (3.0, 61.0)) == {
        "bellcrank.centre.pivot.x": pytest.approx(3.0),
        "bellcrank.centre.pivot.y": pytest.approx(61.0),
    }
    assert drag(run, "casing:", (-118.0, 91.5)) == {
        "cable.casing_end.x": pytest.approx(-118.0),
        "cable.casing_end.y": pytest.approx(91.5),
    }
    # in the plan, right is x and up is -z
    assert drag(run, "anchor:overall", (-90.0, 15.0), view="plan") == {
        "spring.overall.anchor.x": pytest.approx(-90.0),
        "spring.overall.anchor.z": pytest.approx(-15.0),
    }


def test_a_pin_seen_edge_on_does_not_move_and_says_why() -> None:
    with pytest.raises(DesignError, match="edge-on"):
        drag(solved(rig()), "pin:centre.left", (0.0, 0.0), view="plan")


@pytest.mark.parametrize("handle", ["pin:centre.none", "pin:nobody.left", "pivot:nobody", "anchor:none", "wing:left"])
def test_what_is_not_there_cannot_be_dragged(handle: str) -> None:
    with pytest.raises(DesignError):
        drag(solved(rig()), handle, (0.0, 0.0))


def test_numbers_that_are_not_known_are_left_out_of_the_message() -> None:
    from linkage.widgets.drawing import _short

    found: Any = _short([1.00004, math.nan, -0.00001], 3)
    assert found == [1.0, None, 0.0]
    assert math.copysign(1.0, found[2]) == 1.0
