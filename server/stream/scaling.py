"""The only place where the board's counts become SI units.

Pure functions of descriptions and words. Assumes messages that the codec has accepted; judges only what the codec
cannot know: whether a group's channels fit together and whether its rate is one that this service can hold.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import ChannelDescription, InputDescription, Word
from server.calibration.correction import Correction
from server.samples import Channel, Input, Part
from server.stream.words import codes_of, kept_bytes

WINDOW_S = 0.2
WINDOW_SAMPLES_MIN = 16  # a slower group gets a longer window, so that it still holds a waveform
TICK_HZ_MIN = 1000  # a slower tick could not tell two rows of 10 ms apart
NAME_MAX = 40  # letters of what a board calls a thing: the page has to have room for it
UNIT_MAX = 12
RANGE_MAX = 1e15  # in a channel's unit: more is no measurement, and would not fit a picture
WINDOW_VALUES_MAX = 400_000  # of all groups: 2 MS/s, three times what the fastest port carries
GROUPS_MAX = 16  # a group has windows of its own: 16 slow ones cost a tenth of a core, 64 half of one (measured)
INTERVAL_S_MAX = 3600.0  # between samples of an uneven channel: what is older is no reading of now
_NO_CORRECTION = Correction()
Corrections = Mapping[int, Correction]  # by the index of the channel


@dataclass(frozen=True, slots=True)
class Group:
    """Evenly sampled channels that come together. The arrays have shape (channels, 1).

    value = factor * code + offset; a value at or beyond `bottom`, `top` is clipped. Window k of the group covers
    samples k * window .. (k + 1) * window - 1 as the board counts them.
    """

    index: int
    channels: tuple[Channel, ...]
    ticks_per_sample: Fraction
    tick_hz: float
    window: int
    word: Word
    set_bytes: int  # of one sample set as it is kept
    factor: NDArray[np.float64]
    offset: NDArray[np.float64] | None  # None: all are 0
    bottom: NDArray[np.float64]
    top: NDArray[np.float64]
    unclipped: NDArray[np.bool_]  # nothing clipped, nothing missing: read-only, shared by all undamaged windows
    unmissed: NDArray[np.bool_]

    def ticks(self, samples: int) -> int:
        """Whole ticks that so many samples last, rounded to the nearest, halves up. Exact for any length of a run."""
        part, whole = self.ticks_per_sample.numerator * samples, self.ticks_per_sample.denominator
        return (2 * part + whole) // (2 * whole)


class ImpossibleDescriptionError(ValueError):
    """A description that the codec can read and that no board can mean; the sentence names the channel."""


def channel_of(said: ChannelDescription, tick_hz: int, correction: Correction = _NO_CORRECTION) -> Channel:
    """A channel's description in the service's terms: seconds and SI units in place of ticks and codes.

    What was calibrated is as uncertain as that; of the rest the board's stated limits hold.
    """
    scale, offset = _line(said, correction)
    ends = sorted((scale * said.code_low + offset, scale * said.code_high + offset))
    even, step = said.ticks_per_sample, abs(scale)
    span = max(abs(ends[0]), abs(ends[1]))
    offset_limit = _times(said.offset_limit_codes, step)
    if offset_limit is not None and offset_limit >= span:
        offset_limit = None  # no channel is off by all of its range: as good as not stated
    zero, offset_part = correction.zero_part, within(offset_limit)
    gain_limit = said.gain_limit if said.gain_limit is not None and said.gain_limit < 1.0 else None
    if zero is not None:
        offset_limit = min(2.0 * zero.standard, inf if offset_limit is None else offset_limit)
    return Channel(
        index=said.index,
        role=said.role,
        name=said.name[:NAME_MAX],
        place=said.place[:NAME_MAX],
        unit=said.unit[:UNIT_MAX],
        low=ends[0],
        high=ends[1],
        group=said.group,
        rate_hz=None if even is None else float(tick_hz / even),
        interval_max_s=None if said.interval_ticks_max is None else said.interval_ticks_max / tick_hz,
        kind=said.kind,
        noise_rms=_times(said.noise_codes_rms, step),
        delay_s=said.delay_ns * 1e-9 + correction.delay_s,
        corner_low_hz=said.corner_low_hz,
        corner_high_hz=said.corner_high_hz,
        ac_coupled=said.ac_coupled,
        offset_limit=offset_limit,
        gain=correction.gain_part or within(gain_limit),
        offset_error=zero or offset_part,
        delay_error=correction.delay_part if correction.skew_part else within(said.delay_limit_ns, 1e-9),
        skew=correction.skew_part,
        skew_from=correction.skew_from,
        turned_s=correction.delay_s,
        turned_hz=correction.turned_hz,
        step=step,
    )


def _line(said: ChannelDescription, correction: Correction) -> tuple[float, float]:
    """Scale and offset that make the corrected value of a code."""
    return correction.gain * said.scale, correction.gain * (said.offset - correction.zero)


def _times(codes: float | None, step: float) -> float | None:
    return None if codes is None else step * codes


def within(limit: float | None, unit: float = 1.0) -> Part | None:
    """Anywhere within a limit, all places alike: its half width over the root of 3 (JCGM 100, 4.3.7)."""
    return None if limit is None else Part(limit * unit / sqrt(3.0))


def input_of(said: InputDescription) -> Input:
    """An input's description; its delay and inversion stay with the description."""
    return Input(said.index, said.kind, said.name[:NAME_MAX], said.bit, said.pulses_per_turn, said.look_ticks or 1)


