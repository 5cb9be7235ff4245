"""Forces against hand arithmetic, free bodies, the balance of energy and a physics engine."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import mujoco
import numpy as np
import pytest
from free_bodies import FreeBodies, drawn_pin
from numpy.typing import NDArray
from sprung import extension, one_shaft, sprung, torsion
from trains import EXAMPLES, arms, bell_crank, coupled, crossed_pair, rig, series, shaft, skew

from linkage.answers import forces as told
from linkage.answers import spring_checks, springs
from linkage.answers.forces import Forces, forces
from linkage.answers.link_forces import euler_load
from linkage.motion import Motion, solve
from linkage.parts import (
    SIGN,
    Cable,
    Coupling,
    Linkage,
    Pedal,
    Point,
    Stop,
)

Floats = NDArray[np.float64]


def dressed(name: str) -> Linkage:
    """An example train with a spring of one kind on every shaft and of the other at the driver, and friction."""
    linkage = EXAMPLES[name]()
    given = [torsion(f"on {s}", s, 150.0 + 20.0 * i, 1.2) for i, s in enumerate(linkage.shaft)]
    driver = linkage.members[linkage.driver]
    for arm in list(driver.arm)[:1]:
        x, y, z = driver.pivot
        given.append(extension("far", f"{driver.name}.{arm}", (x - 30.0, y + 160.0, z + 25.0), 40.0, 0.08, 0.5))
    return sprung(linkage, *given, friction=9.0)


def report(run: Motion) -> Forces:
    found = forces(run)
    assert found is not None
    return found


def test_a_torsion_spring_by_hand() -> None:
    run = solve(one_shaft(torsion("s", "a", 120.0, 1.5), friction=15.0, efficiency=0.8)).at(40.0)
    found = report(run)
    assert found.tension is not None
    assert found.tension_closing is not None
    assert found.pedal is not None
    assert found.pedal_closing is not None
    # 120 + 1.5 x 40 = 180 N mm, friction 15, radius 30
    assert found.tension[0] == pytest.approx(195.0 / 30.0, rel=1e-12)
    assert found.tension_closing[0] == pytest.approx(165.0 / 30.0, rel=1e-12)
    assert found.pedal[0] == pytest.approx(6.5 / (0.8 * 3.0), rel=1e-12)
    assert found.pedal_closing[0] == pytest.approx(5.5 * 0.8 / 3.0, rel=1e-12)
    assert found.shafts["a"][0] == pytest.approx(165.0, rel=1e-12)


def test_four_shafts_of_the_trades_own_sum() -> None:
    # 0.3 N m on each of four shafts at 30 mm: 40 N of cable, 25 N at a pedal of 2:1 with 0.8 efficiency
    shafts = [shaft(name, (0.0, 0.0, 90.0 * i), "ccw", {}) for i, name in enumerate("abcd")]
    ties = [Coupling(f"{x}{y}", (x, y)) for x, y in ("ab", "bc", "cd")]
    linkage = rig(
        *shafts, *ties,
        cable=Cable(quadrant="a", radius=30.0, pull_turns="ccw", efficiency=0.8), pedal=Pedal(2.0),
    )  # fmt: skip
    found = report(solve(sprung(linkage, *(torsion(name, name, 300.0) for name in "abcd"))))
    assert found.most_tension is not None
    assert found.most_pedal is not None
    assert found.most_tension.value == pytest.approx(40.0, rel=1e-12)
    assert found.most_pedal.value == pytest.approx(25.0, rel=1e-12)


def test_an_extension_spring_by_hand() -> None:
    # pin (20, 0), anchor (20, -15): 15 long, 5 stretched, straight down: 2 + 0.5 x 5 N, arm 20 mm, cw
    run = solve(one_shaft(extension("s", "a.hook", (20.0, -15.0, 0.0), 10.0, 0.5, 2.0))).at(0.0)
    action = report(run).springs["s"]
    assert action.pull is not None
    assert action.arm is not None
    assert action.pull[0] == pytest.approx(4.5, rel=1e-12)
    assert action.arm[0] == pytest.approx(20.0, rel=1e-12)
    assert action.closing[0] == pytest.approx(90.0, rel=1e-12)
    # anchor 20 in front as well: 25 long (3-4-5), the pull leans out of the plane, 15/25 of it turns
    run = solve(one_shaft(extension("s", "a.hook", (20.0, -15.0, 20.0), 10.0, 0.5, 2.0))).at(0.0)
    assert report(run).springs["s"].closing[0] == pytest.approx((2.0 + 0.5 * 15.0) * 0.6 * 20.0, rel=1e-12)


def test_a_slack_spring_pulls_nothing_and_a_torsion_spring_never_opens() -> None:
    loose = extension("loose", "a.hook", (20.0, -15.0, 0.0), 16.0, 0.5, 2.0)
    backward = torsion("backward", "a", 0.0, 2.0)
    linkage = one_shaft(loose, backward)
    run = solve(dataclasses.replace(linkage, stop={"low": Stop("low", "a", "closing", plate_angle=5.0)}))
    run = run.at([-5.0, 10.0])  # 5 degrees before drawn: the spring would push
    found = springs.actions(run)
    assert found["loose"].closing[0] == 0.0
    assert found["backward"].closing.tolist() == [0.0, 20.0]
    assert found["backward"].wound is not None
    assert found["backward"].wound[0] == pytest.approx(-10.0)


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_virtual_work_agrees_with_the_members_cut_free(name: str) -> None:
    run = solve(dressed(name), positions=7)
    found = report(run)
    opens = float(run.train.opens)
    # a train ends at its stops, not a dead point: inside them nothing is near singular
    for position in range(1, 6):
        free = FreeBodies(run, position)
        going, links = free.solve(1.0)
        back, links_back = free.solve(-1.0)
        if found.tension is None or found.tension_closing is None:
            assert found.opening[position] == pytest.approx(opens * going, rel=1e-9)
            assert found.closing[position] == pytest.approx(opens * back, rel=1e-9)
        else:
            assert going > back > 0.0
            assert found.tension[position] == pytest.approx(going, rel=1e-9)
            assert found.tension_closing[position] == pytest.approx(back, rel=1e-9)
        largest = max(map(abs, links.values()))
        for link, force in links.items():
            assert found.links[link].force[position] == pytest.approx(force, rel=1e-9, abs=1e-9 * largest)
            assert found.links[link].closing[position] == pytest.approx(links_back[link], rel=1e-9, abs=1e-9 * largest)


@pytest.mark.parametrize("name", ["cross_tube", "tilted", "skew"])
def test_side_load_is_the_force_along_the_bolt(name: str) -> None:
    run = solve(dressed(name), positions=5)
    found = report(run)
    free = FreeBodies(run, 2)
    for link_name, link in run.rig.link.items():
        along = free.place(link.joins[1]) - free.place(link.joins[0])
        along /= np.linalg.norm(along)
        force = found.links[link_name].force[2]
        for end, pin in enumerate(link.joins):
            axis = np.array(run.rig.members[pin.rpartition(".")[0]].axis)
            assert found.links[link_name].side[end][2] == pytest.approx(abs(force * (along @ axis)), rel=1e-9, abs=1e-9)


# --- energy


def stored(linkage: Linkage, run: Motion) -> float:
    """Energy [N mm] that the springs take from the first to the last position of a motion."""
    total = 0.0
    first, last = FreeBodies(run, 0), FreeBodies(run, len(run.turn) - 1)
    for spring in linkage.spring.values():
        ends = []
        for at in (first, last):
            if spring.on is not None:
                opened = SIGN[linkage.shaft[spring.on].opens] * at.turn[spring.on]
                ends.append(spring.preload * opened + 0.5 * math.degrees(spring.rate) * opened**2)
            else:
                assert spring.free_length is not None
                length = float(np.linalg.norm(np.array(spring.anchor) - at.place(spring.pulls or "")))
                stretch = length - spring.free_length
                ends.append(spring.initial_tension * stretch + 0.5 * spring.rate * stretch**2)
        total += float(ends[1] - ends[0])
    return total


def gauss(run: Motion) -> tuple[Motion, Floats]:
    """The motion at Gauss-Legendre points of its travel, and their weights in driver turn [deg]."""
    node, weight = np.polynomial.legendre.leggauss(12)
    edges = np.linspace(*run.ends, 41)
    half = 0.5 * np.diff(edges)
    return run.at((edges[:-1, None] + half[:, None] * (1.0 + node)).ravel()), (half[:, None] * weight).ravel()


@pytest.mark.parametrize("name", ["bell_crank", "series", "cross_tube", "coupled", "skew", "hand_set"])
def test_work_of_the_foot_is_spring_energy_friction_and_cable_loss(name: str) -> None:
    linkage = dressed(name)
    assert linkage.cable is not None
    linkage = dataclasses.replace(linkage, cable=dataclasses.replace(linkage.cable, efficiency=0.7), pedal=Pedal(2.5))
    run = solve(linkage, positions=3)
    at, weight = gauss(run)
    down, back = told.pedal_force(at)
    pull, _ = told.cable_tension(at)
    assert down is not None
    assert back is not None
    assert pull is not None
    cable = at.travel_speed * weight
    pressed, returned, inner = (float(np.sum(f * cable)) for f in (2.5 * down, 2.5 * back, pull))
    rubbed = sum(
        m.friction_torque * abs(math.radians(run.member_turn[n][-1] - run.member_turn[n][0]))
        for n, m in linkage.members.items()
    )
    energy = stored(linkage, run)
    assert inner == pytest.approx(energy + rubbed, rel=1e-9)
    assert pressed - inner * (1.0 / 0.7 - 1.0) == pytest.approx(energy + rubbed, rel=1e-9)
    assert returned == pytest.approx(0.7 * (energy - rubbed), rel=1e-9)


def test_torque_at_each_shaft_is_the_slope_of_the_spring_energy() -> None:
    linkage = sprung(bell_crank(), *dressed("bell_crank").spring.values())  # no friction
    run = solve(linkage)
    at = run.at([40.0])
    step = 1e-3
    near = run.at([40.0 - step, 40.0 + step])
    gained = stored(linkage, near)
    for name, torque in report(at).shafts.items():
        opened = math.radians(near.plate_angle[name][1] - near.plate_angle[name][0])
        # central difference over 2e-3 degrees: exact to the square of the step, 1e-9 of the curve
        assert torque[0] == pytest.approx(gained / opened, rel=1e-7)


# --- a physics engine


def as_mujoco(linkage: Linkage) -> mujoco.MjModel:
    """Members on hinges, links as tendons of fixed length, springs the engine's own, a servo at the driver."""

    def row(values: Any) -> str:
        return " ".join(f"{v:.17g}" for v in values)

    bodies, tendons, ties = "", "", ""
    for name, member in linkage.members.items():
        wound = [s for s in linkage.spring.values() if s.on == name]
        rate = sum(math.degrees(s.rate) for s in wound)
        slack_at = -SIGN[linkage.shaft[name].opens] * sum(s.preload for s in wound) / rate if wound else 0.0
        sites = "".join(
            f'<site name="{name}.{arm}" pos="{row(drawn_pin(linkage, f"{name}.{arm}"))}"/>' for arm in member.arm
        )
        bodies += (
            f'<body pos="{row(member.pivot)}"><joint name="{name}" type="hinge" axis="{row(member.axis)}" '
            f'stiffness="{rate:.17g}" springref="{slack_at:.17g}" damping="3000"/>'
            f'<inertial pos="0 0 0" mass="1" diaginertia="100 100 100"/>{sites}</body>'
        )
    for name, link in linkage.link.items():
        tendons += f'<spatial name="{name}"><site site="{link.joins[0]}"/><site site="{link.joins[1]}"/></spatial>'
        ties += f'<tendon tendon1="{name}"/>'
    for name, spring in linkage.spring.items():
        if spring.pulls is None or spring.anchor is None or spring.free_length is None:
            continue
        bodies += f'<site name="anchor {name}" pos="{row(spring.anchor)}"/>'
        unloaded = spring.free_length - spring.initial_tension / spring.rate
        tendons += (
            f'<spatial name="spring {name}" stiffness="{spring.rate}" springlength="{unloaded:.17g}">'
            f'<site site="{spring.pulls}"/><site site="anchor {name}"/></spatial>'
        )
    return mujoco.MjModel.from_xml_string(
        '<mujoco><compiler angle="radian"/>'
        '<option gravity="0 0 0" timestep="0.001" integrator="implicitfast" tolerance="1e-14" iterations="200"/>'
        '<default><equality solref="0.002 1" solimp="0.9999 0.9999 0.001"/></default>'
        f"<worldbody>{bodies}</worldbody><tendon>{tendons}</tendon><equality>{ties}</equality>"
        f'<actuator><position joint="{linkage.driver}" kp="1e6" kv="1e4"/></actuator></mujoco>'
    )


