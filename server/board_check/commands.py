"""What a PC may ask: the description, to start and to stop, a version that does not fit; and rubbish instead."""

from firmware_protocol import (
    ChannelDescription,
    Counters,
    Edges,
    Identity,
    InputDescription,
    Message,
    SampleBlock,
    Singles,
    Status,
)
from server.board_check.record import AGAIN, BEHIND, DESCRIBE, IDLE, OTHER, RUBBISH, STILL, STOP, STREAM, Record
from server.board_check.samples import fitting, members
from server.board_check.verdict import (
    CHANGED,
    NO_ANSWERS,
    NO_DESCRIPTION,
    Check,
    CheckResult,
    failed,
    not_tried,
    passed,
)
from server.stream.describing import Describer

_DATA = (SampleBlock, Singles, Edges, Counters)
DESCRIBED_WITHIN_S = 1.0
STARTED_WITHIN_S = 0.6  # a slow group sends a block every 50 ms; the rest is what a line and this PC may hold
SLOW_S = 0.2  # from one sample to the next: such a board may be silent while it streams
STOPPED_WITHIN_S = 0.3  # what was under way


def _untried(record: Record, *phases: str) -> CheckResult | None:
    """Why nothing can be said of these phases, if it cannot."""
    if not record.answers:
        return NO_ANSWERS
    if record.description is None:
        return NO_DESCRIPTION
    if all(record.finished(name) for name in phases):
        return None
    why = "the board started anew" if record.restarted else "the port went away"
    return not_tried(f"{why} at: {record.restarted or record.gone}")


def _said(record: Record, *phases: str) -> list[Message]:
    return [received.message for _, received in record.received(*phases)]


def describe(record: Record) -> CheckResult:
    return _untried(record, DESCRIBE) or _described_in_time(record, DESCRIBE)


def _described_in_time(record: Record, name: str) -> CheckResult:
    took_s = _described_after_s(record, name)
    if took_s is None:
        return failed("no complete description came within 1 s")
    seen = f"complete after {1000 * took_s:.0f} ms"
    return passed(seen) if took_s <= DESCRIBED_WITHIN_S else failed(seen)


def _described_after_s(record: Record, name: str) -> float | None:
    """From the request to the end of the first description that began after it; those under way count as none."""
    describer, begun, phase = Describer(), False, record.phase(name)
    for at_s, received in record.received(name):
        message = received.message
        begun = begun or isinstance(message, Identity)
        if not begun or not isinstance(message, Identity | ChannelDescription | InputDescription):
            continue
        if describer.take(message) is not None and at_s is not None and phase.sent_s is not None:
            return at_s - phase.sent_s
    return None


def start(record: Record) -> CheckResult:
    if untried := _untried(record, AGAIN):
        return untried
    assert record.description is not None
    if all(each.group is None for each in record.description.channels):
        return not_tried("no even channel is described")
    if not _is_quick(record):
        return not_tried("its samples are too slow to tell")
    sent_s = record.phase(AGAIN).sent_s or 0.0
    for at_s, received in record.received(AGAIN):
        if isinstance(received.message, SampleBlock) and at_s is not None:
            seen = f"samples {1000 * (at_s - sent_s):.0f} ms after it"
            return passed(seen) if at_s - sent_s <= STARTED_WITHIN_S else failed(seen)
    return failed("no sample came after it")


def stop(record: Record) -> CheckResult:
    if untried := _untried(record, STOP):
        return untried
    sent_s = record.phase(STOP).sent_s or 0.0
    for at_s, received in record.received(STOP):
        after_s = (at_s or 0.0) - sent_s
        if isinstance(received.message, _DATA) and after_s > STOPPED_WITHIN_S:
            return failed(f"{type(received.message).__name__} still came {1000 * after_s:.0f} ms after it")
    said = record.of(Status, STOP)
    if not said:
        return failed("no status came after it")
    return failed("the status goes on to say that it streams") if said[-1].streaming else passed("only status after it")


