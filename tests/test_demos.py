"""The demo designs: each says what it was made to say, and its teaching numbers come out by hand."""

from __future__ import annotations

import dataclasses
import functools
import math
import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from loop_equations import LoopEquations
from scipy.optimize import brentq
from slotted import SpringShut

import linkage
from linkage.answers import Answer, check, joints
from linkage.parts import SIGN, Arm, Linkage, Member

FOLDER = Path(__file__).parents[1] / "demo"

#: what each demo is there to show: the checks that fail
FAILS: dict[str, set[str]] = {
    "bench_job": set(),
    "body_mounted": {"rocking_at_idle"},
    "flat_six": set(),
    "flat_six_cable_from_rear": set(),
    "flat_six_pulls_shut": {"pull_direction"},
    "hand_set_links": {
        "mismatch_at_idle",
        "mismatch_off_idle",
        "mismatch",
        "mismatch_at_wide_open",
        "wide_open_shortfall",
    },
    "crossed_pair": {"mismatch_off_idle", "mismatch", "mismatch_at_wide_open"},
    "crossed_pair_reclocked": set(),
    "cross_tube": set(),
    "long_shaft": set(),
    "three_side_draughts": set(),
    "skew_bell_crank": set(),
    "pedal_box": set(),
    "push_rod": set(),
    "slide": set(),
    "slide_or_crank": {"mismatch_off_idle", "mismatch", "mismatch_at_wide_open"},
    "slow_opening_wish": set(),
    "snail": set(),
    "staged": set(),
    "tang": set(),
    "v8_inches": set(),
}

#: and the checks that ask for care in those that fail none
CARE: dict[str, set[str]] = {"long_shaft": {"twist_at_idle", "twist_in_travel", "twist"}}


#: demos with a slotted link or a tang
STAGED = ("staged", "tang")


@functools.cache
def rig(name: str) -> Linkage:
    return linkage.read(FOLDER / f"{name}.toml")


@functools.cache
def answer(name: str) -> Answer:
    return check(rig(name))


def with_axis(design: Linkage, axis: tuple[float, float, float]) -> Linkage:
    """The casing turned round."""
    assert design.cable is not None
    return dataclasses.replace(design, cable=dataclasses.replace(design.cable, casing_axis=axis))


def pin(pivot: tuple[float, ...], radius: float, angle: float) -> tuple[float, float]:
    """Where a lever's pin is."""
    turned = math.radians(angle)
    return pivot[0] + radius * math.cos(turned), pivot[1] + radius * math.sin(turned)


def names(found: Answer, *verdicts: str) -> set[str]:
    return {c.name for c in found.checks if c.verdict in verdicts}


# ---- every demo ---------------------------------------------------------------------------------


def test_no_demo_without_an_intention() -> None:
    assert {path.stem for path in FOLDER.glob("*.toml")} == set(FAILS)


@pytest.mark.parametrize("name", FAILS)
def test_it_says_that_it_is_invented(name: str) -> None:
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    design = rig(name)
    assert text.startswith("# INVENTED DEMO")
    assert "(invented)" in design.customer
    assert design.title
    assert design.drawing
    assert design.seen_from
    assert max(map(len, text.splitlines())) <= 110


@pytest.mark.parametrize("name", FAILS)
def test_it_fails_for_what_it_was_made_to_show_and_nothing_else(name: str) -> None:
    assert names(answer(name), "fail") == FAILS[name]


@pytest.mark.parametrize("name", [name for name, fails in FAILS.items() if not fails])
def test_the_good_ones_pass_without_a_caution_but_those_they_show(name: str) -> None:
    assert names(answer(name), "caution") == CARE.get(name, set())


@pytest.mark.parametrize("name", FAILS)
def test_the_verdict_that_the_readme_prints(name: str) -> None:
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    row = re.search(rf"^\| `{name}\.toml` \|.*\| (\S+) \|$", text, re.MULTILINE)
    assert row
    assert row[1] == ("**fail**" if FAILS[name] else "caution" if name in CARE else "pass")


@pytest.mark.parametrize("name", STAGED)
def test_staged_plates_by_root_finding_with_the_slack_as_an_inequality(name: str) -> None:
    run, apart = answer(name).run, SpringShut(rig(name))
    assert run.kinks
    for turn in np.linspace(*run.ends, 13):
        there, shut = run.at(turn).plate_angle, apart.at(float(turn))
        for shaft, part in rig(name).shaft.items():
            opened = SIGN[part.opens] * shut[shaft]
            assert there[shaft][0] == pytest.approx(part.plate_angle.idle + opened, abs=1e-9)


