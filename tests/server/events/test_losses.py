"""Gaps and clipping are events when they begin, not with every window."""

from dataclasses import replace

import numpy as np

from server.events.losses import CLIPPING, GAP
from tests.server.events.told import block, stepped


def holed(number: int) -> np.ndarray:
    values = np.zeros((2, 200))
    values[:, 50:60] = np.nan
    return values


def test_a_gap_is_told_once_while_it_goes_on_and_again_after_two_seconds() -> None:
    holes = {2, 3, 5, 30}
    blocks = [block(k, values=holed(k) if k in holes else None) for k in range(40)]
    found = stepped(GAP, blocks)
    assert [each.board_s for each in found] == [0.4, 6.0]
    assert (found[0].text, found[0].detail) == ("Samples did not come", "20 samples, 20 ms")


def test_a_gap_of_many_windows_is_told_with_its_length() -> None:
    long = replace(block(100, values=np.full((2, 200), np.nan)), gap_s=19.8)
    (found,) = stepped(GAP, [block(0), long, block(101)])
    assert (round(found.board_s, 3), found.text) == (0.2, "20.0 s of samples did not come")


def test_a_gap_of_two_seconds_is_told_though_samples_were_lost_just_before_it() -> None:
    long = replace(block(12, values=np.full((2, 200), np.nan)), gap_s=2.0)
    found = stepped(GAP, [block(0, values=holed(0)), block(1), long, block(13), block(14)])
    assert [each.detail for each in found] == ["10 samples, 10 ms", "2200 samples"]


def test_what_was_sent_before_anybody_listened_is_no_gap() -> None:
    late = np.zeros((2, 200))
    late[:, :100] = np.nan
    assert stepped(GAP, [block(0, values=late), block(1)]) == []
    late[:, 150] = np.nan  # this one was promised to somebody
    assert [each.detail for each in stepped(GAP, [block(0, values=late), block(1)])] == ["1 sample, 1 ms"]


def test_clipping_names_the_channel_and_its_range() -> None:
    values = np.zeros((2, 200))
    values[1, 120] = 400.0
    found = stepped(CLIPPING, [block(0), block(1, values=values), block(2, values=values), block(20, values=values)])
    assert [each.text for each in found] == ["A line reached the end of its range"] * 2
    assert found[0].detail == "-400 to 400 A"
    assert found[0].board_s == 0.32


def test_a_gap_that_goes_on_is_told_after_two_seconds() -> None:
    (found,) = stepped(GAP, [block(k, values=holed(k)) for k in range(12)])
    assert (found.board_s, found.detail) == (0.0, "100 samples, 100 ms")
