"""Staging: the pick-up's figures by other routes, and every answer that a slack joint touches."""

from __future__ import annotations

import dataclasses
import functools
import itertools
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from slotted import STAGED, SpringShut, in_series, staged, tang
from sprung import sprung, torsion

import linkage
from linkage.answers import Answer, check, extremes, forces, springs
from linkage.answers.dimension_errors import built_dimensions
from linkage.answers.faults import faults
from linkage.answers.lost_motion import lost_motion
from linkage.answers.mismatch import mismatch
from linkage.answers.sensitivities import sensitivities
from linkage.answers.staging import flutter, staging
from linkage.answers.trials import built
from linkage.motion import Motion, assemble, find_travel, solve
from linkage.paper.approval import plain_words
from linkage.paper.bench import bench_sheet
from linkage.paper.document import document
from linkage.paper.explain import explain
from linkage.paper.numerals import Numerals
from linkage.paper.report import report
from linkage.paper.sheet import text
from linkage.paper.stage import with_kinks
from linkage.parts import Coupling, Linkage, Play
from linkage.plots.views import pins, slots
from linkage.widgets.shown import worked_out


def words(found: Answer, name: str) -> tuple[str, str]:
    check_ = next(c for c in found.checks if c.name == name)
    return check_.verdict, check_.says


def on(linkage: Linkage, friction: float = 0.0, **preload: float) -> Linkage:
    """The linkage with a torsion spring on each named shaft, of constant torque, and friction everywhere."""
    return sprung(linkage, *(torsion(f"on_{name}", name, p, 1.0) for name, p in preload.items()), friction=friction)


# ---- figures ------------------------------------------------------------------------------------


def test_the_pick_up_by_root_finding() -> None:
    """Where the staged plate first leaves its stop, found without the motion."""
    linkage = staged()
    found = staging(solve(linkage))
    assert found is not None
    (at,) = found.pick_ups
    other = SpringShut(linkage)
    low, high = 0.0, 79.0
    while high - low > 1e-10:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if other.at(middle)["second"] == 0.0 else (low, middle)
    assert at.turn == pytest.approx(low, abs=1e-9)
    assert at.plate_angle == pytest.approx(9.0 + low, abs=1e-9)
    assert at.opening == pytest.approx(low / 79.0, abs=1e-9)

    # a pin 40 mm out at -130 degrees, the casing end at (150, -40): cable taken, by hand
    def run_of(turn: float) -> float:
        angle = math.radians(-130.0 + turn)
        return math.hypot(150.0 - 40.0 * math.cos(angle), -40.0 - 40.0 * math.sin(angle))

    assert at.fraction == pytest.approx((run_of(0.0) - run_of(low)) / (run_of(0.0) - run_of(79.0)), abs=1e-10)
    step = 1e-5
    rise = (other.at(low + 2 * step)["second"] - other.at(low + step)["second"]) / step
    assert at.ratio == pytest.approx(rise, rel=1e-4)
    assert at.gain == pytest.approx(rise / ((run_of(low) - run_of(low + step)) / step), rel=1e-4)
    assert at.end_gain > at.gain
    assert found.apart_at_wide_open == pytest.approx(79.0 - other.at(79.0)["second"], abs=1e-9)


def test_two_thirds_makes_three_to_one() -> None:
    """Linear stages that end together: picked up at 2/3, the second runs at 1 / (1 - 2/3)."""
    found = check(tang(gap=2.0 * 79.0, ratio=3.0))
    assert found.staging is not None
    (at,) = found.staging.pick_ups
    assert (at.fraction, at.opening) == pytest.approx((2.0 / 3.0, 2.0 / 3.0), abs=1e-12)
    assert at.ratio == pytest.approx(3.0, abs=1e-12)
    assert found.staging.apart_at_wide_open == pytest.approx(0.0, abs=1e-9)
    assert words(found, "staging_gain")[0] == "pass"
    assert words(check(tang(gap=3.0 * 79.0 / 2.0, ratio=4.0)), "staging_gain")[0] == "caution"


