"""A design worked out for the bench: its motion, its lights so far, its dimensions as they stand."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from linkage.answers import joints
from linkage.errors import AssemblyError, LinkageError
from linkage.motion import Motion, solve
from linkage.parts import Linkage, dimensions
from linkage.widgets import lights
from linkage.widgets.controls import Control
from linkage.widgets.drawing import POSITIONS, Json, moving

_FRACTION = re.compile(r"[-+]?\s*(?:[0-9]+[\s-]+)?[0-9]+\s*/\s*[0-9]+")  # without a unit


class Shown(NamedTuple):
    """A design worked out: its motion (None: it cannot be assembled, ``why``) and lights so far.

    ``live`` are the lights of the motion without sentences; ``settled`` those in full, by part.
    """

    rig: Linkage
    run: Motion | None
    why: str
    live: list[Json]
    settled: dict[str, list[Json]]

    @property
    def left(self) -> list[str]:
        """Parts of the checks that are not worked out in full yet."""
        return [] if self.run is None else [name for name in lights.PARTS if name not in self.settled]

    @property
    def values(self) -> dict[str, float]:
        """Every dimension [mm, deg, N ...], the lengths of fitted links too."""
        if self.run is None:
            return {**{f"link.{name}.length": 0.0 for name in self.rig.link}, **dimensions(self.rig)}
        lengths = {f"link.{name}.length": length for name, length in joints.lengths(self.run).items()}
        return {**lengths, **self.run.train.dims}

    def settle(self) -> None:
        """Work out the next part of the checks in full."""
        if self.run is not None and self.left:
            part = self.left[0]
            self.settled[part] = [lights.shown(check, self.rig.units) for check in lights.PARTS[part](self.run)]

    def drawn(self) -> Json | None:
        """What the drawing and the curves show; None where it cannot be assembled."""
        return None if self.run is None else moving(self.run)


def worked_out(rig: Linkage) -> Shown:
    """Solve a design and light the lights of its motion."""
    try:
        run = solve(rig, positions=POSITIONS).with_kinks()
    except AssemblyError as error:
        return Shown(rig, None, told(error), [], {})
    return Shown(rig, run, "", [lights.shown(check, rig.units) for check in lights.live(run)], {})


def typed(text: str, slider: Control) -> Any:
    """What was typed: a bare number is in the slider's own unit, a unit of its own goes before."""
    plain = text.strip().replace("−", "-")
    try:
        return float(plain) * slider.scale
    except ValueError:
        return f"{plain} {slider.unit}".strip() if _FRACTION.fullmatch(plain) else plain


def told(error: LinkageError) -> str:
    """An error as a sentence, without the place where the reader looks at it."""
    faults = getattr(error, "faults", ())
    says = "; ".join(f"{f.says}; {f.mend}" if f.mend else f.says for f in faults) or str(error)
    return says[:1].upper() + says[1:] + ("" if says.endswith(".") else ".")
