"""Tolerance: stacks against linkages built with the errors they name, trials against each solved alone."""

from __future__ import annotations

import dataclasses
import itertools
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linprog
from trains import EXAMPLES, arms, bell_crank, crank, crossed_pair, parallel_pair, series, shaft
from trains import rig as rig_of

from linkage.answers.dimension_errors import built_dimensions, member_turns
from linkage.answers.mismatch import mismatch
from linkage.answers.stacks import stack_up
from linkage.answers.tolerance import checks, lacks, links_fitted, tolerance
from linkage.answers.tolerance_sums import rss_while, worst_and_rss, worst_while
from linkage.answers.trials import built, errors, toleranced, trials
from linkage.motion import Motion, assemble, find_travel, solve, stop_ends
from linkage.parts import Limits, Link, Linkage, Tolerance
from linkage.published import rows

USUAL = Tolerance(link_length=0.25, arm_radius=0.1, arm_angle=0.5, pivot=0.1)
PAIRED = [name for name in EXAMPLES if name != "tilted"]


def with_tolerance(rig: Linkage, given: Tolerance = USUAL, scale: float = 1.0) -> Motion:
    fields = {f.name: scale * getattr(given, f.name) for f in dataclasses.fields(given)}
    return solve(dataclasses.replace(rig, tolerance=Tolerance(**fields)), positions=2)


def built_alone(run: Motion, wrong: np.ndarray[Any, Any], *, links_set: bool = False) -> Linkage:
    """One linkage with its errors, as a drawing of its own: every link at the length it was built to."""
    listed, _ = toleranced(run)
    dims = {path: float(value) for path, value in built(run, listed, list(wrong), links_set=links_set).items()}
    rig = run.rig
    for name, link in rig.link.items():
        length = dims.get(f"link.{name}.length")
        rig = dataclasses.replace(rig, link={**rig.link, name: dataclasses.replace(link, length=length)})
    for path, value in dims.items():
        if path.startswith(("shaft.", "bellcrank.", "slide.")) and value != run.train.dims[path]:
            rig = rig.replace(path, value)
    return rig


# ---- the two sums --------------------------------------------------------------------------------


def stacks_published() -> list[dict[str, Any]]:
    return [example for example in rows.examples() if example["kind"] == "tolerance_stack"]


@pytest.mark.parametrize("example", stacks_published(), ids=lambda example: str(example["id"]))
def test_published_stacks(example: dict[str, Any]) -> None:
    worst, rss = worst_and_rss(example["inputs"]["tol"])
    assert worst == pytest.approx(example["published"]["worst"], abs=example["published_tolerance"])
    assert rss == pytest.approx(example["published"]["rss"], abs=example["published_tolerance"])
    assert worst == pytest.approx(example["exact"]["worst"], abs=1e-12)
    assert rss == pytest.approx(example["exact"]["rss"], abs=1e-12)


def test_the_worst_case_under_a_condition_is_the_linear_programme() -> None:
    random = np.random.default_rng(3)
    for _ in range(60):
        moves, lead = random.normal(size=(2, 6)), random.normal(size=6)
        gap = float(random.uniform(-0.5, 1.0) * np.abs(lead).sum())
        found = worst_while(np.array([[0.2], [-0.4]]), moves[:, :, None], lead, gap)
        for row, apart, ours in zip(moves, (0.2, -0.4), found[:, 0], strict=True):
            best = linprog(-row, A_ub=[-lead], b_ub=[-gap], bounds=[(-1.0, 1.0)] * 6)
            assert ours == pytest.approx(apart - best.fun, abs=1e-9)


def test_the_root_sum_square_under_a_condition_is_the_top_of_the_ellipsoid_there() -> None:
    random = np.random.default_rng(4)
    for gap in (-0.8, 0.0, 0.3, 1.2):
        moves, lead = random.normal(size=(1, 3)), random.normal(size=3)
        y = random.normal(size=(400_000, 3))
        y /= np.linalg.norm(y, axis=1, keepdims=True)
        y = y[y @ lead >= gap]
        top = float((y @ moves[0]).max())
        found = float(rss_while(np.zeros((1, 1)), moves[:, :, None], lead, gap)[0, 0])
        assert top <= found <= top + 0.02  # so many points leave no wider gap between them
    assert rss_while(np.zeros((1, 1)), np.ones((1, 3, 1)), np.ones(3), 2.0)[0, 0] == -np.inf


