"""The angle that sensors put between voltage and current, on a load that has none of its own. Pure.

A resistor's current follows its voltage at once, but for the resistor's inductance: the current lags by
atan(2 pi f L / R). What is seen beside that is the sensors', and is taken as a delay of the
current's channel against the voltage's. It is right at the frequency at which it was found; clamps turn other
frequencies, and other currents, by other angles. Other frequencies count (quantities/beside.py), other currents do not.
"""

from cmath import phase
from dataclasses import dataclass
from math import atan, cos, degrees, inf, pi, radians, sqrt

import numpy as np

from firmware_protocol import Role, SampleKind
from server.calibration.entry import What
from server.calibration.found import Found, Side, UnfitError, called, known, of_part, u95
from server.calibration.gain import RANGE_SHARE_MIN
from server.calibration.stretch import PIECES, Stretch
from server.calibration.zero import settled
from server.quantities.uncertainty import Standard
from server.samples import Channel

_ANGLE_MAX_DEG = 30.0  # no sensor turns by more: the load is no resistor
_TURNED_MIN_DEG = 150.0
_MORE_DISTORTED_MAX = 0.05  # than the voltage: a resistor's current has the voltage's shape
_DISTORTION_MAX = 0.15
_SCATTER_MAX_DEG = 0.5


@dataclass(frozen=True, slots=True)
class Load:
    """A kind of resistor: its inductance over its resistance is between 0 and `tau_max_s`."""

    key: str
    words: str
    tau_max_s: float


LOADS = (  # orders of magnitude of common parts: common practice, no published source
    Load("heater", "a heater, kettle or filament lamp", 5e-6),
    Load("film", "a film or carbon resistor", 2e-7),
    Load("wire", "a wire-wound resistor", 2e-5),
)


def find_angle(voltage: Channel, current: Channel, stretch: Stretch, load: Load) -> Found:
    """How much more the current's delay is than what holds now. Raises UnfitError.

    Uncertainty: scatter of the pieces (JCGM 100, 4.2.3) and the load's inductance, anywhere from none to the most that
    its kind has (4.3.7: the middle is taken).
    """
    volts, amps = _rows(voltage, current, stretch)
    of_volts, of_amps = stretch.seen(volts), stretch.seen(amps, volts)
    if of_volts.hertz is None or of_volts.phasors is None or of_amps.phasors is None:
        raise UnfitError(f"{called(voltage)} has no steady fundamental; an angle needs alternating voltage")
    for channel, phasors in ((voltage, of_volts.phasors), (current, of_amps.phasors)):
        size, span = float(np.abs(phasors[:, 0]).mean()), max(abs(channel.low), abs(channel.high))
        if sqrt(2.0) * size < RANGE_SHARE_MIN * span:
            least = RANGE_SHARE_MIN * span / sqrt(2.0)
            raise UnfitError(
                f"{called(channel)} is {size:.3g} {channel.unit}; take at least {least:.2g} {channel.unit}, "
                "since an angle of less is mostly noise, and clamps turn small currents further"
            )
    if of_volts.distortion > _DISTORTION_MAX:
        raise UnfitError(f"{called(voltage)} is no sine: its harmonics are {100 * of_volts.distortion:.0f} % of it")
    if of_amps.distortion > of_volts.distortion + _MORE_DISTORTED_MAX:
        raise UnfitError(
            f"the harmonics of {called(current)} are {100 * of_amps.distortion:.0f} % of it and those of "
            f"{called(voltage)} {100 * of_volts.distortion:.0f} %: that load is no resistor"
        )
    hertz = float(of_volts.hertz.mean())
    turned = 2j * pi * hertz * (current.delay_s - voltage.delay_s)
    ratios = of_amps.phasors[:, 0] / of_volts.phasors[:, 0] * np.exp(turned)
    middle = complex(ratios.mean())
    lead_deg = degrees(phase(middle))
    scatter_deg = float(np.degrees(np.angle(ratios / middle)).std(ddof=1))
    _resistive(voltage, current, lead_deg, scatter_deg)
    omega = 2.0 * pi * hertz
    lag_rad = atan(omega * load.tau_max_s / 2.0)
    change_s = -(radians(lead_deg) + lag_rad) / omega
    inductance_rad = omega * load.tau_max_s / 2.0 * cos(lag_rad) ** 2
    parts: list[Standard] = [("scatter over three seconds", radians(scatter_deg) / sqrt(PIECES) / omega, PIECES - 1.0)]
    parts.append((f"inductance of {load.words}", inductance_rad / sqrt(3.0) / omega, inf))
    to_deg = degrees(omega)
    before = known(of_part(voltage.delay_error, to_deg, "delay"), of_part(current.delay_error, to_deg, "delay"))
    after = u95([(words, standard * to_deg, dof) for words, standard, dof in parts])
    wanted = Side(-degrees(lag_rad), u95([(parts[1][0], parts[1][1] * to_deg, inf)]))
    return Found(What.ANGLE, change_s, parts, Side(lead_deg, before), Side(-degrees(lag_rad), after), wanted, hertz)


def _rows(voltage: Channel, current: Channel, stretch: Stretch) -> tuple[int, int]:
    if voltage.role is not Role.VOLTAGE or current.role is not Role.CURRENT:
        raise UnfitError("an angle is found between a voltage and a current channel")
    if voltage.group != current.group:
        raise UnfitError(f"{called(voltage)} and {called(current)} are not sampled together: their angle is not known")
    for channel in (voltage, current):
        if channel.kind is not SampleKind.INSTANTANEOUS:
            raise UnfitError(f"{called(channel)} sends no instantaneous values: it has no angle")
    return settled(voltage, stretch), settled(current, stretch)


def _resistive(voltage: Channel, current: Channel, lead_deg: float, scatter_deg: float) -> None:
    if scatter_deg > _SCATTER_MAX_DEG:
        raise UnfitError(f"the angle was not steady: it varied by {scatter_deg:.2g}°; wait until it is, then try again")
    if abs(lead_deg) > _TURNED_MIN_DEG:
        raise UnfitError(f"{called(current)} stands against {called(voltage)}: is the current sensor turned round?")
    if abs(lead_deg) > _ANGLE_MAX_DEG:
        word = "leads" if lead_deg > 0 else "lags"
        raise UnfitError(
            f"{called(current)} {word} {called(voltage)} by {abs(lead_deg):.0f}°: that load is no resistor, or the two "
            "belong to different phases"
        )
