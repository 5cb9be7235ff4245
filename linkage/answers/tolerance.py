"""Tolerance: how far apart the plates may stand once the parts come off their nominal dimensions.

Twice over: as the parts come, every link at its nominal length give or take its tolerance; and with
every link set on the bench so that all shafts stand at idle as drawn, which takes the mismatch at
idle away and leaves what no link length can mend. Each by stacks (:mod:`linkage.answers.stacks`)
and by seeded trials (:mod:`linkage.answers.trials`).
"""

from __future__ import annotations

import dataclasses
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from linkage.answers.checks import Check
from linkage.answers.stacks import Share, Stack, StackUp, stack_up
from linkage.answers.trials import SAMPLES, SEED, Distribution, Trials, trials
from linkage.motion import Motion, solve
from linkage.parts import Linkage
from linkage.train import compared

#: share of the linkages that should keep every limit once their links are set; common practice, no source
YIELD = 0.95
#: dimensions that together make no more than this share of the variance may be let go
LET_GO = 0.05


@dataclass(frozen=True, eq=False)
class Study:
    """The stacks and the trials of one way to build."""

    stacks: StackUp
    trials: Trials

    @property
    def hold(self) -> tuple[str, ...]:
        """The three dimensions to hold: those with the largest shares of the largest mismatch."""
        return tuple(share.dimension.path for share in self.stacks.governs.shares[:3] if share.share > 0.0)

    @property
    def let_go(self) -> tuple[str, ...]:
        """Dimensions that may be let go: together no more than a twentieth of the variance, of any pair anywhere."""
        total, found = 0.0, []
        for path, weight in reversed(list(self.stacks.weights.items())):
            total += weight
            if total > LET_GO:
                break
            found.append(path)
        return tuple(reversed(found))


@dataclass(frozen=True, eq=False)
class ToleranceReport:
    """Mismatch within the tolerances: ``as_built``, and with the ``links_set`` at idle."""

    as_built: Study
    links_set: Study

    @property
    def at_idle(self) -> Stack:
        """Both sums [deg] at the closing stop, as built."""
        return self.as_built.stacks.at_idle

    @property
    def largest(self) -> Stack:
        """Both sums [deg] at their largest in the travel, as built."""
        return self.as_built.stacks.largest

    @property
    def shares(self) -> tuple[Share, ...]:
        """Shares of the variance of the largest mismatch, as built, largest first."""
        return self.as_built.stacks.governs.shares


def tolerance(
    run: Motion, *, samples: int = SAMPLES, seed: int = SEED, distribution: Distribution = "uniform"
) -> ToleranceReport | None:
    """Mismatch of a motion within the design's tolerances; None where :func:`lacks` says what is missing.

    Parameters
    ----------
    run : Motion
    samples, seed : int
        Of the trials; the same seed gives the same answer.
    distribution : str
        ``"uniform"`` or ``"normal"``, see :func:`linkage.answers.trials.trials`.

    Returns
    -------
    ToleranceReport or None

    References
    ----------
    See :mod:`linkage.answers.stacks` and :mod:`linkage.answers.trials`.
    """
    if lacks(run.rig):
        return None
    as_drawn = links_fitted(run)
    with ThreadPoolExecutor(1) as pool:  # half of the trials beside the rest of the work
        beside = pool.submit(trials, run, samples=samples, seed=seed, distribution=distribution)
        stacks = stack_up(run), stack_up(as_drawn, links_set=True)
        here = trials(as_drawn, samples=samples, seed=seed, distribution=distribution, links_set=True)
        return ToleranceReport(Study(stacks[0], beside.result()), Study(stacks[1], here))


def links_fitted(run: Motion) -> Motion:
    """The motion with every link fitted as drawn; links of given length are to be set so too."""
    rig = run.rig
    if all(link.length is None for link in rig.link.values()):
        return run
    links = {name: dataclasses.replace(link, length=None) for name, link in rig.link.items()}
    return solve(dataclasses.replace(rig, link=links), positions=2)


def lacks(rig: Linkage) -> str:
    """What to add to the design file for this answer, in one sentence; "" where nothing lacks."""
    if len(compared(rig)) < 2:
        return "Tolerance of the mismatch needs a second shaft that moves with the first-named."
    given = rig.tolerance
    if given is None or not any((given.link_length, given.arm_radius, given.arm_angle, given.pivot)):
        return (
            "Tolerance needs the table [tolerance] with the plus-or-minus values link_length, arm_radius, "
            "arm_angle and pivot."
        )
    return ""


def checks(run: Motion, report: ToleranceReport | None) -> tuple[Check, ...]:
    """How many linkages pass once their links are set on the bench.

    What the parts do at idle as they come is told, not judged: any workshop tolerance is coarser than the
    idle limit, and setting the links is what their threads are for.
    """
    if report is None:
        return ()
    tried, hold = report.links_set.trials, report.links_set.hold
    few = tried.yields < YIELD
    mend = f"; {100.0 * YIELD:g} are wanted: " if few else ""
    if few:
        mend += (f"hold {', '.join(hold)} closer, or " if hold else "") + "mend the mismatch as drawn"
    return (
        Check(
            "tolerance_yield", "caution" if few else "pass", 100.0 * tried.yields, 100.0 * YIELD, "%",
            f"{tried.samples} trials, seed {tried.seed}",
            f"of 100 linkages whose links are set at idle, {100.0 * tried.yields:.0f} keep every mismatch limit{mend}.",
        ),
    )  # fmt: skip
