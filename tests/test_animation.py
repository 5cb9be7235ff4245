"""The motion picture: there and back, its figures the solver's at the ends, the same every time."""

from __future__ import annotations

import functools
import io
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from customers import DEMO, answered
from numpy.typing import NDArray
from PIL import Image
from trains import parallel_pair

from linkage.cli import throttle_linkage
from linkage.motion import solve
from linkage.paper import animation
from linkage.paper.animation import film
from linkage.paper.numerals import Numerals
from linkage.paper.readings import readings

PICTURES = Path(__file__).parent / "pictures"


@functools.cache
def made(name: str = "flat_six") -> bytes:
    return film(answered(name).run)


@functools.cache
def frames(name: str = "flat_six") -> tuple[NDArray[np.float64], ...]:
    """Every frame in colour, (height, width, 3)."""
    with Image.open(io.BytesIO(made(name))) as film_:
        found = []
        for i in range(film_.n_frames):  # type: ignore[attr-defined]
            film_.seek(i)
            found.append(np.asarray(film_.convert("RGB"), float))
    return tuple(found)


def bar_end(frame: NDArray[np.float64]) -> float:
    """How far the blue bar below the linkage has come, as a share of the way."""
    blue, edge = np.array([0x00, 0x72, 0xB2]), animation._EDGE * animation._DPI / 72.0
    wide = frame.shape[1]
    rows = np.abs(frame - blue).sum(axis=2) < 40.0
    row = round(frame.shape[0] - 50.0 * animation._DPI / 72.0)
    across = np.flatnonzero(rows[row - 1 : row + 2].any(axis=0))
    return float((across.max() - edge) / (wide - 2.0 * edge))


def test_it_plays_there_and_back_without_end() -> None:
    with Image.open(io.BytesIO(made())) as film_:
        assert film_.format == "GIF"
        assert film_.info["loop"] == 0
        count: int = film_.n_frames  # type: ignore[attr-defined]
        lasts = []
        for i in range(count):
            film_.seek(i)
            lasts.append(film_.info["duration"])
    assert 2000 < sum(lasts) < 10_000
    shown = frames()
    half = count // 2
    for i in range(1, half):
        assert np.array_equal(shown[i], shown[count - i])
        assert not np.array_equal(shown[i], shown[i - 1])
    assert lasts[0] == lasts[half] == max(lasts)  # it rests at both ends


def test_the_pedal_goes_all_the_way_and_gently() -> None:
    shown = frames()
    half = len(shown) // 2
    way = [bar_end(frame) for frame in shown[: half + 1]]
    wanted = 0.5 - 0.5 * np.cos(np.pi * np.arange(half + 1) / half)
    assert way == pytest.approx(list(wanted), abs=0.02)  # the knob is 4 points large


def test_the_ground_is_white_and_the_size_is_a_messages() -> None:
    first = frames()[0]
    assert first.shape[1] == 720
    assert np.mean((first == 255.0).all(axis=2)) > 0.8
    assert len(made()) < 2_000_000


def test_what_is_read_off_changes_with_the_frame() -> None:
    """The figures below the bar are drawn from the solver's own, so those of the ends are looked for as pictures."""
    run = answered("flat_six").run
    few = animation._few(readings(run.at_fraction([0.0, 1.0]), Numerals("mm")))
    assert [one.name for one in few] == [
        "Pedal", "Cable", "Force at the pedal", "Plate left", "Plate right", "Plates apart",
    ]  # fmt: skip
    ends = run.at_fraction([0.0, 1.0])
    for one in few[3:5]:
        angles = ends.plate_angle[one.name.removeprefix("Plate ")]
        assert one.values == tuple(f"{angle:.2f}°" for angle in angles)
    strip = int(46.0 * animation._DPI / 72.0)
    idle, half, wide_open = (frames()[i][-strip:] for i in (0, 16, 32))
    assert not np.array_equal(idle, half)
    assert not np.array_equal(half, wide_open)


def test_many_figures_make_way() -> None:
    run = answered("cross_tube").run
    names = [one.name for one in animation._few(readings(run, Numerals("mm")))]
    assert len(names) <= 6
    assert {"Pedal", "Plate one", "Plate four", "Plates apart"} <= set(names)


def test_it_looks_as_it_did_when_it_was_looked_at() -> None:
    with Image.open(PICTURES / "film_flat_six.png") as stored:
        kept = np.asarray(stored.convert("L"), float)

    def grey(frame: NDArray[np.float64]) -> Any:
        return np.asarray(Image.fromarray(frame.astype(np.uint8)).convert("L"), float)

    shown = grey(frames()[16])
    assert shown.shape == kept.shape
    assert np.mean(np.abs(shown - kept)) < 0.6  # of 255; the linkage at idle differs by more than 2
    assert np.mean(np.abs(grey(frames()[0]) - kept)) > 2.0


def test_the_same_bytes_every_time() -> None:
    run = solve(parallel_pair())
    assert film(run) == film(solve(parallel_pair()))


# the command


def run(*args: str) -> Result:
    return CliRunner().invoke(throttle_linkage, ["film", *args], prog_name="throttle-linkage")


def test_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    design = str(DEMO / "flat_six.toml")
    assert run(design).stdout == "flat_six_travel.gif\n"
    assert Path("flat_six_travel.gif").read_bytes() == made()
    again = run(design)
    assert again.exit_code == 2
    assert "stands there already" in again.stderr
    refused = run(design, "--out", "travel.mp4")
    assert (refused.exit_code, refused.stderr) == (2, "travel.mp4: a motion picture is a GIF; end the name in .gif\n")
    assert os.listdir() == ["flat_six_travel.gif"]
