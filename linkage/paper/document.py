"""The answer as one plain document (nested dicts, lists, numbers): what ``check --json`` prints.

Angles in degrees, lengths in the design's own ``units``. A key, once published, keeps its meaning.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from linkage import turns
from linkage.answers import Answer, Check, joints
from linkage.answers.airflow import open_area
from linkage.answers.extremes import Extreme
from linkage.answers.stops import End
from linkage.paper import document_flex, document_margins, document_pedal, document_road, report_staging
from linkage.paper.lines import KINDS, per_own
from linkage.parts import Linkage
from linkage.quantities import own_scale, own_unit

Document = dict[str, Any]

FORMAT = 1


def document(answer: Answer) -> Document:
    """The whole answer; ``nan`` and endless values become None.

    Parameters
    ----------
    answer : Answer

    Returns
    -------
    dict
        As written down in the README, "The answer as JSON".
    """
    run = answer.run
    scale = 1.0 if run.rig.units == "mm" else 1.0 / 25.4  # design's units per mm
    found = {
        "format": FORMAT,
        "title": run.rig.title,
        "units": run.rig.units,
        "verdict": answer.verdict,
        "travel": {
            "turn": run.turn / turns.scale_of(run.rig, run.rig.driver),
            "cable": None if run.cable is None else run.cable * scale,
            "fraction": run.fraction,
            "pedal": None if run.pedal is None else run.pedal * scale,
        },
        "shafts": _shafts(answer, scale),
        "members": {
            name: {turns.word_of(run.rig, name): turn / turns.scale_of(run.rig, name)}
            for name, turn in run.member_turn.items()
        },
        "links": _links(answer, scale),
        "mismatch": _mismatch(answer),
        "progression": {
            "ratio": answer.progression.ratio,
            "table": [
                {
                    "fraction": row.fraction,
                    "plate_angle": row.plate_angle,
                    "open_area_fraction": row.open_area_fraction,
                }
                for row in answer.progression.table
            ],
        },
        "stops": {
            "closing": _end(answer.stops.closing, run.rig, scale),
            "opening": _end(answer.stops.opening, run.rig, scale),
        },
        "checks": [_check(check, run.rig.units) for check in answer.checks],
        **_road(answer),
    }
    plain: Document = _plain(found)
    return plain


def _shafts(answer: Answer, scale: float) -> Document:
    run = answer.run
    area, gain = open_area(run), run.gain
    per_length = 1.0 / scale if run.by_length else 1.0
    found = {}
    for name, angle in run.plate_angle.items():
        here = area[name]
        found[name] = {
            "plate_angle": angle,
            "open_area": None if here is None else here * scale**2,
            "gain": gain[name] * per_length,
        }
    return found


def _links(answer: Answer, scale: float) -> Document:
    run = answer.run
    length, angle, tilt = joints.lengths(run), joints.transmission_angles(run), joints.tilts(run)
    fitted = {joint.step.by.name: joint.fitted for joint in run.train.joints}
    return {
        name: {
            "length": length[name] * scale,
            "fitted": fitted[name],
            "transmission_angle": angle[name],
            "tilt": list(tilt[name]),
        }
        for name in run.rig.link
    }


def _mismatch(answer: Answer) -> Document:
    apart = answer.mismatch
    return {
        "largest": apart.largest.value,
        "at_fraction": apart.largest.fraction,
        "at_idle": apart.at_idle,
        "off_idle": apart.off_idle.value,
        "middle": None if apart.middle is None else apart.middle.value,
        "at_wide_open": apart.at_wide_open,
        "rms": apart.rms,
        "flow_at_idle_percent": apart.flow_at_idle_percent,
        "last": apart.last.value,
        "differences": dict(apart.differences),
        "open_area_percent": _extreme(apart.open_area_percent),
    }


def _extreme(found: Extreme | None) -> Document | None:
    return None if found is None else {"value": found.value, "at_fraction": found.fraction}


def _end(end: End, rig: Linkage, scale: float) -> Document:
    return {
        "holds": end.holds,
        "turn": end.turn / turns.scale_of(rig, rig.driver),
        "cable": None if end.cable is None else end.cable * scale,
        "gaps": {name: gap / turns.scale_of(rig, turns.member_of_stop(rig, name)) for name, gap in end.gaps.items()},
        "screws": {name: {"distance": gap.distance * scale, "turns": gap.turns} for name, gap in end.screws.items()},
    }


def _road(answer: Answer) -> Document:
    """What the road does to it: a key for each answer that the design allows."""
    rig = answer.run.rig
    found: Document = {
        "air": document_margins.air_document(answer.air),
        "forces": document_road.forces_document(answer.forces, rig),
        "faults": document_road.faults_document(answer.faults, rig),
        "tolerance": document_margins.tolerance_document(answer.tolerance),
        "heat": document_margins.heat_document(answer.heat, rig),
        "clearance": document_margins.clearance_document(answer.clearance, rig),
        "lost_motion": document_road.lost_motion_document(answer.lost_motion),
        "rocking": document_flex.rocking_document(answer.rocking, rig),
        "twist": document_flex.twist_document(answer.twist, rig),
    }
    found["pedal"] = document_pedal.pedal_document(answer.run, answer.pedal)
    found["staging"] = report_staging.staging_document(answer.staging, rig)
    found["followers"] = document_pedal.followers_document(answer.run, answer.followers)
    found |= {"tilt": document_margins.tilt_document(answer.run), "lacks": list(answer.lacks)}
    return {key: value for key, value in found.items() if value is not None}


def _check(check: Check, units: str) -> Document:
    kind = KINDS.get(check.unit)
    factor, unit = per_own(1.0, check.unit, units)
    factor = factor if kind is None else 1.0 / own_scale(units, kind)
    return {
        "name": check.name,
        "verdict": check.verdict,
        "value": None if check.value is None else check.value * factor,
        "limit": None if check.limit is None else check.limit * factor,
        "unit": unit if kind is None else own_unit(units, kind),
        "where": check.where,
        "says": check.says,
    }


def _plain(value: Any) -> Any:
    """Numbers, text, lists and dicts only; what has no finite value becomes None."""
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, np.ndarray):
        return [_plain(v) for v in value.tolist()]
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): _plain(v) for key, v in value.items()}
    if isinstance(value, Iterable):
        return [_plain(v) for v in value]
    return value.item() if isinstance(value, np.generic) else str(value)
