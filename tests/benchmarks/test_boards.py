"""Small twin of the benchmark of whole boards."""

from tests.benchmarks.boards import WINDOWS, Boards, measure, reference_wire


def test_every_window_of_every_board_comes_out() -> None:
    boards = Boards(2, reference_wire(WINDOWS))
    for _ in range(2 * WINDOWS):
        boards.step()
    assert boards.instants == 2 * 2 * WINDOWS


def test_bytes_to_readings_costs_at_most_three_times_the_goal() -> None:
    for row in measure(pairs=3):
        assert row.ratio <= 3 * row.at_most, row
