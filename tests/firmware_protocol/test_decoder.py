"""firmware_protocol/decoder.py: any bytes in any cut, bounded memory, what is missing and what came twice."""

import tracemalloc
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import (
    ENCODED_FRAME_MAX,
    TICK_MAX,
    ClockRequest,
    Damage,
    DamageKind,
    Decoder,
    Describe,
    Message,
    Received,
    Samples,
    Start,
    Status,
    Stop,
    encode_frame,
)
from firmware_protocol.decoder import CHUNK_MAX, RECENT_FRAMES
from tests.firmware_protocol.independent import framed
from tests.firmware_protocol.strategies import examples, streams


def frame(sequence: int, boot: int = 1, tick: int | None = None) -> bytes:
    return encode_frame(Status(sequence if tick is None else tick, True, 0), sequence=sequence, boot=boot)


def told(*frames: bytes) -> list[tuple[str, int]]:
    """What the decoder says of frames in a row, in short: "ok" with the sequence, or the damage with its frames."""
    found = Decoder().feed(b"".join(frames))
    return [("ok", one.sequence) if isinstance(one, Received) else (one.kind.value, one.frames) for one in found]


@given(streams() | st.binary(max_size=200), st.data())
@examples(200)
def test_what_comes_out_does_not_depend_on_how_the_bytes_were_cut(stream: bytes, data: st.DataObject) -> None:
    whole = Decoder()
    expected = whole.feed(stream)
    cuts = data.draw(st.lists(st.integers(0, len(stream)), max_size=10))
    pieces, spans = Decoder(), pairwise([0, *sorted(cuts), len(stream)])
    found = [one for start, stop in spans for one in pieces.feed(stream[start:stop])]
    assert found == expected
    assert (pieces.pending_bytes, pieces.good_frames) == (whole.pending_bytes, whole.good_frames)


@given(streams())
@examples(25)
def test_one_byte_at_a_time_says_the_same(stream: bytes) -> None:
    decoder = Decoder()
    assert [one for at in range(len(stream)) for one in decoder.feed(stream[at : at + 1])] == Decoder().feed(stream)


def test_a_chunk_longer_than_what_is_taken_at_once_says_the_same() -> None:
    stream = b"".join(frame(number) for number in range(6000)) + b"\x01" * 3 * CHUNK_MAX + b"\0" + frame(6000)
    assert len(stream) > 5 * CHUNK_MAX
    decoder = Decoder()
    small = [one for at in range(0, len(stream), 1000) for one in decoder.feed(stream[at : at + 1000])]
    assert Decoder().feed(stream) == small
    assert [one.kind for one in small if isinstance(one, Damage)] == [DamageKind.TOO_LONG]


@given(streams())
@examples(100)
def test_offsets_and_lengths_name_the_very_bytes(stream: bytes) -> None:
    for one in Decoder().feed(stream):
        if isinstance(one, Received):
            end = stream.index(b"\0", one.offset)
            assert Decoder().feed(stream[one.offset : end + 1])[-1] == Received(one.message, one.boot, one.sequence, 0)
        elif one.length:
            assert 0 not in stream[one.offset : one.offset + one.length]
            assert stream[one.offset + one.length] == 0


@pytest.mark.parametrize("byte", [b"\x01", b"\xff", b"\0"], ids=["no delimiter", "no delimiter, full blocks", "zeros"])
def test_an_endless_stream_takes_no_memory(byte: bytes) -> None:
    decoder, chunk = Decoder(), byte * (1 << 18)
    decoder.feed(chunk)
    tracemalloc.start()
    for _ in range(3):
        assert decoder.feed(chunk) == []
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 16 * CHUNK_MAX  # the slice, its copy, and a list of empty frames
    assert len(decoder._tail) <= ENCODED_FRAME_MAX + 1
    assert decoder.pending_bytes == (0 if byte == b"\0" else 4 << 18)


def test_it_is_told_how_long_an_endless_frame_was() -> None:
    decoder = Decoder()
    decoder.feed(frame(0))
    start = len(frame(0))
    found = [one for _ in range(50) for one in decoder.feed(b"\x55" * 100)] + decoder.feed(b"\0" + frame(1))
    assert found[0] == Damage(DamageKind.TOO_LONG, start, 5000, "5000 bytes without a delimiter")
    assert found[1:] == [Received(Status(1, True, 0), 1, 1, start + 5001)]


def test_the_longest_frame_is_not_too_long_and_one_byte_more_is() -> None:
    longest = encode_frame(Samples(1, 1, TICK_MAX, TICK_MAX, b"\x81\x7f" * 501), sequence=257, boot=1)
    assert len(longest) == ENCODED_FRAME_MAX + 1
    assert told(longest, b"\x01" * 1030 + b"\0") == [("ok", 257), ("too_long", 1)]


def test_only_the_very_first_bytes_can_be_the_end_of_a_frame_that_was_cut() -> None:
    cut = frame(4)[5:]
    assert told(cut, frame(5), frame(6)) == [("cut_start", 1), ("ok", 5), ("ok", 6)]
    assert told(b"\0", cut, frame(5)) != [("cut_start", 1), ("ok", 5)]
    assert told(frame(3), cut, frame(5)) == [("ok", 3), (told(frame(3), cut)[1][0], 1), ("lost", 1), ("ok", 5)]
    assert told(b"\x01" * 2000 + b"\0") == [("too_long", 1)]  # no frame has so many bytes, so none was cut here
    forged = framed(0x02, 0, 0, b"\x00")
    assert told(forged) == [("malformed", 1)]  # whole from its first byte, and wrong


