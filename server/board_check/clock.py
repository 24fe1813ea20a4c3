"""The board's clock beside this PC's."""

from firmware_protocol import ClockReply
from server.board_check.record import STREAM, Record
from server.board_check.verdict import NO_ANSWERS, NO_DESCRIPTION, Check, Seen, failed, not_tried, passed
from server.stream.clock import TOLERANCE, Clock, replied

_ENOUGH_PPM = 2000.0  # half width: a talk of a second or two says no more


def rate(record: Record) -> Seen:
    """Drift and what it may be off by, from the first answer and the last."""
    said = record.description
    if said is None or not record.answers:
        return NO_DESCRIPTION if said is None else NO_ANSWERS
    stated_ppm = said.identity.clock_tolerance_ppm
    clock = Clock(said.identity.tick_hz, 1.0)  # nothing is taken for granted here
    for at_s, received in record.received(STREAM):
        if isinstance(received.message, ClockReply) and at_s is not None:
            clock = replied(clock, received.message, at_s)
    if clock.drift is None or clock.drift[1] > _ENOUGH_PPM:
        return not_tried("too few answers to a clock request came, or too late, to compare the clocks")
    drift_ppm, within_ppm = clock.drift
    limit_ppm = TOLERANCE * 1e6 if stated_ppm is None else stated_ppm
    promise = f"{limit_ppm:g} ppm {'are usual' if stated_ppm is None else 'are promised'}"
    seen = f"{drift_ppm:+.0f} ppm against this PC, known to {within_ppm:.0f} ppm; {promise}"
    return failed(seen) if abs(drift_ppm) - within_ppm > limit_ppm else passed(seen)


CHECKS = (Check("tick rate", rate, "state tick_hz and clock_tolerance_ppm as they are", 6),)
