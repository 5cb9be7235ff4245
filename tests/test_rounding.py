"""Rounding: on the steps, the best of the choices, the loss as it is."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

import linkage
from linkage.answers import check
from linkage.errors import PathError
from linkage.parts import Linkage, dimensions
from linkage.search.rounding import Rounding, rounding

DEMO = Path(__file__).parents[1] / "demo"


def demo(name: str) -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


def spoilt() -> Linkage:
    """The flat six off all its steps."""
    rig = demo("flat_six")
    for path, value in dimensions(rig).items():
        if ".arm." in path and path.endswith((".radius", ".angle")):
            rig = rig.replace(path, value + 0.037 + 0.011 * (len(path) % 7))
    return rig


def over(rig: Linkage) -> float:
    """The furthest region of the mismatch against its limit."""
    apart, limits = check(rig).mismatch, rig.limits
    middle = apart.middle.value if apart.middle is not None else 0.0
    return max(
        apart.at_idle / limits.mismatch_at_idle,
        apart.off_idle.value / limits.mismatch_off_idle,
        middle / limits.mismatch,
        apart.last.value / limits.mismatch_at_wide_open,
    )


def on_steps(found: Rounding) -> bool:
    return all(abs(row.made / row.step - round(row.made / row.step)) < 1e-6 for row in found.dimensions)


def test_every_hole_and_angle_stands_on_its_step() -> None:
    found = rounding(spoilt())
    assert on_steps(found)
    moved = {row.path: row for row in found.dimensions}
    assert {row.step for row in moved.values()} == {0.1, 0.5}
    held = ("left.arm.drive", "right.arm.drive", "centre.arm.left", "centre.arm.right", "centre.arm.cable")
    assert {path.rpartition(".")[0].partition(".")[2] for path in moved} == set(held)
    for path, value in dimensions(found.rig).items():
        if path in moved:
            assert value == moved[path].made
            assert abs(value - moved[path].exact) <= moved[path].step + 1e-9
            assert abs(moved[path].nearest - moved[path].exact) <= 0.5 * moved[path].step + 1e-9
        else:
            assert value == dimensions(spoilt())[path]


def test_the_figures_are_those_of_the_designs_solved_afresh() -> None:
    found = rounding(spoilt())
    assert check(spoilt()).mismatch.largest.value == pytest.approx(found.exact["mismatch"], abs=1e-5)
    assert check(found.rig).mismatch.largest.value == pytest.approx(found.made["mismatch"], abs=1e-5)
    naive = spoilt()
    for row in found.dimensions:
        naive = naive.replace(row.path, row.nearest)
    assert check(naive).mismatch.largest.value == pytest.approx(found.nearest["mismatch"], abs=1e-5)
    assert over(found.rig) <= over(naive) + 1e-6


def test_of_a_few_dimensions_the_best_choice_is_found() -> None:
    rig = (
        demo("crossed_pair")
        .replace("shaft.left.arm.cross.angle", 40.288)
        .replace("shaft.right.arm.cross.angle", -64.583)
    )
    found = rounding(rig, angle=2.0)
    tried = {
        (a, b): over(rig.replace("shaft.left.arm.cross.angle", a).replace("shaft.right.arm.cross.angle", b))
        for a, b in itertools.product((40.0, 42.0), (-66.0, -64.0))
    }
    made = {row.path: row.made for row in found.dimensions}
    assert (made["shaft.left.arm.cross.angle"], made["shaft.right.arm.cross.angle"]) == min(
        tried, key=lambda k: tried[k]
    )


def test_links_go_to_whole_flats() -> None:
    found = rounding(demo("crossed_pair_reclocked"), links=True)
    (row,) = found.dimensions
    assert row.path == "link.cross.length"
    assert row.step == pytest.approx(2 * 0.8 / 6)
    assert on_steps(found)
    assert found.exact["mismatch_at_idle"] < 1e-9
    assert 0.0 < found.made["mismatch_at_idle"] < 0.3  # half a flat is a quarter of a degree here
    assert check(found.rig).mismatch.at_idle == pytest.approx(found.made["mismatch_at_idle"], abs=1e-9)


def test_pins_are_rounded_by_their_coordinates() -> None:
    found = rounding(demo("skew_bell_crank"), hole=1.0)
    assert {row.path.rpartition(".")[2] for row in found.dimensions} <= {"x", "y", "z"}
    assert on_steps(found)


def test_what_stands_on_its_steps_is_left_alone() -> None:
    found = rounding(demo("flat_six"))
    assert found.dimensions == ()
    assert found.rig == demo("flat_six")
    assert found.made == found.exact
    assert rounding(spoilt(), hole=None, angle=None).dimensions == ()


def test_single_dimensions_may_have_their_own_step() -> None:
    found = rounding(demo("flat_six"), hole=None, angle=None, steps={"bellcrank.centre.pivot.y": 7.0})
    (row,) = found.dimensions
    assert (row.path, row.exact, row.step) == ("bellcrank.centre.pivot.y", 60.0, 7.0)
    assert row.made in (56.0, 63.0)
    with pytest.raises(PathError, match="is not a dimension"):
        rounding(demo("flat_six"), steps={"shaft.left.bores": 1.0})
