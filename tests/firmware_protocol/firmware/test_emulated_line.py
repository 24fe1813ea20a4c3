"""The binary of the emulated Cortex-M3 on a bad day: nobody reads, rubbish comes in, it is reset, it is stopped."""

from pathlib import Path
from random import Random

import numpy as np
import pytest

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Describe,
    Edges,
    Identity,
    InputDescription,
    Samples,
    Start,
    Status,
    Stop,
)
from tests.firmware_protocol.firmware.bench import Fed, begin, reader, sleep, some_codes, some_edges, stream, until
from tests.firmware_protocol.firmware.emulator import Emulator
from tests.firmware_protocol.firmware.window import TICKS_PER_SAMPLE

pytestmark = pytest.mark.alone
PIECE = 100  # bytes; the board has room for 255 that it has not looked at


def test_blocks_that_nobody_reads_are_dropped_whole_counted_and_keep_their_numbers(program: Path) -> None:
    fed = Fed(some_codes(14_500, 4))
    with Emulator(program, pty=True) as emulator, reader(emulator) as line:
        begin(emulator, line)
        stream(emulator, line, fed, 3000)
        sleep(emulator, fed, 9000)
        until(line, lambda: line.sets > 8940, "what was kept, and the sets after the gap")
        stream(emulator, line, fed)
        until(line, lambda: line.last(Status).tick > 9500 * TICKS_PER_SAMPLE, "a status of the time after it")
        codes, statuses = line.codes(), line.all(Status)
    gone = sorted(set(range(max(codes))) - codes.keys())
    assert len(gone) > 300
    assert len(gone) == 60 * statuses[-1].dropped_blocks + statuses[-1].overruns
    assert statuses[-1].overruns < 60  # while a block that had waited was being framed
    assert all(codes[number] == fed.codes[number].tolist() for number in codes)
    assert line.damage == []  # what was given up took no sequence number


def test_edges_that_nobody_reads_are_lost_counted_and_keep_their_numbers(program: Path) -> None:
    ticks, levels = some_edges(9000 * TICKS_PER_SAMPLE, 6000, 5)
    fed = Fed(some_codes(14_500, 5), ticks, levels)
    with Emulator(program, pty=True) as emulator, reader(emulator) as line:
        begin(emulator, line)
        stream(emulator, line, fed, 1200)
        sleep(emulator, fed, 9000)
        until(line, lambda: line.sets > 8940, "the sets after the gap")
        stream(emulator, line, fed)
        until(line, lambda: line.last(Status).tick > 9500 * TICKS_PER_SAMPLE, "a status of the time after it")
        edges, last = line.all(Edges), line.last(Status)
    came = {first + k: (tick, state) for first, e in ((e.first_edge, e) for e in edges)
            for k, (tick, state) in enumerate(zip(e.ticks, e.states, strict=True))}  # fmt: skip
    assert last.lost_edges > 100
    assert len(ticks) - len(came) == last.lost_edges
    assert all((ticks[number], levels[number]) == edge for number, edge in came.items())
    assert last.levels == levels[np.searchsorted(ticks, last.tick, side="right") - 1]


def test_a_line_that_is_too_slow_for_long_gets_fewer_channels_that_come_whole(program: Path) -> None:
    """Nobody reads for 5 s; a board cannot tell that from a slow line. What it says then it keeps."""
    slept, upto = 100_000, 112_000
    fed = Fed(some_codes(upto, 3))
    with Emulator(program, pty=True) as emulator, reader(emulator) as line:
        begin(emulator, line)
        stream(emulator, line, fed, 1200)
        sleep(emulator, fed, slept)
        until(line, lambda: line.sets > slept - 600, "what had waited")
        stream(emulator, line, fed)
    identity = line.last(Identity)
    kept = line.all(ChannelDescription)[-identity.channels :]
    assert identity.revision == 1
    assert [f"{each.role.name} {each.place}" for each in kept] == [
        "VOLTAGE dc link", "CURRENT dc link", "CURRENT U", "CURRENT V", "CURRENT W", "TEMPERATURE winding",
    ]  # fmt: skip
    after = {number: codes for number, codes in line.codes().items() if len(codes) == 5}
    assert len(after) > 11_000
    assert all(codes == fed.codes[number][:5].tolist() for number, codes in after.items())
    assert max(after) >= upto - 60
    assert line.damage == []


