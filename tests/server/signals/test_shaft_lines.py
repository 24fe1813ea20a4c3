"""Turns from lines of bars and slots: against the motion that the waves were made from."""

import numpy as np
import pytest
from numpy.typing import NDArray

from server.signals.shaft_lines import Orders, Turning, find_turning, strongest_line

N = 4000
_AT = (np.arange(N) - 0.5 * (N - 1)) / N


def made(
    turns: float, lines: dict[float, float], noise: float = 0.01, seed: int = 0, side: float = 0.0
) -> NDArray[np.float64]:
    """Lines of so many orders of the turn and amplitudes, each with a phase of its own; with `side`, twice."""
    draw = np.random.default_rng(seed)
    out = 4.0 + draw.normal(0, noise, N)
    for order, size in lines.items():
        for shift in {-side, side}:
            out += size * np.cos(2 * np.pi * (order * turns + shift) * _AT + draw.uniform(0, 6.28))
    return out


def found(values: NDArray[np.float64], orders: Orders, low: float, high: float) -> Turning | None:
    return find_turning(np.fft.rfft(values), N, orders, low, high)


def test_three_bars_and_two_poles_give_six_lines_a_turn() -> None:
    # 600 pulses of ripple a second of a motor with three bars and two poles are 6000 r/min (a maker's note on counting
    # the ripple of small brushed motors; six spikes to a turn). In 200 ms: 120 cycles, 20 turns.
    turning = found(made(20.0, {6: 0.1}), Orders(6, 3), 5.0, 30.0)
    assert turning is not None
    assert turning.line.cycles == pytest.approx(120.0, abs=0.01)
    assert turning.turns / 0.2 * 60 == pytest.approx(6000.0, abs=1.0)
    assert turning.rival is None


@pytest.mark.parametrize("seed", range(12))
def test_the_strongest_line_need_not_be_that_of_the_bars(seed: int) -> None:
    draw = np.random.default_rng(seed)
    turns = draw.uniform(8, 16)
    # A bad bar: lines at whole turns, some of them above that of the bars; and a load that pulsates twice a turn.
    lines = {12.0: 0.05, 24.0: 0.02, 1.0: 0.2, 2.0: 0.15, 3.0: 0.04, 11.0: 0.12, 13.0: 0.08, 10.0: 0.06}
    turning = found(made(turns, lines, seed=seed), Orders(12, 12), 3.0, 20.0)
    assert turning is not None
    assert turning.turns == pytest.approx(turns, rel=1e-3)
    assert abs(turning.turns - turns) < 4 * turning.standard


@pytest.mark.parametrize("turns", [11.3, 14.7])
def test_odd_bars_are_told_where_the_line_of_the_bars_alone_is_stronger(turns: float) -> None:
    turning = found(made(turns, {46: 0.02, 23: 0.1}), Orders(46, 23), 4.0, 22.0)
    assert turning is not None
    assert turning.turns == pytest.approx(turns, rel=1e-3)


def test_a_speed_that_fits_as_well_is_named() -> None:
    # Two lines, equally strong, that no turn has both of.
    turning = found(made(10.0, {12.0: 0.1, 13.37: 0.1}), Orders(12, 12), 5.0, 15.0)
    assert turning is not None
    assert turning.rival is not None
    assert sorted([turning.turns, turning.rival]) == pytest.approx([10.0, 11.142], abs=0.01)


def test_slots_of_a_cage_are_found_on_both_sides_of_their_order() -> None:
    # Four poles, 50 Hz, 28 bars, 3 % slip: 629 and 729 Hz (formula of Nandi, Toliyat and Li, IEEE Trans. Energy
    # Conversion 20 (2005), p. 719, from memory). 0.97 x 25 turns a second, 200 ms.
    values = made(24.25 * 0.2, {28: 0.01}, noise=0.003, side=10.0)
    values += 3.0 * np.cos(2 * np.pi * 10.0 * _AT) + 0.1 * np.cos(2 * np.pi * 130.0 * _AT)
    turning = found(values, Orders(28, 28, 10.0), 4.3, 5.0)
    assert turning is not None
    assert turning.turns / 0.2 == pytest.approx(24.25, abs=0.01)
    assert round(turning.line.cycles / 0.2) in (629, 729)


def test_noise_has_no_turn() -> None:
    draw = np.random.default_rng(3)
    none = [found(4 + draw.normal(0, 0.1, N), Orders(12, 12), 3.0, 20.0) is None for _ in range(100)]
    assert sum(none) >= 99


def test_what_each_says_of_itself_is_true() -> None:
    draw, inside = np.random.default_rng(6), 0
    for seed in range(200):
        turns = draw.uniform(6, 18)
        turning = found(made(turns, {12: 0.02, 24: 0.01}, seed=seed), Orders(12, 12), 3.0, 20.0)
        assert turning is not None
        inside += abs(turning.turns - turns) < 2.03 * turning.standard
    assert inside / 200 > 0.91


def test_without_bars_the_strongest_line_is_told() -> None:
    line = strongest_line(np.fft.rfft(made(10.0, {12: 0.05, 3: 0.2, 7: 0.02})), N, 40.0, 0.0)
    assert line is not None
    assert line.cycles == pytest.approx(120.0, abs=0.01)
