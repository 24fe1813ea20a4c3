"""Mathematics of windows: spectrum, frequency, whole cycles, symmetrical components. Pure; knows no motor."""

from server.signals.cycles import Span, mean_product, mean_squares, means, whole_cycles
from server.signals.frequency import Tone, find_tone
from server.signals.sequence import sequence_components
from server.signals.spectrum import LINES_MIN, hann_mean, phasors, transform

__all__ = [
    "LINES_MIN",
    "Span",
    "Tone",
    "find_tone",
    "hann_mean",
    "mean_product",
    "mean_squares",
    "means",
    "phasors",
    "sequence_components",
    "transform",
    "whole_cycles",
]
