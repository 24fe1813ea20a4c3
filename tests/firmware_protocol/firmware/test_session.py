"""core/session.c: every row of the board's table in SPEC.md, section 7, and what it says of times and order."""

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

import pytest

from firmware_protocol import (
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Counters,
    Describe,
    Edges,
    Identity,
    InputDescription,
    Message,
    Samples,
    Single,
    Singles,
    Start,
    Status,
    Stop,
    Word,
    encode_frame,
)
from tests.firmware_protocol.firmware.c_core import Core
from tests.firmware_protocol.firmware.host_board import Group, HostBoard, messages
from tests.firmware_protocol.plain import codes_of
from tests.simulator.test_session import ROWS, SENDS

PLAIN = (Group(2, Word.INT16, 8, Fraction(1000)),)


class Busy:
    """A board with two channels at 1 kS/s and an edge every 5 ms."""

    def __init__(self, core: Core) -> None:
        self.board, self._turn = HostBoard(core, PLAIN), 0

    def passes(self, ms: int) -> list[Message]:
        found = []
        for _ in range(ms):
            self.board.take(0, [[self._turn, -self._turn]])
            self._turn = (self._turn + 1) % 1000
            if self._turn % 5 == 0:
                self.board.edge(self.board.now + 500, self._turn % 8 or 3)
            found += self.board.step(1)
        return messages(found)

    def asked(self, *what: Message) -> list[Message]:
        self.board.ask(*what)
        return self.passes(60)


def rubbish(busy: Busy) -> list[Message]:
    good = encode_frame(Stop(), sequence=0)
    damaged = bytes((good[0], good[1] ^ 4)) + good[2:]
    for piece in (damaged, b"\x01" * 3000 + b"\0", encode_frame(Stop(), sequence=1).replace(b"\x83", b"\x99")):
        busy.board.hear(piece)
    return busy.passes(60)


HAPPENS: dict[str, Callable[[Busy], list[Message]]] = {
    "`Describe` of a version that fits": lambda busy: busy.asked(Describe()),
    "`Describe` of another version": lambda busy: busy.asked(Describe(PROTOCOL_MAJOR + 1, PROTOCOL_MINOR)),
    "`Start`": lambda busy: busy.asked(Start()),
    "`Stop`": lambda busy: busy.asked(Stop()),
    "`ClockRequest`": lambda busy: busy.asked(ClockRequest(7)),
    "a frame that is damaged, too long or of an unknown type": rubbish,
    "250 ms pass": lambda busy: busy.passes(250),
    "10 s pass": lambda busy: busy.passes(10_000),
    "samples, singles, edges, counters fall due": lambda busy: busy.passes(200),
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['the board is']}: {row['what happens']}")
def test_a_row_holds(core: Core, row: dict[str, str]) -> None:
    busy = Busy(core)
    busy.passes(300)
    if row["the board is"] == "waiting":
        busy.asked(Stop())
    kinds = {type(message) for message in HAPPENS[row["what happens"]](busy)}
    expected = SENDS[row["it sends"]]
    assert expected <= kinds
    data = {Samples, Edges} if row["the board is"] == "streaming" else set()
    allowed: set[type] = expected | {Status} | data
    if row["what happens"] in {"`Start`", "10 s pass"}:
        allowed |= SENDS["description"] if row["what happens"] == "10 s pass" else {Samples, Edges}
    assert kinds <= allowed
    last = [message for message in busy.passes(300) if isinstance(message, Status)][-1]
    assert last.streaming is (row["and is then"] == "streaming")


def test_at_power_on_it_says_a_zero_and_its_description_in_order_and_then_a_status(core: Core) -> None:
    board = HostBoard(core, PLAIN, boot=0x1_0003)
    found = messages(board.step(60))
    assert board.wire[0] == 0
    described = [board.identity, *board.channels, *board.inputs]
    assert found[: len(described)] == described
    assert isinstance(found[len(described)], Status)


def test_no_sample_goes_before_the_end_of_a_description_that_is_new(core: Core) -> None:
    busy = Busy(core)
    first = busy.passes(100)
    busy.board.redescribe()
    second = busy.passes(100)
    for found, revision in ((first, 0), (second, 1)):
        kinds = [type(message) for message in found]
        begins, ends = kinds.index(Identity), len(kinds) - kinds[::-1].index(InputDescription)
        assert not {Samples, Edges} & set(kinds[begins:ends])
        assert revision or Status not in kinds[begins:ends]  # a later description may take long
        identity = found[begins]
        assert isinstance(identity, Identity)
        assert identity.revision == revision


def test_what_was_taken_before_the_description_changed_is_dropped_counted_and_keeps_its_numbers(core: Core) -> None:
    board = HostBoard(core, PLAIN)
    messages(board.step(60))
    found = []
    for k in range(40):
        board.take(0, [[k, k]])
        if k == 20:  # four sets are in a block that goes on being filled
            board.redescribe()
        found += messages(board.step(1))
    codes = [codes_of(one.words, 2)[0][0] for one in found if isinstance(one, Samples)]
    firsts = [one.first_sample for one in found if isinstance(one, Samples)]
    assert codes == firsts == [0, 8, 21, 29]
    status = [one for one in messages(board.step(300)) if isinstance(one, Status)][-1]
    assert (status.dropped_blocks, status.overruns) == (1, 0)


