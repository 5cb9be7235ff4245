"""A fit as one document for another program: lengths in the design's own unit, ``None`` where there is no value."""

from __future__ import annotations

import math
from typing import Any

from linkage.design_file.free import rule_at
from linkage.paper.lines import KINDS
from linkage.quantities import own_scale
from linkage.search.figures import unit_of
from linkage.search.fit import Candidate, Fit

FORMAT = 1


def fit_document(found: Fit) -> dict[str, Any]:
    """The answers of a fit.

    Parameters
    ----------
    found : Fit

    Returns
    -------
    dict
        Angles in degrees, lengths in the design's ``units`` [mm or in]; ``worst`` is the furthest wish over
        what is allowed.
    """
    rig = found.rig
    return {
        "format": FORMAT,
        "title": rig.title,
        "units": rig.units,
        "met": found.best.met,
        "stopped": found.stopped,
        "starts": found.starts,
        "seed": found.seed,
        "wishes": [
            {"name": g.name, "sort": g.sort, "target": _own(found, g.target, g.unit), "unit": g.unit}
            for g in found.goals
        ],
        "start": _candidate(found, found.start),
        "answers": [_candidate(found, answer) for answer in found.answers],
        "conflicts": [
            {
                "wish": c.wish, "bound": c.bound, "side": c.side, "worst": _number(c.worst),
                "value": _dimension(found, c.bound, c.value) if c.bound else _number(c.value),
            }
            for c in found.conflicts
        ],
    }  # fmt: skip


def _candidate(found: Fit, candidate: Candidate) -> dict[str, Any]:
    units = {goal.name: goal.unit for goal in found.goals}
    return {
        "met": candidate.met,
        "worst": _number(candidate.worst),
        "fails": candidate.fails,
        "unmet": list(candidate.unmet),
        "dimensions": {path: _dimension(found, path, v) for path, v in candidate.values.items()},
        "figures": {
            name: _own(found, value, units.get(name, unit_of(name, found.rig)))
            for name, value in candidate.figures.items()
            if name not in ("verdict", "reason")
        },
        "holds": [
            {"name": h.name, "path": h.path, "side": h.side, "weight": _number(h.weight)} for h in candidate.holds
        ],
    }


def _dimension(found: Fit, path: str, value: float) -> float | None:
    springs = {name: {"on": s.on} if s.on else {} for name, s in found.rig.spring.items()}
    rule = rule_at(tuple(path.split(".")), {"spring": springs})
    return _number(value / own_scale(found.rig.units, rule.kind if rule is not None else "number"))


def _own(found: Fit, value: float, unit: str) -> float | None:
    return _number(value / own_scale(found.rig.units, KINDS.get(unit, "number")))


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
