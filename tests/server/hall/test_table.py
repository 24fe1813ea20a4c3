"""The six-step table against the public commutation tables and against what two spacings must look like."""

import numpy as np
import pytest

from server.hall.table import FORWARD, sectors, steps_between

# Commutation table for 120-degree sensors as three public tables print it, row by row the same: Hall A, B, C from left
# to right, forward. Only the cyclic order and the two codes that do not come are the motor's own.
PUBLISHED_A_FIRST = ("101", "100", "110", "010", "011", "001")


def test_the_120_degree_order_is_the_published_cycle() -> None:
    as_ours = [int(row[::-1], 2) for row in PUBLISHED_A_FIRST]
    start = as_ours.index(FORWARD[120][0])
    assert tuple(as_ours[start:] + as_ours[:start]) == FORWARD[120]


@pytest.mark.parametrize(("spacing", "illegal"), [(120, {0, 7}), (60, {2, 5})])
def test_two_states_have_no_sector(spacing: int, illegal: set[int]) -> None:
    assert {state for state in range(8) if sectors(spacing)[state] == 0} == illegal


@pytest.mark.parametrize("spacing", [60, 120])
def test_the_table_is_what_sensors_at_that_spacing_read(spacing: int) -> None:
    # Hall A is high from 30 to 210 degrees; B and C follow, each `spacing` later (ours, by definition of the spacing).
    for sector in range(1, 7):
        middle = 30 + 60 * (sector - 1) + 30
        levels = [(middle - 30 - spacing * k) % 360 < 180 for k in range(3)]
        assert FORWARD[spacing][sector - 1] == sum(level << k for k, level in enumerate(levels))


def test_neighbours_differ_in_one_bit() -> None:
    for order in FORWARD.values():
        for one, other in zip(order, order[1:] + order[:1], strict=True):
            assert (one ^ other).bit_count() == 1


def test_the_step_between_two_sectors_is_the_short_way_round() -> None:
    assert steps_between(np.array([1, 2, 1, 6, 1, 3, 1, 4, 6])).tolist() == [1, -1, -1, 1, 2, -2, 3, 2]