@pytest.mark.parametrize("name", PAIRED)
def test_the_worst_case_is_reached_and_not_passed_by_the_linkages_at_its_corners(name: str) -> None:
    """Small tolerances, so that the linear sum is the truth: every corner that some sensitivity row names."""
    run = with_tolerance(EXAMPLES[name](), scale=0.02)
    stacks = stack_up(run)
    listed, within = toleranced(run)
    if not any(share.moves for share in stacks.governs.shares):
        assert stacks.largest.worst_case == pytest.approx(mismatch(run).largest.value, abs=1e-9)
        return
    corners = set()
    for place in (stacks.governs, stacks.governs_at_idle):
        at = run.at(place.turn)
        rows_ = {d.path: i for i, d in enumerate(_all_dimensions(run))}
        keep = [rows_[d.path] for d in listed]
        a, b = place.between
        turned, signs = member_turns(at), at.plate_speed
        for held in (None, *(s.member for s in run.travel.stops)):
            row = _plate(turned, a, run) - _plate(turned, b, run)
            if held is not None:
                shift = -turned[held][:, 0] / at.speed[held][0]
                row = row + (signs[a][0] - signs[b][0]) * shift
            corners |= {tuple(way * np.sign(row[keep])) for way in (1.0, -1.0)}
    largest, at_idle = 0.0, 0.0
    for corner in corners:
        apart = mismatch(solve(built_alone(run, np.array(corner) * within), positions=2))
        largest, at_idle = max(largest, apart.largest.value), max(at_idle, apart.at_idle)
    assert largest == pytest.approx(stacks.largest.worst_case, rel=3e-3)
    assert at_idle == pytest.approx(stacks.at_idle.worst_case, rel=1e-2, abs=1e-9)


def _all_dimensions(run: Motion) -> tuple[Any, ...]:
    return built_dimensions(run.train)


def _plate(turned: Any, name: str, run: Motion) -> Any:
    return (1.0 if run.rig.shaft[name].opens == "ccw" else -1.0) * turned[name][:, 0]


def test_a_co_rotating_pair_with_its_link_set_by_hand_arithmetic() -> None:
    """30 mm arms 250 mm apart, swinging 51 to 129 deg, 0.1 mm and 0.5 deg each, 0.1 mm of play besides.

    Play 0.1 mm is 0.1/30 rad where the arms stand square to the link. Hand-checked figures, no
    published source: mid travel root sum square 0.30, worst case 0.65 deg; wide open worst 0.81.
    """
    run = with_tolerance(parallel_pair(), Tolerance(arm_radius=0.1, arm_angle=0.5))
    stacks = stack_up(run, links_set=True)
    play = np.degrees(0.1 / 30.0)
    assert stacks.largest.worst_case + play == pytest.approx(0.81, abs=0.005)
    # in mid travel the radii give 30.1 sin 39 / 30 deg more or less, the clocking next to nothing
    half = run.at(39.0)
    moves = _moves(run, half, links_set=True)
    worst, rss = worst_and_rss(moves)
    assert worst + play == pytest.approx(0.65, abs=0.005)
    assert np.hypot(rss, play) == pytest.approx(0.30, abs=0.005)


def _moves(run: Motion, at: Motion, *, links_set: bool) -> Any:
    turned = member_turns(at, links_set=links_set)
    listed, within = toleranced(run)
    every = [d.path for d in _all_dimensions(run)]
    keep = [every.index(d.path) for d in listed]
    # the driver is a shaft with the opening and the closing stop: nothing shifts it
    return (_plate(turned, "a", run) - _plate(turned, "b", run))[keep] * within


@pytest.mark.parametrize("name", PAIRED)
@pytest.mark.parametrize("links_set", [False, True])
def test_shares_sum_to_one_and_stand_in_order(name: str, links_set: bool) -> None:
    stacks = stack_up(links_fitted(with_tolerance(EXAMPLES[name]())), links_set=links_set)
    shares = [share.share for share in stacks.governs.shares]
    if shares:
        assert sum(shares) == pytest.approx(1.0, abs=1e-12)
        assert shares == sorted(shares, reverse=True)
        assert sum(stacks.by_kind.values()) == pytest.approx(1.0, abs=1e-12)
    assert stacks.largest.worst_case >= stacks.largest.rss >= stacks.at_idle.rss - 1e-12