@pytest.mark.parametrize("name", sorted(FAILS.keys() - set(STAGED)))
def test_the_plates_by_root_finding_on_the_loop_equations(name: str) -> None:
    run = answer(name).run
    apart = LoopEquations(rig(name))
    for turn in np.linspace(*run.ends, 7):
        there = run.at(turn).plate_angle
        for shaft in rig(name).shaft:
            assert there[shaft][0] == pytest.approx(apart.plate_angle(shaft, float(turn)), abs=1e-9)


@pytest.mark.parametrize("name", FAILS)
def test_sizes_that_a_shop_can_make(name: str) -> None:
    """Lever radii and pivots to half a millimetre (a sixteenth of an inch), angles to half a degree."""
    design = rig(name)
    step = 25.4 / 16.0 if design.units == "in" else 0.5
    for member in design.members.values():
        lengths = [*member.pivot, *(arm.radius for arm in member.arm.values() if arm.radius is not None)]
        assert [v / step for v in lengths] == pytest.approx([round(v / step) for v in lengths], abs=1e-9)
        angles = [2.0 * arm.angle for arm in member.arm.values() if arm.angle is not None]
        assert angles == [round(v) for v in angles]


# ---- the flat six --------------------------------------------------------------------------------


def test_the_flagship_is_comfortable() -> None:
    found = answer("flat_six")
    least = {c.name: c.value for c in found.checks}
    assert (least["transmission_angle"] or 0.0) >= 40.0
    assert (least["toggle_margin"] or 0.0) >= 10.0
    assert (least["cable_angle"] or 0.0) >= 40.0
    assert (least["cable_swing"] or 99.0) < 5.0
    assert found.progression.ratio is not None
    assert 1.3 < found.progression.ratio < 2.0
    assert list(found.progression.gains) == sorted(found.progression.gains)  # slow first, then ever quicker
    assert found.cable is not None
    assert 30.0 < found.cable.needed < 40.0
    assert found.stops.opening.holds == "crank"  # the foot's load never reaches a throttle shaft


def mirrored(design: Linkage) -> Linkage:
    """The linkage in a looking-glass: x is -x, ccw is cw."""

    def arm(a: Arm) -> Arm:
        assert a.angle is not None
        return dataclasses.replace(a, angle=180.0 - a.angle)

    def member(m: Any) -> Any:
        x, y, z = m.pivot
        other = {"opens": {"ccw": "cw", "cw": "ccw"}[m.opens]} if isinstance(m, linkage.parts.Shaft) else {}
        return dataclasses.replace(m, pivot=(-x, y, z), arm={n: arm(a) for n, a in m.arm.items()}, **other)

    def point(p: tuple[float, float, float] | None) -> tuple[float, float, float] | None:
        return None if p is None else (-p[0], p[1], p[2])

    cable = design.cable
    assert cable is not None
    return dataclasses.replace(
        design,
        shaft={n: member(m) for n, m in design.shaft.items()},
        bellcrank={n: member(m) for n, m in design.bellcrank.items()},
        cable=dataclasses.replace(cable, casing_end=point(cable.casing_end), casing_axis=point(cable.casing_axis)),
        stop={n: s if s.turn is None else dataclasses.replace(s, turn=-s.turn) for n, s in design.stop.items()},
        spring={n: dataclasses.replace(s, anchor=point(s.anchor)) for n, s in design.spring.items()},
    )


def test_in_a_looking_glass_the_plates_do_the_same() -> None:
    there, here = check(mirrored(rig("flat_six"))), answer("flat_six")
    assert there.run.ends[1] == pytest.approx(-here.run.ends[1], abs=1e-9)
    for shaft, angle in here.run.plate_angle.items():
        np.testing.assert_allclose(there.run.plate_angle[shaft], angle, atol=1e-9)
    assert there.run.cable is not None
    assert here.run.cable is not None
    np.testing.assert_allclose(there.run.cable, here.run.cable, atol=1e-9)
    assert names(there, "pass") == names(here, "pass")


