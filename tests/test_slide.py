"""Blocks that slide on a guide: the slider-crank of the books, and everything that answers for one.

The slider-crank, derived from ``|P - Q| = l`` with the crank's pin ``P = r (cos a, sin a)`` and the
block's ``Q = (x, e)`` on a guide along x, set off by ``e``::

    x = r cos a + sqrt(l^2 - (r sin a - e)^2)

R. L. Norton, *Design of Machinery*, McGraw-Hill, §4.6, offset slider-crank (section from memory).
"""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sympy
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from trains import arms, block, pulled_block, relayed_block, rig, shaft, skew_block

from linkage import closure, turns
from linkage.answers import check
from linkage.answers.heat import heated
from linkage.answers.mismatch import mismatch, spread
from linkage.answers.springs import SpringAction, actions
from linkage.answers.stops import stops
from linkage.closure import SLIDING, ArmFrame
from linkage.design_file import parse, read, to_text
from linkage.errors import AssemblyError, DesignError
from linkage.motion import Motion, assemble, driver_turn, solve
from linkage.paper.bench import bench_sheet
from linkage.paper.document import document
from linkage.paper.report import report
from linkage.paper.sheet import text
from linkage.paper.spreadsheet import columns
from linkage.parts import Bounds, Heat, Link, Linkage, Screw, Stop, Wish
from linkage.search.fit import fit
from linkage.search.headings import columns_of
from linkage.search.readings import parse_readings
from linkage.search.rigging import rigging
from linkage.search.sweep import sweep
from linkage.toggles import toggle_turns

Floats = NDArray[np.float64]
DEMO = Path(__file__).parents[1] / "demo"
DESIGN = (DEMO / "slide.toml").read_text(encoding="utf-8")


def slider_crank(r: float, length: float, e: float, start: float, *, by_block: bool = False) -> Linkage:
    """A crank that stands at ``start`` [deg] as drawn, its link, and a block on a guide along x at the height ``e``."""
    a = math.radians(start)
    x = r * math.cos(a) + math.sqrt(length**2 - (r * math.sin(a) - e) ** 2)
    return rig(
        shaft("crank", (0.0, 0.0, 0.0), "ccw", arms(pin=(r, start)), idle=5.0, wide_open=65.0),
        block("block", (1.0, 0.0, 0.0), pin=(x, e, 0.0)),
        Link("rod", ("crank.pin", "block.pin")),
        drive="block" if by_block else "crank",
    )


def place(r: Any, length: Any, e: Any, a: Any, root: Any = np.sqrt, cos: Any = np.cos, sin: Any = np.sin) -> Any:
    """The block's place of the closed form [mm]."""
    return r * cos(a) + root(length**2 - (r * sin(a) - e) ** 2)


# the books


@pytest.mark.parametrize(
    ("r", "length", "e", "start"),
    [(40.0, 120.0, 0.0, 20.0), (40.0, 120.0, 25.0, 20.0), (40.0, 90.0, -20.0, 60.0), (63.5, 203.2, -50.8, 35.0)],
)
def test_the_crank_moves_the_block_as_the_closed_form_says(r: float, length: float, e: float, start: float) -> None:
    run = solve(slider_crank(r, length, e, start), positions=31)
    a = np.radians(start) + np.radians(run.turn)
    x = place(r, length, e, a)
    np.testing.assert_allclose(run.member_turn["block"], x - x[0], rtol=0, atol=1e-11)
    symbol = sympy.Symbol("a")
    formula = place(r, length, e, symbol, sympy.sqrt, sympy.cos, sympy.sin)
    speed, acceleration = (sympy.lambdify(symbol, formula.diff(symbol, n))(a) for n in (1, 2))
    # a turn of the block counts a millimetre as a degree: its radian is SLIDING millimetres
    np.testing.assert_allclose(SLIDING * run.speed["block"], speed, rtol=0, atol=1e-9)
    np.testing.assert_allclose(SLIDING * run.second["block"], acceleration, rtol=0, atol=1e-9)


