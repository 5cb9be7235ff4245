r"""Air through the plates: one-dimensional isentropic flow, choked below the critical pressure ratio.

::

    m = C_D A p0 / sqrt(R T0) * Psi(pr)        pr = manifold pressure / ambient pressure

    Psi = sqrt( 2g/(g-1) (pr^(2/g) - pr^((g+1)/g)) )      above the critical ratio
    Psi = sqrt(g) (2/(g+1))^((g+1)/(2(g-1)))              below it, (2/(g+1))^(g/(g-1)) = 0.528

Good for relative size, not for predicting a meter: every plate is taken to have the same
depression and discharge coefficient, and all of its air to pass its edge.

References
----------
J. B. Heywood, *Internal Combustion Engine Fundamentals*, McGraw-Hill 1988, appendix C, eqs. C-8 and
C-9 (from memory). Ratio of specific heats 1.4 and gas constant 287.05 J/(kg K) of dry air: ICAO
Doc 7488, *Manual of the ICAO Standard Atmosphere*, 1993, table of primary constants (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage.answers.airflow import open_area, open_area_fractions, open_area_slope
from linkage.answers.checks import Check
from linkage.answers.mismatch import area_spread
from linkage.motion import Motion
from linkage.parts import Air, Linkage
from linkage.train import compared

Floats = NDArray[np.float64]

#: ratio of specific heats of air [-] and its gas constant [J/(kg K)]
GAMMA, GAS_CONSTANT = 1.4, 287.05
#: below this pressure ratio the flow is sonic at the plate and grows no more [-]
CRITICAL = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
_SHUT = 1e-9  # [-] a plate with less of its bore open is shut

#: idle air by which barrels may differ [kg/h]; common practice, no source
AIR_AT_IDLE = 0.5


@dataclass(frozen=True)
class AirFlow:
    """Air of a solved motion.

    ``flow`` [kg/h] is each shaft's, all its plates together, shape (n,); ``spread_percent`` [%] the
    largest less the smallest flow of a plate in percent of the mean, shape (n,), ``nan`` where every
    plate is shut. ``spread_at_idle`` [%] and ``apart_at_idle`` [kg/h] say the same at the closing
    stop, per plate. ``one_percent`` [deg] is the plate angle that changes a shaft's idle air by one
    percent; None with a plate that is shut there.
    """

    pressure_ratio: float
    choked: bool
    flow: Mapping[str, Floats]
    spread_percent: Floats
    spread_at_idle: float | None
    apart_at_idle: float
    one_percent: Mapping[str, float | None]


def flow_function(pressure_ratio: ArrayLike) -> Floats:
    """Flow per unit of effective area, made dimensionless: ``m sqrt(R T0) / (C_D A p0)`` [-].

    Constant below the critical pressure ratio; 0 at a ratio of 1 and above.

    Parameters
    ----------
    pressure_ratio : array_like
        Pressure behind the plate / pressure before it [-], any shape.

    Examples
    --------
    >>> round(float(flow_function(0.3)), 4)
    0.6847

    References
    ----------
    Heywood 1988, appendix C, eqs. C-8 and C-9 (from memory).
    """
    ratio = np.clip(np.asarray(pressure_ratio, float), CRITICAL, 1.0)
    inside = ratio ** (2.0 / GAMMA) - ratio ** ((GAMMA + 1.0) / GAMMA)
    return np.asarray(np.sqrt(2.0 * GAMMA / (GAMMA - 1.0) * np.maximum(inside, 0.0)))


def mass_flow(area: ArrayLike, air: Air) -> Floats:
    """Air through an open area [kg/h].

    Parameters
    ----------
    area : array_like
        Open area [mm^2], any shape.
    air : Air
        Ambient pressure [kPa] and temperature [deg C], pressure ratio and discharge coefficient [-].
    """
    before = air.ambient_pressure * 1e3 / math.sqrt(GAS_CONSTANT * (air.ambient_temperature + 273.15))
    per_second = air.discharge_coefficient * np.asarray(area, float) * 1e-6 * before
    return np.asarray(3600.0 * per_second * flow_function(air.pressure_ratio))


def air_flow(run: Motion) -> AirFlow | None:
    """Air of every shaft through the travel; None where :func:`lacks` says what is missing.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    AirFlow or None
    """
    air = run.rig.air
    if air is None or lacks(run.rig):
        return None
    idle = run.at(run.ends[0])
    plates = {name: run.rig.shaft[name].plates for name in run.rig.shaft}
    flows = _flows(idle, air)
    each = [float(flows[name][0]) / plates[name] for name in compared(run.rig)]
    spread, at_idle = area_spread(run), area_spread(idle)
    assert spread is not None
    assert at_idle is not None
    return AirFlow(
        pressure_ratio=air.pressure_ratio,
        choked=air.pressure_ratio <= CRITICAL,
        flow=_flows(run, air),
        spread_percent=spread,
        spread_at_idle=None if np.isnan(at_idle[0]) else float(at_idle[0]),
        apart_at_idle=max(each) - min(each),
        one_percent=_one_percent(idle),
    )


def _flows(run: Motion, air: Air) -> dict[str, Floats]:
    return {name: mass_flow(area, air) for name, area in open_area(run).items() if area is not None}


def _one_percent(idle: Motion) -> dict[str, float | None]:
    """Degrees of plate that change each shaft's idle air by one percent."""
    found: dict[str, float | None] = {}
    dims = idle.train.dims
    for name, fraction in open_area_fractions(idle).items():
        at = f"shaft.{name}"
        slope = open_area_slope(
            idle.plate_angle[name],
            shut=dims[f"{at}.plate_angle.shut"],
            shaft_ratio=dims[f"{at}.shaft_diameter"] / dims[f"{at}.bore"],
        )
        known = fraction is not None and fraction[0] > _SHUT and slope[0] > 0.0
        found[name] = 0.01 * float(fraction[0] / slope[0]) if known and fraction is not None else None
    return found


def lacks(rig: Linkage) -> str:
    """What to add to the design file for this answer, in one sentence; "" where nothing lacks."""
    if rig.air is None:
        return (
            "Air needs the table [air] with pressure_ratio, the manifold pressure over the ambient pressure "
            "(0.7, say, at idle)."
        )
    without = [name for name, shaft in rig.shaft.items() if shaft.bore is None]
    if without:
        names = " and ".join(f'"{name}"' for name in without)
        return f"Air needs the bore of shaft {names}."
    return ""


def checks(run: Motion, report: AirFlow | None) -> tuple[Check, ...]:
    """Idle air of the barrels against what a meter would send one back to mend."""
    if report is None or len(compared(run.rig)) < 2:
        return ()
    over = report.apart_at_idle > AIR_AT_IDLE
    percent = "" if report.spread_at_idle is None else f", {report.spread_at_idle:.1f} % of their mean"
    mend = "; set the idle stops and link lengths closer" if over else ""
    return (
        Check(
            "air_at_idle", "caution" if over else "pass", report.apart_at_idle, AIR_AT_IDLE, "kg/h", "closing stop",
            f"the barrels draw air {report.apart_at_idle:.2f} kg/h apart at idle{percent}; "
            f"up to {AIR_AT_IDLE:g} is usual{mend}.",
        ),
    )  # fmt: skip
