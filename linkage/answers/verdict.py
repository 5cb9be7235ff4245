"""The verdict: each limit held against its figure, in one sentence that a craftsman understands."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from linkage import turns
from linkage.answers import extremes, joints, quadrant
from linkage.answers import pedal as foot
from linkage.answers.cable import CABLE_REVERSED, CABLE_SWING, CableReport, swing_told
from linkage.answers.checks import Check, Word, percent
from linkage.answers.mismatch import Mismatch
from linkage.answers.one_way import bearing, resting
from linkage.answers.stops import Stops
from linkage.motion import Motion
from linkage.tables import length
from linkage.train import compared

#: plates that the closing stop holds further open than drawn at idle by more than this [deg] run on;
#: common practice, no source
IDLE_LIFT = 2.0
#: and by more than this [deg] at all: rounding is far below it
LIFTED = 1e-6
#: a limit on an angle has a band of caution this wide above it [deg]; common practice, no source
CAUTION_BAND = 10.0


def motion_checks(run: Motion, apart: Mismatch, ends: Stops, cable: CableReport | None) -> tuple[Check, ...]:
    """Every check of the main job, in the order in which a builder would mend them."""
    return (
        *_direction(run),
        *_reaching(run, ends),
        *_mismatch(run, apart),
        _transmission(run),
        _toggle_margin(run),
        *_tilt(run),
        _shortfall(run),
        *(() if cable is None else _cable(run, cable)),
        *foot.checks(run, foot.pedal_report(run)),
    )


def _direction(run: Motion) -> Iterator[Check]:
    wrong = [name for name, sense in run.train.shaft_opens.items() if sense != run.train.opens]
    ways = ("moves along its guide", "moves against its guide's direction")
    ways = ways if run.train.slides(run.rig.driver) else ("turns ccw", "turns cw")
    says = f"every shaft opens when the driver {ways[0 if run.train.opens > 0 else 1]}."
    if wrong:
        names = " and ".join(f'"{name}"' for name in wrong)
        says = (
            f"{names} turns shut while the others open, so the train jams at the closing stop; move its link "
            f"to the other side of that shaft (the arm 180 degrees on), or mend opens if it is drawn wrong."
        )
    yield Check(
        "opening_direction",
        "fail" if wrong else "pass",
        float(len(wrong)),
        0.0,
        "shafts",
        ", ".join(wrong),
        says,
    )


def _reaching(run: Motion, ends: Stops) -> Iterator[Check]:
    """The travel is ended by stops, not by a toggle, and no shaft turns back on the way."""
    unit = turns.inside(run.rig, run.rig.driver)
    for side, end, link in (
        ("closing", ends.closing, run.travel.toggle_links[0]),
        ("opening", ends.opening, run.travel.toggle_links[1]),
    ):
        met = f"{turns.text(run.rig, run.rig.driver, end.turn)} {turns.of_driver(run.rig)} from drawn"
        if end.holds is None:
            yield Check(
                f"{side}_stop", "fail", end.turn, None, unit, f'link "{link}"' if link else "",
                f'the {side} ends at a dead point of link "{link}", {met}, before any {side} stop is met: the linkage '
                f"can lock there; change that link's arms or length.",
            )  # fmt: skip
        else:
            word, lift = _lift(run) if side == "closing" else ("pass", "")
            yield Check(
                f"{side}_stop", word, end.turn, None, unit, end.holds,
                f'"{end.holds}" holds the {side}, {met}{lift}.',
            )  # fmt: skip
    first, last = run.ends
    if abs(last - first) < 1e-9:
        closing, opening = (
            f'"{end.holds}"' if end.holds is not None else f'a dead point of link "{link}"'
            for end, link in zip((ends.closing, ends.opening), run.travel.toggle_links, strict=True)
        )
        both = ends.closing.holds is not None and ends.opening.holds is not None
        mend = "one of the two stops stands on the wrong side" if both else "change that link's arms or length"
        yield Check(
            "travel", "fail", 0.0, None, unit, f"{closing} against {opening}".replace('"', ""),
            f"there is no travel: {opening} stops the opening where {closing} stops the closing; {mend}.",
        )  # fmt: skip
        return
    sense = float(run.train.opens)
    back = {
        name: extremes.lowest(  # while it rests, slack not taken up, it does neither
            run,
            lambda at, name=name: np.where(resting(at, name), np.nan, sense * at.plate_speed[name]),  # type: ignore[misc]
        )
        for name, opens in run.train.shaft_opens.items()
        if opens == run.train.opens
    }
    back = {name: least for name, least in back.items() if not np.isnan(least.value)}
    turning = [(name, e) for name, e in back.items() if e.value <= 0.0]
    for name, at in turning[:1]:
        by_block = any(run.train.slides(joint.step.driving) for joint in run.train.path_to(name))
        square = ", or its driving block's guide square to it" if by_block else ""
        yield Check(
            "opens_throughout", "fail", at.value, 0.0, f"deg/{unit}", f'shaft "{name}", by {percent(at.fraction)}',
            f'shaft "{name}" stops opening and turns back before the end of the travel: its driving arm passes '
            f"in line with the link{square}; start that arm further from the line of the link.",
        )  # fmt: skip
    if not turning and back:
        name, at = min(back.items(), key=lambda item: item[1].value)
        yield Check(
            "opens_throughout", "pass", at.value, 0.0, f"deg/{unit}", f'shaft "{name}", {percent(at.fraction)}',
            f"every shaft goes on opening as long as the driver {'moves' if unit == 'mm' else 'turns'}.",
        )  # fmt: skip


def _lift(run: Motion) -> tuple[Word, str]:
    """Whether the closing stop keeps every plate off its own idle stop, and by how much at the least, in words."""
    at_idle = run.at(run.ends[0]).plate_angle
    lifts = {
        name: float(angle[0] - run.train.dims[f"shaft.{name}.plate_angle.idle"]) for name, angle in at_idle.items()
    }
    name, least = min(lifts.items(), key=lambda item: item[1])
    if least <= LIFTED:
        return "pass", ""
    return "fail" if least > IDLE_LIFT else "caution", (
        f': it keeps every plate open, shaft "{name}" {least:.2f} degrees above its idle stop, and '
        f"{'the throttles do not close' if least > IDLE_LIFT else 'the idle runs high'}; set it back"
    )


def _mismatch(run: Motion, apart: Mismatch) -> Iterator[Check]:
    if len(compared(run.rig)) < 2:
        return
    limits = run.rig.limits
    flow = apart.flow_at_idle_percent
    air = "" if flow is None or flow < 0.05 else f", about {flow:.1f} % of the idle air"
    set_first = apart.at_idle > limits.mismatch_at_idle + 1e-9
    rows = [
        ("mismatch_at_idle", apart.at_idle, limits.mismatch_at_idle, 0.0, f"at the closing stop{air}"),
        ("mismatch_off_idle", apart.off_idle.value, limits.mismatch_off_idle, apart.off_idle.fraction,
         "in the first 10 degrees of opening"),
        ("mismatch_at_wide_open", apart.last.value, limits.mismatch_at_wide_open, apart.last.fraction,
         "in the last 10 degrees of opening"),
    ]  # fmt: skip
    if apart.middle is not None:
        middle = ("mismatch", apart.middle.value, limits.mismatch, apart.middle.fraction, "in mid travel")
        rows.insert(2, middle)
    for name, value, limit, at, region in rows:
        bad = value > limit + 1e-9
        mend = "; re-clock the arms nearer to square with the link at mid travel"
        if set_first:
            mend = (
                "; set the link lengths (or leave length out to have them fitted)"
                if name == "mismatch_at_idle"
                else "; set the links at idle first, then look again"
            )
        yield Check(
            name, "fail" if bad else "pass", value, limit, "deg", percent(at),
            f"the plates stand {value:.3f} degrees apart {region}; the limit is {limit:g}{mend if bad else ''}.",
        )  # fmt: skip


def _transmission(run: Motion) -> Check:
    limit = run.rig.limits.transmission_angle
    lowest = {
        name: extremes.lowest(run, lambda at, name=name: _from_line(at, name))  # type: ignore[misc]
        for name in run.rig.link
    }
    lowest = {name: least for name, least in lowest.items() if not np.isnan(least.value)}
    if not lowest:
        return Check("transmission_angle", "pass", None, limit, "deg", "", "there is no link to bind.")
    name, least = min(lowest.items(), key=lambda item: item[1].value)
    word: Word = "pass"
    block = any(joint.step.by.name == name and run.train.slides(joint.step.driven) for joint in run.train.joints)
    arm = "the cross line of its driven guide" if block else "its driven arm"
    mend = "turn that guide towards the link" if block else "re-clock that arm"
    says = f'link "{name}" meets {arm} at {least.value:.1f} degrees at the least ({percent(least.fraction)})'
    if least.value < limit:
        word, says = (
            "fail",
            says + f"; below {limit:g} it binds and every play is magnified: {mend}.",
        )
    elif least.value < limit + CAUTION_BAND:
        word, says = "caution", says + f"; it works, but {limit + CAUTION_BAND:g} or more is kinder."
    else:
        says += ", well clear of binding."
    return Check(
        "transmission_angle",
        word,
        least.value,
        limit,
        "deg",
        f'link "{name}", {percent(least.fraction)}',
        says,
    )


def _from_line(run: Motion, link: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Transmission angle [deg] to the nearer dead point; ``nan`` where a slotted link carries nothing."""
    angle = joints.transmission_angles(run)[link]
    joint = next(j for j in run.train.joints if j.step.by.name == link and j.forward is not None)
    return np.where(bearing(run, joint), np.minimum(angle, 180.0 - angle), np.nan)


