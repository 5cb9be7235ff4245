r"""Staging: shafts that a slotted link or a pick-up tang brings in later than the first.

::

      plate angle |            / /  together at wide open        pick-up     the travel at which the slack is
                  |          / |/                                            taken up, and the first shaft's
                  |   first/   /  staged                                     plate angle there
                  |      /    /                                  gain ratio  gain of the staged shaft, just past
                  |    /     /                                               the pick-up, over the first's there
                  |  /      |
                  |/________|________ travel                     before it the gain is nothing: the jump is all of it
                          pick-up

Shafts with the same slack joints on their way from the driver are of one *stage*; they are compared
among themselves, never with another stage. What holds a staged shaft shut before its pick-up is a
spring of its own side alone: without one it is free to *flutter*, by what the slot leaves it.

References
----------
That the second stage of a staged induction begins with the first about two thirds open, and all come to wide
open together: an army course text and a down-draught carburettor's handbook (known second-hand). With a start at
two thirds the second stage runs at three times the first: arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.answers import extremes, one_way, springs
from linkage.answers.checks import Check, percent
from linkage.answers.extremes import Extreme
from linkage.answers.mismatch import regions, spread
from linkage.answers.progression import Progression, progression
from linkage.motion import Motion
from linkage.motion.assembly import Joint, carry
from linkage.parts import SIGN, Linkage
from linkage.train import stages

Floats = NDArray[np.float64]

#: a staged shaft that sets off at more than this many times the first's gain comes in with a jerk; common practice,
#: no source (a pick-up at two thirds makes it 3)
ABRUPT = 3.5


@dataclass(frozen=True)
class Stage:
    """Shafts that move together: their ``slack`` joints by table (``"link.NAME"``; none: the first stage), and the
    largest mismatch [deg] among them up to the last ten degrees of opening, and in those (None: one shaft)."""

    slack: tuple[str, ...]
    shafts: tuple[str, ...]
    mismatch: Extreme | None
    at_wide_open: Extreme | None


@dataclass(frozen=True)
class PickUp:
    """One slack joint, by its table ``name``: what it moves, and how.

    ``shafts`` are all beyond it, ``shaft`` the nearest (None: none on its own side). ``turn`` [deg] of the driver,
    ``fraction`` of the travel, ``plate_angle`` [deg] of the first-named shaft and its ``opening`` [0..1 of idle to wide
    open] where it is taken up; ``nan`` where the travel ends before. ``gain`` is the shaft's just past it [deg/mm,
    or deg/deg without a cable], ``first_gain`` the first-named shaft's there, ``ratio`` the one over the other, and
    ``end_gain`` the shaft's at wide open. ``closed`` says whether springs of its own side shut it from everywhere
    against the friction, with ``torque`` [N.mm] at the least; ``flutter`` [deg] is how far the shaft could open by
    itself.
    """

    name: str
    shafts: tuple[str, ...]
    shaft: str | None
    turn: float
    fraction: float
    plate_angle: float
    opening: float
    gain: float
    first_gain: float
    ratio: float
    end_gain: float
    closed: bool
    torque: float
    flutter: Extreme

    @property
    def taken_up(self) -> bool:
        """Whether it is taken up within the travel."""
        return bool(np.isfinite(self.turn))


@dataclass(frozen=True)
class Staging:
    """A staged linkage: its ``stages``, its ``pick_ups``, by how many degrees the shafts differ in what they lack of
    wide open at the end of the travel (``apart_at_wide_open``), and the ``progression`` of the last stage's shaft."""

    stages: tuple[Stage, ...]
    pick_ups: tuple[PickUp, ...]
    apart_at_wide_open: float
    progression: Progression


def lacks(rig: Linkage) -> str:
    """Staging is asked for by a slot or a gap; a design without lacks nothing."""
    return ""


def staging(run: Motion) -> Staging | None:
    """Staging of a solved motion; None where nothing is slotted and there is no tang.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    Staging or None
        Figures of the curves themselves, [deg] and [deg/mm].
    """
    rig = run.rig
    if not one_way.is_staged(rig):
        return None
    by_slack: dict[tuple[str, ...], list[str]] = {}
    of = stages(rig)
    for name in rig.shaft:
        by_slack.setdefault(of[name], []).append(name)
    end = run.at(run.ends[1]).plate_angle
    short = [float(run.train.dims[f"shaft.{name}.plate_angle.wide_open"] - end[name][0]) for name in rig.shaft]
    last = max(by_slack, key=len)
    return Staging(
        tuple(_stage(run, slack, tuple(shafts)) for slack, shafts in by_slack.items()),
        tuple(_pick_up(run, joint) for joint in run.train.joints if joint.slack),
        max(short) - min(short),
        progression(run, by_slack[last][0]),
    )