def test_links_set_on_the_bench_take_their_own_length_out_of_the_reckoning() -> None:
    stacks = stack_up(with_tolerance(bell_crank()), links_set=True)
    assert stacks.at_idle.worst_case == pytest.approx(0.0, abs=1e-9)
    assert {s.dimension.kind for s in stacks.governs.shares if s.share > 1e-12} == {"arm_radius", "arm_angle", "pivot"}


# ---- trials ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["bell_crank", "crossed_pair", "series", "skew", "cross_tube", "hand_set"])
@pytest.mark.parametrize("links_set", [False, True])
def test_every_trial_is_the_linkage_solved_alone(name: str, links_set: bool) -> None:
    run = with_tolerance(EXAMPLES[name]())
    _, wrong = errors(run, 8)
    found = trials(run, samples=8, links_set=links_set)
    for k in range(8):
        apart = mismatch(solve(built_alone(run, wrong[k], links_set=links_set), positions=2))
        assert found.at_idle[k] == pytest.approx(apart.at_idle, abs=1e-9)
        assert found.largest[k] == pytest.approx(apart.largest.value, abs=1e-3)


def test_a_pass_keeps_every_limit_of_its_region() -> None:
    limits = Limits(mismatch_at_idle=0.9, mismatch_off_idle=1.0, mismatch=1.1, mismatch_at_wide_open=0.8)
    run = with_tolerance(dataclasses.replace(parallel_pair(), limits=limits))
    _, wrong = errors(run, 60)
    found = trials(run, samples=60)
    assert 5 < int(found.passes.sum()) < 55
    for k in range(60):
        apart = mismatch(solve(built_alone(run, wrong[k]), positions=2))
        assert apart.middle is not None
        over = max(apart.at_idle - 0.9, apart.off_idle.value - 1.0, apart.middle.value - 1.1, apart.last.value - 0.8)
        assert bool(found.passes[k]) == (over <= 0.0)


def test_the_same_seed_gives_the_same_linkages_whatever_the_block_and_the_number() -> None:
    run = with_tolerance(series())
    found = trials(run, samples=1000, seed=7)
    np.testing.assert_array_equal(found.largest, trials(run, samples=1000, seed=7, block=333).largest)
    np.testing.assert_array_equal(found.at_idle[:400], trials(run, samples=400, seed=7, block=64).at_idle)
    assert not np.array_equal(found.largest, trials(run, samples=1000, seed=8).largest)


@pytest.mark.parametrize(("distribution", "sigmas"), [("uniform", np.sqrt(3.0)), ("normal", 3.0)])
def test_small_tolerances_scatter_as_the_root_sum_square_says(distribution: Any, sigmas: float) -> None:
    """Of a pair that agrees as drawn: the mean square of a difference is (root sum square / sigmas)^2."""
    run = with_tolerance(parallel_pair(angle=90.0, other_angle=90.0), scale=0.01)
    found = trials(run, samples=40_000, distribution=distribution)
    square = float(np.sqrt(np.mean(found.at_idle**2)))
    # the standard error of a standard deviation of so many is 1/sqrt(2 n) = 0.35 %
    assert square == pytest.approx(stack_up(run).at_idle.rss / sigmas, rel=0.015)


def test_no_trial_passes_the_worst_case() -> None:
    run = with_tolerance(parallel_pair(), scale=0.1)
    found, stacks = trials(run, samples=5000), stack_up(run)
    assert 0.5 * stacks.at_idle.worst_case < float(found.at_idle.max()) <= 1.01 * stacks.at_idle.worst_case
    assert found.p95 == pytest.approx(float(np.sort(found.largest)[4749]), abs=0.0)


def test_a_linkage_that_cannot_be_assembled_does_not_pass() -> None:
    # both arms nearly in line with the link as drawn: a shorter link does not reach
    run = with_tolerance(crossed_pair(angle=3.0, other_angle=-3.0), Tolerance(link_length=8.0))
    found = trials(run, samples=400)
    lost = ~np.isfinite(found.largest)
    assert 0 < int(lost.sum()) < 400
    assert not np.any(found.passes & lost)


# ---- the report -----------------------------------------------------------------------------------


def test_the_report_holds_the_studies_of_both_ways_to_build() -> None:
    run = with_tolerance(parallel_pair())
    report = tolerance(run, samples=2000, seed=5)
    assert report is not None
    assert (report.at_idle, report.largest) == (report.as_built.stacks.at_idle, report.as_built.stacks.largest)
    np.testing.assert_array_equal(report.as_built.trials.largest, trials(run, samples=2000, seed=5).largest)
    assert report.links_set.trials.p95_at_idle == pytest.approx(0.0, abs=1e-9)
    assert report.links_set.hold[:2] == ("shaft.a.arm.drive.radius", "shaft.b.arm.drive.radius")
    assert {"link.side.length", "shaft.a.pivot.y"} <= set(report.links_set.let_go)
    assert not set(report.links_set.hold[:2]) & set(report.links_set.let_go)


