"""One story played by the model alone, without a board: what its channels saw, and where the energy went."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.bench import RATE_HZ, BenchMotor
from simulator.motors.motor import Energy, Motor
from simulator.stories import Story

CHUNK = RATE_HZ // 2


@dataclass(frozen=True)
class Played:
    """A whole story: (channels,) lowest, highest, and the largest of its last 50 ms; the last speed; the energy."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    at_end: NDArray[np.float64]
    speed_rad_s: float
    energy: Energy

    @property
    def energy_error(self) -> float:
        """What does not add up, as a share of all that went in or out."""
        e = self.energy
        return abs(e.input - e.lost - e.shaft - e.stored) / max(abs(e.input), abs(e.lost) + abs(e.shaft), 1e-3)


def played(motor: BenchMotor, story: Story, seed: int = 0) -> Played:
    """Play it to its end at the rate of the bench."""
    model = Motor(motor.model, motor.parameters, RATE_HZ, seed)
    rows = [motor.model.signals.index(signal) for signal in motor.signals]
    low, high = np.full(len(rows), np.inf), np.full(len(rows), -np.inf)
    at, values = 0, np.zeros((len(rows), 0))
    ends_s = [step.time_s for step in story.steps[1:]] + [story.duration_s]
    for step, end_s in zip(story.steps, ends_s, strict=True):
        model.set(**step.controls)
        end = round(end_s * RATE_HZ)
        for first, last in pairwise([*range(at, end, CHUNK), end]):
            trace = model.advance(last - first)
            values = np.concatenate((values, trace.values[rows]), axis=1)[:, -max(RATE_HZ // 20, last - first) :]
            low = np.minimum(low, values.min(axis=1))
            high = np.maximum(high, values.max(axis=1))
            speed = float(trace.speed_rad_s[-1])
        at = max(at, end)
    return Played(low, high, np.abs(values[:, -RATE_HZ // 20 :]).max(axis=1), speed, model.energy)


def complaints(motor: BenchMotor, story: Story, seed: int = 0) -> list[str]:
    """What is wrong with a story: a range that is left, no rest at the end, energy that does not add up."""
    found, said = played(motor, story, seed), []
    for k, channel in enumerate(motor.channels):
        bottom, top = (channel.scale * code + channel.offset for code in (channel.code_low, channel.code_high))
        if found.high[k] > 0.98 * top + 0.02 * bottom or found.low[k] < 0.98 * bottom + 0.02 * top:
            said.append(f"{channel.name} goes from {found.low[k]:.4g} to {found.high[k]:.4g}")
        if found.at_end[k] > 0.1:
            said.append(f"{channel.name} is {found.at_end[k]:.3g} at the end")
    if abs(found.speed_rad_s) > 0.01:
        said.append(f"it turns at the end, {found.speed_rad_s:.3g} rad/s")
    if found.energy_error > ENERGY_MAX.get((motor.key, story.name), 0.005):
        said.append(f"energy is {100 * found.energy_error:.2f} % out")
    return said


# Diodes that fight a wrong wiring: 3 %.
ENERGY_MAX: dict[tuple[str, str], float] = {}
