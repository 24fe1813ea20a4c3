"""Uneven channels: each sample with its own tick, and a reading at its own time. Pure."""

from firmware_protocol import ChannelDescription, Single
from server.quantities import slow_reading
from server.readings import DamageReport, Instant
from server.samples import SlowSample
from server.stream.scaling import channel_of, scale_code

_MODULUS = 1 << 32


class SlowChannels:
    """All uneven channels of one board since its start."""

    def __init__(self, described: tuple[ChannelDescription, ...], tick_hz: int) -> None:
        self._tick_hz = float(tick_hz)
        self._said = {each.index: each for each in described if each.group is None}
        self._channels = {index: channel_of(said, tick_hz) for index, said in self._said.items()}
        self._last: dict[int, Single] = {}

    def take(self, single: Single) -> tuple[SlowSample | None, DamageReport | None]:
        """The sample in SI units, and what was missing before it. One that goes back in time is left out."""
        said, board_s = self._said.get(single.channel), single.tick / self._tick_hz
        if said is None:
            text = f"A single sample of channel {single.channel} came, which has none by its description"
            return None, DamageReport("contradiction", board_s, text, 1)
        last = self._last.get(single.channel)
        if last is not None and single.tick <= last.tick:
            return None, DamageReport("late", board_s, "A single sample came again or too late and was left out")
        self._last[single.channel] = single
        missing = 0 if last is None else (single.number - last.number - 1) % _MODULUS
        report = None
        if missing >= _MODULUS // 2:
            report = DamageReport("contradiction", board_s, f"The numbers of {_named(said)} ran backwards")
        elif missing:
            report = DamageReport("gap", board_s, f"{missing} samples of {_named(said)} did not come", samples=missing)
        value, clipped = scale_code(said, single.code)
        return SlowSample(self._channels[single.channel], single.number, single.tick, value, clipped), report

    def instant(self, sample: SlowSample) -> Instant:
        """The sample as a reading at its own time."""
        interval_s = sample.channel.interval_max_s or 0.0
        board_s = sample.tick / self._tick_hz
        return Instant(sample.tick, sample.tick, board_s, interval_s, (slow_reading(sample),))


def _named(said: ChannelDescription) -> str:
    return f"channel {said.index}" + (f" ({said.name})" if said.name else "")
