"""core/describe.c, wire.c, outbox.c, crc.c: the core writes what the codec in Python writes, byte for byte."""

from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import (
    FROM_BOARD,
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    ChannelDescription,
    Identity,
    InputDescription,
    Message,
    encode_frame,
)
from tests.firmware_protocol.firmware.c_core import Core
from tests.firmware_protocol.firmware.twins import (
    OF_A_BOARD,
    checksums_agree,
    message_in,
    writes_golden,
    writes_the_same,
)
from tests.firmware_protocol.strategies import BY_TYPE, U8, U16, examples

MESSAGES = st.one_of(*(BY_TYPE[kind] for kind in FROM_BOARD))


def has_closing_zero(message: Message) -> bool:
    """A text in C ends at its first zero, so it cannot hold one."""
    names = ("serial", "model", "firmware", "source", "plate", "name", "place", "unit")
    described = isinstance(message, Identity | ChannelDescription | InputDescription)
    return described and any("\0" in str(getattr(message, name, "")) for name in names)


@pytest.mark.parametrize("golden", OF_A_BOARD, ids=lambda golden: golden["what"])
def test_a_golden_frame_of_a_board_is_written_byte_for_byte(core: Core, golden: dict[str, Any]) -> None:
    writes_golden(core, golden)


def test_every_message_of_a_board_is_among_them() -> None:
    assert {type(message_in(golden)) for golden in OF_A_BOARD} == set(FROM_BOARD)


@examples(400)
@given(message=MESSAGES.filter(lambda message: not has_closing_zero(message)), sequence=U16, boot=U8)
def test_any_message_is_written_as_the_codec_writes_it(core: Core, message: Message, sequence: int, boot: int) -> None:
    writes_the_same(core, message, sequence, boot)


@examples(100)
@given(message=MESSAGES.filter(lambda message: not has_closing_zero(message)))
def test_a_frame_without_room_is_given_up_whole(core: Core, message: Message) -> None:
    wire = encode_frame(message, sequence=1, boot=0)
    for room in (16, 64, 256, 1024, 2048):
        written = core.encode(message, sequence=1, boot=0, room=room)
        assert written == (wire if len(wire) <= room else None)


def test_the_longest_coding_of_a_payload_is_not_longer_than_said(core: Core) -> None:
    from firmware_protocol.rate import frame_bytes

    assert all(core.c.frame_bytes_max(length) == frame_bytes(length) for length in range(1017))


def test_checksums_are_those_of_zlib(core: Core) -> None:
    checksums_agree(core, Random(1), 2000)


def test_the_core_speaks_the_version_of_the_codec(core: Core) -> None:
    assert core.version == (PROTOCOL_MAJOR, PROTOCOL_MINOR)
