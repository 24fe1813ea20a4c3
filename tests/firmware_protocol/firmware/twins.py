"""What must hold of the core beside the codec in Python, for one message or one piece of a line.

Called by the tests, and once more with the core built with sanitizers (`sanitized.py`).
"""

import json
import zlib
from random import Random
from typing import Any

from firmware_protocol import PROTOCOL_MAJOR, PROTOCOL_MINOR, FrameError, Message, decode_frame, encode_frame
from firmware_protocol.frame import message_of
from firmware_protocol.messages import TO_BOARD
from tests.firmware_protocol.firmware.c_core import Core
from tests.firmware_protocol.golden import FILE
from tests.firmware_protocol.plain import from_plain

GOLDEN: list[dict[str, Any]] = json.loads(FILE.read_text())
OF_ANY_BOARD = [golden for golden in GOLDEN if bytes.fromhex(golden["wire"])[1] < 0x80]
OF_A_PC = [golden for golden in GOLDEN if golden not in OF_ANY_BOARD]
OURS = (PROTOCOL_MAJOR, PROTOCOL_MINOR)
OF_A_BOARD = [  # the core writes its own version alone
    golden for golden in OF_ANY_BOARD if (golden.get("major", OURS[0]), golden.get("minor", OURS[1])) == OURS
]
REQUEST_BYTES_MAX = 63
_ABOUT = ("what", "sequence", "boot_byte", "wire")


def message_in(golden: dict[str, Any]) -> Message:
    return from_plain({name: value for name, value in golden.items() if name not in _ABOUT})


def writes_golden(core: Core, golden: dict[str, Any]) -> None:
    written = core.encode(message_in(golden), sequence=golden["sequence"], boot=golden["boot_byte"])
    # The boot number in an identity need not be the header's byte in a golden frame; on a board it is.
    assert (written or b"").hex() == golden["wire"]


def writes_the_same(core: Core, message: Message, sequence: int, boot: int) -> None:
    assert core.encode(message, sequence=sequence, boot=boot) == encode_frame(message, sequence=sequence, boot=boot)


def hears_the_same(core: Core, coded: bytes) -> str:
    """The core and the codec judge one piece between two delimiters alike; returns what was heard."""
    heard, message = core.request(coded)
    assert (heard, message) == in_python(coded)
    return heard


def in_python(coded: bytes) -> tuple[str, Message | None]:
    """What a board should hear, as the codec has it: a board knows the four messages of a PC only."""
    try:
        frame = decode_frame(coded)
        if frame.type not in {message.TYPE for message in TO_BOARD}:
            return "unknown", None
        message = message_of(frame.type, frame.payload)
    except FrameError as error:
        return error.kind.value, None
    names = {"Describe": "describe", "Start": "start", "Stop": "stop", "ClockRequest": "clock_request"}
    return names[type(message).__name__], message


def checksums_agree(core: Core, draw: Random, rounds: int) -> None:
    """With zlib's, which knows nothing of ours; and the check value of the CRC catalogues."""
    assert core.crc32(b"123456789") == 0xCBF43926
    for _ in range(rounds):
        data = draw.randbytes(draw.randint(0, 40))
        assert core.crc32(data) == zlib.crc32(data)
