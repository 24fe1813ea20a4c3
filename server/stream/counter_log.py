"""What counter inputs have told so far: counts that go on over 2^32, each at the tick of its last pulse.

A counter is told when it has changed, and changed or not once a second. Its words have no numbers, and need none: what
was lost is in the next one. Keeps a bounded stretch of the past; knows no motor and no speed.
"""

from collections import deque
from dataclasses import dataclass, field

import numpy as np

from firmware_protocol import Count, Counters, InputDescription, InputKind
from server.readings import DamageReport
from server.samples import CountTrain, Input
from server.stream.scaling import input_of, within

WORDS_MAX = 128  # kept of each counter: 6 s of them at 20 a second, the fastest that a board may tell
_MODULUS = 1 << 32


@dataclass(slots=True)
class _Told:
    """Of one counter since the start, or since its count ran backwards."""

    input: Input
    words: deque[tuple[int, int]] = field(default_factory=lambda: deque(maxlen=WORDS_MAX))  # tick, count gone on
    raw: int | None = None  # the newest count as it came
    first_told: int = 0
    last_told: int = 0
    anew_tick: int | None = None


class CounterLog:
    """All counter inputs of one board since its start. Words must be given in the order of the wire."""

    def __init__(
        self, described: tuple[InputDescription, ...], tick_hz: int, clock_tolerance_ppm: float | None = None
    ) -> None:
        counters = [input_of(said) for said in described if said.kind is InputKind.COUNTER]
        self._told = {each.index: _Told(each) for each in counters}
        self._tick_hz = float(tick_hz)
        self._clock = within(clock_tolerance_ppm, 1e-6)

    def __bool__(self) -> bool:
        return bool(self._told)

    def take(self, message: Counters, heard_tick: int) -> list[DamageReport]:
        """Add what a message says; `heard_tick`: the newest tick that came before it. What cannot be is left out."""
        reports = [self._take(each, max(heard_tick, each.tick)) for each in message.counts]
        return [each for each in reports if each is not None]

    def _take(self, word: Count, heard_tick: int) -> DamageReport | None:
        its = self._told.get(word.input)
        if its is None:
            text = f"Input {word.input} was counted, which is not described as a counter"
            return self._report("contradiction", heard_tick, text)
        newest_tick = its.words[-1][0] if its.words else 0
        more = 0 if its.raw is None else (word.count - its.raw) % _MODULUS
        backwards = more >= _MODULUS // 2
        if backwards and 0 < word.tick <= newest_tick:
            return self._report("late", word.tick, f"A count of {_named(its.input)} came again or too late")
        if not backwards and (more > 0) != (word.tick > newest_tick) and its.raw is not None:
            return self._report("contradiction", heard_tick, f"Count and tick of {_named(its.input)} disagree")
        if backwards:
            its.words.clear()
            its.anew_tick = heard_tick
        if backwards or its.raw is None:
            its.first_told = heard_tick
        if word.tick and (more or not its.words):
            gone_on = its.words[-1][1] + more if its.words else word.count
            its.words.append((word.tick, gone_on))
        its.raw, its.last_told = word.count, heard_tick
        if not backwards:
            return None
        return self._report("contradiction", heard_tick, f"The count of {_named(its.input)} ran backwards")

    def train(self) -> CountTrain | None:
        """Of the counter that tells the shaft's speed: the first that says its pulses in a turn, else the first."""
        every = list(self._told.values())
        its = next((each for each in every if each.input.pulses_per_turn), every[0] if every else None)
        if its is None:
            return None
        words = np.array(its.words, dtype=np.int64).reshape(-1, 2)
        told = None if its.raw is None else (its.first_told, its.last_told)
        return CountTrain(its.input, self._tick_hz, words[:, 0], words[:, 1], told, its.anew_tick, self._clock)

    def _report(self, kind: str, tick: int, text: str) -> DamageReport:
        return DamageReport(kind, tick / self._tick_hz, text, 1)


def _named(said: Input) -> str:
    return f"counter {said.index}" + (f" ({said.name})" if said.name else "")
