"""The small twin of the export's benchmark."""

import pytest

from tests.benchmarks.export import measure

pytestmark = pytest.mark.alone


def test_a_run_is_exported_many_times_faster_than_it_was_recorded() -> None:
    rows = measure(pairs=1)
    assert len(rows) == 8
    for row in rows:
        assert row.ratio <= 3 * row.at_most, row
