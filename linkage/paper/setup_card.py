"""The set-up card of a bench tuning: what to turn, in which order, what to expect of it and when to stop."""

from __future__ import annotations

import math

from linkage.answers.airflow import open_area_fraction, open_area_slope
from linkage.answers.checks import Word
from linkage.answers.mismatch import Mismatch, mismatch
from linkage.answers.progression import TABLE
from linkage.paper.lines import fixed
from linkage.paper.setup_found import built, odds, readings
from linkage.paper.setup_means import fineness
from linkage.paper.setup_steps import spelt, steps
from linkage.paper.sheet import Block, Figures, Section, Sheet, Steps, Words, facts_of, table
from linkage.search.advice import SURE
from linkage.search.estimate import COVERAGE
from linkage.search.tune import Tuning


def setup_card(tuning: Tuning, *, date: str = "") -> Sheet:
    """The set-up card of a bench tuning. A calculation, not a certificate; the card says so.

    Parameters
    ----------
    tuning : Tuning
    date : str
        The date that the card carries.

    Returns
    -------
    Sheet
        Lengths in the design's own unit [mm or in], angles [deg].

    Examples
    --------
    >>> import linkage
    >>> from linkage.paper.sheet import text
    >>> rig = linkage.read("demo/bench_job.toml")  # doctest: +SKIP
    >>> print(text(setup_card(linkage.tune(rig, "demo/bench_job_readings.csv"))))  # doctest: +SKIP
    """
    rig = tuning.run.rig
    told = Figures(rig.units)
    sections = (
        Section("do this, in this order", (Steps(tuple(steps(tuning, told))),)),
        Section("what to expect", tuple(_expect(tuning))),
        Section("when to stop", tuple(_when_to_stop(tuning))),
        Section("how fine the adjusters are", tuple(fineness(tuning, told))),
        Section("what is built, as the readings say", tuple(built(tuning, told)), fresh=True),
        Section("readings", tuple(readings(tuning, told))),
    )
    file = tuning.readings.file.replace("\\", "/").rpartition("/")[2]
    return Sheet(
        "Set-up card", rig.title, (*facts_of(rig, date), f"readings {file}"), sections, _stamp(tuning), date=date
    )


def _stamp(tuning: Tuning) -> tuple[Word, str]:
    advice, found = tuning.advice, tuning.estimate
    if not found.fits:
        return "fail", (
            "the readings do not fit this linkage, whatever its dimensions: turn nothing. Look for a shaft or a "
            "position mistaken for another, for a slip in the design, or for play."
        )
    idle = f"{fixed(advice.after.at_idle)} ± {fixed(advice.after_within[0])} degrees"
    chance = f"odds of all limits being kept: {odds(advice.odds_after)}"
    if advice.stop:
        word: Word = "pass" if advice.odds_before >= SURE else "caution"
        return word, f"turn nothing: {advice.why}. Mismatch at idle {idle}; {chance}."
    count = len(advice.moves)
    return "caution", (
        f"{spelt(count)} adjustment{'s' if count > 1 else ''}, then read again. Mismatch at idle now "
        f"{fixed(advice.before.at_idle)} ± {fixed(advice.before_within[0])} degrees, afterwards {idle}; {chance}."
    )


def _expect(tuning: Tuning) -> list[Block]:
    advice, limits = tuning.advice, tuning.run.rig.limits
    parts = {"at idle": limits.mismatch_at_idle, "first 10 degrees": limits.mismatch_off_idle}
    parts |= {"middle": limits.mismatch, "last 10 degrees": limits.mismatch_at_wide_open}
    columns = [_by_region(apart) for apart in (mismatch(tuning.run), advice.before, advice.after)]
    cells = [
        [part, *(fixed(column[part]) for column in columns), fixed(limit)]
        for part, limit in parts.items()
        if any(column[part] is not None for column in columns)
    ]
    if advice.stop:
        cells = [[*row[:3], "", row[4]] for row in cells]
    says = f"At idle give or take {fixed(advice.before_within[0])} as found"
    chance = f"Odds that every limit is kept: {odds(advice.odds_before)} as found"
    if not advice.stop:
        says += f", {fixed(advice.after_within[0])} afterwards"
        chance += f", {odds(advice.odds_after)} afterwards"
    at = advice.adjusted.at_fraction(TABLE)
    heading = ("travel [%]", *(f"{name} [deg]" for name in at.plate_angle))
    plates = [
        [f"{100.0 * share:.0f}", *(fixed(float(angle[i])) for angle in at.plate_angle.values())]
        for i, share in enumerate(TABLE)
    ]
    return [
        table(("mismatch [deg]", "as drawn", "as found", "afterwards", "limit"), cells, "<>>>>"),
        Words(
            f"{says} ({COVERAGE:g} standard deviations). {chance}. As found: with every idle stop set as drawn. "
            "Every figure is of the linkage as estimated, solved afresh."
        ),
        Words("Plates as they stand now:" if advice.stop else "Plates to be read afterwards:"),
        table(heading, plates, ">" * len(heading)),
    ]


def _by_region(apart: Mismatch) -> dict[str, float | None]:
    middle = None if apart.middle is None else apart.middle.value
    return {
        "at idle": apart.at_idle, "first 10 degrees": apart.off_idle.value, "middle": middle,
        "last 10 degrees": apart.last.value,
    }  # fmt: skip


def _when_to_stop(tuning: Tuning) -> list[Block]:
    advice, limit = tuning.advice, tuning.run.rig.limits.mismatch_at_idle
    pair = COVERAGE * 2.0**0.5 * tuning.noise.plate
    often = math.ceil((pair / limit) ** 2)
    found = []
    if advice.stop:
        found.append(Words(f"Now: {advice.why}.", "pass" if advice.odds_before >= SURE else "caution"))
    says = (
        f"Stop when every limit of the table is kept, or when two shafts read within {fixed(pair)} degrees of each "
        f"other, {COVERAGE:g} standard deviations of one reading against another: nearer than that one reading of each "
        "cannot tell."
    )
    if often > 1:
        says += f" To tell {limit:g} degrees so takes {often} readings of each shaft at idle."
    found.append(Words(says))
    air = [
        f"{100.0 * by:.0f} % of the idle air of {name}"
        for name in tuning.run.rig.shaft
        if (by := _air(tuning, name, limit)) is not None
    ]
    if air:
        says = f"An airflow meter tells more at idle: {limit:g} degrees is {', '.join(air)}."
        found.append(Words(f'{says} Its readings go into a column "NAME flow [kg/h]".'))
    return list(found)


def _air(tuning: Tuning, name: str, by: float) -> float | None:
    """Share of a shaft's idle air in ``by`` degrees of its plate; None where that is not known."""
    shaft = tuning.run.rig.shaft[name]
    if shaft.bore is None:
        return None
    at = {"shut": shaft.plate_angle.shut, "shaft_ratio": shaft.shaft_diameter / shaft.bore}
    area = float(open_area_fraction(shaft.plate_angle.idle, **at))
    return by * float(open_area_slope(shaft.plate_angle.idle, **at)) / area if area > 1e-6 else None
