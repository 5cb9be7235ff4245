"""The bench as a widget of the notebook: one ES module in front, a :class:`Session` behind it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget

from linkage.parts import Linkage
from linkage.widgets.session import Session

_FRONT = Path(__file__).parent / "front"

#: the front end, in the order in which its files build on each other; together they are one ES module
_FILES = ("words", "kernel", "scene", "handles", "drawing", "curves", "sliders", "lights", "desk", "bench")


def front_end() -> str:
    """The front end as one ES module."""
    return "\n".join((_FRONT / f"{name}.js").read_text(encoding="utf-8") for name in _FILES)


class Bench(anywidget.AnyWidget):
    """A linkage on the bench; :attr:`rig` is the design as the sliders stand."""

    _esm = front_end()
    _css = (_FRONT / "bench.css").read_text(encoding="utf-8")

    def __init__(self, rig: Linkage) -> None:
        super().__init__()
        self.session = Session(rig, self.send)
        self.on_msg(self._heard)

    @property
    def rig(self) -> Linkage:
        """The design as it stands on the bench."""
        return self.session.rig

    def _heard(self, _: Any, message: Any, __: Any) -> None:
        self.send(self.session.answer(message))