@pytest.mark.parametrize(("e", "start"), [(0.0, 30.0), (18.0, 25.0), (-22.0, 50.0)])
def test_the_block_moves_the_crank_as_the_law_of_cosines_says(e: float, start: float) -> None:
    r, length = 35.0, 110.0
    linkage_ = slider_crank(r, length, e, start, by_block=True)
    run = solve(linkage_, positions=25)
    x0 = place(r, length, e, math.radians(start))
    x = x0 + run.turn
    rho = np.hypot(x, e)
    a = np.arctan2(e, x) + np.arccos((rho**2 + r**2 - length**2) / (2.0 * r * rho))
    np.testing.assert_allclose(run.member_turn["crank"], np.degrees(a) - start, rtol=0, atol=1e-10)
    np.testing.assert_allclose(run.member_turn["crank"][[0, -1]], [0.0, 60.0], rtol=0, atol=1e-10)
    # and the same train driven from its other end stands in the same places
    other = solve(slider_crank(r, length, e, start)).at(run.member_turn["crank"])
    np.testing.assert_allclose(other.member_turn["block"], run.turn, rtol=0, atol=1e-10)
    np.testing.assert_allclose(other.speed["block"] * run.speed["crank"], 1.0, rtol=0, atol=1e-10)


@pytest.mark.parametrize("e", [0.0, 24.0])
def test_dead_points_lie_where_link_and_crank_are_in_line(e: float) -> None:
    r, length, start = 40.0, 100.0, 70.0
    train = assemble(slider_crank(r, length, e, start, by_block=True))
    drawn = place(r, length, e, math.radians(start))
    (joint,) = train.joints
    assert joint.forward is not None
    found = np.degrees(toggle_turns(joint.forward, parallel=joint.parallel))
    reach = [math.sqrt((length + way * r) ** 2 - e**2) for way in (1.0, -1.0)]
    wanted = sorted(side * far - drawn for far in reach for side in (1.0, -1.0))
    np.testing.assert_allclose(np.sort(found[np.isfinite(found)]), wanted, rtol=0, atol=1e-9)
    for far in reach:  # on the guide the pin is then on the line through the crank's axis and pin, so r apart from it
        assert abs(math.hypot(far, e) - length) == pytest.approx(r, abs=1e-12)


def test_a_crank_longer_than_its_link_cannot_go_round() -> None:
    r, length, e = 60.0, 55.0, 10.0
    train = assemble(slider_crank(r, length, e, 10.0))
    (joint,) = train.joints
    assert joint.forward is not None
    found = toggle_turns(joint.forward, parallel=joint.parallel)
    stands = np.radians(10.0) + found[np.isfinite(found)]
    np.testing.assert_allclose(np.abs(r * np.sin(stands) - e), length, rtol=0, atol=1e-7)
    assert len(stands) == 2


def test_a_very_long_link_makes_a_scotch_yoke() -> None:
    r, length = 30.0, 1e5
    run = solve(slider_crank(r, length, 0.0, 15.0), positions=41)
    a = np.radians(15.0 + run.turn)
    yoke = r * (np.cos(a) - np.cos(a[0]))
    # what is left of the link's slope: r^2 (sin^2 a - sin^2 a0) / 2 l, to second order in r / l
    slope = r**2 * (np.sin(a) ** 2 - np.sin(a[0]) ** 2) / (2.0 * length)
    assert np.max(slope) > 1e-3
    np.testing.assert_allclose(run.member_turn["block"] - yoke + slope, 0.0, atol=1e-7)


