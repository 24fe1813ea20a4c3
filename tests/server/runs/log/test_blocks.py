"""Stretches come back from rows and from blocks as they were put in; bytes that are none are refused."""

import numpy as np
import pytest

from server.runs.log.blocks import BLOCK, of_block, of_rows, packed_block
from server.runs.log.summary import Stretch
from tests.server.runs.log.test_summary import IDS, stretch

FIRST = 7 * BLOCK


def same(one: Stretch, other: Stretch) -> bool:
    values = all(
        np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True)
        for name in ("low", "high", "mean", "count", "doubtful", "absent")
    )
    return values and one.ids == other.ids


def test_a_block_holds_the_stretches_that_it_is_made_of_and_nothing_where_none_came() -> None:
    there = {
        FIRST: stretch((1.5, np.nan)),
        FIRST + 3: stretch((2.5,), ("current_rms_a",), doubtful=1),
        FIRST + BLOCK - 1: stretch((0.5, 7.0), ("voltage_rms_v", "speed_rpm")),
    }
    ids, data = packed_block(FIRST, there)
    assert ids == ("speed_rpm", "current_rms_a", "voltage_rms_v")
    block = of_block(FIRST, ids, data)
    found = block.stretches()
    assert list(found) == list(there)
    assert same(found[FIRST], there[FIRST])
    assert same(found[FIRST + 3], there[FIRST + 3])
    assert sorted(found[FIRST + BLOCK - 1].ids) == ["speed_rpm", "voltage_rms_v"]
    assert block.newest == FIRST + BLOCK - 1
    part = block.within(FIRST + 1, FIRST + 9)
    assert (part.numbers.tolist(), part.newest) == (list(range(FIRST + 1, FIRST + 9)), FIRST + 3)
    assert block.within(FIRST + 4, FIRST + 9).newest == -1


def test_counts_that_are_too_high_are_told_in_steps() -> None:
    counts = np.array([70_000, 5]), np.array([1, 5]), np.array([0, 140_000])
    there = Stretch(IDS, np.array([1.5, np.nan]), np.array([2.5, np.nan]), np.array([2.0, np.nan]), *counts)
    row = of_rows([4], IDS, [there.pack()]).stretches()[4]
    block = of_block(0, *packed_block(0, {4: there})).stretches()[4]
    assert same(row, block)
    step = 3  # 140 000 / 65 535, rounded up: none is told lower than it was, and what was there once still is
    for name in ("count", "doubtful", "absent"):
        more = getattr(row, name) - getattr(there, name)
        assert ((more >= 0) & (more < step)).all()


def test_bytes_that_are_none_are_refused() -> None:
    with pytest.raises(ValueError, match="7 bytes for a block of 2 readings"):
        of_block(0, IDS, b"rubbish")
    with pytest.raises(ValueError, match="7 bytes for 1 stretches of 2 readings"):
        of_rows([3], IDS, [b"rubbish"])