def test_staged_shafts_are_no_mismatch() -> None:
    run = solve(in_series())
    assert mismatch(run).largest.value == 0.0
    found = check(run)
    assert not [c for c in found.checks if c.name.startswith("mismatch")]
    assert [stage.shafts for stage in found.staging.stages] == [("one",), ("two",), ("three",)]  # type: ignore[union-attr]


def test_shafts_of_one_stage_are_compared() -> None:
    """Two more shafts on the staged one, one of them 1.5 degrees ahead by its coupling."""
    base = staged()
    twin = dataclasses.replace(base.shaft["second"], name="twin", pivot=(200.0, 0.0, 60.0), arm={})
    linkage = dataclasses.replace(
        base, shaft={**base.shaft, "twin": twin}, coupling={"sync": Coupling("sync", ("second", "twin"), 1.02)}
    )
    found = check(linkage)
    stage = found.staging.stages[1]  # type: ignore[union-attr]
    end = found.run.at(found.run.ends[1]).plate_angle
    assert stage.shafts == ("second", "twin")
    assert stage.at_wide_open is not None
    assert stage.at_wide_open.value == pytest.approx(0.02 * (end["second"][0] - 9.0), abs=1e-9)
    assert words(found, "staging_mismatch")[0] == ("fail" if stage.mismatch.value > 0.75 else "pass")  # type: ignore[union-attr]


def test_never_picked_up_fails_in_words() -> None:
    verdict, says = words(check(staged(80.0)), "staging_pick_up")
    assert verdict == "fail"
    assert "never taken up" in says
    assert words(check(tang(170.0)), "staging_pick_up")[0] == "fail"
    assert words(check(staged(3.0).replace("link.stage.length", 180.0)), "staging_pick_up")[0] == "caution"


def test_extremes_and_means_keep_their_digits_at_a_kink() -> None:
    """The highest of a curve that peaks at the kink, and the lowest of one that jumps there."""
    run = solve(staged())
    (kink,) = run.kinks

    def lead(at: Motion) -> Any:  # rises until the pick-up, falls after: its top is the kink
        return at.plate_angle["first"] - at.plate_angle["second"]

    top = extremes.highest(run, lead)
    assert top.turn == pytest.approx(kink, abs=1e-9)
    assert top.value == pytest.approx(kink, abs=1e-9)
    speed = extremes.lowest(run, lambda at: np.where(at.speed["second"] > 0.0, at.speed["second"], np.nan))
    fine = run.at(kink + np.linspace(1e-9, run.ends[1] - kink, 20001)).speed["second"]
    assert speed.value <= np.min(fine) + 1e-9


def test_rms_over_kinks_by_quadrature() -> None:
    """Two shafts of the first stage, both beyond one slot."""
    base = staged()
    twin = dataclasses.replace(base.shaft["second"], name="twin", pivot=(200.0, 0.0, 60.0), arm={})
    coupling = {"sync": Coupling("sync", ("second", "twin"), 1.05)}
    shafts = {"second": base.shaft["second"], "twin": twin, "first": base.shaft["first"]}
    run = solve(dataclasses.replace(base, shaft=shafts, coupling=coupling, drive=None))

    def square(turn: float) -> float:
        at = run.at(turn)
        return float((at.plate_angle["twin"][0] - at.plate_angle["second"][0]) ** 2 * abs(at.cable_arm[0]))  # type: ignore[index]

    pieces = list(itertools.pairwise((run.ends[0], *run.kinks, run.ends[1])))
    whole = sum(quad(square, a, b, epsabs=1e-12)[0] for a, b in pieces)
    share = sum(quad(lambda t: abs(float(run.at(t).cable_arm[0])), a, b)[0] for a, b in pieces)  # type: ignore[index]
    assert mismatch(run).rms == pytest.approx(math.sqrt(whole / share), abs=1e-9)


