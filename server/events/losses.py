"""Samples that did not come, and channels that reached the end of their range."""

from dataclasses import dataclass

from server.events.block import Block, Detector
from server.readings import Event

QUIET_S = 2.0  # so long without it makes the next one an event of its own


@dataclass(frozen=True, slots=True)
class _Gap:
    last_s: float | None = None  # board time of the last one


def _gap(state: _Gap | None, block: Block) -> tuple[_Gap, list[Event]]:
    """What the board sent before anybody listened is no gap."""
    absent = block.window.missing
    if state is None:
        state, absent = _Gap(), absent[int(absent.argmin()) :]
    missing, last_s = int(absent.sum()), state.last_s
    if not missing and not block.gap_s:
        return state, []
    first_s = block.window.first_tick / block.window.tick_hz - block.gap_s
    missing_s = block.gap_s + missing / block.window.rate_hz
    if last_s is not None and first_s - last_s < QUIET_S:
        return _Gap(block.board_s), []
    text = f"{missing_s:.1f} s of samples did not come" if missing_s >= 1 else "Samples did not come"
    return _Gap(block.board_s), [Event("gap", first_s, text, f"{missing} of {block.window.count} in this window")]


@dataclass(frozen=True, slots=True)
class _Clipped:
    last_s: tuple[float | None, ...]  # of each channel


def _clipping(state: _Clipped | None, block: Block) -> tuple[_Clipped, list[Event]]:
    channels = block.window.channels
    last_s: list[float | None] = list(state.last_s) if state else [None] * len(channels)
    if not block.window.clipped.any():
        return _Clipped(tuple(last_s)), []
    found = []
    for k, channel in enumerate(channels):
        if not block.window.clipped[k].any():
            continue
        last, last_s[k] = last_s[k], block.board_s
        if last is None or block.board_s - last >= QUIET_S:
            first = int(block.window.clipped[k].argmax())
            board_s = (block.window.first_tick + first * block.window.ticks_per_sample) / block.window.tick_hz
            text = f"{channel.name or channel.place} reached the end of its range"
            ends = f"{channel.low:.4g} to {channel.high:.4g} {channel.unit}"
            found.append(Event("clipping", board_s, text, ends))
    return _Clipped(tuple(last_s)), found


GAP = Detector("gap", _gap)
CLIPPING = Detector("clipping", _clipping)
