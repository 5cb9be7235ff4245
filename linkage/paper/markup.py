"""HTML put together so that every text is escaped: only :class:`Html` goes in as it is."""

from __future__ import annotations

import html
from collections.abc import Iterable

#: elements without an end tag in HTML; those of SVG close themselves
_VOID = {"meta", "input", "link", "br", "hr"}
_SVG_EMPTY = {"line", "circle", "path"}


class Html(str):
    """Text that is markup already."""

    __slots__ = ()


def tag(name: str, *inside: object, **attributes: object) -> Html:
    """An element with its attributes and contents, everything escaped but :class:`Html`.

    A trailing underscore of an attribute's name is dropped (``class_``), other underscores become
    hyphens; an attribute of None or False is left out, one of True stands without a value.
    """
    given = ((key, value) for key, value in attributes.items() if value is not None and value is not False)
    told = "".join(_attribute(key, value) for key, value in given)
    if name in _SVG_EMPTY and not inside:
        return Html(f"<{name}{told}/>")
    if name in _VOID:
        return Html(f"<{name}{told}>")
    return Html(f"<{name}{told}>{joined(inside)}</{name}>")


def joined(parts: Iterable[object], between: str = "") -> Html:
    """Parts one after the other, escaped but for :class:`Html`."""
    return Html(between.join(part if isinstance(part, Html) else html.escape(str(part)) for part in parts))


def _attribute(key: str, value: object) -> str:
    name = key.removesuffix("_").replace("_", "-")
    return f" {name}" if value is True else f' {name}="{html.escape(str(value))}"'


def part(name: str) -> str:
    """The text of a part of the pages: a template, a style sheet or a script."""
    from importlib.resources import files

    return (files("linkage.paper") / "page" / name).read_text(encoding="utf-8")


def printable(text: str) -> str:
    """A text in one line, without characters that steer instead of being read."""
    return "".join(" " if c.isspace() else c for c in text if c.isspace() or c.isprintable())