def test_a_reset_is_a_new_start_with_its_own_number_and_counts_from_zero(program: Path) -> None:
    fed = Fed(some_codes(6000, 6))
    with Emulator(program) as emulator, reader(emulator) as line:
        begin(emulator, line)
        stream(emulator, line, fed, 3000)
        emulator.reset()
        until(line, lambda: len(line.all(Identity)) == 2, "the identity of the new start")
        base, line.sets = 3000, 0
        answered = len(line.all(ClockReply))
        line.say(Start(), ClockRequest(2))
        until(line, lambda: len(line.all(ClockReply)) > answered, "an answer of the new start")
        stream(emulator, line, fed, base=base)
        assert emulator.window.boot == 2
    first, second = line.all(Identity)
    assert (first.boot, second.boot) == (1, 2)
    begins = next(k for k, one in enumerate(line.all(Samples)) if k and one.first_sample == 0)
    after = line.all(Samples)[begins:]
    assert after[0].tick == 0
    codes = np.concatenate([np.frombuffer(block.words, "<u2") ^ 0x8080 for block in after]).view("<i2").reshape(-1, 8)
    assert (codes == fed.codes[base : base + len(codes)]).all()
    assert len(codes) >= 2940
    assert len(line.damage) <= 1  # a frame that the reset tore


def test_rubbish_changes_nothing_and_the_next_request_is_heard(program: Path) -> None:
    draw = Random(7)
    fed = Fed(some_codes(6000, 7))
    with Emulator(program) as emulator, reader(emulator) as line:
        begin(emulator, line)
        stream(emulator, line, fed, 1200)
        for rubbish in (b"\1" * 700, bytes(30), draw.randbytes(500), b"\xff" * 70 + b"\0", b"\x05\x82\0"):
            for at in range(0, len(rubbish) + 1, PIECE):  # a line has no more at once; the emulator would hand over all
                line.say_bytes((rubbish + b"\0")[at : at + PIECE])
                stream(emulator, line, fed, emulator.window.fed + 64)
        line.say(Describe(), ClockRequest(99))
        stream(emulator, line, fed)
        # The emulator takes a byte of the line now and then, as it finds time; the board's own time stands meanwhile.
        until(line, lambda: len(line.all(Identity)) == 2, "its description")
        until(line, lambda: line.last(ClockReply).token == 99, "its answer")
    assert (np.array(list(line.codes().values())) == fed.codes[: line.sets]).all()
    assert line.damage == []


def test_it_waits_until_it_is_told_to_start_and_numbers_go_on_while_it_is_stopped(program: Path) -> None:
    fed = Fed(some_codes(10_000, 8), *some_edges(10_000 * TICKS_PER_SAMPLE, 300, 9))
    with Emulator(program) as emulator, reader(emulator) as line:
        emulator.go()
        line.say(Stop(), Describe(2, 0))
        until(line, lambda: line.all(Status), "a status")
        assert (len(line.all(ChannelDescription)), len(line.all(InputDescription))) == (9, 5)
        until(line, lambda: len(line.all(Identity)) == 2, "its identity alone, for another version")
        fed.give(emulator, 1200)
        until(line, lambda: not emulator.window.waiting, "the sets to be taken")
        line.say(Start(), ClockRequest(1))
        until(line, lambda: line.all(ClockReply), "an answer")
        line.sets = 1200
        stream(emulator, line, fed, 3000)
        line.say(Stop(), ClockRequest(2))
        until(line, lambda: line.last(ClockReply).token == 2, "an answer behind it")
        last = line.sets
        sleep(emulator, fed, 10_000)
        until(line, lambda: line.last(Status).tick > 300_000, "a status of the time since then")
    assert min(line.codes()) >= 1200 - 120  # blocks that had waited may still go
    assert last <= max(line.codes()) + 1 <= last + 300  # what was under way when it heard
    assert not line.last(Status).streaming
    edges = line.all(Edges)
    assert edges[0].first_edge > 0
    assert all(fed.edge_ticks[e.first_edge] == e.ticks[0] for e in edges)
    assert line.last(Status).dropped_blocks == 0
