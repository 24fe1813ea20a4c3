"""What the board's counters promised is stored or missing for a reason, and the sum is exact whatever came."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_protocol import Edges, Message, Samples, Singles, Status, encode_frame
from server.runs.account import GAPS_MAX, Account, Reason, _Ledger, words
from server.runs.layout import Entry, Kind
from server.runs.marks import CABLE_BACK, CABLE_OUT, NOT_KEPT_UP, NOT_TAKEN, STARTED, STOPPED
from tests.seeded.damage import accounted, damaged, promised, ran
from tests.server.tiny_board import BLOCK, TinyBoard

STORY = ((2.0, 230.0, 0.5, 1400.0),)
MESSAGES = TinyBoard().messages(STORY)
DESCRIBED = 5


def framed(messages: Sequence[Message], first: int = 0, boot: int = 1) -> list[bytes]:
    return [encode_frame(message, sequence=first + k, boot=boot) for k, message in enumerate(messages)]


FRAMES = framed(MESSAGES)


def entries(*parts: bytes | str) -> list[Entry]:
    """Wire bytes as chunks, sentences as marks, after a beginning."""
    made = [Entry(Kind.BEGIN, 0.0, b"")]
    for part in parts:
        made.append(Entry(Kind.MARK, 0.0, part.encode()) if isinstance(part, str) else Entry(Kind.CHUNK, 0.0, part))
    return made


def account(story: Sequence[Entry | None]) -> dict[str, Any]:
    """None: something cannot be read there."""
    kept = Account()
    for entry in story:
        kept.unreadable() if entry is None else kept.take(entry)
    lines = {line["what"]: line for line in kept.record()}
    assert all(line["exact"] for line in lines.values())
    return lines


def without(kind: type[Message], start: int, stop: int) -> bytes:
    """The wire without some messages of a kind, lost on the way."""
    places = [k for k, message in enumerate(MESSAGES) if isinstance(message, kind)][start:stop]
    return b"".join(frame for k, frame in enumerate(FRAMES) if k not in places)


def test_of_an_undamaged_run_everything_is_stored() -> None:
    lines = account(entries(b"".join(FRAMES)))
    assert {what: (line["promised"], line["stored"], line["missing"]) for what, line in lines.items()} == {
        "samples": (2000, 2000, {}),
        "edges": (lines["edges"]["stored"], sum(len(m.ticks) for m in MESSAGES if isinstance(m, Edges)), {}),
        "single samples": (5, 5, {}),
    }
    assert lines["samples"]["channels"] == ["supply", "line"]
    assert lines["single samples"]["channels"] == ["housing"]
    assert words(lines["samples"]) == "supply, line: promised 2\u202f000 each, stored 2\u202f000"


def test_what_was_lost_on_the_wire_is_told_to_the_sample() -> None:
    lines = account(entries(without(Samples, 30, 33)))
    assert lines["samples"]["missing"] == {"lost on the wire": 3 * BLOCK}
    assert lines["edges"]["missing"] == {}
    lost = [m for m in MESSAGES if isinstance(m, Edges)][7]
    lines = account(entries(without(Edges, 7, 8)))
    assert lines["edges"]["missing"] == {"lost on the wire": len(lost.ticks)}
    assert account(entries(without(Singles, 2, 3)))["single samples"]["missing"] == {"lost on the wire": 1}


def test_what_a_board_left_out_although_no_frame_is_missing_was_dropped_by_the_board() -> None:
    places = [k for k, message in enumerate(MESSAGES) if isinstance(message, Samples)][50:54]
    lines = account(entries(b"".join(framed([each for k, each in enumerate(MESSAGES) if k not in places]))))
    assert lines["samples"]["missing"] == {"dropped by the board": 4 * BLOCK}


@pytest.mark.parametrize(
    ("marks", "reason"),
    [
        ((CABLE_OUT, CABLE_BACK), "cable out"),
        ((STOPPED, STARTED), "service not running"),
        ((STARTED,), "service not running"),  # it was killed
        ((NOT_KEPT_UP, CABLE_BACK), "this PC too slow"),
        ((f"{NOT_TAKEN}: 7 chunks of bytes did not fit in memory and are lost",), "not to be read from the disk"),
        ((None,), "not to be read from the disk"),
        ((None, CABLE_OUT, CABLE_BACK), "not to be read from the disk"),
    ],
)
def test_a_gap_has_the_reason_of_what_happened_in_it(marks: tuple[str | None, ...], reason: str) -> None:
    before, after = b"".join(FRAMES[:100])[:-7], b"".join(FRAMES[150:])[9:]
    between = [None if mark is None else Entry(Kind.MARK, 0.0, mark.encode()) for mark in marks]
    lines = account([*entries(before), *between, *entries(after)[1:]])
    missing = lines["samples"]["missing"]
    assert list(missing) == [reason]
    assert missing[reason] == 2000 - lines["samples"]["stored"] >= 20 * BLOCK
    later = account([*entries(before), *between, *entries(after[:2000] + after[2300:])[1:]])
    assert set(later["samples"]["missing"]) == {reason, "lost on the wire"}


def test_a_board_that_starts_anew_counts_from_0_and_what_came_before_is_kept_apart() -> None:
    again = framed(MESSAGES, boot=2)
    lines = account(entries(b"".join(FRAMES[:120]), b"".join([*again[:DESCRIBED], *again[20:]])))
    sets = sum(isinstance(message, Samples) for message in MESSAGES[:120])
    lost = sum(isinstance(message, Samples) for message in MESSAGES[DESCRIBED:20])
    assert lines["samples"]["promised"] == BLOCK * sets + 2000
    assert lines["samples"]["missing"] == {"lost on the wire": BLOCK * lost}
    assert lines["samples"]["starts_anew"] == 1


def test_a_cable_that_was_out_for_so_long_that_the_numbers_of_frames_came_round_costs_what_it_costs() -> None:
    before, after = framed(MESSAGES)[:120], framed(MESSAGES, first=40_000)[150:]
    lines = account(entries(b"".join(before), CABLE_OUT, CABLE_BACK, b"\0" + b"".join(after)))
    lost = sum(isinstance(message, Samples) for message in MESSAGES[120:150])
    assert lines["samples"]["promised"] == 2000
    assert lines["samples"]["missing"] == {"cable out": BLOCK * lost}
    assert lines["samples"]["starts_anew"] == 0


def test_a_board_without_a_boot_number_that_starts_anew_is_known_by_what_it_counts() -> None:
    lines = account(entries(b"".join(framed(MESSAGES)[:120]), b"".join(framed(MESSAGES))))
    sets = sum(isinstance(message, Samples) for message in MESSAGES[:120])
    assert lines["samples"]["promised"] == lines["samples"]["stored"] == BLOCK * sets + 2000
    assert lines["samples"]["starts_anew"] == 1


def test_a_counter_of_32_bits_that_wraps_promises_no_thousand_millions() -> None:
    wrapped = [
        replace(m, singles=tuple(replace(s, number=(s.number + 2**32 - 2) % 2**32) for s in m.singles))
        if isinstance(m, Singles)
        else m
        for m in MESSAGES
    ]
    line = account(entries(b"".join(framed(wrapped))))["single samples"]
    assert (line["promised"], line["stored"]) == (5, 5)


def test_frames_of_other_kinds_that_are_lost_cost_no_sample() -> None:
    assert account(entries(without(Status, 2, 5)))["samples"]["missing"] == {}


@pytest.mark.parametrize("seed", range(12))
def test_the_account_of_a_damaged_stream_agrees_with_what_was_sent_and_what_is_told_live(seed: int) -> None:
    wire, faults = damaged(TinyBoard().wire(STORY), seed)
    assert faults.touched or seed % 3 == 2
    line = account(entries(wire))["samples"]
    assert line["promised"] == promised(wire)
    assert line["stored"] + sum(line["missing"].values()) == accounted(ran(wire), wire)


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 60), st.integers(1, 8)), min_size=1, max_size=40))
def test_blocks_in_any_order_are_counted_once_each(blocks: list[tuple[int, int]]) -> None:
    ledger, first = _Ledger(wraps=False), blocks[0][0]
    came, total = set[int](), 0
    for number, count in blocks:
        ledger.take(number, count, number, Reason.WIRE)
        came |= {each for each in range(number, number + count) if each >= first}
        total += count
    assert ledger.promised == max(came) + 1 - first
    assert ledger.stored == len(came)
    assert ledger.missing.total() == ledger.promised - ledger.stored
    assert ledger.stored + ledger.again == total


def test_more_gaps_than_are_remembered_are_still_counted() -> None:
    ledger = _Ledger(wraps=False)
    for k in range(GAPS_MAX + 50):
        ledger.take(2 * k, 1, 0, Reason.WIRE)
    ledger.take(1, 1, 0, Reason.WIRE)  # that gap is not remembered any more: told as having come twice
    assert ledger.promised == ledger.stored + ledger.missing.total()
    assert ledger.again == 1


def test_a_sum_that_is_wrong_is_told() -> None:
    line = account(entries(b"".join(FRAMES)))["edges"]
    assert words({**line, "stored": line["stored"] - 3, "exact": False}).endswith("wrong by 3: please report it")