def test_a_line_that_drops_blocks_for_four_seconds_is_too_slow_and_a_pause_is_not(core: Core) -> None:
    board = HostBoard(core, PLAIN)
    board.step(1000)
    was_behind = []
    for ms in range(11_000):
        board.bytes_per_ms = 0 if 500 <= ms < 2000 or ms >= 5500 else 25
        board.take(0, [[ms, -ms]])
        board.step(1)
        was_behind.append(board.is_behind)
    assert not any(was_behind[:8900])
    assert was_behind[-1]


def test_a_part_that_no_box_can_hold_does_not_keep_the_board_from_saying_how_it_is(core: Core) -> None:
    board = HostBoard(core, PLAIN, plate="x" * 400, outbox_bytes=256)
    kinds = [type(one) for one in messages(board.step(1000))]
    assert Identity not in kinds
    assert kinds.count(Status) >= 4


def test_a_description_that_changes_all_the_time_does_not_either(core: Core) -> None:
    busy, found = Busy(core), []
    busy.passes(100)
    for _ in range(100):
        busy.board.redescribe()
        found += busy.passes(10)
    ticks = [one.tick for one in found if isinstance(one, Status)]
    assert len(ticks) >= 4
    assert max(b - a for a, b in pairwise(ticks)) <= 250_000


def test_asked_in_the_middle_of_a_description_it_begins_it_once_more(core: Core) -> None:
    board = HostBoard(core, PLAIN)
    found = board.step(3)
    board.ask(Describe())
    kinds = [type(message) for message in messages(found + board.step(100))]
    assert kinds.count(Identity) == 2
    assert kinds.count(ChannelDescription) == 4


def test_a_description_comes_within_a_second_even_where_blocks_fill_the_line(core: Core) -> None:
    board = HostBoard(core, (Group(4, Word.INT16, 16, Fraction(200)),), outbox_bytes=512)
    board.step(100)
    board.ask(Describe())
    kinds: list[type] = []
    for _ in range(1000):
        board.take(0, [[1, 2, 3, 4]] * 5)
        kinds += [type(message) for message in messages(board.step(1, poll_us=250))]
    assert kinds.count(Identity) == 1
    assert kinds.count(InputDescription) == 3
    assert kinds.count(Samples) > 50


def test_a_clock_reply_waits_for_an_empty_line_and_no_longer_than_a_tenth_of_a_second(core: Core) -> None:
    board = HostBoard(core, (Group(4, Word.INT16, 16, Fraction(100)),), outbox_bytes=8192)
    board.step(100)
    board.take(0, [[9] * 4] * 32)
    board.bytes_per_ms = 0
    board.step(1)
    board.bytes_per_ms, asked = 25, board.now
    board.ask(ClockRequest(5))
    (reply,) = (one for one in messages(board.step(60)) if isinstance(one, ClockReply))
    assert (reply.token, reply.received_tick) == (5, asked)
    assert reply.sent_tick > asked + 8000  # 308 bytes went before it
    for _ in range(100):
        board.take(0, [[9] * 4] * 10)
        board.step(1)
    board.bytes_per_ms, asked = 10, board.now
    board.ask(ClockRequest(6))
    for _ in range(99):
        board.take(0, [[9] * 4] * 10)
        board.step(1)
    board.bytes_per_ms = 8192
    (reply,) = (one for one in messages(board.step(1)) if isinstance(one, ClockReply))
    assert reply.sent_tick - asked <= 100_000


def test_ticks_and_numbers_go_on_beyond_32_bits(core: Core) -> None:
    start = (1 << 32) - 5000
    board = HostBoard(core, PLAIN, now=start)
    board.step(2)
    board.bytes_per_ms, found = 1000, []
    for k in range(64):
        board.take(0, [[k, k]])
        board.edge(board.now + 300, 1 + k % 2)
        found += messages(board.step(1))
    edges = [tick for one in found if isinstance(one, Edges) for tick in one.ticks]
    seen = [one for one in found if isinstance(one, Samples)]
    assert len(edges) >= 32
    assert len(seen) >= 4
    assert {seen[0].tick >> 32, seen[-1].tick >> 32, edges[0] >> 32, edges[-1] >> 32} == {0, 1}
    assert [one.tick for one in seen] == [start + 1000 * one.first_sample for one in seen]
    assert edges == [start + 2000 + 1000 * k + 300 for k in range(len(edges))]


def test_counts_come_when_they_change_at_most_twenty_times_a_second_and_at_least_once(core: Core) -> None:
    board = HostBoard(core, PLAIN, counters=2)
    messages(board.step(100))
    for k in range(1000):
        board.count(0, board.now + 10 * (k % 7))
        if k == 0:
            counted = []
        counted += messages(board.step(1))
    frames = [one.counts[0] for one in counted if isinstance(one, Counters)]
    assert [(one.input, one.count) for one in frames if one.input != 3] == [
        (4, 0)
    ]  # the other one, though this is busy
    assert 15 <= len([one for one in frames if one.input == 3]) <= 20
    assert [one.count for one in frames if one.input == 3] == sorted({one.count for one in frames if one.input == 3})
    quiet = [one.counts[0] for one in messages(board.step(2500)) if isinstance(one, Counters)]
    assert {(one.input, one.count) for one in quiet} == {(3, 1000), (4, 0)}
    assert 4 <= len(quiet) <= 6


def test_a_single_sample_follows_all_edges_before_it(core: Core) -> None:
    board = HostBoard(core, PLAIN)
    board.step(100)
    board.edge(board.now - 5, 1)
    taken = board.now
    assert board.single(2, 7, -40_000)
    edges, singles = messages(board.step(5))
    assert isinstance(edges, Edges)
    assert singles == Singles((Single(2, 7, taken, -40_000),))