def test_the_cable_from_the_other_side_is_the_flagship_turned_half_round_its_pivot() -> None:
    """Arm and casing end half a turn on about the bell crank: the same triangle, so the same curves."""
    front, rear = rig("flat_six"), rig("flat_six_cable_from_rear")
    assert front.cable is not None
    assert rear.cable is not None
    assert front.cable.casing_end is not None
    pivot = front.bellcrank["centre"].pivot
    x, y, z = front.cable.casing_end
    assert rear.cable.casing_end == (2 * pivot[0] - x, 2 * pivot[1] - y, z)
    for columns in zip(
        answer("flat_six").run.columns().values(),
        answer("flat_six_cable_from_rear").run.columns().values(),
        strict=True,
    ):
        np.testing.assert_allclose(*columns, atol=1e-9)


def test_the_pull_that_shuts_is_mended_as_the_report_says() -> None:
    shut = answer("flat_six_pulls_shut")
    says = next(c.says for c in shut.checks if c.name == "pull_direction")
    told = re.search(r'put the arm "centre\.cable" on the other side of its pivot \(angle = (\d+)\)', says)
    assert told
    mended = rig("flat_six_pulls_shut").replace("bellcrank.centre.arm.cable.angle", float(told[1]))
    assert names(check(mended), "fail", "caution") == set()
    right = rig("flat_six_cable_from_rear")
    assert (mended.shaft, mended.bellcrank, mended.cable) == (right.shaft, right.bellcrank, right.cable)


def test_the_other_mend_is_the_casing_on_the_other_side() -> None:
    says = next(c.says for c in answer("flat_six_pulls_shut").checks if c.name == "pull_direction")
    told = re.search(r"for instance x (\S+) mm, y (\S+) mm", says)
    assert told
    moved = rig("flat_six_pulls_shut").replace("cable.casing_end", (float(told[1]), float(told[2])))
    mended = with_axis(moved, (1.0, 0.0, 0.0))
    assert names(check(mended), "fail", "caution") == set()
    assert mended.cable == rig("flat_six").cable


def test_the_long_link_by_hand() -> None:
    """Right shaft on its idle stop: where do its 171.42 mm put the bell crank, and that the left shaft?"""
    design, found = rig("hand_set_links"), answer("hand_set_links")
    crank, left, right = design.bellcrank["centre"], design.shaft["left"], design.shaft["right"]

    def end(member: Member, arm: str, turn: float) -> tuple[float, float]:
        at = member.arm[arm]
        assert at.radius is not None
        assert at.angle is not None
        return pin(member.pivot, at.radius, at.angle + turn)

    fitted = math.dist(end(crank, "right", 0.0), end(right, "drive", 0.0))
    assert 171.42 - fitted == pytest.approx(0.8, abs=0.005)

    turn = brentq(lambda t: math.dist(end(crank, "right", t), end(right, "drive", 0.0)) - 171.42, -10.0, 10.0)
    open_by = brentq(lambda t: math.dist(end(crank, "left", turn), end(left, "drive", t)) - 195.24, -10.0, 10.0)
    assert turn > 0.0  # ccw opens: the right stop is met first
    assert found.stops.closing.holds == "right.idle"
    assert found.stops.closing.turn == pytest.approx(turn, abs=1e-9)
    assert found.mismatch.at_idle == pytest.approx(open_by, abs=1e-9)
    assert found.stops.closing.gaps["left.idle"] == pytest.approx(open_by, abs=1e-9)
    # the gap at the left screw: arc of 22 mm radius, 0.8 mm a turn
    assert found.stops.closing.screws["idle_screw_left"].turns == pytest.approx(
        math.radians(open_by) * 22.0 / 0.8, abs=1e-9
    )


def test_half_a_turn_of_the_tube_mends_it() -> None:
    link = rig("hand_set_links").link["right"]
    assert link.length is not None
    assert link.pitch is not None
    assert link.hands == "left+right"
    half_a_turn = 0.5 * 2.0 * link.pitch
    mended = rig("hand_set_links").replace("link.right.length", link.length - half_a_turn)
    assert names(check(mended), "fail", "caution") == set()


# ---- the crossed pair ------------------------------------------------------------------------------


def by_cosine_rule(left: float, right: float, turned: float) -> float:
    """How far the right lever of the crossed pair is from where the left one's turn would have it [deg].

    Triangle of the right axis, the left pin and the right pin; 250 mm between axes, levers of 30 mm.
    """

    link = math.dist(pin((0.0, 0.0), 30.0, left), pin((250.0, 0.0), 30.0, right))
    x, y = pin((0.0, 0.0), 30.0, left + turned)
    across = math.hypot(x - 250.0, y)
    at_axis = math.acos((across**2 + 30.0**2 - link**2) / (2.0 * across * 30.0))
    stands = math.degrees(math.atan2(y, x - 250.0) + at_axis) - 360.0  # the lever hangs below
    return stands - (right - turned)