def test_the_closure_is_the_root_of_the_loop_equation() -> None:
    """sympy solves ``|w - t e|^2 = L^2`` for the travel; the branch is the sign before its root."""
    random = np.random.default_rng(4)
    t, length = sympy.symbols("t L", positive=True)
    w = sympy.symbols("w1:4", real=True)
    e = sympy.symbols("e1:4", real=True)
    loop = sum((p - t * q) ** 2 for p, q in zip(w, e, strict=True)) - length**2
    roots = [sympy.lambdify((*w, *e, length), root) for root in sympy.solve(loop, t)]
    for _ in range(20):
        along = random.normal(size=3)
        along /= np.linalg.norm(along)
        start, pin = random.normal(scale=20.0, size=3), random.normal(scale=20.0, size=3)
        away = pin - start
        long = float(np.linalg.norm(away - (away @ along) * along)) + random.uniform(5.0, 40.0)
        side = np.cross(along, [0.3, -0.5, 0.8])
        u = np.cross(side, along)
        guide = ArmFrame(tuple(start), tuple(along), tuple(side), tuple(u), SLIDING, slides=True)
        turning = ArmFrame(tuple(pin), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), 0.0)
        ours = {
            way: math.degrees(closure.close(closure.loop(turning, guide, long, way), 1.0, 0.0)[0])
            for way in (-1.0, 1.0)
        }
        theirs = sorted(float(np.real(root(*away, *along, long))) for root in roots)
        assert [ours[-1.0], ours[1.0]] == pytest.approx(theirs, abs=1e-9)


NUMBER = st.floats


@settings(max_examples=60, deadline=None)
@given(NUMBER(20.0, 50.0), NUMBER(1.6, 4.0), NUMBER(-0.4, 0.4), NUMBER(15.0, 70.0), NUMBER(-180.0, 180.0))
def test_any_slider_crank_keeps_its_length_and_runs_back(
    r: float, ratio: float, offset: float, start: float, way: float
) -> None:
    """Also with the guide at any angle, seen from wherever."""
    still = slider_crank(r, ratio * r, offset * r, start)
    c, s = math.cos(math.radians(way)), math.sin(math.radians(way))
    x, y, _ = still.slide["block"].pin["pin"].at
    turned = rig(
        shaft("crank", (0.0, 0.0, 0.0), "ccw", arms(pin=(r, start + way)), idle=5.0, wide_open=65.0),
        block("block", (c, s, 0.0), pin=(c * x - s * y, s * x + c * y, 0.0)),
        Link("rod", ("crank.pin", "block.pin")),
        drive="crank",
    )
    run = solve(turned, positions=7)
    assume(abs(run.ends[1]) > 1.0)
    np.testing.assert_allclose(run.member_turn["block"], solve(still, positions=7).member_turn["block"], atol=1e-9)
    (joint,) = run.train.joints
    assert joint.driving is not None
    assert joint.driven is not None
    p, q = closure.pin(joint.driving, *run.pose["crank"]), closure.pin(joint.driven, *run.pose["block"])
    np.testing.assert_allclose(np.linalg.norm(np.subtract(p, q), axis=0), ratio * r, rtol=1e-12)
    if np.all(run.speed["block"] * run.speed["block"][0] > 0.01):  # no dead centre of the crank on the way
        back = [driver_turn(run.train, "block", math.radians(travel)) for travel in run.member_turn["block"]]
        np.testing.assert_allclose(np.degrees(back), run.turn, rtol=0, atol=1e-6)


# the pair on a slide


def test_a_pair_on_the_plane_of_symmetry_never_parts() -> None:
    run = solve(read(DEMO / "slide.toml"), positions=181)
    assert np.max(spread(run)) < 1e-12
    assert check(run, trials=200).verdict == "pass"


