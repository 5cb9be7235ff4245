"""A sweep's finished parts on disk, in a folder beside the file that is to come of them.

Each part is one file, written under another name and renamed when whole: a part is there or it is
not, however the work was stopped. ``asked.json`` says what was asked, so that only the same sweep
goes on from here.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import numpy as np

from linkage.errors import OutputError
from linkage.files import OVER, make_folder, write_text
from linkage.search.batch import Part, Plan, Tally

_ASKED = "asked.json"
_WORD = 8  # bytes
_SEED = 0x9E3779B97F4A7C15  # so that a file of noughts, as a power cut may leave one, is not whole


def folder_of(path: str | Path) -> Path:
    """Where the finished parts of a file to be written are kept."""
    return Path(f"{os.fspath(path)}.unfinished")


def asked_for(plan: Plan) -> dict[str, str]:
    """What decides a sweep's answer, each in a few words that are the same for the same."""
    design = repr(dataclasses.replace(plan.rig, title="", customer="", drawing="", seen_from=""))
    return {
        "version": _program(),
        "design": hashlib.sha256(design.encode()).hexdigest(),
        "candidates": hashlib.sha256(plan.variation.told().encode()).hexdigest(),
        "keep": repr(plan.choice),
        "slice": f"{plan.start} to {plan.stop}",
    }


def _program() -> str:
    """A digest of the program, so that no sweep is begun by one version of it and ended by another."""
    digest, home = hashlib.sha256(np.__version__.encode()), Path(__file__).parents[1]
    for part in ("", "motion", "answers", "search"):
        for path in sorted((home / part).glob("*.py")):
            digest.update(path.read_bytes())
    return digest.hexdigest()


@contextlib.contextmanager
def folder_for(folder: Path, asked: dict[str, str], *, anew: bool = False) -> Iterator[None]:
    """Make the folder, or take up the one that an earlier run of the same sweep left.

    Parameters
    ----------
    folder : pathlib.Path
    asked : dict of str to str
        See :func:`asked_for`.
    anew : bool
        Throw away what another sweep left.

    Raises
    ------
    OutputError
        The folder holds the work of another sweep, or another process works in it.
    """
    found = _read(folder / _ASKED)
    if folder.exists() and found != asked:
        differs = [name for name in asked if found is not None and found.get(name) != asked[name]]
        what = f"another {' and '.join(differs)}" if differs else "something else"
        if not anew:
            raise OutputError(
                f"{folder}: holds the finished parts of a sweep with {what}; run that one to its end, remove the "
                f"folder, or throw its parts away with {OVER}"
            )
        shutil.rmtree(folder)
    make_folder(folder)
    try:
        with open(folder / "lock", "a") as lock:
            _locked(lock, folder)
            for left in folder.glob("*.tmp"):  # of a run that was killed
                left.unlink()
            if found != asked:
                write_text(folder / _ASKED, json.dumps(asked, indent=1), overwrite=True)
            yield
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(says(folder, error)) from None


def says(folder: Path, error: OSError, *, stay: bool = True) -> str:
    """What to tell of a failed write; whether the finished parts stay."""
    what = f"{folder}: cannot be written ({error.strerror or error}); "
    if not stay:
        return what + "make room, set TMPDIR to a folder that has some, or work with one process (--workers 1)"
    return what + "the finished parts stay there: make room and run the same command again"


def _locked(lock: IO[str], folder: Path) -> None:
    try:
        import fcntl
    except ImportError:  # not on this system: two runs of one sweep then do the same work twice
        return
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise OutputError(f"{folder}: another process is working on this sweep; wait for its end") from None


def _read(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def save(folder: Path, index: int, part: Part) -> None:
    """Keep a finished part."""
    tally = part.tally
    whole = part.sampled.size == tally.rows == part.kept.size  # the sample is what is kept
    sampled, sample = (part.sampled[:0], part.sample[:, :0]) if whole else (part.sampled, part.sample)
    head = {
        "rows": tally.rows,
        "verdicts": tally.verdicts.tolist(),
        "reasons": tally.reasons.tolist(),
        "shape": [len(part.columns), part.kept.size, sampled.size],
    }
    text = json.dumps(head).encode()
    text += b" " * (-len(text) % _WORD)
    numbers = np.stack([tally.least, tally.greatest, tally.total, tally.known])
    arrays = (numbers, part.kept, part.columns, sampled, sample)
    _put(_file(folder, index), len(text).to_bytes(_WORD, "little"), text, *map(_bytes, arrays))


def _bytes(array: Any) -> bytes | memoryview:
    return np.ascontiguousarray(array).data.cast("B") if array.size else b""


def load(folder: Path, index: int) -> Part | None:
    """A finished part, None where there is none or it has come to harm."""
    try:
        data = _file(folder, index).read_bytes()
    except FileNotFoundError:
        return None
    if len(data) < 3 * _WORD or len(data) % _WORD or data[-_WORD:] != _checksum(data[:-_WORD]):
        return None
    at = _WORD + int.from_bytes(data[:_WORD], "little")
    head = json.loads(data[_WORD:at])
    columns, kept, sampled = head["shape"]

    def taken(count: int, kind: type[np.float64] | type[np.int64]) -> Any:
        nonlocal at
        found = np.frombuffer(data, kind, count, at)
        at += _WORD * count
        return found

    numbers = taken(4 * columns, np.float64).reshape(4, columns)
    mine, table = taken(kept, np.int64), taken(columns * kept, np.float64).reshape(columns, kept)
    others, sample = taken(sampled, np.int64), taken(columns * sampled, np.float64).reshape(columns, sampled)
    others, sample = others.copy(), sample.copy()  # they are held to the end, and must not hold all of the part
    tally = Tally(head["rows"], np.array(head["verdicts"]), np.array(head["reasons"]), *numbers)
    if not sampled and kept == tally.rows:
        others, sample = mine, table
    return Part(mine, table, others, sample, tally)


def remove(folder: Path, index: int) -> None:
    """Take a part away that has been read."""
    _file(folder, index).unlink(missing_ok=True)


def is_there(folder: Path, index: int) -> bool:
    """Whether there is a file of a part."""
    return _file(folder, index).exists()


def _file(folder: Path, index: int) -> Path:
    return folder / f"part_{index:08d}"


def _checksum(*data: bytes | memoryview) -> bytes:
    """Eight bytes that say whether a part, in pieces of whole words, is as it was written."""
    found = _SEED
    for piece in data:
        if len(piece):
            found ^= int(np.bitwise_xor.reduce(np.frombuffer(piece, np.uint64)))
    return found.to_bytes(_WORD, "little")


def _put(path: Path, *data: bytes | memoryview) -> None:
    """Write a file, its checksum last, under another name, and rename it when it is whole."""
    beside = path.with_name(f"{path.name}.{os.getpid()}.tmp")
    try:
        with open(beside, "wb") as stream:
            for piece in (*data, _checksum(*data)):
                stream.write(piece)
        os.replace(beside, path)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
