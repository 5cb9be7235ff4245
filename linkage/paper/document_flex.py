"""What gives: the engine in its mounts and the shafts in twist, as parts of the plain document.

Degrees, degrees per degree of roll; lengths in the design's own unit, torques in N.mm or lbf.in. Arrays
stand over the positions of the document and may hold ``nan``. None where the design lacks what is needed.
"""

from __future__ import annotations

from typing import Any

from linkage.answers.rocking import RockingReport
from linkage.answers.twist import TwistReport
from linkage.answers.winding import Twisted
from linkage.parts import Linkage
from linkage.quantities import own_scale

Document = dict[str, Any]


def rocking_document(report: RockingReport | None, rig: Linkage) -> Document | None:
    """The key ``rocking`` of the document [deg, deg/deg]; two entries are for the roll to + and to -."""
    if report is None:
        return None
    scale = own_scale(rig.units, "length")
    return {
        "degrees": report.degrees,
        "immune": report.immune,
        "why": report.why or None,
        "jams": report.jams or None,
        "shafts": {
            name: {
                "rate": report.rate[name],
                "moved": [side[name] for side in report.moved],
                "largest": report.largest[name].value,
                "at_fraction": report.largest[name].fraction,
                "lift": [side[name] for side in report.lifts],
            }
            for name in report.rate
        },
        "mismatch": list(report.mismatch),
        "mismatch_grows": report.mismatch_moved.value,
        "bridges": [
            {
                "name": bridge.name,
                "on_body": bridge.on_body,
                "motion": bridge.motion / scale,
                "along": bridge.along / scale,
                "angle": bridge.angle,
            }
            for bridge in report.bridges
        ],
    }


def twist_document(report: TwistReport | None, rig: Linkage) -> Document | None:
    """The key ``twist`` of the document [deg; stations and torques in the design's units]."""
    if report is None:
        return None
    shaft, plate, way = report.at
    return {
        "opening": _twisted(report.opening, rig),
        "closing": _twisted(report.closing, rig),
        "resting": None if report.resting is None else _twisted(report.resting, rig),
        "largest": {
            "value": report.largest.value,
            "at_fraction": report.largest.fraction,
            "shaft": shaft,
            "plate": plate,
            "way": way,
        },
        "apart": {"value": report.apart.value, "at_fraction": report.apart.fraction},
        "apart_at_idle": report.apart_at_idle,
        "specific": dict(report.specific),
    }


def _twisted(found: Twisted, rig: Linkage) -> Document:
    length, torque = own_scale(rig.units, "length"), own_scale(rig.units, "torque")
    return {
        "shafts": {
            name: {"twist": list(plates), "moved": list(found.moved[name])} for name, plates in found.plates.items()
        },
        "apart": found.apart,
        "mismatch": found.mismatch,
        "members": {
            name: {
                "grips": list(wound.grips),
                "held": wound.held,
                "stations": wound.station / length,
                "twist": list(wound.twist),
                "torque": [row / torque for row in wound.torque],
            }
            for name, wound in found.members.items()
        },
    }
