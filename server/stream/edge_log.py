"""Edges of the digital inputs as they are known so far, and the spans in which some may have been lost.

A board sends an edge before any block, single or status of a later tick, so every tick heard of says that nothing is
missing before it, unless frames were lost. Their span stays uncertain until the numbers of the edges prove that none
was among them. Knows no motor and no speed; keeps a bounded stretch of the past.
"""

from bisect import bisect_left
from collections import deque
from dataclasses import replace

import numpy as np

from firmware_protocol import Edges, InputDescription, InputKind, Status
from server.readings import DamageReport
from server.samples import EdgeTrain
from server.stream.scaling import input_of, within

EDGES_MAX = 40_000  # kept: 20 s of the fastest Hall motor (7 pole pairs at 2700 r/min)
BACK_S = 36.0  # with one pulse a turn it takes 12 s to tell rest; an interval that long is held against the one before
BACK_EDGES = 640  # a turn of 100 pole pairs and some
SPANS_MAX = 64  # uncertain spans kept; beyond it the two oldest become one, which hides nothing
STATUSES_KEPT = 64  # 12 s of them: longer than any window waits for its end
_MODULUS = 1 << 32


class EdgeLog:
    """All inputs of one board since its start. Ticks passed in must be in the order of the wire."""

    def __init__(
        self, described: tuple[InputDescription, ...], tick_hz: int, clock_tolerance_ppm: float | None = None
    ) -> None:
        self.inputs = tuple(input_of(said) for said in described)
        self._tick_hz = float(tick_hz)
        self._clock = within(clock_tolerance_ppm, 1e-6)
        self._mask = self._turned = 0
        for said in described:
            if said.kind is InputKind.COUNTER:  # it has no place in the state
                continue
            self._mask |= 1 << said.bit
            self._turned |= said.inverted << said.bit
        self._ticks: list[int] = []
        self._states: list[int] = []
        self._before: int | None = None  # the level before the first edge kept
        self._next: int | None = None  # number of the next edge
        self._known_from: int | None = None
        self._known_to = -1
        self._lost_from: int | None = None  # frames were lost, or a board waited, since this tick, the newest heard of
        self._waited = False  # since the newest edges: while it waits, a board numbers edges and sends none
        self._unproven: list[tuple[int, int]] = []  # uncertain spans since the last edge that came
        self._proven: list[tuple[int, int]] = []  # older spans in which edges were lost for certain
        self._last_status: Status | None = None
        self._level_ticks: deque[int] = deque(maxlen=STATUSES_KEPT)
        self._told = 0  # edges already given by `fresh`, counted from the first one kept

    def heard(self, tick: int) -> None:
        """A message of this tick came: edges up to it are known, or lie in the span that ends here."""
        if tick <= self._known_to:
            return
        if self._known_from is None:
            self._known_from = tick
        elif self._lost_from is not None:
            self._doubt(self._lost_from, tick)
        self._lost_from = None
        self._known_to = tick

    def lost(self) -> None:
        """Frames were lost; edges may have been among them."""
        if self._lost_from is None and self._known_from is not None:
            self._lost_from = self._known_to

    def take(self, message: Edges) -> DamageReport | None:
        """Add edges. A frame of edges that are older than what is known is left out and reported."""
        first, last = message.ticks[0], message.ticks[-1]
        expected, self._next = self._next, (message.first_edge + len(message.ticks)) % _MODULUS
        if first < self._known_to:
            self._prove((min(first, self._known_to), max(last, self._known_to)))
            return self._report("late", first, "Edges came again or too late and were left out", 1)
        # Numbers count from the start of the board. How many came before the first ones heard of, nobody knows.
        missing = (message.first_edge - (expected or 0)) % _MODULUS
        told = missing and expected is not None and not self._waited  # of what a board keeps that waits, none is lost
        report = self._report("edges", first, _edges_text(missing)) if told else None
        if missing and expected is not None and not self._unproven and self._lost_from is None:
            self._prove((self._newest(), first))
        if missing:  # where frames were lost, edges were too, or nothing says that none was
            self.heard(first)
            self._prove(*self._unproven)
        self._unproven.clear()
        self._lost_from, self._waited = None, False
        if self._known_from is None:
            self._known_from = first
        for tick, level in zip(message.ticks, message.states, strict=True):
            self._add(tick, level)
        self.heard(last)
        self._trim()
        return report

    def levels(self, status: Status) -> DamageReport | None:
        """Take the levels at a status: the only witness where no edge has come. Reports levels that no edge led to."""
        self._vouch(status)
        before, self._last_status = self._last_status, status
        self._level_ticks.append(status.tick)
        dropped = before is not None and status.lost_edges != before.lost_edges
        if before is not None and dropped:
            self._prove((before.tick, status.tick))  # the number of the next edge will say how many
        if self._before is None and not self._ticks:
            self._before = self._level(status.levels)
        elif status.tick >= self._known_to and self._level(status.levels) != self._now():
            # Edges were lost for certain: the level is known again, but not since when.
            explained = bool(self._unproven) or dropped
            if not dropped:
                since = self._unproven[-1][1] if self._unproven else -1 if before is None else before.tick
                self._prove(*self._unproven, (since, status.tick))
                self._unproven.clear()
            self._add(status.tick, status.levels)
            if not explained:
                return self._report("contradiction", status.tick, "The inputs had levels that no edge had led to")
        return None

    def _vouch(self, status: Status) -> None:
        """What this status says of the time since the last tick heard, and of what comes behind it."""
        self.heard(status.tick)
        if not status.streaming:
            self._waited = True
            self.lost()

    @property
    def known_to(self) -> int:
        return self._known_to

    @property
    def in_doubt(self) -> bool:
        """Whether edges may be missing since the newest that came."""
        return bool(self._unproven) or self._lost_from is not None

    def train(self, first_tick: int, end_tick: int, seen_tick: int) -> EdgeTrain:
        """The edges before `end_tick`, back to BACK_S before `first_tick`, or BACK_EDGES of them if those are fewer.

        `seen_tick`: that of the message which vouches for them; one less is as good, for ticks of samples are rounded.
        """
        known_to = end_tick if seen_tick >= end_tick - 1 else seen_tick
        stop = bisect_left(self._ticks, min(end_tick, seen_tick))
        since = max(first_tick - round(BACK_S * self._tick_hz), -1 if self._known_from is None else self._known_from)
        start = bisect_left(self._ticks, since, 0, stop)
        nearer = bisect_left(self._ticks, first_tick, 0, stop) - BACK_EDGES
        if nearer > start:
            start, since = nearer, self._ticks[nearer]
        return self._train(start, stop, since, known_to)

    def _train(self, start: int, stop: int, since: int, known_to: int) -> EdgeTrain:
        return EdgeTrain(
            inputs=self.inputs,
            tick_hz=self._tick_hz,
            before=self._states[start - 1] if start else self._before,
            ticks=np.array(self._ticks[start:stop], dtype=np.int64),
            states=np.array(self._states[start:stop], dtype=np.uint8),
            known_from_tick=since,
            known_to_tick=known_to,
            uncertain=self._uncertain(since, known_to),
            level_tick=max((tick for tick in self._level_ticks if tick < known_to), default=-1),
            clock=self._clock,
        )

    def fresh(self) -> EdgeTrain | None:
        """The edges since the last call; None if there are none."""
        if self._told == len(self._ticks):
            return None
        start, self._told = self._told, len(self._ticks)
        return self._train(start, self._told, self._ticks[start], self._known_to)

    def _uncertain(self, from_tick: int, to_tick: int) -> tuple[tuple[int, int], ...]:
        spans = sorted(self._proven + self._unproven)
        if self._lost_from is not None:
            spans.append((self._lost_from, to_tick))
        return tuple(span for span in spans if span[1] >= from_tick and span[0] < to_tick)

    def _doubt(self, since: int, tick: int) -> None:
        self._unproven = _bounded([*self._unproven, (since, tick)])

    def _prove(self, *spans: tuple[int, int]) -> None:
        self._proven = _bounded([*self._proven, *spans])

    def _newest(self) -> int:
        return self._ticks[-1] if self._ticks else -1 if self._known_from is None else self._known_from

    def _now(self) -> int | None:
        return self._states[-1] if self._states else self._before

    def _report(self, kind: str, tick: int, text: str, frames: int = 0) -> DamageReport:
        return DamageReport(kind, tick / self._tick_hz, text, frames)

    def _level(self, raw: int) -> int:
        return (raw ^ self._turned) & self._mask

    def _add(self, tick: int, raw: int) -> None:
        level = self._level(raw)
        if level != self._now():
            self._ticks.append(tick)
            self._states.append(level)

    def _trim(self) -> None:
        surplus = len(self._ticks) - EDGES_MAX
        if surplus > EDGES_MAX // 8:  # in large steps: each one moves the whole list
            self._before = self._states[surplus - 1]
            del self._ticks[:surplus], self._states[:surplus]
            self._told = max(0, self._told - surplus)
            self._known_from = self._ticks[0]


def _bounded(spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """At most SPANS_MAX of them: the oldest become one that covers all of them."""
    surplus = len(spans) - SPANS_MAX
    if surplus <= 0:
        return spans
    oldest = spans[: surplus + 1]
    return [(min(since for since, _ in oldest), max(to for _, to in oldest)), *spans[surplus + 1 :]]


def _edges_text(count: int) -> str:
    if count >= _MODULUS // 2:
        return "The numbers of the edges ran backwards"
    return f"{count} edge{'s' if count > 1 else ''} did not come"


def joined(trains: list[EdgeTrain]) -> EdgeTrain | None:
    """Trains that follow each other as one; None of none. Of different inputs (the board changed) only the last."""
    if len(trains) < 2 or trains[0].inputs != trains[-1].inputs:
        return trains[-1] if trains else None
    return replace(
        trains[-1],
        before=trains[0].before,
        ticks=np.concatenate([train.ticks for train in trains]),
        states=np.concatenate([train.states for train in trains]),
        known_from_tick=trains[0].known_from_tick,
        uncertain=tuple(sorted({span for train in trains for span in train.uncertain})),
    )