def test_the_same_pair_on_a_bell_crank_parts_by_what_its_pin_leaves_the_plane() -> None:
    rig_ = read(DEMO / "slide_or_crank.toml")
    run = solve(rig_, positions=181)
    arm = rig_.bellcrank["centre"]
    pin = arm.arm["links"].pin
    assert pin is not None
    long, first = math.dist(arm.pivot, pin), math.degrees(math.atan2(pin[1] - arm.pivot[1], pin[0] - arm.pivot[0]))
    off = arm.pivot[0] + long * np.cos(np.radians(first + run.turn))
    sagitta = long - math.sqrt(long**2 - (pin[1] - arm.pivot[1]) ** 2)
    assert np.max(np.abs(off)) == pytest.approx(sagitta, abs=0.01)
    assert sagitta == pytest.approx(4.25, abs=0.005)
    assert mismatch(run).largest.value == pytest.approx(11.67, abs=0.005)
    assert float(spread(run)[-1]) == pytest.approx(0.05, abs=0.005)  # at both ends the pin stands in the plane again


def test_the_two_demos_are_one_pair() -> None:
    one, other = read(DEMO / "slide.toml"), read(DEMO / "slide_or_crank.toml")
    for name, part in one.shaft.items():
        assert dataclasses.replace(part, arm={}) == dataclasses.replace(other.shaft[name], arm={})
        assert part.arm == other.shaft[name].arm
    assert one.slide["block"].pin["links"].at == other.bellcrank["centre"].arm["links"].pin


# what answers for it


def test_the_answer_tells_travels_as_lengths() -> None:
    answer = check(parse(DESIGN), trials=20)
    found = json.loads(json.dumps(document(answer)))
    assert set(found["members"]["block"]) == {"travel"}
    assert set(found["members"]["left"]) == {"turn"}
    assert found["members"]["block"]["travel"] == found["travel"]["turn"]
    assert found["travel"]["cable"][-1] == pytest.approx(found["travel"]["turn"][-1], abs=1e-12)  # pulled straight
    units = {one["name"]: one["unit"] for one in found["checks"]}
    assert (units["opening_stop"], units["toggle_margin"], units["opens_throughout"]) == ("mm", "mm", "deg/mm")
    end = found["travel"]["turn"][-1]
    assert found["stops"]["opening"]["gaps"]["block_top"] == pytest.approx(38.0 - end, abs=1e-12)
    assert "driver_torque" not in found["forces"]
    told = report(answer)
    assert '"block" moves 35.97 mm along its guide from the closing to the opening stop' in told
    assert "block, travel [mm]" in told
    assert "2.03 mm" in told
    assert "travel of block [mm]" in columns(answer.run)
    assert "block [mm]" in answer.run.columns()


def test_an_inch_design_tells_inches() -> None:
    words = DESIGN.replace('units = "mm"', 'units = "in"')
    for line in DESIGN.splitlines():
        key, _, value = line.partition(" = ")
        if key in ("pivot", "at", "casing_end", "anchor", "radius", "bore", "shaft_diameter", "travel", "free_play",
                   "pitch", "free_length", "link_length", "arm_radius", "pin"):  # fmt: skip
            numbers = value.strip("[]").split(", ")
            told = ", ".join(f'"{number} mm"' for number in numbers)
            words = words.replace(line, f"{key} = [{told}]" if value.startswith("[") else f"{key} = {told}")
    words = words.replace("friction = 1.5", 'friction = "1.5 N"').replace("pivot = 0.1", 'pivot = "0.1 mm"')
    inches, mm = (check(parse(words_), trials=20) for words_ in (words, DESIGN))
    assert inches.run.rig.units == "in"
    one, other = document(inches), document(mm)
    np.testing.assert_allclose(np.multiply(25.4, one["travel"]["turn"]), other["travel"]["turn"], rtol=1e-12)
    np.testing.assert_allclose(
        np.multiply(25.4, one["members"]["block"]["travel"]), other["members"]["block"]["travel"], rtol=1e-12
    )
    gap = "block_top"
    assert 25.4 * one["stops"]["opening"]["gaps"][gap] == pytest.approx(other["stops"]["opening"]["gaps"][gap])
    checks = {name: {c["name"]: c for c in d["checks"]} for name, d in (("in", one), ("mm", other))}
    assert checks["in"]["toggle_margin"]["unit"] == "in"
    assert 25.4 * checks["in"]["toggle_margin"]["limit"] == pytest.approx(10.0)
    assert checks["in"]["opens_throughout"]["unit"] == "deg/in"
    assert checks["in"]["opens_throughout"]["value"] == pytest.approx(25.4 * checks["mm"]["opens_throughout"]["value"])
    assert turns.text(inches.run.rig, "block", 25.4) == "1.000 in"
    assert "travel of block [in]" in columns(inches.run)


