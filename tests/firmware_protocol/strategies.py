"""Any message that a board or a PC can mean, for hypothesis; and any stream that a line can bring."""

from fractions import Fraction

from hypothesis import settings
from hypothesis import strategies as st

from firmware_protocol import (
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    TICK_MAX,
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Count,
    Counters,
    Describe,
    Edges,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Role,
    SampleKind,
    Samples,
    Samples12,
    Samples24,
    Single,
    Singles,
    Start,
    Status,
    Stop,
    Word,
    encode_frame,
)


def examples(count: int) -> settings:
    """The same examples every time, however slow the machine is."""
    return settings(derandomize=True, deadline=None, database=None, max_examples=count)


U8, U16, U32 = (st.integers(0, (1 << bits) - 1) for bits in (8, 16, 32))
TICK = st.integers(0, TICK_MAX)
CODE = st.integers(-(1 << 31), (1 << 31) - 1)
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)  # every character but halves of a pair
NAME = TEXT.filter(bool)
LIMIT = st.none() | st.floats(0, 2.0**100, width=32)
UNKNOWN = st.lists(st.tuples(st.integers(20, 255), st.binary(min_size=1, max_size=8)), max_size=3).map(tuple)
DELAY = st.tuples(st.integers(-(1 << 31), (1 << 31) - 1), st.none() | st.integers(0, (1 << 32) - 2))

identities = st.builds(
    Identity,
    major=st.just(PROTOCOL_MAJOR),
    minor=st.just(PROTOCOL_MINOR),
    boot=U32,
    tick_hz=st.integers(1, (1 << 32) - 1),
    channels=U8,
    inputs=U8,
    serial=NAME,
    model=TEXT,
    firmware=TEXT,
    source=NAME,
    clock_tolerance_ppm=LIMIT,
    plate=st.text("ab é\n", max_size=300),
    revision=U8,
    unknown=UNKNOWN,
)


@st.composite
def channels(draw: st.DrawFn) -> ChannelDescription:
    even = draw(st.booleans())
    word = draw(st.sampled_from(Word)) if even else Word.INT16
    end = 1 << (word.bits - 1 if even else 31)
    low, high = sorted(draw(st.lists(st.integers(-end, end - 1), min_size=2, max_size=2, unique=True)))
    delay = draw(DELAY)
    corners = draw(st.tuples(st.none() | st.floats(0, 10, width=32), st.none() | st.floats(11, 1e6, width=32)))
    ratio = st.tuples(st.integers(1, (1 << 32) - 1), st.integers(1, (1 << 32) - 1)).map(lambda two: sorted(two))
    return ChannelDescription(
        draw(U8),
        draw(st.sampled_from(Role)),
        name=draw(NAME),
        place=draw(TEXT),
        unit=draw(TEXT),
        scale=draw(st.floats(-1e9, 1e9).filter(bool)),
        offset=draw(st.floats(-1e300, 1e300)),
        code_low=low,
        code_high=high,
        group=draw(U8) if even else None,
        ticks_per_sample=Fraction(*reversed(draw(ratio))) if even else None,
        interval_ticks_max=None if even else draw(st.integers(1, TICK_MAX)),
        kind=draw(st.sampled_from(SampleKind)),
        kind_ticks=draw(U32),
        delay_ns=delay[0],
        delay_limit_ns=delay[1],
        noise_codes_rms=draw(LIMIT),
        gain_limit=draw(LIMIT),
        offset_limit_codes=draw(LIMIT),
        corner_low_hz=corners[0],
        corner_high_hz=corners[1],
        ac_coupled=draw(st.booleans()),
        word=word,
        unknown=draw(UNKNOWN),
    )


@st.composite
def inputs(draw: st.DrawFn) -> InputDescription:
    kind, delay = draw(st.sampled_from(InputKind)), draw(DELAY)
    return InputDescription(
        draw(U8),
        kind,
        draw(TEXT),
        bit=draw(st.integers(0, 7)),
        pulses_per_turn=draw(st.none() | st.integers(1, (1 << 32) - 1)),
        inverted=draw(st.booleans()),
        delay_ns=delay[0],
        delay_limit_ns=delay[1],
        look_ticks=draw(st.none() | st.integers(1, (1 << 32) - 1)),
        unknown=draw(UNKNOWN),
    )


@st.composite
def blocks(draw: st.DrawFn, kind: type[Samples] | type[Samples12] | type[Samples24] = Samples) -> Message:
    word = {Samples: Word.INT16, Samples12: Word.PACKED12, Samples24: Word.INT24}[kind]
    count = draw(st.integers(1, 255))
    sets = draw(st.integers(1, 8 * 1002 // word.bits // count))
    length = word.bytes_of(count * sets)
    words = bytearray((draw(st.binary(min_size=1, max_size=40)) * length)[:length])
    if word is Word.PACKED12 and length % 3:
        words[-1] &= 0x0F
    return kind(draw(U8), count, draw(TICK), draw(TICK), bytes(words))


@st.composite
def edges(draw: st.DrawFn) -> Edges:
    ticks = sorted(draw(st.lists(TICK, min_size=1, max_size=144, unique=True)))
    states = draw(st.binary(min_size=len(ticks), max_size=len(ticks)))
    return Edges(draw(U32), tuple(ticks), states)


singles = st.lists(st.builds(Single, U8, U32, TICK, CODE), min_size=1, max_size=67).map(lambda all: Singles(tuple(all)))
counters = st.lists(st.builds(Count, U8, U32, TICK), min_size=1, max_size=92).map(lambda all: Counters(tuple(all)))
MEASURED = st.none() | st.floats(-1000, 1000, width=32)
statuses = st.builds(Status, TICK, st.booleans(), U8, U32, U32, U32, MEASURED, MEASURED, UNKNOWN)
TOKEN = st.integers(0, (1 << 64) - 1)
replies = st.tuples(TOKEN, TICK, TICK).map(lambda three: ClockReply(three[0], *sorted(three[1:])))

BY_TYPE: dict[type, st.SearchStrategy[Message]] = {
    Identity: identities,
    ChannelDescription: channels(),
    InputDescription: inputs(),
    Samples: blocks(),
    Singles: singles,
    Edges: edges(),
    Counters: counters,
    Status: statuses,
    ClockReply: replies,
    Samples12: blocks(Samples12),
    Samples24: blocks(Samples24),
    Describe: st.builds(Describe, U8, U8),
    Start: st.just(Start()),
    Stop: st.just(Stop()),
    ClockRequest: st.builds(ClockRequest, TOKEN),
}
messages = st.one_of(*BY_TYPE.values())


@st.composite
def streams(draw: st.DrawFn) -> bytes:
    """Good frames in and out of turn, some of them damaged, with rubbish and delimiters between."""
    stream = b""
    for _ in range(draw(st.integers(0, 12))):
        frame = encode_frame(draw(statuses), sequence=draw(st.integers(0, 6)), boot=draw(st.integers(0, 1)))
        stream += draw(
            st.sampled_from((frame, frame, frame, frame[:-1], frame[3:], frame[:7] + frame[8:], frame * 2))
            | st.binary(max_size=20)
            | st.integers(1000, 4000).map(lambda length: b"\x01" * length)
        )
    return stream
