"""Reading papers back: demos worked once, the lines and words of a PDF in mm, pictures against stored ones."""

from __future__ import annotations

import functools
import io
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
from matplotlib import image
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

import linkage
from linkage.answers import Answer, check

DEMO = Path(__file__).parents[1] / "demo"
PICTURES = Path(__file__).parent / "pictures"

#: a point of a PDF [mm]
POINT = 25.4 / 72.0

DEMOS = ("flat_six", "v8_inches", "skew_bell_crank", "cross_tube", "three_side_draughts", "crossed_pair")


@functools.cache
def answer(name: str) -> Answer:
    """The answer to a demo, worked once."""
    return check(linkage.read(DEMO / f"{name}.toml"))


def opened(data: bytes) -> Any:
    """A PDF, to be read back."""
    return pdfplumber.open(io.BytesIO(data))


def text_of(page: Any) -> str:
    """The words of a page, its lines joined."""
    return " ".join(str(page.extract_text()).split())


def unlike_the_stored(figure: Figure, name: str) -> float:
    """Ink that a figure and the stored picture do not share, as a share of the stored ink, in grey at 50 dpi.

    Letters come with matplotlib and are drawn alike everywhere, but not to the last pixel.
    """
    before = figure.dpi
    figure.set_dpi(50)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    drawn = 1.0 - np.array(canvas.buffer_rgba(), np.float64)[:, :, :3].mean(axis=2) / 255.0
    figure.set_dpi(before)
    path = PICTURES / f"{name}.png"
    if not path.exists():  # pragma: no cover - once, then looked at
        image.imsave(path, 1.0 - drawn, cmap="gray", vmin=0.0, vmax=1.0)
    stored = 1.0 - np.array(image.imread(path), np.float64)[:, :, :3].mean(axis=2)
    assert stored.shape == drawn.shape, (stored.shape, drawn.shape)
    return float(np.sum(np.abs(stored - drawn)) / np.sum(stored))
