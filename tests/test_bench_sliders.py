"""The bench's sliders: one for every dimension, stepping as the shop can make it."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import linkage
from linkage.answers import joints
from linkage.parts import Linkage
from linkage.widgets.controls import Control, at_path, controls

DEMO = Path(__file__).parents[1] / "demo"
NAMES = sorted(path.stem for path in DEMO.glob("*.toml"))


def rig(name: str) -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


def sliders(name: str = "flat_six", **changed: float) -> dict[str, Control]:
    design = rig(name)
    for path, value in changed.items():
        design = design.replace(path.replace("__", "."), value)
    return controls(design, joints.lengths(linkage.solve(design)))


@pytest.mark.parametrize("name", NAMES)
def test_every_dimension_has_a_slider_that_holds_its_value_and_obeys_its_rule(name: str) -> None:
    design, found = rig(name), sliders(name)
    known = {path for path in linkage.dimensions(design) if not path.startswith("wish.")}
    assert set(found) == known | {f"link.{link}.length" for link in design.link}
    for path, one in found.items():
        _, rule = at_path(design, path)
        assert one.low <= one.base <= one.high, path
        assert one.low < one.high, path
        assert one.step > 0.0, path
        assert rule.breaks(one.low * one.scale) == "", path
        assert rule.breaks(one.high * one.scale) == "", path
        for edge in (one.low, one.high):  # both ends are whole steps from the base
            steps = (edge - one.base) / one.step
            assert steps == pytest.approx(round(steps), abs=1e-6), path


def test_no_two_sliders_look_alike() -> None:
    for name in NAMES:
        seen = [(one.group, one.label) for one in sliders(name).values()]
        assert len(seen) == len(set(seen)), name


def test_values_are_in_the_designs_own_unit() -> None:
    one = sliders("v8_inches")["shaft.left.arm.drive.radius"]
    assert (one.unit, one.scale) == ("in", 25.4)
    assert one.base == pytest.approx(1.0 + 3.0 / 16.0)


def test_a_tube_steps_by_its_flats_and_a_right_hand_end_by_half_turns() -> None:
    # M5 x 0.8, left and right hand: two pitches a turn, a sixth of a turn a flat
    assert sliders()["link.left.length"].step == pytest.approx(2 * 0.8 / 6)
    assert sliders("crossed_pair")["link.cross.length"].step == pytest.approx(2 * 0.8 / 6)
    design = rig("flat_six").replace("link.left.hands", "right")
    assert controls(design, {})["link.left.length"].step == pytest.approx(0.4)


def test_a_stop_steps_by_the_flats_of_its_screw() -> None:
    # 0.8 mm a turn at 22 mm: a sixth of a turn is 0.1333 mm, 0.347 degrees
    assert sliders()["stop.idle_screw_left.plate_angle"].step == pytest.approx(math.degrees(0.8 / 6 / 22))


def test_holes_and_clocking_step_by_the_designs_tolerances_or_by_what_is_usual() -> None:
    given = sliders()
    assert given["shaft.left.arm.drive.angle"].step == 0.25
    assert given["shaft.left.arm.drive.radius"].step == 0.1
    usual = sliders("crossed_pair")
    assert usual["shaft.left.arm.cross.angle"].step == 0.5
    assert usual["shaft.left.arm.cross.radius"].step == 0.1


def test_a_value_snaps_to_the_nearest_step_from_the_drawn_one() -> None:
    one = sliders()["shaft.left.arm.drive.angle"]  # 72, by 0.25
    assert one.snapped(75.13) == pytest.approx(75.25)
    assert one.snapped(75.12) == pytest.approx(75.0)
    inch = sliders("v8_inches")["shaft.left.arm.drive.radius"]
    assert inch.snapped(30.0) / inch.step / inch.scale % 1.0 == pytest.approx(
        inch.base / inch.step % 1.0, abs=1e-6
    )  # fmt: skip
