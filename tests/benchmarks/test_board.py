"""The small twin of the board's benchmark."""

import pytest

from tests.benchmarks.board import measure

pytestmark = pytest.mark.alone


def test_a_software_board_takes_a_small_share_of_a_core() -> None:
    rows = measure(pairs=1)
    assert len(rows) > 10
    for row in rows:
        assert row.ratio <= 3 * row.at_most, row
