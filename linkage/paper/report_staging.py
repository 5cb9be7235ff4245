"""Staging in the report and in the plain document: what comes in later, where, and how abruptly."""

from __future__ import annotations

from typing import Any

import numpy as np

from linkage.answers import Answer
from linkage.answers.checks import percent
from linkage.answers.extremes import Extreme
from linkage.answers.progression import TABLE
from linkage.answers.staging import PickUp, Staging
from linkage.closure import SLIDING
from linkage.paper.lines import aligned, fixed, length, sentence
from linkage.paper.sections import per_what
from linkage.parts import Linkage
from linkage.quantities import own_scale, own_unit

Document = dict[str, Any]


def staging_section(answer: Answer) -> list[str]:
    """The pick-ups in a table, the plates of every stage beside each other, what holds each stage shut."""
    report, run = answer.staging, answer.run
    if report is None:
        return []
    units, rig = run.rig.units, run.rig
    first = next(iter(rig.shaft))
    per = own_scale(units, "length") if run.by_cable else 1.0
    rows = [["picked up by", "slack", "moves", "travel", f"{first} [deg]", "gain before", "after", f"times {first}"]]
    for at in report.pick_ups:
        moves = ", ".join(at.shafts) or "no shaft"
        if not at.taken_up:
            rows.append([at.name, slack_text(rig, at.name), moves, "never", "", "", "", ""])
            continue
        rows.append(
            [at.name, slack_text(rig, at.name), moves, percent(at.fraction).partition(" of")[0], fixed(at.plate_angle),
             "0", fixed(at.gain * per), fixed(at.ratio)]
        )  # fmt: skip
    lines = aligned(rows, "<><>>>>>")
    lines += sentence(f"gains are of the nearest shaft, in degrees for each {per_what(answer, units)}.")
    at_table = run.at_fraction(TABLE)
    table = [["travel [%]", *(f"{100.0 * share:.0f}" for share in TABLE)]]
    table += [[f"{name} [deg]", *(fixed(float(v), 1) for v in angle)] for name, angle in at_table.plate_angle.items()]
    lines += ["", *aligned(table, "<" + ">" * len(TABLE)), ""]
    lines += sentence(
        f"at the end of the travel the shafts differ by {fixed(report.apart_at_wide_open)} degrees in what they lack "
        f"of wide open. Shafts of different stages are not held against each other in the mismatch."
    )
    for stage in report.stages:
        if stage.mismatch is not None and stage.at_wide_open is not None and stage.slack:
            lines += sentence(
                f"{', '.join(stage.shafts)} stand {fixed(stage.mismatch.value, 3)} degrees apart at the most before "
                f"the last ten degrees, {fixed(stage.at_wide_open.value, 3)} in them."
            )
    for at in report.pick_ups:
        lines += sentence(_held(at, units))
    return lines


def slack_text(rig: Linkage, name: str) -> str:
    """The slack of a joint by its table, with its unit."""
    table, _, part = name.partition(".")
    if table == "link":
        return f"{length(rig.link[part].slot, rig.units)} {rig.units}"
    return f"{fixed(rig.coupling[part].gap or 0.0, 1)} deg"


def _held(at: PickUp, units: str) -> str:
    torque = f"{fixed(at.torque / own_scale(units, 'torque'), 1)} {own_unit(units, 'torque')}"
    if at.closed:
        return f"beyond {at.name} springs of its own side close it with {torque} at the least, friction taken off."
    free = "" if not np.isfinite(at.flutter.value) else f", by up to {fixed(at.flutter.value, 1)} degrees"
    return f"beyond {at.name} no spring of its own side holds it shut: it can open by itself{free}."


def staging_document(report: Staging | None, rig: Linkage) -> Document | None:
    """The key ``staging`` of the document: gains in degrees per unit of cable travel, as of the shafts."""
    if report is None:
        return None
    per = own_scale(rig.units, "length") if rig.cable is not None else 1.0
    return {
        "stages": [
            {
                "slack": list(stage.slack),
                "shafts": list(stage.shafts),
                "mismatch": _extreme(stage.mismatch),
                "mismatch_at_wide_open": _extreme(stage.at_wide_open),
            }
            for stage in report.stages
        ],
        "pick_ups": {at.name: _pick_up(at, rig, per) for at in report.pick_ups},
        "apart_at_wide_open": report.apart_at_wide_open,
        "last_stage": {
            "shaft": report.progression.shaft,
            "table": [
                {
                    "fraction": row.fraction,
                    "plate_angle": row.plate_angle,
                    "open_area_fraction": row.open_area_fraction,
                }
                for row in report.progression.table
            ],
        },
    }


def _pick_up(at: PickUp, rig: Linkage, per: float) -> Document:
    return {
        "shafts": list(at.shafts),
        "turn": at.turn * (SLIDING * np.pi / 180.0 / own_scale(rig.units, "length") if rig.slides(rig.driver) else 1.0),
        "fraction": at.fraction,
        "plate_angle": at.plate_angle,
        "opening_fraction": at.opening,
        "gain_before": 0.0,
        "gain": at.gain * per,
        "first_gain": at.first_gain * per,
        "gain_ratio": at.ratio,
        "gain_at_wide_open": at.end_gain * per,
        "closed_by_its_own_springs": at.closed,
        "least_torque": at.torque / own_scale(rig.units, "torque"),
        "flutter": at.flutter.value,
    }


def _extreme(found: Extreme | None) -> Document | None:
    return None if found is None else {"value": found.value, "at_fraction": found.fraction}
