"""Edges lost on the wire: what is still called good is what the undamaged train says, to the last bit."""

import numpy as np
import pytest

from server.config import Plate
from server.hall import edge_readings, speed_rows
from server.readings import Confidence
from tests.server.hall.shafts import FORWARD_120, HALLS, pulse_input, train

WINDOW = 200_000  # ticks


def wandering(draw: np.random.Generator, pole_pairs: int, until_s: float = 3.0) -> list[tuple[int, int]]:
    """A shaft that speeds up, rests and turns back at random; sectors unequal by 3 %, a glitch on one edge in 100."""
    time_s, at, way = 0.0, int(draw.integers(6)), 1
    edges: list[tuple[int, int]] = []
    while time_s < until_s:
        chance = draw.random()
        if chance < 0.15:
            time_s += draw.uniform(0.0, 1.5)
        way = -way if chance > 0.85 else way
        sector_s = 10.0 / pole_pairs / 10.0 ** draw.uniform(0.5, 3.7)
        for _ in range(int(draw.integers(1, 60))):
            time_s += sector_s * draw.uniform(0.97, 1.03)
            tick, before, at = round(time_s * 1e6), at, (at + way) % 6
            glitch = [(tick + 30, before), (tick + 50, at)] if draw.random() < 0.01 else []
            edges += [(when, FORWARD_120[place]) for when, place in [(tick, at), *glitch]]
    rising = np.maximum.accumulate([tick for tick, _ in edges])
    return [edge for edge, highest in zip(edges, np.append(-1, rising[:-1]), strict=True) if edge[0] > highest]


def lost_span(draw: np.random.Generator, end_tick: int) -> tuple[int, int]:
    start = int(draw.integers(0, end_tick))
    return start, start + int(draw.choice([1_000, 5_000, 20_000, 100_000]))


@pytest.mark.parametrize("kind", ["halls", "pulses"])
@pytest.mark.parametrize("block", range(4))
def test_a_good_reading_of_a_damaged_train_is_that_of_the_whole_one(kind: str, block: int) -> None:
    draw = np.random.default_rng((7, block))
    good = 0
    for _ in range(100):
        pole_pairs = int(draw.choice([1, 2, 4, 7]))
        inputs, plate = (HALLS, Plate(pole_pairs=pole_pairs)) if kind == "halls" else (pulse_input(), Plate())
        end_tick = int(draw.integers(WINDOW, 3_000_000))
        edges = [edge for edge in wandering(draw, pole_pairs) if edge[0] < end_tick]
        if kind == "pulses":
            edges = [(tick, k % 2) for k, (tick, _) in enumerate(edges)]
        span = lost_span(draw, end_tick)
        left = [edge for edge in edges if not span[0] <= edge[0] <= span[1]]
        whole = train(inputs, edges, before=4, known_to=end_tick)
        damaged = train(inputs, left, before=4, known_to=end_tick, uncertain=(span,))
        clean = edge_readings(whole, end_tick - WINDOW, end_tick, plate)
        found = edge_readings(damaged, end_tick - WINDOW, end_tick, plate)
        for one, other, since in zip(clean.readings, found.readings, clean.first_ticks, strict=True):
            assert other == one or other.confidence is not Confidence.GOOD
            if since > span[1]:
                assert other.value == one.value
            good += other.confidence is Confidence.GOOD
        ticks = np.arange(end_tick - WINDOW + 10_000, end_tick + 1, 10_000)
        rows, kept = speed_rows(whole, ticks, plate), speed_rows(damaged, ticks, plate)
        assert ((rows == kept) | np.isnan(kept)).all()
    assert good > 15  # the comparison had something to compare
