"""Mathematics of windows: spectrum, frequency, whole cycles, symmetrical components. Pure; knows no motor."""

from server.signals.between import Mean, at, bent, curved, mean_between, slope
from server.signals.cycles import Means, Span, means, whole_cycles
from server.signals.frequency import Tone, find_tone
from server.signals.groups import Groups, groups_of, orders_in
from server.signals.half_cycles import half_cycle_rms
from server.signals.lines import chirp_lines, synchronous_lines, without_harmonics
from server.signals.noise import APART_MIN, noise_between, residual_noise
from server.signals.sequence import sequence_components
from server.signals.sharpening import SHARPENED_CYCLES_MIN, sharpened
from server.signals.spectrum import LINES_MIN, hann_mean, phasor_noise, phasor_noises, phasor_slopes, phasors, transform

__all__ = [
    "APART_MIN",
    "LINES_MIN",
    "SHARPENED_CYCLES_MIN",
    "Groups",
    "Mean",
    "Means",
    "Span",
    "Tone",
    "at",
    "bent",
    "chirp_lines",
    "curved",
    "find_tone",
    "groups_of",
    "half_cycle_rms",
    "hann_mean",
    "mean_between",
    "means",
    "noise_between",
    "orders_in",
    "phasor_noise",
    "phasor_noises",
    "phasor_slopes",
    "phasors",
    "residual_noise",
    "sequence_components",
    "sharpened",
    "slope",
    "synchronous_lines",
    "transform",
    "whole_cycles",
    "without_harmonics",
]
