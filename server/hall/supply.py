"""The supply of Hall sensors, where a board measures it: below what they need, their signals may be false. Pure."""

import numpy as np

from firmware_protocol import Role
from server.readings import Reading, doubtful
from server.samples import Channel, Samples

SENSOR_SUPPLY = "sensor supply"  # the place of channels that measure what feeds the Hall sensors
RATED_V = 5.0  # of most sensors, where nobody says another (common practice, no published source)
SHARE = 0.1  # of the rated voltage: sensors are trusted this far below it (common practice, no published source)
_OLD_S = 5.0  # a channel of a few samples a second that was silent for so long tells nothing of now


def least_v(rated_v: float | None = None) -> float:
    """The lowest supply, V, at which sensors for `rated_v` are trusted."""
    return (1.0 - SHARE) * (rated_v or RATED_V)


def is_sensor_voltage(channel: Channel) -> bool:
    """Whether it measures the voltage that feeds the sensors."""
    return channel.role is Role.VOLTAGE and channel.place == SENSOR_SUPPLY


class SensorSupply:
    """The newest voltage of the sensors' supply, whichever way it comes."""

    def __init__(self) -> None:
        self._volts, self._tick = 0.0, -1

    def take(self, samples: Samples) -> None:
        """One window of evenly sampled channels: the mean counts."""
        for channel, row in zip(samples.channels, samples.values, strict=True):
            if is_sensor_voltage(channel) and np.isfinite(row).any():
                self._volts, self._tick = float(np.nanmean(row)), samples.end_tick

    def take_single(self, channel: Channel, tick: int, volts: float) -> None:
        """One sample of an uneven channel."""
        if is_sensor_voltage(channel):
            self._volts, self._tick = volts, tick

    def marked(self, readings: list[Reading], tick: int, tick_hz: float) -> list[Reading]:
        """Readings that stand on the sensors' signals, doubtful where their supply is too low."""
        if self._tick < 0 or tick - self._tick > _OLD_S * tick_hz or self._volts >= least_v():
            return readings
        reason = f"the supply of the Hall sensors is too low: {self._volts:.2f} V, and 5 V sensors need {least_v():g} V"
        return [doubtful(each, reason) for each in readings]
