"""Board to PC: what one digital input carries, and how exactly its edges are caught."""

from dataclasses import dataclass
from enum import IntEnum
from struct import Struct
from typing import ClassVar, Self

from firmware_protocol.errors import EncodeError, malformed
from firmware_protocol.fields import (
    U32_MAX,
    Fields,
    byte_of,
    delay_bytes,
    delay_of,
    enum_of,
    flag_of,
    need,
    pack_fields,
    refuse,
    required,
    text_of,
    unpack_fields,
    values_of,
)

_U8, _U32 = Struct("<B"), Struct("<I")


class InputKind(IntEnum):
    """What an input line carries."""

    HALL = 1
    PULSE = 2
    COUNTER = 3


@dataclass(frozen=True, slots=True)
class InputDescription:
    """One digital input. `bit` is its place in the state byte of an edge; a counter has no bit of its own there.

    `look_ticks`: the board looks at it only so often (at most so many ticks apart), and an edge carries the tick of the
    look that found it; None: every edge carries its own.
    """

    TYPE: ClassVar[int] = 0x03
    index: int
    kind: InputKind
    name: str
    bit: int = 0
    pulses_per_turn: int | None = None  # for pulse and counter inputs
    inverted: bool = False
    delay_ns: int = 0
    delay_limit_ns: int | None = None
    look_ticks: int | None = None
    unknown: tuple[tuple[int, bytes], ...] = ()

    def payload(self) -> bytes:
        refuse(self.impossible(), EncodeError)
        fields: Fields = [(1, bytes((self.kind,))), (2, self.name.encode()), (3, bytes((self.bit,)))]
        if self.pulses_per_turn is not None:
            fields += [(4, _U32.pack(self.pulses_per_turn))]
        fields += [(5, b"\1" if self.inverted else b""), (6, delay_bytes(self.delay_ns, self.delay_limit_ns))]
        fields += [(7, _U32.pack(self.look_ticks) if self.look_ticks else b"")]
        return bytes((self.index,)) + pack_fields([*fields, *self.unknown])

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        need(payload, 1, "input description")
        what = f"input {payload[0]}"
        known, unknown = unpack_fields(payload[1:], range(1, 8))
        pulses, (delay_ns, delay_limit_ns) = values_of(known, 4, _U32), delay_of(known, 6)
        looks = values_of(known, 7, _U32)
        kind = enum_of(InputKind, required(known, 1, _U8, f"{what}: kind")[0], f"{what}: kind")
        bit = byte_of(known, 3)
        if bit is None and kind is not InputKind.COUNTER:
            raise malformed(f"{what}: bit is missing")
        described = cls(
            payload[0],
            kind,
            name=text_of(known, 2),
            bit=bit or 0,
            pulses_per_turn=pulses[0] if pulses else None,
            inverted=flag_of(known, 5),
            delay_ns=delay_ns,
            delay_limit_ns=delay_limit_ns,
            look_ticks=looks[0] or None if looks else None,
            unknown=unknown,
        )
        refuse(described.impossible(), malformed)
        return described

    def impossible(self) -> str:
        """What no input can be, in words; empty if there is nothing."""
        if not 0 <= self.bit <= 7:
            return f"input {self.index}: bit {self.bit} is not 0 to 7"
        if self.look_ticks is not None and not 0 < self.look_ticks <= U32_MAX:
            return f"input {self.index}: looks {self.look_ticks} ticks apart are not 1 to {U32_MAX}"
        return f"input {self.index}: pulses per turn is 0" if self.pulses_per_turn == 0 else ""
