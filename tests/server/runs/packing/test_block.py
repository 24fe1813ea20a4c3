"""A block comes back byte for byte, whatever stood in it, and what boards send becomes much shorter."""

import subprocess
import sys
import zlib
from contextlib import suppress
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_protocol import Message, SampleBlock, Samples, Samples12, Samples24, Word, cobs, encode_frame
from server.runs.layout import Entry, Kind, record
from server.runs.packing.block import PLAIN_BYTES_MAX, deflated, packed, unpacked
from tests.seeded.damage import damaged
from tests.server.tiny_board import HALLS, TinyBoard

UTC_S = 1_795_615_320.0
WITHOUT_NEW_CODE = """
import ctypes, mmap, sys
ctypes.CDLL(None).prctl(65, 1, 0, 0, 0)  # PR_SET_MDWE, PR_MDWE_REFUSE_EXEC_GAIN (linux/prctl.h)
try:
    mmap.mmap(-1, 4096, prot=mmap.PROT_READ | mmap.PROT_WRITE | mmap.PROT_EXEC)
    sys.exit(print("allowed"))
except PermissionError:
    print("refused")
from firmware_protocol import Word
from server.runs.packing.words import flacs_of, words_of
words = [bytes(range(240)), bytes(120)]
print("as it was" if words_of(flacs_of(words, Word.INT16, 3), [240, 120], Word.INT16, 3) == words else "changed")
"""


def plain_of(wire: bytes, size: int = 400) -> bytes:
    """As the recorder writes it: a head, then chunks as they arrived."""
    chunks = [wire[at : at + size] for at in range(0, len(wire), size)]
    entries = [Entry(Kind.CHUNK, UTC_S + 0.01 * k, chunk) for k, chunk in enumerate(chunks)]
    return b"".join(record(k, entry) for k, entry in enumerate([Entry(Kind.SEGMENT, 0.0, b"{}"), *entries]))


def comes_back(plain: bytes) -> bytes:
    """What it was packed to."""
    there = packed(plain)
    assert unpacked(there, len(plain)) == plain
    return there


raw = st.binary(max_size=300)
frames = st.builds(
    lambda kind, payload, sequence: cobs.encode(_checked(bytes((kind, 1)) + sequence.to_bytes(2, "little") + payload)),
    st.sampled_from([0x01, 0x10, 0x11, 0x12, 0x13, 0x14, 0x16, 0x17, 0x7F, 0x81]),
    st.binary(max_size=120) | st.integers(0, 300).map(bytes),
    st.integers(0, 65535),
)
wires = st.lists(frames | raw | st.just(b""), max_size=8).map(b"\0".join)
entries = st.builds(Entry, st.sampled_from(list(Kind)), st.floats(width=64), wires | raw)
records = st.builds(lambda number, entry: record(number, entry), st.integers(0, 2**64 - 1), entries)


def _checked(data: bytes) -> bytes:
    return data + zlib.crc32(data).to_bytes(4, "little")


@settings(max_examples=60, deadline=None)
@given(st.lists(records | raw, max_size=6).map(b"".join))
def test_any_bytes_come_back_as_they_were(plain: bytes) -> None:
    comes_back(plain)
    assert unpacked(deflated(plain), len(plain)) == plain


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=200), st.integers(0, 5000))
def test_any_bytes_in_place_of_a_block_are_refused_or_give_the_length_that_is_due(data: bytes, length: int) -> None:
    for coding in (b"", b"\0\0\0\0\0", b"\1" + len(data).to_bytes(4, "little")):
        with suppress(ValueError):
            assert len(unpacked(coding + data, length)) == length


@pytest.mark.parametrize("seed", range(4))
def test_a_block_with_flipped_bits_raises_no_other_error(seed: int) -> None:
    plain = plain_of(TinyBoard().wire()[:20_000])
    whole, draw = packed(plain), Random(seed)
    for _ in range(40):
        broken = bytearray(whole)
        broken[draw.randrange(len(broken))] ^= 1 << draw.randrange(8)
        with suppress(ValueError):
            assert len(unpacked(bytes(broken), len(plain))) == len(plain)


