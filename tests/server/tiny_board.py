"""A board of a few lines for tests: sines of given levels and pulses of a given speed, as frames of the wire.

No physics: a story is a list of stretches (seconds, volts RMS, amps RMS, r/min at its end; speed changes evenly).
Slow enough (1000 samples a second) that a hundred streams take seconds.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from firmware_protocol import (
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    WORD_CODING,
    ChannelDescription,
    Edges,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Role,
    Samples,
    Single,
    Singles,
    Status,
    encode_frame,
)

TICK_HZ = 1_000_000
BLOCK = 10  # sample sets in a block
PLATE = """
[motor]
name = "test fan"
type = "permanent_split_capacitor"
[motor.plate]
voltage_v = 230.0
frequency_hz = 50.0
current_a = 0.5
speed_rpm = 1400.0
pole_pairs = 2
locked_rotor_current_a = 1.5
"""
# seconds, volts, amps, r/min at the end: rests, starts, runs, is loaded, is held, comes free, runs, coasts and rests
STORY = (
    (1.0, 0.0, 0.0, 0.0),
    (0.4, 230.0, 1.5, 1400.0),
    (1.6, 230.0, 0.5, 1400.0),
    (1.0, 230.0, 0.7, 1350.0),
    (0.1, 230.0, 1.5, 0.0),
    (1.3, 230.0, 1.5, 0.0),
    (0.4, 230.0, 1.2, 1400.0),
    (1.2, 230.0, 0.5, 1400.0),
    (1.0, 0.0, 0.0, 0.0),
    (1.0, 0.0, 0.0, 0.0),
)


def _channel(index: int, role: Role, place: str, unit: str, scale: float, **more: object) -> ChannelDescription:
    even = ChannelDescription(
        index, role, place, place, unit, scale, 0.0, -32000, 32000, group=0, ticks_per_sample=Fraction(1000)
    )
    return replace(even, **more)  # type: ignore[arg-type]  # keywords of the test


VOLTAGE = _channel(0, Role.VOLTAGE, "supply", "V", 0.02, noise_codes_rms=1.0)
CURRENT = _channel(1, Role.CURRENT, "line", "A", 2e-4, noise_codes_rms=1.0)
HOUSING = _channel(
    2, Role.TEMPERATURE, "housing", "°C", 0.01, group=None, ticks_per_sample=None, interval_ticks_max=500_000
)
SHAFT = InputDescription(0, InputKind.PULSE, "shaft", 0, pulses_per_turn=30)
HALLS = tuple(InputDescription(k, InputKind.HALL, name, k) for k, name in enumerate("ABC"))
HALL_STATES = (5, 1, 3, 2, 6, 4)  # of sectors 1 to 6
POLE_PAIRS = 2


@dataclass(frozen=True, slots=True)
class TinyBoard:
    """What it measures and who it is; `messages`, `frames` and `wire` give a story as it would send it."""

    channels: tuple[ChannelDescription, ...] = (VOLTAGE, CURRENT, HOUSING)
    inputs: tuple[InputDescription, ...] = (SHAFT,)
    plate: str = PLATE
    serial: str = "T-1"
    boot: int = 1
    seed: int = 0

    def description(self) -> list[Message]:
        who = Identity(
            PROTOCOL_MAJOR,
            PROTOCOL_MINOR,
            self.boot,
            TICK_HZ,
            len(self.channels),
            len(self.inputs),
            serial=self.serial,
            plate=self.plate,
            clock_tolerance_ppm=50.0,
        )
        return [who, *self.channels, *self.inputs]

    def messages(self, story: Sequence[tuple[float, float, float, float]] = STORY) -> list[Message]:
        """Description and all that follows, in the order in which a board sends it."""
        volts, amps, turns = _waves(story)
        codes = np.rint([volts / VOLTAGE.scale, amps / CURRENT.scale])
        codes += np.rint(np.random.default_rng(self.seed).normal(0.0, 1.0, codes.shape))
        words = (np.clip(codes, -32768, 32767).astype("<i2").T.copy().view("<u2") ^ WORD_CODING).tobytes()
        ticks, levels = _edges(turns, self.inputs)
        out, sent, level = self.description(), 0, HALL_STATES[0] if HALLS[0] in self.inputs else 0
        for block in range(len(volts) // BLOCK):
            due = (block + 1) * BLOCK * 1000
            stop = bisect_right(ticks, due, sent)
            if stop > sent:
                out.append(Edges(sent, tuple(ticks[sent:stop]), bytes(levels[sent:stop])))
                level = levels[stop - 1]
            sent = stop
            first = block * BLOCK
            out.append(Samples(0, 2, first, first * 1000, words[4 * first : 4 * (first + BLOCK)]))
            if block % 20 == 19:
                out.append(Status(due, True, level))
            if block % 40 == 39 and HOUSING in self.channels:
                out.append(Singles((Single(2, block // 40, due, 2000 + block),)))
        return out

    def frames(self, story: Sequence[tuple[float, float, float, float]] = STORY) -> list[bytes]:
        return self.framed(self.messages(story))

    def framed(self, messages: Sequence[Message]) -> list[bytes]:
        return [encode_frame(each, sequence=number, boot=self.boot) for number, each in enumerate(messages)]

    def wire(self, story: Sequence[tuple[float, float, float, float]] = STORY) -> bytes:
        return b"".join(self.frames(story))


def _waves(story: Sequence[tuple[float, float, float, float]]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Volts, amps and turns of the shaft at every sample."""
    counts = [round(1000 * seconds) for seconds, *_ in story]
    volts = np.concatenate([np.full(n, step[1]) for n, step in zip(counts, story, strict=True)])
    amps = np.concatenate([np.full(n, step[2]) for n, step in zip(counts, story, strict=True)])
    ends = [0.0, *(step[3] for step in story)]
    rpm = np.concatenate([np.linspace(ends[k], ends[k + 1], n, endpoint=False) for k, n in enumerate(counts)])
    angle = 2.0 * np.pi * 50.0 * np.arange(len(volts)) / 1000.0
    return volts * np.sqrt(2) * np.sin(angle), amps * np.sqrt(2) * np.sin(angle - 0.3), np.cumsum(rpm) / 60_000.0


def _edges(turns: np.ndarray, inputs: tuple[InputDescription, ...]) -> tuple[list[int], list[int]]:
    """Ticks of the edges and the level from each one on: halves of pulses, or sixths of electrical turns."""
    if not inputs:
        return [], []
    states = HALL_STATES if inputs[0].kind is InputKind.HALL else (0, 1)
    parts = turns * len(states) * (POLE_PAIRS if len(states) == 6 else SHAFT.pulses_per_turn or 0)
    parts = parts + 0.5  # begins in the middle of one
    ticks, levels = list[int](), list[int]()
    whole = np.floor(parts).astype(int)
    for k in np.flatnonzero(np.diff(whole)).tolist():
        up = whole[k + 1] > whole[k]
        for number in range(whole[k] + 1, whole[k + 1] + 1) if up else range(whole[k], whole[k + 1], -1):
            share = (number - parts[k]) / (parts[k + 1] - parts[k])
            ticks.append(round((k + share) * 1000))
            levels.append(states[(number if up else number - 1) % len(states)])
    return ticks, levels
