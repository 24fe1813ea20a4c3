"""Recordings through the player and the wire: every value and time within what codes and ticks can hold."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from firmware_protocol import (
    ChannelDescription,
    Edges,
    Identity,
    InputDescription,
    InputKind,
    Role,
    SampleKind,
    Samples,
    Single,
    Singles,
    Status,
)
from simulator.board import Board
from simulator.player import Player, player_board
from simulator.recording import RecordedChannel, Recording, RecordingError
from tests.simulator.fakes import codes_of, messages
from tests.simulator.recordings import NAMES, recording, wire_bytes

VALUES = np.array([0.0, 1.0, -2.0, 3.5, 9.0, -9.0])


def even(values: NDArray[np.float64] = VALUES, rate_hz: float | Fraction = 1000, name: str = "U") -> RecordedChannel:
    return RecordedChannel(name, Role.VOLTAGE, "V", -5.0, 5.0, values, place="supply", rate_hz=rate_hz)


def uneven(times_s: list[float], values: list[float], interval_max_s: float = 0.1) -> RecordedChannel:
    return RecordedChannel(
        "T",
        Role.TEMPERATURE,
        "degC",
        0.0,
        100.0,
        np.array(values),
        times_s=np.array(times_s),
        interval_max_s=interval_max_s,
    )


def played(recording: Recording) -> bytes:
    board = player_board(recording)
    data = board.step(100.0)
    assert board.ended
    return data


def even_values(data: bytes, group: int = 0) -> NDArray[np.float64]:
    """Values of one group, (channels, samples), as the descriptions on the wire scale them."""
    sent = messages(data)
    described = {m.index: m for m in sent if isinstance(m, ChannelDescription)}
    members = sorted((m for m in described.values() if m.group == group), key=lambda m: m.index)
    codes = np.concatenate([codes_of(m) for m in sent if isinstance(m, Samples) and m.group == group])
    scales, offsets = ([getattr(m, key) for m in members] for key in ("scale", "offset"))
    return np.asarray((codes * scales + offsets).T, dtype=np.float64)


def singles_of(data: bytes) -> list[Single]:
    return [single for m in messages(data) if isinstance(m, Singles) for single in m.singles]


def edges_of(data: bytes) -> list[tuple[int, int]]:
    return [edge for m in messages(data) if isinstance(m, Edges) for edge in zip(m.ticks, m.states, strict=True)]


def test_values_come_out_within_half_a_code_and_those_beyond_the_range_at_its_ends() -> None:
    got = even_values(played(Recording("r", [even()])))
    assert got[0] == pytest.approx([0.0, 1.0, -2.0, 3.5, 5.0, -5.0], abs=0.5 * 10 / 65_534)
    data = played(Recording("r", [even()]))
    codes = np.concatenate([codes_of(m) for m in messages(data) if isinstance(m, Samples)])
    described = next(m for m in messages(data) if isinstance(m, ChannelDescription))
    assert codes[4:, 0].tolist() == [described.code_high, described.code_low]  # so they count as clipped


def test_the_board_is_a_player_and_says_what_the_recording_says_of_itself() -> None:
    shaft = InputDescription(0, InputKind.PULSE, "shaft", 0, 1)
    known = RecordedChannel(
        "I", Role.CURRENT, "A", -2.0, 2.0, VALUES / 10, place="line", rate_hz=500, kind=SampleKind.RMS, kind_s=0.02,
        delay_s=3e-6, delay_limit_s=1e-6, noise_rms=0.001, gain_limit=0.01, corner_low_hz=5.0, ac_coupled=True,
    )  # fmt: skip
    sent = messages(played(Recording("pump", [known], [shaft], plate="[motor]\nname = 'x'\n", serial="PL-0042")))
    identity = next(m for m in sent if isinstance(m, Identity))
    assert (identity.source, identity.serial, identity.model, identity.plate) == (
        "player", "PL-0042", "pump", "[motor]\nname = 'x'\n",
    )  # fmt: skip
    said = next(m for m in sent if isinstance(m, ChannelDescription))
    assert (said.role, said.name, said.place, said.unit) == (Role.CURRENT, "I", "line", "A")
    assert (said.kind, said.kind_ticks, said.delay_ns, said.delay_limit_ns) == (SampleKind.RMS, 20_000, 3000, 1000)
    assert said.noise_codes_rms == pytest.approx(0.001 / said.scale)
    assert said.ac_coupled
    assert said.corner_low_hz == 5.0
    assert shaft in sent


def test_channels_of_one_rate_form_a_group_and_other_rates_others() -> None:
    fast, slow = np.arange(60.0) / 20, np.arange(6.0) / 2
    data = played(Recording("r", [even(fast, 10_000), even(slow, 1000, "V"), even(-fast, 10_000, "W")]))
    assert even_values(data, 0) == pytest.approx(np.array([fast, -fast]), abs=1e-4)
    assert even_values(data, 1) == pytest.approx(np.array([slow]), abs=1e-4)


def test_a_rate_that_is_a_fraction_of_the_tick_is_kept_exactly() -> None:
    data = played(Recording("r", [even(np.zeros(300), 30_000)]))
    assert next(m for m in messages(data) if isinstance(m, ChannelDescription)).ticks_per_sample == Fraction(100, 3)
    odd = Player(Recording("r", [even(np.zeros(3), 1e6 / 33.7215)])).channels[0].ticks_per_sample
    assert odd is not None
    assert float(odd) == pytest.approx(33.7215, abs=1e-6)


def test_own_time_stamps_become_ticks_counted_from_the_first_of_them() -> None:
    data = played(Recording("r", [uneven([100.0, 100.05, 100.3000004], [20.0, 30.0, 40.0])]))
    assert [single.tick for single in singles_of(data)] == [0, 50_000, 300_000]
    described = next(m for m in messages(data) if isinstance(m, ChannelDescription))
    assert described.interval_ticks_max == 100_000
    values = [described.scale * single.code + described.offset for single in singles_of(data)]
    assert values == pytest.approx([20.0, 30.0, 40.0], abs=0.5 * 100 / 65_534)


def test_edges_come_at_their_times_and_the_status_tells_the_levels_before() -> None:
    inputs = [InputDescription(k, InputKind.HALL, f"Hall {name}", k) for k, name in enumerate("ABC")]
    times, states = np.array([0.01, 0.25, 0.2500001]), np.array([1, 3, 2], np.uint8)
    data = played(Recording("r", [], inputs, times, states, levels_before=5))
    assert edges_of(data) == [(0, 1), (240_000, 2)]  # the earliest stamp is the start; two within a tick are one
    levels = [(m.tick, m.levels) for m in messages(data) if isinstance(m, Status)]
    assert levels[1] == (200_000, 1)
    later = played(Recording("r", [], inputs, times, states, levels_before=5, start_s=0.0))
    assert next(m.levels for m in messages(later) if isinstance(m, Status)) == 5
    assert edges_of(later)[0] == (10_000, 1)


def test_a_loop_goes_on_without_a_gap_and_leads_the_levels_back() -> None:
    shaft = [InputDescription(0, InputKind.PULSE, "shaft", 0, 1)]
    board = player_board(Recording("r", [even()], shaft, np.array([0.002]), np.array([1], np.uint8)), loop=True)
    data = board.step(0.020)
    assert not board.ended
    assert even_values(data)[0] == pytest.approx(np.resize(np.clip(VALUES, -5, 5), 20), abs=1e-3)
    assert edges_of(data) == [(2000, 1), (6000, 0), (8000, 1), (12_000, 0), (14_000, 1), (18_000, 0), (20_000, 1)]


def test_a_loop_of_uneven_samples_pauses_for_the_interval_promised() -> None:
    board = player_board(Recording("r", [uneven([5.0, 5.25], [20.0, 30.0])]), loop=True)
    ticks = [single.tick for single in singles_of(board.step(1.0))]
    assert ticks == [0, 250_000, 350_001, 600_001, 700_002, 950_002]
    numbers = [single.number for single in singles_of(board.step(1.0))]
    assert numbers == list(range(6, 6 + len(numbers)))


def test_a_loop_that_would_tear_its_channels_apart_is_refused() -> None:
    longer = Recording("r", [even(np.zeros(10)), even(np.zeros(10), 2000, "V")])
    beyond = Recording("r", [even(), uneven([0.0, 0.5], [1.0, 2.0])])
    for torn in (longer, beyond):
        Player(torn)  # once is well
        with pytest.raises(RecordingError, match="loop"):
            Player(torn, loop=True)


def test_a_stamp_before_the_start_is_refused() -> None:
    with pytest.raises(RecordingError, match=r"0\.5 s before"):
        Player(Recording("r", [uneven([1.0, 2.0], [1.0, 2.0])], start_s=1.5))


def test_a_rate_above_the_tick_is_refused() -> None:
    with pytest.raises(RecordingError, match="raise that"):
        Player(Recording("r", [even(rate_hz=2e6)]))


@pytest.mark.parametrize("name", NAMES)
def test_an_open_recording_of_a_real_motor_comes_through_the_wire_whole(recordings: Path, name: str) -> None:
    wanted = recording(recordings, name)
    data = wire_bytes(recordings, name)
    sent = messages(data)
    described = {m.index: m for m in sent if isinstance(m, ChannelDescription)}
    singles: dict[int, list[Single]] = {}
    for single in singles_of(data):
        singles.setdefault(single.channel, []).append(single)
    for index, channel in enumerate(wanted.channels):
        held = np.clip(channel.values, channel.low, channel.high)
        half_a_code = 0.5001 * (channel.high - channel.low) / 65_534
        if channel.times_s is None:
            got = even_values(data, described[index].group or 0)[index]
        else:
            got = np.array([described[index].scale * one.code + described[index].offset for one in singles[index]])
            seconds = np.array([one.tick for one in singles[index]]) / wanted.tick_hz
            assert np.abs(seconds - (channel.times_s - channel.times_s[0])).max() <= 0.51e-6
            assert channel.interval_max_s is not None
            assert np.diff(seconds).max() <= channel.interval_max_s
        assert got.shape == held.shape
        assert np.abs(got - held).max() <= half_a_code


def test_only_the_start_of_the_vacuum_cleaner_meets_the_end_of_its_range(recordings: Path) -> None:
    clipped = []
    for name in NAMES:
        for channel in recording(recordings, name).channels:
            if (channel.values <= channel.low).any() or (channel.values >= channel.high).any():
                clipped.append((name, channel.name))
    assert clipped == [("plaid-vacuum-cycles-1 start", "I")]


def test_a_board_of_a_recording_knows_no_truth_and_adds_no_clock_error() -> None:
    board = Board(Player(Recording("r", [even()])), seed=5)
    board.step(1.0)
    assert board.truth == ()
    assert board.clock_error_ppm == 0.0
