"""Every row of the board's table in SPEC.md, section 7, tried on the software board."""

from collections.abc import Callable

import pytest

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Decoder,
    Describe,
    Edges,
    Identity,
    InputDescription,
    Message,
    Received,
    Samples,
    Start,
    Status,
    Stop,
    encode_frame,
)
from simulator.bench import bench_board
from simulator.board import Board
from tests.firmware_protocol.by_the_book import TEXT, tables

(ROWS,) = (table for table in tables(TEXT) if "the board is" in table[0])
STEP_S = 0.01
SENDS: dict[str, set[type]] = {
    "nothing": set(),
    "nothing; their numbers go on": set(),
    "description": {Identity, ChannelDescription, InputDescription},
    "`Identity`": {Identity},
    "`ClockReply`": {ClockReply},
    "`Status`": {Status},
    "`Status`, perhaps description": {Status},
    "samples, `Singles`, `Edges`, `Counters`": {Samples, Edges},  # what this board has
}
_DATA = {Samples, Edges}  # the stream of a board that streams, beside what is asked


def said(data: bytes) -> list[Message]:
    found = Decoder().feed(data)
    assert all(isinstance(each, Received) for each in found)
    return [each.message for each in found if isinstance(each, Received)]


def asks(message: Message) -> Callable[[Board], list[Message]]:
    return lambda board: said(board.receive(encode_frame(message, sequence=0)))


def rubbish(board: Board) -> list[Message]:
    good = encode_frame(Stop(), sequence=0)
    damaged = bytes((good[0], good[1] ^ 4)) + good[2:]
    unknown = encode_frame(Stop(), sequence=1).replace(b"\x83", b"\x99")
    return said(b"".join(board.receive(each) for each in (damaged, b"\x01" * 3000 + b"\0", unknown)))


def passing(seconds: float) -> Callable[[Board], list[Message]]:
    return lambda board: said(b"".join(board.step(STEP_S) for _ in range(round(seconds / STEP_S))))


HAPPENS: dict[str, Callable[[Board], list[Message]]] = {
    "`Describe` of a version that fits": asks(Describe()),
    "`Describe` of another version": asks(Describe(9, 9)),
    "`Start`": asks(Start()),
    "`Stop`": asks(Stop()),
    "`ClockRequest`": asks(ClockRequest(7)),
    "a frame that is damaged, too long or of an unknown type": rubbish,
    "250 ms pass": passing(0.25),
    "10 s pass": passing(10.0),
    "samples, singles, edges, counters fall due": passing(0.2),
}


def test_the_table_names_each_event_in_each_state_once() -> None:
    named = [(row["the board is"], row["what happens"]) for row in ROWS]
    assert sorted(named) == sorted((state, event) for state in ("waiting", "streaming") for event in HAPPENS)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['the board is']}: {row['what happens']}")
def test_a_row_holds(row: dict[str, str]) -> None:
    board = bench_board("cabin_ventilator")
    passing(2.0)(board)  # the motor turns: there are edges
    if row["the board is"] == "waiting":
        asks(Stop())(board)
    kinds = {type(message) for message in HAPPENS[row["what happens"]](board)}
    expected = SENDS[row["it sends"]]
    assert expected <= kinds
    allowed = expected | {Status} | (_DATA if row["the board is"] == "streaming" else set())
    if "perhaps description" in row["it sends"] or row["what happens"] == "10 s pass":
        allowed |= SENDS["description"]
    assert kinds <= allowed
    status = [message for message in passing(0.3)(board) if isinstance(message, Status)][-1]
    assert status.streaming is (row["and is then"] == "streaming")


def test_what_was_not_sent_while_it_waited_was_counted() -> None:
    board = bench_board("cabin_ventilator")
    before = [message for message in passing(1.0)(board) if isinstance(message, Samples)][-1]
    asks(Stop())(board)
    passing(1.0)(board)
    asks(Start())(board)
    after = next(message for message in passing(0.5)(board) if isinstance(message, Samples))
    assert after.first_sample - before.first_sample > 0.95 * 20_000
