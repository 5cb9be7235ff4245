"""Saving: by the ending, whole or not at all, never over another file unasked, the same bytes each time."""

from __future__ import annotations

import hashlib
import os
import re
import struct
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import matplotlib
import pytest
import trains
from matplotlib.figure import Figure

from linkage import plots
from linkage.errors import OutputError
from linkage.motion import solve
from linkage.plots import style

ENDINGS = (".png", ".svg", ".pdf")

_APART = """
import hashlib, sys
from pathlib import Path
import trains
from linkage import plots
from linkage.motion import solve
for name in sys.argv[1:]:
    plots.save(plots.curves(solve(trains.crossed_pair())), name)
    print(hashlib.sha256(Path(name).read_bytes()).hexdigest())
"""


@pytest.fixture
def figure() -> Figure:
    """A small page with a line, a hatch and words."""
    made = style.figure(3.0, 2.0)
    with style.look():
        ax = made.add_axes((0.2, 0.2, 0.7, 0.7))
        ax.plot([0.0, 1.0], [0.0, 1.0])
        ax.fill_between([0.0, 1.0], 0.0, 0.5, hatch="//")
    return made


@pytest.mark.parametrize(
    ("ending", "start"), [(".png", b"\x89PNG\r\n"), (".svg", b"<?xml"), (".pdf", b"%PDF-"), (".PNG", b"\x89PNG\r\n")]
)
def test_the_ending_says_what_the_file_is(figure: Figure, tmp_path: Path, ending: str, start: bytes) -> None:
    path = tmp_path / f"picture{ending}"
    assert plots.save(figure, path) == path
    assert path.read_bytes().startswith(start)
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]


def test_a_picture_has_150_dots_to_the_inch(figure: Figure, tmp_path: Path) -> None:
    data = plots.save(figure, tmp_path / "p.png").read_bytes()
    assert struct.unpack(">II", data[16:24]) == (450, 300)


def test_axes_are_saved_with_their_page(figure: Figure, tmp_path: Path) -> None:
    whole = plots.save(figure, tmp_path / "whole.png").read_bytes()
    assert plots.save(figure.axes[0], tmp_path / "axes.png").read_bytes() == whole


@pytest.mark.parametrize("ending", ENDINGS)
def test_the_same_bytes_in_another_process(tmp_path: Path, ending: str) -> None:
    ours = plots.save(plots.curves(solve(trains.crossed_pair())), tmp_path / f"ours{ending}").read_bytes()
    seed = "1" if os.environ.get("PYTHONHASHSEED") != "1" else "2"
    done = subprocess.run(
        [sys.executable, "-c", _APART, str(tmp_path / f"theirs{ending}")],
        capture_output=True, text=True, check=True, timeout=120,
        env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(p or "." for p in sys.path)},
    )  # fmt: skip
    assert done.stdout.split() == [hashlib.sha256(ours).hexdigest()]


def test_the_readers_settings_do_not_reach_the_file(tmp_path: Path) -> None:
    run = solve(trains.crossed_pair())
    want = plots.save(plots.curves(run), tmp_path / "plain.svg").read_bytes()
    mine: Any = {"svg.hashsalt": "mine", "svg.fonttype": "none", "savefig.dpi": 33, "font.size": 30, "axes.grid": False}
    with matplotlib.rc_context({**mine, "savefig.bbox": "tight", "lines.linewidth": 9.0}):
        assert plots.save(plots.curves(run), tmp_path / "mine.svg").read_bytes() == want


def test_every_part_of_an_svg_has_its_own_name(tmp_path: Path) -> None:
    for i, page in enumerate((plots.overview, plots.curves)):
        text = plots.save(page(solve(trains.cross_tube())), tmp_path / f"{i}.svg").read_text(encoding="utf-8")
        counted = Counter(re.findall(r' id="([^"]+)"', text))
        assert counted
        assert [name for name, count in counted.items() if count > 1] == []


@pytest.mark.parametrize("name", ["picture.jpg", "picture", "picture.png.txt", ".png"])
def test_another_ending_is_refused(figure: Figure, tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match=r"end the name in \.png, \.svg or \.pdf"):
        plots.save(figure, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_file_that_stands_there_is_not_written_over_unasked(figure: Figure, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"taken{ending}"
    path.write_bytes(b"mine")
    with pytest.raises(OutputError, match="stands there already"):
        plots.save(figure, path)
    assert path.read_bytes() == b"mine"
    plots.save(figure, path, overwrite=True)
    assert len(path.read_bytes()) > 100


def test_a_picture_that_fails_leaves_the_old_file(
    figure: Figure, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "old.png"
    path.write_bytes(b"old")

    def half_way(self: Figure, stream: object, **options: object) -> None:
        stream.write(b"half")  # type: ignore[attr-defined]
        raise MemoryError

    monkeypatch.setattr(Figure, "savefig", half_way)
    with pytest.raises(MemoryError):
        plots.save(figure, path, overwrite=True)
    assert [(entry.name, entry.read_bytes()) for entry in tmp_path.iterdir()] == [("old.png", b"old")]
