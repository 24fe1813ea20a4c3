"""Random measurements of alternating current whose truth is known: waves of a few orders, seen by channels that err
within what they state.

The truth is computed from the orders themselves, by the definitions, and not by the service.
"""

from dataclasses import dataclass
from functools import partial
from math import exp, pi

import numpy as np

from firmware_protocol import Role
from server.samples import Samples
from tests.coverage.channels import Board, Clock, channel_of, clock_of, fineness
from tests.coverage.truths import angles, single, three
from tests.coverage.waves import Wave, drawn_wave

MAINS_HZ = (45.0, 66.0)
LINES = ("L1", "L2", "L3")


@dataclass(frozen=True, slots=True)
class Case:
    """A window as the service gets it, what is true of it by reading id (`lists`: of orders 1 to 50), and its board's
    clock and true frequency."""

    window: Samples
    truth: dict[str, float]
    lists: dict[str, tuple[float, ...]]
    clock: Clock
    hertz: float


def case(draw: np.random.Generator, three_phase: bool, between: tuple[float, float] = MAINS_HZ) -> Case:
    """One measurement: of a frequency between these, up to 15 % of each harmonic, 40 to 80 dB of the fundamental above
    the noise."""
    hertz = draw.uniform(*between)
    places = LINES if three_phase else ("supply",)
    lines = places if three_phase else ("line",)
    volts, amps = draw.uniform(20.0, 300.0), exp(draw.uniform(-1.5, 2.0))
    angle = draw.uniform(-1.5, 1.5) if draw.random() < 0.8 else draw.normal(0.0, 0.02)
    fine = fineness(draw)
    waves, channels = list[Wave](), []
    for role, size, turned, names in ((Role.VOLTAGE, volts, 0.0, places), (Role.CURRENT, amps, -angle, lines)):
        for n, place in enumerate(names):
            uneven = 1.0 + (draw.normal(0.0, 0.05) if three_phase else 0.0)
            waves.append(drawn_wave(draw, size * uneven, turned - n * 2 * pi / 3))
            channels.append(channel_of(draw, role, place, size, fine))
    clock = clock_of(draw, fine)
    window = Board(draw, channels, clock).window(draw, [partial(wave.at, hertz=hertz) for wave in waves])
    volts_waves, amps_waves = waves[: len(places)], waves[len(places) :]
    truth = three(volts_waves, amps_waves) if three_phase else single(volts_waves[0], amps_waves[0], "")
    truth |= angles(volts_waves, "voltage", volts_waves[0]) | angles(amps_waves, "current", volts_waves[0])
    lists = {"current_harmonics_a": _orders(amps_waves[0]), "voltage_harmonics_v": _orders(volts_waves[0])}
    return Case(window, truth | {"frequency_hz": hertz}, lists, clock, hertz)


def _orders(wave: Wave) -> tuple[float, ...]:
    return tuple(wave.sizes.get(order, 0.0) for order in range(1, 51))