def test_the_classic_fault_by_hand() -> None:
    # 2 r sin 51 across, 250 along; half-way it should be 2 r across
    assert math.hypot(250.0, 60.0 * math.sin(math.radians(51.0))) == pytest.approx(254.31, abs=5e-3)
    assert math.hypot(250.0, 60.0) == pytest.approx(257.10, abs=5e-3)
    run = answer("crossed_pair").run
    assert joints.lengths(run)["cross"] == pytest.approx(
        math.hypot(250.0, 60.0 * math.sin(math.radians(51.0))), abs=1e-9
    )
    half = run.at(39.0).plate_angle
    assert abs(half["right"][0] - half["left"][0]) == pytest.approx(5.42, abs=5e-3)
    assert abs(by_cosine_rule(51.0, -51.0, 39.0)) == pytest.approx(5.42, abs=5e-3)
    largest = max(abs(by_cosine_rule(51.0, -51.0, t)) for t in np.linspace(0.0, 78.0, 7801))
    assert answer("crossed_pair").mismatch.largest.value == pytest.approx(largest, abs=1e-6)
    assert largest == pytest.approx(5.45, abs=5e-3)
    for end in (0.0, 78.0):
        assert by_cosine_rule(51.0, -51.0, end) == pytest.approx(0.0, abs=1e-9)


def test_twelve_degrees_mend_it() -> None:
    before, after = rig("crossed_pair"), rig("crossed_pair_reclocked")
    for shaft in ("left", "right"):
        was, now = before.shaft[shaft].arm["cross"].angle, after.shaft[shaft].arm["cross"].angle
        assert was is not None
        assert now == was - 12.0
    turned = before.replace("shaft.left.arm.cross.angle", 39.0).replace("shaft.right.arm.cross.angle", -63.0)
    assert (turned.shaft, turned.link, turned.cable) == (after.shaft, after.link, after.cable)
    largest = max(abs(by_cosine_rule(39.0, -63.0, t)) for t in np.linspace(0.0, 78.0, 7801))
    assert largest == pytest.approx(0.14, abs=5e-3)
    assert answer("crossed_pair_reclocked").mismatch.largest.value == pytest.approx(largest, abs=1e-6)


# ---- what gives ------------------------------------------------------------------------------------


def test_the_rod_from_the_scuttle_by_hand() -> None:
    """450 mm above the axis, one degree: 7.9 mm, and 1.9 degrees for each of them at 30 mm."""
    assert 450.0 * math.pi / 180.0 == pytest.approx(7.85, abs=5e-3)
    assert math.degrees(1.0 / 30.0) == pytest.approx(1.9, abs=0.011)
    found = answer("body_mounted").rocking
    assert found is not None
    # the rod's pins lie some way above the axes, and the rod meets its lever off the square: more, not less
    assert 7.9 * 1.9 < min(found.rate["front"]) < 1.5 * 7.9 * 1.9
    assert names(answer("body_mounted"), "caution") == {"rocking_in_travel"}


def test_on_the_engine_the_same_parts_do_not_notice() -> None:
    mended = rig("body_mounted").replace("bellcrank.scuttle.mounted", "engine").replace("cable.mounted", "engine")
    found = check(mended)
    assert names(found, "fail", "caution") == set()
    assert found.rocking is not None
    assert found.rocking.immune


def test_the_long_shaft_is_mended_as_its_comment_says() -> None:
    """Twelve millimetres are (12 / 8)^4, five times as stiff."""
    stiffer = (12.0 / 8.0) ** 4
    assert stiffer == pytest.approx(5.0, abs=0.07)
    assert names(check(rig("long_shaft").replace("shaft.six.shaft_diameter", 12.0)), "fail", "caution") == set()
    two = rig("long_shaft").replace("spring.inner.station", 10.0).replace("spring.outer.station", -220.0)
    was, now = answer("long_shaft").twist, check(two).twist
    assert was is not None
    assert now is not None
    assert now.apart_at_idle < 0.4 * was.apart_at_idle