def test_a_stop_screw_in_the_way_of_a_block_turns_by_its_gap() -> None:
    rig_ = parse(DESIGN)
    top = dataclasses.replace(rig_.stop["block_top"], screw=Screw(10.0, 0.5))
    found = stops(solve(dataclasses.replace(rig_, stop={"block_top": top}))).opening
    assert found.screws["block_top"].distance == pytest.approx(found.gaps["block_top"], abs=1e-12)
    assert found.screws["block_top"].turns == pytest.approx(2.0 * found.gaps["block_top"], abs=1e-12)


def test_a_stop_of_the_block_holds_where_it_stands() -> None:
    run = solve(parse(DESIGN).replace("stop.block_top.travel", 25.0))
    assert run.ends == pytest.approx((0.0, 25.0), abs=1e-12)
    assert stops(run).opening.holds == "block_top"


def energy(run: Motion, found: dict[str, SpringAction]) -> Floats:
    """What the springs hold [N.mm], from their own laws."""
    whole = np.zeros_like(run.turn)
    for name, spring in run.rig.spring.items():
        if spring.on is not None:
            turned = np.abs(run.member_turn[spring.on])
            whole += np.radians(spring.preload * turned + 0.5 * spring.rate * turned**2)
        else:
            stretch = found[name].stretch
            assert stretch is not None
            whole += spring.initial_tension * stretch + 0.5 * spring.rate * stretch**2
    return whole


@pytest.mark.parametrize("friction", [0.0, 4.0])
def test_the_pull_does_the_work_that_springs_and_friction_take(friction: float) -> None:
    rig_ = parse(DESIGN).replace("slide.block.friction", friction)
    for name in rig_.shaft:
        rig_ = rig_.replace(f"shaft.{name}.friction_torque", 0.0)
    from linkage.answers.forces import cable_tension

    run = solve(rig_, positions=4001)
    tension = cable_tension(run)[0]
    assert tension is not None
    assert run.cable is not None
    work = np.trapezoid(tension, run.cable)
    held = energy(run, actions(run))
    assert work == pytest.approx(held[-1] - held[0] + friction * run.turn[-1], rel=1e-7)


def test_heat_leaves_no_mark_of_where_the_guides_point_is_put() -> None:
    given_ = dataclasses.replace(pulled_block(), heat=Heat(90.0, 2.2e-5, 1.2e-5, 1.1e-5))
    moved = given_.replace("slide.block.origin.y", 400.0).replace("slide.block.origin.x", 0.05 * (400.0 - 45.0))
    one, other = (solve(heated(solve(r))) for r in (given_, moved))
    np.testing.assert_allclose(one.ends, other.ends, rtol=0, atol=1e-9)
    for name, angle in one.plate_angle.items():
        np.testing.assert_allclose(angle, other.plate_angle[name], rtol=0, atol=1e-9)


def test_a_guide_pushed_sideways_parts_the_pair_by_the_sensitivity() -> None:
    from linkage.answers.sensitivities import ranked

    run = solve(parse(DESIGN))
    middle = 18.0
    by = ranked(run, middle)["slide.block.pin.links.at.x"]
    links = {j.step.by.name: float(j.length) for j in run.train.joints}
    apart = []
    for off in (-1e-4, 1e-4):
        rig_ = run.rig.replace("slide.block.pin.links.at.x", off)
        for name, size in links.items():
            rig_ = rig_.replace(f"link.{name}.length", size)
        there = solve(rig_)
        share = middle / run.ends[1]
        at = there.at((1.0 - share) * there.ends[0] + share * there.ends[1])
        apart.append(float(at.plate_angle["left"][0] - at.plate_angle["right"][0]))
    assert abs(by) == pytest.approx(abs(apart[1] - apart[0]) / 2e-4, rel=1e-5)


