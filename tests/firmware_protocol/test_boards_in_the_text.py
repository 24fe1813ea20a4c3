"""SPEC.md: what three boards put on the wire, from frames that are really written (15), and the clock example (6)."""

import re
from fractions import Fraction

import pytest

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Edges,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Role,
    Samples,
    Samples12,
    Status,
    Word,
    encode_frame,
)
from firmware_protocol.rate import BITS_PER_BYTE, wire_bytes_per_s
from server.stream.clock import Clock, replied
from tests.firmware_protocol.by_the_book import TEXT, tables

(ROWS,) = (table for table in tables(TEXT) if "board" in table[0] and "sets in a block" in table[0])
SECONDS = 10
TICK_HZ = 1_000_000


def number(text: str) -> float:
    found = re.match(r"[\d .]+", text)
    assert found
    return float(found[0].replace(" ", ""))


def described(row: dict[str, str]) -> tuple[Identity, list[ChannelDescription], list[InputDescription]]:
    """All that such a board can say of itself in a few words."""
    rate, word = int(1000 * number(row["rate"])), Word[row["word"].upper()]
    channel = ChannelDescription(
        0,
        Role.VOLTAGE,
        "V",
        "supply",
        "V",
        0.05,
        0.0,
        -512,
        511,
        0,
        Fraction(TICK_HZ, rate),
        delay_ns=1000,
        delay_limit_ns=100,
        noise_codes_rms=1.0,
        gain_limit=0.01,
        offset_limit_codes=2.0,
        corner_high_hz=1000.0,
        word=word,
    )
    halls = [InputDescription(k, InputKind.HALL, f"Hall {'ABC'[k]}", k) for k in range(3)]
    channels = [channel] * int(row["channels"])
    return Identity(1, 0, 1, TICK_HZ, len(channels), 3, "HB-0001", "small", "1.0"), channels, halls


def stream(row: dict[str, str], edges_per_s: float) -> list[Message]:
    """Ten seconds: one description, a status each 250 ms, the edges of a block in one frame before it."""
    identity, channels, halls = described(row)
    rate, sets, word = int(1000 * number(row["rate"])), int(row["sets in a block"]), channels[0].word
    kind, code = (Samples, b"\x82\x80") if word is Word.INT16 else (Samples12, b"\x8a\x88\x88")
    words = (code * 1000)[: word.bytes_of(len(channels) * sets)]
    messages: list[Message] = [identity, *channels, *halls]
    messages += [Status(k * TICK_HZ // 4, True, 0, temperature_c=30.0, supply_v=5.0) for k in range(4 * SECONDS)]
    ticks = sets * TICK_HZ // rate
    blocks, sent = rate * SECONDS // sets, 0
    for block in range(blocks):
        due = int((block + 1) * edges_per_s * SECONDS / blocks)
        if due > sent:
            messages.append(Edges(sent, tuple(block * ticks + k for k in range(due - sent)), bytes(due - sent)))
            sent = due
        messages.append(kind(0, len(channels), block * sets, block * ticks, words))
    return messages


def bytes_per_s(messages: list[Message]) -> float:
    return sum(len(encode_frame(each, sequence=k, boot=1)) for k, each in enumerate(messages)) / SECONDS


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["board"])
def test_a_board_puts_on_the_line_what_the_text_says(row: dict[str, str]) -> None:
    edges_per_s, carried = float(row["edges a second"]), number(row["the line carries"])
    assert bytes_per_s(stream(row, edges_per_s)) == pytest.approx(number(row["it sends"]), rel=0.005)
    assert bytes_per_s(stream(row, edges_per_s)) < 0.9 * carried  # a tenth is left free
    if baud := re.search(r"([\d ]+) baud", row["board"]):
        assert carried == number(baud[1].strip()) / BITS_PER_BYTE
    sample_bytes = int(row["channels"]) * 1000 * number(row["rate"]) * described(row)[1][0].word.bits / 8
    overhead = bytes_per_s(stream(row, 0.0)) / sample_bytes - 1.0
    assert 100 * overhead == pytest.approx(number(row["overhead without edges"]), abs=0.06)
    identity, channels, halls = described(row)
    assert wire_bytes_per_s(identity, channels, halls) <= carried  # so the service takes it


def test_the_overhead_of_the_full_board_is_at_most_4_percent() -> None:
    assert number(ROWS[0]["overhead without edges"]) <= 4.0


def test_the_example_of_board_time_to_utc_is_what_the_service_computes() -> None:
    text = re.sub(r"\s+", " ", TEXT[TEXT.index("Example: a request leaves") :][:600])
    leaves_s, arrives_s, received, sent, low_s, high_s, tick, utc_s, limit_s = (
        float(each)
        for each in re.findall(
            r"leaves at ([\d.]+) s.*arrives at ([\d.]+) s.*tick` (\d+).*tick` (\d+),.*"
            r"between ([\d.]+) s and ([\d.]+) s, and tick (\d+) was at ([\d.]+) s, give or take ([\d.]+) s",
            text,
        )[0]
    )
    clock = replied(Clock(TICK_HZ), ClockReply(round(leaves_s * 1e6), int(received), int(sent)), arrives_s)
    assert (clock.low_s, clock.high_s) == pytest.approx((low_s, high_s), abs=1e-9)
    assert clock.utc_s(tick / TICK_HZ) == pytest.approx(utc_s, abs=1e-9)
    assert clock.uncertainty_s == pytest.approx(limit_s, abs=1e-9)
