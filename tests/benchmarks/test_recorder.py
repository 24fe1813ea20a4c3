"""The small twin of the recorder's benchmark: CPU at three times the goal, and both write the same bytes."""

from pathlib import Path

import pytest

from server.runs.layout import Entry, Kind
from server.runs.replay import recorded
from tests.benchmarks import recorder

pytestmark = pytest.mark.alone


def test_the_recorder_costs_little_more_than_its_writes() -> None:
    (row,) = recorder.measure(3, 20.0)
    assert row.ratio <= 3 * row.at_most, row


def test_both_write_the_same_bytes(tmp_path: Path) -> None:
    steps = recorder.gathered(1.0)
    assert 9 <= len(steps) <= 11
    run = recorder.record_all(tmp_path / "runs", steps)
    recorder.write_all(tmp_path / "bare", steps)
    assert (
        b"".join(each.payload for each in recorded(run) if isinstance(each, Entry) and each.kind is Kind.CHUNK)
        == (tmp_path / "bare").read_bytes()
    )