# the search


def test_a_sweep_is_the_single_answer() -> None:
    paths = {"slide.block.pin.links.at.x": (-1.0, 1.0), "slide.block.pin.links.at.y": (34.0, 42.0),
             "shaft.left.arm.drive.radius": (22.0, 24.0), "stop.block_top.travel": (33.0, 39.0)}  # fmt: skip
    found = sweep(parse(DESIGN), paths, samples=24)
    for i in range(24):
        one = parse(DESIGN)
        for path in paths:
            one = one.replace(path, float(found[path][i]))
        answer = check(one, trials=2)
        assert found["mismatch"][i] == pytest.approx(answer.mismatch.largest.value, rel=0, abs=1e-9)
        assert found["driver_turn"][i] == pytest.approx(answer.run.ends[1] - answer.run.ends[0], rel=0, abs=1e-9)
        least = next(c.value for c in answer.checks if c.name == "transmission_angle")
        assert found["transmission_angle"][i] == pytest.approx(least, rel=0, abs=1e-6)
        gap = answer.stops.opening.gaps.get("block_top", 0.0)
        assert found["gap:block_top"][i] == pytest.approx(gap, rel=0, abs=1e-9)
    headed = {column.name: column.heading for column in columns_of(found.rig, tuple(paths))}
    for name in ("driver_turn", "gap:block_top", "toggle_margin_opening"):
        assert headed[name] == f"{name} [mm]"
    assert headed["gap:left.idle"] == "gap:left.idle [deg]"


def test_a_fit_finds_the_guide_pushed_aside() -> None:
    spoilt = parse(DESIGN).replace("slide.block.pin.links.at.x", 1.3)
    free = {"slide.block.pin.links.at.x": Bounds(-3.0, 3.0)}
    found = fit(spoilt, wish=Wish(mismatch=0.02), free=free, starts=8, seed=1)
    assert found.best.met
    assert found.best.values["slide.block.pin.links.at.x"] == pytest.approx(0.0, abs=0.01)
    assert solve(found.best.rig).ends[1] == pytest.approx(found.best.figures["driver_turn"], abs=1e-6)


def test_rigging_says_where_the_block_is_clamped() -> None:
    found = rigging(parse(DESIGN))
    assert [pin.member for pin in found.pins] == ["left", "right"]
    run = solve(parse(DESIGN))
    at = run.at(found.blocks["block"])
    assert float(at.plate_angle["left"][0]) == pytest.approx(found.plate_angle, abs=1e-9)
    for one in found.links:
        assert [one.idle.length, one.opening.length] == pytest.approx([one.length] * 2, abs=1e-9)


def test_readings_of_a_driver_that_slides_are_lengths() -> None:
    rig_ = parse(DESIGN)
    found = parse_readings("turn [mm], left [deg], right [deg]\n0, 9.0, 9.1\n18, 47.6, 47.9\n", rig_)
    assert [r.value for r in found.readings if r.what == "turn"] == [0.0, 18.0]
    with pytest.raises(DesignError, match="deg"):
        parse_readings("turn [deg], left [deg]\n0, 9.0\n", rig_)


# the file


def faulty(old: str, new: str) -> str:
    assert DESIGN.count(old) == 1
    with pytest.raises(DesignError) as told:
        parse(DESIGN.replace(old, new))
    return str(told.value)


