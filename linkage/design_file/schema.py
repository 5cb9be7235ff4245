"""The keys of a design file, read off the parts' own fields, and their JSON Schema.

A key is defined once, as a field of a part (:mod:`linkage.parts`) with its rule. This module adds
only what a file has and a part has not: ``format``, the ``[drive]`` table, and a sentence a key
for the editor's hints.
"""

from __future__ import annotations

import dataclasses
import re
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from linkage import parts
from linkage.parts import MOST_PLATES, Form, Linkage, Point, Rule
from linkage.quantities import UNITS, Kind

#: The design file's format that this version reads and writes.
FORMAT = 1

#: Names of members, arms, links and so on: letters of any language, digits, "_" and "-".
NAME = re.compile(r"[\w-]+")
LONGEST_NAME = 60

#: Directions that a letter may name, and that must be given in space.
NAMED_WAYS = ("axis", "direction")

#: Most points of a wished progression or of a profile.
MOST_POINTS = 20
#: Fewest points of a profile.
LEAST_ROWS = 2

Shape = Literal[
    "quantity",
    "point",
    "direction",
    "words",
    "text",
    "joins",
    "count",
    "pairs",
    "rows",
    "lengths",
    "bounds",
    "table",
    "tables",
]


@dataclass(frozen=True, slots=True)
class Drive:
    """The ``[drive]`` table: what ``turns`` where no cable pulls."""

    turns: str


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table: its ``shape``, the ``rule`` of its numbers, whether it is ``needed``.

    ``torsion`` is the rule instead where the table is a torsion spring; ``words`` are the words
    allowed; ``of`` is the part that a table holds; ``default`` is what leaving the key out means;
    ``says`` explains the key.
    """

    name: str
    shape: Shape
    needed: bool
    says: str
    rule: Rule | None = None
    torsion: Rule | None = None
    words: tuple[str, ...] = ()
    of: type | None = None
    default: Any = None

    @property
    def hint(self) -> str:
        """What the key is, as part of a sentence."""
        return self.says[:1].lower() + self.says[1:].rstrip(".")


_SAYS: Mapping[str, str] = {
    "Linkage.title": "Title of the design; left out: the name of the file.",
    "Linkage.units": "Unit of bare lengths; with mm go N and N·mm, with in go lbf and lbf·in.",
    "Linkage.shaft": "Throttle shafts, [shaft.NAME].",
    "Linkage.bellcrank": "Members without plates, [bellcrank.NAME]: bell crank, cross shaft, pedal.",
    "Linkage.slide": "Blocks on a straight guide, [slide.NAME].",
    "Linkage.link": "Rod-end links, [link.NAME].",
    "Linkage.coupling": "Couplings of coaxial shafts and meshing sector pairs, [coupling.NAME].",
    "Linkage.cable": "The accelerator cable, on a pin or on a quadrant.",
    "Linkage.drive": "What turns the train where no cable pulls.",
    "Linkage.pedal": "The pedal: by its ratio, drawn in its own side view, or as the driver's pin under the foot.",
    "Linkage.stop": "Stops beside those of each shaft's plate angles, [stop.NAME].",
    "Linkage.spring": "Return springs, [spring.NAME].",
    "Linkage.follower": "What else must move with the throttles, [follower.NAME].",
    "Linkage.tolerance": "Tolerances of the built parts, plus or minus.",
    "Linkage.heat": "Temperature rise and expansion.",
    "Linkage.air": "The air that the engine draws, for the flow at each shaft.",
    "Linkage.play": "Play of the joints.",
    "Linkage.rocking": "The engine's roll in its mounts.",
    "Linkage.limits": "What the verdict holds the design to.",
    "Linkage.wish": "What a fit is to reach besides the limits of the verdict.",
    "Linkage.free": "What a fit may change: the dotted path of a dimension = [from, to] or [from, to, step].",
    "Linkage.customer": "Shown on the sheets.",
    "Linkage.drawing": "Drawing number and revision, shown on the sheets.",
    "Linkage.seen_from": "Where the viewer stands: x is right, y is up, z comes towards the viewer.",
    "Drive.turns": "Name of the member that is turned.",
    "Member.pivot": "A point of the axis, [x, y] or [x, y, z].",
    "Member.axis": 'Axis: "x", "y", "z" or [ax, ay, az]; with another than z, arms are given by pin.',
    "Member.arm": "Arms of the member, [... .arm.NAME].",
    "Member.friction_torque": "Friction of the bearings, a torque that resists turning either way.",
    "Member.hub_diameter": "Diameter of the hub, for clearance.",
    "Member.mounted": "What the pivot stands on: the engine, or the body of the car, against which the engine rocks.",
    "Member.twist": "The shaft or tube between its stations, for its twist.",
    "Section.diameter": "Outside diameter; of a throttle shaft left out: its shaft_diameter.",
    "Section.wall": "Wall thickness of a tube; left out: solid.",
    "Section.material": "What it is made of; the shear moduli are 79.3, 73.1, 26.9 and 42.4 GPa in this order.",
    "Section.shear_modulus": "Shear modulus in GPa, instead of that of the material.",
    "Section.stiffness_share": "Share of the round section's stiffness that is left, 1 where nothing is cut away.",
    "Section.plates_at": "Stations of the plates along the axis, from the pivot: [s, s ...].",
    "Section.stops_at": "Station of the stops of the shaft's own plate_angle; left out: at the pivot.",
    "Section.turned_at": "Station at which a quadrant or [drive] turns it; left out: at the pivot.",
    "Shaft.opens": "Which way the shaft turns to open, as drawn.",
    "Shaft.bore": "Diameter of the throttle bores.",
    "Shaft.plates": "Number of plates on the shaft.",
    "Shaft.shaft_diameter": "Diameter of the shaft where it crosses the bore.",
    "Shaft.plate_angle": "Plate angles from the plane square to the bore.",
    "PlateAngle.shut": "Plate angle when shut on the bore.",
    "PlateAngle.idle": "Plate angle at the idle stop: the position as drawn.",
    "PlateAngle.wide_open": "Plate angle at the wide-open stop.",
    "Slide.origin": "A point of the guide, [x, y] or [x, y, z].",
    "Slide.along": "Direction of the guide, [dx, dy] or [dx, dy, dz].",
    "Slide.pin": "Pins of the block, [... .pin.NAME].",
    "Slide.mounted": "What the guide stands on: the engine, or the body of the car, against which the engine rocks.",
    "Slide.friction": "Friction of the guide, a force that resists moving either way.",
    "SlidePin.at": "Place of the pin as drawn, [x, y] or [x, y, z].",
    "Arm.radius": "Axis to pin centre.",
    "Arm.angle": "Direction of the arm at idle, as drawn, ccw from +x.",
    "Arm.station": "Place of the arm along the axis, from the pivot.",
    "Arm.pin": "Place of the pin as drawn, [x, y] or [x, y, z], instead of radius and angle.",
    "Arm.width": "Width of the arm, for clearance.",
    "Link.joins": 'The two pins that the link joins, ["member.arm", "member.arm"].',
    "Link.length": "Pin centre to pin centre; left out: fitted to the position as drawn.",
    "Link.hands": 'Rod-end threads: "left+right" (turn the tube) or "right" (take one end off).',
    "Link.pitch": "Thread pitch of the rod ends.",
    "Link.tilt_limit": "Tilt that the rod ends permit.",
    "Link.diameter": "Outside diameter, for clearance.",
    "Link.slot": "Length of the slot: lost motion on purpose, taken up before the link drives.",
    "Coupling.joins": "The two members, by name: the second turns with the first.",
    "Coupling.ratio": "Turn of the second member per turn of the first; negative for a sector pair.",
    "Coupling.offset": "Offset of the second member, ccw: the sync screw.",
    "Coupling.stations": "Where it grips each of the two, along their axes: [s, s]; left out: at the pivots.",
    "Coupling.gap": "Of a pick-up screw or tang, which only pushes to open: its gap in degrees of the driven member.",
    "Cable.pulls": 'The pin that the cable pulls, "member.arm".',
    "Cable.quadrant": "The member that carries a quadrant (drum), instead of pulls.",
    "Cable.radius": "Radius of the quadrant at the cable's centre line.",
    "Cable.pull_turns": "Which way the pull turns the quadrant.",
    "Cable.profile": "Points [turn of the driver from drawn, moment arm] of a snail quadrant, instead of radius.",
    "Cable.least_bend": "Snail quadrant: least radius that the inner cable may be bent to.",
    "ProfilePoint.turn": "Turn of the driver from drawn, ccw.",
    "ProfilePoint.moment_arm": "Distance from the axis to the cable's centre line at that turn.",
    "Cable.casing_end": "Where the outer casing ends, [x, y] or [x, y, z].",
    "Cable.casing_axis": "Direction of the inner cable as it leaves the casing, [x, y] or [x, y, z].",
    "Cable.travel": "Cable travel that the pedal can give.",
    "Cable.free_play": "Slack to take up before the cable pulls.",
    "Cable.mounted": "What the casing ends on: the engine, or the body of the car.",
    "Cable.efficiency": "Share of the pull at the pedal's end that arrives; the rest is friction in the casing.",
    "Pedal.ratio": "Pad travel per cable travel.",
    "Pedal.travel": "Pad travel from its stop to the floor.",
    "Pedal.pivot": "Pivot of the pedal, [x, y] in its own side view: the form that pulls the cable by an arm.",
    "Pedal.opens": "Which way the pedal turns under the foot, in its own side view.",
    "Pedal.arm": "The two arms as drawn at rest, [pedal.arm.pad] and [pedal.arm.cable].",
    "Pedal.casing_end": "Where the outer casing ends at the pedal, in the pedal's own side view.",
    "Pedal.casing_axis": "Direction of the inner cable as it leaves the casing towards the pedal.",
    "Pedal.pad": 'Pedal that drives by links: the pin of the driver that the foot presses, "member.arm".',
    "Pedal.stop": "Turn of the pedal from rest to its own stop, the way the foot presses.",
    "Pedal.floor": "Turn of the pedal from rest to the floor, the way the foot presses.",
    "Stop.on": "Name of the member that the stop acts on.",
    "Stop.limits": "Which end of the travel the stop is at.",
    "Stop.turn": "On a bell crank: its turn at the stop, from drawn, ccw.",
    "Stop.plate_angle": "On a shaft: the plate angle at the stop.",
    "Stop.travel": "On a slide: its travel at the stop, from drawn, along the guide.",
    "Stop.screw": "The stop screw: its radius from the axis and its thread pitch.",
    "Stop.station": "Place of the stop along the axis, from the pivot, for the twist; left out: at the pivot.",
    "Screw.radius": "Axis to stop screw.",
    "Screw.pitch": "Thread pitch of the stop screw.",
    "Spring.on": "Torsion spring: name of the member that it closes.",
    "Spring.pulls": 'Extension spring: the pin that it pulls, "member.arm".',
    "Spring.preload": "Torsion spring: closing torque as drawn.",
    "Spring.rate": "Torsion: torque per degree of opening; extension: force per length of stretch.",
    "Spring.anchor": "Extension spring: its fixed end, [x, y] or [x, y, z].",
    "Spring.free_length": "Extension spring: length between the hooks at which it begins to stretch.",
    "Spring.initial_tension": "Extension spring: pull at which it begins to stretch.",
    "Spring.station": "Torsion spring: its place along the axis, for the twist; left out: at the pivot.",
    "Follower.on": "Name of the member whose turn counts, such as a pump arm or a position sensor.",
    "Follower.pin": 'The pin whose stroke counts, "member.arm", such as that of a kick-down rod.',
    "Follower.least_stroke": "Least stroke wished from idle to wide open: degrees of a member, length of a pin.",
    "Follower.most_stroke": "Largest stroke wished from idle to wide open: degrees of a member, length of a pin.",
    "Follower.starts_by": "Share of the travel by which a tenth of the stroke must be done.",
    "Follower.complete_by": "Share of the travel by which nine tenths of the stroke must be done.",
    "Tolerance.link_length": "Plus or minus, length of every link.",
    "Tolerance.arm_radius": "Plus or minus, radius of every arm.",
    "Tolerance.arm_angle": "Plus or minus, angle of every arm.",
    "Tolerance.pivot": "Plus or minus, x and y of every pivot.",
    "Heat.rise": "Temperature rise of the engine in kelvin.",
    "Heat.engine": "Expansion coefficient of the engine, 1/K; pivots spread about the origin.",
    "Heat.links": "Expansion coefficient of the links, 1/K.",
    "Heat.arms": "Expansion coefficient of the arms, 1/K.",
    "Heat.links_rise": "Temperature rise of links in cooler air, in kelvin.",
    "Air.pressure_ratio": "Manifold pressure over ambient pressure.",
    "Air.discharge_coefficient": "Discharge coefficient of the plates.",
    "Air.ambient_pressure": "Ambient pressure in kPa.",
    "Air.ambient_temperature": "Ambient temperature in degrees Celsius.",
    "Play.pin": "All the shake of one pin in its hole or ball in its race.",
    "Play.coupling": "All the shake of one coupling.",
    "Rocking.axis": "A point of the axis about which the engine rolls, [x, y] or [x, y, z].",
    "Rocking.direction": 'Direction of that axis: "x", "y", "z" or [ax, ay, az]; left out: z, along the shafts.',
    "Rocking.degrees": "Roll to judge, to either side.",
    "Limits.rocking_at_idle": "Most that the engine's rocking may open a plate at idle, foot off.",
    "Limits.rocking": "Most that the engine's rocking may move a plate with the pedal held.",
    "Limits.twist_at_idle": "Most that the twist of the shafts may set the plates apart at idle.",
    "Limits.twist": "Most that twist may set plates apart in the travel, or a plate off the arm that drives its shaft.",
    "Limits.mismatch_at_idle": "Largest mismatch of plate angles at idle.",
    "Limits.mismatch_off_idle": "Largest mismatch in the first 10 degrees of opening.",
    "Limits.mismatch": "Largest mismatch between the first and the last 10 degrees.",
    "Limits.mismatch_at_wide_open": "Largest mismatch in the last 10 degrees.",
    "Limits.transmission_angle": "Least transmission angle; caution below 10 degrees more.",
    "Limits.toggle_margin": "Least driver turn left to a toggle beyond each end.",
    "Limits.tilt": "Largest tilt of a rod end that gives no tilt_limit.",
    "Limits.gap": "Least clearance between moving parts.",
    "Limits.wide_open_shortfall": "What a shaft may lack at the opening stop.",
    "Wish.mismatch": "Largest mismatch wished anywhere in the travel.",
    "Wish.stops_together": "Most that a shaft's stop may have left when another shaft's is met, at either end.",
    "Wish.progression_ratio": "Gain at wide open over gain at idle: 1 is even, 2 opens slowly first.",
    "Wish.progression": "Points [share of travel, share of opening], each from 0 to 1.",
    "Wish.cable_travel": "Cable travel to be used from the closing to the opening stop.",
    "Wish.transmission_angle": "Least transmission angle wished.",
    "Wish.closing_torque": "Least closing torque wished at every shaft, friction taken off.",
    "Wish.mismatch_as_made": "Largest mismatch of parts within the tolerances, links set at idle (root sum square).",
}


def _key(part: type, at: dataclasses.Field[Any], hint: Any) -> Key:
    """Read one key off a part's field and the field's type."""
    says = next((_SAYS[f"{c.__name__}.{at.name}"] for c in part.__mro__ if f"{c.__name__}.{at.name}" in _SAYS), "")
    bare = [a for a in typing.get_args(hint) if a is not type(None)]
    if type(None) in typing.get_args(hint) and len(bare) == 1:
        hint = bare[0]
    inner, arguments = typing.get_origin(hint), typing.get_args(hint)
    rule: Rule | None = at.metadata.get("rule") or at.metadata.get("each")
    shape: Shape = "text"
    of: type | None = None
    words: tuple[str, ...] = ()
    if "shape" in at.metadata:
        shape = at.metadata["shape"]
        of = arguments[1] if shape == "rows" else None
    elif inner is Literal:
        shape, words = "words", arguments
    elif hint == Point:
        shape = "point" if rule else "direction"
    elif inner is tuple:
        shape = "joins"
    elif inner is Mapping:
        shape, of = "tables", arguments[1]
    elif dataclasses.is_dataclass(hint):
        shape, of = "table", typing.cast(type, hint)
    elif hint is int:
        shape = "count"
    elif hint is float:
        shape = "quantity"
    left_out = at.default is dataclasses.MISSING and at.default_factory is dataclasses.MISSING
    needed = left_out or bool(at.metadata.get("needed"))
    default = None if at.default is dataclasses.MISSING else at.default
    return Key(at.name, shape, needed, says, rule, at.metadata.get("torsion"), words, of, default)


def _keys(part: type) -> dict[str, Key]:
    hints = typing.get_type_hints(part)
    found = {f.name: _key(part, f, hints[f.name]) for f in dataclasses.fields(part)}
    found.pop("name", None)
    return found


def _top() -> dict[str, Key]:
    """Keys of the file itself: those of :class:`Linkage`, where a file has them otherwise or not."""
    keys = _keys(Linkage)
    for name in ("source", "changes"):
        del keys[name]
    for name in ("title", "units", "shaft", "bellcrank", "slide", "link", "coupling"):
        keys[name] = dataclasses.replace(keys[name], needed=False)
    keys["drive"] = dataclasses.replace(keys["drive"], shape="table", of=Drive)
    return keys


def _all() -> dict[type, dict[str, Key]]:
    """Keys of the file and of every table in it, however deep."""
    found: dict[type, dict[str, Key]] = {Linkage: _top()}
    left: list[type] = [Linkage]
    while left:
        for key in found[left.pop()].values():
            if key.of is not None and key.of not in found:
                found[key.of] = _keys(key.of)
                left.append(key.of)
    return found


#: The keys of every table, by the part that the table holds (``format`` stands apart).
KEYS: Mapping[type, Mapping[str, Key]] = _all()


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a design file, for editors.

    It knows the keys, their shapes and ranges. What joins what, and whether it can be built, only
    reading the file tells.
    """
    rows = {key.of for keys in KEYS.values() for key in keys.values() if key.shape == "rows"}
    tables = {part.__name__: _table(part, keys) for part, keys in KEYS.items() if part not in rows}
    top = tables.pop("Linkage")
    top["properties"] = {
        "format": {"const": FORMAT, "description": "Format of the design file."},
        **top["properties"],
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Throttle linkage design file",
        "type": "object",
        **top,
        "required": ["format", "shaft"],
        "oneOf": [{"required": ["cable"]}, {"required": ["drive"]}],
        "$defs": {
            **dict(sorted(tables.items())),
            **{kind: _with_unit(kind) for kind in UNITS},
            "bounds": {
                "type": "object",
                "additionalProperties": {
                    "anyOf": [{"$ref": "#/$defs/bounds"}, _list_of({"type": ["number", "string"]}, 2, 3)]
                },
            },
        },
    }


