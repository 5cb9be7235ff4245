"""Bench tuning: known linkages, known noise; what is estimated lies within what is stated."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest
from benches import (
    DEMO,
    DEMO_SLIP,
    SHARES,
    Bench,
    Floats,
    as_built,
    blank,
    demo_built,
    demo_table,
    error_of,
    kept,
    toleranced,
)
from scipy.stats import binom
from trains import bell_crank, coupled, crossed_pair, skew

import linkage
from linkage.answers.mismatch import mismatch
from linkage.errors import DesignError
from linkage.motion import solve
from linkage.parts import Cable, Linkage, Pedal, Tolerance
from linkage.search.estimate import estimate
from linkage.search.expected import Expected
from linkage.search.first_guess import first_guess
from linkage.search.noise import Noise
from linkage.search.priors import BY_HAND, Priors
from linkage.search.readings import parse_readings

Draw = Callable[[np.random.Generator], Floats]


# ---- the readings to expect, and their slopes ----------------------------------------------------


def every_kind() -> tuple[Linkage, str]:
    rig = dataclasses.replace(
        toleranced(bell_crank()),
        cable=Cable(pulls="centre.cable", casing_end=(-150.0, 100.0, 0.0)),
        drive=None,
        pedal=Pedal(ratio=3.0),
    )
    arms = {**rig.bellcrank["centre"].arm, "cable": linkage.parts.Arm("cable", 40.0, 100.0)}
    crank = {"centre": dataclasses.replace(rig.bellcrank["centre"], arm=arms)}
    return dataclasses.replace(rig, bellcrank=crank), (
        "position,{at},left [deg],right [deg],left gap [mm],right flow [kg/h],left flow [kg/h]\n"
        "idle,,10,10.2,0.3,4.2,4.0\nsome,{some},30,,,20,21\nmore,{more},60.0,61.0,,,\nwide open,,87,88,,,\n"
    )


@pytest.mark.parametrize(
    ("at", "some", "more"),
    [("travel [%]", 25, 70), ("turn [deg]", 15, 40), ("cable [mm]", 8, 20), ("pedal [mm]", 25, 60), ("", "", "")],
)
def test_slopes_are_those_of_differences(at: str, some: float, more: float) -> None:
    rig, text = every_kind()
    run = solve(rig, positions=2)
    sign = run.train.opens if at.startswith("turn") else np.sign(run.at(run.ends[1]).cable or [1.0])[0]
    table = text.format(at=at, some=some and sign * some, more=more and sign * more)
    if at.startswith("travel"):
        table = text.format(at=at, some=some, more=more)
    expected = Expected.of(run, parse_readings(table, rig), Noise(zero=0.1))
    u = first_guess(expected)
    k = len(expected.dimensions)
    u[:k] += np.random.default_rng(3).normal(0.0, 0.3, k)
    value, slope = expected.at(u)
    assert np.all(np.isfinite(value))
    for j in range(expected.size):
        step = np.zeros(expected.size)
        step[j] = 1e-5
        about = (expected.at(u + step)[0] - expected.at(u - step)[0]) / 2e-5
        np.testing.assert_allclose(slope[:, j], about, atol=2e-6)


@pytest.mark.parametrize("make", [bell_crank, crossed_pair, coupled, skew])
def test_what_is_expected_is_the_linkage_solved_with_its_errors(make: Callable[[], Linkage]) -> None:
    rig = toleranced(make())
    bench = Bench(rig)
    error = bench.within_tolerance(np.random.default_rng(5))
    values = bench.exact(error)
    built = solve(as_built(bench, error), positions=2)
    turns = bench.run.ends[0] + (bench.run.ends[1] - bench.run.ends[0]) * np.array(SHARES)
    plates = built.at(turns).plate_angle
    for r, value in zip(bench.table.readings, values, strict=True):
        assert value == pytest.approx(plates[r.shaft][r.row], abs=1e-9)


def test_flow_and_gap_of_a_plate_by_hand() -> None:
    """45 mm bore, no shaft, shut square to the bore: the gap is R (1 - cos), the open area pi R^2 (1 - cos)."""
    rig, _ = every_kind()
    shafts = {
        name: dataclasses.replace(s, plate_angle=dataclasses.replace(s.plate_angle, shut=0.0))
        for name, s in rig.shaft.items()
    }
    rig = dataclasses.replace(rig, shaft=shafts)
    run = solve(rig, positions=2)
    table = "position,left gap [mm],left flow [kg/h],right flow [kg/h]\nidle,0.1,4.0,4.0\n"
    expected = Expected.of(run, parse_readings(table, rig), Noise())
    u = first_guess(expected)
    gap, left, right = expected.at(u)[0]
    plates = run.at(u[expected.first_turn]).plate_angle
    open_left, open_right = (1.0 - np.cos(np.radians(plates[name][0])) for name in ("left", "right"))
    assert gap == pytest.approx(0.5 * 45.0 * open_left, abs=1e-12)
    assert left / right == pytest.approx(open_left / open_right, rel=1e-12)


# ---- recovery ------------------------------------------------------------------------------------


def test_without_noise_the_errors_come_back() -> None:
    """Many exact positions, tolerances so wide that they say nothing: the readings of two levers and a link."""
    rig = dataclasses.replace(crossed_pair(), tolerance=Tolerance(5.0, 0.0, 0.0, 0.0))
    bench = Bench(rig, blank(rig, tuple(np.linspace(0.0, 1.0, 25))), Noise(plate=1e-4))
    error = error_of(bench, link_cross_length=1.3)
    found = bench.estimate(bench.written(bench.exact(error)))
    assert found.of_path("link.cross.length")[0] == pytest.approx(1.3, abs=1e-3)


def recovered(bench: Bench, seeds: int, draw: Draw, *, by_hand: bool = False) -> Floats:
    """Share of seeds in which each dimension lies within the uncertainty that is stated, shape (K,)."""
    hits = np.zeros(len(bench.listed))
    for seed in range(seeds):
        random = np.random.default_rng(seed)
        error = draw(random)
        found = bench.estimate(bench.read(error, random), by_hand=by_hand)
        hits += np.abs(found.error - error) <= found.within
    return hits / seeds


def test_within_tolerance_the_truth_lies_within_what_is_stated_in_95_of_100_of_1000_seeds() -> None:
    bench = Bench(toleranced(crossed_pair()))
    share = recovered(bench, 1000, bench.within_tolerance)
    assert np.mean(share) >= 0.95
    assert np.min(share) >= binom.ppf(0.001, 1000, 0.95) / 1000


def test_set_by_hand_the_truth_lies_within_what_is_stated() -> None:
    bench = Bench(toleranced(crossed_pair()))
    hand = np.array([BY_HAND[d.unit] for d in bench.listed])

    def draw(random: np.random.Generator) -> Floats:
        wide = random.uniform(-1.0, 1.0, hand.size) * hand
        return np.where(bench.setting, wide, bench.within_tolerance(random))

    share = recovered(bench, 300, draw, by_hand=True)
    assert np.mean(share) >= 0.95
    assert np.min(share) >= binom.ppf(0.001, 300, 0.95) / 300


def test_errors_drawn_from_the_prior_itself_are_covered_neither_less_nor_more_often_than_stated() -> None:
    """Normal errors of the prior's own size: two standard deviations hold 95.45 of 100."""
    bench = Bench(toleranced(crossed_pair()))
    priors = Priors.of(bench.run.rig, bench.listed)
    size = np.where(bench.setting, priors.wide, priors.close)
    share = recovered(bench, 300, lambda random: random.normal(0.0, 1.0, size.size) * size, by_hand=True)
    assert binom.ppf(0.0005, 300, 0.9545) / 300 <= np.min(share)
    assert np.max(share) <= binom.ppf(0.9995, 300, 0.9545) / 300