def test_what_a_slide_cannot_do_is_said_with_its_mend() -> None:
    coupled = faulty("[cable]\n", '[coupling.tie]\njoins = ["left", "block"]\n[cable]\n')
    assert '"block" is a slide, which does not turn; join it with a link' in coupled
    wound = faulty('[spring.left]\non = "left"', '[spring.left]\non = "block"')
    assert "use an extension spring" in wound
    drum = faulty('pulls = "block.links"', 'quadrant = "block"\nradius = 20.0\npull_turns = "ccw"')
    assert "let the cable pull a pin of it" in drum
    assert "write travel instead" in faulty("travel = 38.0", "turn = 38.0")
    assert "has no direction" in faulty("along = [0.0, 1.0]", "along = [0.0, 0.0]")
    assert 'did you mean "block.links"?' in faulty('"block.links", "left.drive"', '"block.link", "left.drive"')


def test_the_keys_of_a_slide_are_read() -> None:
    rig_ = read(Path(__file__).parent / "data" / "slide.toml")
    found = rig_.slide["block"]
    assert (found.origin, found.along, found.axis) == ((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    assert (found.friction, found.mounted, rig_.driver) == (1.5, "engine", "block")
    assert found.pin["link"].at == pytest.approx((0.0, 38.1, 0.0), abs=1e-12)
    assert found.pin["cable"].at == (0.0, 45.0, 2.0)
    assert rig_.stop["top"].travel == 40.0


def test_a_slide_is_written_as_it_was_read() -> None:
    rig_ = parse(DESIGN)
    assert parse(to_text(rig_)) == rig_
    moved = rig_.replace("slide.block.pin.links.at.y", 40.0)
    assert parse(to_text(moved)) == moved
    assert dataclasses.replace(rig_, source=None) == rig_


def test_a_guide_that_stands_square_to_its_link_is_told() -> None:
    square = rig(
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(pin=(30.0, 90.0))),
        block("block", (1.0, 0.0, 0.0), pin=(0.0, 100.0, 0.0)),
        Link("rod", ("a.pin", "block.pin")),
        drive="a",
    )
    with pytest.raises(AssemblyError, match="square to the guide"):
        assemble(square)


@pytest.mark.parametrize("make", [pulled_block, relayed_block, skew_block])
def test_every_paper_of_a_slide_can_be_made(make: Any) -> None:
    from linkage.plots.views import blocks
    from linkage.widgets import drawing

    rig_ = dataclasses.replace(make(), stop={"end": Stop("end", "block", "opening", travel=1e3)})
    run = solve(rig_, positions=drawing.POSITIONS)
    for name, sliding in blocks(run).items():
        gone = sliding.corners - sliding.corners[0]
        along = np.array(rig_.slide[name].along)
        np.testing.assert_allclose(gone @ along, np.outer(run.member_turn[name] - run.member_turn[name][0], np.ones(4)))
        for rail in sliding.rails:  # the rails reach as far as the block goes
            low, high = sorted(rail @ along)
            assert low <= np.min(sliding.corners @ along) + 1e-9
            assert high >= np.max(sliding.corners @ along) - 1e-9
    assert "guide of block" in text(bench_sheet(check(rig_, trials=2)))
    shown = drawing.moving(run)
    assert set(shown["blocks"]) == set(rig_.slide)
    assert not set(shown["hubs"]) & set(shown["blocks"])
    assert report(check(rig_, trials=2))


def test_a_pin_of_a_block_is_dragged_along_and_across_its_guide() -> None:
    from linkage.widgets.controls import controls
    from linkage.widgets.handles import dragged

    run = solve(parse(DESIGN), positions=61)
    lengths = {j.step.by.name: float(j.length) for j in run.train.joints}
    sliders = controls(run.rig, lengths)
    at = 40
    gone = float(run.turn[at])
    found = dragged(run, "pin:block.links", (1.0, 38.0 + gone + 2.0), at=at, view="front", sliders=sliders)
    assert found["slide.block.pin.links.at.x"] == pytest.approx(1.0, abs=1e-9)
    assert found["slide.block.pin.links.at.y"] == pytest.approx(40.0, abs=1e-9)
    with pytest.raises(DesignError, match="nothing that can be dragged"):
        dragged(run, "pivot:block", (0.0, 0.0), at=at, view="front", sliders=sliders)
