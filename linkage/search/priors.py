"""What is taken for known of a built linkage before anything is read: tolerances, and what was set by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.answers.dimension_errors import Dimension
from linkage.answers.trials import tolerance_of
from linkage.parts import Linkage, Tolerance

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: tolerances where a design gives none [mm, deg]; common practice, no source
USUAL = Tolerance(link_length=0.25, arm_radius=0.1, arm_angle=0.5, pivot=0.1)
#: what somebody may have set a link or a lever off by, plus or minus [mm, deg]; common practice, no source
BY_HAND = {"mm": 3.0, "deg": 5.0}

_ROOT3 = 3.0**0.5  # limits to the standard deviation of a uniform distribution
_LEAST = {"mm": 0.01, "deg": 0.02}  # a setting without a tolerance is trusted to this


@dataclass(frozen=True, eq=False)
class Priors:
    """Standard deviations [mm, deg] of every dimension: ``close``, within its tolerance (0: exact), and ``wide``,
    as set by hand; which of them are a ``setting``."""

    close: Floats
    wide: Floats
    setting: Bools

    @classmethod
    def of(cls, rig: Linkage, dimensions: Sequence[Dimension]) -> Priors:
        """The priors of a design's dimensions."""
        tolerance = by_tolerance(rig, dimensions)
        setting = np.array([is_setting(d) for d in dimensions], bool)
        least = np.array([_LEAST[d.unit] for d in dimensions])
        hand = np.array([BY_HAND[d.unit] for d in dimensions])
        close = np.where(setting, np.maximum(tolerance, least), tolerance)
        return cls(close / _ROOT3, np.maximum(hand, tolerance) / _ROOT3, setting)


def is_setting(dimension: Dimension) -> bool:
    """Whether a dimension is set on the bench: a link's length, a lever on its shaft, a coupling's offset."""
    if dimension.kind in ("link_length", "coupling_offset"):
        return True
    return dimension.kind == "arm_angle" and dimension.path.startswith("shaft.")


def by_tolerance(rig: Linkage, dimensions: Sequence[Dimension]) -> Floats:
    """Plus-or-minus tolerance of every dimension [mm, deg]: the design's, else :data:`USUAL`; 0: exact.

    A coupling's offset has that of a clamped arm.
    """
    given = rig.tolerance or USUAL
    return np.array([given.arm_angle if d.kind == "coupling_offset" else tolerance_of(given, d) for d in dimensions])