def _table(part: type, keys: Mapping[str, Key]) -> dict[str, Any]:
    table: dict[str, Any] = {
        "type": "object",
        "additionalProperties": False,
        "properties": {k.name: {"description": k.says, **_shape(k)} for k in keys.values()},
    }
    if needed := [k.name for k in keys.values() if k.needed]:
        table["required"] = needed
    if forms := parts.FORMS.get(part):
        table["oneOf"] = [
            {"required": list(form.needs), "properties": dict.fromkeys(sorted(not_in(form, forms)), False)}
            for form in forms
        ]
    return table


def not_in(form: Form, forms: tuple[Form, ...]) -> set[str]:
    """Keys that belong to other forms of a part and so do not go with this one."""
    return {k for other in forms for k in (*other.needs, *other.may)} - {*form.needs, *form.may}


def _shape(key: Key) -> dict[str, Any]:
    if key.shape == "rows":
        columns = [_quantity(column) for column in KEYS[key.of or object].values()]
        row = {"type": "array", "prefixItems": columns, "minItems": len(columns), "maxItems": len(columns)}
        return _list_of(row, LEAST_ROWS, MOST_POINTS)
    if key.of is not None:
        one = {"$ref": f"#/$defs/{key.of.__name__}"}
        if key.shape == "table":
            return one
        names = {"pattern": r"^[^\s.\"']+$", "maxLength": LONGEST_NAME}
        return {"type": "object", "propertyNames": names, "additionalProperties": one}
    if key.shape == "point":
        return {"type": "array", "items": _quantity(key), "minItems": 2, "maxItems": 3}
    if key.shape == "direction":
        numbers: dict[str, Any] = {
            "type": "array",
            "items": {"type": "number"},
            "minItems": 3 if key.name in NAMED_WAYS else 2,
            "maxItems": 3,
        }
        return {"anyOf": [{"enum": ["x", "y", "z"]}, numbers]} if key.name in NAMED_WAYS else numbers
    if key.shape == "quantity":
        return _quantity(key)
    if key.shape == "lengths":
        return _list_of(_quantity(key), 1, MOST_PLATES)
    others: dict[Shape, dict[str, Any]] = {
        "pairs": _list_of(_list_of({"type": "number", "minimum": 0.0, "maximum": 1.0}, 2, 2), 1, MOST_POINTS),
        "bounds": {"$ref": "#/$defs/bounds"},
        "words": {"enum": list(key.words)},
        "joins": {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2},
        "count": {"type": "integer", "minimum": 1, "maximum": MOST_PLATES},
    }
    return others.get(key.shape, {"type": "string"})