@pytest.mark.parametrize("make", [bell_crank, skew])
def test_holding_torque_against_a_physics_engine(make: Any) -> None:
    """The engine comes to rest on its own springs; its links give by about 1e-7 of their length."""
    plain = make()
    first, other = list(plain.shaft)
    arm = f"{other}.drive"
    x, y, z = plain.shaft[other].pivot
    linkage = sprung(
        plain,
        torsion("wound", first, 120.0, 1.5),
        extension("long", arm, (x + 10.0, y + 80.0, z - 30.0), 40.0, 0.5, 4.0),
    )
    run = solve(linkage)
    model = as_mujoco(linkage)
    for share in (0.1, 0.5, 0.9):
        at, data = run.at_fraction(share), mujoco.MjData(model)
        for name in linkage.members:
            data.qpos[model.jnt_qposadr[model.joint(name).id]] = math.radians(at.member_turn[name][0])
        data.ctrl[0] = math.radians(at.turn[0])
        for _ in range(1500):
            mujoco.mj_step(model, data)
        assert np.max(np.abs(data.qvel)) < 1e-9
        rest = run.at(math.degrees(data.qpos[model.jnt_qposadr[model.joint(linkage.driver).id]]))
        ours = float(run.train.opens) * told.opening_torque(rest)[0]
        assert data.actuator_force[0] == pytest.approx(ours, rel=1e-6)


