"""The look of every picture: ink, palette, line styles, figures.

Colours are told apart by people of every kind of colour vision, and no meaning hangs on colour
alone: each shaft and link has its own dashes and marker as well, so a grey print reads the same.

References
----------
M. Okabe and K. Ito, *Color Universal Design*, 2008: the palette of eight colours (values from
memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from io import BytesIO
from typing import TYPE_CHECKING, Any, NamedTuple

from linkage.quantities import own_scale, own_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK = "#1b1f24"
SOFT = "#5c6670"
FAINT = "#b9c0c7"
GRID = "#e4e7eb"
PAPER = "#ffffff"
BODY = "#f1f3f6"  # inside of a bore, bands that are allowed
GOOD, WARN, BAD = "#00785a", "#a86400", "#b84a00"  # darkened green, orange and vermillion: text on white

#: Okabe and Ito's blue, vermillion, bluish green, reddish purple, orange, sky blue, black
PALETTE = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
_DASHES: tuple[Any, ...] = (
    "-",
    (0, (5, 2)),
    (0, (6, 1.5, 1, 1.5)),
    (0, (1.2, 1.4)),
    (0, (10, 2.5)),
    (0, (8, 1.5, 1, 1.5, 1, 1.5)),
    (0, (3, 1.2)),
)
_MARKS = ("o", "s", "^", "D", "v", "P", "X")

#: smallest lettering [pt] at print size, and the everyday one
SMALL, PLAIN, HEAD = 8.0, 9.0, 10.5

#: A4 on its side [in]
A4 = (297.0 / 25.4, 210.0 / 25.4)

_STYLE: dict[str, Any] = {
    "font.family": ["DejaVu Sans"],  # comes with matplotlib: the same letters everywhere
    "font.size": PLAIN,
    "text.parse_math": False,  # a dollar sign in a title is a dollar sign
    "text.color": INK,
    "axes.titlesize": HEAD,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 8.0,
    "axes.titlecolor": INK,
    "axes.labelsize": PLAIN,
    "axes.labelcolor": INK,
    "axes.edgecolor": SOFT,
    "axes.linewidth": 0.8,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": GRID,
    "grid.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "legend.fontsize": SMALL,
    "legend.frameon": True,
    "legend.framealpha": 0.9,
    "legend.edgecolor": "none",
    "legend.borderpad": 0.3,
    "legend.handlelength": 3.2,
    "hatch.linewidth": 0.5,
    "figure.facecolor": PAPER,
    "axes.facecolor": PAPER,
    "savefig.facecolor": PAPER,
}


class Pen(NamedTuple):
    """How one shaft or link is drawn wherever it appears."""

    colour: str
    dashes: Any
    marker: str
    width: float


def pens(names: Iterable[str]) -> dict[str, Pen]:
    """A pen for every name, in order; later ones are thinner, so that equal curves all show."""
    listed = list(names)
    found = {}
    for i, name in enumerate(listed):
        lap, place = divmod(i, len(PALETTE))
        width = 2.6 - 1.4 * i / max(len(listed) - 1, 1) if len(listed) > 1 else 2.0
        dashes, mark = _DASHES[(place + lap) % len(_DASHES)], _MARKS[(place + 2 * lap) % len(_MARKS)]
        found[name] = Pen(PALETTE[place], dashes, mark, width)
    return found


@contextmanager
def look(more: Mapping[str, Any] | None = None) -> Iterator[None]:
    """The house look for the length of a ``with`` block; the reader's own settings come back after it.

    That a notebook shows its pictures is switched on with the first of them, inside the block: it stays.
    """
    import matplotlib
    import matplotlib.style

    with matplotlib.style.context(["default", {**_STYLE, **(more or {})}]):
        yield
        shows = matplotlib.is_interactive()
    matplotlib.interactive(shows)


def figure(width: float, height: float) -> Figure:
    """An empty figure [in] that pyplot knows nothing of, and that a notebook shows all the same."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    class Page(Figure):
        def _repr_png_(self) -> bytes:
            picture = BytesIO()
            with look():
                self.savefig(picture, format="png")
            return picture.getvalue()

    made = Page(figsize=(width, height), facecolor=PAPER)
    FigureCanvasAgg(made)  # words are measured on it
    return made


def figure_of(ax: Axes) -> Figure:
    """The whole figure that axes stand on."""
    found = ax.get_figure(root=True)
    if found is None:
        raise ValueError("ax: these axes stand on no figure; make them with figure.add_axes or add_subplot")
    return found


def axes(ax: Axes | None, width: float = 6.7, height: float = 4.3, *, bare: bool = False) -> Axes:
    """The axes given, or those of a new pyplot figure [in], which a notebook shows by itself.

    ``bare`` axes have no scales and so fill their figure.
    """
    if ax is not None:
        return ax
    import matplotlib.pyplot as plt

    drawn = plt.figure(figsize=(width, height), facecolor=PAPER, layout="none")
    inside = (0.62 / width, 0.55 / height, 1 - 0.85 / width, 1 - 0.95 / height)
    made: Axes = drawn.add_axes((0.012, 0.016, 0.976, 0.968) if bare else inside)
    return made


def dress(ax: Axes) -> None:
    """Give axes of any origin the house's spines, grid and lettering."""
    ax.spines[["top", "right"]].set_visible(False)
    ax.spines[["left", "bottom"]].set(color=SOFT, linewidth=0.8)
    ax.tick_params(labelsize=SMALL, color=SOFT, labelcolor=INK, width=0.8)
    ax.grid(True, color=GRID, linewidth=0.7)
    ax.set_axisbelow(True)


def length_text(mm: float, units: str) -> str:
    """A length [mm] in the design's own units without their name: one decimal of a mm, three of an inch."""
    text = f"{mm / own_scale(units, 'length'):.{3 if units == 'in' else 1}f}"
    return text[1:] if text.startswith("-") and not float(text) else text.replace("-", "−")


def angle_text(degrees: float) -> str:
    """An angle [deg] to a tenth, with its sign written as a minus."""
    text = f"{degrees:.1f}°"
    return "0.0°" if text == "-0.0°" else text.replace("-", "−")


def with_unit(quantity: str, units: str) -> str:
    """``"Cable travel [mm]"``: a heading for an axis of lengths."""
    return f"{quantity} [{own_unit(units, 'length')}]"
