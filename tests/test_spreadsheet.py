"""The table of positions: what a spreadsheet or pandas reads is what the motion holds."""

from __future__ import annotations

import csv
import dataclasses
import io

import numpy as np
import pandas as pd
import pytest
from trains import EXAMPLES, bell_crank, parallel_pair

from linkage.motion import solve
from linkage.paper.spreadsheet import columns, csv_bytes, csv_text
from linkage.parts import Linkage, Pedal


def _read(rig: Linkage, positions: int = 7) -> dict[str, list[str]]:
    rows = list(csv.reader(io.StringIO(csv_text(solve(rig, positions=positions)))))
    assert len({len(row) for row in rows}) == 1
    return {name: list(cells) for name, *cells in zip(*rows, strict=True)}


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_position_is_a_row_of_plain_numbers(name: str) -> None:
    for heading, cells in _read(EXAMPLES[name](), 9).items():
        assert len(cells) == 9
        assert heading[0].isalpha()
        for cell in cells:
            assert cell == "" or np.isfinite(float(cell))


def test_a_parallelogram_stands_where_arithmetic_puts_it() -> None:
    found = _read(parallel_pair(), 5)
    by_hand = ["12", "31.5", "51", "70.5", "90"]
    assert found["plate angle of a [deg]"] == found["plate angle of b [deg]"] == by_hand
    assert found["travel [%]"] == ["0", "25", "50", "75", "100"]
    assert found["mismatch [deg]"] == ["0"] * 5


def test_lengths_and_areas_are_in_the_designs_own_unit() -> None:
    rig = dataclasses.replace(bell_crank(), pedal=Pedal(ratio=4.0))
    metric, inch = _read(rig), _read(dataclasses.replace(rig, units="in"))
    factor = {"mm": 25.4, "mm2": 25.4**2, "deg/mm": 1 / 25.4, "deg": 1.0, "%": 1.0}
    for heading, heading_in in zip(metric, inch, strict=True):
        unit = heading.rpartition("[")[2].rstrip("]")
        assert heading_in == heading.replace("mm", "in")
        for cell, cell_in in zip(metric[heading], inch[heading_in], strict=True):
            assert float(cell) == pytest.approx(float(cell_in) * factor[unit], rel=1e-8, abs=1e-7)


def test_a_fully_open_bore_has_its_own_area() -> None:
    """A plate of no shaft in line with a 45 mm bore leaves the whole bore open: 1590.4 mm2."""
    found = _read(parallel_pair(), 3)
    assert float(found["open area of a [mm2]"][-1]) == pytest.approx(np.pi * 22.5**2, abs=1e-6)
    assert float(found["open area of a [mm2]"][0]) == 0.0


def test_pandas_reads_it_as_numbers() -> None:
    run = solve(bell_crank(), positions=11)
    frame = pd.read_csv(io.StringIO(csv_text(run)))
    assert list(frame.columns) == list(columns(run))
    assert all(kind.kind in "fi" for kind in frame.dtypes)
    assert frame["turn of left [deg]"].to_numpy() == pytest.approx(run.member_turn["left"], abs=1e-9)


def test_a_name_cannot_pass_for_a_formula() -> None:
    rig = parallel_pair()
    odd = dataclasses.replace(rig.shaft["b"], name="-1")
    link = dataclasses.replace(rig.link["side"], joins=("a.drive", "-1.drive"))
    found = _read(dataclasses.replace(rig, shaft={"a": rig.shaft["a"], "-1": odd}, link={"side": link}))
    assert any("-1" in heading for heading in found)
    assert not [heading for heading in found if heading[0] in "=+-@"]


def test_a_file_is_marked_as_utf_8_only_where_it_must_be() -> None:
    rig = parallel_pair()
    assert csv_bytes(solve(rig, positions=2)).startswith(b"travel")
    shafts = {name.replace("b", "süd"): dataclasses.replace(s, name=name) for name, s in rig.shaft.items()}
    shafts["süd"] = dataclasses.replace(shafts["süd"], name="süd")
    link = dataclasses.replace(rig.link["side"], joins=("a.drive", "süd.drive"))
    data = csv_bytes(solve(dataclasses.replace(rig, shaft=shafts, link={"side": link}), positions=2))
    assert data.startswith(b"\xef\xbb\xbftravel")
    assert "süd" in data.decode("utf-8-sig")