# --- buckling


def test_euler_load_against_a_beam_cut_into_pieces() -> None:
    # E I w'' = -P w, pinned: lowest eigenvalue of the second difference, whose error is (pi/n)^2 / 12 of it
    length, diameter, n = 180.0, 6.0, 100
    h = length / n
    second = (np.diag(np.full(n - 1, 2.0)) - np.diag(np.ones(n - 2), 1) - np.diag(np.ones(n - 2), -1)) / h**2
    stiffness = 207e3 * math.pi * diameter**4 / 64.0
    lowest = float(np.linalg.eigvalsh(second)[0]) * stiffness
    assert euler_load(length, diameter) == pytest.approx(lowest, rel=1.1 * (math.pi / n) ** 2 / 12.0)


def test_a_pushed_link_is_held_against_buckling_and_a_pulled_one_is_not() -> None:
    linkage = sprung(bell_crank(), torsion("l", "left", 100.0, 1.0), torsion("r", "right", 100.0, 1.0))
    thin = {name: dataclasses.replace(link, diameter=0.5) for name, link in linkage.link.items()}
    run = solve(dataclasses.replace(linkage, link=thin))
    found = report(run)
    pushed = {name for name, link in found.links.items() if np.min(link.force) < 0.0}
    assert pushed == {"left"}
    assert found.links["right"].buckling is None
    assert found.links["right"].compression == 0.0
    assert found.links["left"].buckling is not None
    assert found.links["left"].buckling * found.links["left"].compression == pytest.approx(
        euler_load(float(run.train.joints[0].length), 0.5), rel=1e-12
    )
    check = {check.name: check for check in told.checks(run, found)}["link_buckling"]
    assert check.verdict == ("fail" if found.links["left"].buckling < 1.0 else "caution")
    assert '"left"' in check.where


