"""The design file: one TOML text <-> one :class:`~linkage.parts.Linkage`, every fault at once.

``read`` and ``parse`` go one way, ``to_text`` and ``write`` the other; ``starter`` is a commented
first file and ``json_schema`` describes the keys to an editor. Nothing in a design file is ever
executed.
"""

from __future__ import annotations

from typing import Literal

from linkage.design_file.read import parse, read
from linkage.design_file.schema import json_schema
from linkage.design_file.write import to_text, write

__all__ = ["json_schema", "parse", "read", "starter", "to_text", "write"]


def starter(units: Literal["mm", "in"] = "mm") -> str:
    """Return the text of a commented design file that works, to begin from.

    Parameters
    ----------
    units : "mm" or "in"
        Unit of its bare lengths; angles are in [deg] in both.

    Returns
    -------
    str
        TOML; all its numbers are invented.

    Raises
    ------
    ValueError
        There is no starter in such units.

    Examples
    --------
    >>> from linkage.design_file import parse, starter
    >>> sorted(parse(starter("in")).shaft)
    ['left', 'right']
    """
    from importlib.resources import files

    if units not in ("mm", "in"):
        raise ValueError(f'units must be "mm" or "in", got {units!r}')
    return files(__package__).joinpath(f"starter_{units}.toml").read_text(encoding="utf-8")
