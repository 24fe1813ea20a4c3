"""The board's clock beside this PC's: how fast it runs, whether its answers come soon and with the ticks of now.

Certain is only this: a message arrives after its tick, and an answer's ticks lie between asking and its arrival. What a
busy PC or a slow line adds widens these bounds and never makes them wrong.
"""

from collections.abc import Iterator
from statistics import median

from firmware_protocol import ClockReply, SampleBlock, Status
from server.board_check.record import Record
from server.board_check.verdict import NO_ANSWERS, NO_DESCRIPTION, Check, CheckResult, failed, not_tried, passed
from server.stream.clock import TOLERANCE, Answer

REPLY_WITHIN_S = 0.1
UNANSWERED_MAX = 2  # lost on the line, or on their way when the line went away
_ENOUGH_PPM = 2000.0  # half width: a talk of a second or two says no more
_TOO_FEW = not_tried("too few answers to a clock request came, or too late, to compare the clocks")


def answers(record: Record, tick_hz: int) -> list[Answer]:
    """UTC minus board time as each answer bounds it, in the order of arrival; in seconds of the record's clock."""
    found = []
    for at_s, received in record.received():
        message = received.message
        if isinstance(message, ClockReply) and at_s is not None and message.token in record.asked_s:
            low_s = record.asked_s[message.token] - (message.received_tick + 1) / tick_hz  # ticks are rounded down
            found.append(Answer(message.sent_tick / tick_hz, low_s, at_s - message.sent_tick / tick_hz))
    return found


def drift(found: list[Answer]) -> tuple[float, float] | None:
    """How much faster than the PC's clock the board's runs, and the half width of that; by the first and the last."""
    if len(found) < 2 or found[-1].board_s <= found[0].board_s:
        return None
    first, last = found[0], found[-1]
    passed_s = last.board_s - first.board_s
    least, most = last.low_s - first.high_s, last.high_s - first.low_s
    return -0.5 * (least + most) / passed_s, 0.5 * (most - least) / passed_s


def rate(record: Record) -> CheckResult:
    said = record.description
    if said is None or not record.answers:
        return NO_DESCRIPTION if said is None else NO_ANSWERS
    stated_ppm = said.identity.clock_tolerance_ppm
    found = drift(answers(record, said.identity.tick_hz))
    if found is None:
        return _TOO_FEW
    drift_ppm, within_ppm = 1e6 * found[0], 1e6 * found[1]
    if within_ppm < 0:
        return not_tried("the answers contradict each other")
    limit_ppm = TOLERANCE * 1e6 if stated_ppm is None else stated_ppm
    promise = f"{limit_ppm:g} ppm {'are usual' if stated_ppm is None else 'are promised'}"
    seen = f"{drift_ppm:+.0f} ppm against this PC, known to {within_ppm:.0f} ppm; {promise}"
    if abs(drift_ppm) - within_ppm > limit_ppm:
        return failed(seen)
    return passed(seen) if within_ppm <= _ENOUGH_PPM else _TOO_FEW


def request(record: Record) -> CheckResult:
    said = record.description
    if said is None or not record.answers:
        return NO_DESCRIPTION if said is None else NO_ANSWERS
    if not record.asked_s:
        return not_tried("the port went away before")
    hertz = said.identity.tick_hz
    late_s, answered = list[float](), set[int]()
    for at_s, received in record.received(every_start=True):
        message = received.message
        if not isinstance(message, ClockReply) or at_s is None:
            continue
        asked_s = record.asked_s.get(message.token)
        if asked_s is None:
            return failed(f"an answer had the token {message.token}, which was not asked with")
        if message.token in answered:
            return failed(f"the request with token {message.token} was answered twice")
        late_s.append(at_s - asked_s)
        answered.add(message.token)
        if message.sent_tick - message.received_tick > REPLY_WITHIN_S * hertz:
            held_s = (message.sent_tick - message.received_tick) / hertz
            return failed(f"by its own ticks the board held an answer for {1000 * held_s:.0f} ms")
    due = len(record.asked_s)
    if len(answered) < max(1, due - UNANSWERED_MAX):
        return failed(f"{len(answered)} of {due} requests were answered")
    # Single ones may have waited in this PC; half of them cannot.
    seen = f"{len(answered)} of {due} answered, half of them within {1000 * median(late_s):.1f} ms"
    return passed(seen) if median(late_s) <= REPLY_WITHIN_S else failed(seen)


def ticks_of_now(record: Record) -> CheckResult:
    """With the measured drift taken off, all answers must allow one offset, and nothing may come before its tick."""
    said = record.description
    if said is None or not record.answers:
        return NO_DESCRIPTION if said is None else NO_ANSWERS
    hertz = said.identity.tick_hz
    found = answers(record, hertz)
    ran = drift(found)
    if ran is None:
        return _TOO_FEW
    begin_s, slack_s = found[0].board_s, ran[1] * (found[-1].board_s - found[0].board_s) + 2.0 / hertz
    lows = [each.low_s + ran[0] * (each.board_s - begin_s) for each in found]
    highs = [each.high_s + ran[0] * (each.board_s - begin_s) for each in found]
    apart_s = max(lows) - min(highs)
    if apart_s > slack_s:
        return failed(f"two answers contradict each other by {1000 * apart_s:.1f} ms")
    newest = -1
    for at_s, tick, answer in _ticks(record):
        if answer and newest >= 0 and not 0 <= tick - newest <= hertz:
            return failed(f"an answer had tick {tick} where the newest status had {newest}")
        newest = newest if answer else max(newest, tick)
        early_s = max(lows) - (at_s - tick / hertz + ran[0] * (tick / hertz - begin_s))
        if early_s > slack_s:
            return failed(f"a message of tick {tick} came {1000 * early_s:.1f} ms before its tick")
    within_s = 0.5 * max(0.0, min(highs) - max(lows))
    return passed(f"{len(found)} answers agree; board time is known to {1000 * within_s:.2f} ms")


def _ticks(record: Record) -> Iterator[tuple[float, int, bool]]:
    """Arrival, tick, whether it is an answer's: of answers, status, and blocks."""
    for at_s, received in record.received():
        message = received.message
        if at_s is None:
            continue
        if isinstance(message, ClockReply):
            yield at_s, message.sent_tick, True
        elif isinstance(message, Status | SampleBlock):
            yield at_s, message.tick, False


CHECKS = (
    Check("tick rate", rate, "state tick_hz and clock_tolerance_ppm as they are", 6),
    Check("ClockRequest", request, "answer within 100 ms with the same token", 7),
    Check("ticks of now", ticks_of_now, "stamp answers when request and answer pass, and nothing ahead of its time", 6),
)
