"""What is written on a drawing: names, lengths, radii and angles, one label a part."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.plots.labels import Board, Label
from linkage.plots.scene import Scene, shortened
from linkage.plots.style import INK, SOFT, angle_text, length_text

Floats = NDArray[np.float64]

_SAME = 2.0  # [pt] parts nearer to each other than this on the page share a label
_LETTERS = 26  # most letters of names in a line
_NAMES = 5  # most names in a list


@dataclass(frozen=True)
class Said:
    """A part's ``name`` and its measure, about the line ``start`` - ``end`` (data coordinates)."""

    name: str
    measure: str
    start: Floats
    end: Floats
    colour: str


def labels_of(scene: Scene, board: Board, *, arms: bool = True) -> list[Label]:
    """Every label of a picture, the most wanted first; parts that lie on one another share theirs."""
    found = [_member_label(scene, group) for group in _together(board, _members(scene))]
    found += [_label(scene, "link", group, "link ") for group in _together(board, _links(scene))]
    found += [_label(scene, "cable", [said]) for said in _cable(scene)]
    found += [_label(scene, "spring", group, "spring ") for group in _together(board, _springs(scene))]
    found += [_label(scene, "coupling", group, "coupling ") for group in _together(board, _couplings(scene))]
    if arms:
        shared = _shared_pivots(scene, board)
        found += [_arm_label(scene, group, shared) for group in _together(board, _arms(scene))]
    return found


def _members(scene: Scene) -> Iterator[Said]:
    ends = scene.run.at(scene.run.ends)
    for name, member in scene.run.rig.members.items():
        if name in scene.run.rig.shaft:
            first, last = ends.plate_angle[name]
            measure = f"plate {angle_text(first)} → {angle_text(last)}"
        else:
            gone = abs(float(np.diff(ends.member_turn[name])[0]))
            measure = f"turns {angle_text(gone)}"
            if name in scene.block:
                measure = f"travels {length_text(gone, scene.run.rig.units)}"
        at = scene.block[name][-1].mean(axis=0) if name in scene.block else scene.flat(member.pivot)
        yield Said(name, measure if scene.view.name == "front" else "", at, at, scene.colour(name))


def _links(scene: Scene) -> Iterator[Said]:
    for joint in scene.run.train.joints:
        if joint.forward is not None:
            link = scene.run.rig.link[joint.step.by.name]
            one, two = (scene.pin[pin][-1] for pin in link.joins)
            says = length_text(float(joint.length), scene.run.rig.units)
            if joint.slack:
                says += f", slot {length_text(abs(float(joint.slot)), scene.run.rig.units)}"
            yield Said(link.name, says, one, two, INK)


def _arms(scene: Scene) -> Iterator[Said]:
    for name, hub in scene.hub.items():
        yield Said(name, _arm_measure(scene, name), hub, scene.pin[name][-1], scene.colour(name))


def _arm_measure(scene: Scene, name: str) -> str:
    """Radius and, in the front view, angles at idle and wide open; from the side, where along the axis."""
    rig, member = scene.run.rig, name.rpartition(".")[0]
    axis = rig.turning[member].axis
    if not scene.end_on(rig.turning[member]):
        for i, letter in enumerate("xyz"):
            if abs(axis[i]) > 1.0 - 1e-9:
                return f"{letter} {length_text(float(scene.hub_space[name][i]), rig.units)}"
        return ""
    reach = scene.path[name] - scene.hub[name]
    text = f"r {length_text(float(np.hypot(*reach[0])) * scene.unit, rig.units)}"
    if scene.view.name == "front":
        way = math.copysign(1.0, closure.dot(axis, scene.view.out))
        start = math.degrees(math.atan2(reach[0, 1], reach[0, 0]))
        turn = way * float(scene.swept.member_turn[member][-1] - scene.swept.member_turn[member][0])
        text += f"\n{angle_text(start)} → {angle_text(start + turn)}"
    return text


