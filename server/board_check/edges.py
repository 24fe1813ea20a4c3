"""Inputs: edges with their ticks, levels that agree with them, counters."""

from bisect import bisect_right
from itertools import pairwise
from math import gcd

from firmware_protocol import Counters, Edges, InputKind, Message, SampleBlock, Singles, Status
from server.board_check.record import AGAIN, STREAM, Record
from server.board_check.verdict import NO_DESCRIPTION, Check, CheckResult, failed, not_tried, passed

_MODULUS = 1 << 32
_NO_INPUT = not_tried("no input is described whose changes are sent")
_SECOND_SHARE = 1.05  # a counter once a second on the whole, give or take what a busy board is late
_SECOND = 1.3  # of one silence: what else came tells the time to a status or so
_PER_S_MAX = 20
_GRID_EDGES, _GRID_APART = 32, 4  # so many edges, so many different times between them: by chance all even once in 2^31


def _mask(record: Record) -> int | None:
    said = record.description
    if said is None:
        return None
    return sum(1 << each.bit for each in said.inputs if each.kind is not InputKind.COUNTER)


def numbered(record: Record) -> CheckResult:
    mask = _mask(record)
    if not mask:
        return NO_DESCRIPTION if mask is None else _NO_INPUT
    due: int | None = None
    last, count = -1, 0
    lost = record.lost(STREAM) or any(each.lost_edges for each in record.of(Status))
    again = record.of(Edges, AGAIN)[:1]  # those of the time between are not sent, and keep their numbers
    for message in [*record.of(Edges, STREAM), *again]:
        missing = 0 if due is None else (message.first_edge - due) % _MODULUS
        may_miss = _MODULUS // 2 if lost or message in again else 0
        if missing > may_miss:
            return failed(f"number {message.first_edge} came where {due} was due, and no status counts lost edges")
        if message.ticks[0] <= last:
            return failed(f"tick {message.ticks[0]} came after tick {last}")
        if any(state & ~mask for state in message.states):
            return failed("a bit is set that no input has")
        count, last = count + len(message.ticks), message.ticks[-1]
        due = (message.first_edge + len(message.ticks)) % _MODULUS
    return passed(f"{count} edges") if count else not_tried("no input changed")


def before_later(record: Record) -> CheckResult:
    mask = _mask(record)
    if not mask:
        return NO_DESCRIPTION if mask is None else _NO_INPUT
    newest, said, seen = -1, "", False
    for _, received in record.received(STREAM):
        message = received.message
        seen = seen or isinstance(message, Edges)
        if (tick := _vouches_for(message)) > newest:
            newest, said = tick, type(message).__name__
        elif isinstance(message, Edges) and message.ticks[0] < newest:
            return failed(f"an edge of tick {message.ticks[0]} came behind a {said} of tick {newest}")
    return passed("each before all that has a later tick") if seen else not_tried("no input changed")


def _vouches_for(message: Message) -> int:
    """No edge before this tick may come behind this message."""
    if isinstance(message, SampleBlock | Status):
        return message.tick
    items = message.singles if isinstance(message, Singles) else message.counts if isinstance(message, Counters) else ()
    return max((each.tick for each in items), default=-1)


def levels(record: Record) -> CheckResult:
    mask = _mask(record)
    if not mask:
        return NO_DESCRIPTION if mask is None else _NO_INPUT
    if record.lost(STREAM):
        return not_tried("frames were lost, and perhaps edges with them")
    pairs = [pair for message in record.of(Edges, STREAM) for pair in zip(message.ticks, message.states, strict=True)]
    ticks = [tick for tick, _ in pairs]
    seen = 0
    for status in record.of(Status, STREAM):
        if status.levels & ~mask:
            return failed("a bit is set that no input has")
        at = bisect_right(ticks, status.tick)
        if not at or status.lost_edges:
            continue
        seen += 1
        if status.levels != pairs[at - 1][1]:
            by_edges = pairs[at - 1][1]
            return failed(f"the status of tick {status.tick} says {status.levels:#04x}, the edges {by_edges:#04x}")
    return passed(f"{seen} status messages agree with the edges") if seen else not_tried("no input changed")


def looks(record: Record) -> CheckResult:
    """A board that only looks at its inputs at even times gives itself away: its edges lie on a grid of ticks."""
    mask = _mask(record)
    if not mask:
        return NO_DESCRIPTION if mask is None else _NO_INPUT
    assert record.description is not None
    stated = max(each.look_ticks or 1 for each in record.description.inputs if each.kind is not InputKind.COUNTER)
    ticks = [tick for message in record.of(Edges, STREAM) for tick in message.ticks]
    apart = {after - before for before, after in pairwise(ticks)}
    if len(ticks) < _GRID_EDGES or len(apart) < _GRID_APART:
        return not_tried("too few edges came, or all of them alike: turn the shaft by hand")
    grid = gcd(*apart)
    if grid > stated:
        says = f"looks {stated} ticks apart" if stated > 1 else "no look_ticks"
        return failed(f"edges come at multiples of {grid} ticks, and the description states {says}")
    return passed(f"looks {stated} ticks apart are stated" if stated > 1 else "each edge has its own tick")


def counters(record: Record) -> CheckResult:
    said = record.description
    if said is None:
        return NO_DESCRIPTION
    indices = [each.index for each in said.inputs if each.kind is InputKind.COUNTER]
    if not indices:
        return not_tried("no counter is described")
    frames = record.of(Counters, STREAM)
    if strange := {one.input for message in frames for one in message.counts} - set(indices):
        return failed(f"input {min(strange)} was counted, which is not described as a counter")
    for index in indices:
        its = [one for message in frames for one in message.counts if one.input == index]
        silent_s = _longest_silence(record, index) / said.identity.tick_hz
        if len(its) * _SECOND_SHARE < record.seconds - 1:
            return failed(f"input {index} was told {len(its)} times in {record.seconds:g} s, at least once a second")
        if silent_s > _SECOND:
            return failed(f"input {index} was not told for {silent_s:.1f} s, at least once a second")
        if len(its) > _PER_S_MAX * (record.seconds + 1):
            return failed(f"input {index} was told {len(its)} times in {record.seconds:g} s, at most 20 a second")
        for before, after in pairwise(its):
            if (after.count - before.count) % _MODULUS > _MODULUS // 2 or after.tick < before.tick:
                return failed(f"input {index} went from {before.count} back to {after.count}")
    return passed(f"{len(indices)} counters")


def _longest_silence(record: Record, index: int) -> int:
    """Ticks without a word of this counter, by all else that came meanwhile."""
    newest = since = longest = -1
    for _, received in record.received(STREAM):
        message = received.message
        newest = max(newest, getattr(message, "tick", -1))
        since = newest if since < 0 else since
        longest = max(longest, newest - since)
        if isinstance(message, Counters) and any(one.input == index for one in message.counts):
            since = newest
    return longest


CHECKS = (
    Check("edges", numbered, "number every edge, ticks rising; count in Status what was seen and not sent", 10),
    Check("edges first", before_later, "send an edge before any block, single, counter or status of a later tick", 8),
    Check("levels", levels, "the levels in Status are those after the last edge up to its tick", 10),
    Check(
        "looks", looks, "state in look_ticks how far apart the board's looks at its inputs are, or stamp each edge", 10
    ),
    Check("counters", counters, "send each counter when it changed, at most 20 times a second, at least once", 7),
)
