"""Board ticks -> UTC, with what it may be off by. Pure: arrival times are arguments.

Two things are certain and nothing else: a message arrived after its tick, and a board's answer came between the
request's own time and its arrival. Each bounds UTC minus board time from one side. Bounds widen with the tolerance of
the board's clock and are narrowed by what comes. Without an answer there is no lower bound: not synchronised.
All times of the PC are UTC seconds of one steady clock, the token of a request included (in microseconds).
"""

from dataclasses import dataclass, replace
from math import inf

from firmware_protocol import ClockReply
from server.readings import Instant, Reading, absent, doubtful

TOLERANCE = 100e-6  # of a board that states none: what a crystal keeps (common practice)
DRIFT_KNOWN_PPM = 10.0
ASKED_EVERY_S = 10.0  # at least so often a board is asked while it is watched
DRIFT_GUESSED_PPM = 100.0  # less certain than this and the drift is not given at all


@dataclass(frozen=True, slots=True)
class Answer:
    """UTC minus board time lay between `low_s` and `high_s` at `board_s`."""

    board_s: float
    low_s: float
    high_s: float


@dataclass(frozen=True, slots=True)
class Clock:
    """One board since its start. `utc_s`, `uncertainty_s`, `drift_ppm` as live/records.py asks for them."""

    tick_hz: float
    tolerance: float = TOLERANCE
    board_s: float = 0.0  # when the bounds held
    low_s: float = -inf
    high_s: float = inf
    first: Answer | None = None
    last: Answer | None = None

    def utc_s(self, board_s: float) -> float:
        """UTC of a board time; the latest possible one while the clock is not synchronised."""
        if self.low_s == -inf:
            return board_s + self.high_s
        return board_s + 0.5 * (self.low_s + self.high_s)

    @property
    def uncertainty_s(self) -> float | None:
        """Half width of what `utc_s` may be off by at the newest board time; None: not synchronised."""
        return None if self.low_s == -inf else 0.5 * (self.high_s - self.low_s)

    @property
    def drift(self) -> tuple[float, float] | None:
        """How much faster than the PC's clock the board's runs, and the half width of that, both in ppm."""
        if self.first is None or self.last is None or self.last.board_s <= self.first.board_s:
            return None
        passed_s = self.last.board_s - self.first.board_s
        least, most = self.last.low_s - self.first.high_s, self.last.high_s - self.first.low_s
        return -0.5e6 * (least + most) / passed_s, 0.5e6 * (most - least) / passed_s

    @property
    def drift_ppm(self) -> float | None:
        """The drift where it is known to DRIFT_KNOWN_PPM."""
        drift = self.drift
        return None if drift is None or drift[1] > DRIFT_KNOWN_PPM else drift[0]


def heard(clock: Clock, tick: int, arrival_s: float) -> Clock:
    """A message of this tick has arrived. One that is older than what was heard before is passed over."""
    board_s = tick / clock.tick_hz
    passed_s = board_s - clock.board_s
    if passed_s < 0 or (passed_s < 1 and arrival_s - board_s >= clock.high_s + clock.tolerance * passed_s):
        return clock  # nothing new: most messages are late by more than the quickest one
    return _narrowed(clock, Answer(board_s, -inf, arrival_s - board_s))


def replied(clock: Clock, reply: ClockReply, arrival_s: float) -> Clock:
    """An answer has arrived; one that contradicts itself (sent before it was asked for) is passed over."""
    board_s = reply.sent_tick / clock.tick_hz
    answer = Answer(board_s, reply.token * 1e-6 - reply.received_tick / clock.tick_hz, arrival_s - board_s)
    if answer.low_s > answer.high_s or board_s < clock.board_s:
        return clock
    clock = _narrowed(clock, answer)
    return replace(clock, first=clock.first or answer, last=answer)


def _narrowed(clock: Clock, answer: Answer) -> Clock:
    """Bounds at a later board time. If they exclude each other a clock has stepped, and only the new ones hold."""
    may_drift_s = clock.tolerance * (answer.board_s - clock.board_s)
    low_s, high_s = max(clock.low_s - may_drift_s, answer.low_s), min(clock.high_s + may_drift_s, answer.high_s)
    if low_s > high_s:
        return Clock(clock.tick_hz, clock.tolerance, answer.board_s, answer.low_s, answer.high_s)
    return Clock(clock.tick_hz, clock.tolerance, answer.board_s, low_s, high_s, clock.first, clock.last)


def drift_instant(clock: Clock, reply: ClockReply) -> Instant:
    """What an answer made known of the board's clock, as a reading at its own time."""
    return Instant(
        reply.received_tick, reply.sent_tick, reply.sent_tick / clock.tick_hz, ASKED_EVERY_S, (_drift_reading(clock),)
    )


def _drift_reading(clock: Clock) -> Reading:
    key, drift = "board_clock_drift_ppm", clock.drift
    if drift is None or drift[1] > DRIFT_GUESSED_PPM:
        return absent(key, "the board's clock has not been compared for long enough")
    reading = Reading(key, drift[0])
    return reading if drift[1] <= DRIFT_KNOWN_PPM else doubtful(reading, f"known to {drift[1]:.0f} ppm so far")
