"""A hand's strokes and a coasting shaft: times, peaks and directions within what is told."""

from itertools import groupby

import numpy as np
import pytest

from simulator.hall_cases.motion import Way, path_deg

RATE_HZ = 10_000.0


@pytest.mark.parametrize(("way", "signs"), [("forward", {1}), ("backward", {-1}), ("back and forth", {1, -1})])
def test_strokes_last_half_a_second_and_more_and_peak_within_their_speeds(way: Way, signs: set[int]) -> None:
    speed = np.diff(path_deg(way, 60.0, RATE_HZ, (60.0, 150.0), 7, np.random.default_rng(1))) * RATE_HZ / (6 * 7)
    turning = [(sign, len(list(run))) for sign, run in groupby(np.sign(np.round(speed, 6)))]
    strokes = turning[1:-1]  # the first pause and the last stroke are cut
    assert {sign for sign, _ in turning if sign} == signs
    lasts_s = np.array([count for sign, count in strokes if sign]) / RATE_HZ
    pauses_s = np.array([count for sign, count in strokes if not sign]) / RATE_HZ
    assert np.all((lasts_s > 0.48) & (lasts_s < 0.91))
    assert np.all(pauses_s < 0.26)
    at, peaks = 0, []
    for sign, count in turning:
        peaks += [np.max(np.abs(speed[at : at + count]))] if sign and 0 < at < speed.size - count else []
        at += count
    assert 60 <= min(peaks) < 70 < 140 < max(peaks) <= 150


def test_a_coasting_shaft_slows_down_as_friction_makes_it() -> None:
    """J dw/dt = -T0 - B w: the slope falls with the speed on a straight line, until it stands."""
    speed = np.diff(path_deg("coast", 2.0, RATE_HZ, (60.0, 1200.0), 4, np.random.default_rng(3))) * RATE_HZ / (6 * 4)
    assert speed[0] == pytest.approx(1200, rel=1e-3)
    moving = speed > 5
    slope = np.diff(speed[moving])
    line = np.polyfit(speed[moving][:-1], slope, 1)
    assert slope == pytest.approx(np.polyval(line, speed[moving][:-1]), abs=1e-3 * abs(slope[0]))
    assert line[0] < 0
    assert line[1] < 0
