"""One pulse a turn: where it lies, which way the shaft turns, and when an edge comes within a step."""

from math import pi

import numpy as np
import pytest

from simulator.physics.index_pulse import AROUND_ZERO, FROM_ZERO, pulsed, shaft_level


@pytest.mark.parametrize(("place", "begin_rad"), [(FROM_ZERO, 0.0), (AROUND_ZERO, -pi / 2)])
def test_it_is_high_for_half_a_turn_and_again_in_every_turn(place: float, begin_rad: float) -> None:
    level = shaft_level(place)
    for turn in (-3, 0, 5):
        begin = begin_rad + 2 * pi * turn
        assert [level(None, {"angle_rad": begin + past}) for past in (1e-6, pi - 1e-6)] == [1, 1]
        assert [level(None, {"angle_rad": begin + past}) for past in (-1e-6, pi + 1e-6)] == [0, 0]


@pytest.mark.parametrize("place", [FROM_ZERO, AROUND_ZERO])
@pytest.mark.parametrize("speed_rad_s", [7.0, -7.0])
def test_its_edges_are_where_the_angle_passes_and_say_what_the_input_reads_then(
    place: float, speed_rad_s: float
) -> None:
    times, levels, edges, h = np.zeros(100), np.zeros(100, dtype=np.uint8), 0, 0.01
    angle_rad = 0.3 + speed_rad_s * h * np.arange(1001)
    for k in range(1000):
        edges = pulsed(place, angle_rad[k], angle_rad[k + 1], k * h, h, times, levels, edges)
    at_rad = 0.3 + speed_rad_s * times[:edges]
    assert edges == pytest.approx(10 * 7 / pi, abs=1)
    assert (at_rad / pi + place) == pytest.approx(np.round(at_rad / pi + place), abs=1e-9)
    level = shaft_level(place)
    after = [level(None, {"angle_rad": angle + 1e-3 * speed_rad_s}) for angle in at_rad]
    assert list(levels[:edges]) == after


def test_a_shaft_that_stands_has_no_edge() -> None:
    times, levels = np.zeros(1), np.zeros(1, dtype=np.uint8)
    assert pulsed(FROM_ZERO, pi, pi, 0.0, 1.0, times, levels, 0) == 0
