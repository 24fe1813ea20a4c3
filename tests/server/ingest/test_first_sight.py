"""What the first bytes say: whole, cut anywhere, of another version, of something else."""

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from firmware_protocol import Describe, Identity, Start, Status, encode_frame
from firmware_protocol.version import PROTOCOL_MAJOR, PROTOCOL_MINOR
from server.ingest.first_sight import PATIENCE_S, FirstSight, shown_bytes
from tests.firmware_protocol.independent import framed
from tests.server.ingest.boards import DESCRIPTION, IDENTITY, channel, frames


def seen(data: bytes, after_s: float = 0.1) -> tuple[str, str, str]:
    sight = FirstSight(0.0)
    sight.feed(data)
    judged = sight.judge(after_s)
    return judged.state, judged.text, judged.detail


def test_a_complete_description_is_live_at_once() -> None:
    assert seen(DESCRIPTION) == ("live", "", "")


@pytest.mark.parametrize("cut", range(1, len(DESCRIPTION)))
def test_a_description_is_not_complete_before_its_last_byte(cut: int) -> None:
    sight = FirstSight(0.0)
    sight.feed(DESCRIPTION[:cut])
    assert sight.judge(0.1).state == "connecting"
    sight.feed(DESCRIPTION[cut:])
    assert sight.judge(0.1).state == "live"


def test_frames_without_a_description_are_waited_for() -> None:
    state, text, _ = seen(frames(Status(1000, True, 0)), PATIENCE_S + 1)
    assert (state, text) == ("connecting", "Frames come, but the board's description is not complete")


@pytest.mark.parametrize(
    ("version", "way_out"),
    [
        ((0, 9), "Put newer firmware on the board."),
        ((0, 11), "Put newer firmware on the board."),
        ((2, 0), "Install a newer Slipring."),
    ],
)
def test_another_version_is_refused_with_both_numbers(version: tuple[int, int], way_out: str) -> None:
    other = Identity(*version, 1, 1_000_000, 1, 0, "T-1")
    state, text, detail = seen(frames(other))
    assert state == "refused"
    assert text == (
        f"The board speaks version {version[0]}.{version[1]} of the protocol, "
        f"this Slipring speaks {PROTOCOL_MAJOR}.{PROTOCOL_MINOR}"
    )
    assert detail == way_out


@pytest.mark.parametrize(("version", "asked"), [((1, 0), (1, 0)), ((1, 7), (1, 0)), ((0, 10), (0, 10))])
def test_a_board_of_a_later_minor_version_and_one_of_the_candidate_are_read(
    version: tuple[int, int], asked: tuple[int, int]
) -> None:
    """With fields and a message of which nobody here knows; and each is asked in a version that it answers."""
    who = replace(IDENTITY, major=version[0], minor=version[1], unknown=((8, b"later"), (199, b"\0")))
    measured = replace(channel(), unknown=((20, b"later"),))
    sight = FirstSight(0.0)
    sight.feed(frames(who) + framed(0x18, IDENTITY.boot, 1, b"later") + encode_frame(measured, sequence=2, boot=1))
    assert sight.judge(0.1).state == "live"
    assert sight.asking() == Describe(*asked)


def test_a_line_that_is_too_slow_is_refused_with_what_is_needed_and_what_it_carries() -> None:
    fast = frames(IDENTITY, channel(Fraction(50)))  # 1 MHz ticks: 20 000 samples a second of 2 bytes each
    for carried, state in ((None, "live"), (921_600 / 10, "live"), (115_200 / 10, "refused")):
        sight = FirstSight(0.0, carried)
        sight.feed(fast)
        judged = sight.judge(0.1)
        assert judged.state == state
    found = re.fullmatch(
        r"The line is too slow for this board: it sends (\d+\.\d) kB/s, the line carries 11\.5 kB/s", judged.text
    )
    assert found
    assert 40.0 < float(found[1]) < 60.0  # the samples alone are 40 kB/s; frames and status come to it
    baud = re.fullmatch(r"Set board and rig to (\d+) baud or more, or let the board send less\.", judged.detail)
    assert baud
    assert int(baud[1]) == pytest.approx(float(found[1]) * 10_000, rel=0.01)  # ten bits a byte


def test_a_board_that_starts_anew_while_it_is_asked_is_described_from_its_new_start() -> None:
    again = replace(IDENTITY, boot=2)
    sight = FirstSight(0.0)
    sight.feed(frames(IDENTITY, channel()) + frames(again, boot=2))
    assert sight.judge(0.1).state == "connecting"
    sight.feed(frames(channel(), first=1, boot=2))
    assert sight.judge(0.1).state == "live"


def test_a_description_with_a_hole_is_asked_for_again() -> None:
    two = replace(IDENTITY, channels=2)
    second = replace(channel(), index=1)
    sight = FirstSight(0.0)
    sight.feed(frames(two, channel()))  # the second channel was lost, and the first one the next time
    sight.feed(frames(two, second, first=2))
    assert sight.judge(0.1).state == "connecting"
    sight.feed(frames(two, channel(), second, first=4))
    assert sight.judge(0.1).state == "live"


def test_an_echo_of_our_own_requests_is_no_board() -> None:
    state, text, _ = seen(frames(Describe(), Start(), boot=0) * 10, PATIENCE_S)
    assert state == "refused"
    assert text.startswith("This is not a Slipring board: it sends bytes beginning ")


def test_a_report_does_not_change_with_each_byte() -> None:
    texts = {seen(b"\x55\xaa" * count, PATIENCE_S + count)[1] for count in (40, 400, 4000)}
    assert len(texts) == 1


def test_a_board_that_is_switched_on_late_may_begin_with_half_a_frame() -> None:
    sight = FirstSight(0.0)
    assert sight.judge(10.0).text == "The port is open, but not one byte has come"
    sight.feed(DESCRIPTION[:5], 10.0)
    assert sight.judge(10.0 + PATIENCE_S - 0.1).state == "connecting"
    assert sight.judge(10.0 + PATIENCE_S).state == "refused"


def test_bytes_are_ours_until_patience_is_over() -> None:
    assert seen(b"\x55\xaa" * 100, PATIENCE_S - 0.1)[0] == "connecting"
    state, text, _ = seen(b"\x55\xaa" * 100, PATIENCE_S)
    assert state == "refused"
    assert text == (
        "This is not a Slipring board: it sends bytes beginning 55 aa 55 aa 55 aa 55 aa 55 aa 55 aa 55 aa 55 aa"
    )


@pytest.mark.parametrize(
    ("first", "shown"),
    [
        (b"T=23.4\r\nT=23.5\r\nT=23.6\r\n", 'text lines such as "T=23.5"'),
        (b"hello\n", 'text lines such as "hello"'),
        (b"\x00\x01\xff", "bytes beginning 00 01 ff"),
        (b"\n\n\n", "bytes beginning 0a 0a 0a"),
        (b"\x1b[31m" * 12, "bytes beginning 1b 5b 33 31 6d 1b 5b 33 31 6d 1b 5b 33 31 6d 1b"),
    ],
)
def test_bytes_are_shown_as_text_only_where_they_are_text(first: bytes, shown: str) -> None:
    assert shown_bytes(first) == shown


def test_an_endless_stranger_costs_no_memory() -> None:
    sight = FirstSight(0.0)
    for _ in range(100):
        sight.feed(b"x" * 10_000)
    assert sight.bytes_seen == 1_000_000
    assert len(sight._first) == 64
    assert len(sight._decoder._tail) < 2000
