"""Small twin of the benchmark of whole boards."""

import pytest

from tests.benchmarks.boards import WINDOWS, Alone, Boards, Pushed, measure, reference_wire

pytestmark = pytest.mark.alone


@pytest.mark.parametrize("kind", [Alone, Pushed])
def test_every_window_of_every_board_comes_out(kind: type[Alone | Pushed]) -> None:
    boards = Boards(2, reference_wire(WINDOWS), kind)
    for _ in range(2 * WINDOWS):
        boards.step()
    assert boards.instants == 2 * 2 * WINDOWS


@pytest.mark.long
def test_bytes_to_readings_costs_at_most_three_times_the_goal() -> None:
    for row in measure(pairs=3):
        assert row.ratio <= 3 * row.at_most, row
