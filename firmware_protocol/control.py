"""PC to board: the closed list of what can be asked. No message here can drive a motor, and none may be added that can.

A payload longer than its table is one of a later minor version: what stands behind is not read.
"""

from dataclasses import dataclass
from struct import Struct
from typing import ClassVar, Self

from firmware_protocol.fields import need
from firmware_protocol.version import PROTOCOL_MAJOR, PROTOCOL_MINOR

_TOKEN = Struct("<Q")


@dataclass(frozen=True, slots=True)
class Describe:
    """Say who you are and what you measure. Carries the version the PC speaks."""

    TYPE: ClassVar[int] = 0x81
    major: int = PROTOCOL_MAJOR
    minor: int = PROTOCOL_MINOR

    def payload(self) -> bytes:
        return bytes((self.major, self.minor))

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        need(payload, 2, "describe")
        return cls(payload[0], payload[1])


@dataclass(frozen=True, slots=True)
class Start:
    """Send samples, edges and counts."""

    TYPE: ClassVar[int] = 0x82

    def payload(self) -> bytes:
        return b""

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        return cls()


@dataclass(frozen=True, slots=True)
class Stop:
    """Send only status. The motor is not touched: nothing on this wire can do that."""

    TYPE: ClassVar[int] = 0x83

    def payload(self) -> bytes:
        return b""

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        return cls()


@dataclass(frozen=True, slots=True)
class ClockRequest:
    """What is your tick? The token is the PC's own time in microseconds; the board only repeats it."""

    TYPE: ClassVar[int] = 0x84
    token: int

    def payload(self) -> bytes:
        return _TOKEN.pack(self.token)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        need(payload, _TOKEN.size, "clock request")
        return cls(_TOKEN.unpack_from(payload)[0])