def groups_of(
    described: Sequence[ChannelDescription],
    tick_hz: int,
    clock_tolerance_ppm: float | None = None,
    corrections: Corrections | None = None,
) -> dict[int, Group]:
    """Groups by number, each with its channels in the order of their index, corrected as they were calibrated.

    Raises ImpossibleDescriptionError if the tick is too slow, a range is beyond all measure, two measure the same,
    channels of one group differ in rate or sample words, one promises a sample in years or all together come faster
    than any line carries them.
    """
    if tick_hz < TICK_HZ_MIN:
        raise ImpossibleDescriptionError(f"tick_hz is {tick_hz}, at least {TICK_HZ_MIN}")
    members: dict[int, list[ChannelDescription]] = {}
    for said in sorted(described, key=lambda channel: channel.index):
        channel = channel_of(said, tick_hz)
        if not -RANGE_MAX <= channel.low <= channel.high <= RANGE_MAX:
            raise ImpossibleDescriptionError(f"channel {said.index}: range {channel.low:g} to {channel.high:g}")
        if (channel.interval_max_s or 0.0) > INTERVAL_S_MAX:
            text = f"channel {said.index}: a sample every {channel.interval_max_s:g} s, at least one an hour"
            raise ImpossibleDescriptionError(text)
        if said.group is not None:
            members.setdefault(said.group, []).append(said)
    values = {number: _window(its[0], tick_hz) * len(its) for number, its in members.items()}
    if sum(values.values()) > WINDOW_VALUES_MAX:
        worst = members[max(values, key=lambda number: values[number])][0]
        raise ImpossibleDescriptionError(
            f"channel {worst.index}: {_rate(worst, tick_hz):g} samples a second are too many"
        )
    clock = within(clock_tolerance_ppm, 1e-6)
    groups = {number: _group(number, its, tick_hz, clock, corrections or {}) for number, its in members.items()}
    _no_two_alike(described)
    return groups


def judge_groups(described: Iterable[ChannelDescription]) -> None:
    """Of a board that is listened to now; a run of one with more can be read all the same, as it holds up nobody.

    Raises ImpossibleDescriptionError if it has more groups than a board may have.
    """
    firsts: dict[int, int] = {}
    for said in sorted(described, key=lambda channel: channel.index):
        if said.group is not None:
            firsts.setdefault(said.group, said.index)
    if len(firsts) > GROUPS_MAX:
        text = f"channel {list(firsts.values())[GROUPS_MAX]}: the first of {len(firsts)} groups that is more than"
        raise ImpossibleDescriptionError(f"{text} {GROUPS_MAX}; channels of one rate go into one group")


