"""How a motor is used: its starts, stops and cycles with their figures, and what changes from cycle to cycle."""

from server.duty.cycle import FIGURES, Begun, Bound, Cycle, Figure, Kind
from server.duty.recognise import Duty, step, under_way

__all__ = ["FIGURES", "Begun", "Bound", "Cycle", "Duty", "Figure", "Kind", "step", "under_way"]
