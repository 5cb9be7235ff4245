"""Fits with a known answer, and what holds of every fit: bounds, never worse, the same for the same seed."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trains import parallel_pair

import linkage
from linkage.answers import check
from linkage.errors import DesignError, PathError
from linkage.parts import Bounds, Linkage, Wish
from linkage.search.fit import Fit, fit
from linkage.search.wish import Rows

DEMO = Path(__file__).parents[1] / "demo"


def rig(name: str) -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


PAIR = {"shaft.left.arm.cross.angle": (20.0, 60.0), "shaft.right.arm.cross.angle": (-100.0, -30.0)}


def together(pair: Linkage) -> Linkage:
    """The pair with the same wide-open stop on both shafts."""
    return pair.replace("shaft.b.plate_angle.wide_open", 90.0)


def solved_afresh(found: Fit) -> None:
    """Every answer lies within its bounds and does, solved by itself, what the fit says of it."""
    for answer in found.answers:
        for path, value in answer.values.items():
            bounds = found.free[path]
            assert bounds.low <= value <= bounds.high
        whole = check(answer.rig)
        assert whole.mismatch.largest.value == pytest.approx(answer.figures["mismatch"], abs=1e-5)
        assert whole.progression.ratio == pytest.approx(answer.figures["progression_ratio"], abs=1e-6)
        least = next(c.value for c in whole.checks if c.name == "transmission_angle")
        assert least == pytest.approx(answer.figures["transmission_angle"], abs=1e-3)
        if not answer.fails:
            judged = [c for c in whole.checks if c.name not in ("gap", "tolerance_at_idle", "tolerance_yield")]
            assert [c.name for c in judged if c.verdict == "fail"] == []


# ---- known answers ------------------------------------------------------------------------------


def test_a_spoilt_parallelogram_is_found_again() -> None:
    """Only a parallelogram has no mismatch at all: equal radii, equal angles."""
    spoilt = together(parallel_pair(other_radius=27.0, other_angle=60.0))
    found = fit(
        spoilt,
        wish=Wish(mismatch=0.1),
        free={"shaft.b.arm.drive.radius": (20, 40), "shaft.b.arm.drive.angle": (30, 90)},
    )
    assert found.best.met
    assert found.best.values["shaft.b.arm.drive.radius"] == pytest.approx(30.0, abs=2e-3)
    assert found.best.values["shaft.b.arm.drive.angle"] == pytest.approx(51.0, abs=2e-2)
    assert found.best.figures["mismatch"] < 1e-3
    solved_afresh(found)


def test_the_classic_pair_from_five_degrees_to_a_tenth() -> None:
    found = fit(rig("crossed_pair"), wish=Wish(mismatch=0.15), free=PAIR)
    assert found.start.figures["mismatch"] == pytest.approx(5.45, abs=5e-3)
    assert found.start.fails == "mismatch off idle"
    assert found.best.met
    assert found.best.figures["mismatch"] == pytest.approx(0.114, abs=1e-3)
    assert tuple(found.best.values.values()) == pytest.approx((40.3, -64.6), abs=0.15)
    solved_afresh(found)


def test_a_wished_cable_travel_sets_the_quadrant() -> None:
    """Travel is radius times turn: 78 degrees and 40 mm want 40 / (78 pi / 180) mm."""
    found = fit(rig("crossed_pair_reclocked"), wish=Wish(cable_travel=40.0), free={"cable.radius": (20.0, 40.0)})
    turn = np.radians(found.best.figures["driver_turn"])
    assert found.best.values["cable.radius"] == pytest.approx(40.0 / turn, abs=2e-3)
    assert found.best.met


def test_a_wished_progression_is_reached_and_is_that_of_the_answer() -> None:
    wish = Wish(progression_ratio=2.2, mismatch=0.6)
    free = {"bellcrank.centre.arm.cable.angle": (50.0, 100.0), "cable.casing_end.y": (60.0, 110.0)}
    found = fit(rig("flat_six"), wish=wish, free=free)
    assert found.best.met
    assert check(found.best.rig).progression.ratio == pytest.approx(2.2, abs=0.044)
    solved_afresh(found)


def test_a_link_that_follows_the_drawing_may_be_made_free() -> None:
    design = rig("hand_set_links")
    found = fit(
        design,
        wish=Wish(stops_together=0.05),
        free={"link.left.length": (190.0, 200.0), "link.right.length": (165.0, 175.0)},
    )
    assert found.best.figures["mismatch_at_idle"] < found.start.figures["mismatch_at_idle"]
    assert found.best.fails == ""
    follows = rig("flat_six")
    again = fit(follows, wish=Wish(mismatch=0.6), free={"link.left.length": (190.0, 200.0)})
    assert again.start.values["link.left.length"] == pytest.approx(195.2406, abs=1e-4)


def test_the_demo_finds_its_bell_crank() -> None:
    design = rig("slow_opening_wish")
    found = fit(design)
    assert found.best.met
    assert not found.start.met
    for path in ("bellcrank.centre.arm.left.radius", "bellcrank.centre.arm.right.radius"):
        assert (found.best.values[path] * 2.0) % 1.0 == 0.0  # by half millimetres
    at = linkage.solve(found.best.rig).at_fraction([0.0, 0.25, 0.5, 1.0]).plate_angle["left"]
    opened = (at - at[0]) / (at[-1] - at[0])
    assert opened[1:3] == pytest.approx([0.17, 0.40], abs=0.01)
    solved_afresh(found)


def test_of_two_basins_both_are_offered() -> None:
    """Radius 30 gives a parallelogram; and a lever turned by half a turn another linkage altogether."""
    found = fit(rig("flat_six"), wish=Wish(mismatch=0.75), free={
        "bellcrank.centre.arm.cable.angle": (0.0, 180.0), "bellcrank.centre.arm.cable.radius": (20.0, 60.0),
        "shaft.left.arm.drive.angle": (60.0, 85.0),
    })  # fmt: skip
    assert len(found.answers) >= 2
    ranks = [(not answer.met, bool(answer.fails), answer.merit) for answer in found.answers]
    assert ranks == sorted(ranks)
    z = [
        np.array([(v - found.free[p].low) / (found.free[p].high - found.free[p].low) for p, v in a.values.items()])
        for a in found.answers
    ]
    for i, one in enumerate(z):
        for other in z[i + 1 :]:
            assert np.max(np.abs(one - other)) > 0.09


# ---- what holds of every fit --------------------------------------------------------------------

WISHES = st.builds(
    Wish,
    mismatch=st.one_of(st.none(), st.floats(0.05, 1.0)),
    progression_ratio=st.one_of(st.none(), st.floats(0.5, 3.0)),
    cable_travel=st.one_of(st.none(), st.floats(25.0, 45.0)),
    transmission_angle=st.one_of(st.none(), st.floats(30.0, 55.0)),
)


@given(WISHES, st.integers(1, 5), st.floats(1.0, 12.0), st.sampled_from([None, 0.5]))
@settings(max_examples=12, deadline=None)
def test_within_bounds_never_worse_and_repeatable(wish: Wish, seed: int, wide: float, step: float | None) -> None:
    design = rig("flat_six")
    drawn = linkage.dimensions(design)
    paths = ("shaft.left.arm.drive.angle", "bellcrank.centre.arm.cable.angle", "bellcrank.centre.arm.left.radius")
    free = {
        path: Bounds(drawn[path] - wide, drawn[path] + 0.7 * wide, step if i == 2 else None)
        for i, path in enumerate(paths)
    }
    found, again = (fit(design, wish=wish, free=free, starts=4, seed=seed) for _ in range(2))
    assert [a.values for a in found.answers] == [a.values for a in again.answers]
    for answer in found.answers:
        for path, value in answer.values.items():
            assert free[path].low <= value <= free[path].high
            if path == paths[2] and step is not None and answer is not found.start:
                assert ((value - free[path].low) / step + 1e-6) % 1.0 < 2e-6
    best, start = found.best, found.start
    assert (not best.met, bool(best.fails), best.merit) <= (not start.met, bool(start.fails), start.merit)


def test_another_seed_may_find_others_but_no_worse_by_much() -> None:
    merits = [fit(rig("crossed_pair"), wish=Wish(mismatch=0.1), free=PAIR, seed=seed).best.worst for seed in (0, 1, 7)]
    assert max(merits) - min(merits) < 0.01


def test_a_design_outside_its_bounds_is_brought_to_them_first() -> None:
    found = fit(rig("crossed_pair"), wish=Wish(mismatch=0.2), free={**PAIR, "shaft.left.arm.cross.angle": (20.0, 45.0)})
    assert found.moved_in == ("shaft.left.arm.cross.angle",)
    assert found.start.values["shaft.left.arm.cross.angle"] == 45.0


def test_where_nothing_is_better_the_design_itself_is_the_answer() -> None:
    found = fit(together(parallel_pair()), wish=Wish(mismatch=0.1), free={"shaft.b.arm.drive.radius": (29.0, 31.0)})
    assert found.best is found.start
    assert found.answers == (found.start,)


def test_the_wish_and_the_free_of_the_file_are_taken() -> None:
    design = dataclasses.replace(
        rig("crossed_pair"), wish=Wish(mismatch=0.2), free={p: Bounds(*b) for p, b in PAIR.items()}
    )
    found = fit(design)
    assert found.wish == design.wish
    assert dict(found.free) == dict(design.free)
    assert found.best.met


# ---- where it cannot be -------------------------------------------------------------------------


def test_two_wishes_that_forbid_each_other_are_named() -> None:
    """The same cable cannot open twice as fast at the end as at the beginning, and by half at half travel."""
    design = rig("slow_opening_wish")
    assert design.wish is not None
    found = fit(design, wish=dataclasses.replace(design.wish, progression_ratio=1.0), starts=16)
    assert not found.best.met
    freeing = {c.wish for c in found.conflicts if c.forbids}
    assert freeing == {"progression", "progression_ratio"}


def test_a_wish_and_a_bound_that_forbid_each_other_are_named() -> None:
    free = {**PAIR, "shaft.left.arm.cross.angle": (44.0, 60.0)}
    found = fit(rig("crossed_pair"), wish=Wish(mismatch=0.15), free=free)
    assert not found.best.met
    assert found.best.unmet == ("mismatch",)
    by = {(c.wish, c.bound, c.side): c for c in found.conflicts}
    bound = by["", "shaft.left.arm.cross.angle", "low"]
    assert bound.forbids
    assert bound.value < 43.0
    assert by["mismatch", "", ""].forbids
    (hold,) = [hold for hold in found.best.holds if hold.path]
    assert (hold.path, hold.side) == ("shaft.left.arm.cross.angle", "low")


def test_bounds_within_which_nothing_can_be_assembled() -> None:
    with pytest.raises(DesignError, match="no linkage within these bounds can be put together, is pulled open"):
        fit(rig("crossed_pair"), free={"shaft.left.arm.cross.angle": (-150.0, -140.0)}, starts=2)


def test_nothing_free_and_paths_that_are_none() -> None:
    with pytest.raises(DesignError, match="nothing may change"):
        fit(rig("crossed_pair"))
    with pytest.raises(PathError, match="is no dimension that a fit can change"):
        fit(rig("crossed_pair"), free={"shaft.left.bore": (40, 50)})
    with pytest.raises(ValueError, match="at least 1"):
        fit(rig("crossed_pair"), free=PAIR, starts=0)


# ---- stopped ------------------------------------------------------------------------------------


@pytest.mark.parametrize("stage", ["looking round", "leading down", "closing in"])
def test_stopped_from_the_keyboard_the_best_so_far_is_left(stage: str) -> None:
    told: list[str] = []

    def stop(now: str, worst: float) -> None:
        told.append(now)
        if now == stage and told.count(stage) == (1 if stage == "looking round" else 3):
            raise KeyboardInterrupt

    found = fit(rig("crossed_pair"), wish=Wish(mismatch=0.15), free=PAIR, progress=stop)
    assert found.stopped
    assert told[-1] == stage
    assert found.best.worst <= found.start.worst
    if stage != "looking round":
        assert found.best.figures["mismatch"] < 1.0
    solved_afresh(found)


def test_progress_is_told_and_falls() -> None:
    told: list[tuple[str, float]] = []
    fit(
        rig("crossed_pair"),
        wish=Wish(mismatch=0.15),
        free=PAIR,
        progress=lambda stage, worst: told.append((stage, worst)),
    )
    assert told[0][0] == "looking round"
    closing = [worst for stage, worst in told if stage == "closing in"]
    assert closing == sorted(closing, reverse=True)


def test_rows_tell_which_of_two_is_better() -> None:
    def made(near: float, floor: float) -> Rows:
        none = np.zeros((1, 1, 1))
        return Rows(np.array([[near]]), np.array([[floor]]), none, none, ("mismatch",), ("tilt",))

    assert made(-2.0, -1.0).worst()[0] == 2.0
    assert made(0.5, 0.1).worst()[0] > made(5.0, 0.0).worst()[0]