# ---- forces -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["pulled", "pushed", "tang", "sectors", "by_crank", "in_series", "three_deep"])
def test_the_work_at_the_driver_is_what_the_springs_take(name: str) -> None:
    """Energy: without friction the torque over the driver's turn is the springs' energy, kinks and all."""
    linkage = STAGED[name]()
    run = solve(on(linkage, **dict.fromkeys(linkage.shaft, 100.0)))

    def torque(turn: float) -> float:
        return float(forces.opening_torque(run.at(turn))[0])

    pieces = [(a, b) for a, b in run.pieces()]
    work = sum(quad(torque, a, b, epsabs=1e-8)[0] for a, b in pieces) * math.pi / 180.0 * float(run.train.opens)
    stored = 0.0
    for shaft, part in run.rig.shaft.items():
        first, last = (run.at(end).plate_angle[shaft][0] - part.plate_angle.idle for end in run.ends)
        stored += math.radians(100.0 * (last - first) + 0.5 * (last**2 - first**2))
    assert work == pytest.approx(stored, rel=1e-9)


def test_nothing_is_carried_before_the_pick_up() -> None:
    run = solve(on(staged(), first=100.0, second=300.0, friction=7.0))
    found = forces.forces(run)
    assert found is not None
    before = run.turn < run.kinks[0]
    assert np.all(found.links["stage"].force[before] == 0.0)
    assert np.all(found.links["stage"].force[~before] > 0.0)  # it pulls
    # the driver feels its own spring and friction alone
    np.testing.assert_allclose(found.opening[before], 107.0 + run.turn[before], rtol=1e-12)
    np.testing.assert_allclose(found.shafts["second"][before], 293.0, rtol=1e-12)
    # the resting shaft, and then the moving one, closes by its own spring alone
    opened = run.plate_angle["second"] - 9.0
    np.testing.assert_allclose(found.shafts["second"], 293.0 + opened, rtol=1e-12)


def test_link_and_driver_against_free_bodies() -> None:
    """Torques about each pivot from the link's pull along the line between its pins."""
    run = solve(on(staged(), first=100.0, second=300.0), positions=31)
    found = forces.forces(run)
    assert found is not None
    other = SpringShut(run.rig)
    for i, turn in enumerate(run.turn):
        if turn <= run.kinks[0]:
            continue
        there = other.at(float(turn))
        p = other.pin("first.out", math.radians(turn))
        q = other.pin("second.to", math.radians(there["second"]))
        line = (p - q) / np.linalg.norm(p - q)
        out = q - np.array([200.0, 0.0, 0.0])
        pull = (300.0 + there["second"]) / (out[0] * line[1] - out[1] * line[0])
        assert found.links["stage"].force[i] == pytest.approx(pull, rel=1e-9)
        at_driver = 100.0 + turn + pull * (p[0] * line[1] - p[1] * line[0])
        assert found.opening[i] == pytest.approx(at_driver, rel=1e-9)


def test_a_spring_that_holds_open_does_not_pull_the_driver() -> None:
    """What hangs parts from the tang: the driver keeps its own spring."""
    run = solve(on(tang(), first=100.0, second=1.0, friction=90.0))
    np.testing.assert_allclose(forces.closing_torque(run), 10.0 + run.turn, rtol=1e-12)
    assert np.min(forces.shaft_torque(run, "second")) < 0.0


def closes(linkage: Linkage, lost: str) -> dict[str, bool]:
    found = faults(solve(linkage))
    assert found is not None
    return {name: at.closes for name, at in next(c for c in found.cases if c.lost == lost).shafts.items()}


