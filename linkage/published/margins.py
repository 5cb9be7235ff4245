"""Air through a plate and tolerance stacks, worked with the answers' own functions."""

from __future__ import annotations

import math

import numpy as np

from linkage.answers.airflow import open_area_fraction
from linkage.answers.flow import CRITICAL, flow_function, mass_flow
from linkage.answers.tolerance_sums import worst_and_rss
from linkage.parts import Air
from linkage.published.rows import Found, Given, Measured


def air_flow(given: Given) -> Found:
    """Dimensionless flow at pressure ratios; or area [m^2] and flow [kg/s] of one plate."""
    if "D" not in given:
        return {
            "pr_critical": Measured(CRITICAL, ""),
            "psi_choked": Measured(float(flow_function(0.0)), ""),
            "psi": [Measured(float(v), "") for v in flow_function(given["pr"])],
        }
    bore = 1e3 * float(given["D"])
    share = open_area_fraction(given["psi"], shut=given["psi0"], shaft_ratio=given["a"])
    area = float(share) * 0.25 * math.pi * bore**2  # [mm^2]

    def flow(ratio: float) -> float:
        air = Air(ratio, float(given["Cd"]), 1e-3 * float(given["p0"]), float(given["T0"]) - 273.15)
        return float(mass_flow(area, air)) / 3600.0

    return {
        "A": Measured(1e-6 * area, "m^2"),
        "mdot": Measured(flow(float(given["pr"])), "kg/s"),
        "mdot_choked": Measured(flow(0.5 * CRITICAL), "kg/s"),
    }


def stack(given: Given) -> Found:
    """Nominal gap of a stack of parts, and what its plus-or-minus values make of it both ways."""
    worst, rss = worst_and_rss(given["tol"])
    return {
        "gap": Measured(float(np.sum(given["terms"])), ""),
        "worst": Measured(float(worst), ""),
        "rss": Measured(float(rss), ""),
    }
