"""Uneven channels: readings at their own times, numbers that tell what is missing."""

import pytest

from firmware_protocol import Single
from server.readings import Confidence
from server.stream.slow_channels import SlowChannels
from tests.server.tiny_board import HOUSING, VOLTAGE


def channels() -> SlowChannels:
    return SlowChannels((VOLTAGE, HOUSING), 1_000_000)


def test_a_sample_is_a_reading_at_its_own_tick_with_the_interval_promised() -> None:
    its = channels()
    sample, report = its.take(Single(2, 0, 250_000, 2150))
    assert report is None
    assert sample is not None
    instant = its.instant(sample)
    assert (instant.tick, instant.board_s, instant.interval_s) == (250_000, 0.25, 0.5)
    (reading,) = instant.readings
    assert (reading.id, reading.confidence) == ("temperature_c.housing", Confidence.GOOD)
    assert reading.value == pytest.approx(21.5)


def test_missing_numbers_are_counted_as_missing_samples_across_the_wrap() -> None:
    its = channels()
    its.take(Single(2, 2**32 - 1, 10, 0))
    _, report = its.take(Single(2, 2, 20, 0))
    assert report is not None
    assert (report.kind, report.samples) == ("gap", 2)


def test_a_sample_at_the_end_of_its_range_is_doubtful() -> None:
    its = channels()
    sample, _ = its.take(Single(2, 0, 10, 32_000))
    assert sample is not None
    assert sample.clipped
    assert its.instant(sample).readings[0].confidence is Confidence.DOUBTFUL


@pytest.mark.parametrize(
    ("single", "kind"),
    [(Single(2, 0, 10, 5), "late"), (Single(0, 9, 99, 5), "contradiction"), (Single(7, 0, 9, 0), "contradiction")],
)
def test_what_cannot_be_is_left_out_and_reported(single: Single, kind: str) -> None:
    its = channels()
    its.take(Single(2, 0, 10, 0))
    sample, report = its.take(single)
    assert sample is None
    assert report is not None
    assert report.kind == kind
