"""firmware_protocol/SPEC.md: its examples, tables and listings are true, and it leaves no message out."""

import json
import re
import shutil
import subprocess
from ctypes import CDLL, c_size_t, c_uint32, create_string_buffer
from fractions import Fraction
from random import Random
from typing import Any

import pytest

from firmware_protocol import (
    ENCODED_FRAME_MAX,
    MESSAGES,
    PAYLOAD_MAX,
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    ChannelDescription,
    DamageKind,
    Decoder,
    FrameError,
    Identity,
    InputKind,
    Received,
    Role,
    SampleKind,
    Word,
    encode_frame,
    wire_bytes_per_s,
)
from firmware_protocol.cobs import decode, encode, encoded_length_max
from firmware_protocol.crc import RESIDUE, crc32
from firmware_protocol.decoder import RECENT_FRAMES
from tests.firmware_protocol.by_the_book import LISTS, SECTIONS, TEXT, Section, read_payload, tables
from tests.firmware_protocol.golden import FILE
from tests.firmware_protocol.plain import from_plain, to_plain

_EXAMPLE = re.compile(r"```json\n(.*?)```\n```hex\n(.*?)```", re.S)
LEFT_OUT = {
    "kind": "instantaneous",
    "kind_ticks": 0,
    "delay_ns": 0,
    "inverted": False,
    "ac_coupled": False,
    "word": "int16",
    "bit": 0,
    "revision": 0,
}
EACH = pytest.mark.parametrize("section", SECTIONS.values(), ids=lambda section: section.name)


def example(section: Section) -> tuple[dict[str, Any], bytes]:
    (found,) = _EXAMPLE.findall(section.text)
    return json.loads(found[0]), bytes.fromhex(found[1])


def test_every_message_has_its_section_with_its_type() -> None:
    assert {section.name: section.type for section in SECTIONS.values()} == {m.__name__: m.TYPE for m in MESSAGES}


@EACH
def test_an_example_is_written_byte_for_byte(section: Section) -> None:
    plain, wire = example(section)
    header = {"sequence": plain.pop("sequence"), "boot": plain.pop("boot_byte")}
    assert plain["message"] == section.name
    assert encode_frame(from_plain(plain), **header) == wire


@EACH
def test_an_example_is_read_value_for_value(section: Section) -> None:
    plain, wire = example(section)
    (found,) = Decoder().feed(wire)
    assert isinstance(found, Received)
    assert {"sequence": found.sequence, "boot_byte": found.boot, **to_plain(found.message)} == plain


GOLDEN: list[dict[str, Any]] = json.loads(FILE.read_text())


@pytest.mark.parametrize(
    ("plain", "wire"),
    [*(example(section) for section in SECTIONS.values()), *((g, bytes.fromhex(g["wire"])) for g in GOLDEN)],
)
def test_the_tables_alone_are_enough_to_read_a_payload(plain: dict[str, Any], wire: bytes) -> None:
    section = SECTIONS[plain["message"]]
    raw = decode(wire[:-1])
    assert raw[0] == section.type
    read = read_payload(section, raw[4:-4])
    about = {"sequence", "boot_byte", "message", "what", "wire"}
    expected = {name: value for name, value in plain.items() if name not in about}
    missing = {name: value for name, value in expected.items() if name not in read}
    assert missing == {name: LEFT_OUT[name] for name in missing}
    assert read == {name: value for name, value in expected.items() if name in read}


@EACH
def test_offsets_follow_from_sizes(section: Section) -> None:
    for rows in (section.fixed, section.items):
        assert [row.at for row in rows] == [sum(before.size for before in rows[:k]) for k in range(len(rows))]


def test_lists_of_values_are_those_of_the_codec() -> None:
    for name, kinds in (("role", Role), ("sample kind", SampleKind), ("sample word", Word), ("input kind", InputKind)):
        assert LISTS[name] == {kind.value: kind.name.lower() for kind in kinds}


def test_every_kind_of_damage_is_explained() -> None:
    explained = [row["damage"].strip("`") for table in tables(TEXT) for row in table if "damage" in row]
    assert explained == [kind.value for kind in DamageKind]


def test_numbers_in_the_text_are_those_of_the_codec() -> None:
    assert TEXT.startswith(f"# The wire, version {PROTOCOL_MAJOR}.{PROTOCOL_MINOR}\n")
    assert f"payload at most {PAYLOAD_MAX} and the coded frame {ENCODED_FRAME_MAX}" in TEXT
    assert f"more than {ENCODED_FRAME_MAX} bytes without a delimiter" in TEXT
    assert f"0x{RESIDUE:X}" in TEXT
    assert f"among the last {RECENT_FRAMES}" in TEXT