def _list_of(items: dict[str, Any], least: int, most: int) -> dict[str, Any]:
    return {"type": "array", "items": items, "minItems": least, "maxItems": most}


def _quantity(key: Key) -> dict[str, Any]:
    """A number, with its range where that does not hang on the design's unit, or a string with a unit."""
    rule = typing.cast(Rule, key.rule)
    number: dict[str, Any] = {"type": "number"}
    if rule.kind in ("angle", "number"):
        number |= {"minimum": rule.low, "maximum": rule.high}
    elif rule.low >= 0.0:
        number |= {"minimum": 0.0} if rule.low == 0.0 else {"exclusiveMinimum": 0.0}
    kinds = [rule.kind, *([key.torsion.kind] if key.torsion else [])]
    return {"anyOf": [number, *({"$ref": f"#/$defs/{kind}"} for kind in kinds)]}


def _with_unit(kind: Kind) -> dict[str, Any]:
    """A string that ends in a unit of the kind."""
    units = sorted(UNITS[kind], key=lambda u: (-len(u), u))
    ends = "|".join(_spelt(u) for u in units) or "/ ?[0-9]+"
    return {"type": "string", "pattern": rf"^\s*[-+−]?\s*[0-9.].*({ends})\s*$"}


def _spelt(unit: str) -> str:
    return unit.replace("·", r"\s*[-·⋅*. ]\s*").replace("/", r"\s*/\s*")
