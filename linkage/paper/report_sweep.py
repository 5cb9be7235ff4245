"""The report of a sweep: what there was among the candidates, what moves what, and those kept."""

from __future__ import annotations

from linkage.answers import CAUTION
from linkage.paper.lines import WIDTH, aligned, fixed, sentence, wrapped
from linkage.search.headings import WORDS, Column, columns_of
from linkage.search.swept import Sweep

_TOLD = 0.01  # an index below this is not worth a word
_MOST = 3  # dimensions named for each figure


def sweep_report(found: Sweep, *, seconds: float = 0.0, lines: int = 20) -> str:
    """The whole report as plain text.

    Parameters
    ----------
    found : Sweep
    seconds : float
        How long the work took [s]; 0: not told.
    lines : int
        Most candidates listed.

    Returns
    -------
    str
        Angles in degrees, lengths in the design's own unit [mm or in].
    """
    blocks = [
        _title(found, seconds),
        ["VERDICTS", *_verdicts(found)],
        ["FIGURES OVER ALL CANDIDATES", *_figures(found)],
    ]
    blocks.append([f"WHAT MOVES WHAT (first-order share of each figure's spread{_of(found)})", *_influences(found)])
    blocks.append([_kept_heading(found), *_kept(found, lines)])
    blocks.append(["─" * WIDTH, *sentence(CAUTION)])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _title(found: Sweep, seconds: float) -> list[str]:
    rig, tally = found.rig, found.tally
    where = rig.source.path.replace("\\", "/").rpartition("/")[2] if rig.source else ""
    rate = f" in {seconds:.1f} s" if seconds > 0.0 else ""
    whole = f" of {found.variation.rows:,}" if tally.rows < found.variation.rows else ""
    facts = " · ".join(fact for fact in (where, f"sweep: {tally.rows:,}{whole} candidates{rate}") if fact)
    return ["═" * WIDTH, *wrapped(rig.title), *wrapped(facts), "═" * WIDTH]


def _verdicts(found: Sweep) -> list[str]:
    counts, rows = found.verdicts(), found.tally.rows
    lines = aligned([[word, f"{n:,}", f"{100.0 * n / rows:.1f} %"] for word, n in counts.items()], "<>>")
    reasons = [f"{name.replace('_', ' ')} {n:,}" for name, n in found.reasons().items()]
    if reasons:
        lines += wrapped("The first check that fails: " + ", ".join(reasons) + ".")
    return lines


def _figures(found: Sweep) -> list[str]:
    tally, columns = found.tally, columns_of(found.rig, found.variation.paths)
    rows = [["figure", "least", "mean", "greatest"]]
    for i, column in enumerate(columns):
        if column.name in WORDS or not tally.known[i]:
            continue
        values = (tally.least[i], tally.total[i] / tally.known[i], tally.greatest[i])
        rows.append([column.heading, *(fixed(float(v) / column.size, 3) for v in values)])
    return aligned(rows, "<>>>")


def _of(found: Sweep) -> str:
    return f", from {len(found.sampled):,} of them" if len(found.sampled) < found.tally.rows else ""


def _influences(found: Sweep) -> list[str]:
    short, rows = shortened(found.variation.paths), []
    wide = 4 + max(map(len, found.figures))  # what the figure's name takes of a line
    for figure, by_path in found.influences().items():
        known = [(i.index, i.way, short[path]) for path, i in by_path.items() if i.index is not None]
        known = sorted((row for row in known if row[0] >= _TOLD), key=lambda row: -row[0])
        if known:
            said = [
                f"{100.0 * index:.0f} % {name}{(' falls', '', ' rises')[way + 1]}" for index, way, name in known[:_MOST]
            ]
            while len(said) > 1 and len(", ".join(said)) > WIDTH - wide:
                said.pop()
            rows.append([figure, ", ".join(said)])
    if not rows and len(short) == 1:
        return wrapped("One dimension is varied: whatever moves, moves with it.")
    if not rows:
        return wrapped("No figure moves, or there are too few candidates to tell by what.")
    note = (
        '"rises", "falls": so does the figure with the dimension throughout. What is missing to 100 % they do together.'
    )
    return [*aligned(rows, "<<"), *wrapped(note)]


def shortened(paths: tuple[str, ...]) -> dict[str, str]:
    """Paths without the words that say only what kind of part it is."""
    found = {path: ".".join(w for w in path.split(".") if w not in ("shaft", "bellcrank", "arm")) for path in paths}
    return found if len(set(found.values())) == len(paths) else {path: path for path in paths}


def _kept_heading(found: Sweep) -> str:
    choice, n = found.choice, found.kept
    if choice.best is not None:
        aim = choice.aims[0]
        return f"THE BEST {n:,} BY {aim.name.upper()} ({'MOST' if aim.better == 'high' else 'LEAST'} FIRST)"
    if choice.aims:
        names = " AND ".join(
            f"{aim.name.upper()} ({'MORE' if aim.better == 'high' else 'LESS'})" for aim in choice.aims
        )
        return f"THE FRONT OF {names}: {n:,} CANDIDATES"
    if found.path is not None:
        return f"CANDIDATES KEPT: {n:,}, in {found.path.name}"
    return f"CANDIDATES KEPT: {n:,}"


def _kept(found: Sweep, lines: int) -> list[str]:
    if not found.kept:
        return wrapped("None meets the limits.")
    shown = found.in_short
    columns = [(i, c) for i, c in enumerate(columns_of(found.rig, found.variation.paths)) if c.name in shown]
    short = {**{name: name for name in found.names}, **shortened(found.variation.paths)}
    order = found.numbers.argsort(kind="stable") if not found.choice.aims else range(len(found))
    if found.choice.aims and found.choice.best is None:
        order = found.choice.aims[0].cost({name: found[name] for name in found.names}).argsort(kind="stable")
    picked = [int(k) for k in list(order)[:lines]]
    cells = [["candidate", *(str(found.numbers[k]) for k in picked)]]
    for i, column in columns:
        unit = column.heading.removeprefix(column.name).strip()
        cells.append(
            [f"{short[column.name]} {unit}".strip(), *(_cell(column, float(found.table[i, k])) for k in picked)]
        )
    few = len(picked) <= 3  # then they stand side by side
    text = aligned(cells, "<" + ">" * len(picked)) if few else _heads_down(cells)
    more = found.kept - len(picked)
    return [*text, *(wrapped(f"… and {more:,} more.") if more > 0 else [])]


def _heads_down(cells: list[list[str]]) -> list[str]:
    """Columns under numbered heads, the heads spelt out before them, so that long names take no width."""
    heads = [f"  ({chr(96 + i)}) {column[0]}" for i, column in enumerate(cells) if i]
    rows = [["candidate", *(f"({chr(96 + i)})" for i in range(1, len(cells)))]]
    rows += [list(row) for row in zip(*(column[1:] for column in cells), strict=True)]
    return [*heads, *aligned(rows, ">" * len(cells))]


def _cell(column: Column, value: float) -> str:
    if column.name in WORDS:
        return WORDS[column.name][int(value)]
    return fixed(value / column.size, 3)
