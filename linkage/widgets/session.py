"""A session at the bench: the design as it stands, what went before, what is kept, what is locked.

It knows nothing of widgets: :meth:`Session.answer` takes a message of the front end and returns the
reply, both plain dictionaries. Whatever goes wrong is a sentence in the reply, never a traceback.

Every message has a ``kind``, the front end's own ``seq`` and its name ``from``; the reply brings both
back (``seq``, ``to``), so that the front end knows which of its questions was answered.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from linkage.answers import joints
from linkage.errors import LinkageError
from linkage.parts import Linkage, dimensions
from linkage.widgets import desk, lights
from linkage.widgets.controls import Control, at_path, controls
from linkage.widgets.drawing import Json, needed_views, parts
from linkage.widgets.handles import dragged
from linkage.widgets.shown import Shown, told, typed, worked_out

_MOST = 400  # changes that can be undone
_SAME = 1e-9


class Step(NamedTuple):
    """A design and what was done to come to it."""

    rig: Linkage
    done: str


class Session:
    """A design on the bench. ``rig`` is the design as it stands; ``base`` the one it began with; ``tell``
    is given messages while work goes on."""

    def __init__(self, rig: Linkage, tell: Callable[[Json], None] = lambda _: None) -> None:
        self.base = rig
        self.tell = tell
        self.kept: Shown | None = None
        self.locked: set[str] = set()
        self._steps = [Step(rig, "")]
        self._at = 0
        self._gesture = ""
        self._shown = worked_out(rig)
        self._version = 0
        lengths = {} if self._shown.run is None else joints.lengths(self._shown.run)
        self.sliders: dict[str, Control] = controls(rig, lengths)
        self._start = self._shown.values

    @property
    def rig(self) -> Linkage:
        """The design as it stands."""
        return self._steps[self._at].rig

    def answer(self, message: Mapping[str, Any]) -> Json:
        """Do what a message asks, and say how things stand."""
        reply: Json = {"seq": message.get("seq"), "to": message.get("from")}
        try:
            todo = _DOES.get(str(message.get("kind")))
            if todo is None:
                raise ValueError(f"the bench cannot do {message.get('kind')!r}")
            reply |= todo(self, message)
        except LinkageError as error:
            reply |= {"kind": "trouble", "about": message.get("path") or message.get("kind"), "says": told(error)}
        except Exception as error:  # the bench goes on, and says what happened
            says = f"The bench could not do that ({type(error).__name__}: {error})."
            reply |= {"kind": "trouble", "about": message.get("kind"), "says": says}
        return reply

    # ---- what a message can ask for ------------------------------------------------------------

    def _hello(self, message: Mapping[str, Any]) -> Json:
        run = self._shown.run
        whole = {
            "title": self.rig.title,
            "parts": parts(self.rig),
            "views": ["front"] if run is None else needed_views(run),
            "sliders": [_slider(c) for c in self.sliders.values()],
            "checks": list(lights.PARTS),
            "file": _file_name(self.base),
            "choices": {key: desk.CHOICES[key][0] for key in desk.choices(self.rig, self.sliders)},
            "wishes": desk.wishes(self.rig),
        }
        return {"kind": "hello", "design": whole, "state": self._state(), "kept": self._kept()}

    def _set(self, message: Mapping[str, Any]) -> Json:
        path, value = str(message["path"]), message["value"]
        slider = self.sliders[path]
        if path in self.locked:
            return {"kind": "trouble", "about": path, "says": "It is locked: unlock it to change it."}
        new: Any = value
        if isinstance(value, str):
            new = typed(value, slider)
        elif value is not None:
            new = float(value) * slider.scale
        if isinstance(new, float) and (says := self._outside(slider, new)):
            return {"kind": "trouble", "about": path, "says": says}
        start = self._begin(message)
        return self._done(start.replace(path, new), f"{slider.group}, {slider.label}", message)

    def _outside(self, slider: Control, value: float) -> str:
        """How a value [mm, deg, N ...] breaks its rule, in the slider's own unit; or nothing."""
        _, rule = at_path(self.rig, slider.path)
        if not rule.breaks(value):
            return ""
        low, high, got = (f"{v / slider.scale:g}" for v in (rule.low, rule.high, value))
        return f"It must be from {low} to {high} {slider.unit}".rstrip() + f", not {got}."

    def _drag(self, message: Mapping[str, Any]) -> Json:
        if self._shown.run is None:
            return {"kind": "trouble", "about": "drag", "says": self._shown.why}
        x, y = message["to"]
        moved = dragged(
            self._shown.run, str(message["handle"]), (float(x), float(y)), at=int(message["at"]),
            view=str(message["view"]), sliders=self.sliders, locked=self.locked,
        )  # fmt: skip
        rig = self._begin(message).replace_all(moved)
        return self._done(rig, str(message["handle"]).replace(":", " "), message)

    def _undo(self, message: Mapping[str, Any]) -> Json:
        return self._go(self._at - 1)

    def _redo(self, message: Mapping[str, Any]) -> Json:
        return self._go(self._at + 1)

    def _go(self, to: int) -> Json:
        self._at = min(max(to, 0), len(self._steps) - 1)
        self._gesture = ""
        return self._fresh()

    def _reset(self, message: Mapping[str, Any]) -> Json:
        path = message.get("path")
        if path is None:  # what is locked stays
            now, first = dimensions(self.rig), dimensions(self.base)
            held = {one: now.get(one) for one in sorted(self.locked) if now.get(one) != first.get(one)}
            return self._done(self.base.replace_all(held) if held else self.base, "reset", message)
        slider = self.sliders[str(path)]
        if slider.path in self.locked:
            return {"kind": "trouble", "about": path, "says": "It is locked: unlock it to reset it."}
        value = dimensions(self.base).get(slider.path)
        return self._done(self.rig.replace(slider.path, value), f"reset {slider.group}, {slider.label}", message)

    def _lock(self, message: Mapping[str, Any]) -> Json:
        path = str(message["path"])
        (self.locked.add if message["locked"] else self.locked.discard)(self.sliders[path].path)
        return self._fresh()

    def _keep(self, message: Mapping[str, Any]) -> Json:
        self.kept = self._shown
        return {**self._fresh(), "kept": self._kept()}

    def _forget(self, message: Mapping[str, Any]) -> Json:
        self.kept = None
        return {**self._fresh(), "kept": None}

    def _back(self, message: Mapping[str, Any]) -> Json:
        if self.kept is None:
            return {"kind": "trouble", "about": "back", "says": "Nothing is kept yet."}
        return self._done(self.kept.rig, "back to the kept one", message)

    def _settle(self, message: Mapping[str, Any]) -> Json:
        """One part of the checks in full, for the design as it stands."""
        self._shown.settle()
        return {"kind": "settled", "version": self._version, "settled": self._shown.settled, "left": self._shown.left}

    def _save(self, message: Mapping[str, Any]) -> Json:
        path, replace = desk.file_named(str(message["name"])), bool(message.get("replace"))
        if path.exists() and not replace:
            return _stands("save", path)
        desk.save(self.rig, str(message["name"]), replace=replace)
        return {"kind": "done", "about": "save", "says": f'Saved as "{path}" in {path.resolve().parent}.'}

    def _approve(self, message: Mapping[str, Any]) -> Json:
        name, replace, today = str(message["name"]), bool(message.get("replace")), datetime.date.today()
        for path in desk.sheets_named(name):
            if path.exists() and not replace:
                return _stands("approve", path)
        pdf, page = desk.approve(self.rig, name, replace=replace, date=today, tell=self._tell(message))
        says = f'The approval sheet is "{pdf}" and "{page}" in {pdf.resolve().parent}.'
        return {"kind": "done", "about": "approve", "says": says}

    def _fit(self, message: Mapping[str, Any]) -> Json:
        asked = desk.wish(self.rig, message.get("wish") or {})
        may = desk.choices(self.rig, self.sliders, self.locked)
        chosen = {key: may[key] for key in message["choices"] if key in may}
        found = desk.fitted(self.rig, asked, desk.bounds(self.rig, chosen, self.sliders), self._tell(message))
        reply = {"kind": "done", "about": "fit", "says": desk.said(found)}
        if found.best is found.start:
            return reply
        return {**reply, "state": self._done(found.best.rig, "fit", {})["state"]}

    def _tell(self, message: Mapping[str, Any]) -> Callable[[str], None]:
        """How long work says how far it is."""
        to, about = message.get("from"), message.get("kind")
        return lambda says: self.tell({"kind": "progress", "to": to, "about": about, "says": says})

    # ---- how things stand ----------------------------------------------------------------------

    def _begin(self, message: Mapping[str, Any]) -> Linkage:
        """The design a change starts from: the one before, where the same gesture goes on."""
        gesture = str(message.get("gesture") or "")
        return self._steps[self._at - 1].rig if gesture and gesture == self._gesture else self.rig

    def _done(self, rig: Linkage, what: str, message: Mapping[str, Any]) -> Json:
        gesture = str(message.get("gesture") or "")
        if gesture and gesture == self._gesture:
            self._steps[self._at :] = [Step(rig, what)]
        elif rig != self.rig:
            self._steps[self._at + 1 :] = [Step(rig, what)]
            del self._steps[: max(len(self._steps) - _MOST, 0)]
            self._at = len(self._steps) - 1
            self._gesture = gesture
        return self._fresh()

    def _fresh(self) -> Json:
        if self._shown.rig is not self.rig:
            self._shown = self.kept if self.kept is not None and self.kept.rig is self.rig else worked_out(self.rig)
            self._version += 1
        return {"kind": "state", "state": self._state()}

    def _state(self) -> Json:
        now = self._shown.values
        return {
            "version": self._version,
            "values": {  # only those that are not where the slider began
                path: round(now[path] / slider.scale, 9)
                for path, slider in self.sliders.items()
                if abs(now[path] - self._start[path]) > _SAME
            },
            "fitted": [f"link.{name}.length" for name, link in self.rig.link.items() if link.length is None],
            "changed": [path for path in self.sliders if self._differs(path, now)],
            "locked": sorted(self.locked),
            "undo": self._steps[self._at].done if self._at else "",
            "redo": self._steps[self._at + 1].done if self._at + 1 < len(self._steps) else "",
            "why": self._shown.why,
            "motion": self._shown.drawn(),
            "live": self._shown.live,
            "settled": self._shown.settled,
            "left": self._shown.left,
        }

    def _differs(self, path: str, now: Mapping[str, float]) -> bool:
        """Whether a dimension was changed; a fitted length that only follows was not."""
        if self.sliders[path].fits:
            given = [rig.link[path.split(".")[1]].length for rig in (self.base, self.rig)]
            if None in given:
                return given[0] is not given[1]
        return abs(now[path] - self._start[path]) > _SAME

    def _kept(self) -> Json | None:
        if self.kept is None:
            return None
        found = {one["name"]: one for part in (self.kept.live, *self.kept.settled.values()) for one in part}
        return {"motion": self.kept.drawn(), "lights": found}


_DOES: Mapping[str, Callable[[Session, Mapping[str, Any]], Json]] = {
    "hello": Session._hello,
    "set": Session._set,
    "drag": Session._drag,
    "undo": Session._undo,
    "redo": Session._redo,
    "reset": Session._reset,
    "lock": Session._lock,
    "keep": Session._keep,
    "forget": Session._forget,
    "back": Session._back,
    "settle": Session._settle,
    "save": Session._save,
    "approve": Session._approve,
    "fit": Session._fit,
}


def _stands(about: str, path: Path) -> Json:
    says = f'A file "{path}" stands there already: press again to replace it, or give another name.'
    return {"kind": "trouble", "about": about, "says": says, "replace": True}


def _slider(control: Control) -> Json:
    names = ("path", "group", "label", "unit", "base", "low", "high", "step", "decimals", "says", "fits", "less")
    return {name: getattr(control, name) for name in names}


def _file_name(rig: Linkage) -> str:
    if rig.source is not None and rig.source.path.endswith(".toml"):
        return f"{Path(rig.source.path).stem}-bench.toml"
    return f"{re.sub('[^a-z0-9]+', '-', rig.title.lower()).strip('-') or 'design'}.toml"
