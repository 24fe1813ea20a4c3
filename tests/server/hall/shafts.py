"""Edges of an ideal shaft, written down from its motion; nothing here is computed by the code under test."""

from collections.abc import Iterable, Sequence

import numpy as np

from firmware_protocol import InputKind
from server.samples import EdgeTrain, Input

TICK_HZ = 1_000_000.0
HALLS = tuple(Input(k, InputKind.HALL, f"Hall {name}", k) for k, name in enumerate("ABC"))
FORWARD_120 = (5, 1, 3, 2, 6, 4)


def pulse_input(pulses_per_turn: int | None = 1) -> tuple[Input, ...]:
    return (Input(0, InputKind.PULSE, "shaft pulse", 0, pulses_per_turn),)


def train(
    inputs: tuple[Input, ...],
    edges: Iterable[tuple[int, int]],
    *,
    before: int | None = 0,
    known_from: int = 0,
    known_to: int = 1 << 40,
    uncertain: tuple[tuple[int, int], ...] = (),
) -> EdgeTrain:
    listed = list(edges)
    return EdgeTrain(
        inputs,
        TICK_HZ,
        before,
        np.array([tick for tick, _ in listed], dtype=np.int64),
        np.array([state for _, state in listed], dtype=np.uint8),
        known_from,
        known_to,
        uncertain,
    )


def turning(
    rpm: float, pole_pairs: int, edges: int, *, start: int = 0, states: Sequence[int] = FORWARD_120, at: int = 0
) -> list[tuple[int, int]]:
    """`edges` edges at a steady speed, the first at tick `start`, entering `states[at]`; backward for rpm < 0."""
    interval = 60.0 * TICK_HZ / (6 * pole_pairs * abs(rpm))
    step = 1 if rpm > 0 else -1
    return [(start + round(k * interval), states[(at + step * k) % len(states)]) for k in range(edges)]


def pulses(times_s: Iterable[float], width_s: float = 0.002) -> list[tuple[int, int]]:
    """A rising edge at each time and a falling one `width_s` later."""
    return [(round((time_s + late) * TICK_HZ), level) for time_s in times_s for late, level in ((0.0, 1), (width_s, 0))]
