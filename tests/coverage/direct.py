"""Direct current with and without ripple: levels, power, energy and charge, winding and constants of the motor."""

from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.config import Plate
from server.motors import motor_type
from server.quantities import Energy, Stretch, energy_of, window_readings
from server.readings import Reading
from tests.coverage.channels import RATE_HZ, SAMPLES, Board, channel_of, clock_of, fineness
from tests.coverage.told import Told, Truth, beside

_MOTOR = motor_type("permanent_magnet_dc")
_WINDOWS_MAX, _HOUR_S, _WINDOW_S = 6, 3600.0, SAMPLES / RATE_HZ


class _Level:
    """A mean with the ripple of a commutator: two lines, whose phases go on through all windows."""

    def __init__(self, draw: np.random.Generator, mean: float) -> None:
        ripple = abs(mean) * draw.uniform(0.0, 0.1) * (draw.random() < 0.5)
        self.mean, self.hertz = mean, draw.uniform(150.0, 900.0)
        self.lines = [(k, ripple * share, draw.uniform(0.0, 2.0 * pi)) for k, share in ((1, 1.0), (2, 0.3))]

    def at(self, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
        waves = [size * np.sin(2.0 * pi * k * self.hertz * times_s + angle) for k, size, angle in self.lines]
        values: NDArray[np.float64] = self.mean + np.sum(waves, axis=0)
        return values


def direct(draw: np.random.Generator, _: int) -> list[Told]:
    """Running from a link of 12 to 60 V: levels, power, and the sums of some windows."""
    volts, amps = draw.uniform(12.0, 60.0), draw.uniform(0.5, 10.0)
    board = _board(draw, volts, amps)
    levels = _Level(draw, volts if draw.random() < 0.5 else -volts), _Level(draw, amps)
    so_far, readings = Energy(word="resting"), list[Reading]()
    energy = charge = 0.0
    told: list[Told] = []
    for n in range(int(draw.integers(1, _WINDOWS_MAX + 1))):
        times_s = n * _WINDOW_S * (1.0 + board.clock.slow) + board.clock.seconds
        u, i = (level.at(times_s) for level in levels)
        window = board.window(draw, [level.at for level in levels], n * _WINDOW_S * (1.0 + board.clock.slow))
        readings = window_readings(window, _MOTOR, Plate())
        so_far, sums = energy_of(
            so_far, readings, ("running",), Stretch(0.0, _WINDOW_S, _WINDOW_S, board.clock.part.standard)
        )
        true_h = _WINDOW_S * (1.0 + board.clock.slow) / _HOUR_S
        energy, charge = energy + float((u * i).mean()) * true_h, charge + float(i.mean()) * true_h
        told = [*beside(readings, _truths(u, i)), *beside(sums, {"energy_wh": energy, "charge_ah": charge})]
    return told


def _board(draw: np.random.Generator, volts: float, amps: float) -> Board:
    fine = fineness(draw)
    clock = clock_of(draw, fine)
    rows = ((Role.VOLTAGE, volts), (Role.CURRENT, amps))
    return Board(draw, [channel_of(draw, role, "motor", size, fine) for role, size in rows], clock)


def _truths(u: NDArray[np.float64], i: NDArray[np.float64]) -> dict[str, Truth]:
    found: dict[str, Truth] = {"active_power_w": float((u * i).mean())}
    for values, name, unit in ((u, "voltage", "v"), (i, "current", "a")):
        rms, peak = sqrt(float((values * values).mean())), float(np.abs(values).max())
        found |= {f"{name}_rms_{unit}": rms, f"{name}_mean_{unit}": float(values.mean())}
        found |= {f"{name}_peak_{unit}": peak, f"{name}_crest_factor": max(peak / rms, 1.0)}
    return found
