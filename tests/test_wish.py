"""The wishes as rows: each value as the answers say it, each slope as differences say it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

import linkage
from linkage.answers import check, joints
from linkage.answers.forces import shaft_torque
from linkage.answers.stacks import stack_up
from linkage.answers.tolerance import links_fitted
from linkage.errors import DesignError, PathError
from linkage.parts import Bounds, Linkage, Tolerance, Wish, dimensions
from linkage.search.look import look
from linkage.search.made import mismatch_as_made
from linkage.search.measured import goals, measured
from linkage.search.returning import closing_torque
from linkage.search.task import task
from linkage.search.wish import OPENING_WITHIN, RATIO_WITHIN, TRAVEL_WITHIN, rows, transmission

DEMO = Path(__file__).parents[1] / "demo"
EVERY = Wish(
    mismatch=0.2,
    stops_together=0.3,
    progression_ratio=1.5,
    progression=((0.3, 0.25), (0.6, 0.5)),
    cable_travel=37.0,
    transmission_angle=45.0,
    closing_torque=300.0,
    mismatch_as_made=0.5,
)
FREE = {
    "flat_six": ("shaft.left.arm.drive.angle", "bellcrank.centre.arm.cable.radius", "cable.casing_end.y",
                 "bellcrank.centre.pivot.x", "stop.crank.turn", "spring.left.rate", "link.right.length"),
    "crossed_pair": ("shaft.right.arm.cross.angle", "cable.radius", "shaft.right.plate_angle.wide_open",
                     "shaft.right.plate_angle.idle"),
    "cross_tube": ("shaft.two.arm.lever.radius", "bellcrank.tube.arm.three.angle", "bellcrank.tube.arm.one.station"),
    "three_side_draughts": ("coupling.front_middle.offset", "cable.casing_end.x"),
}  # fmt: skip


def rig(name: str) -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


def candidates(design: Linkage, paths: tuple[str, ...], wish: Wish, n: int = 4):  # type: ignore[no-untyped-def]
    """A task, and a few candidates near the drawing, the drawing first."""
    known = dimensions(design) | {
        f"link.{name}.length": size for name, size in joints.lengths(linkage.solve(design)).items()
    }
    of = task(design, wish, {path: Bounds(known[path] - 2.0, known[path] + 2.0) for path in paths})
    draw = np.random.default_rng(5).uniform(-0.4, 0.4, (len(paths), n))
    draw[:, 0] = 0.0
    return of, of.drawn[:, None] + draw


@pytest.mark.parametrize("name", FREE)
def test_slopes_are_those_of_differences(name: str) -> None:
    design = rig(name)
    paths = FREE[name]
    paths = tuple(p for p in paths if p in {*dimensions(design), *(f"link.{n}.length" for n in design.link)})
    assert len(paths) >= 2
    of, x = candidates(design, paths, EVERY)
    found = rows(of, x, 9)
    checked = 0
    for j in range(len(paths)):
        step = np.zeros((len(paths), 1))
        step[j] = 1e-6
        above, below = (rows(of, x + way * step, 9, sloped=False) for way in (1.0, -1.0))
        for kind in ("near", "floor"):
            by = (getattr(above, kind) - getattr(below, kind)) / 2e-6
            slope, names = getattr(found, f"{kind}_slope")[:, j], getattr(found, f"{kind}_names")
            for row, (one, other) in enumerate(zip(slope, by, strict=True)):
                sound = np.isfinite(other) & np.isfinite(getattr(found, kind)[row])
                # the drawn position itself is a kink where stops are met together
                sound[0] = False
                if names[row] in ("closing_torque", "mismatch_as_made"):  # found by one-sided difference
                    near = 2e-4 * np.maximum(1.0, np.abs(other))
                else:
                    near = 2e-5 * np.maximum(1.0, np.abs(other))
                assert np.all(np.abs(one - other)[sound] <= near[sound]), (names[row], paths[j])
                checked += int(sound.sum())
    assert checked > 100


def test_rows_are_what_the_answers_say() -> None:
    design = rig("flat_six")
    of, x = candidates(design, FREE["flat_six"], EVERY, 3)
    found = rows(of, x, 33, sloped=False)
    for i in range(3):
        answer = check(of.at(x[:, i]))
        run = answer.run

        def largest(name: str, near: bool = True, i: int = i) -> float:
            names = found.near_names if near else found.floor_names
            value = (found.near if near else found.floor)[np.array(names) == name, i]
            return float(np.max(np.abs(value) if near else value))

        # 33 positions see a hump to about a hundredth
        limit = np.minimum(0.2, design.limits.mismatch)
        assert largest("mismatch") * limit == pytest.approx(
            max(answer.mismatch.largest.value, 0.0), rel=0.02, abs=0.11
        ) or (answer.mismatch.at_idle / design.limits.mismatch_at_idle > answer.mismatch.largest.value / limit)
        ratio = answer.progression.ratio
        assert ratio is not None
        assert largest("progression_ratio") * RATIO_WITHIN * 1.5 == pytest.approx(abs(ratio - 1.5), abs=2e-4)
        at = run.at_fraction([0.0, 0.3, 0.6, 1.0]).plate_angle["left"]
        opened = (at - at[0]) / (at[-1] - at[0])
        assert largest("progression") * OPENING_WITHIN == pytest.approx(
            max(abs(opened[1] - 0.25), abs(opened[2] - 0.5)), abs=1e-9
        )
        assert answer.stops.opening.cable is not None
        assert largest("cable_travel") * TRAVEL_WITHIN == pytest.approx(
            abs(answer.stops.opening.cable - 37.0), abs=1e-9
        )
        ends = run.at(run.ends).plate_angle
        gap = max(abs(float(ends["left"][j] - ends["right"][j])) for j in (0, 1))
        assert largest("stops_together") * 0.3 == pytest.approx(gap, abs=1e-9)


def test_the_closing_torque_is_that_of_the_forces() -> None:
    for name in ("flat_six", "crossed_pair", "cross_tube"):
        design = rig(name)
        of, x = candidates(design, FREE[name][:2], Wish(closing_torque=1.0), 3)
        seen = look(of, x, 9)
        mine = closing_torque(seen).reshape(len(design.shaft), 9, 3)
        for i in range(3):
            run = linkage.solve(of.at(x[:, i])).at(np.degrees(seen.turn[:9, i]))
            for s, shaft in enumerate(design.shaft):
                assert mine[s, :, i] == pytest.approx(shaft_torque(run, shaft), rel=1e-9), (name, shaft)


def test_the_mismatch_as_made_is_that_of_the_stacks() -> None:
    """But for the very ends, where the stacks also try the stop that does not hold as drawn."""
    design = dataclasses.replace(rig("flat_six"), tolerance=Tolerance(0.0, 0.1, 0.25, 0.1))
    of, x = candidates(
        design, ("shaft.left.arm.drive.angle", "bellcrank.centre.arm.left.radius"), Wish(mismatch_as_made=1.0), 3
    )
    mine = mismatch_as_made(look(of, x, 33, sloped=False))
    for i in range(3):
        theirs = stack_up(links_fitted(linkage.solve(of.at(x[:, i]))), links_set=True).largest.rss
        assert float(mine[:, i].max()) == pytest.approx(theirs, rel=0.05)
        assert float(mine[:, i].max()) <= theirs * 1.0001


def test_the_transmission_angle_is_that_of_the_joints() -> None:
    for name in ("flat_six", "cross_tube", "skew_bell_crank"):
        design = rig(name)
        path = next(p for p in dimensions(design) if ".arm." in p and p.endswith((".radius", ".pin.x")))
        of, x = candidates(design, (path,), Wish(), 2)
        seen = look(of, x, 9)
        for i in range(2):
            run = linkage.solve(of.at(x[:, i])).at(np.degrees(seen.turn[:9, i]))
            for joint in seen.links():
                angle = joints.transmission_angles(run)[joint.step.by.name]
                assert transmission(seen, joint)[0][:9, i] == pytest.approx(np.minimum(angle, 180.0 - angle), abs=1e-9)


def test_what_cannot_be_assembled_is_infinite_and_spoils_no_other() -> None:
    of, _ = candidates(rig("crossed_pair"), ("shaft.right.pivot.x", "shaft.left.arm.cross.angle"), Wish(), 1)
    of = dataclasses.replace(
        of, free={"shaft.right.pivot.x": Bounds(10.0, 260.0), "shaft.left.arm.cross.angle": Bounds(-200.0, 200.0)}
    )
    x = np.array([[250.0, 30.0, 250.0], [51.0, 51.0, -129.0]])  # as drawn; pins cross; the left lever turned about
    found = rows(of, x, 9)
    alone = rows(of, x[:, :1], 9)
    assert np.all(np.isinf(found.near[:, 2]))
    assert np.array_equal(found.near[:, 0], alone.near[:, 0])


def test_a_pull_that_shuts_is_mended_only_if_what_decides_it_is_free() -> None:
    design = rig("flat_six_pulls_shut")
    fixed, _ = candidates(design, ("shaft.left.arm.drive.angle",), Wish(), 1)
    assert not fixed.pulls
    assert np.isfinite(rows(fixed, fixed.drawn[:, None], 9).near).all()
    able, _ = candidates(design, ("bellcrank.centre.arm.cable.angle",), Wish(), 1)
    assert able.pulls
    assert np.isinf(rows(able, able.drawn[:, None], 9).near).all()


def test_what_is_measured_is_what_the_answers_say() -> None:
    design = rig("flat_six")
    (found,) = measured([design], EVERY)
    answer = check(design)
    assert found["mismatch"] == pytest.approx(answer.mismatch.largest.value, abs=1e-6)
    assert found["stops_together"] == pytest.approx(answer.mismatch.at_wide_open, abs=1e-9)
    assert answer.forces is not None
    assert found["closing_torque"] == min(at.value for at in answer.forces.least_shaft.values())
    assert answer.tolerance is not None
    assert found["mismatch_as_made"] == pytest.approx(answer.tolerance.links_set.stacks.largest.rss)
    at = answer.run.at_fraction([0.0, 0.3, 1.0]).plate_angle["left"]
    assert found["opening at 30 %"] == pytest.approx(100.0 * (at[1] - at[0]) / (at[2] - at[0]))
    assert {goal.name for goal in goals(EVERY)} <= set(found)


@pytest.mark.parametrize(
    ("name", "value", "met"),
    [
        ("mismatch", 0.2, True), ("mismatch", 0.201, False),
        ("transmission_angle", 45.0, True), ("transmission_angle", 44.99, False),
        ("progression_ratio", 1.53, True), ("progression_ratio", 1.531, False), ("progression_ratio", 1.47, True),
        ("opening at 30 %", 26.0, True), ("opening at 30 %", 26.1, False),
        ("cable_travel", 37.25, True), ("cable_travel", float("nan"), False),
    ],
)  # fmt: skip
def test_a_goal_is_met_within_its_tolerance(name: str, value: float, met: bool) -> None:
    (goal,) = (goal for goal in goals(EVERY) if goal.name == name)
    assert goal.met(value) is met


def test_what_cannot_be_free_is_refused() -> None:
    design = rig("flat_six")
    bounds = Bounds(1.0, 2.0)
    with pytest.raises(DesignError, match="nothing may change"):
        task(design, Wish(), {})
    with pytest.raises(PathError, match=r'"shaft\.left\.bore" is no dimension that a fit can change'):
        task(design, Wish(), {"shaft.left.bore": bounds})
    with pytest.raises(PathError, match=r'did you mean "shaft\.left\.arm\.drive\.angle"'):
        task(design, Wish(), {"shaft.left.arm.drive.angel": bounds})
    with pytest.raises(DesignError, match="goes from 2 to 2"):
        task(design, Wish(), {"shaft.left.arm.drive.angle": Bounds(2.0, 2.0)})
    with pytest.raises(DesignError, match=r"must be from 0\.001"):
        task(design, Wish(), {"shaft.left.arm.drive.radius": Bounds(-2.0, 2.0)})
    many = {
        path: Bounds(v - 1.0, v + 1.0)
        for path, v in dimensions(design).items()
        if ".pivot." in path or ".angle" in path
    }
    many |= {
        path: Bounds(v, v + 1.0)
        for path, v in dimensions(design).items()
        if path.endswith((".radius", ".station")) and "arm" in path
    }
    many = {path: b for path, b in many.items() if "plate_angle.shut" not in path}
    with pytest.raises(DesignError, match="and 20 are the most"):
        task(design, Wish(), many)
