"""Message <-> frame: header, payload, CRC-32, zero-free coding, delimiter.

    type u8 | boot u8 | sequence u16 | payload | crc32 u32      -> COBS -> 0x00

`boot` is the low byte of the sender's start counter, `sequence` counts its frames modulo 65536.
"""

from struct import Struct
from struct import error as StructError  # noqa: N812  # an exception by any name

from firmware_protocol import cobs
from firmware_protocol.crc import RESIDUE, crc32
from firmware_protocol.errors import DamageKind, EncodeError, FrameError
from firmware_protocol.messages import MESSAGES, Message
from firmware_protocol.record import record

DELIMITER = b"\0"
RAW_FRAME_MAX = 1024  # header, payload and checksum; a small board keeps two of them in RAM at most
HEADER = Struct("<BBH")
_CRC = Struct("<I")
_PAYLOAD = slice(HEADER.size, -_CRC.size)
_unpack_header = HEADER.unpack_from
RAW_FRAME_MIN = HEADER.size + _CRC.size
PAYLOAD_MAX = RAW_FRAME_MAX - RAW_FRAME_MIN
ENCODED_FRAME_MAX = cobs.encoded_length_max(RAW_FRAME_MAX)  # without the delimiter
SEQUENCE_MODULUS = 1 << 16

_BY_TYPE = {message.TYPE: message for message in MESSAGES}


@record
class Frame:
    """A frame whose checksum was right; its payload is not read yet."""

    type: int
    boot: int
    sequence: int
    payload: bytes

    def message(self) -> Message | None:
        """As `message_of`."""
        return message_of(self.type, self.payload)


def encode_frame(message: Message, *, sequence: int, boot: int = 0) -> bytes:
    """The bytes of one message on the wire, delimiter included. `boot` and `sequence` are taken modulo 256 and 65536.

    Raises EncodeError if a value does not fit its place or the payload is longer than PAYLOAD_MAX.
    """
    try:
        payload = message.payload()
    except (StructError, OverflowError, ValueError) as error:
        raise EncodeError(f"{type(message).__name__}: {error}") from error
    if len(payload) > PAYLOAD_MAX:
        raise EncodeError(f"{type(message).__name__} has {len(payload)} bytes, at most {PAYLOAD_MAX}")
    raw = HEADER.pack(message.TYPE, boot & 0xFF, sequence % SEQUENCE_MODULUS) + payload
    return cobs.encode(raw + _CRC.pack(crc32(raw))) + DELIMITER


def decode_frame(coded: bytes) -> Frame:
    """Open one frame, delimiter already removed.

    Raises FrameError with the kind of damage; the checksum is judged before anything inside is read.
    """
    return Frame(*open_frame(coded))


def open_frame(coded: bytes) -> tuple[int, int, int, bytes]:
    """As `decode_frame`: type, boot, sequence and payload, without an object of their own."""
    raw = cobs.decode(coded)
    length = len(raw)
    if length < RAW_FRAME_MIN:
        raise FrameError(DamageKind.SHORT, f"{length} bytes, a frame has at least {RAW_FRAME_MIN}")
    if length > RAW_FRAME_MAX:  # a few more than allowed can hide in a coding that is not too long
        raise FrameError(DamageKind.TOO_LONG, f"{length} bytes, a frame has at most {RAW_FRAME_MAX}")
    if crc32(raw) != RESIDUE:
        raise FrameError(DamageKind.CHECKSUM, f"checksum of {length} bytes differs")
    kind, boot, sequence = _unpack_header(raw)
    return kind, boot, sequence, raw[_PAYLOAD]


def message_of(kind: int, payload: bytes) -> Message | None:
    """The message of this type, None for a type that this version does not know.

    Raises FrameError (malformed) if the payload is impossible.
    """
    known = _BY_TYPE.get(kind)
    return known.parse(payload) if known else None
