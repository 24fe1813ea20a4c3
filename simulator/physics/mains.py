"""Alternating supplies: one phase or three, with harmonics, flicker, a direct part, and the impedance before them.

    u(t) = (1 + m sin(2 pi f_m t)) (peak sin(phase) + sum of peak_h sin(h phase)) + u_dc

Sags, swells and interruptions are steps of `mains_v` in a story. Impedance is in series: a model adds it to its
own resistances and inductances. Three phases: L1 at `phase`, L2 120 degrees later, L3 240, or the other way round.
"""

from collections.abc import Mapping
from math import pi, radians, sin, sqrt
from typing import Any

import numpy as np

from simulator.physics.control import Control
from simulator.physics.stepping import compiled

HARMONICS = (3, 5, 7, 11, 13)
LONGEST_ARC_S = 0.02  # of a contact whose current has no zero (assumed)
MAINS = np.dtype(
    [
        ("peak_v", "f8"),  # of the fundamental, one phase to neutral
        ("rad_s", "f8"),
        ("harmonic_v", "f8", len(HARMONICS)),  # peaks
        ("distorted", "i8"),
        ("direct_v", "f8"),
        ("flicker", "f8"),  # share of the amplitude
        ("flicker_rad_s", "f8"),
        ("source_ohm", "f8"),
        ("source_h", "f8"),
        ("switching_rad", "f8"),  # phase at which the line switch closes
    ]
)

MAINS_CONTROLS = (
    Control("mains_v", 230, 0, 1000, "RMS; line to line on three phases"),
    Control("mains_hz", 50, 1, 400, "supply frequency"),
    Control("switching_angle_deg", 0, 0, 360, "angle of the voltage when the switch closes, 0 = zero rising"),
    *(Control(f"harmonic_{h}_percent", 0, 0, 100, f"harmonic of order {h} in the supply") for h in HARMONICS),
    Control("flicker_percent", 0, 0, 50, "slow swing of the supply's amplitude, to either side"),
    Control("flicker_hz", 8.8, 0.1, 40, "its frequency"),
    Control("direct_v", 0, -1000, 1000, "direct voltage on top of the alternating one"),
    Control("source_ohm", 0, 0, 1000, "resistance of the supply, each line"),
    Control("source_h", 0, 0, 10, "inductance of the supply, each line"),
)
PHASE_CONTROLS = (
    Control("phase_order", 1, -1, 1, "above 0: L1 L2 L3; below: L1 L3 L2"),
    *(Control(f"l{k}_percent", 100, 0, 200, f"voltage of line {k} to neutral, of its normal value") for k in (1, 2, 3)),
    *(Control(f"l{k}_connected", 1, 0, 1, f"line {k}; opens at the next zero of its current") for k in (1, 2, 3)),
)


def fill_mains(mains: Any, controls: Mapping[str, float], volts_per_phase: float) -> None:
    """Fill one MAINS record; `volts_per_phase` is the RMS of one phase (three phases: mains_v / sqrt 3)."""
    peak_v = sqrt(2) * volts_per_phase
    percents = np.array([controls[f"harmonic_{h}_percent"] for h in HARMONICS])
    mains["peak_v"], mains["rad_s"] = peak_v, 2 * pi * controls["mains_hz"]
    mains["harmonic_v"], mains["distorted"] = peak_v * percents / 100, np.any(percents > 0)
    mains["direct_v"] = controls["direct_v"]
    mains["flicker"], mains["flicker_rad_s"] = controls["flicker_percent"] / 100, 2 * pi * controls["flicker_hz"]
    mains["source_ohm"], mains["source_h"] = controls["source_ohm"], controls["source_h"]
    mains["switching_rad"] = radians(controls["switching_angle_deg"])


@compiled
def mains_v(mains: Any, phase_rad: float, amplitude: float) -> float:
    """Voltage at this phase; `amplitude` is 1 but for flicker (see `flickered`)."""
    u = mains.peak_v * sin(phase_rad)
    if mains.distorted:
        for k in range(len(HARMONICS)):
            u += mains.harmonic_v[k] * sin(HARMONICS[k] * phase_rad)
    return float(amplitude * u + mains.direct_v)


@compiled
def flickered(mains: Any, flicker_rad: float) -> float:
    """The amplitude over one sample: flicker is slow, so it stands still from sample to sample."""
    return float(1.0 + mains.flicker * sin(flicker_rad))
