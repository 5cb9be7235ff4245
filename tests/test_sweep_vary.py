"""Candidates by number: grids, boxes, lists."""

from __future__ import annotations

import itertools
import pickle
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import qmc
from trains import bell_crank

from linkage.errors import DesignError
from linkage.search import sobol
from linkage.search.vary import Box, Grid, Listed, Variation, variation

RADIUS, Y = "shaft.left.arm.drive.radius", "bellcrank.centre.pivot.y"
RIG = bell_crank()

GRID = Grid({"a": np.array([1.0, 2.0, 5.0]), "b": np.array([0.0]), "c": np.array([7.0, 8.0, 9.0, 10.0])})
BOX = Box({"a": (1.0, 2.0), "b": (-5.0, 5.0), "c": (0.0, 0.1)}, 5000, 3)
LISTED = Listed(("a", "b"), np.arange(400.0).reshape(200, 2))


def test_a_grid_is_every_combination_the_last_fastest() -> None:
    block = GRID.block(0, GRID.rows)
    found = [*zip(*(block[name] for name in "abc"), strict=True)]
    assert found == [*itertools.product((1.0, 2.0, 5.0), (0.0,), (7.0, 8.0, 9.0, 10.0))]


@pytest.mark.parametrize("candidates", [GRID, BOX, LISTED])
@given(data=st.data())
def test_any_part_is_the_same_part_of_the_whole(candidates: Variation, data: st.DataObject) -> None:
    start = data.draw(st.integers(0, candidates.rows))
    stop = data.draw(st.integers(start, candidates.rows))
    whole, part = candidates.block(0, candidates.rows), candidates.block(start, stop)
    for path in candidates.paths:
        assert np.array_equal(part[path], whole[path][start:stop])


def test_a_box_is_filled_evenly() -> None:
    block = BOX.block(0, 4096)
    for path, (low, high) in BOX.ends.items():
        share = (block[path] - low) / (high - low)
        assert share.min() >= 0.0
        assert share.max() <= 1.0
        counts = np.histogram(share, 64, (0.0, 1.0))[0]  # by chance some 8 more or less than 64
        assert np.abs(counts - 64).max() <= 3
    pairs = np.histogram2d(block["a"], block["b"], 16)[0]
    assert np.abs(pairs - 16).max() <= 8


def test_the_seed_says_which() -> None:
    other = Box(BOX.ends, BOX.rows, 4).block(0, 10)
    again = Box(BOX.ends, BOX.rows, 3).block(0, 10)
    assert np.array_equal(again["a"], BOX.block(0, 10)["a"])
    assert not np.any(other["a"] == again["a"])


def test_points_far_on_are_those_of_the_sequence() -> None:
    engine = qmc.Sobol(sobol.MOST, scramble=False)
    engine.fast_forward(100_001)
    wanted = engine.random(512).T
    np.testing.assert_array_equal(sobol.sobol(sobol.MOST, 512, 0, start=100_000), wanted)


def test_a_mapped_list_is_sent_by_its_name(tmp_path: Path) -> None:
    table = np.random.default_rng(1).random((50, 2))
    (tmp_path / "numbers").write_bytes(table.tobytes())
    listed = Listed(("a", "b"), np.memmap(tmp_path / "numbers", dtype=float, mode="r", shape=(50, 2)))
    sent = pickle.dumps(listed)
    assert len(sent) < 400
    assert np.array_equal(pickle.loads(sent).block(10, 20)["b"], table[10:20, 1])
    assert listed.told() == Listed(("a", "b"), table).told()
    table[17, 1] += 1e-12
    assert listed.told() != Listed(("a", "b"), table).told()


def test_from_python() -> None:
    grid = variation(RIG, {RADIUS: np.linspace(30.0, 32.0, 5), Y: 58})
    assert grid.rows == 5
    assert grid.block(4, 5)[Y][0] == 58.0
    box = variation(RIG, {RADIUS: (30, 32), Y: [50, 60]}, samples=9, seed=2)
    assert isinstance(box, Box)
    assert box.rows == 9


@pytest.mark.parametrize(
    ("vary", "samples", "says"),
    [
        ({"shaft.left.radius": [1.0]}, None, "is not a dimension"),
        ({RADIUS: []}, None, "has no values"),
        ({RADIUS: [30.0, -1.0]}, None, "must be from 0.001 to 100000 mm, got -1"),
        ({RADIUS: [30.0, np.nan]}, None, "must be a finite number"),
        ({RADIUS: "abc"}, None, "must be numbers"),
        ({RADIUS: [30.0, 31.0, 32.0]}, 10, "must be two ends"),
        ({RADIUS: (32.0, 30.0)}, 10, "must be two ends"),
        ({}, None, "names nothing to vary"),
    ],
)
def test_what_cannot_be_is_told(vary: dict[str, object], samples: int | None, says: str) -> None:
    with pytest.raises(DesignError, match=says):
        variation(RIG, vary, samples=samples)  # type: ignore[arg-type]


def test_a_box_of_too_many_dimensions_is_told_what_to_do() -> None:
    from linkage.parts import dimensions

    paths = [path for path in dimensions(RIG) if path.endswith((".x", ".y", ".radius", ".angle", ".station"))]
    with pytest.raises(DesignError, match="list the candidates in a file"):
        variation(RIG, dict.fromkeys(paths[: sobol.MOST + 1], (20.0, 21.0)), samples=4)
