"""Sweeps on disk as CSV and Parquet, written as the parts come and read a piece at a time."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from linkage.errors import DesignError, Fault, OutputError
from linkage.search.headings import NUMBER, WORDS, Column

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

KINDS = (".csv", ".parquet")

_GROUP = 65536  # rows of a Parquet file that stand together


class Sheet(Protocol):
    """A file that takes rows."""

    def add(self, numbers: Whole, table: Floats) -> None:
        """Take the numbers and the columns (columns, n) [mm, deg, N] of some candidates."""

    def close(self) -> None:
        """Write what is left."""


def check_kind(path: str | Path) -> str:
    """The kind of a file by the ending of its name, once what it needs is known to be there.

    Raises
    ------
    OutputError
        No such kind, or pyarrow is not installed.
    """
    kind = Path(path).suffix.lower()
    if kind not in KINDS:
        raise OutputError(f'{path}: "{kind}" is no kind of table; end the name in {" or ".join(KINDS)}')
    if kind == ".parquet" and find_spec("pyarrow") is None:
        raise OutputError(
            f"{path}: Parquet needs pyarrow, which is not installed: pip install pyarrow, or end the name in .csv"
        )
    return kind


def sheet(path: Path, kind: str, columns: Sequence[Column], repeating: Sequence[str] = ()) -> Sheet:
    """Begin a file; of columns named as ``repeating`` the same few values come again and again."""
    return _Parquet(path, columns, repeating) if kind == ".parquet" else _Csv(path, columns)


class _Csv:
    """RFC 4180 but for plain line ends: point for decimals, empty where there is no value."""

    def __init__(self, path: Path, columns: Sequence[Column]) -> None:
        text = [NUMBER, *(column.heading for column in columns)]
        encoding = "utf-8" if "".join(text).isascii() else "utf-8-sig"
        self._columns = columns
        self._out = open(path, "w", encoding=encoding, newline="")  # noqa: SIM115  # closed by close()
        self._writer = csv.writer(self._out, lineterminator="\n")
        self._writer.writerow(text)

    def add(self, numbers: Whole, table: Floats) -> None:
        cells = [_cells(column, values) for column, values in zip(self._columns, table, strict=True)]
        self._writer.writerows(zip(numbers.tolist(), *cells, strict=True))

    def close(self) -> None:
        self._out.close()


def _cells(column: Column, values: Floats) -> list[Any]:
    if column.name in WORDS:
        words = WORDS[column.name]
        return [words[int(value)] for value in values]
    values = values / column.size
    if not column.varied:
        values = np.round(values, 9)  # of a varied dimension every digit, so that the candidate can be had again
    return [repr(value) if math.isfinite(value) else "" for value in (values + 0.0).tolist()]


class _Parquet:
    def __init__(self, path: Path, columns: Sequence[Column], repeating: Sequence[str]) -> None:
        import pyarrow as pa
        from pyarrow import parquet

        self._columns = columns
        self._waiting: list[Any] = []
        words = pa.dictionary(pa.int8(), pa.string())
        fields = [(c.heading, words if c.name in WORDS else pa.float64()) for c in columns]
        self._schema = pa.schema([(NUMBER, pa.int64()), *fields])
        # numbers that seldom repeat are neither looked up nor pressed: it would cost more than it saves
        repeat = [c.heading for c in columns if c.name in WORDS or c.name in repeating]
        self._writer = parquet.ParquetWriter(path, self._schema, compression="none", use_dictionary=repeat)

    def add(self, numbers: Whole, table: Floats) -> None:
        import pyarrow as pa

        arrays = [_taken(numbers), *(self._array(c, v) for c, v in zip(self._columns, table, strict=True))]
        self._waiting.append(pa.RecordBatch.from_arrays(arrays, schema=self._schema))
        if sum(batch.num_rows for batch in self._waiting) >= _GROUP:
            self._flush()

    def _array(self, column: Column, values: Floats) -> Any:
        import pyarrow as pa

        if column.name in WORDS:
            return pa.DictionaryArray.from_arrays(_taken(values.astype(np.int8)), _words(WORDS[column.name]))
        return _taken(values if column.size == 1.0 else values / column.size)

    def _flush(self) -> None:
        import pyarrow as pa

        if self._waiting:
            table = pa.Table.from_batches(self._waiting, schema=self._schema)
            self._writer.write_table(table, row_group_size=max(_GROUP, table.num_rows))
            self._waiting = []

    def close(self) -> None:
        self._flush()
        self._writer.close()


def _taken(values: NDArray[Any]) -> Any:
    """A column as it lies in memory, ``nan`` as no value; ``pyarrow.array`` would first import all of pandas."""
    import pyarrow as pa

    known = ~np.isnan(values)
    bits = None if known.all() else pa.py_buffer(np.packbits(known, bitorder="little"))
    kind = pa.from_numpy_dtype(values.dtype)
    return pa.Array.from_buffers(kind, len(values), [bits, pa.py_buffer(np.ascontiguousarray(values))])


def _words(words: Sequence[str]) -> Any:
    """A column of words."""
    import pyarrow as pa

    coded = [word.encode() for word in words]
    ends = np.cumsum([0, *map(len, coded)], dtype=np.int32)
    return pa.Array.from_buffers(pa.string(), len(words), [None, pa.py_buffer(ends), pa.py_buffer(b"".join(coded))])


#: a piece of a table on disk: where its rows stand, the headings, and the columns' cells
Piece = tuple[Sequence[int], list[str], list[list[Any]]]


def pieces(path: str | Path) -> Iterator[Piece]:
    """A table on disk piece by piece. Rows are told by their line (CSV) or their number from 1 (Parquet).

    Rows of a CSV file in which every cell is blank are passed over.

    Raises
    ------
    DesignError
        The file cannot be read as a table.
    OutputError
        Parquet, and pyarrow is not installed.
    """
    if check_kind(path) == ".parquet":
        yield from _parquet_pieces(path)
    else:
        yield from _csv_pieces(path)


_ROWS = 20_000


def _csv_pieces(path: str | Path) -> Iterator[Piece]:
    try:
        with open(path, encoding="utf-8-sig", newline="") as stream:
            reader = csv.reader(stream, strict=True)
            headings = next(reader, None)
            if not headings:
                raise _unreadable(path, "is empty", "the first line names the columns")
            if len(headings) == 1 and ";" in headings[0]:
                raise _unreadable(path, "has semicolons between its columns", "save it with commas")
            waiting: list[list[str]] = []
            lines: list[int] = []
            for row in reader:
                if not any(map(str.strip, row)):
                    continue
                if len(row) != len(headings):
                    says = f"line {reader.line_num} has {len(row)} cells; the first line has {len(headings)}"
                    raise _unreadable(path, says, "a comma too many, or one for a decimal point?")
                waiting.append(row)
                lines.append(reader.line_num)
                if len(waiting) == _ROWS:
                    yield lines, headings, [list(column) for column in zip(*waiting, strict=True)]
                    lines, waiting = [], []
            yield lines, headings, [list(column) for column in zip(*waiting, strict=True)] or [[] for _ in headings]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise _unreadable(path, f"cannot be read ({getattr(error, 'strerror', None) or error})") from None


def _parquet_pieces(path: str | Path) -> Iterator[Piece]:
    import pyarrow as pa
    from pyarrow import parquet

    try:
        with parquet.ParquetFile(path) as file:
            first, headings = 1, list(file.schema_arrow.names)
            yield (), headings, [[] for _ in headings]
            for batch in file.iter_batches(_ROWS):
                at = range(first, first + batch.num_rows)
                yield at, headings, [column.to_pylist() for column in batch.columns]
                first += batch.num_rows
    except (OSError, pa.ArrowException) as error:
        raise _unreadable(path, f"cannot be read ({getattr(error, 'strerror', None) or error})") from None


def _unreadable(path: str | Path, says: str, mend: str = "") -> DesignError:
    return DesignError([Fault("", says, mend, file=str(path))])