# --- checks


def verdicts(linkage: Linkage) -> dict[str, str]:
    run = solve(linkage)
    return {check.name: check.verdict for check in told.checks(run, forces(run))}


def test_return_force_fails_where_friction_holds_the_throttles() -> None:
    weak, strong = torsion("s", "a", 10.0, 1.0), torsion("s", "a", 40.0, 1.0)
    assert verdicts(one_shaft(weak, friction=15.0))["return_force"] == "fail"
    found = verdicts(one_shaft(strong, friction=15.0))
    assert (found["return_force"], found["return_ratio"]) == ("pass", "pass")
    found = verdicts(one_shaft(strong, friction=25.0))  # 40 over 25 at idle: 1.6
    assert (found["return_force"], found["return_ratio"]) == ("pass", "caution")
    stuck = report(solve(one_shaft(weak, friction=15.0)))
    assert not stuck.returns
    assert stuck.least_return.value == pytest.approx(-5.0)
    assert stuck.tension_closing is not None
    assert stuck.tension_closing[0] == 0.0  # not below nothing: a cable does not push


def test_pedal_effort_asks_for_care_when_stiff() -> None:
    # 30 mm and 3:1: 50 N at the pad are 4500 N mm
    assert verdicts(one_shaft(torsion("s", "a", 4400.0)))["pedal_effort"] == "pass"
    assert verdicts(one_shaft(torsion("s", "a", 4600.0)))["pedal_effort"] == "caution"


