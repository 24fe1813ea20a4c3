"""Small twin of the benchmark of whole boards."""

from tests.benchmarks.boards import chunks, computed, measure, reference_wire


def test_every_window_of_every_board_comes_out() -> None:
    assert computed(chunks(reference_wire(4)), 2) == 2 * 4


def test_bytes_to_readings_costs_at_most_three_times_the_goal() -> None:
    for row in measure(pairs=3):
        assert row.ratio <= 3 * row.at_most, row