def test_the_likelihood_of_a_good_fit_is_spread_evenly() -> None:
    bench = Bench(toleranced(crossed_pair()))
    size = np.where(bench.setting, Priors.of(bench.run.rig, bench.listed).wide, bench.tolerance / 3.0**0.5)
    found = []
    for seed in range(200):
        random = np.random.default_rng(seed)
        error = random.normal(0.0, 1.0, size.size) * size
        found.append(bench.estimate(bench.read(error, random), by_hand=True).likelihood)
    below = np.mean(np.array(found)[:, None] < [0.25, 0.5, 0.75], axis=0)
    np.testing.assert_allclose(below, [0.25, 0.5, 0.75], atol=4.0 * (0.25 / 200) ** 0.5)


def test_the_same_readings_give_the_same_answer() -> None:
    rig = linkage.read(DEMO / "bench_job.toml")
    first, again = (linkage.tune(rig, DEMO / "bench_job_readings.csv", seed=4) for _ in range(2))
    np.testing.assert_array_equal(first.estimate.error, again.estimate.error)
    assert first.advice.steps == again.advice.steps
    assert first.advice.odds_after == again.advice.odds_after


# ---- what is wrong, by name ------------------------------------------------------------------------


def test_a_bad_reading_is_found_and_named() -> None:
    bench = Bench(toleranced(bell_crank()))
    named = 0
    for seed in range(100):
        random = np.random.default_rng(seed)
        readings = bench.read(bench.within_tolerance(random), random)
        which = int(random.integers(2, len(readings.readings)))  # off the stop, where nothing repeats it
        wrong = dataclasses.replace(readings.readings[which], value=readings.readings[which].value + 3.0)
        listed = (*readings.readings[:which], wrong, *readings.readings[which + 1 :])
        found = bench.estimate(dataclasses.replace(readings, readings=listed))
        named += any(wrong in (b.reading, *b.or_else) for b in found.bad)
    assert named >= 95


