"""Forces, faults and lost motion as parts of the plain document, in the design's own units.

N and N.mm in a design in mm, lbf and lbf.in in one in inches (1 lbf is 4.4482216152605 N exactly);
degrees. Arrays stand over the positions of the document. None where the design lacks what is needed.
"""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray

from linkage.answers.faults import Faults
from linkage.answers.forces import Forces
from linkage.answers.lost_motion import LostMotion
from linkage.answers.springs import SpringAction
from linkage.closure import SLIDING
from linkage.parts import Linkage
from linkage.quantities import Kind, own_scale

Document = dict[str, Any]


def forces_document(report: Forces | None, rig: Linkage) -> Document | None:
    """The key ``forces`` of the document [N, N.mm or lbf, lbf.in]; arrays may hold ``nan``."""
    if report is None:
        return None

    def told(values: NDArray[Any] | None, kind: Kind) -> NDArray[Any] | None:
        return None if values is None else values / own_scale(rig.units, kind)

    return {
        "cable_tension": told(report.tension, "force"),
        "cable_tension_closing": told(report.tension_closing, "force"),
        "pedal_force": told(report.pedal, "force"),
        "pedal_force_closing": told(report.pedal_closing, "force"),
        **_at_driver(report, rig),
        "returns": report.returns,
        "shafts": {name: {"closing_torque": told(torque, "torque")} for name, torque in report.shafts.items()},
        "links": {
            name: {
                "force": told(link.force, "force"),
                "force_closing": told(link.closing, "force"),
                "side_load": [told(side, "force") for side in link.side],
                "buckling_safety": link.buckling,
            }
            for name, link in report.links.items()
        },
        "springs": {
            name: {**_closing(spring, rig), "pull": told(spring.pull, "force")}
            for name, spring in report.springs.items()
        },
    }


def _at_driver(report: Forces, rig: Linkage) -> Document:
    """Torque that opens and closes the driver, of one that slides the force along its guide."""
    if not rig.slides(rig.driver):
        size = own_scale(rig.units, "torque")
        return {"driver_torque": report.opening / size, "driver_torque_closing": report.closing / size}
    size = SLIDING * own_scale(rig.units, "force")
    return {"driver_force": report.opening / size, "driver_force_closing": report.closing / size}


def _closing(spring: SpringAction, rig: Linkage) -> Document:
    """What a spring closes its member with, of one that slides the force along its guide."""
    if not rig.slides(spring.member):
        return {"closing_torque": spring.closing / own_scale(rig.units, "torque")}
    return {"closing_force": spring.closing / (SLIDING * own_scale(rig.units, "force"))}


def faults_document(report: Faults | None, rig: Linkage) -> list[Document] | None:
    """The key ``faults`` of the document: each fault, its verdict, how each shaft closes [N.mm or lbf.in]."""
    if report is None:
        return None
    size = own_scale(rig.units, "torque")
    return [
        {
            "lost": case.lost,
            "verdict": case.verdict,
            "shafts": {
                name: {
                    "closes": at.closes,
                    "least_torque": at.least_torque / size,
                    "plate_angle": at.plate_angle,
                    "over_friction": at.ratio,
                    "springs": list(at.springs),
                }
                for name, at in case.shafts.items()
            },
        }
        for case in report.cases
    ]


def lost_motion_document(report: LostMotion | None) -> Document | None:
    """The key ``lost_motion`` of the document: the largest at each shaft [deg]."""
    return None if report is None else {name: at.value for name, at in report.largest.items()}
