"""Thermal equilibrium of a heat run: a body that warms up as one thermal node does, and what is no equilibrium."""

import numpy as np
import pytest

from server.duty.equilibrium import HALF_HOUR_S, Equilibrium, Point, equilibrium_of

STEP_S, TAU_S, RISE_K = 300.0, 1500.0, 60.0
DAY = [(0.0, 86_400.0)]


def warming(to_s: float, tau_s: float = TAU_S, from_s: float = 0.0) -> list[Point]:
    """One node: rise x (1 - exp(-t / tau)); above 20 °C."""
    at = np.arange(from_s, to_s, STEP_S)
    return [(float(each), 20.0 + RISE_K * (1.0 - float(np.exp(-each / tau_s)))) for each in at]


def test_it_is_reached_when_two_half_hours_changed_by_less_than_one_kelvin() -> None:
    found = equilibrium_of(warming(20_000.0), DAY)
    # The earlier of the two half hours decides: rise x exp(-(t - 1 h) / tau) x (1 - exp(-1800 / tau)) = 1 K
    exact_s = 2 * HALF_HOUR_S + TAU_S * np.log(RISE_K * (1.0 - np.exp(-HALF_HOUR_S / TAU_S)))
    assert found.since_s is not None
    assert exact_s <= found.since_s <= exact_s + STEP_S
    assert found.at_c == pytest.approx(20.0 + RISE_K, abs=1.0)
    assert all(abs(each) <= 1.0 for each in found.changes_k)


def test_what_still_warms_up_says_by_how_much() -> None:
    found = equilibrium_of(warming(6_000.0), DAY)
    assert found.since_s is None
    assert "K in two half hours: more than 1 K" in found.missing


def test_a_motor_at_rest_is_in_no_equilibrium_of_its_duty() -> None:
    level = [(float(each), 20.0) for each in np.arange(0.0, 10_000.0, STEP_S)]
    assert equilibrium_of(level, []).missing == "the motor was not on alike in two half hours in a row"
    assert equilibrium_of(level, [(0.0, 5400.0)]).since_s is not None
    half_way = equilibrium_of(level, [(1800.0, 2000.0)])
    assert half_way.since_s is None


def test_a_periodic_duty_comes_to_equilibrium_too() -> None:
    on = [(float(each), float(each) + 150.0) for each in range(0, 30_000, 600)]
    assert equilibrium_of(warming(25_000.0), on).since_s is not None


def test_an_hour_with_a_gap_is_no_hour() -> None:
    points = [each for each in warming(12_000.0) if not 7_000.0 < each[0] < 9_000.0]
    assert equilibrium_of(points, DAY).since_s is None
    assert equilibrium_of([], DAY) == Equilibrium(None, "no temperature was measured over an hour in a row")


def test_many_points_and_cycles_are_judged_at_once() -> None:
    points = [(STEP_S * k, 20.0 + k) for k in range(5000)]
    on = [(300.0 * k, 300.0 * k + 100.0) for k in range(5000)]
    assert equilibrium_of(points, on).since_s is None
