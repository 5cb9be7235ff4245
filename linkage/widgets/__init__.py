"""Widgets for the notebook: the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkage.parts import Linkage

if TYPE_CHECKING:
    from linkage.widgets.widget import Bench

__all__ = ["bench"]


def bench(rig: Linkage) -> Bench:
    """Put a linkage on the bench: its drawing, curves and verdict beside a slider for every dimension.

    Parameters
    ----------
    rig : Linkage
        Lengths [mm] and angles [deg]; the bench shows the design's own units.

    Returns
    -------
    Bench
        A widget; its ``rig`` is the design as the sliders stand.

    Raises
    ------
    ImportError
        The notebook's parts are not installed; the message says how.

    Examples
    --------
    >>> import linkage
    >>> linkage.bench(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    """
    try:
        from linkage.widgets.widget import Bench
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] == "linkage":
            raise
        raise ImportError('the bench needs the notebook\'s parts: pip install ".[notebook]" in the project') from error
    return Bench(rig)
