"""The report: the whole answer as plain text, verdict first, for a terminal, a file or a printer."""

from __future__ import annotations

from collections.abc import Callable

from linkage.answers import CAUTION, Answer, Check
from linkage.paper import report_flex, report_margins, report_pedal, report_road, report_staging, sections
from linkage.paper.lines import SIGN, WIDTH, aligned, in_own_unit, sentence, wrapped
from linkage.parts import Linkage
from linkage.train import compared

Section = Callable[[Answer], list[str]]

#: The sections below the verdict, in order; one that has nothing to say is left out.
SECTIONS: tuple[tuple[str, Section], ...] = (
    ("travel and stops", sections.stops),
    ("through the travel", sections.travel),
    ("progression", sections.progression),
    ("mismatch between the shafts", sections.mismatch),
    ("staging", report_staging.staging_section),
    ("links", sections.links),
    ("cable", sections.cable),
    ("pedal", report_pedal.pedal_section),
    ("followers", report_pedal.followers_section),
    ("forces", lambda a: report_road.forces_section(a.run, a.forces)),
    ("when something parts", lambda a: report_road.faults_section(a.run, a.faults)),
    ("tolerance", lambda a: report_margins.tolerance_section(a.tolerance, a.run.rig)),
    ("heat", lambda a: report_margins.heat_section(a.heat, a.run.rig)),
    ("clearance", lambda a: report_margins.clearance_section(a.clearance, a.run.rig)),
    ("lost motion", lambda a: report_road.lost_motion_section(a.run, a.lost_motion)),
    ("rocking of the engine", lambda a: report_flex.rocking_section(a.run, a.rocking)),
    ("twist of the shafts", lambda a: report_flex.twist_section(a.run, a.twist)),
    ("air", lambda a: report_margins.air_section(a.run, a.air)),
    ("rod-end tilt", lambda a: report_margins.tilt_section(a.run)),
)

#: Checks whose figure must not fall below its limit; all others must not rise above it.
AT_LEAST = frozenset(
    {
        *("opens_throughout", "transmission_angle", "toggle_margin", "cable_angle", "gap", "quadrant_groove"),
        *("spring_over_centre", "return_force", "return_ratio", "link_buckling", "tolerance_yield"),
        *("pedal_cable_angle", "follower_least_stroke"),
        *("closing_sources", "spring_lost", "link_parted", "coupling_parted"),
    }
)


def report(answer: Answer) -> str:
    """The whole answer as plain text, about a hundred columns wide.

    Parameters
    ----------
    answer : Answer

    Returns
    -------
    str
        Angles in degrees, lengths in the design's own unit [mm or in].

    Examples
    --------
    >>> import linkage
    >>> from linkage.design_file import parse, starter
    >>> text = report(linkage.answers.check(parse(starter())))
    >>> text.splitlines()[0] == "═" * 96
    True
    """
    blocks = [_title(answer.run.rig), _verdict(answer), _headed("checks", _checks(answer))]
    blocks += [_headed(name, section(answer)) for name, section in SECTIONS]
    blocks += [_headed("what the design leaves out", left_out(answer)), ["─" * WIDTH, *sentence(CAUTION)]]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _headed(name: str, lines: list[str]) -> list[str]:
    return [name.upper(), *lines] if lines else []


def _title(rig: Linkage) -> list[str]:
    whose = [
        f"for {rig.customer}" if rig.customer else "",
        f"drawing {rig.drawing}" if rig.drawing else "",
        rig.source.path.replace("\\", "/").rpartition("/")[2] if rig.source else "",
    ]
    how = [
        f"seen from {rig.seen_from}" if rig.seen_from else "",
        f"lengths in {'mm' if rig.units == 'mm' else 'inches'}, angles in degrees",
    ]
    facts = [" · ".join(fact for fact in line if fact) for line in (whose, how)]
    return ["═" * WIDTH, *wrapped(rig.title), *(line for fact in facts for line in wrapped(fact)), "═" * WIDTH]


def _verdict(answer: Answer) -> list[str]:
    """The verdict in words, what fails first, what asks for care next."""
    bad = {word: [c for c in answer.checks if c.verdict == word] for word in ("fail", "caution")}
    fails, cautions = len(bad["fail"]), len(bad["caution"])
    also = f", {cautions} {'asks' if cautions == 1 else 'ask'} for care" if cautions else ""
    says = {
        "fail": f"{fails} of {len(answer.checks)} checks {'fails' if fails == 1 else 'fail'}{also}.",
        "caution": f"No check fails{also}.",
        "pass": f"All {len(answer.checks)} checks pass.",
    }[answer.verdict]
    lines = [f"{SIGN[answer.verdict]} {answer.verdict.upper()}   {says}"]
    for check in (*bad["fail"], *bad["caution"]):
        lines += ["", f"  {SIGN[check.verdict]} {_name(check)}", *sentence(check.says, "    ")]
    return lines


