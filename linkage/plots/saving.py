"""Saving a picture: whole or not at all, never over another file unasked, the same bytes every time."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkage.errors import OutputError
from linkage.files import check_free, write_bytes
from linkage.plots import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: what a file may be, and what must not be written into it, that it may come out the same tomorrow
_KINDS: dict[str, dict[str, Any]] = {
    ".png": {"metadata": {"Software": None}, "dpi": 150},
    ".svg": {"metadata": {"Date": None, "Creator": None}},
    ".pdf": {"metadata": {"CreationDate": None, "Creator": None, "Producer": None}},
}
_SETTINGS = {"svg.hashsalt": "linkage", "svg.fonttype": "path", "pdf.fonttype": 42}


def save(drawn: Figure | Axes, path: str | Path, *, overwrite: bool = False) -> Path:
    """Save a picture as PNG (150 dpi), SVG or PDF, by the ending of its name.

    Parameters
    ----------
    drawn : matplotlib Figure or Axes
        A whole page, or axes, whose page is saved.
    path : str or pathlib.Path
        Ends in ``.png``, ``.svg`` or ``.pdf``.
    overwrite : bool
        Whether a file that stands there may be written over.

    Returns
    -------
    pathlib.Path
        The path as given.

    Raises
    ------
    OutputError
        The ending is none of these, the file stands there already, or it cannot be written.

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.save(linkage.plots.overview(run), "overview.pdf")  # doctest: +SKIP
    """
    ending = Path(path).suffix.lower()
    if ending not in _KINDS:
        came = f'"{ending}" is no kind of picture' if ending else "the name says no kind of picture"
        raise OutputError(f"{path}: {came} this can write; end the name in .png, .svg or .pdf")
    check_free([path], overwrite=overwrite)
    from matplotlib.figure import Figure

    figure = drawn if isinstance(drawn, Figure) else style.figure_of(drawn)
    buffer = BytesIO()
    with style.look(_SETTINGS):
        figure.savefig(buffer, format=ending[1:], **_KINDS[ending])
    return write_bytes(path, buffer.getvalue(), overwrite=overwrite)
