"""Samples: blocks as they were described, each in its place in time, none missing without a word."""

from collections.abc import Iterator
from fractions import Fraction

from firmware_protocol import ChannelDescription, SampleBlock, Singles, Status
from firmware_protocol.rate import BLOCK_S_MAX
from server.board_check.record import AGAIN, BEHIND, DESCRIBE, OTHER, RUBBISH, STREAM, Record
from server.board_check.verdict import CHANGED, NO_DESCRIPTION, Check, CheckResult, failed, not_tried, passed
from server.stream.describing import Description

_MODULUS = 1 << 32
_SLACK_S = 0.1  # what a board may be late at the end of the listening


def members(said: Description, group: int) -> list[ChannelDescription]:
    return [each for each in said.channels if each.group == group]


def fitting(record: Record, said: Description, *names: str) -> Iterator[SampleBlock]:
    """Blocks that are as they were described."""
    for _, received in record.received(*names):
        message = received.message
        if isinstance(message, SampleBlock) and not _wrong(message, said):
            yield message


def _wrong(block: SampleBlock, said: Description) -> str:
    its = members(said, block.group)
    if not its:
        return f"a block of group {block.group}, which no channel has"
    if block.channels != len(its):
        return f"a block of group {block.group} held {block.channels} channels, described are {len(its)}"
    if block.WORD is not its[0].word:
        return f"a block of group {block.group} came as {type(block).__name__}, described is {its[0].word.name.lower()}"
    return ""


def as_described(record: Record) -> CheckResult:
    said = record.description
    if said is None:
        return NO_DESCRIPTION
    if record.changed:
        return CHANGED
    groups = {each.group for each in said.channels if each.group is not None}
    seen = {message.group for _, each in record.received() if isinstance(message := each.message, SampleBlock)}
    wrong = next((text for _, each in record.received() if isinstance(each.message, SampleBlock)
                  and (text := _wrong(each.message, said))), "")  # fmt: skip
    if wrong:
        return failed(wrong)
    if groups - seen:
        return failed(f"no block came of group {min(groups - seen)}")
    return passed(f"{len(groups)} groups" if groups else "no even channel is described")


def continuous(record: Record) -> CheckResult:
    """Sample numbers while it streams; what the board itself counts as dropped or overrun is told by another check."""
    said = record.description
    if said is None:
        return NO_DESCRIPTION
    if record.changed:
        return CHANGED
    due: dict[int, int] = {}
    missing = count = 0
    for block in fitting(record, said, STREAM):
        first, sets = block.first_sample, block.count
        gap = first - due.get(block.group, first)
        if gap < 0:
            return failed(f"group {block.group}: sample {first} came after {due[block.group] - 1}")
        missing, count = missing + gap, count + sets
        due[block.group] = first + sets
    if missing and not _told(record):
        return failed(f"{missing} sample sets are missing, and no status counts them")
    return passed(f"{count} sample sets, {missing} missing") if count else not_tried("no block came")


def _told(record: Record) -> bool:
    """The board counts what it dropped, or frames were lost: other checks tell of that."""
    statuses = [*record.of(Status, DESCRIBE)[-1:], *record.of(Status, STREAM, OTHER)]  # the next one tells of the last
    return record.lost(STREAM) or len({(each.dropped_blocks, each.overruns) for each in statuses}) > 1


def clocked(record: Record) -> CheckResult:
    """Tick of sample n = t0 + n * ticks_per_sample, rounded; another check looks across the time of a stop."""
    said = record.description
    if said is None:
        return NO_DESCRIPTION
    if record.changed:
        return CHANGED
    widest = [_widest(record, said, *names) for names in ((DESCRIBE, STREAM, OTHER, RUBBISH, BEHIND), (AGAIN,))]
    text = next((each for each in widest if isinstance(each, str)), "")
    if text:
        return failed(text)
    ticks = max((each for each in widest if isinstance(each, float)), default=None)
    return not_tried("no block came") if ticks is None else passed(f"each in its place, {ticks:.2g} ticks for rounding")


def _widest(record: Record, said: Description, *names: str) -> float | str | None:
    """Ticks between the bounds of t0 in these phases, or what lies elsewhere; None without a block."""
    bounds: dict[int, tuple[Fraction, Fraction]] = {}  # rounding leaves less than a tick between them
    for block in fitting(record, said, *names):
        every = members(said, block.group)[0].ticks_per_sample
        assert every is not None
        begin = block.tick - every * block.first_sample
        low, high = bounds.get(block.group, (begin, begin))
        if max(begin - low, high - begin) >= 1:
            off = float(begin - low if begin - low >= 1 else begin - high)
            return f"sample {block.first_sample} of group {block.group} lies {off:+.1f} ticks beside its place"
        bounds[block.group] = min(low, begin), max(high, begin)
    return max((float(high - low) for low, high in bounds.values()), default=None)


