"""Reading a design file: TOML text in, a :class:`~linkage.parts.Linkage` out, or every fault at once.

Three passes over the raw tables, none of which stops at a fault: the keys and their values
(here), what refers to what (:mod:`linkage.design_file.references`), and, once all of that is
sound, whether the parts make one train (:mod:`linkage.train`).
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path as FilePath
from typing import Any

from linkage import train
from linkage.design_file import beside, fixing, references
from linkage.design_file.build import built
from linkage.design_file.free import unknown
from linkage.design_file.lines import line_of, spots
from linkage.design_file.schema import FORMAT
from linkage.design_file.slips import Slip, place, shown
from linkage.design_file.tables import checked
from linkage.errors import DesignError, Fault
from linkage.parts import Linkage, Source

#: A design file is a few kilobytes; what is larger is something else.
LARGEST_FILE = 1_000_000  # [bytes]


def read(path: str | FilePath) -> Linkage:
    """Read a design file.

    Parameters
    ----------
    path : str or pathlib.Path
        A TOML file. Bare lengths are in its own ``units``; the linkage holds [mm], [deg], [N].

    Returns
    -------
    Linkage
        With the text and path kept in ``source``, so that a changed design can be written back
        with its comments.

    Raises
    ------
    DesignError
        The file cannot be used; ``faults`` lists everything that is wrong, in the file's order.

    Examples
    --------
    >>> from linkage.design_file import read
    >>> rig = read("demo/flat_six.toml")  # doctest: +SKIP
    """
    file = str(path)
    try:
        with open(path, "rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise _whole(file, "there is no such file", "check the name and the folder") from None
    except IsADirectoryError:
        raise _whole(file, "is a folder", "name a design file in it") from None
    except PermissionError:
        raise _whole(file, "may not be read", "ask for permission to read it") from None
    except (OSError, ValueError) as error:  # ValueError: a name with a zero character
        raise _whole(file, f"cannot be read ({getattr(error, 'strerror', None) or error})") from None
    if len(data) > LARGEST_FILE:
        raise _whole(file, f"is larger than {LARGEST_FILE // 1000} kB", "a design file is a few kB of text")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _whole(file, "is not UTF-8 text", "save it as UTF-8 from the editor", line) from None
    return _linkage(text, file)


def parse(text: str, name: str = "design") -> Linkage:
    """Read the text of a design file; ``name`` stands for the file in errors and as the default title.

    Bare lengths are in the text's own ``units``; the linkage holds [mm], [deg], [N].

    Raises
    ------
    DesignError
        The text cannot be used; ``faults`` lists everything that is wrong, in the text's order.

    Examples
    --------
    >>> from linkage.design_file import parse, starter
    >>> parse(starter()).driver
    'centre'
    """
    if len(text) > LARGEST_FILE:
        raise _whole(name, f"is larger than {LARGEST_FILE // 1000} kB", "a design file is a few kB of text")
    return _linkage(text.removeprefix("\ufeff"), name)


def _linkage(text: str, file: str) -> Linkage:
    raw = _toml(text, file)
    if type(raw.get("format")) is int and raw["format"] > FORMAT:
        mend = f"this version reads format {FORMAT}; a newer one may read this file"
        raise _error([Slip(("format",), f"is {shown(raw['format'])}", mend)], text, file)
    slips: list[Slip] = []
    design = checked(raw, slips)
    slips += references.slips(design)
    slips += beside.slips(design)
    slips += fixing.slips(design)
    if slips:
        raise _error(slips, text, file)
    rig = built(design, FilePath(file).stem, Source(file, text))
    if faults := train.faults(rig):
        paths = {place(path): path for path in reversed(spots(text))}
        raise _error([Slip(paths.get(f.place, ()), f.says, f.mend, f.place) for f in faults], text, file)
    if slips := list(unknown(rig)):
        raise _error(slips, text, file)
    return rig


def _toml(text: str, file: str) -> dict[str, Any]:
    """Read the TOML text, or say at which line it ceases to be TOML."""
    if not text.strip():
        raise _whole(file, "is empty", "throttle-linkage new writes a first file")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _whole(file, "has brackets nested too deeply", "a design file needs two levels") from None
    except ValueError as error:
        says = str(error)
        at = re.search(r" \(at line (\d+), column (\d+)\)$", says)
        if at is None:
            raise _whole(file, f"is not TOML: {says.removesuffix(' (at end of document)')}") from None
        says = f"is not TOML at column {at[2]}: {says[: at.start()]}"
        raise _whole(file, says, line=int(at[1])) from None


def _whole(file: str, says: str, mend: str = "", line: int | None = None) -> DesignError:
    return DesignError([Fault("", says, mend, line, file)])


def _error(slips: list[Slip], text: str, file: str) -> DesignError:
    """All slips as faults, in line order."""
    found = spots(text)
    faults = [Fault(s.place or place(s.path), s.says, s.mend, line_of(s.path, found), file) for s in slips]
    return DesignError(sorted(faults, key=lambda fault: fault.line or 0))
