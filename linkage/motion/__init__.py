"""Motion: an assembled train, walked from its closing stop to its opening stop."""

from linkage.motion.assembly import Train, assemble, gains, walk
from linkage.motion.cable import CableLine, PinCable, QuadrantCable, cable_line
from linkage.motion.pedal import CrankPedal, DriverPedal, PedalLine, RatioPedal, pedal_line
from linkage.motion.snail import SnailCable
from linkage.motion.solve import Motion, solve
from linkage.motion.travel import StopPlace, TogglePlace, Travel, driver_turn, find_travel, pick_ups, stop_ends

__all__ = [
    "CableLine",
    "CrankPedal",
    "DriverPedal",
    "Motion",
    "PedalLine",
    "PinCable",
    "QuadrantCable",
    "RatioPedal",
    "SnailCable",
    "StopPlace",
    "TogglePlace",
    "Train",
    "Travel",
    "assemble",
    "cable_line",
    "driver_turn",
    "find_travel",
    "gains",
    "pedal_line",
    "pick_ups",
    "solve",
    "stop_ends",
    "walk",
]
