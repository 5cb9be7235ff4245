"""The bench sheet: everything that is cut, drilled, clamped and set, from one solved design."""

from __future__ import annotations

from linkage.answers import Answer
from linkage.paper import bench_hold, bench_levers, bench_links, bench_setup
from linkage.paper.practice import Practice, checked, rules
from linkage.paper.sheet import Figures, Picture, Rules, Section, Sheet, facts_of, stamp_of


def bench_sheet(answer: Answer, practice: Practice | None = None, *, date: str = "") -> Sheet:
    """The bench sheet of a design.

    Link cut list, levers and their clocking, coordinates from the datum, stops, springs, the order of
    setting up, the closing proof, and which dimension to hold. A calculation, not a certificate; the
    sheet says so.

    Parameters
    ----------
    answer : Answer
    practice : Practice, optional
        What a bench needs and the design does not say [mm, deg].
    date : str
        The date that the sheet carries.

    Returns
    -------
    Sheet
        Lengths in the design's own unit [mm or in], angles [deg].

    Raises
    ------
    DesignError
        A setting of the bench cannot be used.

    Examples
    --------
    >>> import linkage
    >>> from linkage.design_file import parse, starter
    >>> from linkage.paper.sheet import text
    >>> sheet = bench_sheet(linkage.answers.check(parse(starter())))
    >>> text(sheet).splitlines()[1].split()[:2]
    ['BENCH', 'SHEET']
    """
    run, rig = answer.run, answer.run.rig
    practice = checked(practice or Practice(), rig)
    told = Figures(rig.units, fractions=practice.fractions)
    thumb = Rules(tuple(rules(practice, rig)))
    sections = (
        Section("coordinates", tuple(bench_levers.coordinates(rig, practice, told))),
        Section("lever holes", tuple(bench_levers.holes(run, practice, told))),
        Section("clocking", (*_sketched(answer, practice), *bench_levers.clocking(run, practice, told))),
        Section("straight-line checks", tuple(bench_levers.straight_lines(run, practice, told))),
        Section("link cut list", tuple(bench_links.cut_list(run, practice, told))),
        Section("what a turn of a link does", tuple(bench_links.turns(run, told))),
        Section("to buy", tuple(bench_links.to_buy(rig, practice))),
        Section("stops", tuple(bench_setup.stop_screws(answer, told))),
        Section("springs", tuple(bench_setup.spring_list(answer, told))),
        Section("which dimension to hold", tuple(bench_hold.hold(run, told))),
        Section("rules of thumb used here", (thumb,)),
        Section("set-up card, in this order", tuple(bench_setup.card(answer, told)), fresh=True),
        Section("closing proof, engine off", tuple(bench_setup.closing(answer, told))),
    )
    return Sheet("Bench sheet", rig.title, facts_of(rig, date), sections, stamp_of(answer), date=date)


def _sketched(answer: Answer, practice: Practice) -> tuple[Picture, ...]:
    from linkage.paper.bench_sketch import sketches

    picture = sketches(answer.run, practice)
    return () if picture is None else (picture,)
