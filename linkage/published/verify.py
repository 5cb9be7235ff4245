"""Every example worked with the code as installed, and the table of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from linkage import tables
from linkage.published import bought, hardware, linkages, margins, synthesis
from linkage.published.rows import Leaf, Row, Worked, compared, examples

#: Which function works which kind of example. A kind that is not here is listed as not yet computed.
KINDS: Mapping[str, Worked] = {
    "fourbar_position": linkages.positions,
    "fourbar_position_offset_ground": linkages.positions,
    "fourbar_velocity": linkages.positions,
    "fourbar_acceleration": linkages.positions,
    "fourbar_position_velocity_acceleration": linkages.positions,
    "grashof": linkages.grashof_class,
    "no_assembly": linkages.assembly,
    "toggle_input_angle": linkages.toggle_angles,
    "extreme_transmission_angle": linkages.extreme_transmission,
    "parallelogram": linkages.parallelogram,
    "antiparallel_counter_rotation": linkages.antiparallelogram,
    "counter_rotation_mismatch": linkages.crossed_pair,
    "rssr": linkages.spatial,
    "throttle_open_area_fraction": hardware.open_area,
    "thread": hardware.screw_thread,
    "compressible_throttle_flow": margins.air_flow,
    "tolerance_stack": margins.stack,
    "chebyshev_spacing": synthesis.spacing,
    "freudenstein_3pt": synthesis.three_points,
    "freudenstein_5pt_least_squares": synthesis.least_squares,
    "torsion_spring": bought.torsion_spring,
    "extension_spring": bought.extension_spring,
    "rod_end_misalignment": bought.rod_end,
}


def verify() -> tuple[Row, ...]:
    """Work every published example.

    Returns
    -------
    tuple of Row
        One row a value, in the order of the data; angles [deg], lengths [mm] or in the unit of the
        example. Rows of kinds (or quantities) that this version does not compute have ``passed``
        None.

    Examples
    --------
    >>> any(row.passed is False for row in verify())
    False

    References
    ----------
    Each row carries its own ``source``.
    """
    return tuple(row for example in examples() for row in compared(example, KINDS.get(example["kind"])))


def tally(rows: Iterable[Row]) -> tuple[int, int, int]:
    """How many values passed, failed, and are not yet computed."""
    outcome = [row.passed for row in rows]
    return outcome.count(True), outcome.count(False), outcome.count(None)


def report(rows: Sequence[Row]) -> str:
    """A plain table source by source, what is not yet computed by itself, and the count last."""
    parts = []
    for source, of in _by_source(row for row in rows if row.passed is not None):
        parts.append(f"{source}\n{_table(of)}")
    missing = _by_source(row for row in rows if row.passed is None)
    if missing:
        lines = ["Not yet computed here:"]
        for source, of in missing:
            names = ", ".join(dict.fromkeys(row.id for row in of))
            lines.append(f"  {names}: {len(of)} value{'s' if len(of) > 1 else ''} ({source})")
        parts.append("\n".join(lines))
    passed, failed, left = tally(rows)
    return "\n\n".join([*parts, f"{passed} passed, {failed} failed, {left} not yet computed"])


def _by_source(rows: Iterable[Row]) -> list[tuple[str, list[Row]]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row.source, []).append(row)
    return list(found.items())


def _table(rows: Sequence[Row]) -> str:
    return tables.text(
        {
            "example": [row.id for row in rows],
            "quantity": [row.quantity for row in rows],
            "unit": [row.unit or "-" for row in rows],
            "expected": [_shown(row.expected) for row in rows],
            "found": [_shown(row.got) for row in rows],
            "difference": [_small(row.difference) for row in rows],
            "tolerance": [_small(row.tolerance) for row in rows],
            "": ["passed" if row.passed else "FAILED" for row in rows],
            "how come by": [row.how_come_by for row in rows],
        }
    )


def _shown(value: Leaf) -> str:
    if value is None:
        return "cannot assemble"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else f"{value:.12g}"


def _small(value: float | None) -> str:
    return "-" if value is None else f"{value:.1e}"
