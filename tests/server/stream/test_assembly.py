"""Blocks to windows: the grid stays where it is, whatever is missing."""

from dataclasses import replace
from fractions import Fraction

import numpy as np

from firmware_protocol import WORD_CODING, ChannelDescription, Role, Samples
from server.stream.assembly import Assembler, Window
from server.stream.filling import Filling, Stretches
from server.stream.scaling import groups_of

CHANNEL = ChannelDescription(
    0, Role.CURRENT, "I", "line", "A", 1.0, 0.0, -30_000, 30_000, group=0, ticks_per_sample=Fraction(1000)
)
GROUP = groups_of([CHANNEL], 1_000_000)[0]  # 200 samples in a window


def block(first: int, count: int = 50, tick: int | None = None, group: int = 0) -> Samples:
    """Samples whose values are their own numbers."""
    words = (np.arange(first, first + count).astype("<i2").view("<u2") ^ WORD_CODING).tobytes()
    return Samples(group, 1, first, first * 1000 if tick is None else tick, words)


def run(*blocks: Samples) -> tuple[list[Window], list[str]]:
    """Windows and kinds of damage of blocks that come one by one."""
    assembler, windows, kinds = Assembler(GROUP), list[Window](), list[str]()
    for each in blocks:
        report = assembler.take(each)
        kinds += [] if report is None else [report.kind]
        assembler.flush([], windows)
    return windows, kinds


def test_a_window_is_told_when_a_block_beyond_it_has_come_and_not_before() -> None:
    blocks = [block(first) for first in range(0, 250, 50)]
    assert run(*blocks[:4])[0] == []
    (window,), _ = run(*blocks)
    assert window.samples.values[0].tolist() == list(range(200))
    assert (window.samples.first_sample, window.samples.first_tick, window.samples.end_tick) == (0, 0, 200_000)
    assert window.seen_tick == 200_000
    assert not window.samples.missing.any()


def test_what_comes_out_is_the_same_when_all_blocks_come_at_once() -> None:
    assembler, fresh, windows = Assembler(GROUP), list[tuple[Filling, int, int]](), list[Window]()
    blocks = [block(first, 30) for first in range(0, 900, 30)]
    for each in blocks:
        assembler.take(each)
    assembler.flush(fresh, windows)
    one_by_one, _ = run(*blocks)
    assert [each.samples.values.tolist() for each in windows] == [each.samples.values.tolist() for each in one_by_one]
    assert [each.seen_tick for each in windows] == [each.seen_tick for each in one_by_one]
    seen = np.concatenate([each.values[0] for each in Stretches(fresh)])
    assert seen.tolist() == list(range(900))


def test_ticks_that_run_a_little_fast_in_each_block_are_a_contradiction_before_long() -> None:
    """Each block is off by less than one sample, so that only the sum of them tells: time runs 3 % too fast."""
    blocks = [block(first, 32, tick=round(first * 1030)) for first in range(0, 1600, 32)]
    assert "contradiction" in run(*blocks)[1]
    one_by_one = [block(first, 1, tick=first * 2000) for first in range(400)]
    assert "contradiction" in run(*one_by_one)[1]
    jittery = [block(first, 32, tick=first * 1000 + (first % 3) * 300) for first in range(0, 1600, 32)]
    assert run(*jittery)[1] == []


def test_a_stretch_of_a_finished_window_can_still_be_looked_at() -> None:
    assembler, fresh = Assembler(GROUP), list[tuple[Filling, int, int]]()
    for first in range(0, 250, 50):
        assembler.take(block(first))
        assembler.flush(fresh, [])
    assert [each.values[0].tolist() for each in Stretches(fresh)[1:3]] == [
        list(range(50, 100)),
        list(range(100, 150)),
    ]
    assert Stretches(fresh)[3].first_tick == 150_000


def test_missing_samples_stand_in_their_place_and_shift_nothing() -> None:
    windows, kinds = run(block(0), block(100), block(150), *[block(first) for first in range(200, 450, 50)])
    assert kinds == ["gap"]
    first, second = windows
    assert np.flatnonzero(first.samples.missing).tolist() == list(range(50, 100))
    assert np.isnan(first.samples.values[0, 50:100]).all()
    assert first.samples.values[0, 100:].tolist() == list(range(100, 200))
    assert second.samples.values[0].tolist() == list(range(200, 400))


def test_a_stream_that_begins_in_the_middle_has_a_partial_window_and_no_damage() -> None:
    windows, kinds = run(block(150), block(200), block(250), block(300), block(350), block(400))
    assert kinds == []
    assert [int(each.samples.missing.sum()) for each in windows] == [150, 0]
    assert windows[0].samples.first_tick == 0


def test_many_windows_in_which_nothing_came_are_one() -> None:
    windows, _ = run(block(0), block(200 * 5000 + 10), block(200 * 5001))
    assert len(windows) == 3
    assert windows[1].gap_first_tick == 200_000
    assert windows[1].samples.missing.all()
    assert windows[1].samples.end_tick == 5000 * 200_000
    assert [int(each.samples.missing.sum()) for each in windows] == [150, 200, 150]


def test_a_block_that_comes_again_is_left_out_and_changes_nothing() -> None:
    blocks = [block(first) for first in range(0, 250, 50)]
    windows, kinds = run(*blocks[:3], blocks[1], *blocks[3:])
    assert kinds == ["late"]
    assert windows[0].samples.values[0].tolist() == list(range(200))


def test_numbers_and_ticks_that_do_not_go_on_together_begin_the_grid_anew() -> None:
    windows, kinds = run(block(0), block(50, tick=900_000_000), *[block(f, tick=f * 1000) for f in range(100, 450, 50)])
    assert kinds == ["contradiction", "contradiction"]
    assert [each.samples.first_sample for each in windows] == [0, 200]
    assert np.flatnonzero(~windows[0].samples.missing).tolist() == list(range(100, 200))


def test_a_status_finishes_a_complete_window_at_once_and_a_partial_one_only_after_patience() -> None:
    assembler, done = Assembler(GROUP), list[Window]()
    for first in range(0, 250, 50):
        assembler.take(block(first))
    assembler.flush([], [])
    assembler.take(block(250))
    assembler.flush([], done)
    assembler.settle(400_000, done)
    assert done == []
    assembler.settle(2_000_000, done)
    assert [int(each.samples.missing.sum()) for each in done] == [100]


def test_the_end_finishes_what_is_open() -> None:
    assembler, done = Assembler(GROUP), list[Window]()
    assembler.take(block(0))
    assembler.flush([], done)
    assembler.end(60_000, done)
    assert [(int(each.samples.missing.sum()), each.seen_tick) for each in done] == [(150, 60_000)]


def test_the_tick_of_a_window_is_that_of_its_own_first_block_at_a_fractional_rate() -> None:
    group = groups_of([replace(CHANNEL, ticks_per_sample=Fraction(100_000, 3))], 1_000_000)[0]  # 30 samples a second
    assembler, done = Assembler(group), list[Window]()
    for first in range(0, 64, 4):
        tick = group.ticks(first)
        assembler.take(block(first, 4, tick))
    assembler.flush([], done)
    assert [each.samples.first_tick for each in done] == [0, 533_333, 1_066_667]