def _no_two_alike(described: Sequence[ChannelDescription]) -> None:
    """Readings are told apart by quantity and place."""
    first: dict[tuple[int, str], int] = {}
    for said in described:
        place = said.place or said.name
        other = first.setdefault((said.role, place.casefold()), said.index)
        if other != said.index:
            what = f"channels {other} and {said.index} both are {said.role.name.lower()} at {place or 'no place'}"
            raise ImpossibleDescriptionError(f"{what[:80]}: each needs a place of its own")


def _rate(said: ChannelDescription, tick_hz: int) -> float:
    return float(tick_hz / (said.ticks_per_sample or 1))


def _window(said: ChannelDescription, tick_hz: int) -> int:
    return max(round(WINDOW_S * _rate(said, tick_hz)), WINDOW_SAMPLES_MIN)


def _group(
    number: int, members: Sequence[ChannelDescription], tick_hz: int, clock: Part | None, corrections: Corrections
) -> Group:
    every = members[0].ticks_per_sample
    assert every is not None  # the codec accepts a group only with a rate
    for said in members:
        if said.ticks_per_sample != every:
            raise ImpossibleDescriptionError(f"channel {said.index} has another rate than its group {number}")
        if said.word is not members[0].word:
            raise ImpossibleDescriptionError(f"channel {said.index} has other sample words than its group {number}")
    window = _window(members[0], tick_hz)
    its = [corrections.get(said.index, _NO_CORRECTION) for said in members]
    lines = [_line(*each) for each in zip(members, its, strict=True)]
    factor, offset = _column(scale for scale, _ in lines), _column(offset for _, offset in lines)
    # The ends are computed as the samples are, so that comparing values is comparing codes, to the last bit.
    ends = factor * _column(said.code_low for said in members) + offset
    others = factor * _column(said.code_high for said in members) + offset
    return Group(
        index=number,
        channels=tuple(
            replace(channel_of(said, tick_hz, each), clock=clock) for said, each in zip(members, its, strict=True)
        ),
        ticks_per_sample=every,
        tick_hz=float(tick_hz),
        window=window,
        word=members[0].word,
        set_bytes=kept_bytes(members[0].word) * len(members),
        factor=factor,
        offset=offset if offset.any() else None,
        bottom=np.minimum(ends, others),
        top=np.maximum(ends, others),
        unclipped=_nothing(len(members), window),
        unmissed=_nothing(window),
    )


def _nothing(*shape: int) -> NDArray[np.bool_]:
    nothing = np.zeros(shape, dtype=np.bool_)
    nothing.flags.writeable = False
    return nothing


def _column(values: Iterable[float]) -> NDArray[np.float64]:
    return np.array([[value] for value in values], dtype=np.float64)


def scale_words(group: Group, words: bytes, out: NDArray[np.float64]) -> None:
    """Write the samples in `words` (set after set, as they are kept) to `out`, shape (channels, samples), SI units."""
    out[...] = codes_of(words, group.word).reshape(-1, len(group.channels)).T
    out *= group.factor
    if group.offset is not None:
        out += group.offset


def clipped_in(group: Group, values: NDArray[np.float64]) -> NDArray[np.bool_] | None:
    """Which values, shape (channels, samples), lie at or beyond the ends of the range; None if none does."""
    if not values.size:
        return None
    if not ((values.max(axis=1) >= group.top[:, 0]).any() or (values.min(axis=1) <= group.bottom[:, 0]).any()):
        return None
    return (values >= group.top) | (values <= group.bottom)


def scale_code(said: ChannelDescription, code: int) -> tuple[float, bool]:
    """One sample of an uneven channel in SI units, and whether it lies at or beyond the end of the range."""
    return said.scale * code + said.offset, not said.code_low < code < said.code_high
