"""A few cycles of the demo bench, the small twin of the proof of a night: counts and times are those of the truth."""

from pathlib import Path

import pytest

from server.duty.factor import usage_of
from tests.server.duty.nights import Night, told, within


def test_counts_and_times_are_those_of_the_truth(tmp_path: Path) -> None:
    night = Night(3, 2.0, 5.0)
    it = told(night, tmp_path)
    assert len(it.truth) == night.times
    assert sum(each.is_start for each in it.cycles) == night.times
    for cycle, true in zip(it.cycles, it.truth, strict=True):
        assert within(cycle, "starting_time_s", true.t95_s - true.start_s)
        assert within(cycle, "on_time_s", true.off_s - true.start_s)
    usage = usage_of(it.cycles)
    assert usage.whole == 2  # the last one is open
    assert usage.duration_factor.value == pytest.approx(40.0, abs=0.5)
    assert usage.starts_per_hour.value == pytest.approx(720.0, abs=1.0)
