import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from server.live.ring import SAMPLES_MAX, Ring
from tests.server.live.blocks import block, supply_and_line


def counting(first: int, count: int) -> NDArray[np.float64]:
    numbers: NDArray[np.float64] = np.arange(first, first + count, dtype=np.float64)
    return np.stack((numbers, -numbers))


@settings(max_examples=50)
@given(st.lists(st.integers(0, 90), max_size=60))
def test_it_holds_the_last_second_whatever_the_lengths_of_the_blocks(lengths: list[int]) -> None:
    rate_hz = 100.0
    ring, at = Ring(block(counting(0, 1), rate_hz=rate_hz)), 0
    for length in lengths:
        ring.take(block(counting(at, length), at, rate_hz=rate_hz))
        at += length
    kept = min(at, 100)
    np.testing.assert_array_equal(ring.values, counting(at - kept, kept).astype(np.float32))
    assert ring.count == kept
    np.testing.assert_allclose([ring.first_s, ring.end_s], [(at - kept) / rate_hz, at / rate_hz], atol=1e-9)


def test_a_block_longer_than_a_second_leaves_its_last_second() -> None:
    ring = Ring(block(counting(0, 1), rate_hz=100.0))
    ring.take(block(counting(0, 350), rate_hz=100.0))
    assert ring.values[0].tolist() == list(range(250, 350))
    assert ring.first_s == 2.5


def test_a_jump_of_the_counter_is_a_gap() -> None:
    ring = Ring(block(counting(0, 1), rate_hz=100.0))
    ring.take(block(counting(0, 10), 0, rate_hz=100.0))
    ring.take(block(counting(15, 5), 15, rate_hz=100.0))
    assert ring.missing.tolist() == [False] * 10 + [True] * 5 + [False] * 5
    assert np.isnan(ring.values[:, 10:15]).all()
    assert ring.end_s == 0.2


def test_a_counter_that_runs_backwards_or_other_channels_do_not_fit() -> None:
    ring = Ring(block(counting(0, 1)))
    ring.take(block(counting(0, 10)))
    assert ring.fits(block(counting(10, 4), 10))
    assert not ring.fits(block(counting(3, 4), 3))
    assert not ring.fits(block(counting(10, 4), 10, channels=supply_and_line()[::-1]))
    assert not ring.fits(block(counting(10, 4), 10, rate_hz=10_000.0))


def test_an_absurd_rate_gets_a_shorter_picture() -> None:
    ring = Ring(block(np.zeros((2, 1)), rate_hz=1e9))
    ring.take(block(np.zeros((2, SAMPLES_MAX + 5)), rate_hz=1e9))
    assert ring.count == SAMPLES_MAX


def test_missing_and_clipped_travel_with_the_samples() -> None:
    ring = Ring(block(counting(0, 1)))
    gone, clipped = np.array([False, True, False]), np.array([[True, False, False], [False, False, True]])
    ring.take(block(counting(0, 3), missing=gone, clipped=clipped))
    assert ring.missing.tolist() == gone.tolist()
    assert ring.clipped.tolist() == clipped.tolist()
