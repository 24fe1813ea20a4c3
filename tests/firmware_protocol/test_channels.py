"""firmware_protocol/channels.py: what no channel can be is refused, on both sides."""

from dataclasses import replace
from fractions import Fraction
from struct import pack

import pytest

from firmware_protocol import ChannelDescription, EncodeError, FrameError, Role, SampleKind, Word

EVEN = ChannelDescription(
    3, Role.CURRENT, "I", "line", "A", 0.001, 0.5, -32768, 32767, group=0, ticks_per_sample=Fraction(50)
)
UNEVEN = replace(EVEN, group=None, ticks_per_sample=None, interval_ticks_max=1000)
BARE = bytes([3])  # the index; fields are put behind it
ROLE, SCALE, OFFSET = b"\x01\x01\x02", b"\x05\x08" + pack("<d", 0.001), b"\x06\x08" + pack("<d", 0.0)
RANGE, GROUP, RATE = b"\x07\x08" + pack("<ii", -10, 10), b"\x08\x01\x00", b"\x09\x08" + pack("<II", 50, 1)
LEAST = (ROLE, SCALE, OFFSET, RANGE, GROUP, RATE)


def test_the_least_that_a_channel_must_say_is_enough() -> None:
    assert ChannelDescription.parse(BARE + b"".join(LEAST)) == ChannelDescription(
        3, Role.CURRENT, "", "", "", 0.001, 0.0, -10, 10, group=0, ticks_per_sample=Fraction(50)
    )


@pytest.mark.parametrize("missing", range(len(LEAST)))
def test_without_any_of_it_a_channel_is_refused(missing: int) -> None:
    fields = b"".join(field for number, field in enumerate(LEAST) if number != missing)
    with pytest.raises(FrameError, match="channel 3"):
        ChannelDescription.parse(BARE + fields)


WRONG = [
    ({"scale": 0.0}, "scale"),
    ({"scale": float("nan")}, "scale"),
    ({"scale": float("inf")}, "scale"),
    ({"scale": 1e307}, "scale"),  # the ends of the range would be infinite
    ({"offset": float("nan")}, "offset"),
    ({"offset": -float("inf")}, "offset"),
    ({"code_low": 5, "code_high": 5}, "code range"),
    ({"code_low": 6, "code_high": 5}, "code range"),
    ({"code_high": 32768}, "does not fit 16 bits"),
    ({"code_low": -2049, "word": Word.PACKED12}, "does not fit 12 bits"),
    ({"code_high": 1 << 23, "word": Word.INT24}, "does not fit 24 bits"),
    ({"group": None}, "either"),
    ({"ticks_per_sample": None}, "either"),
    ({"interval_ticks_max": 9}, "either"),
    ({"ticks_per_sample": Fraction(1, 2)}, "at least 1"),
    ({"group": None, "ticks_per_sample": None, "interval_ticks_max": 0}, "longest interval"),
    ({"noise_codes_rms": -1.0}, "noise"),
    ({"gain_limit": -0.5}, "gain limit"),
    ({"offset_limit_codes": -0.5}, "offset limit"),
    ({"corner_high_hz": -1.0}, "upper corner"),
    ({"corner_low_hz": 10.0, "corner_high_hz": 10.0}, "corner"),
    ({"role": Role.OTHER, "name": ""}, "needs a name"),
]


@pytest.mark.parametrize(("wrong", "named"), WRONG)
def test_what_no_channel_can_be_is_not_written(wrong: dict[str, object], named: str) -> None:
    with pytest.raises(EncodeError, match=named):
        replace(EVEN, **wrong).payload()  # type: ignore[arg-type]  # values by name


FORGED = [
    (b"\x01\x01\x08", "role 8"),
    (b"\x01\x02\x02\x02", "field 1"),
    (b"\x01\x00", "role"),
    (b"\x05\x08" + pack("<d", float("nan")), "scale"),
    (b"\x06\x08" + pack("<d", float("inf")), "offset"),
    (b"\x05\x04" + pack("<f", 1.0), "field 5"),
    (b"\x08\x00", "either"),
    (b"\x08\x02\x00\x01", "field 8"),
    (b"\x09\x08" + pack("<II", 50, 0), "50/0"),
    (b"\x09\x08" + pack("<II", 0, 1), "0/1"),
    (b"\x09\x07" + bytes(7), "field 9"),
    (b"\x0a\x05\x01\x00\x00\x00\x00", "field 10"),
    (b"\x0a\x06\x01\x00\x00\x00\x00\x00", "either"),
    (b"\x0b\x01\x01", "field 11"),
    (b"\x0b\x05\x03\x00\x00\x00\x00", "sample kind 3"),
    (b"\x0c\x07" + bytes(7), "field 12"),
    (b"\x0d\x04" + pack("<f", float("nan")), "field 13"),
    (b"\x0e\x04" + pack("<f", float("inf")), "field 14"),
    (b"\x12\x02\x00\x00", "field 18"),
]


@pytest.mark.parametrize(("field", "named"), FORGED)
def test_a_forged_field_is_refused_with_its_name(field: bytes, named: str) -> None:
    rest = b"".join(other for other in LEAST if other[0] != field[0])
    with pytest.raises(FrameError, match=named):
        ChannelDescription.parse(BARE + field + rest)


def test_a_group_without_a_rate_beside_the_longest_interval_is_refused() -> None:
    fields = ROLE + SCALE + OFFSET + RANGE + GROUP + b"\x0a\x06\x01\x00\x00\x00\x00\x00"
    with pytest.raises(FrameError, match="either"):
        ChannelDescription.parse(BARE + fields)


def test_a_zero_in_the_coupling_means_direct_current() -> None:
    assert not ChannelDescription.parse(BARE + b"".join(LEAST) + b"\x12\x01\x00").ac_coupled
    assert ChannelDescription.parse(BARE + b"".join(LEAST) + b"\x12\x01\x01").ac_coupled


def test_a_rate_is_an_exact_fraction_in_lowest_terms() -> None:
    rate = b"\x09\x08" + pack("<II", 6250, 128)
    assert ChannelDescription.parse(BARE + ROLE + SCALE + OFFSET + RANGE + GROUP + rate).ticks_per_sample == Fraction(
        3125, 64
    )


def test_a_mean_keeps_its_time() -> None:
    mean = replace(UNEVEN, kind=SampleKind.MEAN, kind_ticks=20_000)
    assert ChannelDescription.parse(mean.payload()) == mean
