"""A place in a run without all that came before it: the settings, the calibration and the description
as they held, then its bytes.

Reads only. A pipeline that begins here knows nothing of what lies further back, as one that begins to watch does.
"""

from collections.abc import Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import Any

from firmware_protocol import ChannelDescription, Decoder, Identity, InputDescription, Received
from server.runs.digest import CHANGES_MAX
from server.runs.kept import from_whole_frame, kept_frames
from server.runs.layout import Entry, Kind
from server.runs.replay import in_turn
from server.runs.segments import begins_utc_s, segments
from server.stream.describing import Describer, Description

BEFORE_S = 10.0  # it begins so long before the place, so that what looks back knows something
_FOLLOWING_BYTES = 1 << 16  # in which the first whole frame is looked for


def entries_at(run: Path, digest: dict[str, Any], utc_s: float) -> Iterator[Entry | str] | None:
    """The entries from a little before a place on; None where the whole way must be played. Raises OSError.

    `digest`: the run in short, which knows what held there.
    """
    begin_utc_s = utc_s - BEFORE_S
    settings, said = _held(digest["settings"], begin_utc_s), _held(digest["described"], begin_utc_s)
    description = None if said is None else _description(bytes.fromhex(said[1]))
    if settings is None or description is None or len(digest["calibrations"]) >= CHANGES_MAX:
        return None
    calibration = _held(digest["calibrations"], begin_utc_s)
    behind = _from(in_turn(_segments_from(run, begin_utc_s), from_utc_s=begin_utc_s), begin_utc_s)
    first: list[Entry | str] = []
    for each in behind:
        first.append(each)
        if _bytes_of(first) >= _FOLLOWING_BYTES:
            break
    frames = kept_frames(description, from_whole_frame(_joined(first)))
    held = [Entry(Kind.BEGIN, begin_utc_s, settings[1].encode())]
    if calibration is not None:  # as old as it was when it came into the run
        held.append(Entry(Kind.CALIBRATION, calibration[0], calibration[1].encode()))
    return chain(held, (Entry(Kind.KEPT, begin_utc_s, frames),), _whole(first), behind)


def _held(changes: Sequence[tuple[float, str]], utc_s: float) -> tuple[float, str] | None:
    """What held at a moment, and since when; None where nothing did yet, or where not all changes are known."""
    if len(changes) >= CHANGES_MAX:
        return None
    return next(((at_s, said) for at_s, said in reversed(changes) if at_s <= utc_s), None)


def _description(frames: bytes) -> Description | None:
    describer, found = Describer(), None
    for each in Decoder(from_board=True).feed(frames):
        if isinstance(each, Received) and isinstance(each.message, Identity | ChannelDescription | InputDescription):
            found = describer.take(each.message) or found
    return found


def _segments_from(run: Path, utc_s: float) -> list[Path]:
    """The segments from the one on that holds this moment; each tells in its first entry when it begins."""
    there = segments(run)
    for number in range(len(there) - 1, 0, -1):
        begins = begins_utc_s(there[number])
        if begins is not None and begins <= utc_s:
            return there[number:]
    return there


def _from(entries: Iterator[Entry | str], utc_s: float) -> Iterator[Entry | str]:
    for each in entries:
        if isinstance(each, Entry) and each.utc_s >= utc_s:
            yield each
            break
    yield from entries


def _bytes_of(entries: list[Entry | str]) -> int:
    return sum(len(each.payload) for each in entries if isinstance(each, Entry) and each.kind is Kind.CHUNK)


def _joined(entries: list[Entry | str]) -> bytes:
    return b"".join(each.payload for each in entries if isinstance(each, Entry) and each.kind is Kind.CHUNK)


def _whole(entries: list[Entry | str]) -> Iterator[Entry | str]:
    """The same without the end of a frame whose beginning is not there."""
    begun = False
    for each in entries:
        if begun or isinstance(each, str) or each.kind is not Kind.CHUNK:
            yield each
            continue
        whole = from_whole_frame(each.payload) if b"\0" in each.payload else b""
        if whole:
            begun = True
            yield Entry(each.kind, each.utc_s, whole)
