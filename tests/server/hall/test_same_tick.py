"""Edges with one and the same tick, as a board with a coarse clock or a burst sends them: absent, with the reason."""

from math import isfinite

import numpy as np
import pytest

from firmware_protocol import InputKind
from server.config import Plate
from server.hall.counts import from_counts
from server.hall.estimate import SAME_TICK
from server.hall.table import FORWARD
from server.quantities import shaft_readings
from server.readings import Confidence, Reading
from server.samples import CountTrain, EdgeTrain, Input

_HALLS = tuple(Input(k, InputKind.HALL, f"Hall {x}", k) for k, x in enumerate("ABC"))
_PULSES = (Input(0, InputKind.PULSE, "pulses", 0, 1),)


def _readings(ticks: list[int], pulses: bool, pole_pairs: int = 2) -> list[Reading]:
    n = len(ticks)
    states = [k % 2 for k in range(n)] if pulses else [FORWARD[120][k % 6] for k in range(n)]
    before = 1 if pulses else FORWARD[120][5]
    inputs = _PULSES if pulses else _HALLS
    train = EdgeTrain(inputs, 1e6, before, np.array(ticks, np.int64), np.array(states, np.uint8), 0, 200_000)
    return shaft_readings(train, 0, 200_000, Plate(pole_pairs=pole_pairs))


@pytest.mark.parametrize("burst", [2, 3, 7, 13, 30])
@pytest.mark.parametrize("before", [0, 1, 2, 5, 40])
@pytest.mark.parametrize("pulses", [False, True])
def test_a_burst_at_one_tick_is_no_speed_and_breaks_nothing(pulses: bool, before: int, burst: int) -> None:
    readings = _readings([4000 * k for k in range(before)] + [190_000] * burst, pulses)
    for each in readings:
        if isinstance(each.value, float):
            assert isfinite(each.value), each


def test_the_reason_says_so() -> None:
    readings = _readings([190_000] * 20, pulses=False)
    speed = next(each for each in readings if each.id == "speed_rpm")
    assert (speed.confidence, speed.reason) == (Confidence.ABSENT, SAME_TICK)


@pytest.mark.parametrize(
    ("ticks", "counts", "rpm"),
    [
        ([10_000, 10_000], [0, 30], None),
        ([10_000, 60_000, 60_000, 110_000, 160_000], [0, 20, 30, 60, 90], 600.0),
        ([10_000, 60_000, 60_000], [0, 20, 30], 600.0),
    ],
)
def test_counts_of_one_tick_are_one_word(ticks: list[int], counts: list[int], rpm: float | None) -> None:
    """30 pulses each 50 ms, 60 a turn: 600 r/min (own sum)."""
    its = Input(0, InputKind.COUNTER, "pulses", 0, 60)
    words = CountTrain(its, 1e6, np.array(ticks), np.array(counts), (0, ticks[-1]))
    told = from_counts(words, 0, 200_000, 5.0)
    assert told.rpm == (None if rpm is None else pytest.approx(rpm))
