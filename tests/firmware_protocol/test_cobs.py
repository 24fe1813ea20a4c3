"""firmware_protocol/cobs.py against the published examples and two other implementations."""

import pytest
from cobs import cobs as in_c
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import DamageKind, FrameError, cobs
from tests.firmware_protocol.independent import stuff, unstuff
from tests.firmware_protocol.strategies import examples

UP_TO_FE = bytes(range(0x01, 0xFF))

# S. Cheshire, M. Baker, IEEE/ACM Transactions on Networking 7(2), 1999; the eleven rows of the example table of the
# encyclopedia article of the same name, as reproduced in three public test files.
PUBLISHED = (
    (b"\x00", b"\x01\x01\x00"),
    (b"\x00\x00", b"\x01\x01\x01\x00"),
    (b"\x00\x11\x00", b"\x01\x02\x11\x01\x00"),
    (b"\x11\x22\x00\x33", b"\x03\x11\x22\x02\x33\x00"),
    (b"\x11\x22\x33\x44", b"\x05\x11\x22\x33\x44\x00"),
    (b"\x11\x00\x00\x00", b"\x02\x11\x01\x01\x01\x00"),
    (UP_TO_FE, b"\xff" + UP_TO_FE + b"\x00"),
    (b"\x00" + UP_TO_FE, b"\x01\xff" + UP_TO_FE + b"\x00"),
    (UP_TO_FE + b"\xff", b"\xff" + UP_TO_FE + b"\x02\xff\x00"),
    (bytes(range(0x02, 0x100)) + b"\x00", b"\xff" + bytes(range(0x02, 0x100)) + b"\x01\x01\x00"),
    (bytes(range(0x03, 0x100)) + b"\x00\x01", b"\xfe" + bytes(range(0x03, 0x100)) + b"\x02\x01\x00"),
)

# Bytes without a zero, and the length of their coding: one more for each started 254, at least one (derived).
OVERHEAD = ((0, 1), (1, 2), (253, 254), (254, 255), (255, 257), (508, 510), (509, 512), (1000, 1004))

mostly_zeros = st.lists(st.sampled_from((b"\0", b"\1", b"\xff", b"x" * 253, b"y" * 254, b"z" * 300)), max_size=12).map(
    lambda pieces: b"".join(pieces)
)


@pytest.mark.parametrize(("data", "wire"), PUBLISHED)
def test_the_published_examples_come_out_both_ways(data: bytes, wire: bytes) -> None:
    assert cobs.encode(data) + b"\0" == wire
    assert cobs.decode(wire[:-1]) == data


@pytest.mark.parametrize(("length", "coded"), OVERHEAD)
def test_the_overhead_is_one_byte_in_254(length: int, coded: int) -> None:
    assert len(cobs.encode(b"\x55" * length)) == coded == cobs.encoded_length_max(length)


@given(st.binary(max_size=1100) | mostly_zeros)
@examples(300)
def test_two_other_implementations_agree(data: bytes) -> None:
    coded = cobs.encode(data)
    assert coded == in_c.encode(data) == stuff(data)
    assert cobs.decode(coded) == data == unstuff(coded)
    assert 0 not in coded
    assert len(coded) <= cobs.encoded_length_max(len(data))


def test_a_needless_empty_last_block_is_accepted() -> None:
    assert cobs.decode(b"\xff" + UP_TO_FE + b"\x01") == UP_TO_FE
    assert cobs.decode(b"\x03\x11\x22\x01") == b"\x11\x22\x00"  # here it is not needless


@given(st.binary(max_size=600))
@examples(300)
def test_any_bytes_are_decoded_as_c_does_or_refused_as_stuffing(coded: bytes) -> None:
    try:
        expected = in_c.decode(coded)
    except in_c.DecodeError:
        with pytest.raises(FrameError) as refused:
            cobs.decode(coded)
        assert refused.value.kind is DamageKind.STUFFING
    else:
        assert cobs.decode(coded) == expected
