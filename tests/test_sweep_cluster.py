"""Past one machine: any scheduler that can call a function serves; here a local cluster of Dask's."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import linkage
from linkage.search.sweep import sweep

distributed = pytest.importorskip("distributed")

DEMO = Path(__file__).parents[1] / "demo"
RANGES = {"bellcrank.centre.pivot.y": (50.0, 70.0), "shaft.left.arm.drive.radius": (33.0, 37.0)}
SAMPLES, SLICES = 12_000, 5


@pytest.mark.filterwarnings("ignore")  # the scheduler's own
def test_slices_worked_out_by_a_cluster_are_the_whole() -> None:
    rig = linkage.read(DEMO / "flat_six.toml")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        jobs = [
            client.submit(sweep, rig, RANGES, samples=SAMPLES, slice=(part, SLICES), workers=1)
            for part in range(1, SLICES + 1)
        ]
        parts = client.gather(jobs)
    whole = sweep(rig, RANGES, samples=SAMPLES)
    assert np.concatenate([part.numbers for part in parts]).tobytes() == whole.numbers.tobytes()
    assert np.concatenate([part.table for part in parts], axis=1).tobytes() == whole.table.tobytes()
