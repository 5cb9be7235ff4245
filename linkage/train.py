"""The order of a train: which link or coupling drives which member, from the driver outwards.

Pure topology, no geometry. A train is a tree: every member but the driver is driven exactly once.
"""

from __future__ import annotations

from dataclasses import dataclass

from linkage.errors import Fault
from linkage.parts import Coupling, Link, Linkage


@dataclass(frozen=True, slots=True)
class Step:
    """One joint of the train: ``by`` (a link or a coupling) carries the turn from ``driving`` to ``driven``.

    ``arms`` are the names of the driving and the driven arm of a link (empty for a coupling).
    """

    by: Link | Coupling
    driving: str
    driven: str
    arms: tuple[str, str] = ("", "")


def split_pin(pin: str) -> tuple[str, str]:
    """Split ``"member.arm"`` into its two names."""
    member, _, arm = pin.rpartition(".")
    return member, arm


def ends(by: Link | Coupling) -> tuple[str, str]:
    """Names of the two members that a link or coupling joins."""
    if isinstance(by, Link):
        return split_pin(by.joins[0])[0], split_pin(by.joins[1])[0]
    return by.joins


def slack_of(by: Link | Coupling) -> str | None:
    """Key of a joint's slack (a link's ``slot``, a coupling's ``gap``), None where it drives both ways."""
    key = "gap" if isinstance(by, Coupling) else "slot"
    return key if getattr(by, key) is not None else None


def stages(rig: Linkage) -> dict[str, tuple[str, ...]]:
    """The slack joints on the way from the driver to every member, by their tables (``"link.NAME"``), driver first.

    Members with the same ones are of one stage: they move together.
    """
    found: dict[str, tuple[str, ...]] = {rig.driver: ()}
    for step in order(rig):
        slack = slack_of(step.by)
        own = () if slack is None else (f"{'link' if slack == 'slot' else 'coupling'}.{step.by.name}",)
        found[step.driven] = (*found[step.driving], *own)
    return found


def compared(rig: Linkage) -> tuple[str, ...]:
    """The shafts of the first-named shaft's stage: those whose plates are to stand alike."""
    stage = stages(rig)
    first = next(iter(rig.shaft), "")
    return tuple(name for name in rig.shaft if stage.get(name) == stage.get(first))


def order(rig: Linkage) -> tuple[Step, ...]:
    """Return the steps of the train, each after the step that moves its driving member.

    Call :func:`faults` first: links that close a loop, and members out of reach, are passed over.
    """
    return _walk(rig)[0]


def faults(rig: Linkage) -> list[Fault]:
    """Every way in which the links and couplings fail to make one train, naming the members."""
    steps, closing = _walk(rig)
    found: list[Fault] = []
    driven_by = {step.driven: step for step in steps}
    for by in closing:
        first, second = ends(by)
        place = _place(by)
        if first == second:
            found.append(Fault(place + ", joins", f'both ends are on "{first}"', "join two different members"))
            continue
        twice = second if second in driven_by else first
        other = driven_by[twice]
        if isinstance(by, Coupling) and isinstance(other.by, Coupling):
            says = f'contradicts {_place(other.by)}: "{first}" and "{second}" are already tied together'
        else:
            says = (
                f'closes a loop: "{first}" and "{second}" already move together, so "{twice}" would be '
                f"driven twice (also by {_place(other.by)}) and the train could not move"
            )
        found.append(Fault(place + ", joins", says, "take one of the two away"))
    reached = {rig.driver, *driven_by}
    tables = {**dict.fromkeys(rig.shaft, "shaft"), **dict.fromkeys(rig.bellcrank, "bellcrank")}
    tables |= dict.fromkeys(rig.slide, "slide")
    for name in rig.members:
        if name not in reached:
            found.append(
                Fault(
                    f'{tables[name]} "{name}"',
                    f'is loose: nothing drives it from "{rig.driver}"',
                    "join it with a link or a coupling, or take it out",
                )
            )
    for slack in restless(rig):
        key = slack_of(slack.by)
        says = f'leaves "{slack.driven}" free until it is taken up, and beyond it no closing stop holds anything'
        mend = f'give "{slack.driven}" a [stop.NAME] that limits its closing, or take the {key} out'
        found.append(Fault(f"{_place(slack.by)}, {key}", says, mend))
    return found


def restless(rig: Linkage) -> list[Step]:
    """Slack joints beyond which no closing stop holds anything: what they drive has nowhere to rest."""
    steps = order(rig)
    stopped = {*rig.shaft, *(stop.on for stop in rig.stop.values() if stop.limits == "closing")}
    found = []
    for slack in steps:
        if slack_of(slack.by) is None:
            continue
        beyond = {slack.driven}
        for step in steps:  # a slot further on pushes shut what it drives, and so is held by it; a tang is not
            if step.driving in beyond and slack_of(step.by) != "gap":
                beyond.add(step.driven)
        if not beyond & stopped:
            found.append(slack)
    return found


def _place(by: Link | Coupling) -> str:
    return f'{"link" if isinstance(by, Link) else "coupling"} "{by.name}"'


def _walk(rig: Linkage) -> tuple[tuple[Step, ...], list[Link | Coupling]]:
    """Breadth-first from the driver: the steps, and the joints left over that close loops."""
    left: list[Link | Coupling] = [*rig.link.values(), *rig.coupling.values()]
    reached = {rig.driver}
    steps: list[Step] = []
    closing: list[Link | Coupling] = []
    found = True
    while found:
        found = False
        rest: list[Link | Coupling] = []
        for by in left:
            first, second = ends(by)
            if first in reached and second in reached:
                closing.append(by)
            elif first in reached or second in reached:
                forward = first in reached
                reached |= {first, second}
                steps.append(_step(by, forward))
                found = True
            else:
                rest.append(by)
        left = rest
    closing += [by for by in left if ends(by)[0] == ends(by)[1]]
    return tuple(steps), closing


def _step(by: Link | Coupling, forward: bool) -> Step:
    first, second = ends(by)
    driving, driven = (first, second) if forward else (second, first)
    if isinstance(by, Coupling):
        return Step(by, driving, driven)
    one, two = split_pin(by.joins[0])[1], split_pin(by.joins[1])[1]
    return Step(by, driving, driven, (one, two) if forward else (two, one))
