"""Rocking: what is immune and why, what is opened at idle, and what the checks say and mend."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from rocked import Rocked, on_the_body, plates, roll_axis
from trains import arms, bell_crank, coupled, crank, crossed_pair, parallel_pair, rig, series, shaft, with_stop

import linkage
from linkage.answers.rocking import RockingReport, checks, lacks, rocking
from linkage.motion import Motion, solve
from linkage.parts import Cable, Link, Linkage, ProfilePoint, Rocking, Stop, dimensions

DEMO = Path(__file__).parents[1] / "demo"
ROLL = roll_axis(30.0, -250.0, 40.0, degrees=0.5)


def told(run: Motion) -> RockingReport:
    report = rocking(run)
    assert report is not None
    return report


def rod(angle: float = 90.0, *, degrees: float = 1.0, below: float = 450.0) -> Linkage:
    """A level rod of 250 mm from a lever of 30 mm on the body to one on the engine, the axis below its pins."""
    pair = rig(
        crank("body", (250.0, 0.0, 0.0), arms(out=(30.0, angle))),
        shaft("a", (0.0, 0.0, 0.0), "cw", arms(drive=(30.0, angle)), idle=10.0, wide_open=60.0),
        Link("rod", ("body.out", "a.drive")),
        drive="body",
    )
    high = 30.0 * math.sin(math.radians(angle))
    return on_the_body(pair, "body", roll=Rocking((0.0, high - below, 0.0), degrees=degrees))


def test_a_rod_from_the_body_opens_the_throttle_by_hand() -> None:
    """The far lever goes 450 sin 1 to the right and a little down; where does the rod's 250 mm put the near pin?"""
    report = told(solve(rod()))
    turn = math.radians(1.0)
    # the far pin's place, turned back about (0, -420) with all the body
    x, y = 250.0 * math.cos(turn) + 450.0 * math.sin(turn), 450.0 * math.cos(turn) - 250.0 * math.sin(turn) - 420.0
    d = math.hypot(x, y)
    near = math.atan2(y, x) + math.acos((d * d + 30.0**2 - 250.0**2) / (2.0 * d * 30.0))
    assert report.lifts[0]["a"] == pytest.approx(90.0 - math.degrees(near), abs=1e-8)
    assert report.lifts[0]["a"] > 10.0
    assert report.lift == ("a", report.lifts[0]["a"])
    assert report.lifts[1]["a"] == pytest.approx(0.0, abs=1e-9)  # rolled the other way the lever stands on its stop


def test_a_link_square_to_the_motion_is_immune_to_first_order_alone() -> None:
    """The axis of the roll level with the rod's end on the body: that end goes straight up and down."""
    level = dataclasses.replace(rod(degrees=2.0), rocking=Rocking((-100.0, 30.0, 0.0), degrees=2.0))
    run = solve(level)
    report = told(run.at([0.0]))
    (bridge,) = report.bridges
    assert bridge.angle[0] == pytest.approx(90.0, abs=1e-9)
    assert bridge.motion[0] == pytest.approx(350.0 * math.pi / 180.0, rel=1e-12)
    assert report.rate["a"][0] == pytest.approx(0.0, abs=1e-12)
    # what is left is of the second order in the roll: a quarter of it at half the roll
    halved = dataclasses.replace(level, rocking=Rocking((-100.0, 30.0, 0.0), degrees=1.0))
    whole, half = (told(solve(r).at([0.0])).moved[0]["a"][0] for r in (level, halved))
    assert whole / half == pytest.approx(4.0, abs=0.2)
    assert abs(whole) > 0.05


@pytest.mark.parametrize(
    ("crank_there", "casing", "says"),
    [(False, False, "the casing ends on the engine"), (True, True, None), (True, False, None), (False, True, None)],
)
def test_a_casing_that_ends_on_the_engine_beside_its_crank_is_immune(
    crank_there: bool, casing: bool, says: str | None
) -> None:
    run = solve(on_the_body(bell_crank(), *(("centre",) if crank_there else ()), casing=casing, roll=ROLL))
    report = told(run)
    assert report.immune == (says is not None)
    if says is None:
        assert abs(report.largest[report.most].value) > 0.1
        return
    assert says in report.why
    assert report.bridges == ()
    assert all(np.max(np.abs(moved)) < 1e-9 for side in report.moved for moved in side.values())
    assert [check.verdict for check in checks(run, report)] == ["pass", "pass"]
    assert report.why in checks(run, report)[1].says


def test_all_on_the_body_from_crank_to_casing_still_crosses_at_the_links() -> None:
    report = told(solve(on_the_body(bell_crank(), "centre", casing=True, roll=ROLL)))
    assert [bridge.name for bridge in report.bridges] == ['link "left"', 'link "right"']
    alone = told(solve(on_the_body(bell_crank(), casing=True, roll=ROLL)))
    assert [bridge.name for bridge in alone.bridges] == ["the cable"]
    assert alone.bridges[0].on_body == "the casing end"


