"""Samples that did not come, and channels that reached the end of their range."""

from dataclasses import dataclass

from server.events.block import Block, Detector
from server.readings import Event

QUIET_S = 2.0  # so long without it makes the next one an event of its own, and so does a gap that is as long


@dataclass(frozen=True, slots=True)
class _Gap:
    """`last_s`: board time of the last one. Of one that may go on: since when, and how many samples so far."""

    last_s: float | None = None
    since_s: float | None = None
    samples: int = 0


def _gap(state: _Gap | None, block: Block) -> tuple[_Gap, list[Event]]:
    """Told with its whole length, once it is over or lasts. What the board sent before anybody listened is no gap."""
    absent = block.window.missing
    if state is None:
        state, absent = _Gap(), absent[int(absent.argmin()) :]
    missing, since_s = int(absent.sum()), state.since_s
    if missing or block.gap_s:
        if since_s is None:
            since_s = block.window.first_tick / block.window.tick_hz - block.gap_s
        samples = state.samples + missing + round(block.gap_s * block.window.rate_hz)
        state = _Gap(state.last_s, since_s, samples)
        if block.board_s - since_s < QUIET_S or block.gap_s:
            return state, []
    if since_s is None:
        return state, []
    missing_s = state.samples / block.window.rate_hz
    if state.last_s is not None and since_s - state.last_s < QUIET_S and missing_s < QUIET_S:
        return _Gap(block.board_s), []
    return _Gap(block.board_s), [_gap_event(since_s, state.samples, missing_s)]


def _gap_event(since_s: float, samples: int, seconds: float) -> Event:
    count = "1 sample" if samples == 1 else f"{samples} samples"
    if seconds >= 1:
        return Event("gap", since_s, f"{seconds:.1f} s of samples did not come", count)
    return Event("gap", since_s, "Samples did not come", f"{count}, {1000 * seconds:.0f} ms")


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