def test_a_tang_pulls_nothing_shut_and_a_slot_does() -> None:
    springs_ = {"first": 200.0, "second": 200.0}
    assert closes(on(tang(), friction=5.0, **springs_), "spring.on_second") == {"first": True, "second": False}
    assert closes(on(staged(), friction=5.0, **springs_), "spring.on_second") == {"first": True, "second": True}
    # the driver's own spring away: the staged one cannot bring it back, before the pick-up nothing touches it
    assert closes(on(tang(), friction=5.0, **springs_), "spring.on_first") == {"first": False, "second": True}
    assert closes(on(staged(), friction=5.0, **springs_), "spring.on_first") == {"first": False, "second": True}
    # friction beyond what the first's spring can push
    stuck = on(staged(), friction=5.0, first=20.0, second=200.0)
    stuck = dataclasses.replace(
        stuck, shaft={**stuck.shaft, "second": dataclasses.replace(stuck.shaft["second"], friction_torque=150.0)}
    )
    assert closes(stuck, "nothing") == {"first": True, "second": True}
    assert closes(stuck, "spring.on_second") == {"first": False, "second": False}
    # parted, each side by itself
    assert closes(on(staged(), friction=5.0, **springs_), "link.stage") == {"first": True, "second": True}
    assert closes(on(tang(), friction=5.0, first=200.0), "coupling.pick_up") == {"first": True, "second": False}


def test_the_sources_of_a_staged_shaft() -> None:
    by_tang = faults(solve(on(tang(), first=100.0, second=100.0)))
    by_slot = faults(solve(on(staged(), first=100.0, second=100.0)))
    assert by_tang is not None
    assert by_slot is not None
    assert by_tang.sources == {"first": ("on_first",), "second": ("on_second",)}
    assert by_slot.sources == {"first": ("on_first",), "second": ("on_first", "on_second")}
    assert by_tang.alone == ()
    assert by_slot.alone == ("on_first",)


def test_the_least_torque_of_a_shaft_pushed_shut_by_free_bodies() -> None:
    """The closing end of the slot is the plain link as drawn."""
    linkage = on(staged(), friction=5.0, first=200.0, second=200.0)
    found = faults(solve(linkage))
    assert found is not None
    at = next(c for c in found.cases if c.lost == "spring.on_second").shafts["second"]
    plain = dataclasses.replace(linkage, link={"stage": dataclasses.replace(linkage.link["stage"], slot=None)})
    run = springs.throughout(solve(plain))
    ratio = run.speed["second"]
    assert at.least_torque == pytest.approx(float(np.min((200.0 + run.turn - 5.0 - 5.0 * ratio) / ratio)), rel=1e-9)


def test_flutter_says_what_holds_it_shut() -> None:
    assert words(check(on(staged(), first=100.0, second=100.0)), "staging_closing")[0] == "pass"
    verdict, says = words(check(on(staged(), first=100.0)), "staging_closing")
    assert verdict == "caution"
    assert "flutters within its slot" in says
    # by root finding: how far the second can open before the slot's closing end stops it
    linkage = staged()
    run, other = solve(linkage), SpringShut(linkage)
    joint, made = run.train.joints[0], float(run.train.joints[0].length)
    turn = 10.0
    p = other.pin("first.out", math.radians(turn))
    openings = np.linspace(0.0, 79.0, 79001)
    apart = np.array([np.linalg.norm(p - other.pin("second.to", math.radians(o))) for o in openings])
    stops = openings[np.argmax(apart < made)]
    assert flutter(run.at(turn), joint, "second")[0] == pytest.approx(stops, abs=2e-3)
    assert flutter(solve(tang()).at(10.0), solve(tang()).train.joints[0], "second")[0] == pytest.approx(79.0)


# ---- what moves it off the drawing ----------------------------------------------------------------


