"""The checks of a snail quadrant: one of each kind, and the sweep's figures against them."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from test_snail_motion import on_a_snail

import linkage
from linkage.answers import check
from linkage.answers.checks import Check
from linkage.answers.heat import heated
from linkage.motion import solve
from linkage.parts import Heat, Linkage, dimensions
from linkage.search.figures import REASONS, figures

DEMO = Path(__file__).parents[1] / "demo" / "snail.toml"
EVEN = ((0.0, 40.0), (26.0, 34.0), (52.0, 28.0), (78.0, 22.0))


def with_casing(rig: Linkage, x: float, y: float) -> Linkage:
    assert rig.cable is not None
    return dataclasses.replace(rig, cable=dataclasses.replace(rig.cable, casing_end=(x, y, 0.0)))


def checked(rig: Linkage) -> dict[str, Check]:
    return {c.name: c for c in check(rig, positions=5, trials=10).checks}


def test_a_spiral_is_as_tight_as_its_moment_arm() -> None:
    found = checked(on_a_snail(*EVEN))
    assert found["quadrant_groove"].verdict == "pass"
    assert found["quadrant_groove"].value == pytest.approx(22.0, abs=1e-9)
    assert "at 78.0 degrees of driver turn" in found["quadrant_groove"].says
    assert found["quadrant_wrap"].verdict == "pass"


def test_a_bend_tighter_than_the_cable_likes_is_a_caution() -> None:
    found = checked(on_a_snail(*EVEN).replace("cable.least_bend", 25.0))["quadrant_groove"]
    assert found.verdict == "caution"
    assert found.limit == 25.0
    assert "22.00 mm" in found.says


def test_a_cusp_fails_and_says_where() -> None:
    found = checked(on_a_snail((0.0, 40.0), (30.0, 39.0), (40.0, 31.0), (78.0, 30.0)))["quadrant_groove"]
    assert found.verdict == "fail"
    assert "30.0" in found.where
    assert "no cable can follow" in found.says


def test_a_loop_at_the_end_of_the_points_fails_where_the_travel_goes_there() -> None:
    found = checked(on_a_snail((5.0, 39.0), (41.5, 30.5), (78.0, 22.0)))
    assert found["quadrant_groove"].verdict == "fail"
    assert "at 5.0 degrees" in found["quadrant_groove"].says
    assert found["quadrant_wrap"].verdict == "caution"
    assert found["quadrant_wrap"].value == pytest.approx(5.0, abs=1e-9)
    assert "5.00 degrees beyond them at the closing end" in found["quadrant_wrap"].says


def test_a_casing_end_too_near_fails() -> None:
    inside = checked(with_casing(on_a_snail(*EVEN), -30.0, 5.0))["quadrant_groove"]
    assert inside.verdict == "fail"
    assert "nearer to the axis than the cable" in inside.says
    # at 41 mm 9 mm of cable are left at idle, and a moment arm that grows by 13.2 mm/rad turns its line back
    rising = on_a_snail((0.0, 40.0), (26.0, 46.0), (52.0, 52.0), (78.0, 58.0))
    assert checked(with_casing(rising, -41.0, 0.0))["quadrant_groove"].verdict == "fail"
    assert checked(with_casing(rising, -59.0, 0.0))["quadrant_groove"].verdict == "fail"
    assert checked(with_casing(rising, -150.0, 0.0))["quadrant_groove"].verdict == "pass"


def test_a_round_quadrant_has_neither_check() -> None:
    rig = linkage.read(DEMO.parent / "cross_tube.toml")
    assert not any(name.startswith("quadrant") for name in checked(rig))


def test_the_moment_arms_grow_with_the_arms() -> None:
    rig = dataclasses.replace(on_a_snail(*EVEN), heat=Heat(rise=1000.0, arms=2e-5))
    grown = heated(solve(rig)).cable
    assert grown is not None
    assert grown.profile is not None
    assert [p.moment_arm for p in grown.profile.values()] == pytest.approx([1.02 * arm for _, arm in EVEN], abs=1e-12)
    assert [p.turn for p in grown.profile.values()] == [turn for turn, _ in EVEN]


def test_the_sweeps_figures_say_what_the_checks_say() -> None:
    """Forty snails, some with cusps, some too tight, some whose travel leaves the points."""
    rig, rng, count = linkage.read(DEMO), np.random.default_rng(1), 40
    table = dict(dimensions(rig))
    size = rng.uniform(0.0, 0.2, count)
    moved = {path: v + size * rng.uniform(-1.0, 1.0, count) for path, v in table.items() if path.endswith("moment_arm")}
    moved["cable.least_bend"] = rng.uniform(6.0, 20.0, count)
    moved["shaft.front.plate_angle.wide_open"] = rng.uniform(86.0, 91.0, count)
    moved["shaft.rear.plate_angle.wide_open"] = moved["shaft.front.plate_angle.wide_open"] + rng.uniform(
        0.0, 2.0, count
    )
    found = figures(rig, {**table, **moved}, count)
    seen = set()
    for i in range(count):
        one = rig
        for path, values in moved.items():
            one = one.replace(path, float(values[i]))
        answer = check(one, positions=5, trials=10)
        words = {c.name: c.verdict for c in answer.checks}
        reason = int(found["reason"][i])
        first = next((c.name for c in answer.checks if c.verdict == "fail"), None)
        assert (REASONS[reason - 1] if reason else None) == first
        if first is None:
            assert found["verdict"][i] == ("caution" in words.values())
        seen.add((words["quadrant_groove"], words["quadrant_wrap"]))
        assert answer.run.cable is not None
        assert found["cable_travel"][i] == pytest.approx(answer.run.cable[-1], abs=1e-9)
        assert found["progression_ratio"][i] == pytest.approx(answer.progression.ratio, abs=1e-9)
    assert {groove for groove, _ in seen} == {"pass", "caution", "fail"}
    assert {wrap for _, wrap in seen} == {"pass", "caution"}
    assert math.isfinite(float(np.sum(found["cable_travel"])))
