"""What a snail quadrant came to: as text, and as one document for another program."""

from __future__ import annotations

import math
import textwrap
from typing import Any

from linkage.answers import CAUTION
from linkage.answers.quadrant import checks
from linkage.quantities import own_scale, own_unit
from linkage.search.snail import Snail
from linkage.tables import text

FORMAT = 1
_MARK = {"pass": "✓", "caution": "!", "fail": "✗"}


def snail_report(found: Snail) -> str:
    """The profile, what it reaches, and whether its groove can be cut; lengths in the design's unit."""
    rig = found.rig
    scale, unit = own_scale(rig.units, "length"), own_unit(rig.units, "length")
    digits = 3 if rig.units == "mm" else 5
    assert rig.cable is not None
    lines = [f'{rig.title}: a snail quadrant on "{rig.driver}", which the pull turns {rig.cable.pull_turns}', ""]
    profile = {
        "point": [str(i + 1) for i in range(len(found.turns))],
        "turn [deg]": [f"{turn:.4f}" for turn in found.turns],
        f"moment arm [{unit}]": [f"{arm / scale:.{digits}f}" for arm in found.arms],
    }
    lines += [text(profile), ""]
    if found.wish.progression:
        pairs = found.wished
        points = {
            "travel [%]": [f"{100.0 * share:.1f}" for share, _ in pairs],
            "wished open [%]": [f"{100.0 * opening:.2f}" for _, opening in pairs],
            "opens [%]": [f"{100.0 * opened:.2f}" for opened in found.reached],
        }
        lines += [text(points), ""]
    for words, run in (("as drawn", found.before), ("with the snail", found.after)):
        cable, ratio = _whole(run), _ratio(run)
        told = "no bound" if ratio is None else f"{ratio:.3f}"
        lines.append(f"{words}: cable {cable / scale:.{digits}f} {unit}, progression ratio {told}")
    lines.append("")
    lines += [
        textwrap.fill(f"{_MARK[c.verdict]} {c.says[:1].upper()}{c.says[1:]}", 96, subsequent_indent="  ")
        for c in checks(found.after, found.report)
    ]
    if rig.cable.casing_end is None:
        lines.append("! Without casing_end the cable is taken to keep its direction; give it before the groove is cut.")
    return "\n".join([*lines, "", textwrap.fill(CAUTION, 96)])


def snail_document(found: Snail) -> dict[str, Any]:
    """The profile and its groove: angles in degrees, lengths in the design's ``units`` [mm or in], ``None`` where there
    is no value."""
    rig = found.rig
    scale = own_scale(rig.units, "length")
    return {
        "format": FORMAT,
        "title": rig.title,
        "units": rig.units,
        "sound": found.sound,
        "profile": [[float(turn), float(arm / scale)] for turn, arm in zip(found.turns, found.arms, strict=True)],
        "progression": [
            {"travel": share, "wished": opening, "opens": float(opened)}
            for (share, opening), opened in zip(found.wished, found.reached, strict=True)
        ],
        "cable_travel": {"before": _whole(found.before) / scale, "after": _whole(found.after) / scale},
        "progression_ratio": {"before": _ratio(found.before), "after": _ratio(found.after)},
        "groove": {
            "least_radius": _number(found.report.least_radius / scale),
            "at_turn": found.report.tightest,
            "cusps": [list(span) for span in found.report.cusps],
            "free_run": _number(found.report.free_run / scale),
        },
        "checks": [
            {"name": c.name, "verdict": c.verdict, "says": c.says} for c in checks(found.after, found.report)
        ],
    }  # fmt: skip


def _whole(run: Any) -> float:
    return abs(float(run.at(run.ends[1]).cable[0]))


def _ratio(run: Any) -> float | None:
    """Gain at wide open by the gain at idle, of the first-named shaft."""
    low, high = (float(g) for g in run.at(run.ends).gain[next(iter(run.rig.shaft))])
    return _number(high / low) if low else None


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
