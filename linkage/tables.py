"""Columns of numbers as plain text, HTML and data frames. Headings carry their units."""

from __future__ import annotations

import html
import math
from collections.abc import Mapping, Sequence
from typing import Any

Columns = Mapping[str, Any]  # heading to a sequence of cells


def number(value: Any) -> str:
    """A cell: four decimals at most, ``-`` for a missing value, text as it is."""
    if value is None:
        return "-"
    if isinstance(value, str):
        return value
    if isinstance(value, int):
        return str(value)
    number = float(value)
    if not math.isfinite(number):
        return "-" if math.isnan(number) else "none"
    if abs(number) < 5e-5:
        number = 0.0
    return f"{number:.{4 if abs(number) < 1 else 3 if abs(number) < 100 else 2}f}"


def thinned(columns: Columns, most: int) -> dict[str, list[Any]]:
    """At most ``most`` evenly spread rows, first and last among them."""
    rows = max((len(column) for column in columns.values()), default=0)
    if rows <= most:
        return {name: list(column) for name, column in columns.items()}
    keep = [round(i * (rows - 1) / (most - 1)) for i in range(most)]
    return {name: [column[i] for i in keep] for name, column in columns.items()}


def text(columns: Columns) -> str:
    """A plain text table, columns aligned right (words left), headings over two spaces of air."""
    cells = {name: [number(v) for v in column] for name, column in columns.items()}
    words = {name: any(isinstance(v, str) for v in column) for name, column in columns.items()}
    width = {name: max([len(name), *map(len, column)]) for name, column in cells.items()}

    def line(values: Sequence[str]) -> str:
        done = [
            value.ljust(width[name]) if words[name] else value.rjust(width[name])
            for name, value in zip(cells, values, strict=True)
        ]
        return "  ".join(done).rstrip()

    body = [line(row) for row in zip(*cells.values(), strict=True)]
    return "\n".join([line(list(cells)), *body])


def as_html(columns: Columns, caption: str = "") -> str:
    """The same as an HTML table, everything escaped."""
    cells = {name: [number(v) for v in column] for name, column in columns.items()}
    head = "".join(f"<th scope='col' style='text-align:right'>{html.escape(name)}</th>" for name in cells)
    rows = "".join(
        "<tr>" + "".join(f"<td style='text-align:right'>{html.escape(v)}</td>" for v in row) + "</tr>"
        for row in zip(*cells.values(), strict=True)
    )
    title = f"<caption>{html.escape(caption)}</caption>" if caption else ""
    return f"<table>{title}<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def as_frame(columns: Columns) -> Any:
    """The columns as a pandas ``DataFrame``; pandas is imported here and only here."""
    try:
        import pandas as pd
    except ImportError as error:  # pragma: no cover - depends on the installation
        raise ImportError("to_frame needs pandas: pip install pandas") from error
    return pd.DataFrame({name: list(column) for name, column in columns.items()})


def length(mm: float, units: str) -> str:
    """A length with its unit, as a sentence says it: ``"123.62 mm"`` or ``"4.867 in"``."""
    return f"{mm:.2f} mm" if units == "mm" else f"{mm / 25.4:.3f} in"