def _cable(scene: Scene) -> Iterator[Said]:
    cable, units = scene.run.rig.cable, scene.run.rig.units
    if cable is not None and cable.pulls is not None and cable.casing_end is not None:
        end, cut = shortened(scene, scene.pin[cable.pulls][-1], cable.casing_end)
        ends = scene.run.at(scene.run.ends).cable
        measure = "" if ends is None else length_text(abs(float(ends[1] - ends[0])), units)
        if cut:
            measure += "\ncasing end at " + ", ".join(length_text(v, units) for v in cable.casing_end)
        yield Said("cable, travel", measure, end, end, INK)


def _springs(scene: Scene) -> Iterator[Said]:
    for spring in scene.run.rig.spring.values():
        if spring.pulls is not None and spring.anchor is not None:
            start = scene.pin[spring.pulls][-1]
            yield Said(spring.name, "", start, shortened(scene, start, spring.anchor)[0], SOFT)


def _couplings(scene: Scene) -> Iterator[Said]:
    members = scene.run.rig.turning
    for coupling in scene.run.rig.coupling.values():
        one, two = (scene.flat(members[name].pivot) for name in coupling.joins)
        if np.hypot(*(two - one)) > 1e-6:
            yield Said(coupling.name, "", one, two, SOFT)


def _together(board: Board, parts: Iterable[Said]) -> list[list[Said]]:
    """Parts that lie on one another on the page, group by group."""
    groups: list[list[Said]] = []
    for said in parts:
        at = board.on_page(np.stack([said.start, said.end]))
        for group in groups:
            if np.max(np.abs(board.on_page(np.stack([group[0].start, group[0].end])) - at)) < _SAME:
                group.append(said)
                break
        else:
            groups.append([said])
    return groups


def _shared_pivots(scene: Scene, board: Board) -> set[str]:
    """Members whose pivots lie on another's on the page: an arm's own name does not tell them apart."""
    return {said.name for group in _together(board, _members(scene)) if len(group) > 1 for said in group}


def _member_label(scene: Scene, group: list[Said]) -> Label:
    head = _names([said.name for said in group])
    return _made(scene, "name", group, head, "\n".join(dict.fromkeys(said.measure for said in group)))


def _arm_label(scene: Scene, group: list[Said], shared: set[str]) -> Label:
    """Arms by their own names where these tell them apart, by ``member.arm`` where not."""
    members = {said.name.rpartition(".")[0] for said in group}
    arms = [said.name.rpartition(".")[2] for said in group]
    if len({said.measure for said in group}) == 1 < len(group) and len(set(arms)) == 1:
        return _made(scene, "dimension", group, "", f"{arms[0]} ×{len(arms)}  {group[0].measure}".strip())
    if len(members) > 1 or members & shared:
        return _label(scene, "dimension", group)
    return _label(scene, "dimension", group, short=True)


def _label(scene: Scene, kind: str, group: list[Said], what: str = "", *, short: bool = False) -> Label:
    """Names and measures, those with the same measure told together."""
    same: dict[str, list[str]] = {}
    for said in group:
        same.setdefault(said.measure, []).append(said.name.rpartition(".")[2] if short else said.name)
    body = "\n".join(f"{what}{_names(names)}  {measure}".strip() for measure, names in same.items())
    return _made(scene, kind, group, "", body)


def _made(scene: Scene, kind: str, group: list[Said], head: str, body: str) -> Label:
    first = group[0]
    colour = first.colour if len({said.colour for said in group}) == 1 else INK
    ends = [(float(at[0]), float(at[1])) for at in (first.start, first.end)]
    return Label(head, body, ends[0], ends[1], colour, scene.gid(kind, first.name))


def _names(names: list[str]) -> str:
    """Names in a list; of a long row the first two, the last and how many."""
    if len(names) > _NAMES:
        return f"{names[0]}, {names[1]} … {names[-1]} ({len(names)})"
    return "\n".join(textwrap.wrap(", ".join(names), _LETTERS, break_long_words=False, break_on_hyphens=False))
