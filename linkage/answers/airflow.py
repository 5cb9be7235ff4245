r"""Open area of a throttle plate.

::

      bore D       |<------- D ------->|         a = shaft diameter / D
              -----+---.           .---+-----    psi  plate angle, from the plane square to the bore
                   |     `-._(o)_      |         psi0 plate angle at which the plate is shut
                   |            `-._   |
              -----+----------------`--+-----

The open area is what of the bore shows past the tilted plate (an ellipse) and its shaft.

References
----------
J. B. Heywood, *Internal Combustion Engine Fundamentals*, McGraw-Hill 1988, §7.6 (throttle plate
flow area; equation number from memory, checked against numerical projection in the tests).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage.motion import Motion

Floats = NDArray[np.float64]


def open_area_fraction(plate_angle: ArrayLike, *, shut: ArrayLike = 0.0, shaft_ratio: ArrayLike = 0.0) -> Floats:
    """Open area of a plate as a fraction of the bore's area.

    Zero at and below the shut angle; constant once the plate hides behind the shaft
    (``cos(psi) <= a cos(psi0)``); symmetrical about 90 degrees.

    Parameters
    ----------
    plate_angle : array_like
        Plate angle psi [deg], any shape.
    shut : array_like
        Plate angle at which the plate meets the bore [deg].
    shaft_ratio : array_like
        Shaft diameter / bore, 0 <= a < 1 [-].

    Returns
    -------
    ndarray
        Fraction of ``pi D^2 / 4``, 0 to 1 [-].

    Examples
    --------
    >>> round(float(open_area_fraction(60.0)), 3)
    0.5

    References
    ----------
    Heywood 1988, §7.6, rearranged so that nothing cancels near the shut angle.
    """
    a = np.asarray(shaft_ratio, float)
    low = np.radians(np.asarray(shut, float))
    psi = np.radians(np.asarray(plate_angle, float))
    # the fold about 90 degrees makes a plate past the axis count like one short of it
    psi = np.maximum(0.5 * np.pi - np.abs(psi - 0.5 * np.pi), low)
    ratio = np.cos(psi) / np.cos(low)  # 1 when shut
    # 1 - ratio without cancellation, by the product form of the difference of cosines
    gone = 2.0 * np.sin(0.5 * (psi + low)) * np.sin(0.5 * (psi - low)) / np.cos(low)
    safe = np.maximum(np.maximum(ratio, a), 1e-300)
    chord = np.sqrt(np.maximum((safe - a) * (safe + a), 0.0)) / safe
    whole = np.sqrt((1.0 - a) * (1.0 + a))
    # (2/pi) { a [chord - whole] - asin a + ratio asin(a/ratio) }: what the shaft hides
    shaft = a * (chord - whole) - np.arcsin(a) + ratio * np.arcsin(np.clip(a / safe, 0.0, 1.0))
    open_part = gone + (2.0 / np.pi) * shaft
    full = 1.0 - (2.0 / np.pi) * (a * whole + np.arcsin(a))
    return np.asarray(np.where(ratio <= a, full, np.maximum(open_part, 0.0)))


def open_area_slope(plate_angle: ArrayLike, *, shut: ArrayLike = 0.0, shaft_ratio: ArrayLike = 0.0) -> Floats:
    """Derivative of :func:`open_area_fraction` by the plate angle [1/deg].

    Zero below the shut angle and where the plate hides behind the shaft; at the shut angle itself
    the slope on the opening side.

    Parameters
    ----------
    plate_angle, shut, shaft_ratio : array_like
        As for :func:`open_area_fraction` [deg, deg, -].

    References
    ----------
    Heywood 1988, §7.6, differentiated.
    """
    a = np.asarray(shaft_ratio, float)
    low = np.radians(np.asarray(shut, float))
    psi = np.radians(np.asarray(plate_angle, float))
    past = np.where(psi > 0.5 * np.pi, -1.0, 1.0)
    folded = 0.5 * np.pi - np.abs(psi - 0.5 * np.pi)
    ratio = np.cos(folded) / np.cos(low)
    safe = np.maximum(np.maximum(ratio, a), 1e-300)
    chord = np.sqrt(np.maximum((safe - a) * (safe + a), 0.0))
    by_ratio = 1.0 - (2.0 / np.pi) * (np.arcsin(np.clip(a / safe, 0.0, 1.0)) - (a / safe) * (chord / safe))
    slope = past * np.sin(folded) / np.cos(low) * by_ratio * (np.pi / 180.0)
    return np.asarray(np.where((ratio <= a) | (folded < low), 0.0, slope))


def open_area(run: Motion) -> dict[str, Floats | None]:
    """Open area of every shaft [mm^2], all its plates together, shape (n,) each; None without a bore."""
    found: dict[str, Floats | None] = {}
    for name, fraction in open_area_fractions(run).items():
        shaft = run.rig.shaft[name]
        if fraction is None:
            found[name] = None
        else:
            bore = run.train.dims[f"shaft.{name}.bore"]
            found[name] = fraction * (0.25 * np.pi * bore**2 * shaft.plates)
    return found


def open_area_fractions(run: Motion) -> dict[str, Floats | None]:
    """Open area of every shaft as a fraction of its bores' area [-], shape (n,); None without a bore."""
    dims = run.train.dims
    found: dict[str, Floats | None] = {}
    for name, angle in run.plate_angle.items():
        at = f"shaft.{name}"
        if run.rig.shaft[name].bore is None:
            found[name] = None
            continue
        ratio = dims[f"{at}.shaft_diameter"] / dims[f"{at}.bore"]
        found[name] = open_area_fraction(angle, shut=dims[f"{at}.plate_angle.shut"], shaft_ratio=ratio)
    return found
