"""The parts of a linkage: frozen data, in mm, degrees, N and N.mm.

Every field that holds a quantity carries its :class:`Rule` (kind of quantity and the range it may
have). The design file's checks, its JSON Schema and :meth:`Linkage.replace` all read these same
rules, so a key is defined once, here.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from linkage import clashes
from linkage.errors import DesignError, Fault, PathError
from linkage.quantities import Kind, own_unit, quantity_in

Point = tuple[float, float, float]
Sense = Literal["ccw", "cw"]
Mounted = Literal["engine", "body"]
SIGN: Mapping[str, float] = {"ccw": 1.0, "cw": -1.0}

#: No part of an induction linkage is longer than this [mm]; larger numbers are slips of the pen.
LARGEST_LENGTH = 100_000.0

#: Most plates on one shaft.
MOST_PLATES = 24


@dataclass(frozen=True, slots=True)
class Rule:
    """What a quantity is and where it may lie, from ``low`` to ``high``, both included."""

    kind: Kind
    low: float = -math.inf
    high: float = math.inf

    def breaks(self, value: float) -> str:
        """Return the sentence that says how ``value`` breaks the rule, or an empty string."""
        if not math.isfinite(value):
            return f"must be a finite number, got {value}"
        if not self.low <= value <= self.high:
            return f"must be from {self.low:g} to {self.high:g}{self._unit}, got {value:g}"
        return ""

    @property
    def _unit(self) -> str:
        unit = own_unit("mm", self.kind)
        return f" {unit}" if unit else ""


def _length(low: float = -LARGEST_LENGTH, high: float = LARGEST_LENGTH) -> dict[str, Any]:
    return {"rule": Rule("length", low, high)}


def _size() -> dict[str, Any]:
    return _length(1e-3)


def _angle(low: float = -3600.0, high: float = 3600.0) -> dict[str, Any]:
    return {"rule": Rule("angle", low, high)}


def _lengths() -> dict[str, Any]:
    """A list of lengths: no dimension to vary, so its rule is that of ``each``."""
    return {"shape": "lengths", "each": Rule("length", -LARGEST_LENGTH, LARGEST_LENGTH)}


def _rule(kind: Kind, low: float = 0.0, high: float = 1e9) -> dict[str, Any]:
    return {"rule": Rule(kind, low, high)}


@dataclass(frozen=True, slots=True)
class Arm:
    """A lever on a member, ending in a pin: given by ``radius`` and ``angle``, or by ``pin``.

    ``angle`` [deg] is ccw from +x, as drawn (idle); ``station`` [mm] is along the axis from the
    member's pivot. ``pin`` [mm] is the pin's place as drawn; then radius and angle are None.
    """

    name: str
    radius: float | None = field(default=None, metadata=_size())
    angle: float | None = field(default=None, metadata=_angle())
    station: float = field(default=0.0, metadata=_length())
    pin: Point | None = field(default=None, metadata=_length())
    width: float | None = field(default=None, metadata=_length(0.0))


@dataclass(frozen=True, slots=True)
class PlateAngle:
    """Plate angles [deg] from the plane square to the bore: shut on the bore, at the idle stop, wide open."""

    shut: float = field(metadata=_angle(0.0, 60.0))
    idle: float = field(metadata=_angle(0.0, 89.0))
    wide_open: float = field(metadata=_angle(1.0, 120.0))


@dataclass(frozen=True, slots=True)
class Section:
    """What a shaft or tube is between its stations, for its twist: ``diameter`` and ``wall`` [mm] (None:
    solid), ``material`` or ``shear_modulus`` [GPa], and the share of its stiffness that slots leave.

    Stations [mm] are along the axis from the pivot: of the plates, of the shaft's own stops, and of the
    place at which a quadrant or a drive turns it. None: at the pivot.
    """

    diameter: float | None = field(default=None, metadata=_size())
    wall: float | None = field(default=None, metadata=_size())
    material: Literal["steel", "stainless", "aluminium", "titanium"] = "steel"
    shear_modulus: float | None = field(default=None, metadata=_rule("number", 0.1, 500.0))
    stiffness_share: float = field(default=1.0, metadata=_rule("number", 0.01, 1.0))
    plates_at: tuple[float, ...] | None = field(default=None, metadata=_lengths())
    stops_at: float | None = field(default=None, metadata=_length())
    turned_at: float | None = field(default=None, metadata=_length())


@dataclass(frozen=True, slots=True)
class Member:
    """Anything that turns about a fixed axis. ``pivot`` [mm]; ``axis`` is a unit vector.

    ``mounted`` on the body of the car, it stays there when the engine rocks.
    """

    name: str
    pivot: Point = field(metadata=_length())
    axis: Point = (0.0, 0.0, 1.0)
    arm: Mapping[str, Arm] = field(default_factory=dict)
    friction_torque: float = field(default=0.0, metadata=_rule("torque"))
    hub_diameter: float | None = field(default=None, metadata=_length(0.0))
    mounted: Mounted = "engine"
    twist: Section | None = None


@dataclass(frozen=True, slots=True)
class Shaft(Member):
    """A throttle shaft: a member that carries plates and ``opens`` one way."""

    opens: Sense = field(default="ccw", metadata={"needed": True})
    bore: float | None = field(default=None, metadata=_size())
    plates: int = 1
    shaft_diameter: float = field(default=0.0, metadata=_length(0.0))
    plate_angle: PlateAngle = field(default=PlateAngle(0.0, 0.0, 90.0), metadata={"needed": True})


@dataclass(frozen=True, slots=True)
class BellCrank(Member):
    """A member that carries no plates: bell crank, cross shaft, torque tube, pedal."""


@dataclass(frozen=True, slots=True)
class SlidePin:
    """A pin of a slide: its place ``at`` [mm] as drawn."""

    name: str
    at: Point = field(metadata=_length())

    @property
    def pin(self) -> Point:
        """The pin's place, by the word that an arm has for it."""
        return self.at

    @property
    def radius(self) -> None:
        """A pin of a block stands on no lever."""
        return

    @property
    def angle(self) -> None:
        """A pin of a block stands on no lever."""
        return

    @property
    def width(self) -> None:
        """A pin of a block stands on no lever."""
        return


