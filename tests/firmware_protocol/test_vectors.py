"""firmware_protocol/vectors/frames.json: frames that never change, of every message, with awkward values."""

import json
from typing import Any

import pytest

from firmware_protocol import MESSAGES, Decoder, Received, encode_frame
from firmware_protocol.cobs import decode
from tests.firmware_protocol.golden import FILE
from tests.firmware_protocol.independent import framed
from tests.firmware_protocol.plain import from_plain, to_plain

FRAMES: list[dict[str, Any]] = json.loads(FILE.read_text())
EACH = pytest.mark.parametrize("golden", FRAMES, ids=lambda golden: golden["what"])
ABOUT = ("what", "sequence", "boot_byte", "wire")


def plain_of(golden: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in golden.items() if name not in ABOUT}


@EACH
def test_a_golden_frame_is_written_byte_for_byte(golden: dict[str, Any]) -> None:
    message = from_plain(plain_of(golden))
    assert encode_frame(message, sequence=golden["sequence"], boot=golden["boot_byte"]).hex() == golden["wire"]


@EACH
def test_a_golden_frame_is_read_value_for_value(golden: dict[str, Any]) -> None:
    (found,) = Decoder().feed(bytes.fromhex(golden["wire"]))
    assert isinstance(found, Received)
    assert (found.sequence, found.boot) == (golden["sequence"], golden["boot_byte"])
    assert to_plain(found.message) == plain_of(golden)


@EACH
def test_framing_written_a_second_time_agrees(golden: dict[str, Any]) -> None:
    wire = bytes.fromhex(golden["wire"])
    raw = decode(wire[:-1])
    assert framed(raw[0], golden["boot_byte"], golden["sequence"], raw[4:-4]) == wire


def test_every_message_has_one() -> None:
    assert {golden["message"] for golden in FRAMES} == {message.__name__ for message in MESSAGES}
    assert len({golden["what"] for golden in FRAMES}) == len(FRAMES)