# ---- the others -------------------------------------------------------------------------------------


def test_drop_links_lean_and_the_plates_do_not_mind() -> None:
    found = answer("cross_tube")
    assert found.mismatch.largest.value < 1e-9
    # 34 mm at 240 degrees from (-20, 95); 30 mm at 230 from (0, 0)
    flat = math.dist(pin((-20.0, 95.0), 34.0, 240.0), pin((0.0, 0.0), 30.0, 230.0))
    lean = {"one": 8.0, "two": 0.0, "three": 10.0, "four": 6.0}
    for name, length in joints.lengths(found.run).items():
        assert length == pytest.approx(math.hypot(flat, lean[name]), abs=1e-9)
        tilt = math.degrees(math.atan2(lean[name], flat))
        for end in joints.tilts(found.run)[name]:
            assert float(np.max(end)) == pytest.approx(tilt, abs=1e-9)


def test_what_one_coupling_is_out_the_next_hands_on() -> None:
    """Middle +0.03, rear +0.03 - 0.05 = -0.02: the rear meets its stop first, 0.05 from the middle."""
    found = answer("three_side_draughts")
    assert found.stops.closing.holds == "rear.idle"
    assert found.stops.closing.gaps == pytest.approx({"front.idle": 0.02, "middle.idle": 0.05}, abs=1e-9)
    assert found.mismatch.largest.value == pytest.approx(0.05, abs=1e-9)
    chained = rig("three_side_draughts")
    for path in ("coupling.front_middle.offset", "coupling.middle_rear.offset"):
        alone = chained.replace("coupling.front_middle.offset", 0.0).replace("coupling.middle_rear.offset", 0.0)
        assert "mismatch_at_idle" not in names(check(alone.replace(path, 0.08)), "fail")
        chained = chained.replace(path, 0.08)
    assert names(check(chained), "fail") == {"mismatch_at_idle"}


def test_the_cable_of_the_side_draughts_by_trigonometry() -> None:
    """A 30 mm lever from -25 degrees, a casing end at (25, 150); from 0.02 to 76 degrees of turn."""

    def run(turn: float) -> float:
        return math.dist((25.0, 150.0), pin((0.0, 0.0), 30.0, -25.0 + turn))

    found = answer("three_side_draughts")
    assert found.run.cable is not None
    assert found.run.cable[-1] == pytest.approx(run(0.02) - run(76.0), abs=1e-9)


def test_an_upright_bell_crank_opens_both_shafts_alike() -> None:
    """Half a turn about the upright axis lays the drawing on itself, so no closure can tell the shafts apart."""
    design, found = rig("skew_bell_crank"), answer("skew_bell_crank")
    x, y, z = design.bellcrank["upright"].arm["left"].pin or (0.0, 0.0, 0.0)
    assert design.bellcrank["upright"].arm["right"].pin == (-x, y, -z)
    np.testing.assert_allclose(found.run.plate_angle["left"], found.run.plate_angle["right"], atol=1e-9)
    tilt = max(float(np.max(end)) for ends in joints.tilts(found.run).values() for end in ends)
    assert 1.0 < tilt < 5.0  # it does leave the plane, by no more than a careful maker allows
    longer = check(design.replace("bellcrank.upright.arm.left.pin.z", z + 1.0))
    assert {"mismatch_off_idle", "mismatch"} <= names(longer, "fail")


def test_inches_and_millimetres_in_one_drawing() -> None:
    design, found = rig("v8_inches"), answer("v8_inches")
    assert design.units == "in"
    assert design.shaft["left"].bore == 45.0
    assert design.shaft["left"].arm["drive"].radius == pytest.approx(19.0 / 16.0 * 25.4, abs=1e-12)
    # crank (0, 2 7/8): 1 7/16 at 93.5; left shaft (-3, 0): 1 3/16 at 98.5
    inches = math.dist(pin((0.0, 2.875), 1.4375, 93.5), pin((-3.0, 0.0), 1.1875, 98.5))
    assert joints.lengths(found.run)["left"] == pytest.approx(25.4 * inches, abs=1e-9)
    text = (FOLDER / "v8_inches.toml").read_text(encoding="utf-8")
    raw = tomllib.loads(text)
    assert raw["shaft"]["left"]["bore"] == "45 mm"  # it is the metric string that was read
    assert next(c.says for c in found.checks if c.name == "cable_travel").endswith("the pedal gives 1.500 in.")