def test_good_readings_are_seldom_called_bad() -> None:
    bench = Bench(toleranced(bell_crank()))
    called = 0
    for seed in range(300):
        random = np.random.default_rng(seed)
        called += bool(bench.estimate(bench.read(bench.within_tolerance(random), random)).bad)
    assert called <= binom.ppf(0.999, 300, 0.01)


def test_of_two_readings_that_only_check_each_other_both_are_named() -> None:
    bench = Bench(toleranced(bell_crank()))
    values = bench.exact(np.zeros(len(bench.listed)))
    values[-1] += 4.0
    found = bench.estimate(bench.written(values))
    (bad,) = found.bad
    assert {r.row for r in (bad.reading, *bad.or_else)} == {len(SHARES) - 1}
    assert {r.shaft for r in (bad.reading, *bad.or_else)} == {"left", "right"}


def test_with_positions_measured_the_bad_one_of_two_is_told() -> None:
    rig = toleranced(bell_crank())
    run = solve(rig, positions=2)
    lines = ["travel [%],left [deg],right [deg]"]
    for share in (0, 10, 30, 50, 70, 100):
        plates = run.at_fraction(share / 100).plate_angle
        right = plates["right"][0] + (4.0 if share == 50 else 0.0)
        lines.append(f"{share},{plates['left'][0]:.2f},{right:.2f}")
    (bad,) = estimate(run, parse_readings("\n".join(lines), rig), Noise(travel=0.002)).bad
    assert (bad.reading.shaft, bad.reading.row, bad.or_else) == ("right", 3, ())
    assert bad.expect == pytest.approx(run.at_fraction(0.5).plate_angle["right"][0], abs=bad.within)


def test_what_was_set_wrong_is_not_taken_for_a_made_part() -> None:
    bench = Bench(toleranced(bell_crank()))
    random = np.random.default_rng(8)
    error = error_of(bench, link_left_length=1.5)
    found = bench.estimate(bench.read(error, random))
    assert found.set_by_hand
    assert found.let_go == ()
    assert found.bad == ()


def test_a_made_part_far_out_of_its_tolerance_is_let_go() -> None:
    bench = Bench(toleranced(bell_crank()), blank(bell_crank(), (*[0.0] * 4, *np.linspace(0.05, 1.0, 16))))
    random = np.random.default_rng(8)
    error = error_of(bench, centre_arm_left_radius=6.0)
    found = bench.estimate(bench.read(error, random))
    assert "bellcrank.centre.arm.left.radius" in found.let_go
    assert all("radius" in path for path in found.let_go)  # others that read alike
    assert found.fits


def test_near_idle_alone_a_link_and_its_levers_cannot_be_told_apart() -> None:
    """Two readings at idle tell one thing: the mismatch there."""
    rig = toleranced(crossed_pair())
    bench = Bench(rig, blank(rig, (0.0, 0.0)))
    random = np.random.default_rng(2)
    found = bench.estimate(bench.read(error_of(bench, cross_length=1.0), random))
    assert (found.apart.seen, found.apart.of) == (1, 3)
    paths = {d.path for alike in found.apart.alike for d in alike.dimensions}
    assert paths == {"link.cross.length", "shaft.a.arm.drive.angle", "shaft.b.arm.drive.angle"}
    slope = found.fit.slope
    for alike in found.apart.alike:
        first, *others = (bench.listed.index(d) for d in alike.dimensions)
        apart = [slope[1, i] for i in (first, *others)]  # of the second shaft; the first is the driver itself
        assert apart[0] == pytest.approx(sum(c * a for c, a in zip(alike.counts, apart[1:], strict=True)), rel=1e-3)


def test_all_through_the_travel_a_link_and_a_lever_are_told_apart() -> None:
    rig = toleranced(crossed_pair())
    bench = Bench(rig, blank(rig, tuple(np.linspace(0.0, 1.0, 40))), Noise(plate=0.01))
    error = error_of(bench, cross_length=0.15)
    found = bench.estimate(bench.read(error, np.random.default_rng(1)))
    assert found.apart.seen == found.apart.of
    assert found.apart.alike == ()


