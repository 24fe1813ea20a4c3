"""A board on this PC around the portable core: a test is its converter, its inputs, its line and its clock."""

from collections.abc import Sequence
from ctypes import byref, c_int32, pointer
from fractions import Fraction

from firmware_protocol import (
    ChannelDescription,
    Damage,
    Decoder,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Received,
    Role,
    Word,
    encode_frame,
)
from tests.firmware_protocol.firmware.c_core import Core, c_channel, c_identity, c_input
from tests.firmware_protocol.firmware.c_records import (
    CChannel,
    CDescription,
    CGroup,
    CIdentity,
    CInput,
    CSetup,
    CSingle,
    c_tick,
)

TICK_HZ = 1_000_000
BYTES_PER_MS = 25  # 250 000 baud


def channels_of(groups: Sequence["Group"]) -> list[ChannelDescription]:
    made: list[ChannelDescription] = []
    for number, group in enumerate(groups):
        end = 1 << (group.word.bits - 1)
        for _ in range(group.channels):
            made.append(
                ChannelDescription(
                    len(made), Role.CURRENT, f"I{len(made)}", "L1", "A", 0.5, 0.0, -end, end - 1,
                    group=number, ticks_per_sample=group.ticks, word=group.word,
                )
            )  # fmt: skip
    return made


class Group:
    """One group of channels, and how many of its sets make a block."""

    def __init__(self, channels: int, word: Word, sets: int, ticks: Fraction) -> None:
        self.channels, self.word, self.sets, self.ticks = channels, word, sets, ticks


class HostBoard:
    """`step` lets time pass: a poll each millisecond, or as often as asked; the line takes `bytes_per_ms`."""

    def __init__(
        self,
        core: Core,
        groups: Sequence[Group],
        *,
        streaming: bool = True,
        outbox_bytes: int = 2048,
        counters: int = 0,
        levels: int = 0,
        now: int = 0,
        boot: int = 1,
        plate: str = "",
    ) -> None:
        self.core, self.groups, self.now = core, groups, now
        self.bytes_per_ms = BYTES_PER_MS
        self.wire, self._sequence, self._decoder = b"", 0, Decoder(from_board=True)
        self.channels = channels_of(groups)
        self.inputs = [InputDescription(k, InputKind.HALL, name, k) for k, name in enumerate("ABC")]
        self.inputs += [InputDescription(3 + k, InputKind.COUNTER, "flow") for k in range(counters)]
        self.identity = Identity(1, 0, boot, TICK_HZ, len(self.channels), len(self.inputs), "T-1", plate=plate)
        self._kept = (
            CDescription(
                (CIdentity * 1)(c_identity(self.identity)),
                (CChannel * len(self.channels))(*map(c_channel, self.channels)),
                (CInput * len(self.inputs))(*map(c_input, self.inputs)),
            ),
            (CGroup * len(groups))(
                *(CGroup(g.channels, g.word, g.sets, g.ticks.numerator, g.ticks.denominator) for g in groups)
            ),
        )
        setup = CSetup(
            pointer(self._kept[0]), self._kept[1], len(groups), counters, outbox_bytes, 64, 16, levels, boot,
            streaming,
        )  # fmt: skip
        self._session = core.c.host_start(byref(setup), c_tick(now))
        assert self._session
        self._box = core.c.host_box(self._session)

    def step(self, ms: float, poll_us: int = 1000) -> list[Received | Damage]:
        end, found = self.now + round(ms * 1000), list[Received | Damage]()
        while self.now < end:
            self.now += poll_us
            self.core.c.session_poll(self._session, c_tick(self.now))
            found += self.send(self.bytes_per_ms * poll_us // 1000)
        return found

    def send(self, count: int) -> list[Received | Damage]:
        """The line takes so many bytes; returns what they mean."""
        sent = self.core.sent(self._box, count) if count else b""
        self.wire += sent
        return self._decoder.feed(sent)

    def take(self, group: int, sets: Sequence[Sequence[int]]) -> int:
        flat = [code for codes in sets for code in codes]
        return int(self.core.c.host_take(self._session, group, (c_int32 * len(flat))(*flat), len(sets)))

    def miss(self, group: int, sets: int) -> None:
        self.core.c.host_miss(self._session, group, sets)

    def edge(self, tick: int, levels: int) -> None:
        self.core.c.host_edge(self._session, tick & 0xFFFFFFFF, levels)

    def count(self, counter: int, tick: int) -> None:
        self.core.c.host_count(self._session, counter, tick & 0xFFFFFFFF)

    def single(self, channel: int, number: int, code: int) -> bool:
        sample = CSingle(channel, number, c_tick(self.now), code)
        return bool(self.core.c.session_single(self._session, byref(sample), c_tick(self.now)))

    def redescribe(self) -> None:
        self.core.c.session_redescribe(self._session, byref(self._kept[0]), c_tick(self.now))

    @property
    def is_behind(self) -> bool:
        return bool(self.core.c.session_is_behind(self._session))

    def ask(self, *messages: Message) -> None:
        for message in messages:
            self.hear(encode_frame(message, sequence=self._sequence))
            self._sequence += 1

    def flood(self, data: bytes) -> None:
        """Bytes of the line while the main loop is away."""
        self.core.c.host_hear(self._session, data, len(data), c_tick(self.now))

    def hear(self, data: bytes) -> None:
        """Bytes of the line, in pieces that the board's box can hold between two polls."""
        for at in range(0, len(data), 48):
            piece = data[at : at + 48]
            self.core.c.host_hear(self._session, piece, len(piece), c_tick(self.now))
            self.core.c.session_poll(self._session, c_tick(self.now))


def messages(found: Sequence[Received | Damage]) -> list[Message]:
    assert not [one for one in found if isinstance(one, Damage)]
    return [one.message for one in found if isinstance(one, Received)]
