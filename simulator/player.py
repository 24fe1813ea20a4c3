"""The player: a recording as the source of a board, once or over and over. See PLAYER.md.

It adds nothing: no noise, no error, no delay, for recorded values have met their sensors already. What it takes
away is stated in the channels: a value becomes one of 65 535 codes over its range, a time becomes a tick.
"""

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import ChannelDescription, Word
from firmware_protocol import Source as SourceKind
from simulator.board import Board
from simulator.recording import RecordedChannel, Recording, RecordingError
from simulator.source import About, SlowValue, Stretch, grouped, samples_before

_CODE_MAX = {12: 2_047, 16: 32_767, 24: 8_388_607}  # by bits
_WORDS = {12: Word.PACKED12, 16: Word.INT16, 24: Word.INT24}
_DENOMINATOR_MAX = 1000  # rates as whole or simple fractions of the tick: to 1e-6 of a tick a sample


def player_board(recording: Recording, *, loop: bool = False, boot: int = 1) -> Board:
    """A board that plays `recording`."""
    return Board(Player(recording, loop=loop), serial=recording.serial, boot=boot)


class Player:
    """Plays a recording; with `loop` it begins again where it ended, else the board ends there.

    A round lasts as long as the even samples do, or without any until the interval promised after the last
    time stamp is over. RecordingError: to loop, even channels must last equally long and hold all stamps.
    """

    def __init__(self, recording: Recording, *, loop: bool = False) -> None:
        self.about = About(SourceKind.PLAYER, recording.name, recording.plate, recording.tick_hz)
        self.inputs, self.levels = tuple(recording.inputs), recording.levels_before
        self.channels = _descriptions(recording)
        self._tick_hz, self._begin_s, self._loop = recording.tick_hz, recording.begin_s, loop
        self._values = tuple(
            np.array([recording.channels[channel.index].values for channel in members])
            for members in grouped(self.channels)
        )
        self._read_slow(recording)
        self._edge_ticks = self._ticks(recording.edge_times_s)
        self._edge_states = recording.edge_states.astype(np.uint8)
        self._round = self._round_length(recording)
        if loop and len(self._edge_states) and self._edge_states[-1] != self.levels:
            # The next round begins with the levels of the first: the last edge of a round leads back to them.
            self._edge_ticks = np.append(self._edge_ticks, int(self._round))
            self._edge_states = np.append(self._edge_states, np.uint8(self.levels))
        self.end_tick = None if loop else -int(-self._round // 1)
        self.sample_sets = None if loop else tuple(values.shape[1] for values in self._values)

    def _ticks(self, times_s: NDArray[np.float64]) -> NDArray[np.int64]:
        ticks = np.rint((times_s - self._begin_s) * self._tick_hz).astype(np.int64)
        if len(ticks) and ticks[0] < 0:
            raise RecordingError(f"a time stamp lies {-ticks[0] / self._tick_hz:g} s before the start of the recording")
        return ticks

    def _read_slow(self, recording: Recording) -> None:
        """The samples of all uneven channels in order of their ticks."""
        rows = [
            (tick, index, value)
            for index, channel in enumerate(recording.channels)
            if channel.times_s is not None
            for tick, value in zip(self._ticks(channel.times_s).tolist(), channel.values.tolist(), strict=True)
        ]
        self._slow = [SlowValue(index, tick, value) for tick, index, value in sorted(rows)]
        self._slow_ticks = np.array([slow.tick for slow in self._slow], dtype=np.int64)

    def _round_length(self, recording: Recording) -> Fraction:
        """Ticks from the start to the end of the recording."""
        even: list[Fraction] = [
            values.shape[1] * members[0].ticks_per_sample
            for values, members in zip(self._values, grouped(self.channels), strict=True)
            if members[0].ticks_per_sample is not None
        ]
        stamps = [Fraction(int(ticks[-1]) + 1) for ticks in (self._slow_ticks, self._edge_ticks) if len(ticks)]
        if not self._loop:
            return max(even + stamps)
        if even:
            if min(even) != max(even) or any(stamp > even[0] for stamp in stamps):
                raise RecordingError("to loop, all even channels must last equally long, and no stamp may lie beyond")
            return even[0]
        pauses_s = [c.interval_max_s for c in recording.channels if c.interval_max_s is not None]
        return max(stamps) + round(max(pauses_s, default=0.0) * self._tick_hz)

    def power_up(self, tick_s: float) -> None:
        """A recording has no time but its own."""

    def advance(self, first_tick: int, end_tick: int) -> Stretch:
        """What the recording holds between the two ticks, round after round when it loops."""
        groups = tuple(
            self._even(values, samples_before(first_tick, members[0]), samples_before(end_tick, members[0]))
            for values, members in zip(self._values, grouped(self.channels), strict=True)
        )
        slow: list[SlowValue] = []
        ticks, states = [np.zeros(0, np.int64)], [np.zeros(0, np.uint8)]
        for shift in self._round_starts(first_tick, end_tick):
            some = _between(self._slow_ticks, first_tick - shift, end_tick - shift)
            slow += [SlowValue(one.channel, one.tick + shift, one.value) for one in self._slow[some]]
            some = _between(self._edge_ticks, first_tick - shift, end_tick - shift)
            ticks.append(self._edge_ticks[some] + shift)
            states.append(self._edge_states[some])
        return Stretch(groups, tuple(slow), np.concatenate(ticks), np.concatenate(states))

    def _even(self, values: NDArray[np.float64], first: int, end: int) -> NDArray[np.float64]:
        if not self._loop:
            return values[:, first:end]
        return values[:, np.arange(first, end) % values.shape[1]]

    def _round_starts(self, first_tick: int, end_tick: int) -> list[int]:
        """Start ticks of the rounds that reach into the stretch."""
        if not self._loop:
            return [0]
        first = max(0, int(first_tick // self._round) - 1)  # the one before: its last edge may lie on the border
        return [round(k * self._round) for k in range(first, int(end_tick // self._round) + 1)]


def _between(ticks: NDArray[np.int64], first: int, end: int) -> slice:
    low, high = np.searchsorted(ticks, (first, end))
    return slice(int(low), int(high))


def _descriptions(recording: Recording) -> tuple[ChannelDescription, ...]:
    """The channels as the board describes them; even channels of one rate and as many bits form a group, in order of
    appearance."""
    rates = [None if c.rate_hz is None else _ticks_per_sample(c, recording.tick_hz) for c in recording.channels]
    alike = [(rate, channel.bits) for channel, rate in zip(recording.channels, rates, strict=True)]
    groups = list(dict.fromkeys(each for each in alike if each[0] is not None))
    return tuple(
        _described(index, channel, rate, None if rate is None else groups.index((rate, bits)), recording.tick_hz)
        for index, (channel, (rate, bits)) in enumerate(zip(recording.channels, alike, strict=True))
    )


def _ticks_per_sample(channel: RecordedChannel, tick_hz: int) -> Fraction:
    ticks = (Fraction(tick_hz) / Fraction(channel.rate_hz or 0)).limit_denominator(_DENOMINATOR_MAX)
    if ticks < 1:
        raise RecordingError(
            f"{channel.name}: {float(channel.rate_hz or 0):g} Hz is above tick_hz = {tick_hz}: raise that"
        )
    return ticks


def _described(
    index: int, channel: RecordedChannel, rate: Fraction | None, group: int | None, tick_hz: int
) -> ChannelDescription:
    code_max = _CODE_MAX[channel.bits]
    scale = (channel.high - channel.low) / (2 * code_max)
    interval = None if channel.interval_max_s is None else -int(-channel.interval_max_s * tick_hz // 1)
    return ChannelDescription(
        index,
        channel.role,
        channel.name,
        channel.place,
        channel.unit,
        scale,
        offset=(channel.high + channel.low) / 2,
        code_low=-code_max,
        code_high=code_max,
        group=group,
        ticks_per_sample=rate,
        interval_ticks_max=interval if rate is None else None,
        kind=channel.kind,
        kind_ticks=round(channel.kind_s * tick_hz),
        delay_ns=round(channel.delay_s * 1e9),
        delay_limit_ns=None if channel.delay_limit_s is None else round(channel.delay_limit_s * 1e9),
        noise_codes_rms=None if channel.noise_rms is None else channel.noise_rms / scale,
        gain_limit=channel.gain_limit,
        offset_limit_codes=None if channel.offset_limit is None else channel.offset_limit / scale,
        corner_low_hz=channel.corner_low_hz,
        corner_high_hz=channel.corner_high_hz,
        ac_coupled=channel.ac_coupled,
        word=Word.INT16 if rate is None else _WORDS[channel.bits],
    )