def test_a_coupling_out_of_step_is_found() -> None:
    bench = Bench(toleranced(coupled()))
    path = next(d.path for d in bench.listed if d.kind == "coupling_offset")
    error = np.array([2.0 if d.path == path else 0.0 for d in bench.listed])
    value, within = bench.estimate(bench.read(error, np.random.default_rng(1))).of_path(path)
    assert value == pytest.approx(2.0, abs=within)
    assert within < 0.5


def test_a_flow_meter_tightens_what_is_known_at_idle() -> None:
    """The same linkage, protractor alone and with a meter good to a fiftieth of the idle air."""
    rig, _ = every_kind()
    for name in rig.shaft:
        rig = rig.replace(f"shaft.{name}.plate_angle.shut", 7.0)
    plates = "position,left [deg],right [deg]\nidle,10,10\n0.5,10,10\n1,10,10\n"
    flows = (
        "position,left [deg],right [deg],left flow [kg/h],right flow [kg/h]\nidle,10,10,4,4\n0.5,10,10,,\n1,10,10,,\n"
    )
    stated = []
    for text in (plates, flows):
        table = parse_readings(text, rig)
        rows = (dataclasses.replace(table.rows[0], name="0"), *table.rows[1:])
        bench = Bench(rig, dataclasses.replace(table, rows=rows), Noise(flow=0.08))
        left, right = (i for i, r in enumerate(bench.table.readings) if r.row == 0 and r.what == "plate")
        hits, within = 0, 0.0
        for seed in range(60):
            random = np.random.default_rng(seed)
            exact = bench.exact(bench.within_tolerance(random), random)
            noise = random.normal(0.0, 1.0, exact.size) * bench.expected.sigma
            found = bench.estimate(bench.written(exact + noise))
            slope = found.fit.slope[left] - found.fit.slope[right]
            within = 2.0 * float(np.sqrt(slope @ found.fit.covariance @ slope))
            hits += abs((found.fitted[left] - found.fitted[right]) - (exact[left] - exact[right])) <= within
        assert hits >= binom.ppf(0.001, 60, 0.95)
        stated.append(within)
    assert stated[1] < 0.5 * stated[0]


# ---- refusals --------------------------------------------------------------------------------------


def test_readings_that_say_nothing_of_the_mismatch_are_refused() -> None:
    rig = toleranced(crossed_pair())
    run = solve(rig, positions=2)
    with pytest.raises(DesignError, match='no reading of shaft "b"'):
        estimate(run, parse_readings("a [deg],b [deg]\n12,\n40,\n", rig))
    with pytest.raises(DesignError, match="no row has readings of two shafts"):
        estimate(run, parse_readings("a [deg],b [deg]\n12,\n,40\n", rig))
    alone = dataclasses.replace(rig, shaft={"a": rig.shaft["a"]}, link={}, bellcrank={})
    with pytest.raises(DesignError, match="one throttle shaft"):
        estimate(solve(alone, positions=2), parse_readings("a [deg]\n12\n", alone))


@pytest.mark.parametrize("wrong", [{"plate": 0.0}, {"flow": -1.0}, {"gap": float("nan")}, {"zero": -0.1}])
def test_noise_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(DesignError, match=f"noise, {next(iter(wrong))}"):
        Noise(**wrong)


# ---- the demo: three wrong dimensions, brought inside the limits --------------------------------


def test_the_demo_s_readings_are_of_the_linkage_with_three_wrong_dimensions() -> None:
    text = (DEMO / "bench_job_readings.csv").read_text(encoding="utf-8")
    assert text == demo_table(demo_built(), 1, slip=True)


def test_the_demo_is_brought_inside_the_limits() -> None:
    rig = linkage.read(DEMO / "bench_job.toml")
    limits = rig.limits
    before = mismatch(solve(demo_built()))
    assert before.at_idle > 10.0 * limits.mismatch_at_idle
    first = linkage.tune(rig, DEMO / "bench_job_readings.csv")
    (bad,) = first.estimate.bad
    assert (bad.reading.row, bad.reading.shaft, bad.or_else) == (*DEMO_SLIP[:2], ())
    assert 0 < len(first.advice.moves) <= 3
    after = mismatch(solve(demo_built(first.advice.moves)))
    assert kept(after, limits)


def test_the_demo_read_again_says_stop() -> None:
    rig = linkage.read(DEMO / "bench_job.toml")
    moves = linkage.tune(rig, DEMO / "bench_job_readings.csv").advice.moves
    text = (DEMO / "bench_job_readings_again.csv").read_text(encoding="utf-8")
    assert text == demo_table(demo_built(moves), 2)
    again = linkage.tune(rig, DEMO / "bench_job_readings_again.csv").advice
    assert again.stop
    assert again.moves == ()
