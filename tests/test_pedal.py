"""The pedal's answer: stops that take the foot, the floor, dead centre and swing, the progression underfoot."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import footwells
import numpy as np
import pytest
from loop_equations import LoopEquations
from scipy.optimize import brentq
from test_pedal_motion import CABLE, run_at, turn_by_search

from linkage.answers import pedal as told
from linkage.answers.checks import Check
from linkage.answers.pedal import PedalReport, pedal_report
from linkage.motion import solve
from linkage.parts import Linkage, Pedal, Stop

NEEDED = turn_by_search(CABLE + 1.0)  # [deg] of the pedal of footwells.quadrant() from rest to wide open


def report(rig: Linkage) -> PedalReport:
    found = pedal_report(solve(rig))
    assert found is not None
    return found


def checks(rig: Linkage) -> dict[str, Check]:
    run = solve(rig)
    return {check.name: check for check in told.checks(run, pedal_report(run))}


def opening_at(turn: float) -> float:
    """Degrees of plate opened with the pedal of footwells.quadrant() so far down."""
    return math.degrees((run_at(turn) - run_at(0.0) - 1.0) / 30.0)


def test_needed_turn_and_ratios_by_search_and_by_triangle() -> None:
    found = report(footwells.quadrant())
    assert found.sort == "bell crank"
    assert found.turn == pytest.approx(NEEDED, rel=0, abs=1e-9)
    assert found.needed == pytest.approx(200.0 * math.radians(NEEDED), rel=0, abs=1e-8)
    assert found.ratio is not None
    half = 0.5 * (turn_by_search(1.0) + NEEDED)  # half-way of the pad between idle and wide open
    for ratio, turn in zip(found.ratio, (turn_by_search(1.0), half, NEEDED), strict=True):
        slope = (run_at(turn + 1e-5) - run_at(turn - 1e-5)) / math.radians(2e-5)
        assert ratio == pytest.approx(200.0 / slope, rel=1e-7)
    # on the quadrant a mm of cable is 1 / 30 rad of plate, so a mm of pad is that over the ratio
    for gain, ratio in zip(found.gain, found.ratio, strict=True):
        assert gain == pytest.approx(math.degrees(1.0 / 30.0) / ratio, rel=1e-9)
    assert found.progression == pytest.approx(found.ratio[0] / found.ratio[2], rel=1e-9)


def test_the_table_stands_at_shares_of_the_pad_s_own_way() -> None:
    found = report(footwells.quadrant(35.0))
    first, last = turn_by_search(1.0, 35.0), turn_by_search(CABLE + 1.0, 35.0)
    for row in found.table:
        turn = first + row.fraction * (last - first)
        opened = math.degrees((run_at(turn, 35.0) - run_at(0.0, 35.0) - 1.0) / 30.0)
        assert row.plate_angle == pytest.approx(8.0 + opened, rel=0, abs=1e-6)
    share = (found.table[3].plate_angle - 8.0) / 80.0
    assert found.table[3].fraction == 0.5
    assert share < 0.45  # an arm that leans towards its casing opens slowly first


def test_a_pedal_by_its_ratio_feels_what_the_cable_does() -> None:
    run = solve(dataclasses.replace(footwells.quadrant(), pedal=Pedal(2.5, 130.0)))
    found = pedal_report(run)
    assert found is not None
    assert (found.sort, found.turn, found.room, found.first) == ("ratio", None, 130.0, "throttles")
    assert found.needed == pytest.approx(2.5 * (CABLE + 1.0), rel=0, abs=1e-9)
    assert found.ratio == pytest.approx((2.5, 2.5, 2.5))
    assert found.progression == pytest.approx(1.0)
    assert [row.plate_angle for row in found.table] == pytest.approx(
        [8.0 + 80.0 * row.fraction for row in found.table], abs=1e-9
    )


@pytest.mark.parametrize(
    ("before", "word", "says"),
    [
        (-0.5, "caution", "the foot bends the shafts"),
        (0.0, "pass", "takes the foot, 0.00 degrees of plate before"),
        (0.8, "pass", "takes the foot, 0.80 degrees of plate before"),
        (1.4, "caution", "takes the foot, 1.40 degrees of plate before"),
        (2.6, "fail", "leaves a plate 2.60 degrees short of wide open"),
    ],
)
def test_the_pedal_stop_against_wide_open(before: float, word: str, says: str) -> None:
    """A stop put where a search says that the plate lacks so many degrees."""
    at = NEEDED if before == 0.0 else float(brentq(lambda t: opening_at(t) - (80.0 - before), 10.0, 80.0, xtol=1e-13))
    rig = footwells.quadrant(stop=at)
    check, found = checks(rig)["pedal_stop"], report(rig)
    assert (check.verdict, says in check.says) == (word, True), check.says
    assert found.lead is not None
    assert check.value == pytest.approx(200.0 * math.radians(NEEDED - at), rel=0, abs=1e-7)
    assert found.first == ("throttles" if before < 0.0 else "stop")
    if before >= 0.0:
        assert float(found.lead.left) == pytest.approx(before, rel=0, abs=1e-6)


def test_the_floor_before_wide_open_fails() -> None:
    low, enough = checks(footwells.quadrant(floor=NEEDED - 0.1)), checks(footwells.quadrant(floor=NEEDED + 0.1))
    assert low["pedal_travel"].verdict == "fail"
    assert "meets the floor before wide open" in low["pedal_travel"].says
    assert low["pedal_travel"].limit == pytest.approx(200.0 * math.radians(NEEDED - 0.1), abs=1e-9)
    assert enough["pedal_travel"].verdict == "pass"
    assert report(footwells.quadrant(floor=NEEDED - 0.1)).first == "floor"


def test_a_floor_before_the_pedal_stop_is_said() -> None:
    check = checks(footwells.quadrant(stop=NEEDED, floor=NEEDED - 1.0))["pedal_stop"]
    assert check.verdict == "caution"
    assert check.says.startswith("the pedal meets the floor before its own stop")


def test_dead_centre_at_the_pedal() -> None:
    # an arm that starts at 175 has 30 degrees to its dead centre at 205: far less cable than 42.9 mm
    rig = footwells.quadrant(175.0, floor=60.0, stop=50.0)
    found, made = report(rig), checks(rig)
    assert found.dead_centre
    assert np.isnan(found.needed)
    assert made["pedal_dead_centre"].verdict == "fail"
    assert {"pedal_travel", "pedal_stop", "pedal_cable_angle"}.isdisjoint(made)
    assert not report(footwells.quadrant()).dead_centre


def test_a_foot_that_pays_out_fails_and_nothing_else_is_said() -> None:
    rig = footwells.quadrant(floor=60.0, stop=40.0)
    assert rig.pedal is not None
    made = checks(dataclasses.replace(rig, pedal=dataclasses.replace(rig.pedal, opens="cw")))
    assert {name: check.verdict for name, check in made.items()} == {"pedal_pull": "fail"}


def test_swing_and_least_angle_at_the_pedal_by_geometry() -> None:
    rig = footwells.quadrant(casing_axis=(-1.0, 0.0, 0.0))
    found = report(rig)
    x, y, _ = footwells.CASING
    most_swing, least = 0.0, 90.0
    for turn in np.linspace(0.0, NEEDED, 20001):
        at = math.radians(60.0 + turn)
        across, up = footwells.ARM * math.cos(at) - x, footwells.ARM * math.sin(at) - y
        most_swing = max(most_swing, abs(math.degrees(math.atan2(up, -across))))
        between = abs(math.degrees(math.atan2(up, across)) - math.degrees(at)) % 180.0
        if turn >= turn_by_search(1.0):
            least = min(least, between, 180.0 - between)
    assert found.swing == pytest.approx(most_swing, rel=0, abs=1e-4)
    assert found.least_angle is not None
    assert found.least_angle.value == pytest.approx(least, rel=0, abs=5e-3)


def test_a_cable_that_shuts_has_no_pedal_to_judge() -> None:
    rig = footwells.quadrant()
    assert rig.cable is not None
    shuts = dataclasses.replace(rig, cable=dataclasses.replace(rig.cable, pull_turns="cw"))
    assert pedal_report(solve(shuts)) is None
    assert told.checks(solve(shuts), None) == ()


def test_the_push_rod_s_pad_by_the_loop_equations() -> None:
    rig = footwells.rods(stop=25.0, floor=60.0)
    equations = LoopEquations(rig)

    def plate(turn: float) -> float:
        return abs(math.degrees(equations.turns(-math.radians(turn))["one"]))

    wide = float(brentq(lambda t: plate(t) - 80.0, 5.0, 45.0, xtol=1e-11))
    found, check = report(rig), checks(rig)["pedal_stop"]
    assert found.sort == "driver"
    assert found.ratio is None
    assert found.needed == pytest.approx(180.0 * math.radians(wide), rel=0, abs=1e-6)
    assert check.value == pytest.approx(180.0 * math.radians(wide - 25.0), rel=0, abs=1e-6)
    assert found.lead is not None
    assert float(found.lead.left) == pytest.approx(80.0 - plate(25.0), rel=0, abs=1e-6)
    slope = (plate(1e-4) - plate(0.0)) / (180.0 * math.radians(1e-4))
    assert found.gain[0] == pytest.approx(slope, rel=1e-4)


@pytest.mark.parametrize(("short", "word"), [(0.5, "pass"), (1.5, "caution"), (3.0, "fail")])
def test_a_stop_table_on_the_pedal_takes_the_foot_too(short: float, word: str) -> None:
    rig = footwells.rods()
    equations = LoopEquations(rig)
    at = brentq(
        lambda t: abs(math.degrees(equations.turns(-math.radians(t))["one"])) - (80.0 - short), 5.0, 45.0, xtol=1e-11
    )
    stopped = dataclasses.replace(rig, stop={"pedal": Stop("pedal", "pedal", "opening", turn=-float(at))})
    found, check = report(stopped), checks(stopped)["pedal_stop"]
    assert found.first == "stop"
    assert found.lead is not None
    assert float(found.lead.left) == pytest.approx(short, rel=0, abs=1e-6)
    assert (check.verdict, check.value) == (word, pytest.approx(0.0, abs=1e-9))


def test_without_stop_and_floor_neither_is_judged() -> None:
    for rig in (footwells.quadrant(), footwells.rods()):
        assert {"pedal_stop", "pedal_travel"}.isdisjoint(checks(rig))


def test_plates_lack_is_what_the_plates_say() -> None:
    run = solve(footwells.rods())
    for share in (0.0, 0.4, 1.0):
        at: Any = run.at_fraction(share)
        turn = math.radians(float(at.turn[0]))
        lacks = told.plates_lack(run.train, (np.cos(turn), np.sin(turn)))
        assert lacks[0] == pytest.approx(88.0 - float(at.plate_angle["one"][0]), rel=0, abs=1e-8)
