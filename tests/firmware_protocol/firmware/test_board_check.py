"""The board check on the real binaries, each in the time of its own board: an emulator may be slow, and is not late."""

from bisect import bisect_left
from math import inf
from pathlib import Path

import pytest

from firmware_protocol import ClockRequest, Decoder
from server.board_check import CHECKS, CLOCK_EVERY_S, Heard, Phase, Record, State, Voice, script
from server.board_check.record import STREAM
from server.board_check.report import judged
from tests.firmware_protocol.firmware.bench import SETS_IN_BLOCK, Fed, reader, some_codes, some_edges
from tests.firmware_protocol.firmware.emulator import Emulator
from tests.firmware_protocol.firmware.small import BYTE_CYCLES, CPU_HZ, EDGES_PER_S, Small, Wave
from tests.firmware_protocol.firmware.window import TICKS_PER_SAMPLE

pytestmark = pytest.mark.alone

STREAM_S = 1.5
LISTEN_S = 0.4  # is enough where neither line nor PC is late; but not to compare two clocks
AT_ONCE = 4 * SETS_IN_BLOCK  # sets
SETS_HZ = 20_000
NOT_SEEN = {"description again"}  # that takes longer


def planned(record: Record, listen_s: float = inf) -> tuple[list[tuple[float, bytes]], float]:
    """When what is said, and the end of it."""
    said, at_s, voice = list[tuple[float, bytes]](), 0.0, Voice()
    for step in script(STREAM_S):
        record.phases.append(Phase(step.phase, at_s))
        said.append((at_s, step.says(voice)))
        for k in range((4 if step.phase == STREAM else 1) if step.clock else 0):
            asked_s = at_s + 0.05 + k * CLOCK_EVERY_S
            record.asked_s[round(asked_s * 1e6)] = asked_s
            said.append((asked_s, voice.frame(ClockRequest(round(asked_s * 1e6)))))
        at_s += STREAM_S if step.phase == STREAM else min(step.listen_s, listen_s)
    return said, at_s


def sort_in(record: Record, heard: list[Heard]) -> None:
    """Into the phase in which it came."""
    begins_s = [phase.sent_s or 0.0 for phase in record.phases]
    for one in heard:
        record.phases[max(bisect_left(begins_s, one.at_s or 0.0) - 1, 0)].heard.append(one)


def failures(record: Record, not_seen: set[str]) -> dict[str, str]:
    found = judged(CHECKS, record)
    assert {check.name for check, seen in found if seen.state is State.NOT_TRIED} == not_seen
    return {check.name: seen.what for check, seen in found if seen.state is State.FAILED}


@pytest.mark.long
def test_the_8_bit_board_passes(small: Small) -> None:
    """Time is that of its processor, to the cycle."""
    record = Record(STREAM_S, 25_000)
    said, end_s = planned(record)
    wave = Wave(2500, 2400, CPU_HZ / 50, 0.0)
    edges = range(int(0.1 * CPU_HZ), int(end_s * CPU_HZ), CPU_HZ // EDGES_PER_S)
    happenings = [f"pins {cycle + 997 * (k * k % 7)} {(5, 1, 3, 2, 6, 4)[k % 6]}" for k, cycle in enumerate(edges)]
    for at_s, data in said:
        happenings += [f"byte {round(at_s * CPU_HZ) + k * BYTE_CYCLES} {byte}" for k, byte in enumerate(data)]
    ran, decoder = small.run(end_s, [wave] * 4, happenings), Decoder(from_board=True)
    frames = zip(ran.wire.split(b"\0"), ran.frame_ends, strict=False)
    sort_in(record, [Heard(cycle / CPU_HZ, item) for frame, cycle in frames for item in decoder.feed(frame + b"\0")])
    assert failures(record, {*NOT_SEEN, "single samples", "counters"}) == {}


def test_the_emulated_board_passes(program: Path) -> None:
    """Time is that of its converter, which takes the sets that it is fed."""
    record = Record(STREAM_S, 1_200_000)
    said, end_s = planned(record, LISTEN_S)
    sets = round(end_s * SETS_HZ)
    fed = Fed(some_codes(sets, 1), *some_edges(sets * TICKS_PER_SAMPLE, 2000, 2))
    heard = list[Heard]()
    with Emulator(program) as emulator, reader(emulator) as line:
        emulator.go()
        while emulator.window.fed < sets:
            at_s = emulator.window.fed / SETS_HZ
            while said and said[0][0] <= at_s:
                line.say_bytes(said.pop(0)[1])
            fed.give(emulator, min(sets, emulator.window.fed + AT_ONCE))
            emulator.window.count(emulator.window.fed // 2000)
            emulator.window.warm(2000)
            while emulator.window.waiting:
                line.read()
            line.read()
            now_s = emulator.window.fed / SETS_HZ
            heard += [Heard(now_s, item) for item in line.found[len(heard) :]]
    sort_in(record, heard)
    assert failures(record, {*NOT_SEEN, "tick rate"}) == {}
