"""Writing a design file: the text it was read from with what changed, or a complete fresh one.

A changed design keeps its comments, order and layout: only the spans of changed values are
replaced, a new key goes below the last one of its table, a key taken away leaves with its line.
The text is read back before it is handed out, so what is written is the linkage.
"""

from __future__ import annotations

from pathlib import Path as FilePath

from linkage.design_file.changes import changed
from linkage.design_file.fresh import fresh, leaves
from linkage.design_file.read import parse
from linkage.parts import Linkage

_ROUNDS = 4


def to_text(rig: Linkage) -> str:
    """Return the text of a linkage's design file.

    A linkage that was read comes back as it was read, comments and all, with what has changed
    since. Values in [mm], [deg], [N] are written in the design's own ``units``, or in the unit
    that the file gave them. Where parts were added or taken away, or ``units`` changed, the text is
    a fresh one without comments.

    Parameters
    ----------
    rig : Linkage
        Lengths [mm], angles [deg], forces [N], torques [N.mm].

    Returns
    -------
    str
        TOML that reads back as ``rig``, every number to within 1e-9.

    Raises
    ------
    DesignError
        The linkage breaks a rule of design files, so that its text could not be read back.

    Examples
    --------
    >>> from linkage.design_file import parse, starter, to_text
    >>> to_text(parse(starter())) == starter()
    True
    """
    if rig.source is None:
        return _fresh(rig)
    text, name = rig.source.text, rig.source.path
    for _ in range(_ROUNDS):  # a second round where a changed value moves others, as a pivot's z does
        old = parse(text, name)
        if old.units != rig.units or _parts(old) != _parts(rig):
            break
        new_text = changed(text, old, rig)
        if new_text == text:
            return text
        text = new_text
    return _fresh(rig)


def write(rig: Linkage, path: str | FilePath, *, overwrite: bool = False) -> FilePath:
    """Write a linkage's design file, whole or not at all.

    Parameters
    ----------
    rig : Linkage
        Lengths [mm], angles [deg], forces [N], torques [N.mm]; see :func:`to_text`.
    path : str or pathlib.Path
        The file to write; its folder must be there.
    overwrite : bool
        Whether a file that stands there may be replaced.

    Returns
    -------
    pathlib.Path
        The path as given.

    Raises
    ------
    OutputError
        A file stands there already, or it cannot be written.
    DesignError
        The linkage breaks a rule of design files.
    """
    from linkage.files import write_text

    return write_text(path, to_text(rig), overwrite=overwrite)


def _fresh(rig: Linkage) -> str:
    text = fresh(rig)
    parse(text, rig.title)
    return text


def _parts(rig: Linkage) -> set[tuple[str, ...]]:
    """Paths of the parts that a linkage is made of."""
    return {path[:-1] for path in leaves(rig)}
