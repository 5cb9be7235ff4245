"""The report of a fit: what was wished, before and after, what limits it, what forbids it."""

from __future__ import annotations

from linkage.answers import CAUTION
from linkage.design_file.free import rule_at
from linkage.paper.lines import SIGN, WIDTH, aligned, fixed, in_own_unit, sentence, wrapped
from linkage.parts import Linkage
from linkage.quantities import own_scale, own_unit
from linkage.search.conflict import Conflict
from linkage.search.fit import Candidate, Fit
from linkage.search.measured import Goal
from linkage.search.minimax import Hold

#: figures that are shown whether they are wished or not, and their units
_SHOWN = (
    ("mismatch", "deg"),
    ("mismatch_at_idle", "deg"),
    ("mismatch_at_wide_open", "deg"),
    ("transmission_angle", "deg"),
    ("progression_ratio", ""),
    ("cable_travel", "mm"),
    ("wide_open_shortfall", "deg"),
)

_SORTS = {"at most": "at most", "at least": "at least", "equal": ""}
_MENTIONED = 0.02
_COLUMNS = 3  # answers beside the design as drawn


def fit_report(found: Fit) -> str:
    """The whole report as plain text.

    Parameters
    ----------
    found : Fit

    Returns
    -------
    str
        Angles in degrees, lengths in the design's own unit [mm or in].
    """
    blocks = [_title(found), _verdict(found), ["WISHES", *_figures(found)], ["DIMENSIONS", *_dimensions(found)]]
    blocks += [["WHAT LIMITS THE FIRST", *lines] for lines in [_limits(found)] if lines]
    blocks += [["WHAT FORBIDS IT", *lines] for lines in [_forbids(found)] if lines]
    blocks.append(["─" * WIDTH, *sentence(CAUTION)])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def told(name: str) -> str:
    """A figure's or wish's name in words."""
    return name.replace("_", " ")


def value_of(rig: Linkage, path: str, value: float) -> tuple[str, str]:
    """A dimension as the design's own unit shows it, and that unit."""
    spring = {name: {"on": s.on} if s.on else {} for name, s in rig.spring.items()}
    rule = rule_at(tuple(path.split(".")), {"spring": spring})
    kind = rule.kind if rule is not None else "number"
    digits = 4 if rig.units == "in" and kind == "length" else 3
    return fixed(value / own_scale(rig.units, kind), digits), own_unit(rig.units, kind)


def _title(found: Fit) -> list[str]:
    rig = found.rig
    where = rig.source.path.replace("\\", "/").rpartition("/")[2] if rig.source else ""
    how = f"fitted: {len(found.free)} dimensions free, {found.starts} starts, seed {found.seed}"
    facts = " · ".join(fact for fact in (where, how) if fact)
    return ["═" * WIDTH, *wrapped(rig.title), *wrapped(facts), "═" * WIDTH]


def _verdict(found: Fit) -> list[str]:
    best = found.best
    count = f"{len(found.answers)} distinct answer{'s' if len(found.answers) > 1 else ''}"
    if best is found.start:
        says = "nothing better than the design as drawn was found."
    elif best.met:
        says = f"every wish is met and no check of the verdict fails; {count}."
    else:
        nearest = f"the nearest of {count}" if len(found.answers) > 1 else "the nearest answer"
        says = f"not everything is met; {nearest} "
        says += f"misses {' and '.join(told(name) for name in best.unmet)}" if best.unmet else ""
        says += f"{' and ' if best.unmet else ''}fails {best.fails}" if best.fails else ""
        says += "."
    lines = [f"{SIGN['pass'] if best.met else SIGN['fail']} {'MET' if best.met else 'NOT MET'}", *sentence(says)]
    if found.moved_in:
        lines += sentence(f"as drawn, {', '.join(found.moved_in)} is outside its bounds and was brought to them first.")
    if found.stopped:
        lines += sentence("stopped from the keyboard: this is the best so far.")
    return lines


def _figures(found: Fit) -> list[str]:
    units = found.rig.units
    rows = [["", *_heads(found), "wished", ""]]
    rows += [_row(found, goal.name, goal.unit, units, goal) for goal in found.goals]
    wished = {goal.name for goal in found.goals}
    rows += [_row(found, name, unit, units, None) for name, unit in _SHOWN if name not in wished]
    rows.append(["verdict", *(f"{SIGN['fail']} fails" if c.fails else "no fail" for c in _columns(found)), "", ""])
    lines = aligned(rows, "<" + ">" * len(_columns(found)) + "<<")
    fails = [f"{head} fails {c.fails}" for head, c in zip(_heads(found), _columns(found), strict=True) if c.fails]
    if fails:
        lines += sentence(f"{', '.join(fails)}.")
    left = len(found.answers) - _COLUMNS
    return lines + (sentence(f"{left} more below these: see --json, or --answer to write one.") if left > 0 else [])


