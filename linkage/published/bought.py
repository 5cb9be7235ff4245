"""Springs and rod ends, worked with :mod:`linkage.spring_wire`; each example in the units of its book."""

from __future__ import annotations

import math

from linkage.published.rows import Found, Given, Measured
from linkage.spring_wire import extension_coils, extension_rate, rod_end_tilt, torsion_coils, torsion_rate


def torsion_spring(given: Given) -> Found:
    """Active coils and rate; or the coils that a wished rate needs."""
    wire, mean, modulus = float(given["d"]), float(given["D"]), float(given["E"])
    if "k_Nmm_per_rad" in given:
        return {"N": Measured(torsion_rate(wire, mean, 1.0, modulus) / float(given["k_Nmm_per_rad"]), "coils")}
    coils = torsion_coils(float(given["Nb"]), (float(given["l1"]), float(given["l2"])), mean)
    bare = torsion_rate(wire, mean, coils, modulus)
    return {
        "Na": Measured(coils, "coils"),
        "k_lbf_in_per_turn": Measured(
            2.0 * math.pi * torsion_rate(wire, mean, coils, modulus, friction=True), "lbf in/turn"
        ),
        "k_exact_64": Measured(bare, "lbf in/rad"),
        "k_exact_64_per_turn": Measured(2.0 * math.pi * bare, "lbf in/turn"),
    }


def extension_spring(given: Given) -> Found:
    """Active coils, rate, and the stretch at a force beyond the initial tension."""
    wire = float(given["d"])
    coils = extension_coils(float(given["Nb"]), float(given["G"]), float(given["E"]))
    rate = extension_rate(wire, float(given["OD"]) - wire, coils, float(given["G"]))
    stretch = (float(given["F"]) - float(given["Fi"])) / rate
    return {"Na": Measured(coils, "coils"), "k": Measured(rate, "lbf/in"), "y": Measured(stretch, "in")}


def rod_end(given: Given) -> Found:
    """Tilt that a rod end permits."""
    return {"alpha_deg": Measured(rod_end_tilt(float(given["B"]), float(given["C1"]), float(given["dk"])), "deg")}
