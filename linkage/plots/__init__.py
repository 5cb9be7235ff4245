"""Pictures of a solved motion: the linkage itself, its curves, whole pages.

A picture of one thing takes the :class:`~linkage.motion.Motion` and the axes to draw on (a new
figure without) and returns the axes; a page returns its figure. Colours, dashes and markers always
go together, so that every picture reads in black and white.

>>> import linkage
>>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
>>> linkage.plots.save(linkage.plots.overview(run), "overview.pdf")  # doctest: +SKIP
"""

from linkage.plots.apart import mismatch
from linkage.plots.fits import before_after
from linkage.plots.flex import rocking, twist
from linkage.plots.footwell import followers, footwell, pedal_view, underfoot
from linkage.plots.gallery import gallery
from linkage.plots.geometry import linkage_view
from linkage.plots.graphs import gain, open_area, plate_angles, progression, transmission
from linkage.plots.loads import effort, link_forces, lost_motion, return_torque
from linkage.plots.margins import air_apart, hot_and_cold, least_gap, tolerance_shares
from linkage.plots.saving import save
from linkage.plots.sheets import curves, drawing, overview, road
from linkage.plots.snails import snail
from linkage.plots.stagings import staging
from linkage.plots.sweeps import sweep_curve, sweep_front, sweep_map, sweep_picture
from linkage.plots.tunes import tuned

__all__ = [
    "air_apart",
    "before_after",
    "curves",
    "drawing",
    "effort",
    "followers",
    "footwell",
    "gain",
    "gallery",
    "hot_and_cold",
    "least_gap",
    "link_forces",
    "linkage_view",
    "lost_motion",
    "mismatch",
    "open_area",
    "overview",
    "pedal_view",
    "plate_angles",
    "progression",
    "return_torque",
    "road",
    "rocking",
    "save",
    "snail",
    "staging",
    "sweep_curve",
    "sweep_front",
    "sweep_map",
    "sweep_picture",
    "tolerance_shares",
    "transmission",
    "tuned",
    "twist",
    "underfoot",
]
