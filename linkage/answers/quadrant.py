"""The snail quadrant: whether its groove can be cut and the cable can lie on it through the whole travel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from linkage.answers.checks import Check
from linkage.motion import Motion, SnailCable
from linkage.motion.groove import Groove, groove
from linkage.tables import length

_SAME = 1e-7  # [deg]


@dataclass(frozen=True, eq=False)
class QuadrantReport:
    """The groove of a snail quadrant.

    ``least_radius`` [mm] of its curvature is met at the driver turn ``tightest`` [deg]; see
    :mod:`linkage.motion.groove` for how it is judged. ``cusps`` are spans of driver turns [deg] where no groove can
    be cut that the cable follows; ``free_run`` [mm] is the least between groove and casing end (``inf`` without
    one). ``lacks`` [deg] is how far the travel goes beyond the points of the profile at its closing and its opening
    end.
    """

    groove: Groove
    least_radius: float
    tightest: float
    cusps: tuple[tuple[float, float], ...]
    free_run: float
    lacks: tuple[float, float]


def quadrant_report(run: Motion) -> QuadrantReport | None:
    """Judge the groove of a motion's snail quadrant; None with any other cable."""
    line = run.line
    if not isinstance(line, SnailCable):
        return None
    found = groove(run.train, line)
    assert found is not None
    first, last = float(run.travel.closing), float(run.travel.opening)
    turns = np.degrees(np.concatenate([at.turn for at in found.pieces]))
    with np.errstate(invalid="ignore", divide="ignore"):
        radii = np.concatenate([found.radius(at) for at in found.pieces])
    tightest = int(np.argmin(radii))
    cusps = list(_spans(turns, radii <= 0.0))
    ends = np.degrees([float(found.arm.x[0]), float(found.arm.x[-1])])
    cusps += [(float(end), float(end)) for end, loop in zip(ends, found.loops(first, last), strict=True) if loop]
    way = 1.0 if last >= first else -1.0
    low, high = (ends[0], ends[1]) if way > 0.0 else (ends[1], ends[0])
    lacks = [max(way * (low - run.ends[0]), 0.0), max(way * (run.ends[1] - high), 0.0)]
    return QuadrantReport(
        found,
        float(found.least_radius(first, last)),
        float(turns[tightest]),
        tuple(cusps),
        float(found.least_run()),
        (float(lacks[0]), float(lacks[1])),
    )


def checks(run: Motion, report: QuadrantReport | None) -> Iterator[Check]:
    """Whether the groove can be cut, and whether the points reach over the whole travel."""
    if report is None:
        return
    cable, units = run.rig.cable, run.rig.units
    assert cable is not None
    radius, bend = report.least_radius, cable.least_bend
    at = f"at {report.tightest:.1f} degrees of driver turn"
    value: float | None = radius if np.isfinite(radius) else None
    if not report.groove.clear:
        word, says = "fail", "the casing end lies nearer to the axis than the cable; move it out"
        value = None
    elif report.cusps:
        spans = ", ".join(_told(span) for span in report.cusps)
        word, says = "fail", (
            f"the groove would have a cusp {spans} of driver turn, which no cable can follow: let the moment arm "
            f"change more slowly and more evenly there"
        )
        at = spans
    elif report.free_run <= 0.0:
        word, says = "fail", (
            "the cable would leave the groove beyond its casing end: move the casing end out, or let the moment arm "
            "change more slowly"
        )
    elif radius < bend:
        word, says = "caution", (
            f"the groove bends the cable to a radius of {length(radius, units)}, {at}; {length(bend, units)} or more "
            f"is kind to it"
        )
    else:
        word, says = "pass", f"the groove bends the cable to a radius of {length(radius, units)} at the tightest, {at}"
    yield Check("quadrant_groove", word, value, bend, "mm", at, f"{says}.")  # type: ignore[arg-type]
    closing, opening = report.lacks
    worst = max(report.lacks)
    ends = " and ".join(
        f"{by:.2f} degrees beyond them at the {side} end"
        for side, by in (("closing", closing), ("opening", opening)) if by > _SAME
    )  # fmt: skip
    yield Check(
        "quadrant_wrap", "caution" if ends else "pass", worst, 0.0, "deg", "",
        f"the travel goes {ends}, where the moment arm is taken to stay constant: give the profile more points."
        if ends else "the points of the profile reach over the whole travel.",
    )  # fmt: skip


def _spans(turns: np.ndarray[tuple[int], np.dtype[np.float64]], bad: np.ndarray[tuple[int], np.dtype[np.bool_]]
           ) -> Iterator[tuple[float, float]]:  # fmt: skip
    """From and to of every stretch of turns that is bad."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], bad, [False]]).astype(int)))
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        yield float(turns[begin]), float(turns[end - 1])


def _told(span: tuple[float, float]) -> str:
    first, last = span
    return f"at {first:.1f} degrees" if last - first < 0.05 else f"from {first:.1f} to {last:.1f} degrees"
