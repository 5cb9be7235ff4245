"""Every position of a motion as a table for a spreadsheet: plain numbers, headings with units."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
from numpy.typing import NDArray

from linkage import turns
from linkage.answers import joints
from linkage.answers.airflow import open_area
from linkage.answers.mismatch import spread
from linkage.motion import Motion
from linkage.quantities import own_scale

Floats = NDArray[np.float64]


def columns(run: Motion) -> dict[str, Floats]:
    """Columns by heading, over the run's positions.

    Every heading begins with a word of its own, so that no name of a part can pass for a formula.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    dict of str to ndarray
        Angles [deg], lengths and areas in the design's own unit [mm or in], shape (n,) each.
    """
    units = run.rig.units
    size = own_scale(units, "length")
    per = f"{units}" if run.by_length else "deg"
    found: dict[str, Floats] = {
        "travel [%]": 100.0 * run.fraction,
        **_turn(run, run.rig.driver),
    }
    if run.cable is not None:
        found[f"cable [{units}]"] = run.cable / size
    if run.pedal is not None:
        found[f"pedal [{units}]"] = run.pedal / size
    area = open_area(run)
    for name, angle in run.plate_angle.items():
        found[f"plate angle of {name} [deg]"] = angle
        if (opened := area[name]) is not None:
            found[f"open area of {name} [{units}2]"] = opened / size**2
        found[f"gain of {name} [deg/{per}]"] = run.gain[name] * (size if run.by_length else 1.0)
    if len(run.rig.shaft) > 1:
        found["mismatch [deg]"] = spread(run)
    for name in run.rig.members:
        if name != run.rig.driver:
            found |= _turn(run, name)
    angle_of, tilt_of = joints.transmission_angles(run), joints.tilts(run)
    for name, link in run.rig.link.items():
        found[f"transmission angle of {name} [deg]"] = angle_of[name]
        for pin, tilt in zip(link.joins, tilt_of[name], strict=True):
            found[f"tilt of {name} at {pin} [deg]"] = tilt
    return found


def _turn(run: Motion, member: str) -> dict[str, Floats]:
    """The turn of a member, or the travel of one that slides, by its heading."""
    rig = run.rig
    heading = f"{turns.word_of(rig, member)} of {member} [{turns.unit_of(rig, member)}]"
    return {heading: run.member_turn[member] / turns.scale_of(rig, member)}


def csv_text(run: Motion) -> str:
    """The columns as CSV (RFC 4180 but for plain line ends): point for decimals, empty where there is no value."""
    found = columns(run)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(found)
    for row in zip(*found.values(), strict=True):
        writer.writerow(_cell(float(value)) for value in row)
    return out.getvalue()


def csv_bytes(run: Motion) -> bytes:
    """The CSV as a file's bytes: UTF-8, marked as such where a heading needs it."""
    text = csv_text(run)
    return text.encode("utf-8" if text.isascii() else "utf-8-sig")


def _cell(value: float) -> str:
    return f"{round(value, 9) + 0.0:.15g}" if math.isfinite(value) else ""
