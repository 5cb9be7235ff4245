"""What each link carries: pull or push, the load along its bolts, and how near a push is to buckling it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.answers import joints, springs
from linkage.answers.checks import Check, Word
from linkage.motion import Motion

Floats = NDArray[np.float64]

#: elastic modulus of a steel link [N/mm^2]; an assumption (carbon steel: Shigley, table of materials, from memory)
STEEL = 207e3

#: Euler's load over the push below which a link is called slender; common practice, no source
SLENDER = 3.0


@dataclass(frozen=True, eq=False)
class LinkForce:
    """Force in one link [N], tension positive; arrays over the positions.

    ``force`` while opening, ``closing`` on the way back. ``side`` is the part of the opening force
    along the bolt of each rod end, in the order of ``joins``. ``compression`` is the largest push
    of both ways, and ``buckling`` Euler's load over it (None without a diameter or a push).
    """

    force: Floats
    closing: Floats
    side: tuple[Floats, Floats]
    compression: float
    buckling: float | None


def link_forces(run: Motion, fine: Motion) -> dict[str, LinkForce]:
    """Forces in every link at the positions of ``run``; the largest push from those of ``fine``.

    Parameters
    ----------
    run, fine : Motion
        The same motion at two sets of positions.

    Returns
    -------
    dict of str to LinkForce
        [N], shape (n,) each.
    """
    going, back = _tensions(run)
    pushes = [-np.stack(pair) for pair in zip(*(way.values() for way in _tensions(fine)), strict=True)]
    tilts, lengths = joints.tilts(run), joints.lengths(run)
    found = {}
    for (name, link), both in zip(run.rig.link.items(), pushes, strict=True):
        push = float(np.max(np.nan_to_num(both, nan=0.0, posinf=np.inf, neginf=-np.inf), initial=0.0))
        side = [np.abs(going[name]) * np.sin(np.radians(tilt)) for tilt in tilts[name]]
        safe = None
        if link.diameter is not None and push > 0.0:
            safe = euler_load(lengths[name], link.diameter) / push
        found[name] = LinkForce(going[name], back[name], (side[0], side[1]), push, safe)
    return found


def _tensions(run: Motion) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Tension in every link [N], opening and closing."""
    torque = springs.spring_torque(run)
    return springs.loads(run, torque, opening=True).link, springs.loads(run, torque, opening=False).link


def euler_load(length: float, diameter: float) -> float:
    """Push at which a round steel link, pinned at both ends, buckles sideways [N].

    Euler's long column; a short thick link yields before. The elastic modulus of steel is assumed.

    Parameters
    ----------
    length, diameter : float
        [mm].

    Examples
    --------
    >>> round(euler_load(200.0, 5.0))
    1567

    References
    ----------
    Shigley and Mischke, "Long columns with central loading": ``pi^2 E I / L^2``, both ends pinned.
    """
    return float(np.pi**3 * STEEL * diameter**4 / (64.0 * length**2))


def checks(run: Motion, found: Mapping[str, LinkForce]) -> Iterator[Check]:
    """The pushed link nearest to buckling, where diameters are given."""
    safe = {name: link.buckling for name, link in found.items() if link.buckling is not None}
    if not safe:
        return
    name, least = min(safe.items(), key=lambda item: item[1])
    word: Word = "fail" if least < 1.0 else "caution" if least < SLENDER else "pass"
    mend = "; use a thicker or shorter link, or turn the layout so that it is pulled" if least < SLENDER else ""
    push = springs.force_text(found[name].compression, run.rig.units)
    yield Check(
        "link_buckling", word, least, SLENDER, "", f'link "{name}"',
        f'link "{name}" is pushed with {push}; as a steel rod it buckles at {least:.1f} times that{mend}.',
    )  # fmt: skip