@dataclass(frozen=True, slots=True)
class Slide:
    """A block on a straight guide through ``origin`` [mm], free to move ``along`` it (a unit vector).

    Its ``friction`` [N] resists either way. Its turn, wherever one is asked, is its travel along the
    guide from the drawn position, a millimetre for a degree.
    """

    name: str
    origin: Point = field(metadata=_length())
    along: Point = field(metadata={"needed": True})
    pin: Mapping[str, SlidePin] = field(default_factory=dict)
    friction: float = field(default=0.0, metadata=_rule("force"))
    mounted: Mounted = "engine"

    @property
    def arm(self) -> Mapping[str, SlidePin]:
        """The pins, by the word that a member has for what ends in a pin."""
        return self.pin

    @property
    def pivot(self) -> Point:
        """A point of the guide."""
        return self.origin

    @property
    def friction_torque(self) -> float:
        """Its friction as its turn feels it [N.mm]: a radian of turn is so many millimetres of travel."""
        return math.degrees(self.friction)

    @property
    def hub_diameter(self) -> None:
        """A block has no hub."""
        return

    @property
    def axis(self) -> Point:
        """Direction of the pins: square to the guide, as near to z as that allows."""
        a = self.along
        z = (-a[0] * a[2], -a[1] * a[2], 1.0 - a[2] * a[2])
        size = math.hypot(*z)
        return (z[0] / size, z[1] / size, z[2] / size) if size > 1e-9 else (1.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Link:
    """A rod-end link between two pins, ``joins = (member.arm, member.arm)``; ``length`` None: fitted.

    With a ``slot`` [mm] it is slotted: what it drives rests on its closing stop until the slot is taken up.
    """

    name: str
    joins: tuple[str, str]
    length: float | None = field(default=None, metadata=_size())
    hands: Literal["left+right", "right"] = "left+right"
    pitch: float | None = field(default=None, metadata=_length(1e-3, 20.0))
    tilt_limit: float | None = field(default=None, metadata=_angle(0.0, 90.0))
    diameter: float | None = field(default=None, metadata=_size())
    slot: float | None = field(default=None, metadata=_size())


@dataclass(frozen=True, slots=True)
class Coupling:
    """Turn of the second member = ``ratio`` x turn of the first + ``offset`` [deg, ccw].

    With a ``gap`` [deg] it is a pick-up screw or tang, which only pushes to open: the driven member
    rests on its closing stop until it has turned by the gap.
    """

    name: str
    joins: tuple[str, str]
    ratio: float = field(default=1.0, metadata=_rule("number", -100.0, 100.0))
    offset: float = field(default=0.0, metadata=_angle(-90.0, 90.0))
    stations: tuple[float, ...] | None = field(default=None, metadata=_lengths())
    gap: float | None = field(default=None, metadata=_angle(0.0, 180.0))


@dataclass(frozen=True, slots=True)
class ProfilePoint:
    """A point of a snail quadrant, by its number from 1: ``turn`` [deg] of the driver, ``moment_arm`` [mm]."""

    name: str
    turn: float = field(metadata=_angle(-360.0, 360.0))
    moment_arm: float = field(metadata=_size())


@dataclass(frozen=True, slots=True)
class Cable:
    """The accelerator cable, on a pin (``pulls``) or on a ``quadrant``: round, of constant ``radius`` [mm], or a
    snail, whose moment arm follows the points of its ``profile``; ``least_bend`` [mm] is the least radius that
    the inner cable may be bent to there."""

    pulls: str | None = None
    quadrant: str | None = None
    radius: float | None = field(default=None, metadata=_size())
    pull_turns: Sense | None = None
    profile: Mapping[str, ProfilePoint] | None = field(default=None, metadata={"shape": "rows"})
    # about eight times an inner cable of 1.5 mm; common practice, no source
    least_bend: float = field(default=12.0, metadata=_size())
    casing_end: Point | None = field(default=None, metadata=_length())
    casing_axis: Point | None = None
    travel: float | None = field(default=None, metadata=_size())
    free_play: float = field(default=0.0, metadata=_length(0.0))
    efficiency: float = field(default=1.0, metadata=_rule("number", 0.05, 1.0))
    mounted: Mounted = "engine"


@dataclass(frozen=True, slots=True)
class Pedal:
    """The pedal: by its ``ratio``, as a bell crank of its own, or as the driver with a ``pad``.

    ``ratio`` = pad travel / cable travel; ``travel`` [mm] is what the pad has, rest to floor. As a bell crank
    that pulls the cable it is drawn at rest, in its own side view and its own frame: ``pivot`` and
    ``casing_end`` [mm], the arms ``pad`` and ``cable``. Where it drives by links, ``pad`` names the pin of
    the driver that the foot presses. ``opens`` is the way it turns under the foot; ``stop`` and ``floor`` [deg] are its
    turns that way, from the drawn position, to the pedal stop and to the floor.
    """

    ratio: float = field(default=1.0, metadata=_rule("number", 1e-3, 1000.0))
    travel: float | None = field(default=None, metadata=_size())
    pivot: Point | None = field(default=None, metadata=_length())
    opens: Sense | None = None
    arm: Mapping[str, Arm] = field(default_factory=dict)
    casing_end: Point | None = field(default=None, metadata=_length())
    casing_axis: Point | None = None
    pad: str | None = None
    stop: float | None = field(default=None, metadata=_angle(0.01, 180.0))
    floor: float | None = field(default=None, metadata=_angle(0.01, 180.0))


@dataclass(frozen=True, slots=True)
class Screw:
    """A stop screw: its ``radius`` from the axis and its thread ``pitch`` [mm]."""

    radius: float = field(metadata=_size())
    pitch: float = field(metadata=_length(1e-3, 20.0))


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop beside those of each shaft's plate angles, at ``turn`` (from drawn) or ``plate_angle`` [deg],
    or, of a slide, at ``travel`` [mm] from drawn."""

    name: str
    on: str
    limits: Literal["opening", "closing"]
    turn: float | None = field(default=None, metadata=_angle(-360.0, 360.0))
    plate_angle: float | None = field(default=None, metadata=_angle(-30.0, 120.0))
    travel: float | None = field(default=None, metadata=_length(-1000.0, 1000.0))
    screw: Screw | None = None
    station: float | None = field(default=None, metadata=_length())


@dataclass(frozen=True, slots=True)
class Spring:
    """A return spring: torsion (``on``, ``preload`` [N.mm], ``rate`` [N.mm/deg]) or extension
    (``pulls``, ``anchor``, ``free_length`` [mm], ``rate`` [N/mm], ``initial_tension`` [N]).

    The rate of a torsion spring is of another kind: see the ``torsion`` rule beside its own.
    """

    name: str
    on: str | None = None
    pulls: str | None = None
    preload: float = field(default=0.0, metadata=_rule("torque"))
    rate: float = field(default=0.0, metadata={**_rule("spring_rate"), "torsion": Rule("torsion_rate", 0.0, 1e9)})
    anchor: Point | None = field(default=None, metadata=_length())
    free_length: float | None = field(default=None, metadata=_size())
    initial_tension: float = field(default=0.0, metadata=_rule("force"))
    station: float | None = field(default=None, metadata=_length())


@dataclass(frozen=True, slots=True)
class Follower:
    """Something more that must move with the throttles: a member (``on``) or a ``pin`` of the train.

    Its stroke from idle to wide open [deg of the member's turn, mm between the pin's two places] is to be
    from ``least_stroke`` to ``most_stroke``; a tenth of it is to be done by the share ``starts_by`` of the
    travel, nine tenths by ``complete_by``. The rules of a stroke in degrees are the ``torsion`` ones.
    """

    name: str
    on: str | None = None
    pin: str | None = None
    least_stroke: float | None = field(default=None, metadata={**_length(0.0), "torsion": Rule("angle", 0.0, 3600.0)})
    most_stroke: float | None = field(default=None, metadata={**_length(0.0), "torsion": Rule("angle", 0.0, 3600.0)})
    starts_by: float | None = field(default=None, metadata=_rule("number", 0.0, 1.0))
    complete_by: float | None = field(default=None, metadata=_rule("number", 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Plus-or-minus tolerances: lengths [mm], ``arm_angle`` [deg]."""

    link_length: float = field(default=0.0, metadata=_length(0.0))
    arm_radius: float = field(default=0.0, metadata=_length(0.0))
    arm_angle: float = field(default=0.0, metadata=_angle(0.0, 90.0))
    pivot: float = field(default=0.0, metadata=_length(0.0))


@dataclass(frozen=True, slots=True)
class Heat:
    """Temperature ``rise`` [K] and expansion coefficients [1/K] of engine, links and arms."""

    rise: float = field(default=0.0, metadata=_rule("number", -300.0, 1000.0))
    engine: float = field(default=0.0, metadata=_rule("number", -1e-3, 1e-3))
    links: float = field(default=0.0, metadata=_rule("number", -1e-3, 1e-3))
    arms: float = field(default=0.0, metadata=_rule("number", -1e-3, 1e-3))
    links_rise: float | None = field(default=None, metadata=_rule("number", -300.0, 1000.0))


@dataclass(frozen=True, slots=True)
class Air:
    """Air at the mouths of the bores and the manifold ``pressure_ratio`` behind the plates.

    ``ambient_pressure`` [kPa], ``ambient_temperature`` [deg C], ``discharge_coefficient`` [-].
    """

    pressure_ratio: float = field(metadata=_rule("number", 0.01, 0.9999))
    discharge_coefficient: float = field(default=0.8, metadata=_rule("number", 0.05, 1.0))
    ambient_pressure: float = field(default=101.325, metadata=_rule("number", 10.0, 200.0))
    ambient_temperature: float = field(default=20.0, metadata=_rule("number", -60.0, 80.0))


@dataclass(frozen=True, slots=True)
class Play:
    """Play of the joints: ``pin`` [mm], all the shake of one pin in its hole or ball in its race;
    ``coupling`` [deg], all the shake of one coupling."""

    pin: float = field(default=0.0, metadata=_length(0.0, 10.0))
    coupling: float = field(default=0.0, metadata=_angle(0.0, 30.0))


@dataclass(frozen=True, slots=True)
class Rocking:
    """The engine rolling in its mounts by ``degrees`` to either side, about an axis through the point
    ``axis`` [mm] along the unit vector ``direction``."""

    axis: Point = field(metadata=_length())
    direction: Point = (0.0, 0.0, 1.0)
    degrees: float = field(default=3.0, metadata=_angle(1e-3, 30.0))


@dataclass(frozen=True, slots=True)
class Limits:
    """What the verdict holds the design to. The defaults are common practice, no source, but where
    a line says otherwise; degrees, ``gap`` in mm."""

    # at idle 0.1 deg is 4 to 14 % of the air of a 40-50 mm bore (computed, see answers/airflow.py)
    mismatch_at_idle: float = field(default=0.1, metadata=_angle(0.0, 90.0))
    mismatch_off_idle: float = field(default=0.25, metadata=_angle(0.0, 90.0))
    mismatch: float = field(default=0.75, metadata=_angle(0.0, 90.0))
    # the plate hides behind its shaft in the last ten degrees: area no longer changes
    mismatch_at_wide_open: float = field(default=2.0, metadata=_angle(0.0, 90.0))
    transmission_angle: float = field(default=30.0, metadata=_angle(0.0, 90.0))
    toggle_margin: float = field(default=10.0, metadata=_angle(0.0, 180.0))
    # ISO 12240-4 series K rod ends of M5 to M8 tilt 13 to 14 deg (from memory, geometry checked)
    tilt: float = field(default=13.0, metadata=_angle(0.0, 90.0))
    gap: float = field(default=5.0, metadata=_length(0.0))
    wide_open_shortfall: float = field(default=2.0, metadata=_angle(0.0, 90.0))
    # what the engine's rocking may open a plate at idle, and move it with the pedal held
    rocking_at_idle: float = field(default=0.1, metadata=_angle(0.0, 90.0))
    rocking: float = field(default=1.0, metadata=_angle(0.0, 90.0))
    # twist that may set plates apart at idle; in the travel, or a plate off the arm that drives it
    twist_at_idle: float = field(default=0.1, metadata=_angle(0.0, 90.0))
    twist: float = field(default=0.1, metadata=_angle(0.0, 90.0))


@dataclass(frozen=True, slots=True)
class Wish:
    """What a fit is to reach besides the limits of the verdict; what is None is not wished.

    ``mismatch`` [deg] is the largest allowed anywhere in the travel, ``stops_together`` [deg] the most
    that one shaft's stop may have left when another's is met, at either end. ``progression_ratio`` is
    gain at wide open / gain at idle, ``progression`` lists points ``(share of travel, share of
    opening)``. ``cable_travel`` [mm] is to be used between the stops; ``transmission_angle`` [deg] and
    ``closing_torque`` [N.mm], at every shaft, are the least allowed. ``mismatch_as_made`` [deg] is the
    largest allowed of parts within the tolerances with every link set at idle (root sum square).
    """

    mismatch: float | None = field(default=None, metadata=_angle(1e-3, 90.0))
    stops_together: float | None = field(default=None, metadata=_angle(1e-3, 90.0))
    progression_ratio: float | None = field(default=None, metadata=_rule("number", 0.01, 100.0))
    progression: tuple[tuple[float, float], ...] | None = field(default=None, metadata={"shape": "pairs"})
    cable_travel: float | None = field(default=None, metadata=_size())
    transmission_angle: float | None = field(default=None, metadata=_angle(0.0, 90.0))
    closing_torque: float | None = field(default=None, metadata=_rule("torque"))
    mismatch_as_made: float | None = field(default=None, metadata=_angle(1e-3, 90.0))


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a dimension may become in a fit: ``low`` to ``high``, by ``step`` counted from ``low`` if one
    is given; in its own unit [mm, deg, N ...]."""

    low: float
    high: float
    step: float | None = None


@dataclass(frozen=True, slots=True)
class Form:
    """One of the ways in which a part may be given: the keys it ``needs`` and those it ``may`` have.

    The first key tells which form it is; one that needs nothing is the form of a part that has no other.
    A key of another form does not go with it.
    """

    needs: tuple[str, ...]
    may: tuple[str, ...] = ()


#: The parts that can be given in more than one way.
FORMS: Mapping[type, tuple[Form, ...]] = {
    Arm: (Form(("radius", "angle"), ("station",)), Form(("pin",), ("station",))),
    Cable: (
        Form(("pulls", "casing_end"), ("casing_axis",)),
        Form(("profile", "quadrant", "pull_turns"), ("casing_end", "casing_axis", "least_bend")),
        Form(("quadrant", "radius", "pull_turns"), ("casing_end", "casing_axis")),
    ),
    Stop: (Form(("turn",)), Form(("plate_angle",)), Form(("travel",))),
    Spring: (
        Form(("on", "rate"), ("preload", "station")),
        Form(("pulls", "anchor", "free_length", "rate"), ("initial_tension",)),
    ),
    Pedal: (
        Form(("pivot", "opens", "casing_end"), ("arm", "casing_axis", "stop", "floor")),
        Form(("pad",), ("stop", "floor")),
        Form((), ("ratio", "travel")),
    ),
    Follower: (Form(("on",)), Form(("pin",))),
}


def form_of(part: Any) -> Form | None:
    """Return the form in which a part is given, None for parts that have only one."""
    forms = FORMS.get(type(part), ())
    return next((form for form in forms if not form.needs or getattr(part, form.needs[0]) is not None), None)


def other_keys(part: Any) -> set[str]:
    """Keys that do not go with the form in which a part is given."""
    form = form_of(part)
    if form is None:
        return set()
    at_pin = {"station"} if isinstance(part, Arm) and part.pin is not None else set()  # it is in the pin's z
    every = {key for other in FORMS[type(part)] for key in (*other.needs, *other.may)}
    return at_pin | every - {*form.needs, *form.may}


@dataclass(frozen=True, slots=True)
class Source:
    """The design file a linkage was read from: its path as given and its whole text."""

    path: str
    text: str


@dataclass(frozen=True)
class Linkage:
    """A whole linkage: what is built. Immutable; :meth:`replace` makes a changed one.

    Lengths [mm], angles [deg], forces [N], torques [N.mm], whatever ``units`` ("mm" or "in") the
    design file and the papers use. ``shaft``, ``bellcrank``, ``link``, ``coupling``, ``stop`` and
    ``spring`` map names to parts in file order; ``free`` maps dotted paths to what they may become.
    """

    title: str
    units: Literal["mm", "in"]
    shaft: Mapping[str, Shaft]
    bellcrank: Mapping[str, BellCrank]
    link: Mapping[str, Link]
    coupling: Mapping[str, Coupling]
    slide: Mapping[str, Slide] = field(default_factory=dict)
    cable: Cable | None = None
    drive: str | None = None
    pedal: Pedal | None = None
    stop: Mapping[str, Stop] = field(default_factory=dict)
    spring: Mapping[str, Spring] = field(default_factory=dict)
    follower: Mapping[str, Follower] = field(default_factory=dict)
    tolerance: Tolerance | None = None
    heat: Heat | None = None
    air: Air | None = None
    play: Play | None = None
    rocking: Rocking | None = None
    limits: Limits = Limits()
    wish: Wish | None = None
    free: Mapping[str, Bounds] = field(default_factory=dict, metadata={"shape": "bounds"})
    customer: str = ""
    drawing: str = ""
    seen_from: str = ""
    source: Source | None = field(default=None, compare=False, repr=False)
    changes: tuple[tuple[str, Any], ...] = field(default=(), compare=False, repr=False)

    @property
    def members(self) -> dict[str, Member | Slide]:
        """Every moving part by name: shafts first, then bell cranks, then slides, in file order."""
        return {**self.shaft, **self.bellcrank, **self.slide}

    @property
    def turning(self) -> dict[str, Member]:
        """Every turning part by name: shafts first, then bell cranks, in file order."""
        return {**self.shaft, **self.bellcrank}

    def slides(self, member: str) -> bool:
        """Whether a member is a block that slides, so that its turn is a travel, a millimetre for a degree."""
        return member in self.slide

    @property
    def driver(self) -> str:
        """Name of the member that the cable (or whatever else) turns."""
        if self.cable is not None:
            return self.cable.quadrant or (self.cable.pulls or "").rpartition(".")[0]
        return self.drive or ""

    def replace(self, path: str, value: Any) -> Linkage:
        """Return the linkage with one dimension changed.

        The design file's own dotted path names it (``link.left.length``,
        ``bellcrank.centre.pivot.y``, ``shaft.left.arm.drive.radius``).

        Parameters
        ----------
        path : str
            A path of :func:`dimensions`, an optional quantity that the design leaves out, or a
            word such as ``shaft.left.opens``.
        value : float, str, sequence of float or None
            [mm] or [deg] (also in an inch design); a string carries its own unit (``"1/4 in"``).
            None takes an optional quantity away (a link is then fitted).

        Raises
        ------
        PathError
            No such path; the nearest are named.
        DesignError
            The value breaks the rule of its key, or does not go with another value of its part: a
            shaft as thick as its bore. What only holds together once both are changed, change by
            :meth:`replace_all`.

        Examples
        --------
        >>> import linkage
        >>> rig = linkage.read("demo/flat_six.toml")  # doctest: +SKIP
        >>> rig.replace("bellcrank.centre.pivot.y", 60.0)  # doctest: +SKIP
        """
        return self.replace_all({path: value})

    def replace_all(self, values: Mapping[str, Any]) -> Linkage:
        """Return the linkage with several dimensions changed at once; only the whole must hold together.

        Parameters
        ----------
        values : mapping of str to float, str, sequence of float or None
            By dotted path [mm] or [deg]; see :meth:`replace`, whose errors it raises.
        """
        changed = self
        for path, value in values.items():
            changed = _replaced(self, changed, path, path.split("."), value)
        if found := [fault for fault in _clashing(changed) if fault not in [*_clashing(self)]]:
            (only, *more) = values
            raise DesignError(found if more else [dataclasses.replace(f, place=only) for f in found])
        return dataclasses.replace(changed, changes=(*self.changes, *values.items()))


def _replaced(rig: Linkage, part: Any, path: str, keys: list[str], value: Any) -> Any:
    """Rebuild ``part`` with the value at ``keys`` changed, from the inside out."""
    key, rest = keys[0], keys[1:]
    if isinstance(part, Mapping):
        if key not in part or not rest:
            raise PathError(path, dimensions(rig))
        return {**part, key: _replaced(rig, part[key], path, rest, value)}
    fields = {f.name: f for f in dataclasses.fields(part)} if dataclasses.is_dataclass(part) else {}
    if key not in fields or key in ("name", "source", "changes", "units"):
        raise PathError(path, dimensions(rig))
    old = getattr(part, key)
    rule = rule_of(part, fields[key])
    if isinstance(old, tuple) and rule and rest in (["x"], ["y"], ["z"]):
        axis = "xyz".index(rest[0])
        number = _checked(rule, path, value)
        return dataclasses.replace(part, **{key: (*old[:axis], number, *old[axis + 1 :])})
    if rest:
        if not isinstance(old, Mapping) and not dataclasses.is_dataclass(old):
            raise PathError(path, dimensions(rig))
        return dataclasses.replace(part, **{key: _replaced(rig, old, path, rest, value)})
    if isinstance(old, Mapping) or dataclasses.is_dataclass(old):
        raise PathError(path, dimensions(rig), f'"{path}" is a whole part; name one dimension of it')
    if rule is None and key not in ("plates", *_WORDS, *_TEXTS):
        raise PathError(path, dimensions(rig))
    return dataclasses.replace(part, **{key: _new_value(part, fields[key], rule, path, value)})


def _new_value(part: Any, at: dataclasses.Field[Any], rule: Rule | None, path: str, value: Any) -> Any:
    form = form_of(part)
    if form is not None and at.name in other_keys(part):
        key = (form.needs or form.may)[0]
        raise _refused(path, f'does not go with "{key}", by which this part is given')
    if value is None:
        needed = form is not None and at.name in form.needs
        if needed or at.default is dataclasses.MISSING or at.metadata.get("needed"):
            raise _refused(path, "is needed and cannot be left out")
        return at.default
    if rule is None:
        return _new_word(at.name, path, value)
    if not str(at.type).startswith("Point"):
        return _checked(rule, path, value)
    if isinstance(value, (str, Mapping)) or not isinstance(value, Iterable):
        raise _refused(path, f"must be [x, y] or [x, y, z], got {value!r}")
    numbers = [_checked(rule, path, v) for v in value]
    if len(numbers) not in (2, 3):
        raise _refused(path, f"must be [x, y] or [x, y, z], got {len(numbers)} numbers")
    return (*numbers, *((getattr(part, at.name) or (0.0, 0.0, 0.0))[len(numbers) :]))


def _new_word(name: str, path: str, value: Any) -> Any:
    if name == "plates":
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_PLATES:
            raise _refused(path, f"must be a whole number from 1 to {MOST_PLATES}, got {value!r}")
        return value
    allowed = _WORDS.get(name)
    if not isinstance(value, str) or (allowed is not None and value not in allowed):
        want = " or ".join(f'"{w}"' for w in allowed) if allowed else "text"
        raise _refused(path, f"must be {want}, got {value!r}")
    return value


def _clashing(rig: Linkage) -> Iterator[Fault]:
    """Every value of a linkage that does not go with another of its part."""
    found = [
        (f"shaft.{name}", clashes.of_shaft(s.bore, s.shaft_diameter, p.shut, p.idle, p.wide_open))
        for name, s in rig.shaft.items()
        for p in [s.plate_angle]
    ]
    found += [(f"coupling.{name}", clashes.of_coupling(coupling.ratio)) for name, coupling in rig.coupling.items()]
    if rig.heat is not None:
        h = rig.heat
        links_rise = h.rise if h.links_rise is None else h.links_rise
        found.append(("heat", clashes.of_heat(h.rise, links_rise, h.engine, h.links, h.arms)))
    for place, clashing in found:
        for clash in clashing:
            yield Fault(".".join((place, *clash.keys)), clash.says, clash.mend)


def rule_of(part: Any, at: dataclasses.Field[Any]) -> Rule | None:
    """Rule of a field of a part, None where the field is no quantity."""
    if "torsion" in at.metadata and part.on is not None:
        return at.metadata["torsion"]  # type: ignore[no-any-return]
    return at.metadata.get("rule")


_TEXTS = ("title", "customer", "drawing", "seen_from")
_WORDS: Mapping[str, tuple[str, ...]] = {
    "opens": ("ccw", "cw"),
    "pull_turns": ("ccw", "cw"),
    "hands": ("left+right", "right"),
    "limits": ("opening", "closing"),
    "mounted": ("engine", "body"),
    "material": ("steel", "stainless", "aluminium", "titanium"),
}


def _checked(rule: Rule, path: str, value: Any) -> float:
    if isinstance(value, str):
        try:
            value = quantity_in(value, rule.kind)
        except ValueError as error:
            raise _refused(path, str(error)) from None
    try:
        if isinstance(value, bool):
            raise TypeError
        number = float(value)  # numpy scalars too
    except (TypeError, ValueError, OverflowError):
        raise _refused(path, f"must be a number, got {value!r}") from None
    if says := rule.breaks(number):
        raise _refused(path, says)
    return number


def _refused(path: str, says: str) -> DesignError:
    return DesignError([Fault(path, says)])


def dimensions(rig: Linkage) -> dict[str, float]:
    """Every number of the design by its dotted path, in file order.

    Returns
    -------
    dict of str to float
        [mm], [deg], [N], [N.mm]. Optional quantities that the design leaves out (a fitted link's
        length), or that do not go with the way in which a part is given, do not appear.
    """
    return dict(_numbers(rig, ""))


def _numbers(part: Any, path: str) -> Iterator[tuple[str, float]]:
    if isinstance(part, Mapping):
        for name, value in part.items():
            yield from _numbers(value, f"{path}{name}.")
        return
    passed = other_keys(part)
    for at in dataclasses.fields(part):
        value = getattr(part, at.name)
        if isinstance(value, Mapping) or dataclasses.is_dataclass(value):
            if at.name != "source":
                yield from _numbers(value, f"{path}{at.name}.")
        elif at.metadata.get("rule") is None or value is None or at.name in passed:
            continue
        elif isinstance(value, tuple):
            yield from ((f"{path}{at.name}.{axis}", v) for axis, v in zip("xyz", value, strict=True))
        else:
            yield f"{path}{at.name}", value