def _row(found: Fit, name: str, unit: str, units: str, goal: Goal | None) -> list[str]:
    cells, own = [], unit
    for candidate in _columns(found):
        value = candidate.figures.get(name, float("nan"))
        text, own = in_own_unit(value, unit, units, fine=True)
        cells.append(("" if goal is None else f"{SIGN['pass'] if goal.met(value) else SIGN['fail']} ") + text)
    target = ""
    if goal is not None:
        target = f"{_SORTS[goal.sort]} {in_own_unit(goal.target, unit, units, fine=True)[0]}".strip()
        if goal.sort == "equal":
            target += f" ± {in_own_unit(goal.within, unit, units, fine=True)[0]}"
    return [told(name), *cells, target, own]


def _columns(found: Fit) -> list[Candidate]:
    return [found.start, *(answer for answer in found.answers[:_COLUMNS] if answer is not found.start)]


def _heads(found: Fit) -> list[str]:
    return ["as drawn", *(f"answer {i}" for i in range(1, len(_columns(found))))]


def _dimensions(found: Fit) -> list[str]:
    rows = [["", *_heads(found), "from", "to", ""]]
    for path, bounds in found.free.items():
        shown = [value_of(found.rig, path, c.values[path])[0] for c in _columns(found)]
        low, unit = value_of(found.rig, path, bounds.low)
        high = value_of(found.rig, path, bounds.high)[0]
        step = "" if bounds.step is None else f" by {value_of(found.rig, path, bounds.step)[0]}"
        rows.append([path, *shown, low, high, unit + step])
    lines = aligned(rows, "<" + ">" * (len(rows[0]) - 2) + "<")
    losses = [
        f"{fixed(c.exact, 3)} to {fixed(c.worst, 3)} (answer {i})"
        for i, c in enumerate(found.answers[:_COLUMNS], 1)
        if c.exact is not None
    ]
    if losses:
        lines += sentence(f"steps moved the furthest wish, in shares of what is allowed, from {', '.join(losses)}.")
    return lines


def _limits(found: Fit) -> list[str]:
    holds = found.best.holds
    names = [told(hold.name) for hold in holds if hold.name and hold.weight > _MENTIONED]
    lines = sentence(f"held where it is by {', '.join(names)}.") if names else []
    for hold in holds:
        if hold.path:
            lines += sentence(_bound(found, hold))
    if holds and not any(hold.path for hold in holds):
        lines += sentence("no bound holds it: wider bounds gain nothing near here.")
    return lines


def _bound(found: Fit, hold: Hold) -> str:
    bounds = found.free[hold.path]
    at, unit = value_of(found.rig, hold.path, bounds.low if hold.side == "low" else bounds.high)
    scale = own_scale(found.rig.units, "length") if unit in ("in",) else 1.0
    gain = hold.gain * scale
    wish = found.wish.mismatch
    if wish is not None and found.best.holds[0].name == "mismatch" and found.best.worst < 50.0:
        gains = f"{fixed(gain * wish, 4)} degrees of mismatch"
    else:
        gains = f"{fixed(100.0 * gain, 1)} % of what the furthest wish allows"
    lower = "lower" if hold.side == "low" else "upper"
    beyond = f"one {unit or 'unit'} beyond would gain about {gains}"
    return f"at the {lower} bound {at} {unit} of {hold.path}: {beyond}."


def _forbids(found: Fit) -> list[str]:
    if not found.conflicts:
        return []
    freeing = [c for c in found.conflicts if c.forbids]
    wishes = [c for c in freeing if c.wish]
    bounds = [c for c in freeing if c.bound]
    lines: list[str] = []
    if len(found.goals) == 1 and len(wishes) == 1 and not bounds:
        lines += sentence(f"{told(wishes[0].wish)} is wished further than these bounds and this layout allow.")
        wishes = []
    named = [f"the wish for {told(c.wish)}" for c in wishes] + [_bound_words(found, c) for c in bounds]
    if len(named) > 1:
        lines += sentence(f"these forbid each other; any one of them gone, the rest is met: {'; '.join(named)}.")
    elif named:
        lines += sentence(f"what stands in the way is {named[0]}.")
    elif not lines:
        lines += sentence("no single wish or bound forbids it; more than one has to give way.")
    rows = [["without", "the rest", "", ""]]
    for c in found.conflicts:
        rest = "is met" if c.forbids else f"at {fixed(c.worst)} of what is allowed"
        rows.append([_without(found, c), rest, *_then(found, c)])
    return [*lines, "", *aligned(rows, "<<<<")]


def _bound_words(found: Fit, c: Conflict) -> str:
    bounds = found.free[c.bound]
    at, unit = value_of(found.rig, c.bound, bounds.low if c.side == "low" else bounds.high)
    return f"{c.bound} {'from' if c.side == 'low' else 'to'} {at} {unit}"


def _without(found: Fit, c: Conflict) -> str:
    return f"the wish for {told(c.wish)}" if c.wish else _bound_words(found, c)


def _then(found: Fit, c: Conflict) -> tuple[str, str]:
    if c.bound:
        value, unit = value_of(found.rig, c.bound, c.value)
        return f"then at {value}", unit
    unit = "%" if c.wish == "progression" else next(g.unit for g in found.goals if g.name == c.wish)
    text, own = in_own_unit(c.value, unit, found.rig.units, fine=True)
    return f"which is then {text}", own
