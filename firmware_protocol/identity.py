"""Board to PC: who the board is and which version it speaks. Both sides judge the version before anything else."""

from dataclasses import dataclass
from enum import StrEnum
from struct import Struct
from typing import ClassVar, Self

from firmware_protocol.errors import EncodeError, malformed
from firmware_protocol.fields import (
    Fields,
    byte_of,
    float32_bytes,
    float32_of,
    need,
    negative,
    pack_fields,
    refuse,
    text_of,
    unpack_fields,
)
from firmware_protocol.version import understands


class Source(StrEnum):
    """Where a board's samples come from; anything but hardware is shown as such."""

    HARDWARE = "hardware"
    DEMO = "demo"
    PLAYER = "player"


@dataclass(frozen=True, slots=True)
class Identity:
    """Who the board is. The two version bytes come first in every version of the protocol."""

    TYPE: ClassVar[int] = 0x01
    major: int
    minor: int
    boot: int  # counts the board's starts; its low byte stands in every frame header
    tick_hz: int  # nominal ticks a second
    channels: int
    inputs: int
    serial: str
    model: str = ""
    firmware: str = ""
    source: str = Source.HARDWARE
    clock_tolerance_ppm: float | None = None
    plate: str = ""  # what the board has been told of its motor: TOML text as in a rig's settings
    revision: int = 0  # another one each time the description changes within a start
    unknown: tuple[tuple[int, bytes], ...] = ()

    _HEAD: ClassVar[Struct] = Struct("<BBIIBB")

    def payload(self) -> bytes:
        refuse(self.impossible(), EncodeError)
        head = self._HEAD.pack(self.major, self.minor, self.boot, self.tick_hz, self.channels, self.inputs)
        fields: Fields = [(1, self.serial.encode()), (2, self.model.encode()), (3, self.firmware.encode())]
        fields += [(4, str(self.source).encode()), (5, float32_bytes(self.clock_tolerance_ppm))]
        fields += [(6, self.plate.encode()), (7, bytes([self.revision]) if self.revision else b"")]
        return head + pack_fields([*fields, *self.unknown])

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        """Of a version that is not understood only its two bytes are read: the rest may mean something else there."""
        need(payload, 2, "identity")
        if not understands(payload[0], payload[1]):
            return cls(payload[0], payload[1], boot=0, tick_hz=1, channels=0, inputs=0, serial="")
        need(payload, cls._HEAD.size, "identity")
        known, unknown = unpack_fields(payload[cls._HEAD.size :], range(1, 8))
        major, minor, boot, tick_hz, channels, inputs = cls._HEAD.unpack_from(payload)
        identity = cls(
            major,
            minor,
            boot,
            tick_hz,
            channels,
            inputs,
            serial=text_of(known, 1),
            model=text_of(known, 2),
            firmware=text_of(known, 3),
            source=text_of(known, 4) or Source.HARDWARE,
            clock_tolerance_ppm=float32_of(known, 5),
            plate=text_of(known, 6),
            revision=byte_of(known, 7) or 0,
            unknown=unknown,
        )
        refuse(identity.impossible(), malformed)
        return identity

    def impossible(self) -> str:
        """What no board can mean, in words; empty if there is nothing."""
        if not understands(self.major, self.minor):
            return ""
        if self.tick_hz == 0:
            return "identity: tick_hz is 0"
        if not self.serial:
            return "identity: the serial number is missing"
        return negative("identity", {"clock tolerance": self.clock_tolerance_ppm})