def in_time(record: Record) -> CheckResult:
    """A block goes out before a status that is later than the block's own length after its last sample."""
    said = record.description
    if said is None:
        return NO_DESCRIPTION
    if record.changed:
        return CHANGED
    newest, ends = -1, dict[int, Fraction]()  # of each group, when the block behind the last one is due
    for _, received in record.received(STREAM):
        message = received.message
        if isinstance(message, Status):
            newest = message.tick
        if not isinstance(message, SampleBlock) or _wrong(message, said):
            continue
        every = members(said, message.group)[0].ticks_per_sample
        assert every is not None
        sets, hertz = message.count, said.identity.tick_hz
        if sets > 1 and every * sets > BLOCK_S_MAX * hertz:
            held_ms = 1000.0 * float(every * sets) / hertz
            return failed(f"a block of group {message.group} held {sets} sets, {held_ms:.0f} ms of them, at most 50 ms")
        late = newest - (message.tick + every * (2 * sets - 1))
        if late > 1:
            ms = 1000.0 * float(late) / hertz
            return failed(f"a block of group {message.group} came {ms:.1f} ms too late, behind a status")
        ends[message.group] = message.tick + every * (3 * sets - 1)
    silent = [(newest - end) / said.identity.tick_hz for end in ends.values() if not _told(record)]
    if max(silent, default=0) > _SLACK_S:
        group = max(ends, key=lambda its: newest - ends[its])
        return failed(f"no block of group {group} came in the last {float(max(silent)):.1f} s")
    return passed("before the status that vouches for them") if ends else not_tried("no block came")


def singles(record: Record) -> CheckResult:
    said = record.description
    if said is None:
        return NO_DESCRIPTION
    promised = {each.index: each.interval_ticks_max for each in said.channels if each.interval_ticks_max}
    if not promised:
        return not_tried("no uneven channel is described")
    last: dict[int, tuple[int, int]] = {}
    told = _told(record)
    for message in record.of(Singles, STREAM):
        for one in message.singles:
            longest = promised.get(one.channel)
            if longest is None:
                return failed(f"a single sample of channel {one.channel}, which is not described as uneven")
            number, tick = last.get(one.channel, ((one.number - 1) % _MODULUS, one.tick - 1))
            missing = (one.number - number - 1) % _MODULUS
            if one.tick <= tick or missing > (_MODULUS // 2 if told else 0):
                its = f"number {one.number} of tick {one.tick}"
                return failed(f"channel {one.channel}: {its} came after {number} of {tick}")
            if one.channel in last and one.tick - tick > longest and not told:
                passed_s, promised_s = (ticks / said.identity.tick_hz for ticks in (one.tick - tick, longest))
                return failed(f"channel {one.channel}: {passed_s:.3g} s between two, promised are {promised_s:.3g} s")
            last[one.channel] = one.number, one.tick
    return _silent(record, said, {k: longest for k, longest in promised.items() if longest}, last)


def _silent(
    record: Record, said: Description, promised: dict[int, int], last: dict[int, tuple[int, int]]
) -> CheckResult:
    """Whether each channel was heard of as long as was listened."""
    hertz, end = said.identity.tick_hz, record.newest_tick(STREAM)
    begin = min((each.tick for each in record.of(Status, STREAM)), default=end)
    waits = []
    for channel, longest in promised.items():
        since = last.get(channel, (0, begin))[1]
        if end - since > longest + _SLACK_S * hertz and not _told(record):
            return failed(f"none came of channel {channel} in the last {(end - since) / hertz:.1f} s")
        waits += [longest / hertz] if channel not in last else []
    if waits:
        return not_tried(f"none was due: {max(waits):.3g} s are promised from one to the next")
    return passed(f"{len(promised)} channels")


CHECKS = (
    Check("blocks as described", as_described, "send each group in the message of its word, with all its channels", 10),
    Check("sample numbers", continuous, "a sample that is not sent keeps its number and is counted in Status", 6),
    Check("sample clock", clocked, "one clock for samples and ticks: set n is taken at t0 + n * ticks_per_sample", 6),
    Check(
        "blocks in time",
        in_time,
        "send a block every 50 ms or sooner, and before a Status that is later than its end",
        10,
    ),
    Check("single samples", singles, "number them one by one, ticks rising, at least as often as promised", 10),
)