def test_a_stream_may_begin_in_the_middle_of_the_numbers() -> None:
    assert told(frame(700), frame(701)) == [("ok", 700), ("ok", 701)]


def test_missing_numbers_are_counted() -> None:
    assert told(frame(5), frame(6), frame(9)) == [("ok", 5), ("ok", 6), ("lost", 2), ("ok", 9)]
    assert told(frame(5), frame(5 + 32768)) == [("ok", 5), ("lost", 32767), ("ok", 32773)]


def test_numbers_go_round_at_65536() -> None:
    assert told(frame(65534), frame(65535), frame(0), frame(1)) == [("ok", 65534), ("ok", 65535), ("ok", 0), ("ok", 1)]
    assert told(frame(65534), frame(1)) == [("ok", 65534), ("lost", 2), ("ok", 1)]


def test_a_frame_that_came_twice_is_dropped_and_counting_goes_on() -> None:
    assert told(frame(5), frame(5), frame(6)) == [("ok", 5), ("doubled", 1), ("ok", 6)]
    twice = [frame(5), frame(6), frame(7)] * 2
    assert told(*twice, frame(8)) == [("ok", 5), ("ok", 6), ("ok", 7), *[("doubled", 1)] * 3, ("ok", 8)]


def test_a_board_that_began_anew_begins_at_0() -> None:
    assert told(frame(5), frame(0, boot=2), frame(1, boot=2)) == [("ok", 5), ("ok", 0), ("ok", 1)]
    assert told(frame(5), frame(3, boot=2)) == [("ok", 5), ("lost", 3), ("ok", 3)]
    assert told(frame(5), frame(6, boot=2)) == [("ok", 5), ("lost", 6), ("ok", 6)]
    assert told(frame(5), frame(40_000, boot=2)) == [("ok", 5), ("lost", 40_000), ("ok", 40_000)]


def test_frames_of_the_start_before_that_come_again_are_dropped() -> None:
    old, new = frame(5), frame(0, boot=2)
    assert told(old, new, old, frame(1, boot=2)) == [("ok", 5), ("ok", 0), ("doubled", 1), ("ok", 1)]


def test_a_board_that_forgot_its_starts_does_not_fall_silent() -> None:
    again = [frame(number, tick=number + 7) for number in range(3)]
    assert told(frame(900), *again) == [("ok", 900), ("lost", 0), ("ok", 0), ("ok", 1), ("ok", 2)]
    assert told(frame(5), frame(5, tick=9), frame(6)) == [("ok", 5), ("lost", 0), ("ok", 5), ("ok", 6)]


def test_a_pc_that_opens_the_line_again_is_heard_again() -> None:
    messages: tuple[Message, ...] = (Describe(), Start(), ClockRequest(1))
    questions = [encode_frame(message, sequence=number) for number, message in enumerate(messages)]
    first = [("ok", 0), ("ok", 1), ("ok", 2)]
    assert told(*questions, *questions) == [*first, ("lost", 0), *first]
    assert told(questions[0], questions[0]) == [("ok", 0), ("lost", 0), ("ok", 0)]


def test_how_far_back_a_frame_is_known_again_has_a_limit() -> None:
    run = [frame(number) for number in range(RECENT_FRAMES + 1)]
    assert told(*run, run[1])[-1] == ("doubled", 1)
    assert told(*run, run[0])[-2:] == [("lost", 0), ("ok", 0)]


def test_unknown_and_malformed_messages_are_counted_and_keep_the_numbers_going() -> None:
    later, wrong = framed(0x30, 1, 6, b"?"), framed(0x14, 1, 7, b"short")
    assert told(frame(5), later, wrong, frame(8)) == [("ok", 5), ("unknown", 1), ("malformed", 1), ("ok", 8)]
    decoder = Decoder()
    decoder.feed(frame(5) + later + wrong + frame(8))
    assert decoder.good_frames == 4


def test_delimiters_in_a_row_are_nothing() -> None:
    assert told(b"\0\0", frame(0), b"\0\0\0", frame(1), b"\0") == [("ok", 0), ("ok", 1)]


def test_it_finds_its_feet_with_the_next_good_frame() -> None:
    rubbish = b"\x07not a frame\0\xff\x01\0"
    found = told(frame(0), rubbish, frame(1))
    assert found[0] == ("ok", 0)
    assert found[-1] == ("ok", 1)
    assert {kind for kind, _ in found[1:-1]} <= {"stuffing", "checksum", "short"}


def test_both_directions_are_read() -> None:
    stream = encode_frame(Start(), sequence=0) + encode_frame(Stop(), sequence=1)
    assert Decoder().feed(stream) == [Received(Start(), 0, 0, 0), Received(Stop(), 0, 1, len(stream) // 2)]


def test_where_only_a_board_speaks_an_echo_is_told_and_disturbs_no_number() -> None:
    echo = encode_frame(ClockRequest(1), sequence=40)
    found = Decoder(from_board=True).feed(frame(5) + echo + frame(6) + echo)
    kinds = [one.kind.value if isinstance(one, Damage) else ("ok", one.sequence) for one in found]
    assert kinds == [("ok", 5), "echo", ("ok", 6), "echo"]


@pytest.mark.parametrize("kind", [bytearray, memoryview])
def test_any_kind_of_bytes_can_be_fed(kind: type) -> None:
    assert Decoder().feed(kind(frame(0))) == Decoder().feed(frame(0))
