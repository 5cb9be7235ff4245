"""The workings of the checks on tolerance, heat, clearance, lost motion and air."""

from __future__ import annotations

import math

from linkage.answers import Answer, Check
from linkage.answers.clearance import parts_of
from linkage.answers.flow import GAMMA, GAS_CONSTANT
from linkage.answers.heat import growth
from linkage.motion import Motion
from linkage.paper import explain_closure as parts
from linkage.paper.arithmetic import Working, number
from linkage.paper.explain_motion import apart, region

TRIALS = (
    "JCGM 100:2008, section 4.3.7: errors of which only the limits are known are taken as equally likely between them; "
    "Shigley and Mischke, Mechanical Engineering Design, ch. 1: root sum square (both from memory)"
)
HEAT = (
    "linear expansion: size x (1 + coefficient x rise); coefficients as the design gives them. W. D. Callister and D. "
    "G. Rethwisch, Fundamentals of Materials Science and Engineering, 3rd ed., table B.6 (from memory)"
)
CAPSULES = (
    "distance of two centre lines less half of each thickness: C. Ericson, Real-Time Collision Detection, Morgan "
    "Kaufmann 2005, section 5.1.9 (from memory)"
)
PLAY = "a link's working length may vary by twice the play of a pin; at the driven arm that is 2 x play / moment arm"
AIR = (
    "J. B. Heywood, Internal Combustion Engine Fundamentals, McGraw-Hill 1988, section 7.6 (open area of a plate) and "
    "appendix C, eqs. C-8 and C-9 (flow; from memory)"
)


def tolerance_yield(work: Working, answer: Answer, check: Check) -> None:
    """How many of the linkages built by chance keep every limit."""
    assert answer.tolerance is not None
    study = answer.tolerance.links_set
    tried = study.trials
    work.say(
        "Every linkage is built anew with each dimension wrong by chance within its tolerance, its links set at idle, "
        "and solved as it stands. Counted were:"
    )
    work.given("a", float(tried.passes.sum()), "number", "linkages that keep every mismatch limit", unit="")
    work.given("b", float(tried.samples), "number", f"linkages built, seed {tried.seed}", unit="")
    work.step("n", "100 × a / b", "%", "keep every limit")
    place = study.stacks.governs
    if not place.shares:
        return
    work.head("As a check by hand, root sum square where it is largest:")
    work.say(
        f'between "{place.between[0]}" and "{place.between[1]}", {100.0 * place.fraction:.0f} % of the travel; each '
        "line is what one tolerance moves there [deg]."
    )
    at = answer.run.at(place.turn)
    drawn = abs(float(at.plate_angle[place.between[0]][0] - at.plate_angle[place.between[1]][0]))
    work.given("m", drawn, "angle", "apart as drawn")
    names = []
    for i, share in enumerate([s for s in place.shares if s.moves > 1e-4][:12], 1):
        names.append(f"s{i}")
        work.given(f"s{i}", share.moves, "angle", share.dimension.path)
    work.step("z", f"m + sqrt({' + '.join(f'{name}^2' for name in names)})", "deg", "root sum square")


def _grown(work: Working, answer: Answer) -> Motion:
    """How the hot linkage comes from the cold one; returns its motion."""
    assert answer.heat is not None
    assert answer.heat.hot is not None
    given, run, hot = answer.run.rig.heat, answer.run, answer.heat.hot.run
    assert given is not None
    work.head("Growth:")
    for symbol, coefficient, rise, what in (
        ("fe", given.engine, given.rise, "engine: pivots, casing end, anchors, about the drawing's origin"),
        ("fl", given.links, given.rise if given.links_rise is None else given.links_rise, "links"),
        ("fa", given.arms, given.rise, "arms"),
    ):
        work.given(
            "c", 1e6 * coefficient, "number", f"expansion of the {what.split(':')[0]}, millionths per kelvin", unit=""
        )
        work.given("k", rise, "number", "temperature rise", unit="K")
        work.step(symbol, "1 + c × k / 1000000", "", what)
    for joint in run.train.joints:
        if joint.forward is not None:
            work.given("L", float(joint.length), "length", f'link "{joint.step.by.name}" cold')
            work.step("L", "L × fl", work.length, "hot")
    work.say(f"All numbers below are of the hot linkage: pivots × {number(growth(given)[0])}, and so on.")
    return hot


def heat_at_idle(work: Working, answer: Answer, check: Check) -> None:
    """Plate angles of the hot linkage at its closing stop."""
    assert answer.heat is not None
    if answer.heat.hot is None:
        work.say(f"The grown linkage cannot be put together: {answer.heat.jams}.")
        return
    hot = _grown(work, answer)
    apart(work, hot.at(hot.ends[0]))


def heat_in_travel(work: Working, answer: Answer, check: Check) -> None:
    """Plate angles of the hot linkage in that region of the travel that comes nearest to its limit."""
    assert answer.heat is not None
    assert answer.heat.hot is not None
    found, limits = answer.heat.hot.mismatch, answer.run.rig.limits
    regions = [(found.off_idle, limits.mismatch_off_idle), (found.last, limits.mismatch_at_wide_open)]
    if found.middle is not None and answer.heat.cold.mismatch.middle is not None:
        regions.append((found.middle, limits.mismatch))
    most = max(regions, key=lambda row: row[0].value - row[1])[0]
    region(work, _grown(work, answer), most)


