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


class Player:
    """One motor that plays stories one after another, as a board has it: what one leaves behind the next one finds."""

    def __init__(self, motor: BenchMotor, seed: int = 0) -> None:
        self.motor = motor
        self._model = Motor(motor.model, motor.parameters, RATE_HZ, seed)
        draw = np.random.default_rng((seed, 101))
        self._disturbance = motor.model.disturbance and motor.model.disturbance(motor.parameters, RATE_HZ, draw)
        self._rows = [motor.model.signals.index(signal) for signal in motor.signals]

    def play(self, story: Story) -> Played:
        """Play it to its end at the rate of the bench."""
        low, high = np.full(len(self._rows), np.inf), np.full(len(self._rows), -np.inf)
        at, last_values, before = 0, np.zeros((len(self._rows), 0)), self._model.energy
        ends_s = [step.time_s for step in story.steps[1:]] + [story.duration_s]
        for number, (step, end_s) in enumerate(zip(story.steps, ends_s, strict=True)):
            self._model.set(**step.controls)
            if number == 0:
                self._model.renew()
            end = round(end_s * RATE_HZ)
            for first, last in pairwise([*range(at, end, CHUNK), end]):
                trace = self._model.advance(last - first)
                values = self._disturbance.add(trace, self._model.controls) if self._disturbance else trace.values
                values = values[self._rows]
                last_values = np.concatenate((last_values, values), axis=1)[:, -RATE_HZ // 20 :]
                low, high = np.minimum(low, values.min(axis=1)), np.maximum(high, values.max(axis=1))
                speed = float(trace.speed_rad_s[-1])
            at = max(at, end)
        after = self._model.energy
        given, lost, shaft, stored = (getattr(after, one) - getattr(before, one) for one in Energy.__slots__)
        return Played(low, high, np.abs(last_values).max(axis=1), speed, Energy(given, lost, shaft, stored))


def complaints(player: Player, story: Story) -> list[str]:
    """What is wrong with a story: a range that is left, no rest at the end, energy that does not add up."""
    found, said = player.play(story), []
    for k, channel in enumerate(player.motor.channels):
        bottom, top = (channel.scale * code + channel.offset for code in (channel.code_low, channel.code_high))
        if found.high[k] > 0.98 * top + 0.02 * bottom or found.low[k] < 0.98 * bottom + 0.02 * top:
            said.append(f"{channel.name} goes from {found.low[k]:.4g} to {found.high[k]:.4g}")
        if found.at_end[k] > 0.1:
            said.append(f"{channel.name} is {found.at_end[k]:.3g} at the end")
    if abs(found.speed_rad_s) > 0.01:
        said.append(f"it turns at the end, {found.speed_rad_s:.3g} rad/s")
    if found.energy_error > 0.005:
        said.append(f"energy is {100 * found.energy_error:.2f} % out")
    return said
