"""Phasors of wirings made by hand: what is right is never called wrong, single mistakes are found at any angle."""

from cmath import rect
from itertools import permutations
from math import radians

import pytest

from server.connection.sums import ADDS_UP, sum_of
from server.connection.wirings import Wiring, angles_deg, fitting, gives_back

INDUCTION = (-10.0, 95.0)
LAGS = range(0, 90, 5)


def phasor(deg: float, size: float = 1.0) -> complex:
    return rect(size, radians(deg))


def machine(lag_deg: float, order: int) -> tuple[tuple[complex, ...], tuple[complex, ...]]:
    """Voltages and currents of a balanced machine; order -1 turns the other way."""
    volts = tuple(phasor(-120.0 * order * k, 230.0) for k in range(3))
    amps = tuple(phasor(-120.0 * order * k - lag_deg, 2.0) for k in range(3))
    return volts, amps


def fits(lag_deg: float, order: int, wiring: Wiring) -> list[Wiring]:
    volts, amps = machine(lag_deg, order)
    measured = tuple(
        -amps[line] if turned else amps[line] for line, turned in zip(wiring.lines, wiring.turned, strict=True)
    )
    return fitting(volts, measured, tuple(range(len(measured))), *INDUCTION)


@pytest.mark.parametrize("order", [1, -1])
@pytest.mark.parametrize("count", [2, 3])
def test_what_is_right_is_the_only_one_that_fits_whichever_way_it_turns(order: int, count: int) -> None:
    right = Wiring(tuple(range(count)), (False,) * count)
    assert all(fits(lag, order, right) == [right] for lag in LAGS)


@pytest.mark.parametrize("order", [1, -1])
@pytest.mark.parametrize(
    "wiring",
    [
        Wiring((0, 1, 2), (True, False, False)),
        Wiring((0, 1, 2), (False, False, True)),
        Wiring((1, 0, 2), (False,) * 3),
        Wiring((0, 2, 1), (False,) * 3),
        Wiring((0, 0, 2), (False,) * 3),
        Wiring((0, 2, 2), (False,) * 3),
        Wiring((0, 1), (False, True)),
        Wiring((1, 0), (False, False)),
    ],
)
def test_one_mistake_is_found_at_every_angle(order: int, wiring: Wiring) -> None:
    assert all(fits(lag, order, wiring) == [wiring] for lag in LAGS)


@pytest.mark.parametrize("order", [1, -1])
@pytest.mark.parametrize("lines", [lines for lines in permutations(range(3)) if lines != (0, 1, 2)])
def test_whatever_was_exchanged_is_always_among_those_that_fit(order: int, lines: tuple[int, ...]) -> None:
    wiring = Wiring(lines, (False,) * 3)
    assert all(wiring in fits(lag, order, wiring) for lag in LAGS)


@pytest.mark.parametrize("order", [1, -1])
def test_all_turned_round_look_as_if_the_motor_gave_power_back(order: int) -> None:
    wiring = Wiring((0, 1, 2), (True,) * 3)
    for lag in LAGS:
        assert wiring in fits(lag, order, wiring)
        volts, amps = machine(lag, order)
        assert gives_back(angles_deg(volts, tuple(-each for each in amps), (0, 1, 2)))
        if lag < 84:  # nearer to 90 degrees it is left open
            assert not gives_back(angles_deg(volts, amps, (0, 1, 2)))


def test_three_that_add_up_leave_nothing_and_one_turned_round_leaves_twice_its_size() -> None:
    amps = [phasor(0), phasor(-120), phasor(120)]
    assert sum_of((amps[0], amps[1], amps[2])).left == pytest.approx(0.0, abs=1e-12)
    turned = sum_of((amps[0], -amps[1], amps[2]))
    assert turned.left == pytest.approx(2.0)
    assert turned.turned == 1


def test_sensors_that_disagree_by_six_per_cent_add_up_well_enough() -> None:
    left = sum_of((phasor(0, 1.06), phasor(-120, 1.0), phasor(120, 0.98))).left
    assert 0.03 < left < ADDS_UP
