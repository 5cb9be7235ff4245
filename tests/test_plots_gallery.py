"""The gallery of layouts: the same two shafts in every file, each as good as its layout can be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import linkage
from linkage import plots
from linkage.answers import check

FOLDER = Path(linkage.__file__).parents[1] / "demo" / "layouts"
FILES = sorted(FOLDER.glob("*.toml"))
MIRRORED = ("4_cross_shaft", "5_slide", "6_sectors")


def test_there_are_eight() -> None:
    assert len(FILES) == 8


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_passes_on_the_same_two_shafts(path: Path) -> None:
    rig, first = linkage.read(path), linkage.read(FILES[0])
    assert check(rig).verdict in ("pass", "caution")
    for name, shaft in rig.shaft.items():
        like = first.shaft[name]
        assert (shaft.pivot, shaft.bore, shaft.plate_angle) == (like.pivot, like.bore, like.plate_angle)


@pytest.mark.parametrize("name", MIRRORED)
def test_what_is_mirrored_has_no_mismatch(name: str) -> None:
    angles = linkage.solve(linkage.read(FOLDER / f"{name}.toml")).plate_angle
    np.testing.assert_allclose(angles["left"], angles["right"], rtol=0.0, atol=1e-12)


def test_a_picture_of_them_names_each() -> None:
    runs = [linkage.solve(linkage.read(path)) for path in FILES]
    figure = plots.gallery(runs)
    titles = [text.get_text() for ax in figure.axes for text in ax.texts if text.get_gid() == "title"]
    assert titles == [run.rig.title for run in runs]
    boxes = [ax.get_window_extent() for ax in figure.axes]
    wide, high = figure.get_size_inches() * figure.dpi
    assert all(box.x0 >= 0 and box.y0 >= 0 and box.x1 <= wide and box.y1 <= high for box in boxes)


def test_all_are_drawn_at_one_scale() -> None:
    runs = [linkage.solve(linkage.read(path)) for path in FILES[:3]]
    drawings = plots.gallery(runs, across=3).axes[1::3]
    assert len({tuple(np.round(ax.get_xlim(), 9)) for ax in drawings}) == 1


def test_no_motions_no_gallery() -> None:
    with pytest.raises(ValueError, match="runs: a gallery needs at least one"):
        plots.gallery([])