@pytest.mark.parametrize("name", ["pulled", "pushed", "tang", "tang_turned", "by_crank", "in_series", "given_length"])
def test_sensitivities_by_differences(name: str) -> None:
    linkage = STAGED[name]()
    if name == "in_series":  # room at the closing end of the second slot: as drawn two stops hold together there
        linkage = linkage.replace("link.b.length", float(assemble(linkage).joints[1].length) - 1.0)
    run = solve(linkage, positions=9)
    listed = tuple(d for d in built_dimensions(run.train) if d.kind != "pin")
    found = sensitivities(run)
    rows = {d.path: i for i, d in enumerate(found.dimensions)}
    h = 1e-5
    for i, dimension in enumerate(listed):
        turned, taken = [], []
        for sign in (1.0, -1.0):
            wrong = [sign * h if j == i else 0.0 for j in range(len(listed))]
            train = assemble(run.rig, built(run, listed, wrong))
            other = dataclasses.replace(run, train=train, travel=find_travel(train))
            turned.append({n: other.at(run.turn).plate_angle[n] for n in run.rig.shaft})
            taken.append(other.pick_up)
        row = rows[dimension.path]
        for shaft in run.rig.shaft:
            slope = (turned[0][shaft] - turned[1][shaft]) / (2.0 * h)
            np.testing.assert_allclose(
                found.plate_angle[shaft][row], slope, rtol=1e-5, atol=1e-6, err_msg=dimension.path
            )
        for joint, at in found.pick_ups.items():
            slope = (taken[0][joint] - taken[1][joint]) / (2.0 * h)
            assert at[row] == pytest.approx(slope, rel=1e-5, abs=1e-6), (dimension.path, joint)


def test_a_slot_moves_the_pick_up_by_its_length() -> None:
    """Of a tang at ratio 1.5: a degree more gap is two thirds of a degree of the driver later, a degree less open."""
    run = solve(tang(30.0, 1.5), positions=3)
    found = sensitivities(run.at([10.0, 40.0]))
    row = [d.path for d in found.dimensions].index("coupling.pick_up.gap")
    np.testing.assert_allclose(found.plate_angle["second"][row], [0.0, -1.0], atol=1e-12)
    assert found.pick_ups["coupling.pick_up"][row] == pytest.approx(1.0 / 1.5, abs=1e-9)


def test_lost_motion_leaves_the_slot_out() -> None:
    linkage = dataclasses.replace(staged(), play=Play(pin=0.05))
    found = lost_motion(solve(linkage, positions=41))
    assert found is not None
    assert found.at_idle["second"] == 0.0
    run = solve(linkage, positions=41)
    assert np.all(found.curve["second"][run.turn <= run.kinks[0]] == 0.0)
    borne = run.turn > run.kinks[0]
    # 0.1 mm over the link's moment arm about the second shaft, by free bodies
    other = SpringShut(linkage)
    for turn, rock in zip(run.turn[borne], found.curve["second"][borne], strict=True):
        p = other.pin("first.out", math.radians(turn))
        q = other.pin("second.to", math.radians(other.at(float(turn))["second"]))
        line, out = (p - q) / np.linalg.norm(p - q), q - np.array([200.0, 0.0, 0.0])
        assert rock == pytest.approx(math.degrees(0.1 / abs(out[0] * line[1] - out[1] * line[0])), rel=1e-9)


def test_every_staged_example_answers() -> None:
    for name, make in STAGED.items():
        found = check(on(make(), 3.0, **dict.fromkeys(make().shaft, 120.0)))
        assert found.staging is not None, name
        assert str(found.run)


# ---- on paper -----------------------------------------------------------------------------------


@functools.cache
def demo(name: str) -> Answer:
    return check(linkage.read(Path(__file__).parents[1] / "demo" / f"{name}.toml"))


def test_the_demo_is_staged_as_its_file_says() -> None:
    """After 37.6 mm of slot, three times as fast, together at wide open: by the pins."""
    found = demo("staged")
    assert found.staging is not None
    (at,) = found.staging.pick_ups

    def apart(middle: float, rear: float) -> float:
        one, two = (math.radians(v) for v in (35.0 + middle, 40.0 + rear))
        return math.hypot(
            50.0 * math.cos(one) - 180.0 - 20.0 * math.cos(two), 50.0 * math.sin(one) - 20.0 * math.sin(two)
        )

    assert apart(at.turn, 0.0) - apart(0.0, 0.0) == pytest.approx(37.6, abs=1e-9)
    assert apart(at.turn + 1e-4, at.ratio * 1e-4) == pytest.approx(apart(at.turn, 0.0), abs=1e-7)
    assert at.opening == pytest.approx(0.61, abs=0.005)
    assert at.ratio == pytest.approx(3.2, abs=0.02)
    assert found.staging.apart_at_wide_open < 0.5
    assert found.verdict == "pass"