def test_what_is_let_go_hardly_matters() -> None:
    """Twice the tolerance of all that may be let go: the root sum square grows by less than 8 %."""
    run = with_tolerance(bell_crank())
    report = tolerance(run, samples=10)
    assert report is not None
    assert report.as_built.let_go
    moves = {share.dimension.path: share.moves for share in report.shares}
    doubled = [2.0 * m if path in report.as_built.let_go else m for path, m in moves.items()]
    assert worst_and_rss(doubled)[1] < 1.08 * worst_and_rss(list(moves.values()))[1]


def test_given_link_lengths_are_refitted_where_links_are_set() -> None:
    run = with_tolerance(EXAMPLES["hand_set"]())
    report = tolerance(run, samples=200)
    assert report is not None
    assert report.at_idle.rss > mismatch(run).at_idle > 0.3
    assert report.links_set.stacks.at_idle.rss == pytest.approx(0.0, abs=1e-9)
    assert float(report.links_set.trials.at_idle.max()) < 1e-9


@pytest.mark.parametrize(
    ("rig", "word"),
    [
        (parallel_pair(), "[tolerance]"),
        (dataclasses.replace(parallel_pair(), tolerance=Tolerance()), "[tolerance]"),
        (dataclasses.replace(EXAMPLES["tilted"](), tolerance=USUAL), "second shaft"),
    ],
)
def test_what_lacks_is_said(rig: Linkage, word: str) -> None:
    assert word in lacks(rig)
    assert tolerance(solve(rig)) is None
    assert checks(solve(rig), None) == ()


def test_checks_are_cautions_with_their_mend() -> None:
    run = with_tolerance(parallel_pair())
    found = {check.name: check for check in checks(run, tolerance(run, samples=500))}
    assert set(found) == {"tolerance_yield"}
    assert (found["tolerance_yield"].verdict, found["tolerance_yield"].value) == ("pass", 100.0)
    tight = dataclasses.replace(parallel_pair(), limits=Limits(mismatch_at_wide_open=0.05))
    run = with_tolerance(tight)
    few = {check.name: check for check in checks(run, tolerance(run, samples=500))}["tolerance_yield"]
    assert few.verdict == "caution"
    assert "shaft.a.arm.drive.radius" in few.says


def test_a_travel_that_no_stop_ends_has_no_bound() -> None:
    rig = rig_of(
        shaft("slow", (0.0, 0.0, 0.0), "ccw", arms(drive=(50.0, 60.0))),
        shaft("other", (200.0, 0.0, 0.0), "ccw", arms(drive=(50.0, 60.0))),
        crank("fast", (120.0, 0.0, 0.0), arms(out=(20.0, 60.0))),
        Link("first", ("fast.out", "slow.drive")),
        Link("second", ("slow.drive", "other.drive")),
        drive="slow",
    )
    run = with_tolerance(rig)
    assert run.travel.opening_holds == -1
    report = tolerance(run, samples=50)
    assert report is not None
    assert np.isnan(report.largest.rss)
    assert np.isfinite(report.at_idle.rss)


@pytest.mark.parametrize(("option", "value"), [("samples", 0), ("samples", 2.5), ("distribution", "round")])
def test_wrong_options_are_refused(option: str, value: Any) -> None:
    run = with_tolerance(parallel_pair())
    with pytest.raises(ValueError, match=option):
        trials(run, **{option: value})


def test_travel_of_a_trial_is_that_of_its_own_stops() -> None:
    """The ends that the trials use are those of the full search."""
    for name, links_set in itertools.product(("bell_crank", "cross_tube", "skew"), (False, True)):
        run = with_tolerance(EXAMPLES[name]())
        listed, wrong = errors(run, 50)
        train = assemble(run.rig, built(run, listed, list(wrong.T[:, :, None]), links_set=links_set))
        full, quick = find_travel(train), stop_ends(train)
        np.testing.assert_allclose(quick[0], full.closing, atol=1e-12)
        np.testing.assert_allclose(quick[1], full.opening, atol=1e-12)
