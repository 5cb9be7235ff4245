"""The figures of staged linkages: each candidate solved by itself, by the answers of a single linkage.

Slack puts kinks into the curves, at another place for every candidate, so that what is worked out for many at
once between fixed positions does not hold. This is exact and slow: a handful of candidates a second on one
processor, where others go by the ten thousand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from linkage.answers import staging, verdict
from linkage.answers.cable import cable_report
from linkage.answers.checks import Check, worst
from linkage.answers.mismatch import mismatch
from linkage.answers.progression import progression
from linkage.answers.stops import stops
from linkage.errors import AssemblyError
from linkage.motion import Motion, solve
from linkage.motion.assembly import Dimensions
from linkage.parts import Linkage, dimensions

Floats = NDArray[np.float64]

#: a check that needs springs, which the figures of the motion leave out
_BY_SPRINGS = "staging_closing"


def one_by_one(rig: Linkage, dims: Dimensions, rows: int, names: Sequence[str], reasons: Sequence[str]) -> list[Floats]:
    """Figures ``names`` of variants of a staged linkage, (rows,) each; ``reasons`` as in :mod:`linkage.search.figures`.

    Raises
    ------
    AssemblyError
        What keeps the only candidate from being assembled.
    """
    table = {path: np.broadcast_to(np.asarray(value, float), (rows,)) for path, value in dims.items()}
    known = dimensions(rig)
    found = np.full((len(names), rows), np.nan)
    found[-2:] = [[2.0], [reasons.index("cannot be assembled") + 1.0]]
    for row in range(rows):
        there = rig
        for path, values in table.items():
            if known.get(path) != values[row]:
                there = there.replace(path, float(values[row]))
        for path in known.keys() - table.keys():  # left out, to be fitted
            there = there.replace(path, None)
        try:
            run = solve(there, positions=2)
        except AssemblyError:
            if rows == 1:
                raise
            continue
        figures = of_one(run, reasons)
        found[:, row] = [figures[name] for name in names]
    return list(found)


def of_one(run: Motion, reasons: Sequence[str]) -> Mapping[str, float]:
    """Figures of one solved linkage by the answers of a single one."""
    apart, ends, cable, staged = mismatch(run), stops(run), cable_report(run), staging.staging(run)
    checks = [
        *verdict.motion_checks(run, apart, ends, cable),
        *(check for check in staging.checks(run, staged) if check.name != _BY_SPRINGS),
    ]
    by_name: dict[str, Check] = {check.name: check for check in checks}
    before = [float(np.degrees(margin)) for margin in run.travel.before_toggle]
    end = run.at(run.ends[1])

    def value(name: str) -> float:
        number = by_name[name].value if name in by_name else None
        return np.nan if number is None else number

    ratio = progression(run).ratio
    gaps = {**ends.closing.gaps, **ends.opening.gaps}
    gaps |= dict.fromkeys([held for held in (ends.closing.holds, ends.opening.holds) if held is not None], 0.0)
    failed = {check.name for check in checks if check.verdict == "fail"}
    reason = next((i for i, name in enumerate(reasons, 1) if name in failed), 0)
    return {
        "mismatch": apart.largest.value,
        "mismatch_at_idle": apart.at_idle,
        "mismatch_off_idle": apart.off_idle.value,
        "mismatch_middle": np.nan if apart.middle is None else apart.middle.value,
        "mismatch_last": apart.last.value,
        "mismatch_at_wide_open": apart.at_wide_open,
        "progression_ratio": np.nan if ratio is None else ratio,
        "driver_turn": abs(run.ends[1] - run.ends[0]),
        "cable_travel": np.nan if end.cable is None else float(end.cable[0]),
        "transmission_angle": value("transmission_angle"),
        "toggle_margin_closing": before[0],
        "toggle_margin_opening": before[1],
        "tilt": value("tilt"),
        "wide_open_shortfall": value("wide_open_shortfall"),
        **{f"gap:{name}": gap for name, gap in gaps.items()},
        **{f"length:{j.step.by.name}": float(j.length) for j in run.train.joints if j.forward is not None},
        **{f"pick_up:{at.name}": at.fraction for at in (staged.pick_ups if staged is not None else ())},
        "verdict": float(("pass", "caution", "fail").index(worst(checks))),
        "reason": float(reason),
    }
