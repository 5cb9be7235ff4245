"""Writing a file whole or not at all, and never over another one unasked.

The bytes go to a temporary file in the same folder, which then takes the wanted name in one step:
whoever looks sees the old file or the new one, never half of one.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from linkage.errors import OutputError


def write_text(path: str | Path, text: str, *, overwrite: bool = False) -> Path:
    """Write a text as UTF-8; see :func:`write_bytes`."""
    return write_bytes(path, text.encode("utf-8"), overwrite=overwrite)


def write_bytes(path: str | Path, data: bytes, *, overwrite: bool = False) -> Path:
    """Write a file whole or not at all.

    A link is followed: the file that it names is written. A file that stands there keeps its
    permissions when it is written over.

    Parameters
    ----------
    path : str or pathlib.Path
    data : bytes
    overwrite : bool
        Whether a file that stands there may be written over.

    Returns
    -------
    pathlib.Path
        The path as given.

    Raises
    ------
    OutputError
        The file cannot be written, or stands there already; nothing has been changed.

    Examples
    --------
    >>> from linkage.files import write_bytes
    >>> write_bytes("links.txt", b"left 123.6 mm").name  # doctest: +SKIP
    'links.txt'
    """
    check_free([path], overwrite=overwrite)
    try:
        _put(Path(os.path.realpath(path)), data, overwrite=overwrite)
    except (OSError, ValueError) as error:  # ValueError: a name with a zero character
        raise OutputError(_says(path, error)) from None
    return Path(path)


def make_folder(path: str | Path) -> Path:
    """Make a folder, with those around it, unless it is there.

    Raises
    ------
    OutputError
        It cannot be made, or a file stands in its place.
    """
    try:
        os.makedirs(path, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise OutputError(f"{path}: a file stands where a folder should; choose another name") from None
    except (OSError, ValueError) as error:
        raise OutputError(_says(path, error)) from None
    return Path(path)


def check_free(paths: Iterable[str | Path], *, overwrite: bool = False) -> None:
    """Make sure, before long work, that files can be written under these names.

    Raises
    ------
    OutputError
        One line for every name that is taken or that cannot be used.
    """
    faults = [fault for path in paths if (fault := _fault(path, overwrite=overwrite))]
    if faults:
        raise OutputError("\n".join(faults))


def _fault(path: str | Path, *, overwrite: bool) -> str:
    shown = os.fspath(path)
    if not shown:
        return "the name of the file is empty; give it a name"
    try:
        found = os.stat(path)
    except FileNotFoundError:
        folder = os.path.dirname(os.path.realpath(path))
        if not os.path.isdir(folder):
            return f'{shown}: there is no folder "{folder}"; make it first'
        return "" if os.access(folder, os.W_OK) else f"{shown}: {_LOCKED}"
    except (OSError, ValueError) as error:
        return _says(path, error)
    if stat.S_ISDIR(found.st_mode):
        return f"{shown}: is a folder; name a file in it"
    if not stat.S_ISREG(found.st_mode):
        return f"{shown}: is not a plain file; choose another name"
    if not overwrite:
        return f"{shown}: {_TAKEN}"
    return "" if os.access(path, os.W_OK) else f"{shown}: {_LOCKED}"


_LOCKED = "may not be written; choose a folder of your own"

#: How one asks in Python to write over a file; the command line has a word of its own for it.
OVER = "overwrite=True"
_TAKEN = f"stands there already; choose another name, or write over it with {OVER}"


def _says(path: str | Path, error: OSError | ValueError) -> str:
    number = getattr(error, "errno", None)
    if number in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"{path}: {_LOCKED}"
    if number == errno.EEXIST:
        return f"{path}: {_TAKEN}"
    if number == errno.ENOSPC:
        return f"{path}: cannot be written, the disk is full; make room"
    return f"{path}: cannot be written ({getattr(error, 'strerror', None) or error}); choose another name"


def _put(target: Path, data: bytes, *, overwrite: bool) -> None:
    beside = target.with_name(f".{os.urandom(6).hex()}.tmp")
    try:
        with open(beside, "xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        if overwrite:
            with suppress(FileNotFoundError):
                os.chmod(beside, stat.S_IMODE(os.stat(target).st_mode))
        else:
            open(target, "xb").close()  # claims the name; fails if another was quicker
        try:
            os.replace(beside, target)
        except OSError:
            if not overwrite:
                target.unlink()
            raise
    finally:
        with suppress(OSError):
            beside.unlink()
