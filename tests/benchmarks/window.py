"""Goals 3a to 3c: the readings of one 200 ms window against the bare transform of the same samples."""

from dataclasses import replace

import numpy as np

from firmware_protocol import Role
from server.config import Plate
from server.motors import MotorType, motor_type
from server.quantities import window_readings
from server.samples import Channel, Part, Samples
from tests.benchmarks.pairs import Row, cpu_ratio

_RATE_HZ, _TICK_HZ, _COUNT = 20_000.0, 1_000_000.0, 4000
_PLACES = ("L1", "L2", "L3", "shop")


def reference_window() -> Samples:
    """Four voltages and four currents of 50.03 Hz with odd harmonics and a little noise, every channel in use."""
    draw, turns = np.random.default_rng(1), np.arange(_COUNT) * 50.03 / _RATE_HZ
    channels: list[Channel] = []
    rows = []
    for role, unit, high, size in ((Role.VOLTAGE, "V", 700.0, 325.0), (Role.CURRENT, "A", 20.0, 5.0)):
        for k, place in enumerate(_PLACES):
            angle = 2 * np.pi * (turns - k / 3)
            rows.append(size * (np.sin(angle - 0.4) + 0.1 * np.sin(3 * angle) + 0.04 * np.sin(5 * angle)))
            name, index = f"{unit} {place}", len(channels)
            channels.append(Channel(index, role, name, place, unit, -high, high, 0, _RATE_HZ, noise_rms=high / 20_000))
    values = np.vstack(rows) + draw.normal(0.0, 1e-3, (8, _COUNT))
    whole = np.zeros(values.shape, dtype=np.bool_)
    return Samples(tuple(channels), 0, 0, _TICK_HZ / _RATE_HZ, _TICK_HZ, values, whole[0], whole)


def stated(samples: Samples) -> Samples:
    """The same from a board that states what its channels may be off by, so that all uncertainties are computed."""
    parts = Part(1e-3), Part(1e-3), Part(1e-6), Part(1e-5)
    return replace(samples, channels=tuple(_limited(each, *parts) for each in samples.channels))


def _limited(channel: Channel, gain: Part, offset: Part, delay: Part, clock: Part) -> Channel:
    step = channel.high / 32_000
    return replace(channel, gain=gain, offset_error=offset, delay_error=delay, clock=clock, step=step)


def measure(pairs: int) -> list[Row]:
    """Three rows: `window_readings`, creation of its readings included, over `numpy.fft.rfft`. The mean of five windows
    in a row, for some readings are made of one in five."""
    plain, sure, motor = reference_window(), stated(reference_window()), motor_type("three_phase_induction")
    return [
        _row("3a", "readings of one 200 ms window", plain, None, 8.0, pairs),
        _row("3b", "with the motor's own", plain, motor, 12.0, pairs),
        _row("3c", "with the uncertainty of all", sure, motor, 20.0, pairs),
    ]


def _row(goal: str, what: str, first: Samples, motor: MotorType | None, at_most: float, pairs: int) -> Row:
    plate = Plate(pole_pairs=2, rotor_slots=28)
    windows = [replace(first, first_sample=_COUNT * number) for number in range(5)]
    readings = len(window_readings(first, motor, plate))

    def read() -> None:
        for window in windows:
            window_readings(window, motor, plate)

    def bare() -> None:
        for window in windows:
            np.fft.rfft(window.values)

    ratio = cpu_ratio(read, bare, pairs)
    return Row(goal, f"{what} ({readings} readings)", ratio, at_most, "bare rfft of (8, 4000)")
