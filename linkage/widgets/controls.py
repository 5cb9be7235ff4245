"""The sliders of the bench: one for every dimension, in the design's own unit, stepping as the shop can make it.

Steps are the design's own tolerances where it gives them: a hole is not drilled closer than that. A
link with a thread steps by its flats, a stop by the flats of its screw (a hexagon has six); without
either, 0.1 mm or 0.005 in and 0.5 degrees are common practice, no source.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from linkage.parts import Link, Linkage, Rule, dimensions, rule_of
from linkage.quantities import own_scale, own_unit
from linkage.threads import length_per_turn

_FLATS = 6  # of a hexagon: a sixth of a turn is what a spanner can tell
_STEP = {"mm": 0.1, "in": 0.005 * 25.4}  # [mm]
_CLOCKING = 0.5  # [deg]
_GAUGE = 0.1  # [deg] what a digital angle gauge shows
_REACH = {"length": 12.0, "angle": 30.0}  # [mm], [deg] a slider goes so far, or by half of its value if that is more
_AXES = ("x", "y", "z")

_PARTS = {"shaft": "Shaft", "bellcrank": "Bell crank", "link": "Link", "coupling": "Coupling", "stop": "Stop"}
_PARTS |= {"spring": "Spring", "slide": "Slide", "follower": "Follower"}

#: what stands on the drawing; all else goes by its own size
_DRAWN = (
    *("shaft.", "bellcrank.", "slide.", "link.", "coupling.", "stop.", "spring."),
    *("cable.casing_end", "cable.radius", "cable.profile"),
    *("pedal.pivot", "pedal.casing_end", "pedal.arm", "pedal.stop", "pedal.floor"),
)

#: the keys one seldom turns while looking for a better motion
_LESS = {
    *("friction_torque", "bore", "shaft_diameter", "hub_diameter", "width", "pitch", "tilt_limit", "diameter"),
    *("station", "efficiency", "shut", "origin", "friction"),
}


@dataclass(frozen=True, slots=True)
class Control:
    """A slider: its dimension's ``path``, the ``group`` and ``label`` it is shown under, its ``unit`` of
    size ``scale`` [mm, deg, N ...]; ``base``, ``low``, ``high`` and ``step`` are in that unit, and the
    steps count from ``base``. ``says`` tells what one step is; ``less`` puts it out of the way."""

    path: str
    group: str
    label: str
    unit: str
    scale: float
    base: float
    low: float
    high: float
    step: float
    decimals: int
    says: str
    fits: bool
    less: bool

    def snapped(self, value: float) -> float:
        """The nearest step to a value; both in [mm, deg, N ...], not in the slider's unit."""
        own = value / self.scale
        return self.scale * (self.base + self.step * round((own - self.base) / self.step))


def controls(rig: Linkage, lengths: Mapping[str, float]) -> dict[str, Control]:
    """A slider for every dimension of a design by its path, and for the length of every fitted link.

    Parameters
    ----------
    rig : Linkage
    lengths : mapping of str to float
        Centre distance of every link [mm], fitted or given.
    """
    return {path: _control(rig, path, value) for path, value in _values(rig, lengths)}


def _values(rig: Linkage, lengths: Mapping[str, float]) -> Iterator[tuple[str, float]]:
    seen = set()
    for path, value in dimensions(rig).items():
        kind, _, rest = path.partition(".")
        name = rest.partition(".")[0]
        if kind == "link" and name not in seen:
            seen.add(name)
            yield f"link.{name}.length", lengths.get(name, rig.link[name].length or 0.0)
        if kind not in ("wish", "free") and path != f"link.{name}.length":
            yield path, value
    for name in rig.link.keys() - seen:
        yield f"link.{name}.length", lengths.get(name, rig.link[name].length or 0.0)


