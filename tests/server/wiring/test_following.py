"""Windows cut anywhere give the same visits: what lies open at a border is kept for the next window."""

from dataclasses import fields

import numpy as np
import pytest

from server.wiring.grounds import Grounds
from tests.server.wiring.shaft import TICK_HZ, Bench, drawn, edges_of, strokes, volts_of
from tests.server.wiring.spoiled import pulses


def _same(one: Grounds, other: Grounds) -> None:
    assert one.visits.count == other.visits.count
    for field in fields(one.visits):
        a, b = (getattr(each.visits, field.name) for each in (one, other))
        np.testing.assert_allclose(a, b, rtol=1e-9, atol=1e-9, err_msg=field.name)
    np.testing.assert_array_equal(one.edges.ticks, other.edges.ticks)
    np.testing.assert_array_equal(one.edges.states, other.edges.states)


@pytest.mark.parametrize("seed", range(12))
def test_any_cut_of_a_stream_gives_the_same_visits(seed: int) -> None:
    rng = np.random.default_rng(seed)
    motor, bench = drawn(rng), Bench()
    time, angle = strokes(rng, motor.pole_pairs, 8.0)
    seconds = float(np.ceil(time[-1] / 0.2) * 0.2 + 0.2)
    edges = edges_of(motor, time, angle)
    if seed % 2:
        edges, _ = pulses(edges, 60.0, seconds, rng)
    volts = volts_of(motor, time, angle, seconds, bench.rate_hz, bench.step_v)
    end = round(seconds * TICK_HZ)
    step = round(TICK_HZ / bench.rate_hz)
    whole = bench.grounds(edges, volts, seconds, (end,))
    cuts = np.unique(rng.integers(1, end // step, 30)) * step
    _same(whole, bench.grounds(edges, volts, seconds, (*(int(cut) for cut in cuts), end)))
    _same(whole, bench.grounds(edges, volts, seconds))