def gap(work: Working, answer: Answer, check: Check) -> None:
    """The two parts that come nearest to each other."""
    assert answer.clearance is not None
    least = answer.clearance.least
    thick = {part.name: part.thickness for part in parts_of(answer.run)}
    work.say(
        f"At {parts.driven_to(answer.run, least.turn)}, {100.0 * least.fraction:.1f} % of the travel, the nearest "
        "points of the two centre lines are:"
    )
    for label, name, point in zip("pq", least.between, least.points, strict=True):
        for i, axis in enumerate("xyz"):
            work.given(f"{label}{axis}", point[i], "length", f"{axis} of it, on {name}")
    for label, name in zip("ab", least.between, strict=True):
        says = f"thickness of {name}" if thick[name] is not None else f"{name} has no thickness given"
        work.given(label, thick[name] or 0.0, "length", says)
    work.step("z", "sqrt((px - qx)^2 + (py - qy)^2 + (pz - qz)^2)", work.length, "between the centre lines")
    work.step("n", "z - (a + b) / 2", work.length, "gap")


def lost_motion(work: Working, answer: Answer, check: Check) -> None:
    """How far the loosest plate rocks with the driver held."""
    report, run = answer.lost_motion, answer.run
    assert report is not None
    assert run.rig.play is not None
    known = {name: at for name, at in report.largest.items() if not math.isnan(at.value)}
    loose = {name: at for name, at in known.items() if report.taken_up is None or not report.taken_up[name]}
    choice = loose or known
    name = max(choice, key=lambda n: choice[n].value)
    at = run.at(choice[name].turn)
    work.say(f'Shaft "{name}" at {parts.driven_to(run, choice[name].turn)}, joint by joint:')
    work.given("b", 0.0, parts.told(work, run.rig, run.rig.driver)[0], f'"{run.rig.driver}" is held')
    for joint in run.train.path_to(name):
        if joint.forward is None:
            work.given("v", float(joint.ratio), "number", f'ratio of coupling "{joint.step.by.name}"', unit="")
            work.given("e", run.rig.play.coupling, "angle", "shake of the coupling")
        else:
            parts.ratio(work, at, joint, "v")
            work.given("j", run.rig.play.pin, "length", "shake of one pin in its hole")
            unit = parts.told(work, run.rig, joint.step.driven)[1]
            adds = "2 × j / abs(m2)" if unit != "deg" else "2 × j / abs(m2) × 180 / pi"
            work.step("e", adds, unit, f'link "{joint.step.by.name}" adds')
        unit = parts.told(work, run.rig, joint.step.driven)[1]
        work.step("b", "abs(v) × b + e", unit, f'rock of "{joint.step.driven}"')
    work.step("n", "b", "deg", f'from side to side at "{name}"')


def air_at_idle(work: Working, answer: Answer, check: Check) -> None:
    """Air of each barrel at the closing stop, and how far the barrels differ."""
    run, air = answer.run, answer.run.rig.air
    assert air is not None
    at = run.at(run.ends[0])
    work.head("Flow for each square millimetre:")
    work.given("x", air.pressure_ratio, "number", "manifold pressure over ambient", unit="")
    work.given("y", GAMMA, "number", "ratio of specific heats of air", unit="")
    work.given("Rg", GAS_CONSTANT, "number", "gas constant of air", unit="J/(kg K)")
    work.given("c", air.discharge_coefficient, "number", "discharge coefficient", unit="")
    work.given("P0", air.ambient_pressure, "number", "ambient pressure", unit="kPa")
    work.given("T0", air.ambient_temperature, "number", "ambient temperature", unit="°C")
    work.step("xc", "(2 / (y + 1))^(y / (y - 1))", "", "below it the flow is sonic")
    work.step("xu", "max(x, xc)")
    work.step("U", "sqrt(2 × y / (y - 1) × (xu^(2 / y) - xu^((y + 1) / y)))", "", "flow function")
    work.step("w", "3.6 × c × P0 / sqrt(Rg × (T0 + 273.15)) × U", "kg/h", "for each mm^2")
    flows = []
    for i, (name, shaft) in enumerate(run.rig.shaft.items(), 1):
        assert shaft.bore is not None
        work.head(f'One plate of "{name}":')
        work.given("B", shaft.bore, "number", "bore", unit="mm")
        work.given("d", shaft.shaft_diameter, "number", "shaft", unit="mm")
        work.given("p0", shaft.plate_angle.shut, "angle", "plate angle, shut")
        work.given("p", float(at.plate_angle[name][0]), "angle", "plate angle, worked as for mismatch_at_idle")
        work.step("a", "d / B")
        work.step("r", "cos(max(p, p0)) / cos(p0)", "", "the plate as seen along the bore")
        work.step("h", "a × (sqrt(r^2 - a^2) / r - sqrt(1 - a^2)) + (r × asin(a / r) - asin(a)) × pi / 180")
        work.step("o", "max(1 - r + 2 / pi × h, 0)", "", "open share of the bore")
        work.step("A", "o × pi × B^2 / 4", "mm^2", "open area")
        work.step(f"F{i}", "w × A", "kg/h", "its air")
        flows.append(f"F{i}")
    work.head("Apart:")
    listed = ", ".join(flows)
    work.step("n", f"max({listed}) - min({listed})", "kg/h")
