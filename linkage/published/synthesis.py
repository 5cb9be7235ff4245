"""Precision-point synthesis, worked with :mod:`linkage.search.freudenstein`."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from linkage.published.rows import Found, Given, Measured
from linkage.search.freudenstein import FourBar, chebyshev_spacing, freudenstein

Floats = NDArray[np.float64]

_FUNCTIONS: Mapping[str, Callable[[float], float]] = {
    "1/x": lambda x: 1.0 / x,
    "log10": math.log10,
    "sin": lambda x: math.sin(math.radians(x)),
}


def spacing(given: Given) -> Found:
    """Chebyshev spacing of precision points."""
    points = chebyshev_spacing(given["x0"], given["x1"], given["n"])
    return {"x": [Measured(float(x), "") for x in points]}


def three_points(given: Given) -> Found:
    """Function generation through three precision points; the function is named by the example."""
    function = _FUNCTIONS[given["function"]]
    low, high = given["x"]
    x = chebyshev_spacing(low, high, 3)
    y = np.array([function(float(v)) for v in x])
    ends = [function(float(v)) for v in given["x"]]
    theta2 = _scaled(x, given["x"], given["theta2_deg"])
    theta4 = _scaled(y, ends, given["theta4_deg"])
    made = freudenstein(theta2, theta4, frame=given["d"])
    return {
        "x": [Measured(float(v), "") for v in x],
        "y": [Measured(float(v), "") for v in y],
        "theta2": [Measured(float(v), "deg") for v in theta2],
        "theta4": [Measured(float(v), "deg") for v in theta4],
        "absK": [Measured(abs(k), "") for k in made.k],
        **_sizes(made),
    }


def least_squares(given: Given) -> Found:
    """Function generation through more than three points by least squares."""
    return _sizes(freudenstein(given["theta2"], given["theta4"], frame=given["d"]))


def _sizes(made: FourBar) -> Found:
    return {
        "K1_K2_K3": [Measured(k, "") for k in made.k],
        **{name: Measured(getattr(made, name), "") for name in "abc"},
    }


def _scaled(values: Floats, ends: list[float], angles: list[float]) -> Floats:
    share = (np.asarray(values) - ends[0]) / (ends[1] - ends[0])
    return np.asarray(angles[0] + share * (angles[1] - angles[0]))
