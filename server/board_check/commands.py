"""What a PC may ask: the four requests, a version that does not fit, and rubbish."""

from statistics import median

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Counters,
    Edges,
    Identity,
    InputDescription,
    Samples,
    Samples12,
    Samples24,
    Singles,
    Status,
)
from server.board_check.record import AGAIN, DESCRIBE, OTHER, RUBBISH, STOP, STREAM, Phase, Record
from server.board_check.samples import fitting, members
from server.board_check.verdict import NO_ANSWERS, NO_DESCRIPTION, Check, Seen, failed, not_tried, passed
from server.stream.describing import Describer

_DATA = (Samples, Samples12, Samples24, Singles, Edges, Counters)
DESCRIBED_WITHIN_S, REPLY_WITHIN_S = 1.0, 0.1
STARTED_WITHIN_S = 0.6  # a slow group sends a block every 50 ms; the rest is what a line and this PC may hold
STOPPED_WITHIN_S = 0.3  # what was under way


def describe(record: Record) -> Seen:
    if not record.answers:
        return NO_ANSWERS
    took_s = _described_after_s(record.phase(DESCRIBE))
    if took_s is None:
        return failed("no complete description came within 1 s")
    seen = f"complete after {1000 * took_s:.0f} ms"
    return passed(seen) if took_s <= DESCRIBED_WITHIN_S else failed(seen)


def _described_after_s(phase: Phase) -> float | None:
    """From the request to the end of the first description that began after it; those under way count as none."""
    describer, begun = Describer(), False
    for heard in phase.heard:
        message = getattr(heard.item, "message", None)
        begun = begun or isinstance(message, Identity)
        if not begun or message is None or not isinstance(message, Identity | ChannelDescription | InputDescription):
            continue
        if describer.take(message) is not None and heard.at_s is not None and phase.sent_s is not None:
            return heard.at_s - phase.sent_s
    return None


def start(record: Record) -> Seen:
    if not record.answers or record.description is None:
        return NO_DESCRIPTION if record.answers else NO_ANSWERS
    if not any(each.group is not None for each in record.description.channels):
        return not_tried("no even channel is described")
    phase = record.phase(AGAIN)
    for heard in phase.heard:
        if isinstance(getattr(heard.item, "message", None), _DATA[:3]) and heard.at_s is not None:
            took_s = heard.at_s - (phase.sent_s or 0.0)
            seen = f"samples {1000 * took_s:.0f} ms after it"
            return passed(seen) if took_s <= STARTED_WITHIN_S else failed(seen)
    return failed("no sample came after it")


def stop(record: Record) -> Seen:
    if not record.answers or record.description is None:
        return NO_DESCRIPTION if record.answers else NO_ANSWERS
    phase = record.phase(STOP)
    for heard in phase.heard:
        message = getattr(heard.item, "message", None)
        after_s = (heard.at_s or 0.0) - (phase.sent_s or 0.0)
        if isinstance(message, _DATA) and after_s > STOPPED_WITHIN_S:
            return failed(f"{type(message).__name__} still came {1000 * after_s:.0f} ms after it")
    said = [each.message for _, each in record.received(STOP) if isinstance(each.message, Status)]
    if not said:
        return failed("no status came after it")
    return failed("the status goes on to say that it streams") if said[-1].streaming else passed("only status after it")


def clock_request(record: Record) -> Seen:
    if not record.answers:
        return NO_ANSWERS
    late_s, answered = list[float](), set[int]()
    newest = -1
    for at_s, received in record.received(STREAM):
        message = received.message
        newest = max(newest, message.tick) if isinstance(message, Status) else newest
        if not isinstance(message, ClockReply) or at_s is None:
            continue
        asked_s = record.asked_s.get(message.token)
        if asked_s is None:
            return failed(f"an answer had the token {message.token}, which was not asked with")
        late_s.append(at_s - asked_s)
        answered.add(message.token)
        hertz = record.description.identity.tick_hz if record.description else None
        if hertz and message.sent_tick - message.received_tick > REPLY_WITHIN_S * hertz:
            held_s = (message.sent_tick - message.received_tick) / hertz
            return failed(f"by its own ticks the board held an answer for {1000 * held_s:.0f} ms")
        if hertz and newest >= 0 and abs(message.sent_tick - newest) > hertz:
            return failed(f"an answer had tick {message.sent_tick} where the newest status had {newest}")
    due = len(record.asked_s)
    if len(answered) < max(1, due - 2):
        return failed(f"{len(answered)} of {due} requests were answered")
    # Single ones may have waited in this PC; half of them cannot.
    seen = f"{len(answered)} of {due} answered, half of them within {1000 * median(late_s):.0f} ms"
    return passed(seen) if median(late_s) <= REPLY_WITHIN_S else failed(seen)


def other_version(record: Record) -> Seen:
    if not record.answers:
        return NO_ANSWERS
    said = [each.message for _, each in record.received(OTHER)]
    if not any(isinstance(each, Identity) for each in said):
        return failed("no identity came in answer to a Describe of another version")
    streams = record.description is not None and bool(record.description.channels)
    if streams and not any(isinstance(each, _DATA) for each in said):
        return failed("it stopped streaming after a Describe of another version")
    return passed("its identity came, and it went on")


def undisturbed(record: Record) -> Seen:
    if not record.answers or record.description is None:
        return NO_DESCRIPTION if record.answers else NO_ANSWERS
    phase = record.phase(RUBBISH)
    if _described_after_s(phase) is None:
        return failed("a Describe behind the rubbish was not answered")
    said = [each.message for _, each in record.received(RUBBISH)]
    if record.description.channels and not any(isinstance(each, _DATA) for each in said):
        return failed("it stopped streaming")
    statuses = [each for each in said if isinstance(each, Status)]
    if statuses and not statuses[-1].streaming:
        return failed("it took a damaged Stop for a good one")
    return passed("it went on and answered a Describe behind it")


def counts_on(record: Record) -> Seen:
    """Sample numbers across the time in which it was stopped."""
    said = record.description
    if said is None or not record.answers:
        return NO_DESCRIPTION if said is None else NO_ANSWERS
    before = {each.group: each for each in fitting(record, said, STREAM)}
    after = {each.group: each for each in fitting(record, said, AGAIN)}
    for group in before.keys() & after.keys():
        every = members(said, group)[0].ticks_per_sample
        assert every is not None
        passed_by = (after[group].tick - before[group].tick) / every
        counted = after[group].first_sample - before[group].first_sample
        if abs(passed_by - counted) > 1:
            return failed(f"group {group}: {counted} samples were counted where {float(passed_by):.0f} passed by")
    if not before.keys() & after.keys():
        return not_tried("no block came after it was started again")
    return passed("samples that were not sent kept their numbers")


CHECKS = (
    Check("Describe", describe, "answer it with the whole description within 1 s", 7),
    Check("Start", start, "begin to send samples at once", 7),
    Check("Stop", stop, "end samples, singles, edges and counters, go on with Status, which says so", 7),
    Check("ClockRequest", clock_request, "answer within 100 ms with the same token and the ticks of now", 7),
    Check("another version", other_version, "answer with the Identity alone, and go on as before", 7),
    Check("rubbish", undisturbed, "throw away what is no good frame, and start anew after each delimiter", 12),
    Check("counting while stopped", counts_on, "go on counting samples that are not sent", 7),
)
