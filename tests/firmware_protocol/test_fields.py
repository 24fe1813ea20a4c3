"""firmware_protocol/fields.py: tagged fields and plain values."""

from struct import Struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import TICK_MAX, DamageKind, EncodeError, FrameError
from firmware_protocol.fields import (
    byte_of,
    float32_bytes,
    float32_of,
    pack_fields,
    text_of,
    tick_bytes,
    tick_of,
    unpack_fields,
    values_of,
)
from tests.firmware_protocol.strategies import examples


def test_fields_are_tag_length_value() -> None:
    assert pack_fields([(1, b"ab"), (200, b"\x00")]) == b"\x01\x02ab\xc8\x01\x00"
    assert unpack_fields(b"\x01\x02ab\xc8\x01\x00", {1}) == ({1: b"ab"}, ((200, b"\x00"),))


def test_an_empty_field_says_no_more_than_a_missing_one() -> None:
    assert pack_fields([(1, b""), (2, b"x")]) == b"\x02\x01x"
    assert unpack_fields(b"\x01\x00\x63\x00\x02\x01x", {1, 2}) == ({2: b"x"}, ())


def test_a_tag_that_comes_again_continues_its_value() -> None:
    text = "é" * 300  # two bytes each: a cut falls into the middle of one
    known, unknown = unpack_fields(pack_fields([(6, text.encode())]), {6})
    assert (text_of(known, 6), unknown) == (text, ())


@given(st.binary(max_size=60))
@examples(300)
def test_any_bytes_are_fields_or_refused(raw: bytes) -> None:
    kinds = []
    try:
        known, unknown = unpack_fields(raw, {1, 2, 3})
    except FrameError as error:
        kinds.append(error.kind)
        known, unknown = {}, ()
    assert kinds in ([], [DamageKind.MALFORMED])
    assert sum(map(len, known.values())) + sum(len(value) + 2 for _, value in unknown) <= len(raw)


@pytest.mark.parametrize("raw", [b"\x01", b"\x01\x02a", b"\x01\x01a\x02\xff"])
def test_a_field_that_reaches_beyond_the_end_is_refused(raw: bytes) -> None:
    with pytest.raises(FrameError, match="reaches beyond"):
        unpack_fields(raw, {1, 2})


def test_a_value_longer_than_its_length_byte_can_say_is_continued() -> None:
    assert pack_fields([(1, b"x" * 255)]) == b"\x01\xff" + b"x" * 255
    assert pack_fields([(1, b"x" * 256)]) == b"\x01\xff" + b"x" * 255 + b"\x01\x01x"


def test_ticks_have_48_bits() -> None:
    assert tick_bytes(TICK_MAX) == b"\xff" * 6
    assert tick_of(tick_bytes(0x0102_0304_0506)) == 0x0102_0304_0506
    assert tick_bytes(1) == b"\x01\0\0\0\0\0"
    for tick in (-1, TICK_MAX + 1):
        with pytest.raises(EncodeError, match="48 bits"):
            tick_bytes(tick)


def test_bytes_that_are_no_text_are_shown_as_such() -> None:
    assert text_of({1: b"a\xff\xfeb"}, 1) == "a��b"


@pytest.mark.parametrize("raw", [b"\0\0\x80\x7f", b"\0\0\x80\xff", b"\0\0\xc0\x7f", b"\x01\0\x80\xff"])
def test_infinities_and_every_nan_are_refused_with_the_number_of_the_field(raw: bytes) -> None:
    with pytest.raises(FrameError, match="field 13"):
        float32_of({13: raw}, 13)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_we_write_no_nan_and_no_infinity(value: float) -> None:
    with pytest.raises(EncodeError, match="leave out"):
        float32_bytes(value)


def test_a_field_of_another_length_is_refused_with_its_number() -> None:
    with pytest.raises(FrameError, match="field 11: 3 bytes, needs 5"):
        values_of({11: b"abc"}, 11, Struct("<BI"))
    with pytest.raises(FrameError, match="field 8: 2 bytes, needs 1"):
        byte_of({8: b"ab"}, 8)
    assert [values_of({}, 11, Struct("<BI")), byte_of({}, 8), float32_of({}, 13)] == [None, None, None]