def at_rest(record: Record) -> CheckResult:
    """A damaged Start, a second Stop, then a Describe: it says what it measures and stays stopped."""
    if untried := _untried(record, STOP, STILL, IDLE):
        return untried
    before = record.of(Status, STOP)
    if not before or before[-1].streaming:
        return not_tried("it did not stop")
    statuses = record.of(Status, STILL, IDLE)
    if any(isinstance(each, _DATA) for each in _said(record, IDLE)) or any(each.streaming for each in statuses):
        return failed("it began to send at a damaged Start, a second Stop, a Describe or a ClockRequest")
    if not statuses:
        return failed("no status came")
    return _described_in_time(record, IDLE)


def other_version(record: Record) -> CheckResult:
    if untried := _untried(record, OTHER):
        return untried
    assert record.description is not None
    said = _said(record, OTHER)
    identities = sum(isinstance(each, Identity) for each in said)
    if not identities:
        return failed("no identity came in answer to a Describe of another version")
    begun = sum(isinstance(each, ChannelDescription | InputDescription) and each.index == 0 for each in said)
    kinds = bool(record.description.channels) + bool(record.description.inputs)
    if kinds and begun >= kinds * identities:  # one of the two may have been the one of every 10 s
        return failed("it answered with its whole description")
    if _stopped(record, STREAM, OTHER):
        return failed("it stopped streaming after a Describe of another version")
    return passed("its identity came, and it went on")


def _stopped(record: Record, earlier: str, name: str) -> bool:
    """It streamed, and in this phase it does not: by its own word, or by its blocks where they are not too slow."""
    before, now = record.of(Status, earlier)[-1:], record.of(Status, name)[-1:]
    if before and now and before[0].streaming and not now[0].streaming:
        return True
    return _is_quick(record) and bool(record.of(SampleBlock, earlier)) and not record.of(SampleBlock, name)


def _is_quick(record: Record) -> bool:
    """It has a group that cannot be silent for long while it streams."""
    said = record.description
    rates = [each.ticks_per_sample for each in said.channels if each.ticks_per_sample is not None] if said else []
    return said is not None and bool(rates) and min(rates) <= SLOW_S * said.identity.tick_hz


def undisturbed(record: Record) -> CheckResult:
    if untried := _untried(record, RUBBISH, BEHIND):
        return untried
    assert record.description is not None
    if _described_after_s(record, BEHIND) is None:
        return failed("a Describe behind the rubbish was not answered")
    if _stopped(record, OTHER, BEHIND):
        return failed("it stopped streaming: it took a damaged Stop for a good one, or cannot bear rubbish")
    return passed("it went on and answered a Describe behind it")


def counts_on(record: Record) -> CheckResult:
    """Sample numbers and ticks across the time in which it was stopped."""
    if untried := _untried(record, STREAM, AGAIN):
        return untried
    if record.changed:
        return CHANGED
    said = record.description
    assert said is not None
    before = {each.group: each for each in fitting(record, said, STREAM)}
    after = {each.group: each for each in fitting(record, said, AGAIN)}
    for group in before.keys() & after.keys():
        every = members(said, group)[0].ticks_per_sample
        assert every is not None
        ticks = after[group].tick - before[group].tick
        counted = after[group].first_sample - before[group].first_sample
        if abs(ticks - every * counted) >= 1:
            return failed(f"group {group}: {counted} samples were counted where {float(ticks / every):.1f} passed by")
    if not before.keys() & after.keys():
        return not_tried("no block came after it was started again")
    return passed("samples that were not sent kept their numbers")


CHECKS = (
    Check("Describe", describe, "answer it with the whole description within 1 s", 7),
    Check("Start", start, "begin to send samples at once", 7),
    Check("Stop", stop, "end samples, singles, edges and counters, go on with Status, which says so", 7),
    Check("at rest", at_rest, "while it waits, answer Describe and ClockRequest, and begin at nothing but Start", 7),
    Check("another version", other_version, "answer with the Identity alone, and go on as before", 7),
    Check("rubbish", undisturbed, "throw away what is no good frame, and start anew after each delimiter", 12),
    Check("counting while stopped", counts_on, "go on counting samples that are not sent", 6),
)
