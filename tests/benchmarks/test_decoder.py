"""The decoder's benchmark, small: three times the goal holds even on a busy machine."""

import pytest

from firmware_protocol import Decoder, Received
from tests.benchmarks import decoder

pytestmark = pytest.mark.alone


def test_the_decoder_is_near_its_goals() -> None:
    rows = decoder.measure(3)
    assert len(rows) == 4
    slow = [f"{row.what}: {row.ratio:.2f}, goal {row.at_most}" for row in rows if row.ratio > 3 * row.at_most]
    assert not slow


def test_what_is_measured_is_the_whole_work() -> None:
    running = decoder.stream(0.4)
    found = Decoder().feed(running)
    assert sum(isinstance(one, Received) for one in found) == len(found) == decoder.FRAMES
    assert decoder.least(running)() == decoder.FRAMES
