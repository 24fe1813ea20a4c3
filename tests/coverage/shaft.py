"""Speeds from edges that sit and scatter as the budgets say, of a shaft at a steady speed or one that changes a little.

Hall sensors sit up to 15 electrical degrees off, the poles of a magnet scatter by 0.6, an edge by 0.1 mechanical; the
places of a pulse wheel are anywhere within a tenth of a step. The truth is the motion that the edges were made from.
"""

from math import exp, log, pi

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import InputKind
from server.config import Plate
from server.hall.estimate import SINCE_LAST
from server.quantities import shaft_readings
from server.readings import Reading
from server.samples import EdgeTrain, Input
from tests.coverage.channels import Clock, clock_of
from tests.coverage.told import Told

TICK_HZ, BEGIN_S, END_S = 1_000_000.0, 2.8, 3.0  # of the window, by the board; edges go back to 0
MIDDLE_S = 0.5 * (BEGIN_S + END_S)
_HALLS = tuple(Input(k, InputKind.HALL, f"Hall {name}", k) for k, name in enumerate("ABC"))
_FORWARD = (5, 1, 3, 2, 6, 4)  # states of the 120-degree table in their order
_SENSOR_DEG, _MAGNET_DEG, SCATTER_DEG, _PULSE_SHARE = 15.0, 0.6, 0.1, 0.1
_STRETCHES = {"one period": 1, "electrical turn": 6, "one electrical turn": 6}
_TURNS = ("mechanical turn", "one mechanical turn")


class Motion:
    """Of constant acceleration, by true time: `speed` in turns a second at MIDDLE_S, `growth` of it in a second."""

    def __init__(self, speed: float, growth: float) -> None:
        self.growth, self._start = growth, speed - growth * MIDDLE_S

    def speed(self, at_s: float) -> float:
        return self._start + self.growth * at_s

    def times(self, turns: NDArray[np.float64]) -> NDArray[np.float64]:
        """When it has turned so far."""
        found: NDArray[np.float64] = 2.0 * turns / (self._start + np.sqrt(self._start**2 + 2.0 * self.growth * turns))
        return found


class Edges:
    """True times of the edges, as `places` of a turn and scatter have them, and the ticks that the board tells."""

    def __init__(
        self, draw: np.random.Generator, motion: Motion, places: NDArray[np.float64], clock: Clock, scatter_deg: float
    ) -> None:
        self.motion, self.per_turn = motion, places.shape[0]
        k = np.arange(int(motion.speed(MIDDLE_S) * END_S * self.per_turn * 1.2) + 1)
        off = places[k % self.per_turn] + draw.normal(0.0, scatter_deg / 360.0, k.shape[0])
        true_s = motion.times(np.maximum((k + draw.uniform(1.0, 2.0)) / self.per_turn + off, 0.0))
        ticks = np.rint(true_s / (1.0 + clock.slow) * TICK_HZ).astype(np.int64)
        self.ticks = ticks[ticks <= END_S * TICK_HZ]

    def truth(self, words: str) -> float:
        """Turns a second, mean over the stretch that these words name."""
        steps = self.per_turn if words in _TURNS else _STRETCHES.get(words)
        if words == "last two pulses":
            steps = 1
        if words == "whole pulses":
            return self.motion.speed(MIDDLE_S)
        if steps is None:
            inside = self.ticks[self.ticks >= BEGIN_S * TICK_HZ]
            return self.motion.speed(0.5 * float(inside[0] + inside[-1]) / TICK_HZ)
        return self.motion.speed(0.5 * float(self.ticks[-1] + self.ticks[-1 - steps]) / TICK_HZ)


def shaft(draw: np.random.Generator, number: int) -> list[Told]:
    """Hall sensors of 1 to 7 pole pairs and pulse sensors in turn; half of the motions steady."""
    speed = exp(draw.uniform(log(100.0), log(6000.0))) / 60.0
    motion = Motion(speed, speed * draw.uniform(-0.1, 0.1) if draw.random() < 0.5 else 0.0)
    clock = clock_of(draw, 1.0)
    if number % 2:
        pairs = int(draw.choice((1, 2, 4, 7)))
        edges = Edges(draw, motion, hall_places(draw, pairs), clock, SCATTER_DEG)
        states = np.array(_FORWARD, dtype=np.uint8)[np.arange(edges.ticks.shape[0]) % 6]
        train = _train(_HALLS, _FORWARD[-1], edges.ticks, states, clock)
        return _told(edges, train, Plate(pole_pairs=pairs), f"Hall, {'one pair' if pairs == 1 else 'pairs'}")
    per_turn = int(draw.choice((1, 2, 6, 24)))
    edges = Edges(draw, motion, pulse_places(draw, per_turn), clock, SCATTER_DEG)
    return _told(edges, pulse_train(edges, per_turn, clock), Plate(), "pulses")


def hall_places(draw: np.random.Generator, pairs: int) -> NDArray[np.float64]:
    """By how much each of the edges of a turn is off, in turns."""
    k = np.arange(6 * pairs)
    sensors, poles = draw.uniform(-_SENSOR_DEG, _SENSOR_DEG, 3), draw.normal(0.0, _MAGNET_DEG, 2 * pairs)
    off: NDArray[np.float64] = (sensors[k % 3] + poles[k // 3]) / (360.0 * pairs)
    return off


def pulse_places(draw: np.random.Generator, per_turn: int) -> NDArray[np.float64]:
    return draw.uniform(-_PULSE_SHARE, _PULSE_SHARE, per_turn) / per_turn


def pulse_train(edges: Edges, per_turn: int, clock: Clock) -> EdgeTrain:
    """Each pulse ends after a third of its time."""
    falls = edges.ticks[:-1] + np.diff(edges.ticks) // 3
    ticks = np.sort(np.concatenate((edges.ticks, falls)))
    states = (np.arange(ticks.shape[0]) + 1) % 2
    source = (Input(0, InputKind.PULSE, "shaft pulse", 0, per_turn),)
    return _train(source, 0, ticks, states.astype(np.uint8), clock)


def _train(
    inputs: tuple[Input, ...], before: int, ticks: NDArray[np.int64], states: NDArray[np.uint8], clock: Clock
) -> EdgeTrain:
    return EdgeTrain(inputs, TICK_HZ, before, ticks, states, 0, round(END_S * TICK_HZ), clock=clock.part)


def speeds(train: EdgeTrain, plate: Plate) -> list[Reading]:
    return shaft_readings(train, round(BEGIN_S * TICK_HZ), round(END_S * TICK_HZ), plate)


def _told(edges: Edges, train: EdgeTrain, plate: Plate, by: str) -> list[Told]:
    readings = speeds(train, plate)
    source = next(str(each.value) for each in readings if each.key == "speed_source")
    told = []
    for each in readings:
        if each.key in ("speed_rpm", "electrical_frequency_hz") and source != SINCE_LAST:
            scale = 60.0 if each.key == "speed_rpm" else float(plate.pole_pairs or 1)
            told.append(Told(f"{each.key}, {source}, {by}", each, scale * edges.truth(source)))
        elif each.key == "edge_speed_rpm" and each.value is not None:
            told.append(Told(f"{each.key}, {each.place}, {by}", each, 60.0 * edges.truth(each.place)))
        elif each.key == "angular_acceleration_rad_s2":
            told.append(Told(f"{each.key}, {by}", each, 2.0 * pi * edges.motion.growth))
    return told
