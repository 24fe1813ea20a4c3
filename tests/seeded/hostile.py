"""Boards that lie: frames whose checksum is right and whose contents no honest board would send. All from one seed."""

import random
from collections.abc import Iterator
from fractions import Fraction

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Count,
    Counters,
    Edges,
    EncodeError,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Role,
    SampleKind,
    Samples,
    Single,
    Singles,
    Status,
    encode_frame,
)

TEXTS = ("", "<b>x</b>", "\x1b[31m\n", "L1", "L2", "L3", "U", "V", "W", "supply", "line", "a" * 300, "é\u202e")
UNITS = ("V", "A", "", "K", "rad")
FACTORS = (1.0, -1.0, 0.001, 1e-300, 1e12, 1e300)
PLATES = (
    "",
    "x" * 2000,
    "[motor]\ntype = 'nope'",
    "[motor.plate]\nvoltage_v = 1e999",
    "[motor]\ntype = 'brushless'\n[motor.plate]\npole_pairs = 7",
    "[motor]\ntype = 'permanent_split_capacitor'\n[motor.plate]\nvoltage_v = 230\ncurrent_a = 0.5\npole_pairs = 2",
    "[motor]\ntype = 'three_phase_induction'\n[motor.plate]\nvoltage_v = 400\nfrequency_hz = 50\npole_pairs = 2",
)


class HostileBoard:
    """`frames()` are the frames of one board, in order."""

    def __init__(self, seed: int) -> None:
        self._luck = random.Random(seed)
        self._boot = 0
        self._tick = 0
        self._first: dict[int, int] = {}

    def frames(self) -> Iterator[bytes]:
        luck = self._luck
        described = self._description()
        self._evens = [message for message in described if isinstance(message, ChannelDescription) and message.group]
        for sequence, message in enumerate(
            [*described, *(self._next(described) for _ in range(luck.randrange(5, 60)))]
        ):
            self._boot += luck.random() < 0.01
            try:
                yield encode_frame(message, sequence=sequence, boot=self._boot)
            except EncodeError:
                continue  # too long for a frame: that one cannot be sent by anybody

    def _any_tick(self) -> int:
        return self._luck.choice((0, 1, self._luck.randrange(1 << 48), (1 << 48) - 1, self._luck.randrange(10**7)))

    def _description(self) -> list[Message]:
        luck = self._luck
        channels, inputs = luck.randrange(9), luck.randrange(4)
        tick_hz = luck.choice((1, 1000, 1_000_000, (1 << 32) - 1))
        plate = luck.choice(PLATES)
        said: list[Message] = [Identity(1, 0, 0, tick_hz, channels, inputs, luck.choice(TEXTS), plate=plate)]
        said += [self._channel(index) for index in range(channels)]
        for index in range(inputs):
            pulses, bit = luck.choice((None, 1, (1 << 32) - 1)), luck.randrange(8)
            kind, name = luck.choice(list(InputKind)), luck.choice(TEXTS)
            said.append(InputDescription(index, kind, name, bit, pulses, inverted=luck.random() < 0.3))
        return said

    def _channel(self, index: int) -> ChannelDescription:
        luck = self._luck
        low = luck.randrange(-32768, 32767)
        even = luck.random() < 0.7
        rate = Fraction(luck.choice((1, 50, 1000, (1 << 32) - 1)), luck.choice((1, 3, (1 << 32) - 1)))
        return ChannelDescription(
            index,
            luck.choice(list(Role)),
            luck.choice(TEXTS),
            luck.choice(TEXTS),
            luck.choice(UNITS),
            luck.choice(FACTORS),
            luck.choice(FACTORS),
            low,
            luck.randrange(low + 1, 32768),
            group=luck.randrange(1, 4) if even else None,
            ticks_per_sample=rate if even else None,
            interval_ticks_max=None if even else self._any_tick(),
            kind=luck.choice(list(SampleKind)),
            delay_ns=luck.randrange(-(1 << 31), 1 << 31),
            ac_coupled=luck.random() < 0.3,
        )

    def _next(self, described: list[Message]) -> Message:
        luck = self._luck
        kind = luck.choices(
            ("samples", "edges", "singles", "status", "clock", "counts", "again"), (55, 15, 10, 10, 3, 2, 5)
        )
        if kind[0] == "samples" and self._evens:
            return self._samples()
        if kind[0] == "edges":
            ticks = sorted(self._tick + luck.randrange(1000) for _ in range(5))
            lies = [self._any_tick() for _ in range(5)]
            return Edges(luck.randrange(1 << 32), tuple(ticks if luck.random() < 0.8 else lies), luck.randbytes(5))
        if kind[0] == "singles":
            code, number = luck.randrange(-32768, 32768), luck.randrange(1 << 32)
            return Singles(tuple(Single(luck.randrange(10), number, self._any_tick(), code) for _ in range(3)))
        if kind[0] == "clock":
            return ClockReply(luck.randrange(1 << 64), self._any_tick(), self._any_tick())
        if kind[0] == "counts":
            return Counters((Count(luck.randrange(9), 1, self._any_tick()),))
        if kind[0] == "again":
            return luck.choice(described)
        tick = self._tick if luck.random() < 0.9 else self._any_tick()
        return Status(tick, True, luck.randrange(256), luck.randrange(1 << 32), temperature_c=luck.uniform(-1e9, 1e9))

    def _samples(self) -> Samples:
        luck = self._luck
        group = luck.choice(self._evens).group
        assert group is not None
        members = sum(channel.group == group for channel in self._evens)
        channels = members if luck.random() < 0.95 else luck.randrange(1, 9)
        count = luck.randrange(1, max(2, 1000 // (2 * channels)))
        first = self._first.get(group, 0)
        self._first[group], self._tick = first + count, self._tick + 50 * count
        words = luck.randbytes(2 * channels * count) if luck.random() < 0.5 else b"\x80\x80" * (channels * count)
        lie = luck.random()
        tick = self._any_tick() if lie < 0.05 else self._tick
        return Samples(group, channels, first if lie < 0.95 else luck.randrange(1 << 48), tick, words)