@pytest.mark.parametrize(
    ("anchor", "verdict", "word"),
    [
        # the pin runs from 0 to 78 deg about the pivot; it is shut by a pull from up to 180 deg behind it
        ((50.0, -90.0, 0.0), "pass", "keeps"),  # anchor at -61 deg
        ((-90.0, -50.0, 0.0), "fail", "beyond that"),  # at -151 deg: in line when the pin is at 29
        ((60.0, 60.0, 0.0), "fail", "up to there"),  # at 45 deg: the pin comes from the other side
        ((-20.0, 200.0, 0.0), "fail", "all the way"),  # at 96 deg: always ahead of the pin
        ((0.0, 0.0, 0.0), "fail", 'spring "s" is anchored on the pivot of the arm that it pulls'),
    ],
)
def test_a_spring_over_centre(anchor: Point, verdict: str, word: str) -> None:
    spring = extension("s", "a.hook", anchor, 5.0, 0.5, 2.0)
    run = solve(one_shaft(spring))
    check = {check.name: check for check in spring_checks.checks(run)}["spring_over_centre"]
    pin = [20.0 * np.array([math.cos(t), math.sin(t)]) for t in np.radians(np.linspace(0.0, 78.0, 1001))]
    sides = [p[1] * (anchor[0] - p[0]) - p[0] * (anchor[1] - p[1]) for p in pin]  # closing (cw) moment of the line
    crosses = min(sides) < 0.0 < max(sides)
    assert (verdict == "fail") == (min(sides) <= 0.0)
    assert crosses == (word in ("beyond that", "up to there"))
    assert check.verdict == verdict
    assert word in check.says


def test_a_slack_spring_and_a_falling_one_ask_for_care() -> None:
    # at idle 70.0 from the anchor (-50, 0), less further on
    slack = extension("s", "a.hook", (20.0, -60.0, 0.0), 70.0, 0.5, 2.0)
    found = {check.name: check for check in spring_checks.checks(solve(one_shaft(slack)))}
    assert found["spring_slack"].verdict == "caution"
    held = extension("s", "a.hook", (20.0, -60.0, 0.0), 40.0, 0.5, 2.0)
    found = {check.name: check for check in spring_checks.checks(solve(one_shaft(held)))}
    assert found["spring_slack"].verdict == "pass"
    assert spring_checks.checks(solve(one_shaft(torsion("t", "a", 0.0, 1.0))))[0].verdict == "caution"
    # straight down on an arm that rises: the lever arm falls with the cosine of the turn
    down = extension("s", "a.hook", (20.0, -5000.0, 0.0), 4000.0, 1e-6, 5.0)
    found = {check.name: check for check in spring_checks.checks(solve(one_shaft(down)))}
    assert found["spring_fall"].verdict == "caution"
    assert found["spring_fall"].value == pytest.approx(100.0 * (1.0 - math.cos(math.radians(78.0))), abs=0.5)
    rising = {check.name: check for check in spring_checks.checks(solve(one_shaft(torsion("t", "a", 50.0, 1.0))))}
    assert rising["spring_fall"].verdict == "pass"
    assert rising["spring_fall"].value == 0.0


# --- designs that have no force to tell


