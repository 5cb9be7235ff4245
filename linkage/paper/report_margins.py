"""Sections of the report on air, tolerance, heat, clearance and tilt: lines of plain text, or none."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkage.answers.checks import percent
from linkage.answers.clearance import ClearanceReport
from linkage.answers.flow import CRITICAL, AirFlow, air_flow
from linkage.answers.heat import HeatReport
from linkage.answers.joints import station_offsets
from linkage.answers.progression import TABLE
from linkage.answers.stacks import Place
from linkage.answers.tolerance import Study, ToleranceReport
from linkage.motion import Motion
from linkage.paper.lines import aligned, bar, fixed, length, sentence
from linkage.parts import Linkage

Floats = NDArray[np.float64]

_MOST_ROWS = 8  # of a ranked table


def air_section(run: Motion, report: AirFlow | None) -> list[str]:
    """Air of every shaft through the travel, its spread, and what moves the idle air by one percent."""
    if report is None or run.rig.air is None:
        return []
    at = air_flow(run.at_fraction(TABLE))
    assert at is not None
    rows = [["travel [%]", *(f"{100.0 * share:.0f}" for share in TABLE)]]
    rows += [[f"{name}, air [kg/h]", *(fixed(float(v), 1) for v in flow)] for name, flow in at.flow.items()]
    if len(at.flow) > 1:
        rows.append(["apart, of the mean [%]", *(fixed(float(v), 1) for v in at.spread_percent)])
    lines = aligned(rows, "<" + ">" * len(TABLE))
    told = [f'{fixed(by, 3)} at "{name}"' for name, by in report.one_percent.items() if by is not None]
    if told:
        lines += sentence(f"degrees of plate that change the idle air by one percent: {', '.join(told)}.")
    air = run.rig.air
    sonic = "sonic at the plates" if report.choked else f"below the speed of sound (sonic from {CRITICAL:.3f} down)"
    lines += sentence(
        f"steady flow at a pressure ratio of {air.pressure_ratio:g}, {sonic}; ambient {air.ambient_pressure:g} kPa "
        f"and {air.ambient_temperature:g} °C, discharge coefficient {air.discharge_coefficient:g}, ratio of specific "
        "heats 1.4. The same pressure ratio all the way: for comparing plates, not for predicting a meter."
    )
    return lines


def tolerance_section(report: ToleranceReport | None, rig: Linkage) -> list[str]:
    """The mismatch to expect of parts as made, as they come and with the links set; what to hold."""
    if report is None:
        return []
    rows = [["mismatch [deg]", "worst case", "root sum square", "95 of 100 within", "keep the limits"]]
    for name, study in (("as the parts come", report.as_built), ("links set at idle", report.links_set)):
        stacks, tried = study.stacks, study.trials
        rows.append(
            [f"{name}: at idle", *_both(stacks.at_idle.worst_case, stacks.at_idle.rss), fixed(tried.p95_at_idle), ""]
        )
        rows.append([f"{name}: at the most", *_both(stacks.largest.worst_case, stacks.largest.rss), fixed(tried.p95),
                     f"{100.0 * tried.yields:.1f} %"])  # fmt: skip
    tried = report.as_built.trials
    how = {"uniform": "evenly between the limits", "normal": "normally, the limits three standard deviations off"}
    lines = aligned(rows, "<>>>>")
    lines += sentence(
        f"{tried.samples} linkages built by chance (seed {tried.seed}), errors spread {how[tried.distribution]}. "
        "Links set: each turned on the bench until all shafts stand at idle as drawn."
    )
    for name, study in (("as the parts come", report.as_built), ("links set at idle", report.links_set)):
        lines += ["", *_ranked(name, study, rig)]
    return lines


def _both(worst: float, rss: float) -> tuple[str, str]:
    return fixed(worst), fixed(rss)


def _ranked(name: str, study: Study, rig: Linkage) -> list[str]:
    place: Place = study.stacks.governs
    lines = sentence(
        f'{name}, largest between "{place.between[0]}" and "{place.between[1]}" at {percent(place.fraction)}:'
    )
    if not place.shares:
        return [*lines, *sentence("no tolerance moves it.", "    ")]
    rows = [["dimension", "±", "moves [deg]", "of the variance", ""]]
    for share in place.shares[:_MOST_ROWS]:
        is_length = share.dimension.unit == "mm"
        within = f"{length(share.tolerance, rig.units)} {rig.units}" if is_length else f"{share.tolerance:g} deg"
        rows.append(
            [share.dimension.path, within, fixed(share.moves, 3), f"{100.0 * share.share:.0f} %", bar(share.share, 14)]
        )
    lines += aligned(rows, "<>>><", "    ")
    kinds = [f"{kind} {100.0 * part:.0f} %" for kind, part in study.stacks.by_kind.items()]
    lines += sentence(f"by kind: {', '.join(kinds)}. Hold: {', '.join(study.hold)}.", "    ")
    if study.let_go:
        others = f" and {len(study.let_go) - _MOST_ROWS} more" if len(study.let_go) > _MOST_ROWS else ""
        listed = ", ".join(study.let_go[-_MOST_ROWS:])
        lines += sentence(f"may be let go, a twentieth of the variance in all: {listed}{others}.", "    ")
    return lines


def heat_section(report: HeatReport | None, rig: Linkage) -> list[str]:
    """Hot against cold, what lifts at idle, and how to set the links cold."""
    if report is None or rig.heat is None:
        return []
    given, units = rig.heat, rig.units
    links_rise = given.rise if given.links_rise is None else given.links_rise
    lines = sentence(
        f"engine {given.rise:g} K warmer (expands {_ppm(given.engine)} per K), links {links_rise:g} K "
        f"({_ppm(given.links)}), arms {given.rise:g} K ({_ppm(given.arms)}); pivots spread about the drawing's origin."
    )
    if report.hot is None:
        return [*lines, *sentence(f"grown by it, {report.jams}.")]
    states = (("cold", report.cold), ("hot", report.hot))
    rows = [["", "largest [deg]", "at idle [deg]", "wide open [deg]", "closing held by", "opening held by"]]
    for name, state in states:
        apart = state.mismatch
        rows.append(
            [name, *(fixed(v, 3) for v in (apart.largest.value, apart.at_idle, apart.at_wide_open)),
             *(hold or "a dead point" for hold in state.holds)]
        )  # fmt: skip
    lines += ["", *aligned(rows, "<>>><<"), ""]
    plates = [["plates at idle", "cold [deg]", "hot [deg]", "lifts [deg]"]]
    for name, lift in report.lifts.items():
        before, after = (state.idle_plate_angle[name] for _, state in states)
        plates.append([name, fixed(before, 3), fixed(after, 3), fixed(lift, 3)])
    lines += aligned(plates, "<>>>")
    lines += sentence(f"common to all plates: {fixed(report.common_lift, 3)} degrees; it shifts the idle speed.")
    set_so = [
        f'"{name}" {length(abs(by), units)} {units} {"longer" if by > 0.0 else "shorter"}'
        for name, by in report.set_cold.items()
    ]
    if set_so:
        lines += sentence(f"for all shafts to stand hot as drawn at idle, set cold: link {', link '.join(set_so)}.")
    return lines


def _ppm(coefficient: float) -> str:
    return f"{1e6 * coefficient:g}e-6"


def clearance_section(report: ClearanceReport | None, rig: Linkage) -> list[str]:
    """The pairs that come nearest, and what has no size given."""
    if report is None:
        return []
    rows = [["between", "and", f"gap [{rig.units}]", "where"]]
    for gap in report.gaps[:_MOST_ROWS]:
        rows.append([*gap.between, _signed(gap.gap, rig.units), percent(gap.fraction)])
    lines = aligned(rows, "<<>>")
    lines += sentence(
        f"the nearest of {len(report.gaps)} pairs; a negative gap: they would pass through each other. Links, arms "
        "and hubs count as round bars with round ends, an arm as thick as it is wide; cable, springs and the "
        "engine itself are left out."
    )
    if report.without_size:
        lines += sentence(f"no size given, so lines of no thickness: {', '.join(report.without_size)}.")
    return lines


def _signed(mm: float, units: str) -> str:
    return ("-" if mm < 0.0 else "") + length(abs(mm), units)


def tilt_section(run: Motion) -> list[str]:
    """How far the ends of every link may stand apart along their axes."""
    found = station_offsets(run)
    if not found:
        return []
    units = run.rig.units
    rows = [["link", f"stations apart [{units}]", f"at most [{units}]", "for a tilt of [deg]"]]
    for name, row in found.items():
        rows.append([name, length(row.offset, units), length(row.largest, units), fixed(row.limit, 1)])
    return aligned(rows, "<>>>")
