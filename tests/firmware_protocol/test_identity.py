"""firmware_protocol/identity.py and version.py: who the board is, and versions that do not fit."""

from dataclasses import replace

import pytest

from firmware_protocol import (
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    EncodeError,
    FrameError,
    Identity,
    understands,
    version_to_ask,
)

BOARD = Identity(1, 0, 1, 1_000_000, 2, 1, "HB-0001")


def test_the_source_is_hardware_unless_the_board_says_otherwise() -> None:
    assert Identity.parse(replace(BOARD, source="").payload()).source == "hardware"


@pytest.mark.parametrize(
    ("wrong", "named"),
    [({"tick_hz": 0}, "tick_hz"), ({"serial": ""}, "serial"), ({"clock_tolerance_ppm": -1.0}, "clock tolerance")],
)
def test_what_no_board_can_be_is_not_written(wrong: dict[str, object], named: str) -> None:
    with pytest.raises(EncodeError, match=named):
        replace(BOARD, **wrong).payload()  # type: ignore[arg-type]  # values by name


@pytest.mark.parametrize(
    ("payload", "named"),
    [
        (b"\0", "needs 2"),
        (b"\1\0\x01", "needs 12"),
        (b"\1\0" + b"\0" * 10 + b"\x01\x01x", "tick_hz"),
        (BOARD.payload()[:12], "serial"),
        (BOARD.payload()[:12] + b"\x01\x00", "serial"),
        (BOARD.payload() + b"\x05\x04\0\0\x80\xbf", "clock tolerance"),
        (BOARD.payload() + b"\x05\x03\0\0\0", "field 5"),
    ],
)
def test_what_no_board_can_be_is_refused_with_the_name_of_the_field(payload: bytes, named: str) -> None:
    with pytest.raises(FrameError, match=named):
        Identity.parse(payload)


def test_major_versions_must_agree_and_the_last_candidate_of_1_0_is_read() -> None:
    assert (PROTOCOL_MAJOR, PROTOCOL_MINOR) == (1, 0)
    assert all(understands(1, minor) for minor in range(256))
    assert not any(understands(2, minor) for minor in range(256))
    assert [minor for minor in range(256) if understands(0, minor)] == [10]


@pytest.mark.parametrize(
    ("spoken", "asked"), [((1, 0), (1, 0)), ((1, 7), (1, 0)), ((0, 10), (0, 10)), ((2, 0), (1, 0))]
)
def test_a_board_is_asked_in_the_version_that_it_answers(spoken: tuple[int, int], asked: tuple[int, int]) -> None:
    assert version_to_ask(*spoken) == asked


def test_a_board_of_a_later_minor_version_is_read_and_what_nobody_knows_yet_is_kept() -> None:
    later = replace(BOARD, minor=7, unknown=((8, b"later"), (150, b"\0")))
    assert Identity.parse(later.payload()) == later


@pytest.mark.parametrize("payload", [b"\x02\x02", b"\x02\x00" + b"\xff" * 30, b"\x00\x09" + bytes(40)])
def test_of_another_version_only_the_version_is_read(payload: bytes) -> None:
    other = Identity.parse(payload)
    assert (other.major, other.minor, other.channels, other.serial) == (payload[0], payload[1], 0, "")
