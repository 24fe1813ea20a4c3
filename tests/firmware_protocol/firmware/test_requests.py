"""core/request.c: a board hears in any bytes what the codec in Python hears, and nothing more."""

from fractions import Fraction
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import TO_BOARD, ClockReply, ClockRequest, Message, Start, Status, Stop, Word, encode_frame
from tests.firmware_protocol.firmware.c_core import HEARD, Core
from tests.firmware_protocol.firmware.host_board import Group, HostBoard, messages
from tests.firmware_protocol.firmware.twins import OF_A_PC, REQUEST_BYTES_MAX, hears_the_same, message_in
from tests.firmware_protocol.mutations import mutated
from tests.firmware_protocol.strategies import BY_TYPE, U16, examples

REQUESTS = st.one_of(*(BY_TYPE[kind] for kind in TO_BOARD))


@pytest.mark.parametrize("golden", OF_A_PC, ids=lambda golden: golden["what"])
def test_a_golden_frame_of_a_pc_is_heard(core: Core, golden: dict[str, Any]) -> None:
    coded = bytes.fromhex(golden["wire"])[:-1]
    hears_the_same(core, coded)
    assert core.request(coded)[1] == message_in(golden)


@examples(200)
@given(message=REQUESTS, sequence=U16)
def test_any_request_is_heard(core: Core, message: Message, sequence: int) -> None:
    coded = encode_frame(message, sequence=sequence)[:-1]
    hears_the_same(core, coded)
    assert core.request(coded)[1] == message


@examples(500)
@given(coded=st.binary(max_size=REQUEST_BYTES_MAX).map(lambda data: data.replace(b"\0", b"\1")))
def test_rubbish_is_judged_as_the_codec_judges_it(core: Core, coded: bytes) -> None:
    hears_the_same(core, coded)


def test_spoilt_and_forged_frames_are_judged_as_the_codec_judges_them(core: Core) -> None:
    """Changed, cut, doubled inside; half of them with a right checksum over it, so that the contents are reached."""
    draw = Random("requests")
    originals = [bytes.fromhex(golden["wire"])[:-1] for golden in OF_A_PC]
    heard = set()
    for _ in range(5000):
        for coded in mutated(draw, originals).split(b"\0"):
            if 0 < len(coded) <= REQUEST_BYTES_MAX:
                heard.add(hears_the_same(core, coded))
    assert heard == set(HEARD) - {"nothing", "too_long"}


def test_a_flood_that_its_box_cannot_hold_takes_no_later_request_along(core: Core) -> None:
    """The main loop is away while more comes than there is room for, a delimiter last; then it comes back."""
    for flood in range(40, 140):
        board = HostBoard(core, (Group(1, Word.INT16, 8, Fraction(1000)),))
        messages(board.step(60))
        board.flood(b"\x55" * flood + b"\0")
        board.flood(b"\x01\x02\0" * (flood % 7) + b"\0")
        messages(board.step(5))
        board.ask(ClockRequest(flood))
        (reply,) = (one for one in messages(board.step(60)) if isinstance(one, ClockReply))
        assert reply.token == flood


def test_more_requests_at_once_than_it_keeps_stamps_for_are_all_obeyed_without_another_byte(core: Core) -> None:
    board = HostBoard(core, (Group(1, Word.INT16, 8, Fraction(1000)),))
    messages(board.step(60))
    asked: list[Message] = [Start(), Start(), Start(), Start(), Stop()]  # its box holds them, but four stamps
    board.flood(b"".join(encode_frame(one, sequence=k) for k, one in enumerate(asked)))
    statuses = [one for one in messages(board.step(500)) if isinstance(one, Status)]
    assert not statuses[-1].streaming
