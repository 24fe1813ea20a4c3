"""The line through edge times: against numpy's own least squares, the Cramer-Rao bound, and invented sensors."""

import numpy as np
import pytest
from numpy.typing import NDArray

from server.hall.fit import TICK, corrected, fitted, offsets


def edge_times(
    n: int, places: int, step: float, late: NDArray[np.float64], noise: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Ticks of `n` edges at a steady speed, those of each place `late` by so many steps."""
    k = np.arange(n)
    return step * (k + late[k % places]) + noise


@pytest.mark.parametrize(("n", "places"), [(30, 6), (45, 42), (100, 42), (12, 1), (500, 24)])
def test_the_fit_is_that_of_a_general_least_squares_solver(n: int, places: int) -> None:
    draw = np.random.default_rng(n)
    times = edge_times(n, places, 900.0, draw.normal(0, 0.1, places), draw.normal(0, 5, n)) + 0.01 * np.arange(n) ** 2
    # One unknown for every place, one for the slope, one for the bend: columns of a table, no elimination.
    k = np.arange(n) - 0.5 * (n - 1)
    groups = (np.arange(n)[:, np.newaxis] % places == np.arange(places)).astype(float)
    line = np.linalg.lstsq(np.column_stack((groups, k)), times, rcond=None)[0][-1]
    table = np.column_stack((groups, k, k * k))
    full = np.linalg.lstsq(table, times, rcond=None)[0]
    left = times - table @ full
    scatter = np.sqrt(left @ left / (n - min(places, n) - 2))
    fit = fitted(times, places)
    assert fit is not None
    assert fit.step_ticks == pytest.approx(line, rel=1e-9)
    assert fit.growth == pytest.approx(2 * full[-1], rel=1e-6)
    covariance = np.linalg.pinv(np.column_stack((groups, k)).T @ np.column_stack((groups, k)))
    assert fit.standard == pytest.approx(max(scatter, TICK) * np.sqrt(covariance[-1, -1]), rel=1e-6)


@pytest.mark.parametrize(("turns", "at_most"), [(2, 1.2), (3, 1.1), (10, 1.03)])
def test_the_scatter_of_the_fit_is_near_the_bound_although_no_place_is_known(turns: int, at_most: float) -> None:
    # Bound: straight line through n times with independent noise s and known places, s / sqrt(n (n^2 - 1) / 12)
    # (S. M. Kay, Fundamentals of Statistical Signal Processing: Estimation Theory, straight line; from memory).
    draw, places, noise = np.random.default_rng(turns), 42, 3.0
    n = turns * places
    late = draw.normal(0, 0.05, places)
    steps, inside = [], 0
    for _ in range(1500):
        fit = fitted(edge_times(n, places, 476.19, late, draw.normal(0, noise, n)), places)
        assert fit is not None
        steps.append(fit.step_ticks)
        inside += abs(fit.step_ticks - 476.19) < 1.96 * fit.standard
    bound = noise / np.sqrt(n * (n * n - 1) / 12)
    assert 0.95 < np.std(steps) / bound < at_most
    assert np.mean(steps) == pytest.approx(476.19, abs=4 * bound / np.sqrt(1500))
    assert 0.93 < inside / 1500 < 0.97


def test_a_window_without_a_second_turn_has_no_fit() -> None:
    assert fitted(np.arange(44) * 100, 42) is None
    assert fitted(np.arange(3) * 100, 1) is None


def test_learned_places_are_the_ones_that_were_put_in_while_the_shaft_slows() -> None:
    draw, places = np.random.default_rng(5), 42
    late = draw.normal(0, 0.03, places)
    late -= late.mean()
    k = np.arange(8 * places + 1)
    position = k + np.append(np.tile(late, 8), late[0])
    times = 800.0 * position + 0.03 * position**2 + draw.normal(0, 0.5, k.size)  # 2.5 % slower at the end
    found = offsets(np.rint(times).astype(np.int64), places)
    assert found is not None
    # The last edge is that of place 0, and stands at the end.
    assert np.abs(found - np.roll(late, -1)).max() < 5 * 0.5 / np.sqrt(8) / 800


def test_two_turns_or_a_speed_that_changes_much_teach_nothing() -> None:
    assert offsets(np.arange(2 * 42 + 1) * 100, 42) is None
    k = np.arange(8 * 6 + 1)
    assert offsets((1000 * k + 8 * k * k).astype(np.int64), 6) is None


def test_edges_in_their_place_give_the_speed_of_less_than_a_turn() -> None:
    draw, places = np.random.default_rng(9), 42
    late = draw.normal(0, 0.03, places)
    plain, placed, inside = [], [], 0
    for _ in range(300):
        k = np.arange(8 * places + 25)
        times = np.rint(700.3 * (k + late[k % places]) + draw.normal(0, 1.0, k.size)).astype(np.int64)
        learned = offsets(times[: 8 * places + 1], places)
        assert learned is not None
        within = times[8 * places :]
        fit = corrected(within, np.roll(learned, 1 - within.shape[0]))
        assert fit is not None
        placed.append(fit.step_ticks)
        plain.append((within[-1] - within[0]) / (within.shape[0] - 1))
        inside += abs(fit.step_ticks - 700.3) < 2.07 * fit.standard
    assert np.std(placed) < 0.05
    assert abs(np.mean(placed) - 700.3) < 0.02
    assert abs(np.mean(plain) - 700.3) > 0.2
    assert inside / 300 > 0.92
