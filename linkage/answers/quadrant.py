"""The snail quadrant: whether its groove can be cut and the cable can lie on it through the whole travel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from linkage.answers.checks import Check, Word
from linkage.motion import Motion, SnailCable
from linkage.motion.groove import Groove, groove
from linkage.tables import length

#: the travel goes beyond the points where it does so by more than this [deg]: rounding is far below it
BEYOND = 1e-7


@dataclass(frozen=True, eq=False)
class QuadrantReport:
    """The groove of a snail quadrant.

    ``least_radius`` [mm] of its curvature is met at the driver turn ``tightest`` [deg], in the ``piece`` of the
    profile from 0; see :mod:`linkage.motion.groove` for how it is judged. ``cusps`` are spans of driver turns [deg]
    where no groove can be cut that the cable follows; ``free_run`` [mm] is the least between groove and casing end
    (``inf`` without one). ``lacks`` [deg] is how far the travel goes beyond the points of the profile at its closing
    and its opening end.
    """

    groove: Groove
    least_radius: float
    tightest: float
    piece: int
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
    lacks = [float(np.degrees(by)) for by in found.lacks(first, last)]
    return QuadrantReport(
        found,
        float(found.least_radius(first, last)),
        float(turns[tightest]),
        tightest // len(found.pieces[0].turn),
        tuple(cusps),
        float(found.least_run()),
        (lacks[0], lacks[1]),
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
    word: Word = "pass"
    if not report.groove.clear:
        word, value, says = "fail", None, "the casing end lies nearer to the axis than the cable; move it out"
    elif report.cusps:
        spans = ", ".join(_told(span) for span in report.cusps)
        word, at = "fail", spans
        says = f"the groove would have a cusp {spans} of driver turn, which no cable can follow: let the moment arm "
        says += "change more slowly and more evenly there, or follow it by more points"
    elif radius < bend:
        word = "caution"
        says = (
            f"the groove bends the cable to a radius of {length(radius, units)}, {at}; {length(bend, units)} or more "
        )
        says += "is kind to it"
    else:
        says = f"the groove bends the cable to a radius of {length(radius, units)} at the tightest, {at}"
    yield Check("quadrant_groove", word, value, bend, "mm", at, f"{says}.")
    closing, opening = report.lacks
    worst = max(report.lacks)
    ends = " and ".join(
        f"{by:.2f} degrees beyond them at the {side} end"
        for side, by in (("closing", closing), ("opening", opening)) if by > BEYOND
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
