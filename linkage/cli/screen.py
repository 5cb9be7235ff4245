"""What is shown and where: results on standard output, everything else on standard error.

Colour and signs adapt to what reads them: no colour but on a terminal (nor with ``NO_COLOR``), and
plain characters where the output's encoding has no others.
"""

from __future__ import annotations

import os
import re
import sys
from typing import Any

import click

#: Plain stand-ins, one character each so that columns stay in line.
PLAIN = {"✓": "+", "✗": "x", "═": "=", "─": "-", "█": "#", "·": ".", "…": ".", "×": "x"}
PLAIN |= {"°": "d", "−": "-", "–": "-", "—": "-", "“": '"', "”": '"', "’": "'"}

_COLOUR = {"✓": "green", "+": "green", "!": "yellow", "✗": "red", "x": "red"}
_SIGNED = re.compile(r"^( {0,2})([✓!✗+x])( +\w+(?: \w+)*)", re.MULTILINE)
_HEADING = re.compile(r"^[A-Z][A-Z ,]{3,}$|(?<=═\n)  \S.*$", re.MULTILINE)
_BAR = re.compile(r"█+")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


def show(text: str) -> None:
    """Write a result to standard output."""
    click.echo(_dressed(text, sys.stdout), nl=not text.endswith("\n"), color=_coloured(sys.stdout))


def show_data(text: str) -> None:
    """Write a result for a machine to standard output: JSON, CSV, TOML, as UTF-8."""
    stream: Any = getattr(sys.stdout, "buffer", None)
    if stream is None:
        click.echo(text, nl=False)
        return
    sys.stdout.flush()
    left = memoryview(text.encode("utf-8"))
    while left:  # an unbuffered stream (PYTHONUNBUFFERED) may take a part only
        left = left[stream.write(left) or 0 :]
    stream.flush()


def tell(text: str) -> None:
    """Write what is no result to standard error."""
    click.echo(_fitting(_CONTROL.sub("?", text), sys.stderr), err=True)


def step(text: str) -> None:
    """Tell how far long work is, where somebody watches."""
    if _is_terminal(sys.stderr):
        tell(f"{text} …")


def progress(text: str) -> None:
    """Tell how far long work is on one line, over what it told before, where somebody watches."""
    if _is_terminal(sys.stderr):
        click.echo("\r\x1b[K" + _fitting(_CONTROL.sub("?", text), sys.stderr), err=True, nl=False)


def _dressed(text: str, stream: Any) -> str:
    text = _fitting(_CONTROL.sub("?", text), stream)
    if not _coloured(stream):
        return text
    text = _SIGNED.sub(lambda m: m[1] + click.style(m[2] + m[3], fg=_COLOUR[m[2]], bold=True), text)
    text = _HEADING.sub(lambda m: click.style(m[0], bold=True), text)
    return _BAR.sub(lambda m: click.style(m[0], fg="cyan"), text)


def _fitting(text: str, stream: Any) -> str:
    """The text in characters that the stream's encoding has."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        text = "".join(_character(c, encoding) for c in text)
    return text


def _character(character: str, encoding: str) -> str:
    try:
        character.encode(encoding)
    except UnicodeEncodeError:
        return PLAIN.get(character, "?")
    return character


def _is_terminal(stream: Any) -> bool:
    return bool(stream is not None and stream.isatty())


def _coloured(stream: Any) -> bool:
    wanted = not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    return wanted and _is_terminal(stream)