def test_no_springs_is_said_not_guessed() -> None:
    run = solve(bell_crank())
    assert forces(run) is None
    assert "[spring.NAME]" in told.lacks(run.rig)
    assert told.checks(run, None) == ()
    assert told.lacks(dressed("bell_crank")) == ""


def test_a_pull_that_shuts_has_no_tension() -> None:
    linkage = one_shaft(torsion("s", "a", 100.0, 1.0))
    assert linkage.cable is not None
    run = solve(dataclasses.replace(linkage, cable=dataclasses.replace(linkage.cable, pull_turns="cw")))
    found = report(run)
    assert found.tension is not None
    assert np.isnan(found.tension).all()
    assert found.shafts["a"].tolist() == report(solve(linkage)).shafts["a"].tolist()
    assert "pedal_effort" not in {check.name for check in told.checks(run, found)}


def test_a_travel_of_nothing_and_dead_centres_are_answered() -> None:
    still = one_shaft(torsion("s", "a", 100.0, 1.0))
    still = dataclasses.replace(still, stop={"shut": Stop("shut", "a", "opening", plate_angle=10.0)})
    found = report(solve(still))
    assert found.tension is not None
    assert found.tension.tolist() == pytest.approx([100.0 / 30.0] * 91)
    # the cable's arm comes into line with it at 30 degrees of turn: no tension opens beyond that
    linkage = rig(
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(pull=(30.0, 60.0))),
        cable=Cable(pulls="a.pull", casing_end=(0.0, 300.0, 0.0)), pedal=Pedal(2.0),
    )  # fmt: skip
    found = report(solve(sprung(linkage, torsion("s", "a", 100.0, 1.0), friction=5.0)))
    assert found.tension is not None
    turn = solve(linkage).turn
    assert np.isfinite(found.tension[turn < 29.9]).all()
    assert np.isnan(found.tension[turn > 30.1]).all()
    # a driving arm that passes its dead centre: the shaft stands still there, and the link takes no bound
    for angle in (150.0, 178.0, 182.0, 185.0):
        shaky = crossed_pair(angle, -51.0, other_wide_open=170.0)
        run = solve(sprung(shaky, torsion("s", "b", 100.0, 1.0), friction=5.0))
        told.checks(run, report(run))


def test_a_shaft_that_opens_the_wrong_way_is_told_so() -> None:
    linkage = sprung(bell_crank(), torsion("l", "left", 100.0, 1.0), torsion("r", "right", 100.0, 1.0))
    wrong = {**linkage.shaft, "right": dataclasses.replace(linkage.shaft["right"], opens="ccw")}
    run = solve(dataclasses.replace(linkage, shaft=wrong))
    told.checks(run, report(run))


def test_couplings_and_series_pass_their_load_on() -> None:
    # all the torque of the last shaft comes through the links before it
    run = solve(sprung(series(), torsion("last", "three", 200.0)), positions=3)
    found = report(run)
    assert np.all(np.abs(found.links["front"].force) > 1.0)
    # meshing sectors of ratio -1.05: 100 N mm on the twin are 105 on the front shaft, against its closing
    run = solve(sprung(coupled(), torsion("t", "twin", 100.0)), positions=3)
    assert report(run).shafts["front"] == pytest.approx(np.full(3, 105.0), rel=1e-12)
    assert report(run).shafts["rear"] == pytest.approx(np.full(3, 105.0), rel=1e-12)
    assert report(run).shafts["twin"] == pytest.approx(np.full(3, 100.0), rel=1e-12)


def test_friction_always_takes_from_the_return_and_adds_to_the_pull() -> None:
    smooth, rough = (report(solve(sprung(skew(), torsion("s", "near", 200.0, 1.0), friction=f))) for f in (0.0, 10.0))
    assert np.all(rough.opening > smooth.opening)
    assert np.all(rough.closing < smooth.closing)
    assert rough.opening + rough.closing == pytest.approx(smooth.opening + smooth.closing, rel=1e-12)


def test_the_springs_of_a_bell_crank_close_it() -> None:
    run = solve(sprung(bell_crank(), torsion("s", "centre", 90.0, 1.0)), positions=5)
    found = report(run)
    opened = float(run.train.opens) * run.turn
    assert found.closing == pytest.approx(90.0 + opened, rel=1e-12)
