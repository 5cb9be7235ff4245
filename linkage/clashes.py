"""What must hold between the values of one part, whether a design file gives them or a change does.

Every rule takes plain numbers [mm, deg, 1/K, K], None where one is not known, and yields a :class:`Clash`
for each way in which they do not go together.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

#: Heat makes no part more than this share longer or shorter; what says otherwise is a slip of the pen.
#: The steepest metal of the trade, aluminium, takes 20 000 K to come so far: common practice, no source.
MOST_GROWTH = 0.5


class Clash(NamedTuple):
    """The ``keys`` below the part that hold the value at fault, what is wrong with it, the mend."""

    keys: tuple[str, ...]
    says: str
    mend: str


def of_shaft(
    bore: float | None, thick: float | None, shut: float | None, idle: float | None, wide_open: float | None
) -> Iterator[Clash]:
    """A throttle shaft crosses its bore; its plates go from shut by idle to wide open."""
    if bore is not None and thick is not None and thick >= bore:
        says = f"{thick:g} mm is not less than the bore, {bore:g} mm"
        yield Clash(("shaft_diameter",), says, "the shaft crosses the bore and leaves air beside it")
    if shut is not None and idle is not None and shut > idle:
        says = f"idle {idle:g} deg is less than shut {shut:g} deg"
        yield Clash(("plate_angle", "idle"), says, "a plate idles at or above its shut angle")
    if idle is not None and wide_open is not None and idle >= wide_open:
        says = f"wide_open {wide_open:g} deg is not more than idle {idle:g} deg"
        yield Clash(("plate_angle", "wide_open"), says, "a plate opens from idle to wide open")


def of_coupling(ratio: float | None) -> Iterator[Clash]:
    """A coupling turns its second member."""
    if ratio == 0.0:
        yield Clash(("ratio",), "must not be 0: the second member would not move", "write 1.0 or -1.0")


def of_heat(
    rise: float | None, links_rise: float | None, engine: float | None, links: float | None, arms: float | None
) -> Iterator[Clash]:
    """Heat leaves every part about as long as it was."""
    for key, rate, by in (("engine", engine, rise), ("links", links, links_rise), ("arms", arms, rise)):
        if rate is None or by is None or abs(rate * by) <= MOST_GROWTH:
            continue
        way = "longer" if rate * by > 0.0 else "shorter"
        says = f"{rate:g} per kelvin makes it {100.0 * abs(rate * by):.0f} % {way} at a rise of {by:g} K"
        yield Clash((key,), says, "metals have from 5e-6 to 30e-6")