def _stage(run: Motion, slack: tuple[str, ...], shafts: tuple[str, ...]) -> Stage:
    if len(shafts) < 2:
        return Stage(slack, shafts, None, None)
    first, last = run.ends
    late = regions(run)[1]
    before, after = (
        extremes.highest(run, lambda at: spread(at, shafts), between=between)
        for between in ((first, late), (late, last))
    )
    return Stage(slack, shafts, before, after)


def _pick_up(run: Motion, joint: Joint) -> PickUp:
    rig, table = run.rig, _table(joint)
    first = next(iter(rig.shaft))
    of, root = stages(rig), one_way.roots(rig)
    beyond = tuple(name for name in rig.shaft if table in of[name])
    near = next((name for name in beyond if root[name] == joint.step.driven), None)
    turn = run.pick_up[table]
    if turn not in run.kinks:
        turn = np.nan
    at = run.at([turn, next((begin for begin, _ in run.pieces() if abs(begin - turn) < 1e-6), np.nan), run.ends[1]])
    idle, wide = (run.train.dims[f"shaft.{first}.plate_angle.{end}"] for end in ("idle", "wide_open"))
    angle, gain = float(at.plate_angle[first][0]), at.gain[near] if near is not None else np.full(3, np.nan)
    first_gain = float(at.gain[first][1])
    fine = springs.throughout(run)
    net = one_way.about_roots(fine, springs.spring_torque(fine), -1)[joint.step.driven]
    if near is not None:
        net = net / np.abs(one_way.shaft_speed(fine, near))
    return PickUp(
        name=table,
        shafts=beyond,
        shaft=near,
        turn=float(turn),
        fraction=float(at.fraction[0]),
        plate_angle=angle,
        opening=(angle - idle) / (wide - idle),
        gain=float(gain[1]),
        first_gain=first_gain,
        ratio=float(gain[1]) / first_gain if first_gain else np.nan,
        end_gain=float(gain[2]),
        closed=bool(np.min(net) > springs.NOTHING),
        torque=float(np.min(net)),
        flutter=extremes.highest(run, lambda at: flutter(at, joint, near)),
    )


def _table(joint: Joint) -> str:
    return f"{'coupling' if joint.forward is None else 'link'}.{joint.step.by.name}"


def flutter(run: Motion, joint: Joint, shaft: str | None = None) -> Floats:
    """How far what a slack joint drives could open by itself, the driver held [deg], shape (n,).

    Of a shaft on its side, or of the driven member: to the other end of its slot, or to its wide-open stop.
    """
    train, driven = run.train, joint.step.driven
    member = driven if shaft is None else shaft
    free = np.full_like(run.turn, np.inf)
    if shaft is not None:
        free = run.train.dims[f"shaft.{shaft}.plate_angle.wide_open"] - run.plate_angle[shaft]
    if joint.forward is None or train.shut is None:
        return np.asarray(free)
    plain = {other.step.driven: other for other in train.shut.joints}
    with np.errstate(invalid="ignore"):
        pose = carry(plain[driven], run.pose[joint.step.driving])
        for other in train.path_to(member)[len(train.path_to(driven)) :]:
            pose = carry(plain[other.step.driven], pose)
        (c, s), (c0, s0) = pose, run.pose[member]
        moved = c - c0 if train.slides(member) else np.arctan2(s * c0 - c * s0, c * c0 + s * s0)
    opening = SIGN[run.rig.shaft[member].opens] if shaft is not None else float(train.opens * train.sense[member])
    # beyond the reach of the end that closes nothing but its stop holds it
    return np.asarray(np.fmin(np.maximum(opening * np.degrees(moved), 0.0), free))


def checks(run: Motion, report: Staging | None) -> tuple[Check, ...]:
    """Every pick-up, how abruptly the stages come in, whether each stage keeps together and is held shut."""
    if report is None:
        return ()
    return (*_pick_ups(run, report), *_abrupt(report), *_together(run, report), *_held_shut(run, report))


def _named(name: str) -> str:
    table, _, part = name.partition(".")
    return f'{"slotted link" if table == "link" else "tang"} "{part}"'


def _moves(pick_up: PickUp) -> str:
    names = " and ".join(f'"{name}"' for name in pick_up.shafts)
    return f"shaft {names}" if len(pick_up.shafts) == 1 else f"shafts {names}" if names else "what it drives"


