"""Groups of harmonics about 50 and 60 Hz, with and without a line between the harmonics.

The truth is made here from the lines themselves (IEC 61000-4-7, 5.5 and annex A, from memory).
"""

from functools import partial
from math import pi, sqrt

import numpy as np

from firmware_protocol import Role
from server.config import Plate
from server.motors import motor_type
from server.quantities import window_readings
from server.samples import Channel
from tests.coverage.channels import Board, channel_of, clock_of, fineness
from tests.coverage.told import Told, Truth, beside
from tests.coverage.waves import Wave, drawn_wave

_ORDERS, _HIGHEST = range(1, 51), 40


def groups(draw: np.random.Generator, number: int) -> list[Told]:
    cycles = 10 if number % 2 else 12
    hertz = 5.0 * cycles * draw.uniform(0.992, 1.008)
    fine = fineness(draw)
    clock = clock_of(draw, fine)
    truths: dict[str, Truth] = {}
    rows = ((Role.VOLTAGE, 230.0, "supply", "voltage", "v"), (Role.CURRENT, 2.0, "line", "current", "a"))
    waves, channels = list[Wave](), list[Channel]()
    for role, size, place, side, unit in rows:
        waves.append(_wave(draw, size, cycles))
        channels.append(channel_of(draw, role, place, size, fine))
        truths |= _truths(waves[-1], cycles, side, unit)
    window = Board(draw, channels, clock).window(draw, [partial(wave.at, hertz=hertz) for wave in waves])
    return beside(window_readings(window, motor_type("permanent_split_capacitor"), Plate()), truths)


def _wave(draw: np.random.Generator, size: float, cycles: int) -> Wave:
    wave = drawn_wave(draw, size, draw.uniform(-pi, pi))
    if draw.random() < 0.5:
        return wave
    line = draw.integers(cycles // 2, 20 * cycles)
    line += line % cycles == 0  # between the harmonics
    phasor = size * draw.uniform(0.0, 0.01) * np.exp(2j * pi * draw.random())
    return Wave(wave.mean, wave.phasors, ((line / cycles, complex(phasor)),))


def _truths(wave: Wave, cycles: int, side: str, unit: str) -> dict[str, Truth]:
    squares = np.zeros(52 * cycles)
    for order, size in wave.sizes.items():
        squares[order * cycles] = size**2
    for line, phasor in wave.between:
        squares[round(line * cycles)] += abs(phasor) ** 2
    half = cycles // 2
    subgroups = [sqrt(squares[h * cycles - 1 : h * cycles + 2].sum()) for h in _ORDERS]
    every = [
        squares[h * cycles - half + 1 : h * cycles + half].sum()
        + 0.5 * (squares[h * cycles - half] + squares[h * cycles + half])
        for h in _ORDERS
    ]
    between = [sqrt(squares[h * cycles + 2 : (h + 1) * cycles - 1].sum()) for h in range(50)]
    wholes = [sqrt(each) for each in every]
    return {
        f"{side}_harmonic_subgroups_{unit}": tuple(subgroups),
        f"{side}_harmonic_groups_{unit}": tuple(wholes),
        f"{side}_interharmonic_subgroups_{unit}": tuple(between),
        f"{side}_thds_percent": _distortion(subgroups),
        f"{side}_thdg_percent": _distortion(wholes),
    }


def _distortion(sizes: list[float]) -> float:
    return 100.0 * sqrt(sum(each**2 for each in sizes[1:_HIGHEST])) / sizes[0]
