"""Board ticks to UTC: two bounds, nothing else."""

from math import inf
from random import Random

import pytest

from firmware_protocol import ClockReply
from server.readings import Confidence
from server.stream.clock import Clock, drift_instant, heard, replied

START_S = 1.8e9


def reply(board: float, asked_s: float, hz: float = 1e6) -> ClockReply:
    """The board answers at once, at board time `board`."""
    return ClockReply(round(asked_s * 1e6), round(board * hz), round(board * hz))


def test_without_an_answer_there_is_no_uncertainty_to_tell() -> None:
    clock = heard(Clock(1e6), 1_000_000, START_S + 1.004)
    assert clock.uncertainty_s is None
    assert clock.drift_ppm is None
    assert clock.utc_s(1.0) == pytest.approx(START_S + 1.004)


def test_an_answer_bounds_the_time_by_half_its_way() -> None:
    clock = replied(Clock(1e6), reply(1.0, START_S + 0.999), START_S + 1.003)
    assert clock.uncertainty_s == pytest.approx(0.002, abs=1e-6)
    assert clock.utc_s(1.0) == pytest.approx(START_S + 1.001, abs=1e-6)


def test_a_later_arrival_narrows_from_above_and_time_widens_by_the_tolerance() -> None:
    clock = replied(Clock(1e6, 50e-6), reply(1.0, START_S + 0.999), START_S + 1.003)
    clock = heard(clock, 3_000_000, START_S + 3.001)
    assert clock.uncertainty_s == pytest.approx((0.001 + 0.001 + 2 * 50e-6) / 2, abs=1e-6)


def test_an_arrival_that_tells_nothing_new_changes_nothing() -> None:
    clock = replied(Clock(1e6), reply(1.0, START_S + 0.999), START_S + 1.003)
    assert heard(clock, 1_500_000, START_S + 1.6) is clock
    assert heard(clock, 900_000, START_S + 0.9) is clock


def test_the_true_time_is_always_within_the_uncertainty() -> None:
    for seed in range(20):
        draw = Random(seed)
        rate = 1 + draw.uniform(-90e-6, 90e-6)  # board seconds in a true one
        clock, true_s = Clock(1e6, 100e-6), 0.0
        for _ in range(200):
            true_s += draw.uniform(0.05, 3.0)
            way, back = draw.expovariate(500), draw.expovariate(500)
            if draw.random() < 0.3:
                clock = replied(clock, reply((true_s + way) * rate, START_S + true_s), START_S + true_s + way + back)
            else:
                clock = heard(clock, round(true_s * rate * 1e6), START_S + true_s + back)
            if clock.uncertainty_s is not None:
                error = clock.utc_s(clock.board_s) - START_S - clock.board_s / rate
                assert abs(error) <= clock.uncertainty_s + 2e-6


def test_drift_is_told_when_it_is_known_well_enough_and_is_right() -> None:
    clock = Clock(1e6, 100e-6)
    confidences = []
    for k in range(400):
        asked_s = 1.0 + 2.0 * k
        answer = reply((asked_s + 0.001) * (1 + 40e-6), START_S + asked_s)
        clock = replied(clock, answer, START_S + asked_s + 0.002)
        (reading,) = drift_instant(clock, answer).readings
        confidences.append(reading.confidence)
    assert clock.drift_ppm == pytest.approx(40.0, abs=3.0)
    assert confidences[0] is Confidence.ABSENT
    assert Confidence.DOUBTFUL in confidences
    assert confidences[-1] is Confidence.GOOD


def test_a_clock_that_stepped_begins_anew() -> None:
    clock = replied(Clock(1e6), reply(1.0, START_S + 0.999), START_S + 1.003)
    clock = replied(clock, reply(2.0, START_S + 3601.999), START_S + 3602.003)
    assert clock.utc_s(2.0) == pytest.approx(START_S + 3602.001, abs=1e-6)
    assert clock.first == clock.last


def test_an_answer_that_contradicts_itself_is_passed_over() -> None:
    clock = Clock(1e6)
    assert replied(clock, reply(1.0, START_S), START_S - 1) is clock


def test_bytes_whose_arrival_is_not_known_give_no_time_at_all() -> None:
    clock = replied(heard(Clock(1e6), 500_000, inf), reply(1.0, START_S), inf)
    assert clock.uncertainty_s == inf
    assert clock.drift_ppm is None
