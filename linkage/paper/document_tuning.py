"""A bench tuning as one document for another program: lengths in the design's own unit, ``None`` for the unknown."""

from __future__ import annotations

import math
from typing import Any

from linkage import turns
from linkage.answers.mismatch import Mismatch
from linkage.quantities import own_scale
from linkage.search.readings import Reading
from linkage.search.tune import Tuning

FORMAT = 1


def tuning_document(tuning: Tuning) -> dict[str, Any]:
    """The answers of a bench tuning.

    Parameters
    ----------
    tuning : Tuning

    Returns
    -------
    dict
        Angles in degrees, lengths in the design's ``units`` [mm or in], flows in kg/h.
    """
    found, advice, rig = tuning.estimate, tuning.advice, tuning.run.rig
    scale = own_scale(rig.units, "length")
    return {
        "format": FORMAT,
        "title": rig.title,
        "units": rig.units,
        "fits": found.fits,
        "chi_square": found.fit.chi2,
        "freedom": found.freedom,
        "likelihood": found.likelihood,
        "set_by_hand": found.set_by_hand,
        "dimensions": {
            d.path: {"error": float(e) / per, "within": float(w) / per, "let_go": d.path in found.let_go}
            for d, e, w in zip(found.dimensions, found.error, found.within, strict=True)
            for per in [scale if d.unit == "mm" else 1.0]
        },
        "bad_readings": [
            {
                "row": tuning.readings.rows[b.reading.row].name,
                "line": tuning.readings.rows[b.reading.row].line,
                "column": b.reading.column,
                "read": _value(b.reading, b.reading.value, scale),
                "expected": _value(b.reading, b.expect, scale),
                "within": _value(b.reading, b.within, scale),
                "standard_deviations": b.off,
                "or_else": [[tuning.readings.rows[r.row].name, r.column] for r in b.or_else],
            }
            for b in found.bad
        ],
        "told": {"seen": found.apart.seen, "of": found.apart.of},
        "not_told_apart": [[d.path for d in a.dimensions] for a in found.apart.alike],
        "turn_nothing": advice.stop,
        "why": advice.why or None,
        "adjustments": [
            {
                "path": m.adjuster.path,
                "by": m.by / (scale if m.adjuster.kind == "link" else 1.0),
                "turns": None if m.steps is None or not m.adjuster.turn else m.steps * m.adjuster.turn,
            }
            for m in advice.moves
        ],
        "stop_screws": [
            {
                "stop": s.name, "now": None if s.now is None else s.now / turns.scale_of(rig, s.on),
                "wanted": s.wanted / turns.scale_of(rig, s.on), "turns_in": _number(s.turns),
            }
            for s in advice.screws
        ],
        "mismatch": {
            "as_found": _mismatch(advice.before, advice.before_within, advice.odds_before),
            "afterwards": _mismatch(advice.after, advice.after_within, advice.odds_after),
        },
        "adjusters": [
            {"path": c.path, "step": c.step / (scale if c.kind == "link" else 1.0), "degrees": c.degrees,
             "too_coarse": c.too_coarse}
            for c in advice.coarse
        ],
    }  # fmt: skip


def _mismatch(apart: Mismatch, within: tuple[float, float], odds: float) -> dict[str, Any]:
    return {
        "at_idle": apart.at_idle,
        "off_idle": apart.off_idle.value,
        "middle": None if apart.middle is None else apart.middle.value,
        "last": apart.last.value,
        "largest": apart.largest.value,
        "at_idle_within": _number(within[0]),
        "largest_within": _number(within[1]),
        "odds": odds,
    }


def _value(r: Reading, value: float, scale: float) -> float:
    return value / scale if r.what in ("gap", "cable", "pedal") else value


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else value
