"""The pedal and the followers as parts of the plain document, lengths in the design's own units, degrees.

None where the design has none.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from linkage.answers.followers import Following
from linkage.answers.pedal import PedalReport
from linkage.motion import Motion, RatioPedal
from linkage.quantities import own_scale

Document = dict[str, Any]


def pedal_document(run: Motion, report: PedalReport | None) -> Document | None:
    """The key ``pedal`` of the document; ``turn`` stands over its positions [deg]."""
    foot, moved = run.pedal_line, run.moved
    if report is None or foot is None or moved is None:
        return None
    size = own_scale(run.rig.units, "length")
    lead = report.lead

    def own(value: float | None) -> float | None:
        return None if value is None else value / size

    return {
        "sort": report.sort,
        "turn": None if isinstance(foot, RatioPedal) else np.degrees(foot.turn(moved)),
        "travel": own(report.needed),
        "travel_to_stop": own(report.to_stop),
        "travel_to_floor": own(report.room),
        "ratio": report.ratio,
        "gain": [gain * size for gain in report.gain],
        "first": report.first,
        "stop": None
        if lead is None
        else {"lead": own(float(lead.lead)), "plate_left": float(lead.left), "plate_short": float(lead.short)},
        "dead_centre": report.dead_centre,
        "cable_angle": None if report.least_angle is None else report.least_angle.value,
        "cable_swing": report.swing,
        "progression": {
            "ratio": report.progression,
            "table": [
                {
                    "pad_fraction": row.fraction,
                    "plate_angle": row.plate_angle,
                    "open_area_fraction": row.open_area_fraction,
                }
                for row in report.table
            ],
        },
    }


def followers_document(run: Motion, found: Mapping[str, Following] | None) -> Document | None:
    """The key ``followers`` of the document, by name; ``moved`` stands over its positions."""
    if found is None:
        return None
    size = own_scale(run.rig.units, "length")
    told: Document = {}
    for name, at in found.items():
        scale = size if at.unit == "mm" else 1.0
        told[name] = {
            "at": at.at,
            "unit": at.unit if at.unit == "deg" else run.rig.units,
            "stroke": at.stroke / scale,
            "at_wide_open": at.end / scale,
            "path": None if at.path is None else at.path / size,
            "moved": at.moved / scale,
            "done": [
                {
                    "share": done.share,
                    "fraction": done.fraction,
                    "opening_fraction": done.opening,
                    "plate_angle": done.plate_angle,
                }
                for done in at.done
            ],
            "turns_back": list(at.back),
        }
    return told
