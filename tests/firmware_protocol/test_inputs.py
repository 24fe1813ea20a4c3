"""firmware_protocol/inputs.py: what no input can be is refused, on both sides."""

from dataclasses import replace

import pytest

from firmware_protocol import EncodeError, FrameError, InputDescription, InputKind

HALL = InputDescription(0, InputKind.HALL, "Hall A", bit=2)


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        ({"bit": 8}, "bit 8"),
        ({"bit": -1}, "bit -1"),
        ({"pulses_per_turn": 0}, "pulses per turn"),
        ({"look_ticks": 0}, "looks 0 ticks"),
        ({"look_ticks": 1 << 32}, "looks 4294967296 ticks"),
    ],
)
def test_what_no_input_can_be_is_not_written(wrong: dict[str, int], named: str) -> None:
    with pytest.raises(EncodeError, match=named):
        replace(HALL, **wrong).payload()  # type: ignore[arg-type]  # values by name


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        (b"", "kind is missing"),
        (b"\x01\x00\x03\x01\x00", "kind is missing"),
        (b"\x01\x01\x00\x03\x01\x00", "kind 0"),
        (b"\x01\x01\x04\x03\x01\x00", "kind 4"),
        (b"\x01\x01\x01", "bit is missing"),
        (b"\x01\x01\x01\x03\x01\x08", "bit 8"),
        (b"\x01\x01\x01\x03\x02\x00\x00", "field 3"),
        (b"\x01\x01\x02\x03\x01\x00\x04\x04\x00\x00\x00\x00", "pulses per turn"),
        (b"\x01\x01\x02\x03\x01\x00\x04\x02\x00\x00", "field 4"),
        (b"\x01\x01\x01\x03\x01\x00\x05\x01\x02", "field 5: 2 is neither 0 nor 1"),
        (b"\x01\x01\x02\x03\x01\x00\x06\x04\x00\x00\x00\x00", "field 6"),
        (b"\x01\x01\x02\x03\x01\x00\x07\x02\x00\x01", "field 7"),
    ],
)
def test_a_forged_field_is_refused_with_its_name(fields: bytes, named: str) -> None:
    with pytest.raises(FrameError, match=named):
        InputDescription.parse(b"\x05" + fields)


def test_a_counter_needs_no_bit() -> None:
    assert InputDescription.parse(b"\x05\x01\x01\x03") == InputDescription(5, InputKind.COUNTER, "")


def test_a_zero_for_inverted_means_that_it_is_not() -> None:
    assert not InputDescription.parse(b"\x05\x01\x01\x03\x05\x01\x00").inverted
    assert InputDescription.parse(b"\x05\x01\x01\x03\x05\x01\x01").inverted


def test_looks_that_are_left_out_or_0_apart_are_none_and_each_edge_has_its_own_tick() -> None:
    hall = b"\x05\x01\x01\x01\x03\x01\x00"
    assert InputDescription.parse(hall).look_ticks is None
    assert InputDescription.parse(hall + b"\x07\x04" + bytes(4)).look_ticks is None
    assert InputDescription.parse(hall + b"\x07\x04\xc8\x00\x00\x00").look_ticks == 200