def _name(check: Check) -> str:
    return check.name.replace("_", " ")


def _checks(answer: Answer) -> list[str]:
    units = answer.run.rig.units
    rows = [["", "check", "found", "limit", "", "where"]]
    for check in answer.checks:
        fine = check.limit is not None and check.limit < 1.0
        found, limit, unit = "-", "", ""
        if check.value is not None:
            found, unit = in_own_unit(check.value, check.unit, units, fine=fine)
        if check.limit is not None:
            number, unit = in_own_unit(check.limit, check.unit, units, fine=fine)
            limit = f"{'min' if check.name in AT_LEAST else 'max'} {number}"
        word = check.verdict.upper() if check.verdict == "fail" else check.verdict
        rows.append([f"{SIGN[check.verdict]} {word}", _name(check), found, limit, unit, check.where])
    return aligned(rows, "<<>><<")


def left_out(answer: Answer) -> list[str]:
    """What the design file could add, and which answer that would give."""
    rows = [[f"add {what}", f"to learn {gives}"] for what, gives, missing in _HINTS if missing(answer.run.rig)]
    return aligned(rows, "<<") if rows else []


def _by_ratio(rig: Linkage) -> bool:
    """Whether the pedal is given by its ratio."""
    return rig.pedal is not None and rig.pedal.pivot is None and rig.pedal.pad is None


def _stopped(rig: Linkage) -> bool:
    """Whether a stop of the driver limits the opening."""
    return any(stop.on == rig.driver and stop.limits == "opening" for stop in rig.stop.values())


Missing = Callable[[Linkage], bool]

#: What to add, what it gives, whether it is missing.
_HINTS: tuple[tuple[str, str, Missing], ...] = (
    ("bore to every shaft", "open areas and the idle air", lambda r: any(s.bore is None for s in r.shaft.values())),
    ("shaft_diameter to every shaft", "the area that the shaft hides",
     lambda r: any(s.bore is not None and not s.shaft_diameter for s in r.shaft.values())),
    ("[cable]", "which way it pulls, and its travel", lambda r: r.cable is None),
    ("casing_axis to [cable]", "the swing off the casing's own direction",
     lambda r: r.cable is not None and r.cable.casing_end is not None and r.cable.casing_axis is None),
    ("travel to [cable]", "whether the pedal gives enough cable",
     lambda r: r.cable is not None and r.cable.travel is None),
    ("[pedal]", "the travel underfoot", lambda r: r.cable is not None and r.pedal is None),
    ("travel to [pedal]", "whether the pad meets the floor first",
     lambda r: _by_ratio(r) and r.pedal is not None and r.pedal.travel is None),
    ("stop to [pedal]", "whether the pedal stop takes the foot before the throttle shafts do",
     lambda r: r.pedal is not None and not _by_ratio(r) and r.pedal.stop is None and not _stopped(r)),
    ("floor to [pedal]", "whether the pad meets the floor first",
     lambda r: r.pedal is not None and not _by_ratio(r) and r.pedal.floor is None),
    ("pitch to every link", "what one turn of it does", lambda r: any(link.pitch is None for link in r.link.values())),
    ("[spring.NAME] for each spring", "pull, pedal force, closing with each spring alone",
     lambda r: not r.spring),
    ("friction_torque to the members", "whether the springs beat the friction",
     lambda r: bool(r.spring) and not any(m.friction_torque for m in r.members.values())),
    ("[tolerance]", "the mismatch to expect of parts as made",
     lambda r: r.tolerance is None and len(compared(r)) > 1),
    ("[heat]", "the mismatch hot against cold", lambda r: r.heat is None),
    ("diameter to every link", "the clearance between moving parts",
     lambda r: any(link.diameter is None for link in r.link.values())),
    ("[play]", "the lost motion at each plate", lambda r: r.play is None),
    ("[rocking], mounted", "what the engine's roll does to the plates", lambda r: r.rocking is None),
    ("[shaft.NAME.twist]", "the wind-up of long shafts and tubes",
     lambda r: not any(member.twist for member in r.turning.values())),
    ("[air] pressure_ratio", "the air of each shaft", lambda r: r.air is None),
)  # fmt: skip