def _control(rig: Linkage, path: str, value: float) -> Control:
    part, rule = at_path(rig, path)
    scale = own_scale(rig.units, rule.kind)
    step, says = _step(rig, path, part, rule, value)
    if path.startswith(_DRAWN):
        reach = max(_REACH.get(rule.kind, 0.0), 0.5 * abs(value) if rule.kind != "angle" else 0.0, 10.0 * step)
    else:
        reach = max(abs(value), 20.0 * step)
    down = math.floor(min(reach, max(value - rule.low, 0.0)) / step + 1e-9)
    up = math.floor(min(reach, max(rule.high - value, 0.0)) / step + 1e-9)
    low, high = max(value - down * step, rule.low), min(value + up * step, rule.high)
    group, label = _names(path)
    finest = {"length": 2 if rig.units == "mm" else 3, "angle": 2}.get(rule.kind, _decimals(step / scale))
    return Control(
        path, group, label, own_unit(rig.units, rule.kind), scale, value / scale, low / scale, high / scale,
        step / scale, finest, says, path.startswith("link.") and path.endswith(".length"),
        not _LESS.isdisjoint(path.split(".")) or path.endswith("pivot.z"),
    )  # fmt: skip


def at_path(rig: Linkage, path: str) -> tuple[Any, Rule]:
    """The part that holds a dimension, and the dimension's rule."""
    part: Any = rig
    keys = path.split(".")
    while keys:
        key = keys.pop(0)
        if isinstance(part, Mapping):
            part = part[key]
            continue
        at = next(f for f in dataclasses.fields(part) if f.name == key)
        rule = rule_of(part, at)
        if rule is not None and (not keys or keys[0] in _AXES):
            return part, rule
        part = getattr(part, key)
    raise KeyError(path)


def _names(path: str) -> tuple[str, str]:
    """The group a dimension is shown under and its label there."""
    keys = [key.replace("_", " ") for key in path.split(".")]
    if path.partition(".")[0] in _PARTS:
        group, keys = f"{_PARTS[keys[0]]} {path.split('.')[1]}", keys[2:]
    else:
        group, keys = keys[0].capitalize(), keys[1:]
    if keys[-1] in _AXES:
        keys[-2:] = [f"{keys[-2]} {keys[-1]}"]
    if keys[0] == "arm":
        keys[:2] = [f"arm {path.split('.')[2 if path.startswith('pedal.') else 3]}"]
    if path.startswith("slide.") and keys[0] == "pin":
        keys = [f"pin {path.split('.')[3]}", path[-1]]
    return group, ", ".join(keys)


def _step(rig: Linkage, path: str, part: Any, rule: Rule, value: float) -> tuple[float, str]:
    """What can be made, or told apart [mm, deg, N ...], and the words for it."""
    if isinstance(part, Link) and path.endswith(".length") and part.pitch is not None:
        turn = length_per_turn(part.pitch, part.hands)
        return (turn / _FLATS, "one flat of the tube") if part.hands == "left+right" else (turn / 2.0, "half a turn")
    if path.startswith("stop.") and rule.kind == "angle" and part.screw is not None:
        return math.degrees(part.screw.pitch / _FLATS / part.screw.radius), "one flat of the stop screw"
    if not path.startswith(_DRAWN):
        return _fiftieth(rig, rule, value), "a fiftieth"
    given = rig.tolerance
    if rule.kind == "angle":
        if ".arm." in path:
            tolerance = 0.0 if given is None else given.arm_angle
            return (tolerance, "your tolerance of clocking") if tolerance else (_CLOCKING, "a usual clocking")
        return _GAUGE, "what an angle gauge shows"
    if rule.kind == "length":
        fixed = ".pivot." in path or path.startswith("slide.")
        tolerance = 0.0 if given is None else given.pivot if fixed else given.arm_radius
        if path.startswith(("shaft.", "bellcrank.", "slide.")) and tolerance:
            return tolerance, "your tolerance of a hole"
        return _STEP[rig.units], "a usual hole"
    return _fiftieth(rig, rule, value), "a fiftieth"


def _fiftieth(rig: Linkage, rule: Rule, value: float) -> float:
    """A fiftieth of a value, round; of nothing a hundredth of its unit, within what its rule leaves."""
    least = min(0.01 * own_scale(rig.units, rule.kind), 0.02 * (rule.high - rule.low))
    return _round(0.02 * abs(value)) if value else least


def _round(value: float) -> float:
    """The nearest of 1, 2, 5, 10 ... below a value."""
    power = 10.0 ** math.floor(math.log10(value))
    return power * max(step for step in (1.0, 2.0, 5.0) if step * power <= value * (1.0 + 1e-9))


def _decimals(step: float) -> int:
    return max(0, math.ceil(-math.log10(step) - 1e-9))