def test_few_bytes_that_claim_to_be_many_are_refused_before_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    bomb = zlib.compress(bytes(20 << 20))
    head = b"\1" + len(bomb).to_bytes(4, "little")
    with pytest.raises(ValueError, match="TooMuchError"):
        unpacked(head + bomb, 1000)
    numbers = zlib.compress(b"\0\0" + (1 << 30).to_bytes(4, "little"))
    with pytest.raises(ValueError, match="TooMuchError"):
        unpacked(b"\1" + len(numbers).to_bytes(4, "little") + numbers, 1000)
    with pytest.raises(ValueError, match="TooMuchError"):
        unpacked(b"\0\0\0\0\0" + bomb, PLAIN_BYTES_MAX + 1)
    with pytest.raises(ValueError, match="where 1000 are due"):
        unpacked(b"\0\0\0\0\0" + bomb, 1000)


@pytest.mark.parametrize("board", [TinyBoard(), TinyBoard(inputs=HALLS)], ids=["pulses", "Halls"])
def test_a_boards_bytes_become_much_shorter_damaged_or_not(board: TinyBoard) -> None:
    wire = board.wire()
    whole = len(comes_back(plain_of(wire)))
    assert whole < 0.16 * len(wire)
    hurt, faults = damaged(wire, seed=3)
    assert faults.touched
    assert whole < len(comes_back(plain_of(hurt))) < 0.25 * len(hurt)  # rubbish is not shortened


def block(kind: type[SampleBlock], channels: int, sets: int, first: int) -> Message:
    """Sines in codes that the words of this kind can hold."""
    bits = kind.WORD.bits
    k = (first + np.arange(sets))[:, np.newaxis] / 40 + np.arange(channels)
    codes = np.rint((1 << (bits - 2)) * np.sin(k)).astype(np.int64) & ((1 << bits) - 1)
    number, words = 0, b""
    coding = {Word.INT16: 0x8080, Word.PACKED12: 0x888, Word.INT24: 0x808080}[kind.WORD]
    flat = [int(code) ^ coding for code in codes.reshape(-1)]
    for place, code in enumerate(flat):
        number |= code << (bits * place)
    words = number.to_bytes(-(-bits * len(flat) // 8), "little")
    return kind(0, channels, first, 1000 * first, words)


@pytest.mark.parametrize(
    ("kind", "channels", "sets"),
    [
        (Samples, 1, 50),
        (Samples, 8, 20),
        (Samples, 19, 10),  # more than one FLAC stream has
        (Samples12, 4, 20),
        (Samples12, 3, 5),  # half a byte is left over in each
        (Samples24, 2, 30),
        (Samples24, 9, 10),
    ],
)
def test_words_of_all_widths_and_any_number_of_channels_are_taken_apart(
    kind: type[SampleBlock], channels: int, sets: int
) -> None:
    blocks = [block(kind, channels, sets, sets * k) for k in range(200)]
    wire = b"".join(encode_frame(each, sequence=k) for k, each in enumerate(blocks))
    there = comes_back(plain_of(wire))
    assert len(there) < len(zlib.compress(wire))
    assert there.count(b"fLaC") == -(-channels // 8)


def test_words_are_packed_and_come_back_where_no_code_may_be_made() -> None:
    """As in the service's unit (MemoryDenyWriteExecute); here by prctl(2), PR_SET_MDWE, of Linux 6.3 and later."""
    if sys.platform != "linux":  # prctl is a call of Linux
        pytest.skip("only Linux forbids it so")
    done = subprocess.run([sys.executable, "-c", WITHOUT_NEW_CODE], capture_output=True, text=True, check=False)
    if done.stdout == "allowed\n":  # before Linux 6.3 there is no PR_SET_MDWE
        pytest.skip("this kernel cannot forbid it so")
    assert (done.returncode, done.stdout, done.stderr[-300:]) == (0, "refused\nas it was\n", "")


def test_a_frame_that_another_sender_would_code_otherwise_comes_back_as_it_was() -> None:
    frame = _checked(bytes((0x14, 1, 7, 0)) + bytes(range(1, 251)))  # 254 bytes behind the last zero: a full block
    assert len(frame[4:]) == 254
    assert 0 not in frame[4:]
    longer = cobs.encode(frame) + b"\x01"
    assert cobs.decode(longer) == frame
    comes_back(plain_of(longer + b"\0" + cobs.encode(frame) + b"\0"))


def test_a_record_with_bytes_where_none_are_used_comes_back_as_it_was() -> None:
    made = bytearray(record(5, Entry(Kind.CHUNK, UTC_S, b"ab"))[:-4])
    made[6] = 1
    comes_back(_checked(bytes(made)) + record(6, replace(Entry(Kind.MARK, UTC_S, b"text"), utc_s=float("nan"))))


def test_more_than_a_block_holds_is_refused() -> None:
    with pytest.raises(ValueError, match="at most 4194304"):
        packed(bytes(PLAIN_BYTES_MAX + 1))