def test_what_a_baud_rate_carries_is_computed_and_not_guessed() -> None:
    (rows,) = (table for table in tables(TEXT) if "bytes/s" in table[0])
    for row in rows:
        carried = int(row["bytes/s"].replace(" ", ""))
        if row["bits/s"][0].isdigit():
            assert carried * 10 == int(row["bits/s"].replace(" ", ""))
        for channels, column in ((2, "at most, 2 channels"), (4, "4 channels"), (8, "8 channels")):
            said_hz = round(1000 * float(row[column].removesuffix(" kS/s")))
            assert needed(channels, said_hz) <= carried < needed(channels, said_hz + 100)


def needed(channels: int, rate_hz: int) -> float:
    one = ChannelDescription(
        0, Role.CURRENT, "I", "L1", "A", 1e-3, 0, -9, 9, group=0, ticks_per_sample=Fraction(10**6, rate_hz)
    )
    return wire_bytes_per_s(Identity(1, 0, 1, 10**6, channels, 0, "HB-0001"), [one] * channels)


def test_the_small_stuffing_examples_are_right() -> None:
    (rows,) = (table for table in tables(TEXT) if "on the wire" in table[0])
    pairs = [(row["data"].strip("`"), row["on the wire"].strip("`")) for row in rows]
    assert len(pairs) == 5
    assert encode(b"") + b"\0" == bytes.fromhex(pairs[0][1])
    for data, wire in pairs[1:-1]:
        assert encode(bytes.fromhex(data)) + b"\0" == bytes.fromhex(wire)
    assert pairs[-1][1] == "FF 01 02 ... FE 00"


@pytest.fixture(scope="module")
def listings(tmp_path_factory: pytest.TempPathFactory) -> CDLL:
    """The text's functions in C, compiled as they stand there."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if not compiler:
        pytest.skip("no C compiler: the listings are not compiled")
    found = re.findall(r"^    \w+ \w+\(.*?^    }$", TEXT, re.M | re.S)
    assert len(found) == 3
    folder = tmp_path_factory.mktemp("listings")
    source, library = folder / "wire.c", folder / "wire.so"
    source.write_text("\n".join(["#include <stddef.h>", "#include <stdint.h>", *found, ""]))
    options = ["-std=c11", "-Wall", "-Wextra", "-Werror", "-O1", "-shared", "-fPIC"]
    subprocess.run([compiler, *options, "-o", library, source], check=True, capture_output=True)
    built = CDLL(str(library))
    built.cobs.restype = built.uncobs.restype = c_size_t
    built.crc32.restype = c_uint32
    return built


def some_data() -> list[bytes]:
    draw = Random(1)
    lengths = [*range(20), 253, 254, 255, 256, 508, 509, 1024]
    return [data for n in lengths for data in (draw.randbytes(n), b"\x07" * n, bytes(n))]


def test_the_listings_in_c_do_what_they_say(listings: CDLL) -> None:
    for data in some_data():
        room = encoded_length_max(len(data)) + 1
        out = create_string_buffer(b"\xee" * (room + 1), room + 1)
        used = listings.cobs(data, c_size_t(len(data)), out)
        assert out.raw[:used] == encode(data) + b"\0"
        assert out.raw[room] == 0xEE  # nothing was written beyond the room that the text names
        assert listings.uncobs(out, c_size_t(used - 1)) == len(data)
        assert out.raw[: len(data)] == data
        assert listings.crc32(data, c_size_t(len(data))) == crc32(data)


def test_the_listing_that_decodes_refuses_what_the_codec_refuses(listings: CDLL) -> None:
    draw = Random(2)
    for _ in range(2000):
        coded = bytes(draw.choice((0, 1, 2, 3, 5, 9)) for _ in range(draw.randint(1, 12)))
        buffer = create_string_buffer(coded + b"\xee", len(coded) + 1)
        length = listings.uncobs(buffer, c_size_t(len(coded)))
        assert buffer.raw[len(coded)] == 0xEE
        if 0 not in coded:  # between delimiters there are none
            assert buffer.raw[:length] == decoded(coded)


def decoded(coded: bytes) -> bytes:
    try:
        return decode(coded)
    except FrameError:
        return b""
