"""What to turn: the amounts by hand, whole flats and half turns, when to stop, and odds that hold."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from benches import DEMO, Bench, Floats, as_built, blank, error_of, kept, toleranced
from trains import bell_crank, coupled, cross_tube, crossed_pair, parallel_pair

import linkage
from linkage.answers.mismatch import mismatch
from linkage.errors import DesignError
from linkage.motion import solve
from linkage.parts import Limits, Linkage, Screw, Stop
from linkage.search.adjusters import Adjuster, adjusters
from linkage.search.advice import Advice, advise
from linkage.search.coarseness import Coarse, coarseness
from linkage.search.noise import Noise
from linkage.search.plans import TRIALS, Shop

FINE = Noise(plate=0.002)
M5 = 0.8


def threaded(rig: Linkage, **changes: Any) -> Linkage:
    """Every link with an M5 thread, left- and right-hand, or as the changes say."""
    links = {name: dataclasses.replace(link, **{"pitch": M5, **changes}) for name, link in rig.link.items()}
    return dataclasses.replace(rig, link=links)


def through(rig: Linkage, rows: int = 12) -> Bench:
    """A bench of many exact readings."""
    return Bench(rig, blank(rig, (*[0.0] * 3, *np.linspace(0.05, 1.0, rows))), FINE)


def advice_for(bench: Bench, error: Floats, **settings: Any) -> Advice:
    found = bench.estimate(bench.read(error, np.random.default_rng(1)))
    return advise(found, **settings)


def truly(bench: Bench, error: Floats, advice: Advice) -> Linkage:
    """The linkage as really built, after what was advised has been done."""
    done = error.copy()
    for move in advice.moves:
        done[[d.path for d in bench.listed].index(move.adjuster.path)] += move.by
    return as_built(bench, done)


# ---- amounts ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("flats", [-7, -2, 3])
def test_a_link_off_by_whole_flats_is_turned_back_by_them(flats: int) -> None:
    rig = threaded(toleranced(crossed_pair(39.0, -63.0)))
    bench = through(rig)
    error = error_of(bench, cross_length=flats * 2.0 * M5 / 6.0)
    (move,) = advice_for(bench, error, adjust=["link.cross.length"]).moves
    assert (move.adjuster.path, move.steps) == ("link.cross.length", -flats)
    assert move.by == pytest.approx(-flats * 2.0 * M5 / 6.0, abs=1e-12)


def test_an_end_that_must_come_off_goes_by_half_turns() -> None:
    bench = through(threaded(toleranced(crossed_pair(39.0, -63.0)), hands="right"))
    (move,) = advice_for(bench, error_of(bench, cross_length=1.2), adjust=["link.cross.length"]).moves
    assert (move.steps, move.adjuster.turn) == (-3, 0.5)
    assert move.by == pytest.approx(-1.2, abs=1e-12)


def test_a_link_of_no_known_thread_is_set_to_a_length() -> None:
    bench = through(toleranced(crossed_pair(39.0, -63.0)))
    (move,) = advice_for(bench, error_of(bench, cross_length=0.77), adjust=["link.cross.length"]).moves
    assert move.steps is None
    assert move.by == pytest.approx(-0.77, abs=0.02)


def test_parts_of_a_flat_when_they_are_counted() -> None:
    bench = through(threaded(toleranced(crossed_pair(39.0, -63.0))))
    quarter = 2.0 * M5 / 24.0
    error = error_of(bench, cross_length=5 * quarter)
    (move,) = advice_for(bench, error, adjust=["link.cross.length"], flat_parts=4).moves
    assert move.steps == -5
    assert move.by == pytest.approx(-5 * quarter, abs=1e-12)


def test_a_lever_clamped_wrong_is_turned_back() -> None:
    bench = through(threaded(toleranced(crossed_pair(39.0, -63.0))))
    error = error_of(bench, b_arm_drive_angle=2.3)
    (move,) = advice_for(bench, error, adjust=["shaft.b.arm.drive.angle"]).moves
    assert move.by == pytest.approx(-2.3, abs=0.051)
    assert move.by == pytest.approx(0.1 * (move.steps or 0), abs=1e-12)


def test_a_sync_screw_out_of_step_is_put_right() -> None:
    rig = toleranced(coupled())
    rig = rig.replace("coupling.sectors.ratio", -1.0).replace("coupling.sectors.offset", 0.0)
    rig = rig.replace("coupling.sync.offset", 0.0)
    bench = through(rig)
    (move,) = advice_for(bench, error_of(bench, coupling_sync_offset=1.4)).moves
    assert move.adjuster.kind == "coupling"
    assert move.by == pytest.approx(-1.4, abs=0.051)


@pytest.mark.parametrize(("flats", "name"), [(4, "two"), (-3, "three")])
def test_of_three_links_on_a_tube_only_the_wrong_one_is_touched(flats: int, name: str) -> None:
    rig = threaded(toleranced(cross_tube()))
    bench = through(rig)
    error = error_of(bench, **{f"{name}_length": flats * 2.0 * M5 / 6.0})
    advice = advice_for(bench, error, adjust=[f"link.{n}.length" for n in rig.link])
    assert [(m.adjuster.name, m.steps) for m in advice.moves] == [(name, -flats)]


def test_levers_come_before_links_in_the_order_of_work() -> None:
    bench = through(threaded(toleranced(crossed_pair(39.0, -63.0))))
    error = error_of(bench, cross_length=2.0, b_arm_drive_angle=-4.0)
    moves = advice_for(bench, error, adjust=["link.cross.length", "shaft.b.arm.drive.angle"]).moves
    assert [move.adjuster.kind for move in moves] == ["lever", "link"]


# ---- what is foretold ----------------------------------------------------------------------------------


def test_what_is_foretold_is_the_adjusted_linkage_solved_afresh() -> None:
    bench = through(threaded(toleranced(bell_crank())))
    found = bench.estimate(bench.read(error_of(bench, link_right_length=0.9), np.random.default_rng(3)))
    advice = advise(found)
    assert advice.before == mismatch(solve(as_built(bench, found.error)))
    again = mismatch(solve(truly(bench, found.error, advice)))
    for name in ("at_idle", "at_wide_open", "rms"):
        assert getattr(advice.after, name) == pytest.approx(getattr(again, name), abs=1e-9)
    assert advice.after.largest.value == pytest.approx(again.largest.value, abs=1e-9)


def test_with_good_readings_the_real_linkage_ends_as_foretold() -> None:
    bench = through(threaded(toleranced(bell_crank())))
    error = error_of(bench, link_right_length=0.9)
    advice = advice_for(bench, error)
    real = mismatch(solve(truly(bench, error, advice)))
    assert real.at_idle == pytest.approx(advice.after.at_idle, abs=max(advice.after_within[0], 0.01))
    assert real.at_idle < mismatch(solve(as_built(bench, error))).at_idle


def test_the_odds_hold() -> None:
    """Linkages built by chance: of those said to keep their limits with such odds, so many do."""
    limits = Limits(mismatch_at_idle=0.35, mismatch_off_idle=0.4, mismatch=8.0)
    rig = dataclasses.replace(toleranced(crossed_pair(39.0, -63.0)), limits=limits)
    bench = Bench(rig)
    able = adjusters(rig)
    luck = np.random.default_rng(7).standard_normal((TRIALS, len(bench.listed) + len(able)))
    told, came = [], []
    for seed in range(100):
        random = np.random.default_rng(seed)
        error = random.normal(0.0, 1.0, bench.tolerance.size) * bench.tolerance / math.sqrt(3.0)
        found = bench.estimate(bench.read(error, random))
        told.append(Shop(found, able).judged(np.zeros(len(able)), 0.0, luck).odds)
        came.append(kept(mismatch(solve(as_built(bench, error), positions=2)), limits))
    spread = math.sqrt(sum(p * (1.0 - p) for p in told))
    assert 0.2 < np.mean(told) < 0.8
    assert abs(sum(told) - sum(came)) <= 3.3 * spread
    sure = np.array(told) > 0.8
    assert np.mean(np.array(came)[sure]) > 0.7


# ---- when to stop --------------------------------------------------------------------------------------


def test_a_linkage_inside_its_limits_is_left_alone() -> None:
    bench = through(threaded(toleranced(crossed_pair(39.0, -63.0))))
    advice = advice_for(bench, np.zeros(len(bench.listed)))
    assert advice.stop
    assert advice.moves == ()
    assert advice.why == "every limit is kept as it stands"
    assert advice.before == advice.after


def test_what_is_smaller_than_the_readings_can_tell_is_left_alone() -> None:
    rig = threaded(toleranced(crossed_pair(39.0, -63.0)))
    bench = Bench(rig, blank(rig, (0.0, 0.5, 1.0)), Noise(plate=0.5))
    values = bench.exact(np.zeros(len(bench.listed)))
    values[1] += 0.6  # of the second shaft at idle: little more than the noise
    advice = advise(bench.estimate(bench.written(values)))
    assert advice.before.at_idle > rig.limits.mismatch_at_idle
    assert advice.stop
    assert "smaller than these readings can tell" in advice.why


def test_a_mismatch_smaller_than_half_a_step_is_left_alone() -> None:
    rig = threaded(toleranced(crossed_pair(39.0, -63.0)), hands="right")
    bench = through(rig)
    advice = advice_for(bench, error_of(bench, cross_length=0.15), adjust=["link.cross.length"])
    assert advice.before.at_idle > rig.limits.mismatch_at_idle
    assert advice.stop
    assert "by a whole step" in advice.why


# ---- adjusters and how coarse they are ------------------------------------------------------------------


def square(**changes: Any) -> Linkage:
    """Two levers of 30 mm, square to the link that joins them."""
    return threaded(parallel_pair(angle=90.0, other_angle=90.0), **changes)


def judged(rig: Linkage, **settings: Any) -> Mapping[str, Coarse]:
    able: tuple[Adjuster, ...] = adjusters(rig, **settings)
    found = coarseness(solve(rig, positions=2), [(a.path, a.kind, a.name, a.step) for a in able])
    return {c.path: c for c in found}


def test_one_flat_of_an_m5_link_on_a_lever_of_30_mm() -> None:
    """Two pitches of 0.8 mm in six flats, over 30 mm: 0.51 degrees, five times the idle limit."""
    flat = judged(square())["link.side.length"]
    assert flat.degrees == pytest.approx(math.degrees(2.0 * 0.8 / 6.0 / 30.0), abs=1e-9)
    assert round(flat.degrees, 2) == 0.51
    assert flat.too_coarse
    assert flat.parts == 3  # thirds leave 0.085 degrees
    assert flat.radius == pytest.approx(math.degrees(0.5 * 1.6 / 6.0 / 0.1), abs=1e-9)  # half a flat is the limit there
    assert flat.differential == pytest.approx(math.degrees(0.2 / 6.0 / 30.0), abs=1e-9)
    assert flat.screw is None


def test_thirds_of_a_flat_are_fine_enough_and_half_turns_are_not() -> None:
    assert not judged(square(), flat_parts=3)["link.side.length"].too_coarse
    half = judged(square(hands="right"))["link.side.length"]
    assert half.degrees == pytest.approx(math.degrees(0.4 / 30.0), abs=1e-9)
    assert half.too_coarse
    assert not judged(square(pitch=None))["link.side.length"].too_coarse


def test_a_stop_screw_that_serves_instead() -> None:
    stop = Stop("b_idle", "b", "closing", plate_angle=12.0, screw=Screw(20.0, 0.5))
    rig = dataclasses.replace(square(), stop={"b_idle": stop})
    assert judged(rig)["link.side.length"].screw == pytest.approx(math.radians(0.1) * 20.0 / 0.5, abs=1e-12)


def test_what_there_is_to_adjust() -> None:
    rig = threaded(bell_crank())
    assert [a.path for a in adjusters(rig)] == [
        *("link.left.length", "link.right.length"),
        *("shaft.left.arm.drive.angle", "shaft.right.arm.drive.angle"),
    ]
    assert [a.path for a in adjusters(rig, adjust=["link.right.length"])] == ["link.right.length"]
    assert [a.path for a in adjusters(coupled())][-2:] == ["coupling.sync.offset", "coupling.sectors.offset"]


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        ({"adjust": ["link.lefft.length"]}, 'is not adjusted on the bench; did you mean "link.left.length"'),
        ({"adjust": ["bellcrank.centre.pivot.x"]}, "is not adjusted on the bench"),
        ({"flat_parts": 0}, "must be a whole number from 1 to 60, got 0"),
        ({"flat_parts": 1.5}, "must be a whole number"),
    ],
)
def test_what_cannot_be_adjusted_is_refused(settings: dict[str, Any], says: str) -> None:
    with pytest.raises(DesignError, match=says):
        adjusters(threaded(bell_crank()), **settings)


# ---- stop screws ---------------------------------------------------------------------------------------


def test_an_idle_screw_is_turned_by_the_arc_at_its_radius() -> None:
    """A link 1 mm off lifts one shaft off idle; its screw, if it holds it there, goes back by that angle."""
    stops = {f"{s}_idle": Stop(f"{s}_idle", s, "closing", plate_angle=12.0, screw=Screw(20.0, 0.5)) for s in ("a", "b")}
    rig = dataclasses.replace(threaded(toleranced(crossed_pair(39.0, -63.0))), stop=stops)
    bench = through(rig)
    error = error_of(bench, cross_length=1.0)
    advice = advice_for(bench, error)
    at_rest = bench.exact(error)[:2]
    for screw, plate in zip(advice.screws, at_rest, strict=True):
        assert screw.wanted == 12.0
        assert screw.now == pytest.approx(plate, abs=0.5)  # the driver stands a degree or so astray
        assert screw.turns == pytest.approx(math.radians(12.0 - (screw.now or 0.0)) * 20.0 / 0.5, abs=1e-9)


def test_the_wide_open_screw_brings_the_first_plate_to_where_it_comes_on_the_drawing() -> None:
    rig = linkage.read(DEMO / "bench_job.toml")
    found = linkage.tune(rig, DEMO / "bench_job_readings.csv")
    (screw,) = (s for s in found.advice.screws if s.side == "opening")
    drawn = solve(rig)
    widest = max(float(a[0]) for a in drawn.at(drawn.ends[1]).plate_angle.values())
    there = found.advice.adjusted.at(screw.wanted).plate_angle
    assert max(float(a[0]) for a in there.values()) == pytest.approx(widest, abs=1e-6)
    assert screw.now is not None
    thread = rig.stop["crank"].screw
    assert thread is not None
    assert screw.turns == pytest.approx(math.radians(screw.now - screw.wanted) * thread.radius / thread.pitch, abs=1e-9)