def _pick_ups(run: Motion, report: Staging) -> Iterator[Check]:
    """The first that is never taken up, else the first that always bears, else all of them in one sentence."""
    lost = [at for at in report.pick_ups if not at.taken_up and not _always(run, at.name)]
    idle = [at for at in report.pick_ups if not at.taken_up and _always(run, at.name)]
    at = (*lost, *idle, *report.pick_ups)[0]
    name, slack = "staging_pick_up", "slot" if at.name.startswith("link") else "gap"
    where = at.name.replace(".", " ", 1)
    if lost:
        yield Check(
            name, "fail", None, None, "%", where,
            f"{_named(at.name)} is never taken up within the travel: {_moves(at)} stays at idle; "
            f"make its {slack} smaller.",
        )  # fmt: skip
        return
    if idle:
        yield Check(
            name, "caution", None, None, "%", where,
            f"{_named(at.name)} bears from the closing stop on, so that its {slack} delays nothing; set its length "
            f"or its {slack} to leave room.",
        )  # fmt: skip
        return
    first = next(iter(run.rig.shaft))
    told = [
        f"{_named(at.name)} picks up {_moves(at)} at {percent(at.fraction)}, where "
        f'"{first}" stands at {at.plate_angle:.1f} degrees ({100.0 * at.opening:.0f} % open)'
        for at in report.pick_ups
    ]
    says = f"{'; '.join(told)}; two thirds is usual."
    yield Check(name, "pass", 100.0 * at.fraction, None, "%", where, says)


def _always(run: Motion, name: str) -> bool:
    """Whether a slack joint bears at the closing stop already."""
    joint = next(j for j in run.train.joints if j.slack and _table(j) == name)
    return bool(one_way.bearing(run.at(run.ends[0]), joint)[0])


def _abrupt(report: Staging) -> Iterator[Check]:
    known = [at for at in report.pick_ups if np.isfinite(at.ratio)]
    if not known:
        return
    most = max(known, key=lambda at: at.ratio)
    over = most.ratio > ABRUPT
    mend = f"; above {ABRUPT:g} it comes in with a jerk: pick it up earlier or drive it by a longer arm" if over else ""
    yield Check(
        "staging_gain", "caution" if over else "pass", most.ratio, ABRUPT, "", f'shaft "{most.shaft}"',
        f'shaft "{most.shaft}" sets off {most.ratio:.2f} times as fast as the first-named shaft moves there{mend}.',
    )  # fmt: skip


def _together(run: Motion, report: Staging) -> Iterator[Check]:
    limits = run.rig.limits
    first = report.stages[0].shafts
    rows = [
        (at.value - limit, at, limit, stage, region)
        for stage in report.stages
        if stage.shafts != first and stage.mismatch is not None and stage.at_wide_open is not None
        for at, limit, region in (
            (stage.mismatch, limits.mismatch, "before the last 10 degrees of the travel"),
            (stage.at_wide_open, limits.mismatch_at_wide_open, "in the last 10 degrees of the travel"),
        )
    ]
    if not rows:
        return
    over, at, limit, stage, region = max(rows, key=lambda row: row[0])
    names = " and ".join(f'"{name}"' for name in stage.shafts)
    bad = over > 1e-9
    yield Check(
        "staging_mismatch", "fail" if bad else "pass", at.value, limit, "deg", percent(at.fraction),
        f"the staged plates {names} stand {at.value:.3f} degrees apart {region}; the limit is {limit:g}"
        f"{'; set and re-clock the links between them' if bad else ''}.",
    )  # fmt: skip


def _held_shut(run: Motion, report: Staging) -> Iterator[Check]:
    loose = [at for at in report.pick_ups if not at.closed]
    if not loose:
        least = min(report.pick_ups, key=lambda at: at.torque)
        yield Check(
            "staging_closing", "pass", least.torque, 0.0, "N·mm", least.name.replace(".", " "),
            f"springs of its own side hold shut all that is picked up later, with "
            f"{springs.torque_text(least.torque, run.rig.units)} at the least, friction taken off.",
        )  # fmt: skip
        return
    most = max(loose, key=lambda at: at.flutter.value)
    part = _moves(most) if most.shafts else "what it drives"
    free = f", by up to {most.flutter.value:.1f} degrees" if np.isfinite(most.flutter.value) else ""
    where = "within its slot" if most.name.startswith("link") else "ahead of its tang"
    yield Check(
        "staging_closing", "caution", most.flutter.value, 0.0, "deg", most.name.replace(".", " "),
        f"no spring beyond {_named(most.name)} holds {part} shut against the friction, so that it flutters {where}"
        f"{free}; give it a return spring of its own.",
    )  # fmt: skip
