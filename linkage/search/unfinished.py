"""A sweep's finished parts on disk, in a folder beside the file that is to come of them.

Each part is one file, written under another name and renamed when whole: a part is there or it is
not, however the work was stopped. ``asked.json`` says what was asked, so that only the same sweep
goes on from here.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import io
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import numpy as np

from linkage.errors import OutputError
from linkage.files import make_folder
from linkage.search.batch import Part, Plan, Tally

_ASKED = "asked.json"


def folder_of(path: str | Path) -> Path:
    """Where the finished parts of a file to be written are kept."""
    return Path(f"{os.fspath(path)}.unfinished")


def asked_for(plan: Plan, version: str) -> dict[str, str]:
    """What decides a sweep's answer, each in a few words that are the same for the same."""
    design = repr(dataclasses.replace(plan.rig, title="", customer="", drawing="", seen_from=""))
    return {
        "version": version,
        "design": hashlib.sha256(design.encode()).hexdigest(),
        "candidates": hashlib.sha256(plan.variation.told().encode()).hexdigest(),
        "keep": repr(plan.choice),
        "slice": f"{plan.start} to {plan.stop}",
    }


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
                "folder, or throw its parts away with --force (in Python: overwrite=True)"
            )
        shutil.rmtree(folder)
    make_folder(folder)
    try:
        with open(folder / "lock", "a") as lock:
            _locked(lock, folder)
            for left in folder.glob("*.tmp"):  # of a run that was killed
                left.unlink()
            if found != asked:
                _put(folder / _ASKED, json.dumps(asked, indent=1).encode())
            yield
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(says(folder, error)) from None


def says(folder: Path, error: OSError) -> str:
    """What to tell of a failed write."""
    return (
        f"{folder}: cannot be written ({error.strerror or error}); the finished parts stay there: make room and run "
        "the same command again"
    )


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
    out = io.BytesIO()
    tally = part.tally
    numbers = np.stack([tally.least, tally.greatest, tally.total, tally.known])
    counts = np.concatenate([[tally.rows], tally.verdicts, tally.reasons])
    whole = part.sampled.size == tally.rows == part.kept.size  # the sample is what is kept
    sampled, sample = (part.sampled[:0], part.sample[:, :0]) if whole else (part.sampled, part.sample)
    for array in (counts, numbers, part.kept, part.columns, sampled, sample):
        np.save(out, array)
    data = out.getbuffer()
    _put(_file(folder, index), data, _checksum(data))


def load(folder: Path, index: int, verdicts: int) -> Part | None:
    """A finished part, None where there is none or it has come to harm."""
    try:
        data = _file(folder, index).read_bytes()
    except FileNotFoundError:
        return None
    body = memoryview(data)[:-8]
    if len(data) < 8 or data[-8:] != _checksum(body):
        return None
    stream = io.BytesIO(body)
    counts, numbers, kept, columns, sampled, sample = (np.load(stream, allow_pickle=False) for _ in range(6))
    rows = int(counts[0])
    tally = Tally(rows, counts[1 : 1 + verdicts], counts[1 + verdicts :], *numbers)
    if not sampled.size and kept.size == rows:
        sampled, sample = kept, columns
    return Part(kept, columns, sampled, sample, tally)


def is_there(folder: Path, index: int) -> bool:
    """Whether there is a file of a part."""
    return _file(folder, index).exists()


def _file(folder: Path, index: int) -> Path:
    return folder / f"part_{index:08d}"


def _checksum(data: memoryview) -> bytes:
    """Eight bytes that say whether a part is as it was written."""
    words = np.frombuffer(data[: len(data) // 8 * 8], np.uint64)
    return int(np.bitwise_xor.reduce(words) if words.size else 0).to_bytes(8, "little")


def _put(path: Path, *data: bytes | memoryview) -> None:
    beside = path.with_name(f"{path.name}.{os.getpid()}.tmp")
    try:
        with open(beside, "wb") as stream:
            for piece in data:
                stream.write(piece)
        os.replace(beside, path)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
