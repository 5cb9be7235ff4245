"""Stops: which holds, and what the others have left, by arithmetic on the plate angles."""

import numpy as np
import pytest
import trains

from linkage import solve
from linkage.answers.stops import stops
from linkage.parts import Screw, Stop


def test_gaps_are_what_the_plates_lack():
    rig = trains.bell_crank()
    run = solve(rig, positions=2)
    found = stops(run)
    end = {name: angle[-1] for name, angle in run.plate_angle.items()}
    assert found.closing.holds == "left.idle"
    assert found.closing.gaps == {"right.idle": 0.0}
    holds = found.opening.holds
    assert holds in ("left.wide_open", "right.wide_open")
    other = "right" if holds == "left.wide_open" else "left"
    assert found.opening.gaps[f"{other}.wide_open"] == pytest.approx(88.0 - end[other], abs=1e-9)
    assert found.opening.turn == run.turn[-1]
    assert found.opening.cable == pytest.approx(run.cable[-1], abs=1e-12)


def test_hand_set_links_leave_a_gap_at_idle():
    run = solve(trains.hand_set(), positions=2)
    found = stops(run)
    start = {name: angle[0] - 10.0 for name, angle in run.plate_angle.items()}
    held = found.closing.holds.partition(".")[0]
    assert start[held] == pytest.approx(0.0, abs=1e-9)
    assert min(start.values()) > -1e-9, "no shaft goes below its own idle stop"
    for name, gap in found.closing.gaps.items():
        assert gap == pytest.approx(start[name.partition(".")[0]], abs=1e-9)


def test_a_crank_stop_holds_and_its_screw_counts_turns():
    screw = Screw(radius=20.0, pitch=0.8)
    rig = trains.bell_crank()
    free = solve(rig).turn[-1]
    turn = 0.9 * free
    stopped = trains.with_stop(rig, Stop("crank", "centre", "opening", turn=turn, screw=screw))
    found = stops(solve(stopped))
    assert found.opening.holds == "crank"
    assert found.opening.turn == pytest.approx(turn, abs=1e-9)
    assert found.opening.screws["crank"].turns == pytest.approx(0.0, abs=1e-9)
    late = trains.with_stop(rig, Stop("crank", "centre", "opening", turn=free + np.sign(free) * 3.0, screw=screw))
    found = stops(solve(late))
    assert found.opening.gaps["crank"] == pytest.approx(3.0, abs=1e-9)
    distance = np.radians(3.0) * 20.0
    assert found.opening.screws["crank"].distance == pytest.approx(distance, abs=1e-9)
    assert found.opening.screws["crank"].turns == pytest.approx(distance / 0.8, abs=1e-9)


def test_a_shaft_stop_by_plate_angle():
    rig = trains.with_stop(trains.bell_crank(), Stop("early", "right", "opening", plate_angle=60.0))
    run = solve(rig)
    assert stops(run).opening.holds == "early"
    assert run.plate_angle["right"][-1] == pytest.approx(60.0, abs=1e-9)
