"""Twist: how far shafts and tubes wind up between their arms, springs, stops and plates, and what that sets apart.

The winding itself is in :mod:`linkage.answers.winding`, the section of a shaft in :mod:`linkage.answers.torsion`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from linkage.answers import springs, torsion
from linkage.answers.checks import Check, percent
from linkage.answers.extremes import Extreme
from linkage.answers.winding import Twisted, Way, twisted
from linkage.motion import Motion
from linkage.parts import Linkage
from linkage.tables import length


@dataclass(frozen=True, eq=False)
class TwistReport:
    """The twist of a design's shafts and tubes.

    ``opening`` and ``closing`` at the positions of the motion, ``resting`` at idle with the foot off (None
    where no stop holds the closing). ``largest`` is the largest twist of a plate against the arm that drives
    its shaft, with its sign, through the travel both ways, and ``at`` its shaft, plate and way; ``apart`` the most
    that the twist sets the plates apart, ``apart_going`` that way, ``apart_at_idle`` at rest. ``specific`` [deg]
    is the wind-up of every section under 1 N.m over 300 mm.
    """

    opening: Twisted
    closing: Twisted
    resting: Twisted | None
    largest: Extreme
    at: tuple[str, int, Way]
    apart: Extreme
    apart_going: Way
    apart_at_idle: float
    specific: Mapping[str, float]

    @property
    def idle(self) -> Twisted:
        """The train at idle: at rest, or where no stop holds it as the foot lets it close."""
        return self.resting or self.closing


def lacks(rig: Linkage) -> str:
    """What to add to the design file for this answer, in one sentence; "" where nothing lacks."""
    asked = {name: member for name, member in rig.turning.items() if member.twist is not None}
    if not asked:
        return (
            "Twist of shafts and tubes is not judged: add [shaft.NAME.twist] or [bellcrank.NAME.twist] with diameter, "
            "material and plates_at."
        )
    for name in rig.shaft:
        section = rig.shaft[name].twist
        if section is not None and section.plates_at is None:
            return f"Twist needs plates_at, the stations of the plates, in [shaft.{name}.twist]."
    if not rig.spring:
        return "Twist needs what twists: a [spring.NAME] table for each return spring."
    return ""


def twist(run: Motion) -> TwistReport | None:
    """Twist of the shafts and tubes of a solved motion; None where :func:`lacks` says why.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    TwistReport or None
        [deg], [N.mm].

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/long_shaft.toml"))  # doctest: +SKIP
    >>> twist(run).apart_at_idle  # doctest: +SKIP
    """
    if lacks(run.rig):
        return None
    fine = springs.throughout(run)
    ways: dict[Way, Twisted] = {"opening": twisted(fine, "opening"), "closing": twisted(fine, "closing")}
    resting = twisted(run.at(run.ends[0]), "resting") if int(run.travel.closing_holds) >= 0 else None
    candidates = []
    for way, found in ways.items():
        for name, plates in found.plates.items():
            for i, curve in enumerate(plates):
                most = springs.most(fine, np.abs(curve))
                if not np.isnan(most.value):
                    value = float(curve[int(np.nanargmax(np.abs(curve)))])
                    candidates.append((most._replace(value=value), (name, i + 1, way)))
    nowhere: tuple[Extreme, tuple[str, int, Way]] = (
        Extreme(np.nan, np.nan, np.nan),
        (next(iter(run.rig.shaft)), 1, "opening"),
    )
    largest, at = max(candidates, key=lambda item: abs(item[0].value), default=nowhere)
    spreads = {way: springs.most(fine, found.apart) for way, found in ways.items()}
    going = max(spreads, key=lambda way: np.nan_to_num(spreads[way].value, nan=-1.0))
    specific = {name: torsion.specific(member) for name, member in run.rig.turning.items() if member.twist is not None}
    report = TwistReport(
        twisted(run, "opening"), twisted(run, "closing"), resting, largest, at, spreads[going], going, 0.0, specific
    )  # fmt: skip
    return dataclasses.replace(report, apart_at_idle=float(report.idle.apart[0]))


def checks(run: Motion, report: TwistReport | None) -> tuple[Check, ...]:
    """What the twist sets apart at idle, and the most that a plate is twisted against its arm."""
    return () if report is None else tuple(_checks(run, report))


def _checks(run: Motion, report: TwistReport) -> Iterator[Check]:
    limits = run.rig.limits
    several = sum(len(plates) for plates in report.idle.plates.values()) > 1
    if several and np.isfinite(report.apart_at_idle):
        found = report.idle
        yield _apart(run, "twist_at_idle", found, report.apart_at_idle, limits.twist_at_idle, "at idle, foot off")
    if several and np.isfinite(report.apart.value):
        found = twisted(run.at(report.apart.turn), report.apart_going)
        where = f"{report.apart_going}, at {percent(report.apart.fraction)}"
        yield _apart(run, "twist_in_travel", found, report.apart.value, limits.twist, where)
    if np.isnan(report.largest.value):
        yield Check(
            "twist", "fail", None, None, "deg", "",
            "a shaft is so soft that its twist does not settle: give it more diameter, or mend its numbers.",
        )  # fmt: skip
        return
    (name, plate, way), most, limit = report.at, report.largest, limits.twist
    over = abs(most.value) > limit + 1e-9
    late = "behind" if most.value < 0.0 else "ahead of"
    says = (
        f'{way}, plate {plate} of shaft "{name}" is twisted {abs(most.value):.3f} degrees {late} the arm that '
        f"drives it; up to {limit:g} is allowed"
    )
    found = twisted(run.at(most.turn), way)
    says += f"; {_mend(run, found, abs(most.value), limit, name)}" if over else ""
    yield Check(
        "twist", "caution" if over else "pass", abs(most.value), limit, "deg",
        f'shaft "{name}", {percent(most.fraction)}', says + ".",
    )  # fmt: skip


def _apart(run: Motion, name: str, found: Twisted, value: float, limit: float, where: str) -> Check:
    """How far the twist sets the plates apart, held against its limit."""
    low, high = ends(found)
    over = value > limit + 1e-9
    says = (
        f'{where}, the twist of the shafts sets plate {high[1]} of "{high[0]}" and plate {low[1]} of "{low[0]}" '
        f"{value:.3f} degrees apart; up to {limit:g} is allowed"
    )
    says += f"; {_mend(run, found, value, limit)}" if over else ""
    return Check(name, "caution" if over else "pass", value, limit, "deg", where, says + ".")


def ends(found: Twisted) -> tuple[tuple[str, int, float], tuple[str, int, float]]:
    """The plates that the twist has moved least and most at the first position: shaft, plate, degrees."""
    # rounded, so that of mirrored shafts the first-named is told
    every = [(name, i, round(float(row[0]), 9)) for name, rows in found.moved.items() for i, row in enumerate(rows, 1)]
    return min(every, key=lambda plate: plate[2]), max(every, key=lambda plate: plate[2])


def _mend(run: Motion, found: Twisted, degrees: float, limit: float, of: str = "") -> str:
    """What would mend the twist: of the shaft named, or of what winds up most at the first position."""
    span = {name: float(np.ptp(wound.twist[:, 0])) for name, wound in found.members.items()}
    name = of or max(span, key=lambda member: span[member])
    told = f'bring what loads "{name}" (springs, stop, links) nearer to what drives it'
    if name in span and limit > 0.0:
        times = degrees / limit
        thick = torsion.diameter_of(run.rig.turning[name]) * times**0.25
        section = run.rig.turning[name].twist
        walls = ", its wall in proportion" if section is not None and section.wall is not None else ""
        told += f", or make it {times:.1f} times as stiff ({length(thick, run.rig.units)} across{walls})"
    return told
