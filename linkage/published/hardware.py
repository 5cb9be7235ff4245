"""Throttle plates and threads, worked with :mod:`linkage.answers.airflow` and :mod:`linkage.threads`."""

from __future__ import annotations

from linkage.answers import airflow
from linkage.published.rows import Found, Given, Measured
from linkage.threads import length_per_turn, thread


def open_area(given: Given) -> Found:
    """Open area of a plate, fraction of the bore's; largest area; where the shaft hides the plate."""
    shut, a = float(given["psi0_deg"]), float(given["a_d_over_D"])

    def fraction(psi: float) -> float:
        return float(airflow.open_area_fraction(psi, shut=shut, shaft_ratio=a))

    largest = fraction(90.0)
    return {
        "area_fraction_of_bore": [Measured(fraction(psi), "") for psi in given["psi_deg"]],
        "psi_saturation": Measured(_saturation(shut, a), "deg"),
        "area_max": Measured(largest, ""),
    }


def _saturation(shut: float, a: float) -> float:
    """Least plate angle [deg] from which the area grows no more: where its slope becomes zero."""
    low, high = shut, 90.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        grows = airflow.open_area_slope(middle, shut=shut, shaft_ratio=a) > 0.0
        low, high = (middle, high) if grows else (low, middle)
    return high


def screw_thread(given: Given) -> Found:
    """What a link's thread does in a turn, half a turn and a flat, and how deep it holds [mm]."""
    of = thread(given["designation"])
    turn = length_per_turn(of.pitch, "left+right")
    return {
        "pitch_mm": Measured(of.pitch, "mm"),
        "lr_turn_mm": Measured(turn, "mm"),
        "half_turn_mm": Measured(turn / 2.0, "mm"),
        "sixth_turn_mm": Measured(turn / 6.0, "mm"),
        "nominal_mm": Measured(of.nominal, "mm"),
        "minor_basic_mm": Measured(of.minor, "mm"),
        "engage_1xD": Measured(of.nominal, "mm"),
        "engage_1p5xD": Measured(1.5 * of.nominal, "mm"),
        "turns_for_1p5D": Measured(of.turns_in(1.5 * of.nominal), "turns"),
    }
