"""Noise of brushes and arcs in the current of a motor with a commutator."""

from math import inf, sqrt

from server.motors import MotorType
from server.quantities.analysis import Analysis
from server.quantities.harmonic_spread import CORNER
from server.quantities.quantity import BRUSHED, Quantity
from server.quantities.reasons import GAP, below, given
from server.quantities.uncertainty import combined
from server.readings import Reading, absent
from server.signals import noise_between

LOW_HZ, HIGH_HZ = 3000.0, 8000.0  # above order 50 of 60 Hz; below half the rate and the corner of the usual boards
COMMUTATOR = (
    Quantity(
        *("commutator_noise_a", "I_n", "commutator noise", "A", 4),
        "RMS of the motor's current from 3 to 8 kHz, lines of ripple and harmonics left out (by the median of the "
        "lines in each tenth of the band); the noise of the board itself is in it",
        *("common practice, no published source for the band", "a current channel that carries 8 kHz", BRUSHED),
    ),
)
_KEY = COMMUTATOR[0].key
_PIECES = 10
_CARRIED = 0.45  # of the sample rate: closer to its half a board's filter cuts
_SCATTERS = 1.5  # an RMS told by the middle of lines scatters by some per cent, and noise stated by a board by more


def commutator_readings(a: Analysis, motor: MotorType | None) -> list[Reading]:
    """The reading of `COMMUTATOR`, where the motor has a commutator and its current a waveform."""
    k = a.layout.main(voltage=False)
    if motor is None or not motor.has_commutator or k is None or not a.layout.rows[k].wave:
        return []
    channel = a.layout.rows[k].channel
    carried_hz = min(_CARRIED * a.rate_hz, channel.corner_high_hz or inf)
    if why_not := GAP if a.partial else a.clipped[k]:
        return [absent(_KEY, why_not)]
    if carried_hz < HIGH_HZ:
        return [absent(_KEY, f"the channel carries up to {carried_hz:.6g} Hz, and the noise is read from 3 to 8 kHz")]
    assert a.spectrum is not None
    first, end = (round(hertz * a.samples / a.rate_hz) for hertz in (LOW_HZ, HIGH_HZ))
    noise, dof = noise_between(a.spectrum[k], a.samples, first, end, _PIECES)
    own = (channel.noise_rms or channel.least) * sqrt((HIGH_HZ - LOW_HZ) / (0.5 * a.rate_hz))
    spread, ratio = a.spreads[k], 0.5 * (LOW_HZ + HIGH_HZ) / (channel.corner_high_hz or inf)
    corner = noise * (1.0 - 1.0 / sqrt(1.0 + ratio * ratio)) / sqrt(3.0)
    parts = [
        (spread.words.noise, noise / sqrt(2.0 * dof), dof),
        (spread.words.gain, spread.gain * noise, inf),
        (CORNER, corner, inf),
    ]
    sure = None if spread.why_not else combined(noise, parts, 0.0)
    return [given(_KEY, noise, "", "", below(noise, _SCATTERS * own), sure)]