def test_the_report_and_the_document_tell_it() -> None:
    found = demo("staged")
    says = report(found)
    assert "STAGING" in says
    assert "MISMATCH BETWEEN" not in says
    told = document(found)["staging"]
    assert told["pick_ups"]["link.stage"]["fraction"] == pytest.approx(found.staging.pick_ups[0].fraction)  # type: ignore[union-attr]
    assert [stage["shafts"] for stage in told["stages"]] == [["middle"], ["rear", "front"]]
    assert "staging" not in document(
        check(linkage.read(Path(__file__).parents[1] / "demo" / "flat_six.toml"), trials=10)
    )


def test_every_check_of_a_staged_linkage_is_explained() -> None:
    for name in ("staged", "tang"):
        for one in demo(name).checks:
            worked = explain(demo(name), one.name)
            if one.value is not None:
                assert worked.found == pytest.approx(one.value, rel=1e-6, abs=1e-6), (name, one.name)


def test_the_picture_marks_every_pick_up() -> None:
    run = demo("staged").run
    ax = linkage.plots.staging(run, against="fraction")
    (mark,) = [line for line in ax.lines if line.get_gid() == "staging.link.stage.first"]
    assert mark.get_xdata()[0] == pytest.approx(100.0 * demo("staged").staging.pick_ups[0].fraction)  # type: ignore[union-attr]
    words = [text.get_text() for text in linkage.plots.staging(solve(staged(None))).texts]
    assert any("move together" in said for said in words)


def test_what_moves_is_shown_on_its_kink() -> None:
    """The page's and film's samples, the bench's positions: none of them draws straight past the pick-up."""
    run = demo("staged").run
    fraction = demo("staged").staging.pick_ups[0].fraction  # type: ignore[union-attr]
    shares = with_kinks(run, np.linspace(0.0, 1.0, 101))
    assert np.min(np.abs(shares - fraction)) < 1e-12
    assert (shares[0], shares[-1], len(shares)) == (0.0, 1.0, 101)
    assert np.all(np.diff(shares) > 0.0)
    shown = worked_out(run.rig)
    assert shown.run is not None
    assert np.min(np.abs(shown.run.fraction - fraction)) < 1e-12
    drawn = shown.drawn()
    assert drawn is not None
    assert set(drawn["slots"]) == {"stage"}
    assert len(drawn["opening"]["rear"]) == len(drawn["fraction"])


def test_the_slot_is_drawn_where_the_pin_runs() -> None:
    run = solve(staged(), positions=7)
    ends, place = slots(run)["stage"], pins(run)["second.to"]
    long = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=-1)
    np.testing.assert_allclose(long, 15.0, rtol=0, atol=1e-9)
    inside = np.linalg.norm(ends - place[:, None], axis=-1).sum(axis=1)
    np.testing.assert_allclose(inside, 15.0, rtol=0, atol=1e-9)  # the pin stands between them
    np.testing.assert_allclose(ends[0, 0], place[0], rtol=0, atol=1e-9)  # at idle at the end that closes
    np.testing.assert_allclose(ends[-1, 1], place[-1], rtol=0, atol=1e-9)


def test_the_bench_sheet_says_what_to_cut_and_set() -> None:
    says = " ".join(text(bench_sheet(demo("staged"))).split())
    assert "slotted at the end of" in says
    assert "37.60 mm" in says
    assert "must stay at idle" in says
    assert "set 6.00 degrees" in " ".join(text(bench_sheet(demo("tang"))).split())
    assert "Throttles rear and front come in at 59 % of the travel" in " ".join(
        plain_words(demo("staged"), Numerals("mm"))
    )