def _toggle_margin(run: Motion) -> Check:
    limit, unit = run.rig.limits.toggle_margin, turns.inside(run.rig, run.rig.driver)
    margins = [float(np.degrees(m)) for m in run.travel.before_toggle]
    side = int(np.argmin(margins))
    margin, link = margins[side], run.travel.toggle_links[side]
    end = ("closing", "opening")[side]
    if not np.isfinite(margin):
        return Check("toggle_margin", "pass", None, limit, unit, "", "no link comes to a dead point anywhere.")
    bad = margin < limit
    mend = (
        "; an adjuster or a worn stop could carry it over: move the arms away from the line of the link" if bad else ""
    )
    return Check(
        "toggle_margin", "fail" if bad else "pass", margin, limit, unit, f'link "{link}", beyond the {end} stop',
        f"{turns.text(run.rig, run.rig.driver, margin, 1)} {turns.of_driver(run.rig)} are left beyond the {end} stop "
        f'to the dead point of link "{link}"{mend}.',
    )  # fmt: skip


def _tilt(run: Motion) -> Iterator[Check]:
    """The link whose tilt comes nearest to its own limit."""
    found = []
    for name, link in run.rig.link.items():
        limit = run.rig.limits.tilt if link.tilt_limit is None else link.tilt_limit
        most = extremes.highest(run, lambda at, name=name: np.maximum(*joints.tilts(at)[name]))  # type: ignore[misc]
        found.append((most.value - limit, name, most, limit))
    if not found:
        return
    _, name, most, limit = max(found, key=lambda row: row[0])
    bad = most.value > limit
    mend = "; bring the two arms nearer to one plane, or lengthen the link" if bad else ""
    yield Check(
        "tilt", "fail" if bad else "pass", most.value, limit, "deg", f'link "{name}", {percent(most.fraction)}',
        f'the rod ends of link "{name}" tilt {most.value:.1f} degrees; the joint allows {limit:g}{mend}.',
    )  # fmt: skip


