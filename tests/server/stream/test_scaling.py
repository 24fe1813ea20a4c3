"""Counts become SI units; what no board can mean is refused."""

from dataclasses import replace
from fractions import Fraction
from struct import pack
from typing import Any

import numpy as np
import pytest

from firmware_protocol import WORD_CODING, ChannelDescription, Role
from server.stream.scaling import (
    ImpossibleDescriptionError,
    channel_of,
    clipped_in,
    groups_of,
    judge_groups,
    scale_code,
    scale_words,
)

VOLTS = ChannelDescription(
    0, Role.VOLTAGE, "U", "supply", "V", 0.5, 10.0, -100, 200, group=0, ticks_per_sample=Fraction(50)
)
AMPS = replace(VOLTS, index=1, role=Role.CURRENT, name="I", unit="A", scale=-0.01, offset=0.0, noise_codes_rms=2.0)


def words(*codes: int) -> bytes:
    return b"".join(pack("<H", (code & 0xFFFF) ^ WORD_CODING) for code in codes)


def test_value_is_scale_times_code_plus_offset_in_columns_of_channels() -> None:
    group = groups_of([AMPS, VOLTS], 1_000_000)[0]
    out = np.empty((2, 3))
    scale_words(group, words(0, 0, 100, -5, -100, 7), out)
    assert out.tolist() == [[10.0, 60.0, -40.0], [0.0, 0.05, -0.07]]


def test_codes_at_or_beyond_the_ends_of_the_range_are_clipped_whatever_the_sign_of_the_scale() -> None:
    group = groups_of([VOLTS, AMPS], 1_000_000)[0]
    out = np.empty((2, 4))
    scale_words(group, words(199, 199, 200, -99, -99, 200, -100, -101), out)
    clipped = clipped_in(group, out)
    assert clipped is not None
    assert clipped.tolist() == [[False, True, False, True], [False, False, True, True]]


def test_values_inside_the_range_are_not_marked_at_all() -> None:
    group = groups_of([VOLTS], 1_000_000)[0]
    out = np.empty((1, 2))
    scale_words(group, words(199, -99), out)
    assert clipped_in(group, out) is None


@pytest.mark.parametrize(("code", "clipped"), [(-100, True), (-99, False), (199, False), (200, True)])
def test_single_codes_clip_at_the_same_ends(code: int, clipped: bool) -> None:
    assert scale_code(VOLTS, code) == (0.5 * code + 10.0, clipped)


def test_a_channel_is_told_in_seconds_and_si_units() -> None:
    channel = channel_of(AMPS, 1_000_000)
    assert (channel.low, channel.high, channel.noise_rms, channel.rate_hz) == (-2.0, 1.0, 0.02, 20_000.0)
    assert channel.offset_limit is None
    assert channel_of(replace(AMPS, offset_limit_codes=3.0), 1_000_000).offset_limit == pytest.approx(0.03)
    slow = replace(VOLTS, group=None, ticks_per_sample=None, interval_ticks_max=500_000)
    assert (channel_of(slow, 1_000_000).interval_max_s, channel_of(slow, 1_000_000).rate_hz) == (0.5, None)


def test_a_window_is_200_ms_and_a_slow_group_gets_a_longer_one() -> None:
    assert groups_of([VOLTS], 1_000_000)[0].window == 4000
    slow = replace(VOLTS, ticks_per_sample=Fraction(1_000_000, 3))
    assert groups_of([slow], 1_000_000)[0].window == 16


def test_ticks_of_a_fractional_rate_are_exact_after_a_year() -> None:
    group = groups_of([replace(VOLTS, ticks_per_sample=Fraction(1_000_000, 30_000))], 1_000_000)[0]
    assert group.ticks(30_000 * 31_536_000) == 1_000_000 * 31_536_000
    assert [group.ticks(n) for n in (0, 1, 2, 3, -1)] == [0, 33, 67, 100, -33]


def test_channels_of_one_group_with_different_rates_are_refused() -> None:
    with pytest.raises(ImpossibleDescriptionError, match="channel 1 has another rate than its group 0"):
        groups_of([VOLTS, replace(AMPS, ticks_per_sample=Fraction(51))], 1_000_000)


def test_a_rate_that_no_memory_holds_is_refused() -> None:
    with pytest.raises(ImpossibleDescriptionError, match="channel 0: 4e\\+09 samples a second"):
        groups_of([replace(VOLTS, ticks_per_sample=Fraction(1, 4))], 1_000_000_000)


def test_all_groups_together_may_bring_no_more_than_any_line_carries() -> None:
    fast = Fraction(1_000_000, 900_000)
    two = [replace(VOLTS, ticks_per_sample=fast), replace(AMPS, group=1, ticks_per_sample=fast)]
    assert len(groups_of(two, 1_000_000)) == 2
    with pytest.raises(ImpossibleDescriptionError, match="channel 0: 900000 samples a second are too many"):
        groups_of([*two, replace(AMPS, index=2, group=2, ticks_per_sample=fast)], 1_000_000)


def test_a_board_has_at_most_sixteen_groups_however_slow_they_are() -> None:
    slow = [replace(AMPS, index=k, place=f"P{k}", group=k, ticks_per_sample=Fraction(100_000)) for k in range(17)]
    judge_groups([*slow[:16], replace(slow[16], group=15)])
    text = "channel 16: the first of 17 groups that is more than 16; channels of one rate go into one group"
    with pytest.raises(ImpossibleDescriptionError, match=text):
        judge_groups(slow)
    assert len(groups_of(slow, 1_000_000)) == 17, "of a run that was recorded"


def test_a_sample_once_a_year_is_no_reading_of_now() -> None:
    slow = replace(VOLTS, group=None, ticks_per_sample=None, interval_ticks_max=3_600_000_000)
    assert groups_of([slow], 1_000_000) == {}
    with pytest.raises(ImpossibleDescriptionError, match="channel 0: a sample every 7200 s, at least one an hour"):
        groups_of([replace(slow, interval_ticks_max=7_200_000_000)], 1_000_000)


def test_names_are_cut_to_what_a_page_has_room_for() -> None:
    long = replace(VOLTS, name="n" * 900, place="p" * 900, unit="u" * 200)
    channel = channel_of(long, 1_000_000)
    assert (len(channel.name), len(channel.place), len(channel.unit)) == (40, 40, 12)


def test_a_tick_too_slow_for_rows_and_a_range_beyond_all_measure_are_refused_by_name() -> None:
    with pytest.raises(ImpossibleDescriptionError, match="tick_hz is 999, at least 1000"):
        groups_of([VOLTS], 999)
    with pytest.raises(ImpossibleDescriptionError, match="channel 0: range -1e\\+302 to 2e\\+302"):
        groups_of([replace(VOLTS, scale=1e300)], 1_000_000)


def test_two_channels_that_measure_the_same_are_refused() -> None:
    one = replace(AMPS, place="line", name="low range")
    other = replace(one, index=2, name="high range")
    with pytest.raises(ImpossibleDescriptionError, match="channels 1 and 2 both are current at line: each needs"):
        groups_of([one, other], 1_000_000)


@pytest.mark.parametrize("limits", [{"gain_limit": 1.5}, {"offset_limit_codes": 1e9}])
def test_a_limit_beyond_all_measure_is_as_good_as_not_stated(limits: dict[str, Any]) -> None:
    channel = channel_of(replace(AMPS, **limits), 1_000_000)
    assert (channel.gain is None) == ("gain_limit" in limits or AMPS.gain_limit is None)
    if "offset_limit_codes" in limits:
        assert channel.offset_error is None
        assert channel.offset_limit is None
