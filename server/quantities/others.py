"""Channels that are neither voltage nor current, and single samples of uneven channels."""

from math import pi

import numpy as np

from firmware_protocol import Role, SampleKind
from server.quantities.layout import Layout
from server.quantities.quantity import Quantity
from server.quantities.reasons import given, joined
from server.readings import Reading, absent
from server.samples import Channel, Samples, SlowSample

OTHERS = (
    Quantity(
        *("voltage_v", "u", "voltage", "V", 2),
        *("one sample", "the board's description", "an uneven voltage channel"),
    ),
    Quantity(
        *("current_a", "i", "current", "A", 3),
        *("one sample", "the board's description", "an uneven current channel"),
    ),
    Quantity(
        *("temperature_c", "ϑ", "temperature", "°C", 1),
        *("as the channel gives it", "the board's description", "a temperature channel"),
    ),
    Quantity(
        *("tacho_speed_rpm", "n_tacho", "speed of a tachometer channel", "r/min", 0),
        *("as the channel gives it", "the board's description", "a tachometer channel"),
    ),
    Quantity(
        *("position_deg", "", "position", "°", 1),
        *("as the channel gives it", "the board's description", "a position channel"),
    ),
    Quantity(
        *("command", "", "command", "", 3),
        *("as the channel gives it, in the channel's unit", "the board's description", "a command channel"),
    ),
    Quantity(
        *("board_clock_drift_ppm", "", "drift of the board's clock against this PC's", "ppm", 1),
        *(
            "how much faster the board's clock runs than this PC's, from requests and answers",
            "ours, SPEC.md section 6",
            "answers to clock requests",
        ),
    ),
    Quantity(
        *("other", "", "other channel", "", 3),
        *("as the channel gives it, in the channel's unit", "the board's description", "another channel"),
    ),
)
_KEYS = {
    Role.VOLTAGE: "voltage_v",
    Role.CURRENT: "current_a",
    Role.TEMPERATURE: "temperature_c",
    Role.SPEED: "tacho_speed_rpm",
    Role.POSITION: "position_deg",
    Role.COMMAND: "command",
    Role.OTHER: "other",
}
_RMS_KEYS = {Role.VOLTAGE: "voltage_rms_v", Role.CURRENT: "current_rms_a"}  # the sensor took the RMS already
_TO_CATALOGUE = {"rad/s": 30.0 / pi, "1/s": 60.0, "rad": 180.0 / pi}
_KELVIN = 273.15
_CLIPPED = "clipped at the end of its range"


def slow_reading(sample: SlowSample) -> Reading:
    """One sample of an uneven channel as a reading in the catalogue's unit."""
    return _reading(sample.channel, sample.value, _CLIPPED if sample.clipped else "")


def mean_readings(window: Samples, layout: Layout) -> list[Reading]:
    """Means over the window of evenly sampled channels that are neither voltage nor current."""
    readings = []
    for k in layout.others:
        come = window.values[k][~window.missing]
        channel = window.channels[k]
        if not come.size:
            readings.append(absent(_KEYS[channel.role], "no sample of this window came", channel.place or channel.name))
            continue
        missing = window.count - come.size
        partial = f"{missing} of {window.count} samples missing" if missing else ""
        doubt = joined(_CLIPPED if window.clipped[k].any() else "", partial)
        readings.append(_reading(channel, float(np.mean(come)), doubt))
    return readings


def _reading(channel: Channel, value: float, doubt: str) -> Reading:
    """Radians, turns and kelvin are turned into the catalogue's unit; any other unit is taken as it comes."""
    key = _KEYS[channel.role]
    if channel.kind is SampleKind.RMS:
        key = _RMS_KEYS.get(channel.role, key)
    if channel.role in (Role.SPEED, Role.POSITION):
        value *= _TO_CATALOGUE.get(channel.unit, 1.0)
    if channel.role is Role.TEMPERATURE and channel.unit == "K":
        value -= _KELVIN
    return given(key, value, channel.place or channel.name, doubt)
