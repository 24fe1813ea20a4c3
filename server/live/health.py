"""Board and wire as the page shows them: damage counted by kind, who the board is, how it is. Pure and bounded."""

from collections import deque
from math import isfinite

import numpy as np

from firmware_protocol import ChannelDescription, Identity, Status
from server.live.records import BoardClock
from server.pipeline import Description, Output
from server.readings import DamageReport
from server.samples import Channel, Samples
from server.stream.scaling import NAME_MAX

RATE_OVER_S = 2.0
LOST = ("lost", "gap")
_NO_FAULT = ("cut_start", "unknown")


class Health:
    """Of one board; a new one begins anew."""

    def __init__(self) -> None:
        self.identity: Identity | None = None
        self._channels: dict[int, Channel] = {}
        self._said: dict[int, ChannelDescription] = {}  # in the board's own words
        self._clipped: dict[int, int] = {}
        self._status: Status | None = None
        self._frames = self._frames_lost = self._checksum = self._samples_missing = 0
        self._unknown_frames = self._unknown_fields = 0  # of a later version: skipped, and no fault
        self._last: tuple[str, float | None] = "", None
        self._recent: deque[tuple[float, int]] = deque(maxlen=1000)  # board time and frames by then

    def take(self, output: Output, clock: BoardClock, board_s: float | None) -> None:
        """Count what one push brought; `board_s` is the newest board time known."""
        if output.status is not None:
            self._status = output.status
            self._unknown_fields += len(output.status.unknown)
        self._frames += output.frames
        if board_s is not None and output.frames:
            self._recent.append((board_s, self._frames))
            while self._recent[0][0] < board_s - RATE_OVER_S or self._recent[0][0] > board_s:
                self._recent.popleft()
        for report in output.damage:
            self._count(report, clock)
        for block in output.samples:
            self._count_clipped(block)

    def describe(self, described: Description, channels: tuple[Channel, ...]) -> None:
        """The board has said who it is."""
        self.identity = described.identity
        self._channels = {channel.index: channel for channel in channels}
        self._said = {said.index: said for said in described.channels}
        self._clipped = {}
        self._unknown_fields += sum(len(said.unknown) for said in described.messages)

    def calibrate(self, channels: tuple[Channel, ...]) -> None:
        """The same channels are read otherwise from here on."""
        self._channels = {channel.index: channel for channel in channels}

    def _count(self, report: DamageReport, clock: BoardClock) -> None:
        self._samples_missing += report.samples
        if report.kind == "checksum":
            self._checksum += report.frames
        elif report.kind == "lost":
            self._frames_lost += report.frames
        elif report.kind == "unknown":
            self._unknown_frames += report.frames
        if report.kind not in _NO_FAULT:
            self._last = report.text, None if report.board_s is None else clock.utc_s(report.board_s)

    def _count_clipped(self, block: Samples) -> None:
        if not block.clipped.any():
            return
        for channel, count in zip(block.channels, np.count_nonzero(block.clipped, axis=1).tolist(), strict=True):
            self._clipped[channel.index] = self._clipped.get(channel.index, 0) + count

    @property
    def channels(self) -> tuple[Channel, ...]:
        """As the board described them and they were calibrated."""
        return tuple(self._channels.values())

    @property
    def has_channels(self) -> bool:
        """Whether this board measures anything beside its inputs."""
        return bool(self._channels)

    def damage(self, streaming: bool) -> dict[str, object]:
        """The `damage` of SOCKET.md; no rate is told once nothing comes any more."""
        rate = 0.0
        if streaming and len(self._recent) > 1 and (took := self._recent[-1][0] - self._recent[0][0]) > 0:
            rate = (self._recent[-1][1] - self._recent[0][1]) / took
        text, utc_s = self._last
        return {
            "frames_lost": self._frames_lost,
            "checksum": self._checksum,
            "frames": self._frames,
            "frames_per_s": rate,
            "last_text": text,
            "last_utc_s": utc_s,
            "samples_missing": self._samples_missing,
            "dropped_blocks": self._status.dropped_blocks if self._status else 0,
            "overruns": self._status.overruns if self._status else 0,
            "unknown_frames": self._unknown_frames,
            "unknown_fields": self._unknown_fields,
        }

    def board(self, up_s: float | None, drift_ppm: float | None) -> dict[str, object] | None:
        """The `board` of SOCKET.md; None until a description came."""
        who, status = self.identity, self._status
        if who is None:
            return None
        return {
            "serial": who.serial[:NAME_MAX],
            "model": who.model[:NAME_MAX],
            "firmware": who.firmware[:NAME_MAX],
            "protocol": f"{who.major}.{who.minor}",
            "boot": who.boot,
            "up_s": up_s,
            "temperature_c": finite(status.temperature_c) if status else None,
            "supply_v": finite(status.supply_v) if status else None,
            "clock_drift_ppm": finite(drift_ppm),
            "channels": [self._channel(channel) for channel in self._channels.values()],
        }

    def _channel(self, channel: Channel) -> dict[str, object]:
        """One of the channels of `board`; `said` is the board's own word where a person set another."""
        said = self._said[channel.index]
        place = said.place[:NAME_MAX]
        changed = (channel.role, channel.place) != (said.role, place)
        return {
            "index": channel.index,
            "name": channel.name,
            "place": channel.place,
            "role": channel.role.name.lower(),
            "said": {"role": said.role.name.lower(), "place": place} if changed else None,
            "unit": channel.unit,
            "low": finite(channel.low),
            "high": finite(channel.high),
            "rate_hz": finite(channel.rate_hz),
            "interval_max_s": finite(channel.interval_max_s),
            "noise_rms": finite(channel.noise_rms),
            "offset_limit": finite(channel.offset_limit),
            "step": finite(channel.step),
            "clipped": self._clipped.get(channel.index, 0),
        }


def finite(value: float | None) -> float | None:
    """The value if JSON has it; a board may send what is no number."""
    return value if value is not None and isfinite(value) else None