def _shortfall(run: Motion) -> Check:
    limit = run.rig.limits.wide_open_shortfall
    at_end = run.at(run.ends[1]).plate_angle
    lacks = {
        name: float(run.train.dims[f"shaft.{name}.plate_angle.wide_open"] - angle[0]) for name, angle in at_end.items()
    }
    name, most = max(lacks.items(), key=lambda item: item[1])
    most = 0.0 if abs(most) < 1e-9 else most
    bad = most > limit
    says = f'shaft "{name}" is {most:.2f} degrees short of wide open at the opening stop'
    says += f"; more than {limit:g} costs power." if bad else f"; up to {limit:g} is allowed."
    if most <= 0.0:
        says = "every shaft reaches its wide-open stop."
    return Check("wide_open_shortfall", "fail" if bad else "pass", most, limit, "deg", f'shaft "{name}"', says)


def _cable(run: Motion, report: CableReport) -> Iterator[Check]:
    cable, units, driver = run.rig.cable, run.rig.units, run.rig.driver
    assert cable is not None
    way = f'turns "{driver}" {report.turns}'
    if run.train.slides(driver):
        way = f'moves "{driver}" ' + ("along its guide" if report.turns == "along" else "against its guide's direction")
    says = f"the pull {way}, which opens the throttles."
    if not report.turns:
        says = (
            f'as drawn the cable lies in line with its arm and the axis of "{driver}", so its pull turns it neither '
            f"way: re-clock the arm, or move the casing end to the side."
        )
    elif not report.opens:
        says = f"the pull {way}, which shuts the throttles; " + ", ".join(report.mends) + "."
    yield Check("pull_direction", "pass" if report.opens else "fail", None, None, "", f'"{driver}"', says)
    yield Check(
        "cable_dead_centre", "fail" if report.dead_centre else "pass", None, None, "", f'"{driver}"',
        ("the cable comes square to the guide inside the travel, where it can only hold, not pull: move the casing end."
         if run.train.slides(driver) else
         "the cable passes in line with its arm inside the travel, where it can only hold, not pull: re-clock the arm.")
        if report.dead_centre else "the cable keeps its lever arm through the whole travel.",
    )  # fmt: skip
    if report.least_angle is not None:
        at, limit = report.least_angle, run.rig.limits.transmission_angle
        low = at.value < limit
        mend = "; below that the pull grows heavy and the progression steep" if low else ""
        yield Check(
            "cable_angle", "caution" if low else "pass", at.value, limit, "deg", percent(at.fraction),
            f"the cable meets {'the cross line of the guide' if run.train.slides(driver) else 'its arm'} at "
            f"{at.value:.1f} degrees at the least; {limit:g} or more is wanted{mend}.",
        )  # fmt: skip
    if report.swing is not None:
        over = report.swing > CABLE_SWING
        told, mend = swing_told(report.swing, report.off_axis)
        back = report.swing > CABLE_REVERSED
        if back:
            mend = (
                "; the casing points away from the pin, so the cable would have to turn back on itself: "
                "give casing_axis the way in which the cable leaves the casing, or turn the casing about"
            )
        yield Check(
            "cable_swing", "fail" if back else "caution" if over else "pass",
            report.swing, CABLE_SWING, "deg", "casing end", f"{told}{mend}.",
        )  # fmt: skip
    yield from quadrant.checks(run, report.quadrant)
    if cable.travel is not None and report.opens:
        short = report.needed > cable.travel + 1e-9
        yield Check(
            "cable_travel", "fail" if short else "pass", report.needed, cable.travel, "mm", "opening stop",
            f"the travel takes {length(report.needed, units)} of cable with the free play; the pedal gives "
            f"{length(cable.travel, units)}{': wide open is not reached' if short else ''}.",
        )  # fmt: skip