@pytest.mark.parametrize("free_play", [0.0, 0.4, 5.0])
def test_free_play_gives_way_before_a_plate_is_opened(free_play: float) -> None:
    """The casing end on the body pulls the cable: a root finds where it is taut with its slack let out."""
    pulled = on_the_body(bell_crank(), casing=True, roll=ROLL).replace("cable.free_play", free_play)
    run = solve(pulled)
    report = told(run)
    still = Rocked(pulled, 0.0)
    lengths = {name: math.dist(*(still.pin(end, 0.0) for end in link.joins)) for name, link in pulled.link.items()}
    for i, degrees in enumerate((0.5, -0.5)):
        nought = dict.fromkeys(pulled.members, 0.0)
        taut = Rocked(pulled, degrees).turns(lengths, still.cable(0.0) + free_play, nought)
        opened = math.degrees(taut["left"])  # opens ccw
        assert report.lifts[i]["left"] == pytest.approx(max(opened, 0.0), abs=1e-8)
    assert (report.lift[1] > 1e-6) == (free_play < 5.0)


def test_mirrored_links_part_the_plates() -> None:
    """The two links of a crank on the body lead to either side: one opens as the other shuts."""
    run = solve(on_the_body(bell_crank(), "centre", casing=True, roll=ROLL))
    report = told(run)
    grown = 0.0
    for turn in np.linspace(*run.ends, 41):
        at = run.at(turn)
        turns = {name: math.radians(float(t[0])) for name, t in at.member_turn.items()}
        before = [float(angle[0]) for angle in at.plate_angle.values()]
        for degrees in (0.5, -0.5):
            after = plates(run.rig, degrees, turns).values()
            grown = max(grown, max(after) - min(after) - max(before) + min(before))
    assert report.mismatch_moved.value == pytest.approx(grown, abs=2e-3)
    assert report.mismatch_moved.value >= grown - 1e-9


def test_the_largest_is_of_the_curve() -> None:
    run = solve(on_the_body(bell_crank(), "centre", roll=ROLL), positions=3)
    report = told(run)
    fine = told(run.at(np.linspace(*run.ends, 1001)))
    for name, at in report.largest.items():
        most = max(float(np.max(np.abs(side[name]))) for side in fine.moved)
        assert abs(at.value) >= most - 1e-9
        assert abs(at.value) == pytest.approx(most, rel=1e-5)


def test_what_lacks_is_said() -> None:
    assert "[rocking]" in lacks(bell_crank())
    assert rocking(solve(bell_crank())) is None
    assert checks(solve(bell_crank()), None) == ()
    far = on_the_body(coupled(), casing=True)
    assert "casing_end" in lacks(far)
    assert rocking(solve(far)) is None
    points = {"1": ProfilePoint("1", 0.0, 30.0), "2": ProfilePoint("2", 80.0, 25.0)}
    snail = Cable(quadrant="one", pull_turns="ccw", profile=points, casing_end=(-90.0, 40.0, 0.0), mounted="body")
    assert "snail" in lacks(dataclasses.replace(series(), cable=snail, rocking=ROLL))


def test_without_a_cable_what_turns_the_driver_rides_with_it() -> None:
    for make in (crossed_pair, parallel_pair):
        report = told(solve(dataclasses.replace(make(), rocking=ROLL)))
        assert report.immune
        assert "rides with it" in report.why


def test_a_roll_that_the_rod_does_not_reach_fails_and_names_it() -> None:
    run = solve(rod(degrees=4.0))
    report = told(run)
    assert 'link "rod"' in report.jams
    travel, *_ = checks(run, report)
    assert (travel.name, travel.verdict) == ("rocking_in_travel", "fail")
    assert "mount" in travel.says


def test_a_stop_on_the_body_rides_with_its_crank() -> None:
    """A closing stop of the crank holds it in the frame of the body, and the plate goes with it."""
    held = with_stop(rod(), Stop("crank", "body", "closing", turn=0.0))
    report = told(solve(held))
    opened, shut = report.lifts[0]["a"], report.lifts[1]["a"]
    assert opened > 10.0
    assert shut == pytest.approx(0.0, abs=1e-8)  # the shaft's own stop holds it open against the crank's


def test_the_checks_say_what_mends_it() -> None:
    run = solve(linkage.read(DEMO / "body_mounted.toml"))
    idle = {check.name: check for check in checks(run, told(run))}["rocking_at_idle"]
    assert idle.verdict == "fail"
    assert 'mount "scuttle" on the engine and end the casing on the engine' in idle.says
    mended = run.rig.replace("bellcrank.scuttle.mounted", "engine").replace("cable.mounted", "engine")
    after = solve(mended)
    assert [check.verdict for check in checks(after, told(after))] == ["pass", "pass"]
    small = solve(run.rig.replace("rocking.degrees", 0.01).replace("cable.free_play", 0.0))
    verdicts = {check.name: check.verdict for check in checks(small, told(small))}
    assert verdicts == {"rocking_at_idle": "caution", "rocking_in_travel": "pass"}


def test_its_numbers_are_dimensions_like_any_other() -> None:
    changed = rod().replace("rocking.axis.y", -300.0).replace("rocking.degrees", "0.5 deg")
    assert dimensions(changed)["rocking.axis.y"] == -300.0
    assert told(solve(changed)).degrees == 0.5
