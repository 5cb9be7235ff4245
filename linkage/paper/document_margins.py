"""Air, tolerance, heat and clearance as parts of the plain document, in the design's own units.

Lengths in ``units``, angles and mismatch in degrees, air in kg/h in either. Arrays stand over the
positions of the document and may hold ``nan``. None where the design lacks what is needed.
"""

from __future__ import annotations

from typing import Any

from linkage.answers.clearance import ClearanceReport
from linkage.answers.flow import AirFlow
from linkage.answers.heat import HeatReport, Standing
from linkage.answers.joints import station_offsets
from linkage.answers.stacks import Share, Stack
from linkage.answers.tolerance import Study, ToleranceReport
from linkage.answers.trials import Trials
from linkage.motion import Motion
from linkage.parts import Linkage
from linkage.quantities import own_scale

Document = dict[str, Any]


def air_document(report: AirFlow | None) -> Document | None:
    """The key ``air`` of the document [kg/h, %, deg]."""
    if report is None:
        return None
    return {
        "pressure_ratio": report.pressure_ratio,
        "choked": report.choked,
        "shafts": {
            name: {"flow": flow, "one_percent_at_idle": report.one_percent[name]} for name, flow in report.flow.items()
        },
        "spread_percent": report.spread_percent,
        "spread_at_idle_percent": report.spread_at_idle,
        "apart_at_idle": report.apart_at_idle,
    }


def tolerance_document(report: ToleranceReport | None) -> Document | None:
    """The key ``tolerance`` of the document [deg]: as the parts come, and ``links_set`` on the bench."""
    if report is None:
        return None
    return {**_study(report.as_built), "links_set": _study(report.links_set)}


def _study(study: Study) -> Document:
    governs = study.stacks.governs
    return {
        "at_idle": _stack(study.stacks.at_idle),
        "largest": _stack(study.stacks.largest),
        "monte_carlo": _trials(study.trials),
        "shares": [_share(share) for share in governs.shares],
        "by_kind": study.stacks.by_kind,
        "governs": {"between": list(governs.between), "at_fraction": governs.fraction},
        "hold": list(study.hold),
        "let_go": list(study.let_go),
    }


def _stack(stack: Stack) -> Document:
    return {"worst_case": stack.worst_case, "rss": stack.rss}


def _trials(trials: Trials) -> Document:
    return {
        "samples": trials.samples,
        "seed": trials.seed,
        "distribution": trials.distribution,
        "p95": trials.p95,
        "p95_at_idle": trials.p95_at_idle,
        "yield": trials.yields,
    }


def _share(share: Share) -> Document:
    return {"dimension": share.dimension.path, "share": share.share, "moves": share.moves}


def heat_document(report: HeatReport | None, rig: Linkage) -> Document | None:
    """The key ``heat`` of the document [deg; set_cold in the design's unit]; ``hot`` is None where it jams."""
    if report is None:
        return None
    scale = own_scale(rig.units, "length")
    return {
        "cold": _standing(report.cold),
        "hot": None if report.hot is None else _standing(report.hot),
        "lifts": dict(report.lifts),
        "common_lift": report.common_lift,
        "set_cold": {name: by / scale for name, by in report.set_cold.items()},
    }


def _standing(standing: Standing) -> Document:
    return {
        "largest": standing.mismatch.largest.value,
        "at_idle": standing.mismatch.at_idle,
        "at_wide_open": standing.mismatch.at_wide_open,
        "holds": list(standing.holds),
        "idle_plate_angle": dict(standing.idle_plate_angle),
    }


def clearance_document(report: ClearanceReport | None, rig: Linkage) -> Document | None:
    """The key ``clearance`` of the document, in the design's unit: the least gap, and that of every pair."""
    if report is None:
        return None
    scale = own_scale(rig.units, "length")
    least = report.least
    return {
        "least": least.gap / scale,
        "between": list(least.between),
        "at_fraction": least.fraction,
        "gaps": [
            {"between": list(gap.between), "gap": gap.gap / scale, "at_fraction": gap.fraction} for gap in report.gaps
        ],
        "without_size": list(report.without_size),
    }


def tilt_document(run: Motion) -> Document:
    """Station offset of every link between parallel axes, drawn and permitted, in the design's unit; limit in deg."""
    scale = own_scale(run.rig.units, "length")
    return {
        name: {"offset": found.offset / scale, "largest": found.largest / scale, "limit": found.limit}
        for name, found in station_offsets(run).items()
    }
