"""Samples that did not come, and channels that reached the end of their range."""

from dataclasses import dataclass

from server.events.block import Block, Detector
from server.readings import Event

QUIET_S = 2.0  # so long without it makes the next one an event of its own


def _gap(last_s: float | None, block: Block) -> tuple[float | None, list[Event]]:
    """The state is the board time of the last gap."""
    missing = int(block.window.missing.sum())
    if not missing and not block.gap_s:
        return last_s, []
    first_s = block.window.first_tick / block.window.tick_hz - block.gap_s
    missing_s = block.gap_s + missing / block.window.rate_hz
    if last_s is not None and first_s - last_s < QUIET_S:
        return block.board_s, []
    text = f"{missing_s:.1f} s of samples did not come" if missing_s >= 1 else "Samples did not come"
    return block.board_s, [Event("gap", first_s, text, f"{missing} of {block.window.count} in this window")]


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
